//! Splits text with quoted fields, which may hold separators and line ends.

use super::limits::LONGEST_CELL;
use super::shape::{Shape, Split};
use crate::error::{Error, Kind};
use std::path::Path;

/// Splits the records of `body`; `first` is the row number of its first line. Rows are counted as
/// a spreadsheet shows them: blank lines count, line ends inside quotes do not.
pub(crate) fn split(
    body: &str,
    separator: u8,
    width: usize,
    first: u64,
    path: &Path,
) -> Result<Split, Error> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(body.as_bytes());
    let mut shape = Shape::new(width, body.len() / 64);
    let mut record = csv::StringRecord::new();
    let mut row = first;
    let mut from = 0;
    loop {
        let more = reader
            .read_record(&mut record)
            .map_err(|e| broken(path, row, &e.to_string()))?;
        if let Some(long) = record.iter().map(str::len).find(|n| *n > LONGEST_CELL) {
            return Err(long_cell(path, row, long));
        }
        if !more {
            return Ok(shape.finish());
        }
        let to = end(body, reader.position().byte());
        let span = body.get(from..to).unwrap_or_default();
        let inside: u64 = record.iter().map(line_ends).sum();
        let own = u64::from(span.ends_with('\n'));
        for _ in 0..line_ends(span).saturating_sub(inside + own) {
            shape.skip(row);
            row += 1;
        }
        if inside > 0 && to >= body.len() && span.matches('"').count() % 2 == 1 {
            return Err(broken(path, row, "a quote is opened and never closed"));
        }
        place(&mut shape, &record, row);
        row += 1;
        from = to;
    }
}

/// Where a record ends, its whole line end included.
fn end(body: &str, byte: u64) -> usize {
    let at = usize::try_from(byte).unwrap_or(body.len()).min(body.len());
    let bytes = body.as_bytes();
    let halved = at > 0 && bytes.get(at - 1) == Some(&b'\r') && bytes.get(at) == Some(&b'\n');
    if halved { at + 1 } else { at }
}

fn line_ends(field: &str) -> u64 {
    field.bytes().filter(|b| *b == b'\n').count() as u64
}

fn place(shape: &mut Shape, record: &csv::StringRecord, row: u64) {
    let width = shape.width();
    let spare = record.iter().skip(width).all(|f| f.trim().is_empty());
    if record.iter().all(|f| f.trim().is_empty()) {
        shape.skip(row);
    } else if record.len() >= width && spare {
        shape.take(record.iter().take(width));
    } else {
        shape.refuse(row, record.len());
    }
}

fn long_cell(path: &Path, row: u64, bytes: usize) -> Error {
    Error::new(
        Kind::TooLarge,
        format!(
            "a cell is {} MiB long, and may have {} MiB: a quote is opened and not closed, or this is no table",
            bytes >> 20,
            LONGEST_CELL >> 20
        ),
        "close the quote in this row, or double the quote marks inside the field",
    )
    .in_file(path)
    .at_row(row)
}

fn broken(path: &Path, row: u64, what: &str) -> Error {
    Error::new(
        Kind::Damaged,
        format!("the quoting is broken: {what}"),
        "close the quote in this row, or double the quote marks inside the field",
    )
    .in_file(path)
    .at_row(row)
}
