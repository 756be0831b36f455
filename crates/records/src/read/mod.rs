//! Readers: one file a format, found by the file's content.

mod bytes;
mod decoding;
mod footer;
mod limits;
mod open;
mod pages;
pub(crate) mod parquet;
mod plain;
mod quoted;
mod shape;
mod text;
mod thrift;
mod unpacked;
mod xlsx;

use crate::error::{Error, Kind};
use crate::load::Progress;
use crate::table::Table;
use std::path::Path;

pub(crate) use bytes::read_text;
pub(crate) use decoding::decode;
pub use decoding::decoding;
pub(crate) use limits::{LARGEST_STUDY, MOST_DISTINCT};
pub(crate) use open::Opened;

/// What a reader is asked to read.
pub(crate) struct Input<'a> {
    pub(crate) path: &'a Path,
    pub(crate) sheet: Option<&'a str>,
    pub(crate) progress: &'a (dyn Fn(Progress) + Sync),
}

/// A file format.
pub(crate) trait Reader: Sync {
    /// True when the first bytes of a file are this format's.
    fn knows(&self, head: &[u8]) -> bool;

    /// Reads the whole table.
    fn read(&self, input: &Input<'_>, file: Opened) -> Result<Table, Error>;
}

/// Every format, the most particular first; text takes what is left.
const READERS: &[&dyn Reader] = &[&parquet::Parquet, &xlsx::Xlsx, &text::Text];

/// The error of a file that cannot be opened or read.
pub(crate) fn cannot(path: &Path, e: &std::io::Error) -> Error {
    if e.kind() == std::io::ErrorKind::NotFound {
        Error::new(
            Kind::Missing,
            "there is no such file",
            "check the name, and the folder it is given from",
        )
    } else {
        Error::new(
            Kind::Unreadable,
            format!("the file cannot be read: {e}"),
            "check that it may be read and that the disk is well",
        )
    }
    .in_file(path)
}

/// Reads a table from text that is part of the program; `name` stands for the file in errors.
pub(crate) fn table_of_text(name: &str, text: &str) -> Result<Table, Error> {
    let input = Input {
        path: Path::new(name),
        sheet: None,
        progress: &|_: Progress| {},
    };
    let mut table = text::parse(&input, text.to_owned(), "UTF-8", None)?;
    table.bytes = text.len() as u64;
    table.frame.rechunk_mut_par();
    Ok(table)
}

/// Reads a table in whatever format it is.
pub(crate) fn table(
    path: &Path,
    sheet: Option<&str>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Table, Error> {
    let file = Opened::open(path)?;
    let input = Input {
        path,
        sheet,
        progress,
    };
    for reader in READERS {
        if reader.knows(file.head()) {
            let mut table = reader.read(&input, file)?;
            // Cells are read one by one: each column in one piece.
            table.frame.rechunk_mut_par();
            return Ok(table);
        }
    }
    Err(Error::new(
        Kind::NotText,
        "the file is neither text, Parquet nor XLSX",
        "save the table as CSV, Parquet or XLSX",
    )
    .in_file(path))
}
