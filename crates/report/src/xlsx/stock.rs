//! The sheet of stocks: demand as numbers, what a reorder point and quantity give as formulas.

use super::cells::{HEAD_HEIGHT, Looks, live};
use super::inputs::{HOUR, Inputs, LEAD, PRICE, URGENT};
use crate::wire::money::{MoneyDocument, StockLine};
use rust_xlsxwriter::{Chart, ChartType, Worksheet, XlsxError};
use sealspan_care::pipeline::Pipeline;

/// Name of the sheet.
pub const SHEET: &str = "Stock";

const HEADS: [&str; 11] = [
    "place",
    "part",
    "failures a day",
    "order when down to",
    "seals per order",
    "on order on average",
    "met at once",
    "shortages: mean waiting, or urgent orders a year",
    "shortage money a year",
    "money tied up at most",
    "stock cost a year: holding, orders, shortages (not live)",
];

/// Larger orders are not spelt out term by term.
const SPELT: usize = 40;

pub fn write(
    sheet: &mut Worksheet,
    document: &MoneyDocument,
    inputs: &Inputs,
    looks: &Looks,
) -> Result<(), XlsxError> {
    sheet.set_name(SHEET)?;
    sheet.set_column_range_width(0, 10, 18)?;
    sheet.set_row_height(0, HEAD_HEIGHT)?;
    looks.heads(sheet, 0, &HEADS)?;
    if let Some(why) = &document.stock_reason {
        looks.text(sheet, 1, 0, why)?;
    }
    for (row, line) in (1..).zip(&document.stock) {
        one(sheet, row, line, inputs, looks)?;
    }
    sheet.set_freeze_panes(1, 2)?;
    sums(sheet, document, looks)?;
    if !document.stock.is_empty() {
        let last = document.stock.len() + 1;
        let mut bars = Chart::new(ChartType::Bar);
        bars.title()
            .set_name("Money tied up at most, by place and part");
        bars.add_series()
            .set_categories(format!("={SHEET}!$A$2:$B${last}").as_str())
            .set_values(format!("={SHEET}!$J$2:$J${last}").as_str());
        bars.legend().set_hidden();
        // One line of text a bar.
        bars.set_width(760).set_height(120 + 24 * last as u32);
        sheet.insert_chart(last as u32 + 3, 0, &bars)?;
    }
    Ok(())
}

/// Money of all places together.
fn sums(sheet: &mut Worksheet, document: &MoneyDocument, looks: &Looks) -> Result<(), XlsxError> {
    let last = document.stock.len() as u32;
    if last == 0 {
        return Ok(());
    }
    let row = last + 1;
    looks.text(sheet, row, 0, "all")?;
    let end = last + 1;
    let cost: f64 = document.stock.iter().map(|s| s.cost_per_year).sum();
    let tied: f64 = document.stock.iter().map(tied_up).sum();
    live(sheet, row, 9, &format!("=SUM(J2:J{end})"), tied, &looks.sum)?;
    // Not a formula: what it sums does not follow the inputs.
    sheet.write_number_with_format(row, 10, cost, &looks.sum)?;
    Ok(())
}

fn tied_up(line: &StockLine) -> f64 {
    (line.reorder_point + line.order_quantity as i64) as f64 * line.unit_price
}

/// What a reorder point and quantity give, by formula and by value: share met at once, shortages, their money.
struct Measures {
    met: (String, f64),
    shortages: (String, f64),
    money: (String, f64),
}

/// Expected excess of a Poisson number over the stock in `s`, spelt for the sheet: mean − s + s P(X ≤ s) −
/// mean P(X ≤ s − 1).
fn excess(s: &str, n: u32) -> String {
    format!(
        "(F{n}-({s})+({s})*POISSON({s},F{n},TRUE)-IF(({s})<1,0,F{n}*POISSON(({s})-1,F{n},TRUE)))"
    )
}

