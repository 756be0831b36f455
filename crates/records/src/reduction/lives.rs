//! A table of plain lives.

use super::Columns;
use super::names::{name, table};
use crate::error::{Error, Kind};
use crate::life;

/// A table of plain lives in a database.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LivesTable {
    /// The table's name, with those of schema and catalogue before it and dots between.
    pub table: String,
    /// Which of our columns it has: `ours` or `ours=theirs`, ours one of `lower`, `upper`, `entry`, `count`, `mode`, `time`,
    /// `status`.
    pub columns: Vec<String>,
    /// Columns to group by, by the table's own names.
    pub by: Vec<String>,
}

/// The SQL that reduces plain lives to counts: rows alike in ages, status, entry, mode and groups become one, whose `count`
/// is the sum of theirs (an empty one is 1) or, without such a column, their number; rows with a count of 0 or less are
/// left out. Counts must be whole numbers: a part of a seal is added up too, where a reading of the table would set its row
/// aside. Its result has the columns given, by our names, then those of the groups, then `count`; ages keep the table's
/// unit.
///
/// # Errors
/// When a column is none of ours or given twice, a name cannot be one (blank, control characters), `time` stands beside
/// `lower` or `upper`, or of `time` and `status`, or `lower` and `upper`, one is missing.
///
/// ```
/// use sealspan_records::reduction::{LivesTable, of_lives};
/// let lives = LivesTable {
///     table: "fleet.lives".into(),
///     columns: vec!["lower".into(), "upper".into()],
///     by: vec!["site".into()],
/// };
/// assert!(of_lives(&lives)?.contains("GROUP BY t.lower, t.upper, t.site"));
/// # Ok::<(), sealspan_records::Error>(())
/// ```
pub fn of_lives(lives: &LivesTable) -> Result<String, Error> {
    let columns = Columns::of(&lives.columns, life::COLUMNS)?;
    let spans = columns.has("lower") || columns.has("upper");
    if spans && columns.has("time") {
        return Err(Error::new(
            Kind::BadHeader,
            "there are both `time` and `lower` or `upper`",
            "keep one form: time and status, or lower and upper",
        ));
    }
    let needed: &[&str] = if spans {
        &["lower", "upper"]
    } else {
        &["time", "status"]
    };
    columns.need(needed, "the table of lives")?;
    let (mut shown, mut told_apart) = (Vec::new(), Vec::new());
    for ours in ["lower", "upper", "time", "status", "entry", "mode"] {
        if columns.has(ours) {
            let cell = columns.cell("t", ours)?;
            shown.push(format!("{cell} AS {}", name(ours)?));
            told_apart.push(cell);
        }
    }
    for by in &lives.by {
        let column = name(by)?;
        shown.push(format!("t.{column} AS {column}"));
        told_apart.push(format!("t.{column}"));
    }
    let (count, only) = if columns.has("count") {
        let cell = columns.cell("t", "count")?;
        // An empty count stands for one seal; a count of 0 saw nothing.
        (
            format!("CAST(SUM(COALESCE({cell}, 1)) AS BIGINT)"),
            format!("WHERE {cell} IS NULL OR {cell} > 0\n"),
        )
    } else {
        ("COUNT(*)".to_owned(), String::new())
    };
    Ok(format!(
        "{}SELECT {},\n  {count} AS count\nFROM {} t\n{only}GROUP BY {}\n",
        notes(),
        shown.join(",\n  "),
        table(&lives.table)?,
        told_apart.join(", ")
    ))
}

fn notes() -> &'static str {
    "-- Lives to counts. Save the result as CSV with a header (or Parquet) and give it to `sealspan fit`, with --by.\n\
     -- The fit is that of the table itself; only how many rows were read and set aside differs.\n\
     -- Empty cells are NULL. Names between double quotes need ANSI quoting in Spark:\n\
     -- SET spark.sql.ansi.doubleQuotedIdentifiers = true (with spark.sql.ansi.enabled).\n"
}
