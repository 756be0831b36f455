//! The sheet of months: failures, planned changes, looks and turns as numbers, their money as formulas.

use super::cells::{HEAD_HEIGHT, Looks, live};
use super::inputs::{DISCOUNT, FAILURE, LOOK, OPENING, PLANNED, TURN};
use crate::wire::money::{MoneyDocument, MoneyMonth, Year};
use rust_xlsxwriter::{Chart, ChartType, Worksheet, XlsxError};

/// Name of the sheet.
pub const SHEET: &str = "Budget";
/// Size of a chart, pixels.
const CHART_WIDTH: u32 = 760;
const CHART_HEIGHT: u32 = 380;
/// First row of months, from 0.
const FIRST: u32 = 1;

const HEADS: [&str; 19] = [
    "month",
    "failures, today's practice",
    "planned changes, today's practice",
    "openings for looks and turns, today's practice",
    "looks, today's practice",
    "turns, today's practice",
    "money, today's practice",
    "failures, plan",
    "planned changes, plan",
    "openings for looks and turns, plan",
    "looks, plan",
    "turns, plan",
    "money, plan",
    "saving",
    "discount factor",
    "saving at its worth now",
    "sum so far",
    "plan's money, low end of the interval (not live)",
    "plan's money, high end (not live)",
];

/// Column of the money of today's practice; its counts stand before it. The plan's follow, then what is saved.
pub const TODAY: char = 'G';
/// Column of the plan's money.
pub const PLAN: char = 'M';
/// Column of the saving.
pub const SAVING: char = 'N';
/// Column of the sum so far.
pub const SO_FAR: char = 'Q';

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
    sheet.set_column_range_width(0, 18, 18)?;
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
    for (column, name) in [(TODAY, "today's practice"), (PLAN, "plan")] {
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
        .set_values(format!("={SHEET}!${SO_FAR}$2:${SO_FAR}${last}").as_str());
    line.x_axis().set_name("month");
    line.y_axis().set_name(document.currency.as_str());
    line.set_width(CHART_WIDTH).set_height(CHART_HEIGHT);
    line.legend().set_hidden();
    sheet.insert_chart(last + 3, 6, &line)?;
    Ok(())
}

fn counts(year: &Year) -> [f64; 5] {
    [
        year.failures,
        year.planned,
        year.openings,
        year.looks,
        year.turns,
    ]
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
    for (first, letters, year) in [
        (1, ['B', 'C', 'D', 'E', 'F'], &month.today),
        (7, ['H', 'I', 'J', 'K', 'L'], &month.plan),
    ] {
        for (column, value) in (first..).zip(counts(year)) {
            sheet.write_number_with_format(row, column, value, &looks.count)?;
        }
        let prices = [FAILURE, PLANNED, OPENING, LOOK, TURN];
        let each = letters.iter().zip(prices);
        let terms: Vec<String> = each.map(|(c, price)| format!("{c}{n}*{price}")).collect();
        let formula = format!("={}", terms.join("+"));
        live(sheet, row, first + 5, &formula, year.cost, &looks.money)?;
    }
    live(
        sheet,
        row,
        13,
        &format!("={TODAY}{n}-{PLAN}{n}"),
        month.saving,
        &looks.money,
    )?;
    let years = (month.month as f64 - 0.5) / 12.0;
    let factor = (-document.discount_rate * years).exp();
    live(
        sheet,
        row,
        14,
        &format!("=EXP(-{DISCOUNT}*(A{n}-0.5)/12)"),
        factor,
        &looks.precise,
    )?;
    live(
        sheet,
        row,
        15,
        &format!("=N{n}*O{n}"),
        month.discounted,
        &looks.money,
    )?;
    live(
        sheet,
        row,
        16,
        &format!("=SUM(P$2:P{n})"),
        month.cumulative,
        &looks.money,
    )?;
    for (column, end) in [(17, month.plan_lower), (18, month.plan_upper)] {
        match end {
            Some(money) => sheet.write_number_with_format(row, column, money, &looks.money)?,
            None => sheet.write_string(row, column, "not known")?,
        };
    }
    Ok(())
}

fn sums(sheet: &mut Worksheet, document: &MoneyDocument, looks: &Looks) -> Result<(), XlsxError> {
    let row = last_row(document);
    looks.text(sheet, row, 0, "all")?;
    let sum = |f: &dyn Fn(&MoneyMonth) -> f64| document.by_month.iter().map(f).sum::<f64>();
    let mut columns = vec![
        (6, TODAY, sum(&|m| m.today.cost), &looks.sum),
        (12, PLAN, sum(&|m| m.plan.cost), &looks.sum),
        (13, SAVING, sum(&|m| m.saving), &looks.sum),
        (15, 'P', sum(&|m| m.discounted), &looks.sum),
    ];
    for (i, (a, b)) in ('B'..='F').zip('H'..='L').enumerate() {
        let of = |year: fn(&MoneyMonth) -> &Year| {
            sum(&|m| counts(year(m)).get(i).copied().unwrap_or(0.0))
        };
        columns.push((i as u16 + 1, a, of(|m| &m.today), &looks.count));
        columns.push((i as u16 + 7, b, of(|m| &m.plan), &looks.count));
    }
    for (column, letter, value, format) in columns {
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
