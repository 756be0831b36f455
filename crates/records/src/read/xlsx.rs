//! XLSX workbooks: one sheet as a table of text, dates as `YYYY-MM-DD`.

use super::shape::{Shape, rows};
use super::{Input, Reader};
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::table::{self, Table};
use calamine::{Data, Range, Reader as _, Xlsx as Workbook, open_workbook};
use polars::prelude::*;
use std::fs::File;
use std::io::BufReader;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The reader of XLSX workbooks.
pub(crate) struct Xlsx;

impl Reader for Xlsx {
    fn knows(&self, head: &[u8]) -> bool {
        head.starts_with(b"PK\x03\x04")
    }

    fn read(&self, input: &Input<'_>) -> Result<Table, Error> {
        // The decoder may panic on damaged parts; damage is the user's news, not a crash.
        let (sheet, range, sheets) = catch_unwind(AssertUnwindSafe(|| sheet(input)))
            .unwrap_or_else(|_| Err(damaged(input, "a part cannot be decoded")))?;
        let mut table = to_table(input, &range)?;
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

fn damaged(input: &Input<'_>, what: &str) -> Error {
    Error::new(
        Kind::Damaged,
        format!("the XLSX workbook is damaged or cut short: {what}"),
        "copy it again, or save it again as XLSX",
    )
    .in_file(input.path)
}

fn sheet(input: &Input<'_>) -> Result<(String, Range<Data>, usize), Error> {
    let mut book: Workbook<BufReader<File>> = open_workbook(input.path)
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
    let range = book
        .worksheet_range(&name)
        .map_err(|e| damaged(input, &e.to_string()))?;
    Ok((name, range, names.len()))
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
    table::check_names(&names, input.path, header_row)?;
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
        bytes: input.bytes,
        format: "XLSX",
        encoding: None,
        frame: table::frame(&names, columns, input.path, header_row)?,
        rows: rows(header_row + 1, split.height, &split.skipped),
        misshapen: Vec::new(),
        comma_is_free: true,
        notes: Vec::new(),
    })
}
