//! The reduction to counts as SQL, for tables that no one machine reads: what a database prints is a file of plain
//! lives with counts, and gives the same fit as the tables themselves.
//!
//! Only what DuckDB, PostgreSQL and Spark share is used: days are whole numbers worked out from year, month and
//! day (the usual reckoning of the civil calendar, from memory), names are left bare or put between double quotes. Nothing
//! is run here, and no table is looked at: that a name is there is the database's to say. What the SQL covers and what
//! not stands in its first lines.

mod lives;
mod names;
mod seals;

use crate::error::{Error, Kind};
use crate::words::{nearest, normal};
use jiff::civil::Date;
use std::collections::BTreeMap;

pub use lives::{LivesTable, of_lives};
pub use seals::{SealTables, of_seals};

/// A table's columns: our name, and the table's own.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Columns(BTreeMap<&'static str, String>);

impl Columns {
    /// Columns of one table from words `ours` or `ours=theirs`, each one of `known`.
    ///
    /// # Errors
    /// When a column is none of ours, or given twice.
    pub(crate) fn of(words: &[String], known: &[&'static str]) -> Result<Self, Error> {
        let mut columns = BTreeMap::new();
        for word in words {
            let (ours, theirs) = word.split_once('=').unwrap_or((word, word));
            let ours = known
                .iter()
                .copied()
                .find(|k| *k == normal(ours))
                .ok_or_else(|| {
                    let near = nearest(ours, known)
                        .map_or(String::new(), |n| format!("did you mean {n}? "));
                    Error::new(
                        Kind::UnknownColumn,
                        format!("\"{ours}\" is none of our columns"),
                        format!(
                            "{near}they are: {}; write ours=theirs for another name",
                            known.join(", ")
                        ),
                    )
                    .in_column(ours)
                })?;
            if columns.insert(ours, theirs.trim().to_owned()).is_some() {
                let what = format!("the column {ours} is given twice");
                return Err(Error::new(Kind::BadHeader, what, "give it once").in_column(ours));
            }
        }
        Ok(Self(columns))
    }

    fn has(&self, ours: &str) -> bool {
        self.0.contains_key(ours)
    }

    /// `table.column` of one of ours; `NULL` where the table has none.
    fn cell(&self, table: &str, ours: &str) -> Result<String, Error> {
        let Some(theirs) = self.0.get(ours) else {
            return Ok("NULL".to_owned());
        };
        Ok(format!("{table}.{}", names::name(theirs)?))
    }

    fn need(&self, ours: &[&str], what: &str) -> Result<(), Error> {
        match ours.iter().find(|o| !self.has(o)) {
            None => Ok(()),
            Some(missing) => Err(Error::new(
                Kind::MissingColumn,
                format!("{what} has no column `{missing}`"),
                format!("name it among the columns: {missing}, or {missing}=THEIRS"),
            )
            .in_column(*missing)),
        }
    }
}

/// Days from 1970-01-01 to a date, from its year, month and day: a year begins in March, so that the odd day
/// is its last (the usual reckoning of the civil calendar, from memory).
fn day(cell: &str) -> String {
    let months = format!("(12 * EXTRACT(YEAR FROM {cell}) + EXTRACT(MONTH FROM {cell}) - 3)");
    let year = format!("FLOOR({months} / 12.0)");
    format!(
        "CAST(365 * {year} + FLOOR({year} / 4.0) - FLOOR({year} / 100.0) + FLOOR({year} / 400.0) \
         + FLOOR((153 * ({months} - 12 * {year}) + 2) / 5.0) + EXTRACT(DAY FROM {cell}) - 719469 AS BIGINT)"
    )
}

/// The same of a day that is known.
fn day_number(date: Date) -> i64 {
    crate::dates::days_between(Date::constant(1970, 1, 1), date)
}

/// A cell of text as one of our words is compared: lower case, underscores between.
fn word(cell: &str) -> String {
    format!("REPLACE(REPLACE(LOWER(TRIM({cell})), ' ', '_'), '-', '_')")
}

/// `'a', 'b'`.
fn list(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|w| format!("'{w}'")).collect();
    quoted.join(", ")
}
