//! The `life` form: plain life data, kept in columns.

use crate::cells::Cells;
use crate::columns::{self, Known};
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::life_row::{Fault, Reading};
use crate::notes::Notes;
use crate::study::Study;
use crate::table::Table;
use rayon::prelude::*;
use std::path::Path;

/// Our columns of the `life` form.
pub(crate) const COLUMNS: &[&str] = &["lower", "upper", "entry", "count", "mode", "time", "status"];

/// Those of them that stand as ages and counts.
pub(crate) const AGES: &[&str] = &["lower", "upper", "entry", "count", "time"];

/// Plain life data in columns, asked for through [`ask`](crate::ask()). Ages are in whatever unit the file keeps.
#[derive(Debug, Clone)]
pub struct Life {
    pub(crate) table: Table,
    pub(crate) known: Known,
    pub(crate) lower: Vec<f64>,
    /// Infinite for a life still running.
    pub(crate) upper: Vec<f64>,
    /// Empty when every entry age is 0.
    pub(crate) entry: Vec<f64>,
    /// Empty when every count is 1.
    pub(crate) count: Vec<f64>,
    /// Empty when every row is used.
    pub(crate) used: Vec<bool>,
    /// How many rows of the files each row here stands for; empty when it is one each.
    pub(crate) stands_for: Vec<u64>,
}

impl Life {
    /// Rows in the columns, used or not.
    #[must_use]
    pub(crate) fn len(&self) -> usize {
        self.lower.len()
    }

    pub(crate) fn is_used(&self, at: usize) -> bool {
        self.used.get(at).copied().unwrap_or(true)
    }

    /// How many rows of the files this row stands for.
    pub(crate) fn stands_for(&self, at: usize) -> u64 {
        self.stands_for.get(at).copied().unwrap_or(1)
    }

    /// True when rows alike were counted, so that a row here has no number of its own in a file.
    pub(crate) fn is_counted(&self) -> bool {
        !self.stands_for.is_empty()
    }

    /// Lower age, upper age, entry age and count of a row.
    pub(crate) fn row(&self, at: usize) -> (f64, f64, f64, f64) {
        (
            self.lower.get(at).copied().unwrap_or(0.0),
            self.upper.get(at).copied().unwrap_or(0.0),
            self.entry.get(at).copied().unwrap_or(0.0),
            self.count.get(at).copied().unwrap_or(1.0),
        )
    }
}

/// Rows handled in one go by one thread.
const STRETCH: usize = 1 << 15;

struct Part {
    lower: Vec<f64>,
    upper: Vec<f64>,
    entry: Vec<f64>,
    count: Vec<f64>,
    faults: Vec<(usize, Fault)>,
    coded: bool,
}

/// Reads a table of plain life data.
pub(crate) fn read(table: Table, study: &Study, notes: &mut Notes) -> Result<Life, Error> {
    let known = columns::resolve(&table, COLUMNS, &study.columns.life, "life")?;
    let reading = form(&table, &known, study)?;
    let height = table.frame.height();
    let parts: Vec<Part> = (0..height.div_ceil(STRETCH))
        .into_par_iter()
        .map(|n| stretch(&reading, n * STRETCH, ((n + 1) * STRETCH).min(height)))
        .collect();
    let mut life = Life {
        table: without_ages(table, &known),
        known,
        lower: Vec::with_capacity(height),
        upper: Vec::with_capacity(height),
        entry: Vec::new(),
        count: Vec::new(),
        used: Vec::new(),
        stands_for: Vec::new(),
    };
    let mut faults = Vec::new();
    let mut coded = false;
    for part in parts {
        life.lower.extend(part.lower);
        life.upper.extend(part.upper);
        life.entry.extend(part.entry);
        life.count.extend(part.count);
        faults.extend(part.faults);
        coded |= part.coded;
    }
    if coded {
        note_codes(&life.table.file, notes);
    }
    report(&mut life, faults, notes)?;
    Ok(life)
}

/// Notes that a status of 1 or 0 was read.
pub(crate) fn note_codes(file: &str, notes: &mut Notes) {
    let text = "status 1 was read as failed and 0 as running";
    notes.log.whole("status_codes", text, Some(file), 0);
    notes.findings.push(
        Finding::note("status_codes", text)
            .file(file)
            .mend("if the codes mean the opposite, write the words failed and running"),
    );
}

