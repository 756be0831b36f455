//! The sheet of months: failures and planned changes as numbers, their money as formulas.

use super::cells::{HEAD_HEIGHT, Looks, live};
use super::inputs::{DISCOUNT, FAILURE, PLANNED};
use crate::wire::money::{MoneyDocument, MoneyMonth};
use rust_xlsxwriter::{Chart, ChartType, Worksheet, XlsxError};

/// Name of the sheet.
pub const SHEET: &str = "Budget";
/// Size of a chart, pixels.
const CHART_WIDTH: u32 = 760;
const CHART_HEIGHT: u32 = 380;
/// First row of months, from 0.
const FIRST: u32 = 1;

const HEADS: [&str; 13] = [
    "month",
    "failures, today's practice",
    "planned changes, today's practice",
    "money, today's practice",
    "failures, plan",
    "planned changes, plan",
    "money, plan",
    "saving",
    "discount factor",
    "saving at its worth now",
    "sum so far",
    "plan's money, low end of the interval (not live)",
    "plan's money, high end (not live)",
];

/// Last row of months, as the sheet numbers it.
pub fn last_row(document: &MoneyDocument) -> u32 {
    FIRST + document.by_month.len() as u32
}

pub fn write(
    sheet: &mut Worksheet,
    document: &MoneyDocument,
    looks: &Looks,
) -> Result<(), XlsxError> {
    sheet.set_name(SHEET)?;
    sheet.set_column_range_width(0, 12, 18)?;
    sheet.set_row_height(0, HEAD_HEIGHT)?;
    looks.heads(sheet, 0, &HEADS)?;
    for (row, month) in (FIRST..).zip(&document.by_month) {
        one(sheet, row, month, document, looks)?;
    }
    sums(sheet, document, looks)?;
    sheet.set_freeze_panes(1, 1)?;
    let last = last_row(document);
    let mut bars = Chart::new(ChartType::Column);
    bars.title().set_name("Money by month");
    for (column, name) in [('D', "today's practice"), ('G', "plan")] {
        bars.add_series()
            .set_name(name)
            .set_categories(format!("={SHEET}!$A$2:$A${last}").as_str())
            .set_values(format!("={SHEET}!${column}$2:${column}${last}").as_str());
    }
    bars.x_axis().set_name("month");
    bars.y_axis().set_name(document.currency.as_str());
    bars.set_width(CHART_WIDTH).set_height(CHART_HEIGHT);
    sheet.insert_chart(last + 3, 0, &bars)?;
    let mut line = Chart::new(ChartType::Line);
    line.title().set_name("Savings so far, at their worth now");
    line.add_series()
        .set_name("sum so far")
        .set_categories(format!("={SHEET}!$A$2:$A${last}").as_str())
        .set_values(format!("={SHEET}!$K$2:$K${last}").as_str());
    line.x_axis().set_name("month");
    line.y_axis().set_name(document.currency.as_str());
    line.set_width(CHART_WIDTH).set_height(CHART_HEIGHT);
    line.legend().set_hidden();
    sheet.insert_chart(last + 3, 6, &line)?;
    Ok(())
}

fn one(
    sheet: &mut Worksheet,
    row: u32,
    month: &MoneyMonth,
    document: &MoneyDocument,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let n = row + 1;
    sheet.write_number_with_format(row, 0, month.month as f64, &looks.whole)?;
    for (column, value) in [
        (1, month.today.failures),
        (2, month.today.planned),
        (4, month.plan.failures),
        (5, month.plan.planned),
    ] {
        sheet.write_number_with_format(row, column, value, &looks.count)?;
    }
    let cost = |a: char, b: char| format!("={a}{n}*{FAILURE}+{b}{n}*{PLANNED}");
    live(
        sheet,
        row,
        3,
        &cost('B', 'C'),
        month.today.cost,
        &looks.money,
    )?;
    live(
        sheet,
        row,
        6,
        &cost('E', 'F'),
        month.plan.cost,
        &looks.money,
    )?;
    live(
        sheet,
        row,
        7,
        &format!("=D{n}-G{n}"),
        month.saving,
        &looks.money,
    )?;
    let years = (month.month as f64 - 0.5) / 12.0;
    let factor = (-document.discount_rate * years).exp();
    live(
        sheet,
        row,
        8,
        &format!("=EXP(-{DISCOUNT}*(A{n}-0.5)/12)"),
        factor,
        &looks.precise,
    )?;
    live(
        sheet,
        row,
        9,
        &format!("=H{n}*I{n}"),
        month.discounted,
        &looks.money,
    )?;
    live(
        sheet,
        row,
        10,
        &format!("=SUM(J$2:J{n})"),
        month.cumulative,
        &looks.money,
    )?;
    for (column, end) in [(11, month.plan_lower), (12, month.plan_upper)] {
        match end {
            Some(money) => sheet.write_number_with_format(row, column, money, &looks.money)?,
            None => sheet.write_string(row, column, "not known")?,
        };
    }
    Ok(())
}

fn sums(sheet: &mut Worksheet, document: &MoneyDocument, looks: &Looks) -> Result<(), XlsxError> {
    let row = last_row(document);
    let sum = |f: fn(&MoneyMonth) -> f64| document.by_month.iter().map(f).sum::<f64>();
    looks.text(sheet, row, 0, "all")?;
    for (column, letter, value, format) in [
        (1, 'B', sum(|m| m.today.failures), &looks.count),
        (2, 'C', sum(|m| m.today.planned), &looks.count),
        (3, 'D', sum(|m| m.today.cost), &looks.sum),
        (4, 'E', sum(|m| m.plan.failures), &looks.count),
        (5, 'F', sum(|m| m.plan.planned), &looks.count),
        (6, 'G', sum(|m| m.plan.cost), &looks.sum),
        (7, 'H', sum(|m| m.saving), &looks.sum),
        (9, 'J', sum(|m| m.discounted), &looks.sum),
    ] {
        live(
            sheet,
            row,
            column,
            &format!("=SUM({letter}2:{letter}{row})"),
            value,
            format,
        )?;
    }
    Ok(())
}
