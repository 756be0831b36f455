//! Writes tables whole or not at all: to a temporary file beside the target, then renamed.

use crate::error::{Error, Kind};
use polars::prelude::*;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Writes a frame as CSV: UTF-8, comma, decimal point, header, line feeds.
///
/// # Errors
/// When the folder cannot be written to; nothing is left behind then.
pub fn write_csv(frame: &mut DataFrame, path: &Path) -> Result<(), Error> {
    whole(path, |file| {
        CsvWriter::new(file)
            .include_header(true)
            .finish(frame)
            .map_err(|e| e.to_string())
    })
}

/// Writes a frame as Parquet, compressed with Snappy.
///
/// # Errors
/// When the folder cannot be written to; nothing is left behind then.
pub fn write_parquet(frame: &mut DataFrame, path: &Path) -> Result<(), Error> {
    whole(path, |file| {
        ParquetWriter::new(file)
            .with_compression(ParquetCompression::Snappy)
            .finish(frame)
            .map(|_| ())
            .map_err(|e| e.to_string())
    })
}

/// The values of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Words.
    Text(Vec<String>),
    /// Numbers; none is written as null.
    Numbers(Vec<Option<f64>>),
}

/// A table of named columns as the bytes of a Parquet file, compressed with Snappy; the same table gives the same bytes.
///
/// # Errors
/// When columns differ in length or two have one name.
pub fn parquet_bytes(columns: Vec<(String, Values)>) -> Result<Vec<u8>, Error> {
    let fail = |e: PolarsError| {
        Error::new(
            Kind::Unwritable,
            format!("the table cannot be written: {e}"),
            "give every column its own name and as many values as the others",
        )
    };
    let columns = columns.into_iter().map(|(name, values)| match values {
        Values::Text(v) => Column::new(name.into(), v),
        Values::Numbers(v) => Column::new(name.into(), v),
    });
    let mut frame = DataFrame::new_infer_height(columns.collect()).map_err(fail)?;
    let mut bytes = vec![];
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Snappy)
        .finish(&mut frame)
        .map_err(fail)?;
    Ok(bytes)
}

fn whole(
    path: &Path,
    write: impl FnOnce(&mut BufWriter<File>) -> Result<(), String>,
) -> Result<(), Error> {
    let fail = |why: String| {
        Error::new(
            Kind::Unwritable,
            format!("the file cannot be written: {why}"),
            "check that the folder exists, may be written to and has room",
        )
        .in_file(path)
    };
    let temporary = beside(path);
    let result = (|| {
        let file = File::create(&temporary).map_err(|e| e.to_string())?;
        let mut file = BufWriter::new(file);
        write(&mut file)?;
        file.flush().map_err(|e| e.to_string())?;
        std::fs::rename(&temporary, path).map_err(|e| e.to_string())
    })();
    result.map_err(|why| {
        // The temporary file may not exist; its removal is best effort.
        std::fs::remove_file(&temporary).ok();
        fail(why)
    })
}

fn beside(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".{}.part", std::process::id()));
    path.with_file_name(name)
}
