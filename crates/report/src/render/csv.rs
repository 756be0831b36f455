//! Tables of values as CSV.
//!
//! Text that a spreadsheet would take for a formula (it begins with `=`, `+`, `-`, `@` or their full-width forms, a
//! tab, a return or a line feed, also after apostrophes) gets a leading apostrophe, so that taking one away again gives
//! the text back; numbers are written in full precision.

use crate::document::{Cell, DataTable};
use crate::error::{Error, Result};

/// A table as CSV bytes: UTF-8, commas, line feeds.
///
/// # Errors
/// When a row does not fit the columns.
///
/// ```
/// use sealspan_report::document::DataTable;
/// use sealspan_report::render::csv::csv;
/// let table = DataTable {
///     name: "lives".into(),
///     columns: vec!["material".into(), "mean life (days)".into()],
///     rows: vec![vec!["=EPDM".into(), 512.5.into()]],
/// };
/// assert_eq!(csv(&table).unwrap(), b"material,mean life (days)\n'=EPDM,512.5\n");
/// ```
pub fn csv(table: &DataTable) -> Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer
        .write_record(table.columns.iter().map(|c| safe(c)))
        .map_err(Error::render)?;
    for (i, row) in table.rows.iter().enumerate() {
        if row.len() != table.columns.len() {
            return Err(Error::table(
                &table.name,
                i + 1,
                table.columns.len(),
                row.len(),
            ));
        }
        writer
            .write_record(row.iter().map(text))
            .map_err(Error::render)?;
    }
    writer.into_inner().map_err(Error::render)
}

fn text(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => safe(text),
        Cell::Number(Some(number)) if number.is_finite() => number.to_string(),
        Cell::Number(_) => String::new(),
    }
}

/// Text that no spreadsheet takes for a formula.
///
/// ```
/// use sealspan_report::render::csv::safe;
/// assert_eq!([safe("=1+1"), safe("EPDM")], ["'=1+1", "EPDM"]);
/// ```
#[must_use]
pub fn safe(text: &str) -> String {
    const ACT: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];
    if text.trim_start_matches('\'').starts_with(ACT) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}
