//! Writes files whole or not at all: to a temporary file beside the target, then renamed. A link is followed; a device or
//! a pipe cannot be replaced and is written into.
//!
//! ```
//! use polars::prelude::{Column, DataFrame};
//! use sealspan_records::Sheet;
//! use sealspan_records::write::{Values, hold, parquet_bytes, write_bytes, write_csv, write_parquet};
//! let folder = std::env::temp_dir().join(format!("sealspan-doc-write-{}", std::process::id()));
//! std::fs::create_dir_all(&folder)?;
//! let held = hold(&folder);
//! assert!(held.surely());
//! let (one, two, three) = (folder.join("a.parquet"), folder.join("b.parquet"), folder.join("c.csv"));
//! let ages = vec![("age".to_owned(), Values::Numbers(vec![Some(120.0), None]))];
//! write_bytes(&parquet_bytes(ages)?, &one)?;
//! let sheet = Sheet::open(&one)?;
//! assert_eq!((sheet.number("age", 0)?, sheet.number("age", 1)?), (Some(120.0), None));
//! let mut frame = DataFrame::new_infer_height(vec![Column::new("age".into(), vec![54.5, 80.0])])?;
//! write_parquet(&mut frame, &two)?;
//! assert_eq!(Sheet::open(&two)?.filled("age", 0)?, 54.5);
//! write_csv(&mut frame, &three)?;
//! assert_eq!(std::fs::read_to_string(&three)?, "age\n54.5\n80.0\n");
//! # drop(held);
//! # std::fs::remove_dir_all(&folder)?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use crate::error::{Error, Kind};
use polars::prelude::*;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Writes a frame as CSV: UTF-8, comma, decimal point, header, line feeds, nothing for null.
///
/// # Errors
/// When the folder cannot be written to or is full, or a column holds lists or structures; what was there before is then
/// still there.
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
/// When the folder cannot be written to or is full; what was there before is then still there.
pub fn write_parquet(frame: &mut DataFrame, path: &Path) -> Result<(), Error> {
    whole(path, |file| {
        ParquetWriter::new(file)
            .with_compression(ParquetCompression::Snappy)
            .finish(frame)
            .map(|_| ())
            .map_err(|e| e.to_string())
    })
}

/// The values of a column, one a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Words.
    Text(Vec<String>),
    /// Numbers; `None` is written as null.
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

/// Writes bytes as a file.
///
/// # Errors
/// When the folder cannot be written to or is full; what was there before is then still there.
pub fn write_bytes(bytes: &[u8], path: &Path) -> Result<(), Error> {
    whole(path, |file| {
        file.write_all(bytes).map_err(|e| e.to_string())
    })
}

/// A folder held by one writer until this is dropped; the system lets it go when the process ends,
/// however it ends.
#[derive(Debug)]
pub struct Held(Option<File>);

impl Held {
    /// Whether the folder is really held: some file systems cannot, nor can a folder that is not there.
    #[must_use]
    pub fn surely(&self) -> bool {
        self.0.is_some()
    }
}

/// Waits, without limit, until no other writer holds the folder (an empty path is the current one), then holds it by a
/// lock that binds those alone who ask for it. Never fails: ask [`Held::surely`].
#[must_use]
pub fn hold(folder: &Path) -> Held {
    let folder = if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    };
    let open = File::open(folder).ok();
    Held(open.filter(|f| f.lock().is_ok()))
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
    // A link stays a link; a device or a pipe cannot be replaced and is written into.
    let target = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let replaced = std::fs::metadata(&target).map_or(true, |meta| meta.is_file());
    let into = if replaced {
        beside(&target)
    } else {
        target.clone()
    };
    let result = (|| {
        let mut options = File::options();
        options.write(true).create(replaced).truncate(replaced);
        let file = options.open(&into).map_err(|e| e.to_string())?;
        let mut file = BufWriter::new(file);
        write(&mut file)?;
        file.flush().map_err(|e| e.to_string())?;
        if replaced {
            std::fs::rename(&into, &target).map_err(|e| e.to_string())?;
        }
        Ok(())
    })();
    result.map_err(|why| {
        if replaced {
            // The temporary file may not exist; its removal is best effort.
            std::fs::remove_file(&into).ok();
        }
        fail(why)
    })
}

fn beside(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".{}.part", std::process::id()));
    path.with_file_name(name)
}
