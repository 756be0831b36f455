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
