//! The first sheet: what the plan saves and with what risk, live where prices decide.

use super::budget::{PLAN, SAVING, SHEET as BUDGET, SO_FAR, WORLDS, last_row};
use super::cells::{Looks, live};
use super::inputs::{FAILURE_HOURS, HOUR, OPENING, PLANNED_HOURS};
use crate::analysis::money_split::Split;
use crate::wire::money::{MoneyDocument, Year};
use rust_xlsxwriter::{Worksheet, XlsxError};
use sealspan_records::Study;

/// Characters of a note that fit a line across the columns, and the height of a line in points.
const LINE: usize = 150;
const LINE_HEIGHT: f64 = 15.0;
/// Said of what no formula follows.
const NOT_LIVE: &str = "as computed at the stated inputs, not live";

/// What the workbook is of: it is handed on by itself.
fn origin(document: &MoneyDocument, study: &Study) -> String {
    let title = study.title.clone();
    let invented = study.invented.then(|| "all data are invented".to_owned());
    let first = document.by_month.first();
    let from = first.and_then(|m| m.begins.as_ref());
    let from = from.map(|day| format!("records up to {day}, where month 1 begins"));
    let made = format!("made by sealspan {}", env!("CARGO_PKG_VERSION"));
    let parts: Vec<String> = [title, invented, from, Some(made)]
        .into_iter()
        .flatten()
        .collect();
    parts.join("; ")
}

pub fn write(
    sheet: &mut Worksheet,
    document: &MoneyDocument,
    (study, looks): (&Study, &Looks),
) -> Result<(), XlsxError> {
    sheet.set_name("Summary")?;
    sheet
        .set_column_width(0, 58)?
        .set_column_width(1, 18)?
        .set_column_width(2, 18)?
        .set_column_width(3, 70)?;
    sheet.write_string_with_format(
        0,
        0,
        "What the plan saves against today's practice",
        &looks.title,
    )?;
    looks.text(sheet, 1, 0, &origin(document, study))?;
    looks.heads(sheet, 2, &["", "value", "", "how"])?;
    let row = figures(sheet, document, looks)?;
    let row = table(sheet, document, looks, row + 1)?;
    let lines = document
        .notes
        .iter()
        .chain(&document.cautions)
        .chain(&document.left_out);
    for (row, line) in (row + 1..).zip(lines) {
        sheet.merge_range(row, 0, row, 3, line, &looks.note)?;
        let high = line.chars().count().div_ceil(LINE) as f64;
        sheet.set_row_height(row, LINE_HEIGHT * high)?;
    }
    Ok(())
}

