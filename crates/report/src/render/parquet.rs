//! Tables of values as Parquet: text as it is, numbers as numbers, columns named as in the CSV.

use crate::document::{Cell, DataTable};
use crate::error::{Error, Result};
use sealspan_records::write::{Values, parquet_bytes};

/// A table as Parquet bytes.
///
/// # Errors
/// When a row does not fit the columns, or two columns have one name.
pub fn parquet(table: &DataTable) -> Result<Vec<u8>> {
    let wanted = table.columns.len();
    for (i, row) in table.rows.iter().enumerate() {
        if row.len() != wanted {
            return Err(Error::table(&table.name, i + 1, wanted, row.len()));
        }
    }
    let columns = table.columns.iter().enumerate();
    let columns = columns.map(|(i, name)| (name.clone(), values(table, i)));
    parquet_bytes(columns.collect()).map_err(Error::render)
}

/// A column: numbers where no cell holds words.
fn values(table: &DataTable, at: usize) -> Values {
    let cells = || table.rows.iter().filter_map(|row| row.get(at));
    if table.holds_numbers(at) {
        let number = |cell: &Cell| match cell {
            Cell::Number(n) => n.filter(|n| n.is_finite()),
            Cell::Text(_) => None,
        };
        return Values::Numbers(cells().map(number).collect());
    }
    let text = |cell: &Cell| match cell {
        Cell::Text(text) => text.clone(),
        Cell::Number(n) => n.map_or_else(String::new, |n| n.to_string()),
    };
    Values::Text(cells().map(text).collect())
}
