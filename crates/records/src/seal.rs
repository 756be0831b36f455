//! The `seals` table: one row a fitted seal, from fitting to removal or to the cut-off.

use crate::asset::Assets;
use crate::cells::clip;
use crate::dates::Span;
use crate::error::Error;
use crate::fields::{Fields, WordList};
use crate::finding::{Finding, Severity};
use crate::material_words;
use crate::notes::Notes;
use crate::study::Study;
use crate::table::Table;
use crate::words::{Material, Mechanism, Outcome, normal};
use jiff::civil::Date;

/// Our columns of the seals.
pub(crate) const COLUMNS: &[&str] = &[
    "seal",
    "asset",
    "position",
    "material",
    "part_no",
    "batch",
    "cure_date",
    "fitted",
    "fitted_reading",
    "removed",
    "removed_reading",
    "last_known_good",
    "outcome",
    "mechanism",
    "sector",
];

/// Our date columns of the seals.
pub(crate) const DATES: &[&str] = &["cure_date", "fitted", "removed", "last_known_good"];

/// One seal that is used.
#[derive(Debug, Clone, PartialEq)]
pub struct Seal {
    /// Its place in the table read, from 0.
    pub(crate) at: usize,
    /// The file's own row number.
    pub row: u64,
    /// Its name, or `row N` when it has none.
    pub seal: String,
    /// The asset it is fitted to.
    pub asset: Option<String>,
    /// The position on the asset.
    pub position: Option<String>,
    /// Its material; `None` when not recorded, `Other` for a word that nobody knows.
    pub material: Option<Material>,
    /// The maker's part number.
    pub part_no: Option<String>,
    /// Its production batch.
    pub batch: Option<String>,
    /// When it was vulcanised; `None` when not recorded or no date.
    pub cure_date: Option<Span>,
    /// When it was fitted.
    pub fitted: Span,
    /// The asset's counter or hour meter then, in cycles or hours, 0 or more.
    pub fitted_reading: Option<f64>,
    /// When it was removed; `None` while in service.
    pub removed: Option<Span>,
    /// The asset's counter or hour meter then, in cycles or hours, 0 or more.
    pub removed_reading: Option<f64>,
    /// When it was last known to be good.
    pub last_known_good: Option<Span>,
    /// How its time ended: `InService` without a removal, `Unknown` for a removal without an outcome.
    pub outcome: Outcome,
    /// Why it ended; `None` when not recorded, `Unknown` for a word that nobody knows.
    pub mechanism: Option<Mechanism>,
    /// The sector of the defect, numbered clockwise from 1 (to 360).
    pub sector: Option<u32>,
    /// Every other column that is filled: the file's own name of it, and the cell.
    pub conditions: Vec<(String, String)>,
    /// Last day of watching if still in service: the cut-off, or the end of the asset's records where that is earlier.
    pub watched_to: Date,
    /// First day of watching, when it was surely fitted before the records began: the asset's own first day of records, else
    /// that of the study. `None` when it was watched from its fitting.
    pub watched_from: Option<Date>,
}

/// The three word lists of a seal.
pub(crate) struct Lists<'a> {
    outcome: WordList<'a, Outcome>,
    mechanism: WordList<'a, Mechanism>,
    material: WordList<'a, Material>,
}

impl<'a> Lists<'a> {
    pub(crate) fn new(study: &'a Study) -> Self {
        Self {
            outcome: WordList {
                kind: "unknown_outcome_word",
                list: Outcome::WORDS,
                read: Outcome::from_word,
                theirs: &study.words.outcome,
                section: "outcome",
            },
            mechanism: WordList {
                kind: "unknown_mechanism_word",
                list: Mechanism::WORDS,
                read: Mechanism::from_word,
                theirs: &study.words.mechanism,
                section: "mechanism",
            },
            material: WordList {
                kind: UNKNOWN_MATERIAL,
                list: Material::WORDS,
                read: material_words::material,
                theirs: &study.words.material,
                section: "material",
            },
        }
    }
}

/// What a row is judged against.
pub(crate) struct Frame<'a> {
    pub(crate) lists: Lists<'a>,
    pub(crate) assets: &'a Assets,
    pub(crate) records_from: Option<Date>,
    pub(crate) cut_off: Date,
    pub(crate) today: Option<Date>,
}

