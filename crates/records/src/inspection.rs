//! The `inspections` table: one row a look at a seal.

use crate::cells::Cells;
use crate::dates::Span;
use crate::error::Error;
use crate::fields::{Fields, WordList};
use crate::finding::{Finding, Severity};
use crate::notes::Notes;
use crate::study::Study;
use crate::table::Table;
use crate::words::Look;
use jiff::civil::Date;

/// Our columns of the inspections.
pub(crate) const COLUMNS: &[&str] = &[
    "seal", "asset", "position", "date", "reading", "finding", "sector", "turned",
];

/// One inspection.
#[derive(Debug, Clone, PartialEq)]
pub struct Inspection {
    /// The file's own row number.
    pub row: u64,
    /// The seal looked at, where named.
    pub seal: Option<String>,
    /// The asset, where named.
    pub asset: Option<String>,
    /// The position, where named.
    pub position: Option<String>,
    /// When.
    pub date: Span,
    /// The asset's counter or hour meter then, in cycles or hours, 0 or more.
    pub reading: Option<f64>,
    /// What was seen; `None` where only a reading or a measurement was taken.
    pub finding: Option<Look>,
    /// The sector of the defect, numbered clockwise from 1 (to 360).
    pub sector: Option<u32>,
    /// Sectors turned clockwise on this occasion, 0 or more; `None` where not recorded.
    pub turned: Option<f64>,
    /// Measurements: the column's name, which says the unit (`thickness_mm`), and the number; of every column that is none
    /// of ours, where its cell is a number.
    pub measurements: Vec<(String, f64)>,
}

/// Reads the inspections; rows without a date, or that name neither seal nor asset, are set aside.
pub(crate) fn read(
    table: &Table,
    study: &Study,
    today: Option<Date>,
    notes: &mut Notes,
) -> Result<Vec<Inspection>, Error> {
    let mapping = &study.columns.inspections;
    let fields = Fields::new(
        table,
        COLUMNS,
        &["date"],
        mapping,
        "inspections",
        study,
        notes,
    )?;
    if !fields.known.has("date") {
        return Err(crate::columns::lacking(
            table,
            "date",
            "which every inspection needs",
        ));
    }
    if !fields.known.has("seal") && !fields.known.has("asset") {
        return Err(crate::columns::lacking(
            table,
            "seal",
            "nor `asset`, to say what was looked at",
        ));
    }
    let measures: Vec<(String, Cells<'_>)> = fields
        .known
        .others
        .iter()
        .map(|name| (name.clone(), Cells::of(table, Some(name))))
        .collect();
    for (name, cells) in &measures {
        unreadable(&fields, name, cells, notes);
    }
    let words = WordList {
        kind: "unknown_finding",
        list: Look::WORDS,
        read: Look::from_word,
        theirs: &study.words.finding,
        section: "finding",
    };
    let mut list = Vec::with_capacity(fields.height());
    for at in 0..fields.height() {
        match one(&fields, at, &words, today, notes) {
            Ok(mut inspection) => {
                inspection.measurements = measures
                    .iter()
                    .filter_map(|(name, cells)| Some((name.clone(), cells.number(at).ok()??)))
                    .collect();
                list.push(inspection);
            }
            Err(finding) => notes.context_aside(*finding),
        }
    }
    Ok(list)
}

/// A column of numbers with cells that are none: each is a finding, and counts as empty. A column that is mostly
/// words is no measurement.
fn unreadable(fields: &Fields<'_>, name: &str, cells: &Cells<'_>, notes: &mut Notes) {
    let read: Vec<_> = (0..fields.height()).map(|at| cells.number(at)).collect();
    let good = read.iter().filter(|r| matches!(r, Ok(Some(_)))).count();
    let bad = read.iter().filter(|r| r.is_err()).count();
    if bad >= good {
        return;
    }
    for (at, cell) in read.iter().enumerate() {
        if let Err(why) = cell {
            let finding = Finding::warning(
                why.kind(),
                format!("{}; the measurement is taken as missing", why.message()),
            )
            .mend(why.mend());
            let placed = finding
                .file(&fields.table.file)
                .row(fields.row(at))
                .column(name);
            notes.findings.push(placed);
        }
    }
}

fn one(
    fields: &Fields<'_>,
    at: usize,
    words: &WordList<'_, Look>,
    today: Option<Date>,
    notes: &mut Notes,
) -> Result<Inspection, Box<Finding>> {
    let date = fields.date("date", at)?.ok_or_else(|| {
        let finding =
            Finding::error("date_missing", "the inspection has no date").mend("give its date");
        fields.place(finding, "date", at)
    })?;
    if today.is_some_and(|today| date.first() > today) {
        let finding = Finding::error(
            "future_date",
            format!("the inspection is dated {date}, in the future"),
        )
        .mend("correct the date");
        return Err(fields.place(finding, "date", at));
    }
    let (seal, asset) = (fields.text("seal", at), fields.text("asset", at));
    if seal.is_none() && asset.is_none() {
        let finding = Finding::error(
            "seal_missing",
            "the inspection names neither seal nor asset",
        )
        .mend("name the seal, or the asset and position");
        return Err(fields.place(finding, "seal", at));
    }
    Ok(Inspection {
        row: fields.row(at),
        seal,
        asset,
        position: fields.text("position", at),
        date,
        reading: fields.amount("reading", at, notes),
        finding: fields.word("finding", at, words, Severity::Error)?,
        sector: fields.ordinal("sector", at, notes),
        turned: fields.amount("turned", at, notes),
        measurements: Vec::new(),
    })
}
