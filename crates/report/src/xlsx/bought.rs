//! The sheet of what each extra spare and each extra look buys: worked out from records, so numbers only.

use super::cells::{HEAD_HEIGHT, Looks};
use crate::wire::money::MoneyDocument;
use rust_xlsxwriter::{Worksheet, XlsxError};

/// Name of the sheet.
pub const SHEET: &str = "Bought";

const SPARES: [&str; 7] = [
    "spares held, all places (not live)",
    "the last one at",
    "its part",
    "money tied up",
    "hours down a year for want of one",
    "the last takes off, hours a year",
    "cost of stock a year",
];

const LOOKS: [&str; 12] = [
    "part (not live)",
    "looks, times as often as today",
    "mean days between looks",
    "looks a year",
    "failures a year",
    "hours down a year",
    "cost a year",
    "low end of its interval",
    "high end",
    "dearer than today's looks, a year",
    "low end of its interval",
    "high end",
];

/// Columns of the money tied up and of the hours down, and the last row of the steps, as the sheet numbers it; `None`
/// where there are too few steps to draw.
pub fn steps(document: &MoneyDocument) -> Option<(char, char, usize)> {
    let rows = document.extra_spares.len();
    (rows > 2).then_some(('D', 'E', rows + 1))
}

pub fn write(
    sheet: &mut Worksheet,
    document: &MoneyDocument,
    looks: &Looks,
) -> Result<(), XlsxError> {
    sheet.set_name(SHEET)?;
    sheet.set_column_range_width(0, 11, 18)?;
    sheet.set_row_height(0, HEAD_HEIGHT)?;
    looks.heads(sheet, 0, &SPARES)?;
    let mut row = 1;
    for step in &document.extra_spares {
        sheet.write_number_with_format(row, 0, step.seals as f64, &looks.whole)?;
        looks.text(sheet, row, 1, step.place.as_deref().unwrap_or("none"))?;
        looks.text(sheet, row, 2, step.part.as_deref().unwrap_or("none"))?;
        sheet.write_number_with_format(row, 3, step.investment, &looks.money)?;
        let hours = step.downtime_hours_per_year;
        sheet.write_number_with_format(row, 4, hours, &looks.precise)?;
        sheet.write_number_with_format(row, 5, step.saves_hours_per_year, &looks.precise)?;
        sheet.write_number_with_format(row, 6, step.cost_per_year, &looks.money)?;
        row += 1;
    }
    row += 1;
    sheet.set_row_height(row, HEAD_HEIGHT)?;
    looks.heads(sheet, row, &LOOKS)?;
    row += 1;
    for part in &document.looks {
        if let Some(why) = &part.reason {
            looks.text(sheet, row, 0, &part.part)?;
            looks.text(sheet, row, 1, why)?;
            row += 1;
        }
        for one in &part.rows {
            looks.text(sheet, row, 0, &part.part)?;
            sheet.write_number_with_format(row, 1, one.times_today, &looks.count)?;
            match one.every {
                Some(days) => sheet.write_number_with_format(row, 2, days, &looks.count)?,
                None => sheet.write_string(row, 2, "no looks")?,
            };
            for (column, value) in [
                (3, one.looks_per_year),
                (4, one.failures_per_year),
                (5, one.hours_down_per_year),
            ] {
                sheet.write_number_with_format(row, column, value, &looks.count)?;
            }
            for (column, value) in [
                (6, one.cost_per_year),
                (7, one.cost_lower),
                (8, one.cost_upper),
                (9, one.dearer_per_year),
                (10, one.dearer_lower),
                (11, one.dearer_upper),
            ] {
                sheet.write_number_with_format(row, column, value, &looks.money)?;
            }
            row += 1;
        }
    }
    Ok(())
}
