//! The sheet of months: failures, planned changes, looks and turns as numbers, their money as formulas.

use super::cells::{HEAD_HEIGHT, Looks, live};
use super::inputs::{DISCOUNT, FAILURE, LOOK, OPENING, PLANNED, PRICE, TURN};
use crate::wire::money::{MoneyDocument, MoneyMonth, Year};
use rust_xlsxwriter::{Chart, ChartType, Worksheet, XlsxError};

/// Name of the sheet.
pub const SHEET: &str = "Budget";
/// Size of a chart, pixels.
const CHART_WIDTH: u32 = 760;
const CHART_HEIGHT: u32 = 380;
/// First row of months, from 0.
const FIRST: u32 = 1;

const HEADS: [&str; 23] = [
    "month",
    "failures, today's practice",
    "planned changes, today's practice",
    "openings for looks and turns, today's practice",
    "looks, today's practice",
    "turns, today's practice",
    "seals with a price of their own, today's practice",
    "what those seals cost, today's practice",
    "money, today's practice",
    "failures, plan",
    "planned changes, plan",
    "openings for looks and turns, plan",
    "looks, plan",
    "turns, plan",
    "seals with a price of their own, plan",
    "what those seals cost, plan",
    "money, plan",
    "saving",
    "discount factor",
    "saving at its worth now",
    "sum so far",
    "plan's money, low end of the interval (not live)",
    "plan's money, high end (not live)",
];

/// Columns of what today's practice comes to, and of the plan, by letter and by number from 0: five counts, the seals with
/// a price of their own and what they cost; their money follows.
const WORLDS: [(u16, [char; 7]); 2] = [
    (1, ['B', 'C', 'D', 'E', 'F', 'G', 'H']),
    (9, ['J', 'K', 'L', 'M', 'N', 'O', 'P']),
];
/// Column of the money of today's practice.
pub const TODAY: char = 'I';
/// Column of the plan's money.
pub const PLAN: char = 'Q';
/// Column of the saving.
pub const SAVING: char = 'R';
/// Column of the sum so far.
pub const SO_FAR: char = 'U';

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
    sheet.set_column_range_width(0, 22, 18)?;
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

fn counts(year: &Year) -> [f64; 6] {
    [
        year.failures,
        year.planned,
        year.openings,
        year.looks,
        year.turns,
        year.own_price_seals,
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
    for ((first, letters), year) in WORLDS.into_iter().zip([&month.today, &month.plan]) {
        for (column, value) in (first..).zip(counts(year)) {
            sheet.write_number_with_format(row, column, value, &looks.count)?;
        }
        let own = year.own_price_money;
        sheet.write_number_with_format(row, first + 6, own, &looks.money)?;
        let prices = [FAILURE, PLANNED, OPENING, LOOK, TURN];
        let each = letters.iter().zip(prices);
        let terms: Vec<String> = each.map(|(c, price)| format!("{c}{n}*{price}")).collect();
        let [.., seals, cost] = letters;
        // Seals with a price of their own do not cost the usual one.
        let formula = format!("={}+{cost}{n}-{seals}{n}*{PRICE}", terms.join("+"));
        live(sheet, row, first + 7, &formula, year.cost, &looks.money)?;
    }
    live(
        sheet,
        row,
        17,
        &format!("={TODAY}{n}-{PLAN}{n}"),
        month.saving,
        &looks.money,
    )?;
    let years = (month.month as f64 - 0.5) / 12.0;
    let factor = (-document.discount_rate * years).exp();
    live(
        sheet,
        row,
        18,
        &format!("=EXP(-{DISCOUNT}*(A{n}-0.5)/12)"),
        factor,
        &looks.precise,
    )?;
    live(
        sheet,
        row,
        19,
        &format!("=R{n}*S{n}"),
        month.discounted,
        &looks.money,
    )?;
    live(
        sheet,
        row,
        20,
        &format!("=SUM(T$2:T{n})"),
        month.cumulative,
        &looks.money,
    )?;
    for (column, end) in [(21, month.plan_lower), (22, month.plan_upper)] {
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
        (8, TODAY, sum(&|m| m.today.cost), &looks.sum),
        (16, PLAN, sum(&|m| m.plan.cost), &looks.sum),
        (17, SAVING, sum(&|m| m.saving), &looks.sum),
        (19, 'T', sum(&|m| m.discounted), &looks.sum),
    ];
    let years: [fn(&MoneyMonth) -> &Year; 2] = [|m| &m.today, |m| &m.plan];
    for ((first, letters), year) in WORLDS.into_iter().zip(years) {
        for ((i, column), letter) in (first..).enumerate().zip(letters).take(6) {
            let of = |m: &MoneyMonth| counts(year(m)).get(i).copied().unwrap_or(0.0);
            columns.push((column, letter, sum(&of), &looks.count));
        }
        let [.., own] = letters;
        columns.push((
            first + 6,
            own,
            sum(&|m| year(m).own_price_money),
            &looks.sum,
        ));
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