fn figures(
    sheet: &mut Worksheet,
    document: &MoneyDocument,
    looks: &Looks,
) -> Result<u32, XlsxError> {
    let last = last_row(document);
    let ((plan, _), (saving, _), (so_far, _)) = (PLAN, SAVING, SO_FAR);
    let months = document.by_month.len();
    let year = months.min(12);
    let end = year as u32 + 1;
    let next: Year = document.by_month.iter().take(12).map(|m| m.plan).sum();
    let [_, (_, [failed, planned, opened, ..])] = WORLDS;
    let saved: f64 = document.by_month.iter().take(12).map(|m| m.saving).sum();
    let red = document
        .by_month
        .iter()
        .rposition(|m| m.cumulative < 0.0)
        .map_or(0, |i| i + 1);
    let rows = [
        (
            format!("present value of the saving over {months} months"),
            format!("={BUDGET}!{so_far}{last}"),
            document.present_value,
            &looks.money,
        ),
        (
            format!("saving in the first {year} months"),
            format!("=SUM({BUDGET}!{saving}2:{saving}{end})"),
            saved,
            &looks.money,
        ),
        (
            format!("cost of the plan in the first {year} months, hours down at their price"),
            format!("=SUM({BUDGET}!{plan}2:{plan}{end})"),
            next.cost,
            &looks.money,
        ),
        (
            "of it to be spent, the rest being hours down".to_owned(),
            format!(
                "=SUM({BUDGET}!{plan}2:{plan}{end})-{HOUR}*(SUM({BUDGET}!{failed}2:{failed}{end})*{FAILURE_HOURS}+SUM({BUDGET}!{planned}2:{planned}{end})*{PLANNED_HOURS})-SUM({BUDGET}!{opened}2:{opened}{end})*{OPENING}"
            ),
            Split::of(document, &next).spent,
            &looks.money,
        ),
        (
            "last month in which the sum so far is below zero (0: none)".to_owned(),
            format!("=SUMPRODUCT(MAX(({BUDGET}!{so_far}2:{so_far}{last}<0)*{BUDGET}!A2:A{last}))"),
            red as f64,
            &looks.whole,
        ),
    ];
    let mut row = 3;
    for (name, formula, value, format) in rows {
        looks.text(sheet, row, 0, &name)?;
        live(sheet, row, 1, &formula, value, format)?;
        looks.text(sheet, row, 3, "live: follows the inputs")?;
        row += 1;
    }
    let level = crate::number::level(document.confidence);
    let fixed = [
        (
            format!("present value, low end of the {level} interval"),
            document.present_value_lower,
            &looks.money,
        ),
        (
            format!("present value, high end of the {level} interval"),
            document.present_value_upper,
            &looks.money,
        ),
    ];
    for (name, value, format) in fixed {
        looks.text(sheet, row, 0, &name)?;
        match value {
            Some(value) => sheet.write_number_with_format(row, 1, value, format)?,
            None => sheet.write_string(row, 1, "not known")?,
        };
        looks.text(sheet, row, 3, NOT_LIVE)?;
        row += 1;
    }
    looks.text(
        sheet,
        row,
        0,
        "chance that the plan costs more than today's practice",
    )?;
    // In words: a draw or two of a hundred tell no small chance by its digits.
    let loss = document.chance_of_loss;
    let loss = loss.map_or_else(
        || "not known".to_owned(),
        |loss| crate::number::chance(loss, document.draws),
    );
    looks.text(sheet, row, 1, &loss)?;
    looks.text(sheet, row, 3, NOT_LIVE)?;
    Ok(row + 1)
}

fn table(
    sheet: &mut Worksheet,
    document: &MoneyDocument,
    looks: &Looks,
    at: u32,
) -> Result<u32, XlsxError> {
    let mut row = at;
    looks.heads(
        sheet,
        row,
        &[
            "input moved by itself (present value of the saving, not live)",
            "at its low value",
            "at its high value",
            "from and to, as a share of the stated value",
        ],
    )?;
    row += 1;
    for swing in &document.swings {
        looks.text(sheet, row, 0, swing.input)?;
        sheet.write_number_with_format(row, 1, swing.at_low, &looks.money)?;
        sheet.write_number_with_format(row, 2, swing.at_high, &looks.money)?;
        let percent = crate::number::percent;
        let range = format!("{} to {}", percent(swing.low), percent(swing.high));
        looks.text(sheet, row, 3, &range)?;
        row += 1;
    }
    row += 1;
    looks.heads(
        sheet,
        row,
        &["future (not live)", "present value", "", "assumes"],
    )?;
    row += 1;
    for scenario in &document.scenarios {
        looks.text(sheet, row, 0, scenario.name)?;
        sheet.write_number_with_format(row, 1, scenario.present_value, &looks.money)?;
        looks.text(sheet, row, 3, scenario.assumes)?;
        row += 1;
    }
    row += 1;
    looks.heads(
        sheet,
        row,
        &["part", "positions", "price of a seal", "the plan"],
    )?;
    row += 1;
    for part in &document.parts {
        looks.text(sheet, row, 0, &part.part)?;
        sheet.write_number_with_format(row, 1, part.positions, &looks.whole)?;
        if let Some(price) = part.seal_price {
            sheet.write_number_with_format(row, 2, price, &looks.money)?;
        }
        looks.text(sheet, row, 3, &part.plan_words)?;
        row += 1;
    }
    Ok(row)
}
