//! How a site's records go wrong: coarse dates, gaps, swaps, doubles, words of their own.

use super::calendar::{Precision, Written};
use super::draw::Draw;
use super::file::Mess;
use super::rows::SealRow;

/// Writes the true rows as a careless clerk would. A doubled row follows its original.
pub(super) fn write(rows: Vec<SealRow>, mess: &Mess, pen: &mut Draw) -> Vec<SealRow> {
    let mut written = Vec::with_capacity(rows.len());
    for mut row in rows {
        spoil(&mut row, mess, pen);
        let twice = pen.chance(mess.duplicates);
        if twice {
            written.push(row.clone());
        }
        written.push(row);
    }
    written
}

/// Every chance is drawn for every row, so that the chances do not disturb one another.
fn spoil(row: &mut SealRow, mess: &Mess, pen: &mut Draw) {
    coarsen(&mut row.fitted, mess, pen);
    coarsen(&mut row.removed, mess, pen);
    if pen.chance(mess.swapped_dates) && row.removed.is_some() {
        std::mem::swap(&mut row.fitted, &mut row.removed);
    }
    if pen.chance(mess.swapped_readings) && row.removed_reading.is_some() {
        std::mem::swap(&mut row.fitted_reading, &mut row.removed_reading);
    }
    if pen.chance(mess.missing_fitted) {
        row.fitted = None;
    }
    if pen.chance(mess.missing_reading) {
        row.fitted_reading = None;
    }
    if pen.chance(mess.missing_reading) {
        row.removed_reading = None;
    }
    if pen.chance(mess.missing_position) {
        row.position = None;
    }
    if pen.chance(mess.missing_sector) {
        row.sector = None;
    }
    outcome(row, mess, pen);
}

fn coarsen(date: &mut Option<Written>, mess: &Mess, pen: &mut Draw) {
    let draw = pen.share();
    if let Some(date) = date {
        if draw < mess.month_dates {
            date.precision = Precision::Month;
        } else if draw < mess.month_dates + mess.quarter_dates {
            date.precision = Precision::Quarter;
        }
    }
}

/// An unknown outcome loses its mechanism and sector too; own words keep them.
fn outcome(row: &mut SealRow, mess: &Mess, pen: &mut Draw) {
    let (unknown, own) = (pen.chance(mess.unknown_outcome), pen.chance(mess.own_words));
    let word = mess
        .words
        .get(&row.outcome)
        .and_then(|words| pen.one_of(words));
    if unknown && row.removed.is_some() {
        row.outcome = "unknown".to_owned();
        row.mechanism = None;
        row.sector = None;
    } else if let Some(word) = word.filter(|_| own) {
        row.outcome.clone_from(word);
    }
}
