//! The sheet of places: a year of each, its events as numbers, their money as formulas.

use super::budget::{PLAN, SAVING, TODAY, WORLDS, heads, world_of};
use super::cells::{HEAD_HEIGHT, Looks, live};
use crate::wire::money::MoneyDocument;
use rust_xlsxwriter::{Worksheet, XlsxError};

/// Name of the sheet.
pub const SHEET: &str = "Places";

/// What follows the worlds.
const AFTER: [&str; 4] = [
    "saving",
    "saving, low end of its prediction interval (not live)",
    "saving, high end (not live)",
    "failures as recorded there, for the seals in service now (not live)",
];

/// Column of the failures recorded, behind the ends of the saving.
const RECORDED: u16 = SAVING.1 + 3;

pub fn write(
    sheet: &mut Worksheet,
    document: &MoneyDocument,
    looks: &Looks,
) -> Result<(), XlsxError> {
    sheet.set_name(SHEET)?;
    sheet.set_column_width(0, 20)?;
    sheet.set_column_range_width(1, RECORDED, 16)?;
    sheet.set_row_height(0, HEAD_HEIGHT)?;
    looks.heads(
        sheet,
        0,
        &heads(["place (numbers are a year)", "seals in service"], &AFTER),
    )?;
    let mut row = 1;
    for place in &document.places {
        looks.text(sheet, row, 0, &place.place)?;
        sheet.write_number_with_format(row, 1, place.positions, &looks.count)?;
        for (world, year) in WORLDS.into_iter().zip([&place.today, &place.plan]) {
            world_of(sheet, row, world, year, looks)?;
        }
        let saving = format!("={}{n}-{}{n}", TODAY.0, PLAN.0, n = row + 1);
        live(sheet, row, SAVING.1, &saving, place.saving, &looks.money)?;
        for (column, end) in (SAVING.1 + 1..).zip([place.saving_lower, place.saving_upper]) {
            looks.money_or_unknown(sheet, row, column, end)?;
        }
        if let Some(recorded) = &place.recorded {
            sheet.write_number_with_format(row, RECORDED, recorded.per_year, &looks.count)?;
        }
        row += 1;
    }
    looks.text(sheet, row, 0, "all")?;
    let sums: [(_, f64); 3] = [
        (TODAY, document.places.iter().map(|p| p.today.cost).sum()),
        (PLAN, document.places.iter().map(|p| p.plan.cost).sum()),
        (SAVING, document.places.iter().map(|p| p.saving).sum()),
    ];
    for ((letter, column), value) in sums {
        let formula = format!("=SUM({letter}2:{letter}{row})");
        live(sheet, row, column, &formula, value, &looks.sum)?;
    }
    sheet.set_freeze_panes(1, 1)?;
    sheet.set_repeat_columns(0, 0)?.set_repeat_rows(0, 0)?;
    sheet.set_vertical_page_breaks(&[10, 18])?;
    Ok(())
}