/// The cells that a row of the life form is read from.
pub(crate) fn form<'a>(
    table: &'a Table,
    known: &Known,
    study: &'a Study,
) -> Result<Reading<'a>, Error> {
    let cells = |name| Cells::of(table, known.theirs(name));
    let spans = known.has("lower") || known.has("upper");
    if spans && known.has("time") {
        return Err(Error::new(
            Kind::BadHeader,
            "there are both `time` and `lower` or `upper`",
            "keep one form: time and status, or lower and upper",
        )
        .in_file(&table.path));
    }
    if spans {
        for name in ["lower", "upper"] {
            if !known.has(name) {
                return Err(columns::lacking(
                    table,
                    name,
                    "which the other of lower and upper needs",
                ));
            }
        }
    } else {
        if !known.has("time") {
            return Err(columns::lacking(table, "time", "nor lower and upper"));
        }
        if !known.has("status") {
            return Err(columns::lacking(
                table,
                "status",
                "which tells failed from running",
            ));
        }
    }
    Ok(Reading {
        spans,
        first: cells(if spans { "lower" } else { "time" }),
        second: cells(if spans { "upper" } else { "status" }),
        entry: cells("entry"),
        count: cells("count"),
        has_entry: known.has("entry"),
        has_count: known.has("count"),
        words: &study.words.status,
    })
}

fn stretch(reading: &Reading<'_>, from: usize, to: usize) -> Part {
    let size = to - from;
    let sized = |wanted| Vec::with_capacity(if wanted { size } else { 0 });
    let mut part = Part {
        lower: sized(true),
        upper: sized(true),
        entry: sized(reading.has_entry),
        count: sized(reading.has_count),
        faults: Vec::new(),
        coded: false,
    };
    for at in from..to {
        let row = reading.row(at, &mut part.coded).unwrap_or_else(|fault| {
            part.faults.push((at, fault));
            (0.0, f64::INFINITY, 0.0, 0.0)
        });
        part.lower.push(row.0);
        part.upper.push(row.1);
        if reading.has_entry {
            part.entry.push(row.2);
        }
        if reading.has_count {
            part.count.push(row.3);
        }
    }
    part
}

/// The table without the columns that now stand as ages, which are large and no groups.
fn without_ages(mut table: Table, known: &Known) -> Table {
    let names: Vec<&str> = AGES.iter().filter_map(|a| known.theirs(a)).collect();
    table.frame = table.frame.drop_many(names);
    table
}

/// Findings and set-aside rows of the faults; refuses when nothing readable is left.
fn report(life: &mut Life, faults: Vec<(usize, Fault)>, notes: &mut Notes) -> Result<(), Error> {
    if !faults.is_empty() {
        life.used = vec![true; life.len()];
    }
    let height = life.len();
    let all = faults.len() == height && height > 0;
    for (n, (at, fault)) in faults.into_iter().enumerate() {
        if let Some(used) = life.used.get_mut(at) {
            *used = false;
        }
        let row = life.table.rows.number(at);
        let column = life
            .known
            .theirs(fault.column)
            .unwrap_or(fault.column)
            .to_owned();
        let finding = fault.finding(&life.table.file, row, &column);
        if all && n == 0 && is_of_the_column(&finding) {
            return Err(unreadable("no row can be read", &finding));
        }
        notes.aside(finding);
    }
    Ok(())
}

/// True for a fault that a wrong column has in every row.
pub(crate) fn is_of_the_column(finding: &Finding) -> bool {
    matches!(finding.kind, "not_a_number" | "unknown_status")
}

/// The error of a table of which little can be read, from the first row that cannot.
pub(crate) fn unreadable(what: &str, first: &Finding) -> Error {
    let text = format!("{what}; the first says: {}", first.message);
    Error::new(Kind::UnreadableColumn, text, first.mend.clone())
        .in_file(Path::new(first.file.as_deref().unwrap_or_default()))
        .at_row(first.row.unwrap_or(0))
        .in_column(first.column.clone().unwrap_or_default())
}
