-- Lives to counts. Save the result as CSV with a header (or Parquet) and give it to `sealspan fit`, with --by.
-- The fit is that of the table itself; only how many rows were read and set aside differs.
-- Empty cells are NULL. Names between double quotes need ANSI quoting in Spark:
-- SET spark.sql.ansi.doubleQuotedIdentifiers = true (with spark.sql.ansi.enabled).
SELECT t.time AS time,
  t.status AS status,
  t.site AS site,
  COUNT(*) AS count
FROM fleet.lives t
GROUP BY t.time, t.status, t.site