fn measures(line: &StockLine, x: &Pipeline, inputs: &Inputs, n: u32) -> Measures {
    let (low, q) = (
        (line.reorder_point + 1).max(0) as usize,
        line.order_quantity,
    );
    if inputs.urgent {
        // One at a time: Erlang's loss formula; several: demands beyond the reorder point while an order is out.
        let (met, value) = if q == 1 {
            let stock = x.counts().probability(low) / x.at_most(low);
            (
                format!("=1-POISSON(D{n}+1,F{n},FALSE)/POISSON(D{n}+1,F{n},TRUE)"),
                1.0 - stock,
            )
        } else {
            let missed = x.backorders(low.saturating_sub(1));
            let short = excess(&format!("D{n}"), n);
            (
                format!("=E{n}/(E{n}+{short})"),
                q as f64 / (q as f64 + missed),
            )
        };
        let orders = line.demand_rate * 365.25 * (1.0 - value);
        return Measures {
            met: (met, value),
            shortages: (format!("=C{n}*365.25*(1-G{n})"), orders),
            money: (format!("=H{n}*{URGENT}"), orders * inputs.urgent_cost()),
        };
    }
    let window = 1..=q;
    let spell = |f: &dyn Fn(usize) -> String| {
        let terms: Vec<String> = window.clone().map(f).collect();
        format!("=({})/E{n}", terms.join("+"))
    };
    let mean = |f: &dyn Fn(usize) -> f64| (low..low + q).map(f).sum::<f64>() / q as f64;
    let met = spell(&|i| format!("IF(D{n}+{i}<1,0,POISSON(D{n}+{i}-1,F{n},TRUE))"));
    let waiting = spell(&|i| excess(&format!("D{n}+{i}"), n));
    let late = mean(&|s| x.backorders(s));
    Measures {
        met: (met, mean(&|s| x.fill_rate(s))),
        shortages: (waiting, late),
        money: (
            format!("=H{n}*24*365.25*{HOUR}"),
            late * 24.0 * 365.25 * inputs.hour(),
        ),
    }
}

fn one(
    sheet: &mut Worksheet,
    row: u32,
    line: &StockLine,
    inputs: &Inputs,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let n = row + 1;
    looks.text(sheet, row, 0, &line.place)?;
    looks.text(sheet, row, 1, &line.part)?;
    sheet.write_number_with_format(row, 2, line.demand_rate, &looks.precise)?;
    sheet.write_number_with_format(row, 3, line.reorder_point as f64, &looks.whole)?;
    sheet.write_number_with_format(row, 4, line.order_quantity as f64, &looks.whole)?;
    let on_order = line.demand_rate * inputs.lead();
    live(
        sheet,
        row,
        5,
        &format!("=C{n}*{LEAD}"),
        on_order,
        &looks.precise,
    )?;
    let tied = tied_up(line);
    // A part with a price of its own does not follow the usual one.
    let usual = (line.unit_price - inputs.price()).abs() < 1e-9;
    let price = if usual {
        PRICE.to_owned()
    } else {
        line.unit_price.to_string()
    };
    live(
        sheet,
        row,
        9,
        &format!("=(D{n}+E{n})*{price}"),
        tied,
        &looks.money,
    )?;
    sheet.write_number_with_format(row, 10, line.cost_per_year, &looks.money)?;
    let spelt = inputs.urgent || line.order_quantity <= SPELT;
    match Pipeline::new(line.demand_rate, inputs.lead()) {
        Ok(x) if spelt => {
            let m = measures(line, &x, inputs, n);
            live(sheet, row, 6, &m.met.0, m.met.1, &looks.share)?;
            live(sheet, row, 7, &m.shortages.0, m.shortages.1, &looks.precise)?;
            live(sheet, row, 8, &m.money.0, m.money.1, &looks.money)?;
        }
        _ => {
            sheet.write_number_with_format(row, 6, line.fill_rate, &looks.share)?;
            looks.text(
                sheet,
                row,
                7,
                "orders of more than 40 seals are not spelt out here",
            )?;
        }
    }
    Ok(())
}
