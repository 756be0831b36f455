//! Splits text with quoted fields, which may hold separators and line ends.

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
    let mut next = first;
    let mut start = true;
    loop {
        let line = reader.position().line();
        let more = reader
            .read_record(&mut record)
            .map_err(|e| broken(path, next, &e.to_string()))?;
        if !more {
            return Ok(shape.finish());
        }
        let inside: u64 = record.iter().map(line_ends).sum();
        let crossed = reader.position().line() - line;
        let due = inside + u64::from(!start);
        for _ in 0..crossed.saturating_sub(due.max(1)) {
            shape.skip(next);
            next += 1;
        }
        start = false;
        place(&mut shape, &record, next, inside, reader.is_done(), path)?;
        next += 1;
    }
}

fn line_ends(field: &str) -> u64 {
    field.bytes().filter(|b| *b == b'\n').count() as u64
}

fn place(
    shape: &mut Shape,
    record: &csv::StringRecord,
    row: u64,
    inside: u64,
    last: bool,
    path: &Path,
) -> Result<(), Error> {
    let width = shape.width();
    let blank = record.iter().all(|f| f.trim().is_empty());
    let spare = record.iter().skip(width).all(|f| f.trim().is_empty());
    if blank {
        shape.skip(row);
    } else if record.len() == width || (record.len() > width && spare) {
        shape.take(record.iter().take(width));
    } else if last && inside > 0 {
        return Err(broken(path, row, "a quote is opened and never closed"));
    } else {
        shape.refuse(row, record.len());
    }
    Ok(())
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
