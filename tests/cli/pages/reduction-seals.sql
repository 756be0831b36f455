-- Seals and inspections to counts of lives in days, to failure. Save the result as CSV with a header (or Parquet)
-- and give it to `sealspan fit`, with --by. The fit is that of the tables themselves; only how many rows were read
-- and set aside differs.
-- Covered: failures on a known day or between looks, failures found in place, last_known_good, removals for other
-- reasons as still sound, seals in service up to the last day, records that begin late. Rows without a date of fitting,
-- with dates out of order or after the last day, or whose outcome contradicts the removal are left out.
-- Not covered: hours and cycles, dates to the month or coarser, words of your own for outcomes and findings, records
-- that begin or end asset by asset, and rows set aside for what other rows say (second rows of a seal, two seals in one
-- position at one time, positions that are missing): `sealspan check` finds those in an extract.
-- Every seal has a name of its own; dates are of a date or timestamp type; empty cells are NULL. Names between double
-- quotes need ANSI quoting in Spark: SET spark.sql.ansi.doubleQuotedIdentifiers = true (with spark.sql.ansi.enabled).
WITH reduction_fleet AS (
  SELECT s."Serial" AS seal, s.asset AS asset, s.position AS place, s.material AS group_1, REPLACE(REPLACE(LOWER(TRIM(s.mechanism)), ' ', '_'), '-', '_') AS mode, 
    CASE WHEN REPLACE(REPLACE(LOWER(TRIM(s.outcome)), ' ', '_'), '-', '_') IS NULL OR REPLACE(REPLACE(LOWER(TRIM(s.outcome)), ' ', '_'), '-', '_') = '' THEN CASE WHEN s.removed IS NULL THEN 'in_service' ELSE 'unknown' END
      WHEN REPLACE(REPLACE(LOWER(TRIM(s.outcome)), ' ', '_'), '-', '_') = 'unknown' AND s.removed IS NULL THEN 'in_service' ELSE REPLACE(REPLACE(LOWER(TRIM(s.outcome)), ' ', '_'), '-', '_') END AS outcome,
    CAST(365 * FLOOR((12 * EXTRACT(YEAR FROM s.fitted) + EXTRACT(MONTH FROM s.fitted) - 3) / 12.0) + FLOOR(FLOOR((12 * EXTRACT(YEAR FROM s.fitted) + EXTRACT(MONTH FROM s.fitted) - 3) / 12.0) / 4.0) - FLOOR(FLOOR((12 * EXTRACT(YEAR FROM s.fitted) + EXTRACT(MONTH FROM s.fitted) - 3) / 12.0) / 100.0) + FLOOR(FLOOR((12 * EXTRACT(YEAR FROM s.fitted) + EXTRACT(MONTH FROM s.fitted) - 3) / 12.0) / 400.0) + FLOOR((153 * ((12 * EXTRACT(YEAR FROM s.fitted) + EXTRACT(MONTH FROM s.fitted) - 3) - 12 * FLOOR((12 * EXTRACT(YEAR FROM s.fitted) + EXTRACT(MONTH FROM s.fitted) - 3) / 12.0)) + 2) / 5.0) + EXTRACT(DAY FROM s.fitted) - 719469 AS BIGINT) AS fitted,
    CAST(365 * FLOOR((12 * EXTRACT(YEAR FROM s.removed) + EXTRACT(MONTH FROM s.removed) - 3) / 12.0) + FLOOR(FLOOR((12 * EXTRACT(YEAR FROM s.removed) + EXTRACT(MONTH FROM s.removed) - 3) / 12.0) / 4.0) - FLOOR(FLOOR((12 * EXTRACT(YEAR FROM s.removed) + EXTRACT(MONTH FROM s.removed) - 3) / 12.0) / 100.0) + FLOOR(FLOOR((12 * EXTRACT(YEAR FROM s.removed) + EXTRACT(MONTH FROM s.removed) - 3) / 12.0) / 400.0) + FLOOR((153 * ((12 * EXTRACT(YEAR FROM s.removed) + EXTRACT(MONTH FROM s.removed) - 3) - 12 * FLOOR((12 * EXTRACT(YEAR FROM s.removed) + EXTRACT(MONTH FROM s.removed) - 3) / 12.0)) + 2) / 5.0) + EXTRACT(DAY FROM s.removed) - 719469 AS BIGINT) AS removed,
    CAST(NULL AS BIGINT) AS known_good
  FROM seals s
),
reduction_looks AS (
  SELECT i.seal AS seal, i.asset AS asset, i.position AS place, CAST(365 * FLOOR((12 * EXTRACT(YEAR FROM i.date) + EXTRACT(MONTH FROM i.date) - 3) / 12.0) + FLOOR(FLOOR((12 * EXTRACT(YEAR FROM i.date) + EXTRACT(MONTH FROM i.date) - 3) / 12.0) / 4.0) - FLOOR(FLOOR((12 * EXTRACT(YEAR FROM i.date) + EXTRACT(MONTH FROM i.date) - 3) / 12.0) / 100.0) + FLOOR(FLOOR((12 * EXTRACT(YEAR FROM i.date) + EXTRACT(MONTH FROM i.date) - 3) / 12.0) / 400.0) + FLOOR((153 * ((12 * EXTRACT(YEAR FROM i.date) + EXTRACT(MONTH FROM i.date) - 3) - 12 * FLOOR((12 * EXTRACT(YEAR FROM i.date) + EXTRACT(MONTH FROM i.date) - 3) / 12.0)) + 2) / 5.0) + EXTRACT(DAY FROM i.date) - 719469 AS BIGINT) AS on_day, REPLACE(REPLACE(LOWER(TRIM(i.finding)), ' ', '_'), '-', '_') AS finding
  FROM looks i
  WHERE i.date IS NOT NULL AND (REPLACE(REPLACE(LOWER(TRIM(i.finding)), ' ', '_'), '-', '_') IS NULL OR REPLACE(REPLACE(LOWER(TRIM(i.finding)), ' ', '_'), '-', '_') IN ('', 'sound', 'worn', 'failed'))
),
reduction_last AS (
  SELECT 20269 AS last_day -- 2025-06-30
),
reduction_kept AS (
  SELECT f.*, r.last_day AS last_day
  FROM reduction_fleet f CROSS JOIN reduction_last r
  WHERE f.fitted <= r.last_day
    AND f.outcome IN ('in_service', 'failed', 'worn', 'preventive', 'damaged', 'opportunity', 'unknown')
    AND ((f.outcome = 'in_service' AND f.removed IS NULL) OR (f.outcome <> 'in_service' AND f.removed IS NOT NULL))
    AND (f.removed IS NULL OR (f.removed >= f.fitted AND f.removed <= r.last_day))
    AND (f.known_good IS NULL OR (f.known_good >= f.fitted AND f.known_good <= COALESCE(f.removed, r.last_day)))
    AND (f.removed IS NULL OR f.fitted >= 17683 OR f.removed > 17683)
),
reduction_seen AS (
  SELECT k.seal AS seal, k.removed AS removed, l.on_day AS on_day, l.finding AS finding
  FROM reduction_kept k JOIN reduction_looks l ON l.seal = k.seal AND l.on_day >= k.fitted AND l.on_day <= COALESCE(k.removed, k.last_day)
  UNION ALL
  SELECT k.seal AS seal, k.removed AS removed, l.on_day AS on_day, l.finding AS finding
  FROM reduction_kept k JOIN reduction_looks l ON l.seal IS NULL AND l.asset = k.asset AND (l.place = k.place OR (l.place IS NULL AND k.place IS NULL)) AND l.on_day >= k.fitted AND l.on_day <= COALESCE(k.removed, k.last_day)
),
reduction_found AS (
  SELECT n.seal AS seal, MIN(CASE WHEN n.finding = 'failed' THEN n.on_day END) AS failed_day,
    MAX(CASE WHEN n.finding = 'worn' AND n.on_day = n.removed THEN n.on_day END) AS worn_day
  FROM reduction_seen n
  GROUP BY n.seal
),
reduction_ended AS (
  SELECT k.*,
    CASE WHEN k.outcome = 'failed' OR (k.outcome = 'in_service' AND d.failed_day IS NOT NULL) THEN 1 ELSE 0 END AS failed,
    COALESCE(d.failed_day, d.worn_day) AS found_day
  FROM reduction_kept k LEFT JOIN reduction_found d ON d.seal = k.seal
),
reduction_good AS (
  SELECT e.seal AS seal, MAX(n.on_day) AS good_day
  FROM reduction_ended e JOIN reduction_seen n ON n.seal = e.seal
  WHERE e.failed = 1 AND n.finding IN ('sound', 'worn') AND n.on_day < COALESCE(e.found_day, e.removed)
  GROUP BY e.seal
),
reduction_ages AS (
  SELECT e.*, CASE WHEN e.fitted < 17683 THEN 17683 - e.fitted ELSE 0 END AS entry,
    CASE WHEN e.failed = 1 THEN COALESCE(e.found_day, e.removed) ELSE COALESCE(e.removed, e.last_day) END
      - e.fitted AS age,
    CASE WHEN e.failed = 1 AND (e.found_day IS NOT NULL OR e.known_good IS NOT NULL) THEN 1 ELSE 0 END AS between_looks,
    CASE WHEN COALESCE(g.good_day, e.fitted) > COALESCE(e.known_good, e.fitted) THEN g.good_day
      ELSE COALESCE(e.known_good, e.fitted) END - e.fitted AS good_age
  FROM reduction_ended e LEFT JOIN reduction_good g ON g.seal = e.seal
)
SELECT c.low AS lower, c.high AS upper, c.entry AS entry, c.group_1 AS material, c.mode AS mode, COUNT(*) AS count
FROM (
  SELECT CASE WHEN a.failed = 0 THEN CASE WHEN a.age > a.entry THEN a.age ELSE 0 END
      WHEN a.age = 0 THEN 0
      WHEN a.between_looks = 0 THEN a.age
      WHEN a.good_age >= a.age THEN a.age - 1 ELSE a.good_age END AS low,
    CASE WHEN a.failed = 0 THEN NULL WHEN a.age = 0 THEN 1 ELSE a.age END AS high,
    CASE WHEN a.failed = 0 AND a.age <= a.entry THEN 0 ELSE a.entry END AS entry, a.group_1 AS group_1, CASE WHEN a.failed = 1 THEN a.mode END AS mode
  FROM reduction_ages a
  WHERE a.failed = 0 OR a.entry = 0 OR a.entry < a.age
) c
GROUP BY c.low, c.high, c.entry, c.group_1, c.mode
