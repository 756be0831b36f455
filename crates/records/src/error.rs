//! The one error of this crate: a place, a message and a mend.

use std::fmt;
use std::path::{Path, PathBuf};

/// Why records could not be read, or a question not answered.
///
/// Opaque: ask it for its [`kind`](Error::kind), place and mend.
///
/// ```
/// use sealspan_records::Sheet;
/// use std::path::Path;
/// let sheet = Sheet::of_text("limits.csv", "material,source\nEPDM,invented\n")?;
/// let error = sheet.need("medium", "limits go by medium").unwrap_err();
/// assert_eq!(error.kind(), "missing_column");
/// assert_eq!(error.message(), "there is no column `medium`, limits go by medium");
/// assert_eq!(error.mend(), "the columns are: material, source");
/// assert_eq!((error.file(), error.row()), (Some(Path::new("limits.csv")), Some(1)));
/// assert_eq!(error.column(), Some("medium"));
/// assert!(error.is_bad_input());
/// # Ok::<(), sealspan_records::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Error {
    kind: Kind,
    message: String,
    file: Option<PathBuf>,
    row: Option<u64>,
    column: Option<String>,
    mend: String,
}

/// What went wrong, in one word each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Missing,
    Directory,
    Unreadable,
    Changed,
    Unwritable,
    Empty,
    HeaderOnly,
    BadHeader,
    LineTooLong,
    TooLarge,
    NotText,
    Damaged,
    MissingColumn,
    UnreadableColumn,
    DateOrder,
    SerialDate,
    Study,
    UnknownColumn,
    UnknownMode,
    NothingLeft,
    ClockMissing,
    BadSector,
}

impl Kind {
    fn word(self) -> &'static str {
        match self {
            Kind::Missing => "missing_file",
            Kind::Directory => "directory",
            Kind::Unreadable => "unreadable_file",
            Kind::Changed => "file_changed",
            Kind::Unwritable => "unwritable_file",
            Kind::Empty => "empty_file",
            Kind::HeaderOnly => "header_only",
            Kind::BadHeader => "bad_header",
            Kind::LineTooLong => "line_too_long",
            Kind::TooLarge => "too_large",
            Kind::NotText => "not_text",
            Kind::Damaged => "damaged_file",
            Kind::MissingColumn => "missing_column",
            Kind::UnreadableColumn => "unreadable_column",
            Kind::DateOrder => "date_order",
            Kind::SerialDate => "serial_dates",
            Kind::Study => "study_file",
            Kind::UnknownColumn => "unknown_column",
            Kind::UnknownMode => "unknown_mode",
            Kind::NothingLeft => "nothing_left",
            Kind::ClockMissing => "clock_missing",
            Kind::BadSector => "not_a_sector",
        }
    }
}

impl Error {
    pub(crate) fn new(kind: Kind, message: impl Into<String>, mend: impl Into<String>) -> Self {
        Self {
            kind,
            message: message.into(),
            file: None,
            row: None,
            column: None,
            mend: mend.into(),
        }
    }

    pub(crate) fn in_file(mut self, file: &Path) -> Self {
        self.file = Some(file.to_path_buf());
        self
    }

    pub(crate) fn at_row(mut self, row: impl Into<Option<u64>>) -> Self {
        self.row = row.into();
        self
    }

    pub(crate) fn in_column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }

    /// What is wrong, in a sentence.
    #[must_use]
    pub fn message(&self) -> &str {
        &self.message
    }

    /// The file it is about; `None` where it is about none.
    #[must_use]
    pub fn file(&self) -> Option<&Path> {
        self.file.as_deref()
    }

    /// The file's own row number, of a study file the line; `None` where it is about more than a row.
    #[must_use]
    pub fn row(&self) -> Option<u64> {
        self.row
    }

    /// The column, by the file's own name (of one that is missing, by ours), or the key of a study file; `None` where it is
    /// about none.
    #[must_use]
    pub fn column(&self) -> Option<&str> {
        self.column.as_deref()
    }

    /// What to do about it.
    #[must_use]
    pub fn mend(&self) -> &str {
        &self.mend
    }

    /// A stable word for programs, in snake case.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        self.kind.word()
    }

    /// True when the input or the request is at fault; false when the input is sound but cannot
    /// answer the question (no rows left, a clock that was not recorded).
    #[must_use]
    pub fn is_bad_input(&self) -> bool {
        !matches!(self.kind, Kind::NothingLeft | Kind::ClockMissing)
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(file) = &self.file {
            write!(f, "{}", file.display())?;
            if let Some(row) = self.row {
                write!(f, ", row {row}")?;
            }
            if let Some(column) = &self.column {
                write!(f, ", {column}")?;
            }
            write!(f, ": ")?;
        } else if let Some(column) = &self.column {
            write!(f, "{column}: ")?;
        }
        write!(f, "{}. {}", self.message, self.mend)
    }
}

impl std::error::Error for Error {}
