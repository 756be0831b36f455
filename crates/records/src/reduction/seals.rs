//! A table of seals, and the inspections that looked at them.

use super::names::{name, table};
use super::{Columns, day, day_number, list, word};
use crate::error::Error;
use crate::words::{Look, Outcome};
use jiff::civil::Date;

const SEALS: &[&str] = &[
    "seal",
    "asset",
    "position",
    "fitted",
    "removed",
    "outcome",
    "mechanism",
    "last_known_good",
];
const LOOKS: &[&str] = &["seal", "asset", "position", "date", "finding"];

/// Tables of seals and inspections in a database.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SealTables {
    /// The table of seals, with the names of schema and catalogue before it and dots between.
    pub seals: String,
    /// Which of our columns it has: `ours` or `ours=theirs`, ours one of `seal`, `asset`, `position`, `fitted`, `removed`,
    /// `outcome`, `mechanism`, `last_known_good`.
    pub columns: Vec<String>,
    /// The table of inspections, named as that of seals.
    pub inspections: Option<String>,
    /// Which of our columns that has, written so too: `seal`, `asset`, `position`, `date`, `finding`.
    pub look_columns: Vec<String>,
    /// Columns of the seals to group by, by the table's own names.
    pub by: Vec<String>,
    /// Whether the mechanism of each failure is told, as the column `mode`.
    pub modes: bool,
    /// Last day the records cover; the latest date in the tables when not given.
    pub cut_off: Option<Date>,
    /// First day the records cover: seals fitted before it are watched from their age then. Without it all are watched from
    /// new.
    pub records_from: Option<Date>,
}

/// The SQL that reduces seals and their inspections to counts of lives in days, to failure. Its result has the columns
/// `lower`, `upper` (days, equal for a failure on a known day, 0 and 1 for one on the day of fitting; `upper` is NULL for
/// a seal that did not fail) and `entry` (days), then those of the groups, `mode` where asked for (NULL for a seal that did
/// not fail), and `count` of seals.
///
/// # Errors
/// When a column is none of ours or given twice, a name cannot be one (blank, control characters), or a needed column is
/// missing: of seals `seal`, `fitted`, `removed` and `outcome`, with `modes` also `mechanism`; of inspections `date`,
/// `finding`, and `seal` or `asset`.
///
/// ```
/// use sealspan_records::reduction::{SealTables, of_seals};
/// let words = |list: &[&str]| list.iter().map(|w| (*w).to_owned()).collect::<Vec<_>>();
/// let tables = SealTables {
///     seals: "seals".into(),
///     columns: words(&["seal", "fitted", "removed", "outcome"]),
///     ..SealTables::default()
/// };
/// assert!(of_seals(&tables)?.contains("COUNT(*) AS count"));
/// let looks = words(&["date", "finding"]); // of what?
/// let blind = SealTables { inspections: Some("looks".into()), look_columns: looks, ..tables };
/// assert_eq!(of_seals(&blind).unwrap_err().column(), Some("seal"));
/// # Ok::<(), sealspan_records::Error>(())
/// ```
pub fn of_seals(tables: &SealTables) -> Result<String, Error> {
    let seals = Columns::of(&tables.columns, SEALS)?;
    seals.need(
        &["seal", "fitted", "removed", "outcome"],
        "the table of seals",
    )?;
    if tables.modes {
        seals.need(&["mechanism"], "the table of seals")?;
    }
    let looks = Columns::of(&tables.look_columns, LOOKS)?;
    let looked = match &tables.inspections {
        Some(name) => {
            looks.need(&["date", "finding"], "the table of inspections")?;
            if !looks.has("asset") {
                // Else no look would belong to any seal.
                looks.need(&["seal"], "the table of inspections")?;
            }
            Some(table(name)?)
        }
        None => None,
    };
    let by: Result<Vec<String>, Error> = tables.by.iter().map(|b| name(b)).collect();
    let by = by?;
    let steps = [
        fleet(tables, &seals, &by)?,
        inspections(looked.as_deref(), &looks)?,
        last_day(tables.cut_off),
        kept(tables.records_from),
        seen(&seals, &looks),
        ENDED.to_owned(),
        ages(tables.records_from),
    ];
    Ok(format!(
        "{NOTES}WITH {}\n{}",
        steps.join(",\n"),
        counts(&by, tables.modes)
    ))
}

