//! What can go wrong while a report is drawn or written.

use std::fmt;
use std::path::{Path, PathBuf};

/// The result of an operation of this crate.
pub type Result<T> = std::result::Result<T, Error>;

/// An operation that could not be carried out, in words for the user.
#[derive(Debug)]
pub struct Error(Kind);

#[derive(Debug, thiserror::Error)]
enum Kind {
    #[error("figure \"{figure}\" cannot be drawn: {reason}")]
    Figure { figure: String, reason: String },
    #[error("the report cannot be put together: {0}")]
    Render(String),
    #[error("table \"{table}\" row {row} has {found} cells where {expected} columns are named")]
    Table {
        table: String,
        row: usize,
        expected: usize,
        found: usize,
    },
    #[error("{}: {doing}: {source}", path.display())]
    Io {
        path: PathBuf,
        doing: &'static str,
        source: std::io::Error,
    },
    #[error("{}: {reason}", path.display())]
    NotOurs { path: PathBuf, reason: String },
    #[error("\"{0}\" cannot be a file name here: use letters, digits, - and _")]
    Name(String),
}

impl Error {
    /// A figure that cannot be drawn, with the reason in words.
    pub(crate) fn figure(figure: &str, reason: impl fmt::Display) -> Self {
        Self(Kind::Figure {
            figure: figure.to_owned(),
            reason: reason.to_string(),
        })
    }

    /// A renderer that failed, with the reason in words.
    pub(crate) fn render(reason: impl fmt::Display) -> Self {
        Self(Kind::Render(reason.to_string()))
    }

    /// A table whose row does not fit its columns.
    pub(crate) fn table(table: &str, row: usize, expected: usize, found: usize) -> Self {
        Self(Kind::Table {
            table: table.to_owned(),
            row,
            expected,
            found,
        })
    }

    /// A file operation that failed.
    pub(crate) fn io(path: &Path, doing: &'static str, source: std::io::Error) -> Self {
        Self(Kind::Io {
            path: path.to_owned(),
            doing,
            source,
        })
    }

    /// A folder that is not ours to replace.
    pub(crate) fn not_ours(path: &Path, reason: impl fmt::Display) -> Self {
        Self(Kind::NotOurs {
            path: path.to_owned(),
            reason: reason.to_string(),
        })
    }

    /// A name that would not make a safe file name.
    pub(crate) fn name(name: &str) -> Self {
        Self(Kind::Name(name.to_owned()))
    }

    /// Whether the output folder was refused because it is not one of ours.
    #[must_use]
    pub fn is_not_ours(&self) -> bool {
        matches!(self.0, Kind::NotOurs { .. })
    }

    /// Whether a file operation failed.
    #[must_use]
    pub fn is_io(&self) -> bool {
        matches!(self.0, Kind::Io { .. })
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Error {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match &self.0 {
            Kind::Io { source, .. } => Some(source),
            _ => None,
        }
    }
}
