//! XLSX workbooks: one sheet as a table of text, dates as `YYYY-MM-DD`.

use super::decoding::decode;
use super::limits::MOST_SHEET_CELLS;
use super::shape::{Shape, rows};
use super::{Input, Opened, Reader, unpacked};
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::table::{self, Table};
use calamine::{Cell, Data, DataRef, Range, Reader as _, Xlsx as Workbook};
use polars::prelude::*;
use std::io::Cursor;

/// The reader of XLSX workbooks.
pub(crate) struct Xlsx;

impl Reader for Xlsx {
    fn knows(&self, head: &[u8]) -> bool {
        head.starts_with(b"PK\x03\x04")
    }

    fn read(&self, input: &Input<'_>, file: Opened) -> Result<Table, Error> {
        let content = file.all(input)?;
        let (sheet, range, sheets) = decode(
            || sheet(input, &content.bytes),
            || damaged(input, "a part cannot be decoded"),
        )?;
        let mut table = to_table(input, &range)?;
        table.bytes = content.bytes.len() as u64;
        table.sha256 = content.sha256;
        if sheets > 1 {
            table.notes.push(
                Finding::note(
                    "sheet_chosen",
                    format!("sheet \"{sheet}\" of {sheets} was read"),
                )
                .file(&table.file)
                .mend("name another one under [sheets] in the study file"),
            );
        }
        Ok(table)
    }
}

pub(crate) fn damaged(input: &Input<'_>, what: &str) -> Error {
    Error::new(
        Kind::Damaged,
        format!("the XLSX workbook is damaged or cut short: {what}"),
        "copy it again, or save it again as XLSX",
    )
    .in_file(input.path)
}

fn sheet(input: &Input<'_>, bytes: &[u8]) -> Result<(String, Range<Data>, usize), Error> {
    unpacked::check(bytes, input)?;
    let mut book = Workbook::new(Cursor::new(bytes))
        .map_err(|e: calamine::XlsxError| damaged(input, &e.to_string()))?;
    let names = book.sheet_names();
    let name = match input.sheet {
        Some(wanted) => names
            .iter()
            .find(|n| n.as_str() == wanted)
            .cloned()
            .ok_or_else(|| {
                Error::new(
                    Kind::MissingColumn,
                    format!("there is no sheet \"{wanted}\""),
                    format!("the workbook has: {}", names.join(", ")),
                )
                .in_file(input.path)
            })?,
        None => names
            .first()
            .cloned()
            .ok_or_else(|| damaged(input, "it has no sheet"))?,
    };
    let range = cells(input, &mut book, &name)?;
    Ok((name, range, names.len()))
}

/// The filled cells, and the rectangle they span: refused before it is laid out when a far cell
/// makes it larger than [`MOST_SHEET_CELLS`].
fn cells(
    input: &Input<'_>,
    book: &mut Workbook<Cursor<&[u8]>>,
    name: &str,
) -> Result<Range<Data>, Error> {
    let bad = |e: calamine::XlsxError| damaged(input, &e.to_string());
    let mut reader = book.worksheet_cells_reader(name).map_err(bad)?;
    let mut cells: Vec<Cell<Data>> = Vec::new();
    let (mut first, mut last) = ((u32::MAX, u32::MAX), (0, 0));
    while let Some(cell) = reader.next_cell().map_err(bad)? {
        if matches!(cell.get_value(), DataRef::Empty) {
            continue;
        }
        let (row, column) = cell.get_position();
        first = (first.0.min(row), first.1.min(column));
        last = (last.0.max(row), last.1.max(column));
        let span = |a: u32, b: u32| u64::from(b - a) + 1;
        let area = span(first.0, last.0).saturating_mul(span(first.1, last.1));
        if area > MOST_SHEET_CELLS || cells.len() as u64 >= MOST_SHEET_CELLS {
            return Err(too_wide(input, name, row, column));
        }
        cells.push(Cell::new((row, column), cell.get_value().clone().into()));
    }
    Ok(Range::from_sparse(cells))
}

fn too_wide(input: &Input<'_>, sheet: &str, row: u32, column: u32) -> Error {
    Error::new(
        Kind::TooLarge,
        format!(
            "sheet \"{sheet}\" reaches to column {}: more than {} million cells",
            u64::from(column) + 1,
            MOST_SHEET_CELLS >> 20
        ),
        "delete the cells outside the table (one may stand far away from it), or save the table as CSV",
    )
    .in_file(input.path)
    .at_row(u64::from(row) + 1)
}

fn cell(data: &Data) -> String {
    match data {
        Data::Empty => String::new(),
        Data::String(s) | Data::DateTimeIso(s) | Data::DurationIso(s) => s.clone(),
        Data::Float(f) => f.to_string(),
        Data::Int(i) => i.to_string(),
        Data::Bool(b) => b.to_string(),
        Data::DateTime(d) if d.is_datetime() => {
            let (year, month, day, ..) = d.to_ymd_hms_milli();
            format!("{year:04}-{month:02}-{day:02}")
        }
        Data::DateTime(d) => d.as_f64().to_string(),
        other => other.to_string(),
    }
}

fn to_table(input: &Input<'_>, range: &Range<Data>) -> Result<Table, Error> {
    let top = u64::from(range.start().map_or(0, |(row, _)| row)) + 1;
    let mut lines = range.rows().zip(top..);
    let (names, header_row) = lines
        .by_ref()
        .map(|(cells, row)| {
            (
                cells
                    .iter()
                    .map(|c| cell(c).trim().to_owned())
                    .collect::<Vec<_>>(),
                row,
            )
        })
        .find(|(names, _)| names.iter().any(|n| !n.is_empty()))
        .unwrap_or_default();
    table::check_names(&names, input.path, Some(header_row))?;
    let mut shape = Shape::new(names.len(), range.height());
    for (cells, row) in lines {
        let texts: Vec<String> = cells.iter().map(cell).collect();
        if texts.iter().all(|t| t.trim().is_empty()) {
            shape.skip(row);
        } else {
            shape.take(texts.iter().map(String::as_str));
        }
    }
    let split = shape.finish();
    table::check_named(input.path, &names)?;
    let columns = split
        .columns
        .into_iter()
        .map(IntoColumn::into_column)
        .collect();
    Ok(Table {
        path: input.path.to_path_buf(),
        file: input.path.display().to_string(),
        bytes: 0,
        sha256: String::new(),
        format: "XLSX",
        encoding: None,
        frame: table::frame(&names, columns, input.path, Some(header_row))?,
        header_row: Some(header_row),
        rows: rows(header_row + 1, split.height, &split.skipped),
        misshapen: Vec::new(),
        comma_is_free: true,
        notes: Vec::new(),
    })
}
