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

/// Our columns of the `life` form.
pub(crate) const COLUMNS: &[&str] = &["lower", "upper", "entry", "count", "mode", "time", "status"];

/// Plain life data in columns. `upper` is infinite for a life still running; ages are in whatever
/// unit the file keeps.
#[derive(Debug, Clone)]
pub struct Life {
    pub(crate) table: Table,
    pub(crate) known: Known,
    pub(crate) lower: Vec<f64>,
    pub(crate) upper: Vec<f64>,
    /// Empty when every entry age is 0.
    pub(crate) entry: Vec<f64>,
    /// Empty when every count is 1.
    pub(crate) count: Vec<f64>,
    /// Empty when every row is used.
    pub(crate) used: Vec<bool>,
}

impl Life {
    /// Rows in the columns, used or not.
    #[must_use]
    pub fn len(&self) -> usize {
        self.lower.len()
    }

    /// True when there are no rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.lower.is_empty()
    }

    pub(crate) fn is_used(&self, at: usize) -> bool {
        self.used.get(at).copied().unwrap_or(true)
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

    /// The file's own row number.
    #[must_use]
    pub fn row_number(&self, at: usize) -> u64 {
        self.table.rows.number(at)
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
        notes.log.whole(
            "status_codes",
            "status 1 was read as failed and 0 as running",
            Some(&life.table.file),
            0,
        );
        notes.findings.push(
            Finding::note(
                "status_codes",
                "status 1 was read as failed and 0 as running",
            )
            .file(&life.table.file)
            .mend("if the codes mean the opposite, write the words failed and running"),
        );
    }
    report(&mut life, faults, notes)?;
    Ok(life)
}

fn form<'a>(table: &'a Table, known: &Known, study: &'a Study) -> Result<Reading<'a>, Error> {
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
    let ages = ["lower", "upper", "entry", "count", "time"];
    let names: Vec<&str> = ages.iter().filter_map(|a| known.theirs(a)).collect();
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
        if all && n == 0 && matches!(fault.kind, "not_a_number" | "unknown_status") {
            return Err(Error::new(
                Kind::UnreadableColumn,
                format!("no row can be read; the first says: {}", fault.message),
                fault.mend,
            )
            .in_file(&life.table.path)
            .at_row(row)
            .in_column(column));
        }
        notes.aside(
            Finding::new(fault.kind, fault.severity, fault.message)
                .file(&life.table.file)
                .row(row)
                .column(&column)
                .mend(fault.mend),
        );
    }
    Ok(())
}
