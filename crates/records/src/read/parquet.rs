//! Parquet tables, row group by row group.

use super::{Input, Reader, cannot};
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::load::Progress;
use crate::table::{self, Rows, Table};
use polars::prelude::*;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The reader of Parquet tables.
pub(crate) struct Parquet;

impl Reader for Parquet {
    fn knows(&self, head: &[u8]) -> bool {
        head.starts_with(b"PAR1")
    }

    fn read(&self, input: &Input<'_>) -> Result<Table, Error> {
        check_tail(input)?;
        // The decoder may panic on damaged pages; damage is the user's news, not a crash.
        let frame = catch_unwind(AssertUnwindSafe(|| groups(input)))
            .unwrap_or_else(|_| Err(damaged(input, "a page cannot be decoded")))?;
        let names: Vec<String> = frame
            .get_column_names()
            .iter()
            .map(|n| n.trim().to_owned())
            .collect();
        table::check_names(&names, input.path, 0)?;
        table::check_named(input.path, &names)?;
        let file = input.path.display().to_string();
        Ok(Table {
            path: input.path.to_path_buf(),
            bytes: input.bytes,
            format: "Parquet",
            encoding: None,
            frame,
            rows: Rows::From(1),
            misshapen: Vec::new(),
            comma_is_free: false,
            notes: vec![
                Finding::note("row_numbers", "rows of a Parquet file are numbered from 1")
                    .file(&file)
                    .mend("nothing to do"),
            ],
            file,
        })
    }
}

/// A Parquet file ends with the length of its footer and the mark it begins with.
pub(crate) fn check_tail(input: &Input<'_>) -> Result<(), Error> {
    let mut tail = [0_u8; 8];
    let mut file = File::open(input.path).map_err(|e| cannot(input.path, &e))?;
    let whole = input.bytes >= 12
        && file.seek(SeekFrom::End(-8)).is_ok()
        && file.read_exact(&mut tail).is_ok();
    let [a, b, c, d, mark @ ..] = tail;
    let footer = u64::from(u32::from_le_bytes([a, b, c, d]));
    if whole && &mark == b"PAR1" && footer + 12 <= input.bytes {
        return Ok(());
    }
    Err(damaged(input, "its end is missing"))
}

pub(crate) fn damaged(input: &Input<'_>, what: &str) -> Error {
    Error::new(
        Kind::Damaged,
        format!("the Parquet file is damaged or cut short: {what}"),
        "copy or export it again",
    )
    .in_file(input.path)
}

pub(crate) fn open(input: &Input<'_>) -> Result<ParquetReader<File>, Error> {
    let file = File::open(input.path).map_err(|e| cannot(input.path, &e))?;
    Ok(ParquetReader::new(file))
}

fn groups(input: &Input<'_>) -> Result<DataFrame, Error> {
    let bad = |e: PolarsError| damaged(input, &e.to_string());
    let mut first = open(input)?;
    let metadata = first.get_metadata().map_err(bad)?.clone();
    let total = metadata.num_rows as u64;
    let mut whole: Option<DataFrame> = None;
    let mut done = 0_usize;
    for group in &metadata.row_groups {
        let rows = group.num_rows();
        if rows == 0 {
            continue;
        }
        let mut reader = open(input)?.with_slice(Some((done, rows)));
        reader.set_metadata(metadata.clone());
        let part = plain_types(reader.finish().map_err(bad)?, input)?;
        match &mut whole {
            Some(frame) => {
                frame.vstack_mut_owned(part).map_err(bad)?;
            }
            None => whole = Some(part),
        }
        done += rows;
        (input.progress)(Progress {
            stage: "reading",
            done: done as u64,
            total,
        });
    }
    match whole {
        Some(frame) => Ok(frame),
        None => plain_types(first.with_slice(Some((0, 0))).finish().map_err(bad)?, input),
    }
}

/// Turns every column into text, a number or a date.
pub(crate) fn plain_types(frame: DataFrame, input: &Input<'_>) -> Result<DataFrame, Error> {
    let height = frame.height();
    let mut columns = Vec::with_capacity(frame.width());
    for column in frame.columns() {
        let to = match column.dtype() {
            DataType::String | DataType::Float64 | DataType::Date => None,
            DataType::Datetime(..) => Some(DataType::Date),
            t if t.is_primitive_numeric() => Some(DataType::Float64),
            _ => Some(DataType::String),
        };
        let plain = match to {
            None => column.clone(),
            Some(to) => column.strict_cast(&to).map_err(|_| {
                Error::new(
                    Kind::UnreadableColumn,
                    format!("the type {} cannot be read", column.dtype()),
                    "save the column as text, number or date",
                )
                .in_file(input.path)
                .in_column(column.name().as_str())
            })?,
        };
        let name = column.name().trim().to_owned();
        columns.push(plain.with_name(name.into()));
    }
    DataFrame::new(height, columns).map_err(|e| damaged(input, &e.to_string()))
}