const NOTES: &str = "\
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
";

fn fleet(tables: &SealTables, seals: &Columns, by: &[String]) -> Result<String, Error> {
    let cell = |ours| seals.cell("s", ours);
    let (removed, outcome) = (cell("removed")?, word(&cell("outcome")?));
    let groups: Vec<String> = (1..)
        .zip(by)
        .map(|(n, b)| format!("s.{b} AS group_{n}, "))
        .collect();
    let dated = |ours| {
        if seals.has(ours) {
            cell(ours).map(|c| day(&c))
        } else {
            Ok("CAST(NULL AS BIGINT)".to_owned())
        }
    };
    let mode = if tables.modes {
        format!("{} AS mode, ", word(&cell("mechanism")?))
    } else {
        String::new()
    };
    Ok(format!(
        "reduction_fleet AS (
  SELECT {} AS seal, {} AS asset, {} AS place, {}{mode}
    CASE WHEN {outcome} IS NULL OR {outcome} = '' THEN CASE WHEN {removed} IS NULL THEN 'in_service' ELSE 'unknown' END
      WHEN {outcome} = 'unknown' AND {removed} IS NULL THEN 'in_service' ELSE {outcome} END AS outcome,
    {} AS fitted,
    {} AS removed,
    {} AS known_good
  FROM {} s
)",
        cell("seal")?,
        cell("asset")?,
        cell("position")?,
        groups.concat(),
        dated("fitted")?,
        dated("removed")?,
        dated("last_known_good")?,
        table(&tables.seals)?,
    ))
}

fn inspections(looked: Option<&str>, looks: &Columns) -> Result<String, Error> {
    let Some(looked) = looked else {
        return Ok("reduction_looks AS (
  SELECT f.seal AS seal, f.asset AS asset, f.place AS place, f.fitted AS on_day, f.outcome AS finding
  FROM reduction_fleet f
  WHERE 1 = 0
)"
        .to_owned());
    };
    let cell = |ours| looks.cell("i", ours);
    let (date, finding) = (cell("date")?, word(&cell("finding")?));
    Ok(format!(
        "reduction_looks AS (
  SELECT {} AS seal, {} AS asset, {} AS place, {} AS on_day, {finding} AS finding
  FROM {looked} i
  WHERE {date} IS NOT NULL AND ({finding} IS NULL OR {finding} IN ('', {}))
)",
        cell("seal")?,
        cell("asset")?,
        cell("position")?,
        day(&date),
        list(Look::WORDS),
    ))
}

fn last_day(cut_off: Option<Date>) -> String {
    match cut_off {
        Some(date) => format!(
            "reduction_last AS (\n  SELECT {} AS last_day -- {date}\n)",
            day_number(date)
        ),
        None => "reduction_last AS (
  SELECT MAX(d.on_day) AS last_day
  FROM (
    SELECT MAX(f.fitted) AS on_day FROM reduction_fleet f
    UNION ALL SELECT MAX(f.removed) AS on_day FROM reduction_fleet f
    UNION ALL SELECT MAX(f.known_good) AS on_day FROM reduction_fleet f
    UNION ALL SELECT MAX(l.on_day) AS on_day FROM reduction_looks l
  ) d
)"
        .to_owned(),
    }
}

fn kept(from: Option<Date>) -> String {
    let watched = from.map_or(String::new(), |from| {
        let from = day_number(from);
        format!("\n    AND (f.removed IS NULL OR f.fitted >= {from} OR f.removed > {from})")
    });
    format!(
        "reduction_kept AS (
  SELECT f.*, r.last_day AS last_day
  FROM reduction_fleet f CROSS JOIN reduction_last r
  WHERE f.fitted <= r.last_day
    AND f.outcome IN ({})
    AND ((f.outcome = 'in_service' AND f.removed IS NULL) OR (f.outcome <> 'in_service' AND f.removed IS NOT NULL))
    AND (f.removed IS NULL OR (f.removed >= f.fitted AND f.removed <= r.last_day))
    AND (f.known_good IS NULL OR (f.known_good >= f.fitted AND f.known_good <= COALESCE(f.removed, r.last_day))){watched}
)",
        list(Outcome::WORDS)
    )
}

