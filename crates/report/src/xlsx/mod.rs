//! `plan.xlsx`: the plan's money with live formulas, each with its computed value beside it, so that it reads right
//! in viewers that do not calculate.
//!
//! What is worked out from records (failures, planned changes, demand) stands as numbers; what follows from prices,
//! hours, lead times and rates is a formula over the sheet of inputs.

mod bought;
mod budget;
mod cells;
mod charts;
mod inputs;
mod places;
mod stock;
mod summary;

use crate::wire::money::MoneyDocument;
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};
use sealspan_records::Study;

pub use inputs::Inputs;

/// Size of the printed months, per cent, and the code of A4 paper.
const BUDGET_SCALE: u16 = 65;
const A4: u8 = 9;

/// The workbook's bytes (Office Open XML). `study` holds the costs as they were counted. The same input gives the same
/// bytes.
///
/// # Errors
/// When the workbook cannot be put together, in words.
pub fn workbook(document: &MoneyDocument, study: &Study) -> Result<Vec<u8>, String> {
    write(document, study).map_err(|e| e.to_string())
}

fn write(document: &MoneyDocument, study: &Study) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // A fixed day: the same inputs give the same bytes.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_creation_datetime(&made));
    let inputs = Inputs::of(study, &document.currency);
    let cells = cells::Looks::new(&document.currency);
    summary::write(book.add_worksheet(), document, (study, &cells))?;
    inputs.write(book.add_worksheet(), &cells)?;
    budget::write(book.add_worksheet(), document, &cells)?;
    stock::write(book.add_worksheet(), document, &inputs, &cells)?;
    bought::write(book.add_worksheet(), document, &cells)?;
    places::write(book.add_worksheet(), document, &cells)?;
    charts::write(book.add_worksheet(), document)?;
    for sheet in book.worksheets_mut() {
        // Months and places do not fit a page's width: they break between their three parts.
        if [budget::SHEET, places::SHEET].contains(&sheet.name().as_str()) {
            sheet.set_print_scale(BUDGET_SCALE);
        } else {
            sheet.set_print_fit_to_pages(1, 0);
        }
        sheet.set_landscape().set_paper_size(A4);
    }
    book.save_to_buffer()
}