/// Finds the columns of the seals and reads their dates.
pub(crate) fn fields<'a>(
    table: &'a Table,
    study: &Study,
    notes: &mut Notes,
) -> Result<Fields<'a>, Error> {
    let fields = Fields::new(
        table,
        COLUMNS,
        DATES,
        &study.columns.seals,
        "seals",
        study,
        notes,
    )?;
    for (name, why) in [
        ("fitted", "the date of fitting"),
        ("removed", "the date of removal, empty while in service"),
        ("outcome", "which tells failures from other removals"),
    ] {
        if !fields.known.has(name) {
            return Err(crate::columns::lacking(table, name, why));
        }
    }
    Ok(fields)
}

/// Reads one row, or says why it is set aside.
pub(crate) fn one(
    fields: &Fields<'_>,
    at: usize,
    frame: &Frame<'_>,
    notes: &mut Notes,
) -> Result<Seal, Box<Finding>> {
    let fitted = fields.date("fitted", at)?.ok_or_else(|| {
        let finding = Finding::warning(
            "fitting_unknown",
            "the date of fitting is not known, so neither is the age",
        )
        .mend("find the date; a month, quarter or year is enough (2019-Q2)");
        fields.place(finding, "fitted", at)
    })?;
    let removed = fields.date("removed", at)?;
    let asset = fields.text("asset", at);
    let home = asset.as_deref().and_then(|a| frame.assets.get(a));
    let records_to = home.and_then(|a| a.records_to).map(|s| s.last());
    let watched_to = records_to.map_or(frame.cut_off, |to| to.min(frame.cut_off));
    let from = home
        .and_then(|a| a.records_from)
        .map(|s| s.first())
        .or(frame.records_from);
    let seal = Seal {
        at,
        row: fields.row(at),
        seal: fields
            .text("seal", at)
            .unwrap_or_else(|| format!("row {}", fields.row(at))),
        position: fields.text("position", at),
        material: material(fields, at, frame, notes),
        part_no: fields.text("part_no", at),
        batch: fields.text("batch", at),
        cure_date: optional(fields.date("cure_date", at), notes),
        fitted,
        fitted_reading: fields.amount("fitted_reading", at, notes),
        removed,
        removed_reading: fields.amount("removed_reading", at, notes),
        last_known_good: fields.date("last_known_good", at)?,
        outcome: outcome(fields, at, removed, frame, notes)?,
        mechanism: soft(
            fields.word("mechanism", at, &frame.lists.mechanism, Severity::Warning),
            Mechanism::Unknown,
            notes,
        ),
        sector: fields.ordinal("sector", at, notes),
        conditions: Vec::new(),
        watched_to,
        watched_from: from.filter(|from| fitted.last() < *from),
        asset,
    };
    order(fields, at, &seal, frame)?;
    Ok(seal)
}

/// The material. A word of the trade is taken for its symbol, which is logged; what nobody knows counts as another
/// material, and each such word is told once, with its first row.
fn material(
    fields: &Fields<'_>,
    at: usize,
    frame: &Frame<'_>,
    notes: &mut Notes,
) -> Option<Material> {
    let list = &frame.lists.material;
    let text = fields.text("material", at)?;
    match fields.word("material", at, list, Severity::Warning) {
        Ok(found) => {
            let symbol = Material::from_word(&text).is_some();
            let theirs = || list.theirs.keys().any(|t| normal(t) == normal(&text));
            if let Some(m) = found.filter(|_| !symbol && !theirs()) {
                let assumed = format!("the material \"{}\" is read as {}", clip(&text), m.word());
                let file = &fields.table.file;
                notes
                    .log
                    .row("material_word", &assumed, file, fields.row(at));
            }
            found
        }
        Err(finding) => {
            let unknown = notes
                .materials
                .entry(normal(&text))
                .or_insert_with(|| (unknown_material(&text, *finding), 0));
            unknown.1 += 1;
            Some(Material::Other)
        }
    }
}

/// [Kind](Finding::kind) of the finding of a material nobody knows.
pub const UNKNOWN_MATERIAL: &str = "unknown_material_word";

fn unknown_material(text: &str, at_its_place: Finding) -> Finding {
    let word = clip(text);
    let meant = material_words::near(text).map_or("its symbol", Material::word);
    Finding {
        severity: Severity::Warning,
        message: format!("\"{word}\" is no material we know: its seals count as \"other\""),
        mend: format!(
            "{}say what it is in the study file: under [words.material], \"{word}\" = \"{meant}\"; the symbols are: {}",
            material_words::question(text),
            Material::WORDS.join(", ")
        ),
        ..at_its_place
    }
}

