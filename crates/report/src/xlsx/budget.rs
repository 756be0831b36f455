//! The sheet of months: failures, planned changes, looks and turns as numbers, their money as formulas.

use super::cells::{HEAD_HEIGHT, Looks, live};
use super::inputs::{DISCOUNT, FAILURE, LOOK, OPENING, PLANNED, PRICE, TURN};
use crate::wire::money::{MoneyDocument, MoneyMonth, Year};
use rust_xlsxwriter::{ExcelDateTime, Format, Worksheet, XlsxError};

/// Name of the sheet.
pub const SHEET: &str = "Budget";
/// First row of months, from 0.
const FIRST: u32 = 1;

/// Heads of the two worlds.
const NAMES: [&str; 2] = ["today's practice", "plan"];
/// What stands of a world, in the order of its columns.
const WORLD: [&str; 8] = [
    "failures",
    "planned changes",
    "openings for looks and turns",
    "looks",
    "turns",
    "seals with a price of their own",
    "what those seals cost",
    "money",
];
/// What follows them.
const AFTER: [&str; 6] = [
    "saving",
    "discount factor",
    "saving at its worth now",
    "sum so far",
    "plan's money, low end of the interval (not live)",
    "plan's money, high end (not live)",
];

/// Two heads, those of both worlds, and what follows.
pub fn heads(first: [&str; 2], after: &[&str]) -> Vec<String> {
    let worlds = NAMES.map(|name| WORLD.map(|what| format!("{what}, {name}")));
    let whole = first.into_iter().map(str::to_owned);
    whole
        .chain(worlds.into_iter().flatten())
        .chain(after.iter().map(|head| (*head).to_owned()))
        .collect()
}

/// Columns of what today's practice comes to, and of the plan, by letter and by number from 0: five counts, the seals with
/// a price of their own and what they cost; their money follows.
pub const WORLDS: [(u16, [char; 7]); 2] = [
    (2, ['C', 'D', 'E', 'F', 'G', 'H', 'I']),
    (10, ['K', 'L', 'M', 'N', 'O', 'P', 'Q']),
];
/// Column of the money of today's practice, by letter and by number from 0, as all that follow.
pub const TODAY: (char, u16) = ('J', 9);
/// Column of the plan's money.
pub const PLAN: (char, u16) = ('R', 17);
/// Column of the saving.
pub const SAVING: (char, u16) = ('S', 18);
const FACTOR: (char, u16) = ('T', 19);
const DISCOUNTED: (char, u16) = ('U', 20);
/// Column of the sum so far.
pub const SO_FAR: (char, u16) = ('V', 21);
/// Ends of the plan's interval.
const ENDS: [u16; 2] = [22, 23];

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
    sheet.set_column_width(0, 8)?;
    sheet.set_column_range_width(1, 23, 16)?;
    sheet.set_row_height(0, HEAD_HEIGHT)?;
    looks.heads(sheet, 0, &heads(["month", "begins"], &AFTER))?;
    for (row, month) in (FIRST..).zip(&document.by_month) {
        one(sheet, row, month, document, looks)?;
    }
    sums(sheet, document, looks)?;
    sheet.set_freeze_panes(1, 2)?;
    // Printed: today's practice, the plan, what is saved, a page each, with the month and its head on all of them.
    sheet.set_repeat_columns(0, 1)?.set_repeat_rows(0, 0)?;
    sheet.set_vertical_page_breaks(&[10, 18])?;
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

/// Events of a world, and their money as a formula behind them.
pub fn world_of(
    sheet: &mut Worksheet,
    row: u32,
    (first, letters): (u16, [char; 7]),
    year: &Year,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let n = row + 1;
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
    live(sheet, row, first + 7, &formula, year.cost, &looks.money)
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
    let day = month.begins.as_deref();
    match day.and_then(|day| ExcelDateTime::parse_from_str(day).ok()) {
        Some(day) => sheet.write_datetime_with_format(row, 1, &day, &looks.day)?,
        None => sheet.write_string(row, 1, "not known")?,
    };
    for (world, year) in WORLDS.into_iter().zip([&month.today, &month.plan]) {
        world_of(sheet, row, world, year, looks)?;
    }
    let ((today, _), (plan, _), (saving, _)) = (TODAY, PLAN, SAVING);
    let ((factor, _), (discounted, _)) = (FACTOR, DISCOUNTED);
    let years = (month.month as f64 - 0.5) / 12.0;
    let worth = (-document.discount_rate * years).exp();
    for ((_, column), formula, value, format) in [
        (
            SAVING,
            format!("={today}{n}-{plan}{n}"),
            month.saving,
            &looks.money,
        ),
        (
            FACTOR,
            format!("=EXP(-{DISCOUNT}*(A{n}-0.5)/12)"),
            worth,
            &looks.precise,
        ),
        (
            DISCOUNTED,
            format!("={saving}{n}*{factor}{n}"),
            month.discounted,
            &looks.money,
        ),
        (
            SO_FAR,
            format!("=SUM({discounted}$2:{discounted}{n})"),
            month.cumulative,
            &looks.money,
        ),
    ] {
        live(sheet, row, column, &formula, value, format)?;
    }
    for (column, end) in ENDS.into_iter().zip([month.plan_lower, month.plan_upper]) {
        looks.money_or_unknown(sheet, row, column, end)?;
    }
    Ok(())
}

fn sums(sheet: &mut Worksheet, document: &MoneyDocument, looks: &Looks) -> Result<(), XlsxError> {
    let row = last_row(document);
    looks.text(sheet, row, 0, "all")?;
    let sum = |f: &dyn Fn(&MoneyMonth) -> f64| document.by_month.iter().map(f).sum::<f64>();
    let mut columns: Vec<(u16, char, f64, &Format)> = vec![];
    for ((letter, column), value) in [
        (TODAY, sum(&|m| m.today.cost)),
        (PLAN, sum(&|m| m.plan.cost)),
        (SAVING, sum(&|m| m.saving)),
        (DISCOUNTED, sum(&|m| m.discounted)),
    ] {
        columns.push((column, letter, value, &looks.sum));
    }
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
