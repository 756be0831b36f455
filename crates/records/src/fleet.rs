//! The seals form as a whole: cut-off, rows, checks across rows.

use crate::cells::Cells;
use crate::checks::{self, Place};
use crate::error::Error;
use crate::fields::Fields;
use crate::load::{LoadOptions, Records, latest};
use crate::notes::Notes;
use crate::seal::{self, DATES, Frame, Lists, Seal};
use crate::survey;
use crate::table::Table;
use jiff::civil::Date;

/// Reads the seals into `records`.
pub(crate) fn read(
    table: Table,
    records: &mut Records,
    options: &LoadOptions,
    notes: &mut Notes,
) -> Result<(), Error> {
    let fields = seal::fields(&table, &records.study, notes)?;
    let cut_off = cut_off(&fields, records, options, notes);
    let frame = Frame {
        lists: Lists::new(&records.study),
        assets: &records.asset_index,
        records_from: records.study.records_from_date(),
        cut_off,
        today: options.today,
    };
    let others: Vec<(String, Cells<'_>)> = fields
        .known
        .others
        .iter()
        .map(|name| (name.clone(), Cells::of(&table, Some(name))))
        .collect();
    let mut seals: Vec<Seal> = Vec::with_capacity(fields.height());
    for at in 0..fields.height() {
        match seal::one(&fields, at, &frame, notes) {
            Ok(seal) => seals.push(Seal {
                conditions: filled(&others, at),
                ..seal
            }),
            Err(finding) => notes.aside(*finding),
        }
    }
    notes.close_materials();
    let place = Place {
        file: &table.file,
        named: fields.known.has("seal"),
    };
    let seals = checks::duplicates(seals, &place, notes);
    checks::unnamed(&seals, &place, notes);
    let seals = checks::positions(seals, &place, notes);
    let seals = checks::overlaps(seals, &place, notes);
    let known = fields.known.clone();
    records.cut_off = Some(cut_off);
    records.seals = seals;
    survey::seals(records, &table.file, notes);
    records.seal_table = Some((table, known));
    Ok(())
}

fn filled(others: &[(String, Cells<'_>)], at: usize) -> Vec<(String, String)> {
    others
        .iter()
        .filter_map(|(name, cells)| Some((name.clone(), cells.text(at)?.into_owned())))
        .collect()
}

/// The last day the records cover: as asked, as the study says, or the latest date there is.
fn cut_off(
    fields: &Fields<'_>,
    records: &Records,
    options: &LoadOptions,
    notes: &mut Notes,
) -> Date {
    let file = Some(fields.table.file.as_str());
    if let Some(date) = options.cut_off {
        notes.log.whole(
            "cut_off",
            format!("the records end on {date}, as asked"),
            file,
            0,
        );
        return date;
    }
    if let Some(date) = records.study.cut_off_date() {
        notes.log.whole(
            "cut_off",
            format!("the records end on {date}, as the study says"),
            file,
            0,
        );
        return date;
    }
    let seals = DATES
        .iter()
        .filter(|name| **name != "cure_date")
        .flat_map(|name| {
            (0..fields.height()).filter_map(|at| fields.date(name, at).ok().flatten())
        });
    let looks = records.inspections.iter().map(|i| i.date);
    let ends = records.assets.iter().filter_map(|a| a.records_to);
    match latest(seals.chain(looks).chain(ends), options.today) {
        Some(date) => {
            let text = format!(
                "no cut-off was given: the records are taken to end on {date}, their latest date"
            );
            notes.log.whole("cut_off", text, file, 0);
            date
        }
        None => options.today.unwrap_or(Date::constant(1970, 1, 1)),
    }
}