/// A cell that is not worth losing the row for: the finding is kept, a stand-in is used.
fn soft<T>(cell: Result<Option<T>, Box<Finding>>, stand_in: T, notes: &mut Notes) -> Option<T> {
    match cell {
        Ok(value) => value,
        Err(finding) => {
            notes.findings.push(Finding {
                severity: Severity::Warning,
                ..*finding
            });
            Some(stand_in)
        }
    }
}

/// A cell that counts as empty when it cannot be read; the finding is kept.
fn optional<T>(cell: Result<Option<T>, Box<Finding>>, notes: &mut Notes) -> Option<T> {
    cell.unwrap_or_else(|finding| {
        notes.findings.push(Finding {
            severity: Severity::Warning,
            ..*finding
        });
        None
    })
}

fn outcome(
    fields: &Fields<'_>,
    at: usize,
    removed: Option<Span>,
    frame: &Frame<'_>,
    notes: &mut Notes,
) -> Result<Outcome, Box<Finding>> {
    let outcome = fields.word("outcome", at, &frame.lists.outcome, Severity::Error)?;
    let contradiction = |message: &str, mend: &str| {
        let finding = Finding::error("outcome_contradicts_removal", message).mend(mend);
        fields.place(finding, "outcome", at)
    };
    match (outcome, removed) {
        (None | Some(Outcome::InService), None) => Ok(Outcome::InService),
        (Some(Outcome::Unknown), None) => Ok(Outcome::InService),
        (Some(Outcome::InService), Some(date)) => Err(contradiction(
            &format!("the outcome is in_service, yet the seal was removed on {date}"),
            "clear the removal date, or give the outcome of the removal",
        )),
        (Some(ended), None) => Err(contradiction(
            &format!(
                "the outcome is {}, yet there is no removal date",
                ended.word()
            ),
            "give the removal date (a month is enough), or clear the outcome",
        )),
        (None, Some(_)) => {
            let finding = Finding::note(
                "outcome_missing",
                "the seal was removed, but no outcome is recorded: taken as unknown",
            )
            .mend("record why the seal was removed");
            notes.findings.push(*fields.place(finding, "outcome", at));
            Ok(Outcome::Unknown)
        }
        (Some(outcome), Some(_)) => Ok(outcome),
    }
}

/// Checks the order of a seal's dates.
fn order(
    fields: &Fields<'_>,
    at: usize,
    seal: &Seal,
    frame: &Frame<'_>,
) -> Result<(), Box<Finding>> {
    let limit = frame
        .today
        .map_or(seal.watched_to, |today| today.min(seal.watched_to));
    let dates = [
        ("fitted", Some(seal.fitted)),
        ("removed", seal.removed),
        ("last_known_good", seal.last_known_good),
    ];
    for (name, date) in dates {
        if let Some(date) = date.filter(|d| d.first() > limit) {
            let finding = Finding::error(
                "future_date",
                format!("{name} is {date}, after the last day of the records, {limit}"),
            )
            .mend("correct the date, or the cut-off");
            return Err(fields.place(finding, name, at));
        }
    }
    if let Some(removed) = seal.removed.filter(|r| r.last() < seal.fitted.first()) {
        let finding = Finding::error(
            "removal_before_fitting",
            format!(
                "removed on {removed}, before it was fitted on {}",
                seal.fitted
            ),
        )
        .mend("swap or correct the two dates");
        return Err(fields.place(finding, "removed", at));
    }
    if let Some(good) = seal.last_known_good {
        let late = seal.removed.is_some_and(|r| good.first() > r.last());
        if late || good.last() < seal.fitted.first() {
            let finding = Finding::error(
                "last_known_good_outside",
                format!("last known good on {good}, outside the time it was fitted"),
            )
            .mend("correct the date, or clear it");
            return Err(fields.place(finding, "last_known_good", at));
        }
    }
    if let (Some(removed), Some(from)) = (seal.removed, seal.watched_from)
        && removed.last() <= from
    {
        let finding = Finding::error(
            "removed_before_records",
            format!("removed on {removed}, before the records begin on {from}: entry age not below exit age"),
        )
        .mend("correct records_from, or leave the seal out: it was never watched");
        return Err(fields.place(finding, "removed", at));
    }
    Ok(())
}
