//! One table as read: columns of text, numbers or dates, each row with the file's own number.

use crate::error::{Error, Kind};
use crate::finding::Finding;
use polars::prelude::*;
use std::path::{Path, PathBuf};

/// Where a table came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// What the table holds: `seals`, `inspections`, `assets`, `life` or `study`, or the word given to
    /// [`Sheet::source`](crate::Sheet::source).
    pub role: &'static str,
    /// The file, or the folder of files read as one table.
    pub path: PathBuf,
    /// Its size in bytes, of a folder that of all its files.
    pub bytes: u64,
    /// SHA-256 of the bytes that were used, in hexadecimal; empty for text that is part of the
    /// program, and for Parquet counted while it is read.
    pub sha256: String,
    /// Its format, found by content: `text`, `Parquet`, `XLSX` or `TOML`.
    pub format: &'static str,
    /// Text encoding; `None` for Parquet and XLSX.
    pub encoding: Option<&'static str>,
    /// Rows of data read, those set aside included and blank lines not; 0 for a study.
    pub rows: u64,
}

/// The file's own row numbers.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Rows {
    /// Consecutive, from this one.
    From(u64),
    /// One by one.
    Listed(Vec<u64>),
}

impl Rows {
    pub(crate) fn number(&self, at: usize) -> u64 {
        match self {
            Rows::From(first) => first + at as u64,
            Rows::Listed(list) => list.get(at).copied().unwrap_or(0),
        }
    }
}

/// A row that was read but has the wrong shape to be in the frame.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Misshapen {
    pub(crate) row: u64,
    pub(crate) fields: usize,
    pub(crate) expected: usize,
}

/// One table. Columns of `frame` are `String` (trimmed, empty is null), `Float64` or `Date`.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    pub(crate) path: PathBuf,
    pub(crate) file: String,
    pub(crate) bytes: u64,
    pub(crate) sha256: String,
    pub(crate) format: &'static str,
    pub(crate) encoding: Option<&'static str>,
    pub(crate) frame: DataFrame,
    /// Where the names of the columns stand; `None` in a Parquet file, whose rows are all data.
    pub(crate) header_row: Option<u64>,
    pub(crate) rows: Rows,
    pub(crate) misshapen: Vec<Misshapen>,
    /// True when a comma inside a number can only be a decimal mark.
    pub(crate) comma_is_free: bool,
    pub(crate) notes: Vec<Finding>,
}

impl Table {
    /// Rows read, the misshapen ones included.
    pub(crate) fn rows_read(&self) -> u64 {
        (self.frame.height() + self.misshapen.len()) as u64
    }

    /// Refuses a table of lives with a header and nothing below it.
    pub(crate) fn check_filled(&self) -> Result<(), Error> {
        if self.rows_read() > 0 {
            return Ok(());
        }
        Err(Error::new(
            Kind::HeaderOnly,
            "the file has a header but no rows of data",
            "export the records again, one row for each seal below the header",
        )
        .in_file(&self.path)
        .at_row(self.header_row))
    }

    pub(crate) fn names(&self) -> Vec<&str> {
        self.frame
            .get_column_names()
            .iter()
            .map(|n| n.as_str())
            .collect()
    }

    pub(crate) fn source(&self, role: &'static str) -> Source {
        Source {
            role,
            path: self.path.clone(),
            bytes: self.bytes,
            sha256: self.sha256.clone(),
            format: self.format,
            encoding: self.encoding,
            rows: self.rows_read(),
        }
    }
}

/// Checks the header's names: none twice, none blank over a filled column.
pub(crate) fn check_names(names: &[String], path: &Path, row: Option<u64>) -> Result<(), Error> {
    for (at, name) in names.iter().enumerate() {
        if let Some(first) = names.iter().take(at).position(|n| n == name)
            && !name.is_empty()
        {
            return Err(Error::new(
                Kind::BadHeader,
                format!(
                    "columns {} and {} are both called \"{name}\"",
                    first + 1,
                    at + 1
                ),
                "give each column its own name",
            )
            .in_file(path)
            .at_row(row)
            .in_column(name));
        }
    }
    Ok(())
}

/// Joins columns under their names into a frame; nameless columns are dropped when they are
/// empty and refused when they are not.
pub(crate) fn frame(
    names: &[String],
    columns: Vec<Column>,
    path: &Path,
    row: Option<u64>,
) -> Result<DataFrame, Error> {
    let height = columns.first().map_or(0, Column::len);
    let mut kept = Vec::with_capacity(columns.len());
    for (at, (name, column)) in names.iter().zip(columns).enumerate() {
        if !name.is_empty() {
            kept.push(column.with_name(name.as_str().into()));
        } else if column.null_count() < height {
            return Err(Error::new(
                Kind::BadHeader,
                format!("column {} has cells but no name", at + 1),
                "give the column a name in the header, or clear its cells",
            )
            .in_file(path)
            .at_row(row));
        }
    }
    DataFrame::new(height, kept).map_err(|e| {
        Error::new(
            Kind::BadHeader,
            format!("the columns do not fit together: {e}"),
            "check the header and save the file again",
        )
        .in_file(path)
    })
}

/// Refuses a table without any column.
pub(crate) fn check_named(path: &Path, names: &[String]) -> Result<(), Error> {
    if names.iter().all(String::is_empty) {
        return Err(Error::new(
            Kind::Empty,
            "the file is empty",
            "export the records again, with a header line and one line for each seal",
        )
        .in_file(path));
    }
    Ok(())
}