/// Looks at each seal while it was in place: those that name it, and those that name its place alone.
fn seen(seals: &Columns, looks: &Columns) -> String {
    let within = "l.on_day >= k.fitted AND l.on_day <= COALESCE(k.removed, k.last_day)";
    let mut parts = Vec::new();
    if looks.has("seal") {
        parts.push("l.seal = k.seal".to_owned());
    }
    if seals.has("asset") && looks.has("asset") {
        let unnamed = if looks.has("seal") {
            "l.seal IS NULL AND "
        } else {
            ""
        };
        let place = match (seals.has("position"), looks.has("position")) {
            (true, true) => " AND (l.place = k.place OR (l.place IS NULL AND k.place IS NULL))",
            (true, false) => " AND k.place IS NULL",
            (false, true) => " AND l.place IS NULL",
            (false, false) => "",
        };
        parts.push(format!("{unnamed}l.asset = k.asset{place}"));
    }
    if parts.is_empty() {
        parts.push("1 = 0".to_owned());
    }
    let selects: Vec<String> = parts
        .iter()
        .map(|on| {
            format!(
                "  SELECT k.seal AS seal, k.removed AS removed, l.on_day AS on_day, l.finding AS finding
  FROM reduction_kept k JOIN reduction_looks l ON {on} AND {within}"
            )
        })
        .collect();
    format!(
        "reduction_seen AS (\n{}\n)",
        selects.join("\n  UNION ALL\n")
    )
}

/// How each seal ended, and the look that found it.
const ENDED: &str = "\
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
)";

fn ages(from: Option<Date>) -> String {
    let entry = from.map_or("0".to_owned(), |from| {
        let day = day_number(from);
        format!("CASE WHEN e.fitted < {day} THEN {day} - e.fitted ELSE 0 END")
    });
    format!(
        "reduction_ages AS (
  SELECT e.*, {entry} AS entry,
    CASE WHEN e.failed = 1 THEN COALESCE(e.found_day, e.removed) ELSE COALESCE(e.removed, e.last_day) END
      - e.fitted AS age,
    CASE WHEN e.failed = 1 AND (e.found_day IS NOT NULL OR e.known_good IS NOT NULL) THEN 1 ELSE 0 END AS between_looks,
    CASE WHEN COALESCE(g.good_day, e.fitted) > COALESCE(e.known_good, e.fitted) THEN g.good_day
      ELSE COALESCE(e.known_good, e.fitted) END - e.fitted AS good_age
  FROM reduction_ended e LEFT JOIN reduction_good g ON g.seal = e.seal
)"
    )
}

fn counts(by: &[String], modes: bool) -> String {
    let (mut groups, mut shown, mut told_apart) = (String::new(), String::new(), String::new());
    for (n, name) in (1..).zip(by) {
        groups.push_str(&format!(", a.group_{n} AS group_{n}"));
        shown.push_str(&format!(", c.group_{n} AS {name}"));
        told_apart.push_str(&format!(", c.group_{n}"));
    }
    if modes {
        groups.push_str(", CASE WHEN a.failed = 1 THEN a.mode END AS mode");
        shown.push_str(", c.mode AS mode");
        told_apart.push_str(", c.mode");
    }
    format!(
        "SELECT c.low AS lower, c.high AS upper, c.entry AS entry{shown}, COUNT(*) AS count
FROM (
  SELECT CASE WHEN a.failed = 0 THEN CASE WHEN a.age > a.entry THEN a.age ELSE 0 END
      WHEN a.age = 0 THEN 0
      WHEN a.between_looks = 0 THEN a.age
      WHEN a.good_age >= a.age THEN a.age - 1 ELSE a.good_age END AS low,
    CASE WHEN a.failed = 0 THEN NULL WHEN a.age = 0 THEN 1 ELSE a.age END AS high,
    CASE WHEN a.failed = 0 AND a.age <= a.entry THEN 0 ELSE a.entry END AS entry{groups}
  FROM reduction_ages a
  WHERE a.failed = 0 OR a.entry = 0 OR a.entry < a.age
) c
GROUP BY c.low, c.high, c.entry{told_apart}
"
    )
}
