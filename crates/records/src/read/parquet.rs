//! Parquet tables, row group by row group.

use super::decoding::decode;
use super::footer::footer_sound;
use super::limits::{LARGEST_CHUNK, LARGEST_FOOTER, MOST_CELLS, MOST_ROWS};
use super::{Input, Opened, Reader, cannot, pages};
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::load::Progress;
use crate::table::{self, Rows, Table};
use polars::prelude::*;
use std::fs::File;
use std::io::{Cursor, Read, Seek, SeekFrom};

/// The reader of Parquet tables.
pub(crate) struct Parquet;

impl Reader for Parquet {
    fn knows(&self, head: &[u8]) -> bool {
        head.starts_with(b"PAR1")
    }

    fn read(&self, input: &Input<'_>, file: Opened) -> Result<Table, Error> {
        // In memory, not mapped: a mapped file that is cut short meanwhile would kill the process.
        let content = file.all(input)?;
        let footer = check_footer(
            input,
            content.bytes.last_chunk::<8>(),
            content.bytes.len() as u64,
        )?;
        let end = content.bytes.len() - 8;
        check_lists(input, content.bytes.get(end - footer..end))?;
        let frame = decode(
            || groups(input, &content.bytes),
            || damaged(input, "a page cannot be decoded"),
        )?;
        let names: Vec<String> = frame
            .get_column_names()
            .iter()
            .map(|n| n.trim().to_owned())
            .collect();
        table::check_names(&names, input.path, None)?;
        table::check_named(input.path, &names)?;
        let file = input.path.display().to_string();
        Ok(Table {
            path: input.path.to_path_buf(),
            bytes: content.bytes.len() as u64,
            sha256: content.sha256,
            format: "Parquet",
            encoding: None,
            frame,
            header_row: None,
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
pub(crate) fn check_tail(input: &Input<'_>, size: u64) -> Result<(), Error> {
    let mut tail = [0_u8; 8];
    let mut file = File::open(input.path).map_err(|e| cannot(input.path, &e))?;
    let whole =
        size >= 12 && file.seek(SeekFrom::End(-8)).is_ok() && file.read_exact(&mut tail).is_ok();
    let footer = check_footer(input, whole.then_some(&tail), size)?;
    let mut bytes = vec![0; footer];
    let read =
        file.seek(SeekFrom::End(-8 - footer as i64)).is_ok() && file.read_exact(&mut bytes).is_ok();
    check_lists(input, read.then_some(bytes.as_slice()))
}

/// Holds the lists of a footer against its length, before the decoder makes room for what they claim.
fn check_lists(input: &Input<'_>, footer: Option<&[u8]>) -> Result<(), Error> {
    match footer.is_some_and(footer_sound) {
        true => Ok(()),
        false => Err(damaged(
            input,
            "its footer cannot be decoded, or lists more than 2 million parts",
        )),
    }
}

/// The same, of the last bytes of a file of so many: the footer's length.
fn check_footer(input: &Input<'_>, tail: Option<&[u8; 8]>, size: u64) -> Result<usize, Error> {
    if let Some([a, b, c, d, b'P', b'A', b'R', b'1']) = tail {
        let footer = u64::from(u32::from_le_bytes([*a, *b, *c, *d]));
        if footer > LARGEST_FOOTER && footer + 12 <= size {
            return Err(too_large(
                input,
                &format!("its footer is larger than {} MiB", LARGEST_FOOTER >> 20),
            ));
        }
        if let (true, Ok(footer)) = (footer + 12 <= size, usize::try_from(footer)) {
            return Ok(footer);
        }
    }
    Err(damaged(input, "its end is missing"))
}

fn too_large(input: &Input<'_>, what: &str) -> Error {
    Error::new(
        Kind::TooLarge,
        format!("the Parquet file is too large to be read at once: {what}"),
        "leave out columns that are not asked about, or split the table",
    )
    .in_file(input.path)
}

/// Holds what the footer claims against the limits, and its parts against each other.
fn check_claims(input: &Input<'_>, bytes: &[u8], metadata: &FileMetadata) -> Result<(), Error> {
    check_columns(input, bytes.len() as u64, metadata)?;
    let columns = metadata.schema().columns().len() as u64;
    let cells = (metadata.num_rows as u64).saturating_mul(columns);
    if cells > MOST_CELLS {
        let what = format!(
            "it claims {} rows of {columns} columns, and may have {} million cells",
            metadata.num_rows,
            MOST_CELLS >> 20
        );
        return Err(too_large(input, &what));
    }
    for column in metadata.row_groups.iter().flat_map(|g| g.parquet_columns()) {
        let range = column.byte_range();
        let chunk = usize::try_from(range.start)
            .ok()
            .zip(usize::try_from(range.end).ok())
            .and_then(|(start, end)| bytes.get(start..end));
        check_pages(input, chunk, column.num_values())?;
    }
    Ok(())
}

/// Refuses a column whose pages claim more than it can hold.
fn check_pages(input: &Input<'_>, chunk: Option<&[u8]>, values: i64) -> Result<(), Error> {
    match chunk.is_some_and(|chunk| pages::sound(chunk, values)) {
        true => Ok(()),
        false => Err(damaged(
            input,
            "a page claims more than its column can hold",
        )),
    }
}

/// The same of a row group's columns in a file that is read batch by batch.
pub(crate) fn check_group(
    input: &Input<'_>,
    (metadata, group): (&FileMetadata, usize),
    projection: &[usize],
) -> Result<(), Error> {
    let Some(group) = metadata.row_groups.get(group) else {
        return Ok(());
    };
    let mut file = File::open(input.path).map_err(|e| cannot(input.path, &e))?;
    let columns = group.parquet_columns().iter().enumerate();
    for (_, column) in columns.filter(|(at, _)| projection.contains(at)) {
        let range = column.byte_range();
        let mut chunk = vec![];
        file.seek(SeekFrom::Start(range.start))
            .and_then(|_| {
                let length = range.end.saturating_sub(range.start);
                (&mut file).take(length).read_to_end(&mut chunk)
            })
            .map_err(|e| cannot(input.path, &e))?;
        check_pages(input, Some(&chunk), column.num_values())?;
    }
    Ok(())
}

/// The footer's claims without a limit on rows, for a table that is read batch by batch.
pub(crate) fn check_columns(
    input: &Input<'_>,
    size: u64,
    metadata: &FileMetadata,
) -> Result<(), Error> {
    let rows = metadata
        .row_groups
        .iter()
        .try_fold(0_usize, |sum, group| sum.checked_add(group.num_rows()));
    if rows != Some(metadata.num_rows) {
        return Err(damaged(input, "its row groups do not add up to its rows"));
    }
    if metadata.num_rows as u64 > MOST_ROWS {
        let what = format!("it claims {} rows", metadata.num_rows);
        return Err(too_large(input, &what));
    }
    for column in metadata.row_groups.iter().flat_map(|g| g.parquet_columns()) {
        let sizes = [column.compressed_size(), column.uncompressed_size()];
        if sizes.iter().any(|n| *n < 0) || column.byte_range().end > size {
            return Err(damaged(input, "a column lies outside the file"));
        }
        if column.uncompressed_size() > LARGEST_CHUNK {
            return Err(too_large(
                input,
                &format!("a column unpacks to more than {} MiB", LARGEST_CHUNK >> 20),
            ));
        }
    }
    Ok(())
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

fn groups(input: &Input<'_>, bytes: &[u8]) -> Result<DataFrame, Error> {
    let open = || ParquetReader::new(Cursor::new(bytes));
    let bad = |e: PolarsError| damaged(input, &e.to_string());
    let mut first = open();
    let metadata = first.get_metadata().map_err(bad)?.clone();
    check_claims(input, bytes, &metadata)?;
    let total = metadata.num_rows as u64;
    let mut whole: Option<DataFrame> = None;
    let mut done = 0_usize;
    for group in &metadata.row_groups {
        let rows = group.num_rows();
        if rows == 0 {
            continue;
        }
        let mut reader = open().with_slice(Some((done, rows)));
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
            DataType::Decimal(..) => Some(DataType::Float64),
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
