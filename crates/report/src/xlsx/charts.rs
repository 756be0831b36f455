//! The sheet of pictures: they draw the cells of the other sheets, and follow them.

use super::{bought, budget};
use crate::wire::money::MoneyDocument;
use rust_xlsxwriter::{Chart, ChartType, Worksheet, XlsxError};

/// Size of a chart, pixels, and the rows it takes.
const WIDTH: u32 = 900;
const HEIGHT: u32 = 340;
const ROWS: u32 = 18;

pub fn write(sheet: &mut Worksheet, document: &MoneyDocument) -> Result<(), XlsxError> {
    sheet.set_name("Charts")?;
    let all = [months(document), savings(document)];
    let all = all.into_iter().chain(spares(document));
    for (row, chart) in (0..).step_by(ROWS as usize).zip(all) {
        sheet.insert_chart(row, 0, &chart)?;
    }
    // Two charts a printed page.
    sheet.set_page_breaks(&[2 * ROWS])?;
    Ok(())
}

fn titled(kind: ChartType, title: &str, x: &str, y: &str) -> Chart {
    let mut chart = Chart::new(kind);
    chart.title().set_name(title);
    chart.x_axis().set_name(x);
    chart.y_axis().set_name(y);
    chart.set_width(WIDTH).set_height(HEIGHT);
    chart
}

/// Cells of a column of months, by its letter.
fn column(document: &MoneyDocument, letter: char) -> String {
    let (sheet, last) = (budget::SHEET, budget::last_row(document));
    format!("={sheet}!${letter}$2:${letter}${last}")
}

fn months(document: &MoneyDocument) -> Chart {
    let mut chart = titled(
        ChartType::Column,
        "Money by month",
        "month",
        &document.currency,
    );
    for ((letter, _), name) in [(budget::TODAY, "today's practice"), (budget::PLAN, "plan")] {
        chart
            .add_series()
            .set_name(name)
            .set_categories(column(document, 'A').as_str())
            .set_values(column(document, letter).as_str());
    }
    chart
}

fn savings(document: &MoneyDocument) -> Chart {
    let mut chart = titled(
        ChartType::Line,
        "Savings so far, at their worth now",
        "month",
        &document.currency,
    );
    let (letter, _) = budget::SO_FAR;
    chart
        .add_series()
        .set_categories(column(document, 'A').as_str())
        .set_values(column(document, letter).as_str());
    chart.legend().set_hidden();
    chart
}

fn spares(document: &MoneyDocument) -> Option<Chart> {
    let (money, hours, last) = bought::steps(document)?;
    let cells = |letter: char| format!("={}!${letter}$2:${letter}${last}", bought::SHEET);
    let mut chart = titled(
        ChartType::ScatterStraightWithMarkers,
        "Hours down a year for want of a seal, by money tied up in spares",
        &document.currency,
        "hours a year",
    );
    chart
        .add_series()
        .set_categories(cells(money).as_str())
        .set_values(cells(hours).as_str());
    chart.x_axis().set_min(0);
    chart.y_axis().set_min(0);
    chart.legend().set_hidden();
    Some(chart)
}
