//! A small table read strictly: every cell asked for is sound, or the file, row and column are named.
//!
//! For tables that are no fleet records (laboratory results, limits of materials), where one bad
//! cell is a slip to be mended before anything is computed, not a row to set aside.

use crate::cells::Cells;
use crate::error::{Error, Kind};
use crate::load::Progress;
use crate::read;
use crate::table::{Source, Table};
use crate::words::{nearest, normal};
use std::path::Path;

/// A table (CSV, Parquet or XLSX, found by content; of a workbook the first sheet) whose cells are asked for by column
/// name and by row, from 0 to below [`height`](Sheet::height); blank rows are passed over.
///
/// ```
/// use sealspan_records::Sheet;
/// let sheet = Sheet::of_text("limits", "Material,max °C\nEPDM,140\nNBR,warm\n")?;
/// assert_eq!((sheet.height(), sheet.names()), (2, vec!["Material", "max °C"]));
/// assert_eq!(sheet.find("material"), Some("Material"));
/// assert_eq!(sheet.filled("max °C", 0)?, 140.0);
/// let fault = sheet.number("max °C", 1).unwrap_err(); // names file, row and column
/// assert_eq!((fault.row(), fault.column()), (Some(3), Some("max °C")));
/// assert_eq!((sheet.text(Some("max °C"), 1), sheet.row(1)), (Some("warm".to_owned()), 3));
/// assert_eq!((sheet.text(Some("Material"), 2), sheet.number("max °C", 2)?), (None, None)); // two rows
/// assert!(sheet.need("medium", "limits by medium").is_err());
/// let own = sheet.fault("max °C", 0, "140 is too warm", "give 130"); // a check of your own
/// assert_eq!((own.row(), own.message()), (Some(2), "140 is too warm"));
/// assert_eq!(sheet.source("limits").rows, 2);
/// # Ok::<(), sealspan_records::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Sheet {
    table: Table,
}

impl Sheet {
    /// Reads the table.
    ///
    /// # Errors
    /// When the file is missing, unreadable, damaged, too large or empty, was written to meanwhile, has no row below its
    /// header, two columns of one name, cells without one, or a row of the wrong length.
    pub fn open(path: &Path) -> Result<Self, Error> {
        let silent = |_: Progress| {};
        Self::checked(read::table(path, None, &silent)?)
    }

    /// Reads a table from text that is part of the program; `name` stands for the file in errors.
    ///
    /// # Errors
    /// As [`Sheet::open`].
    pub fn of_text(name: &str, text: &str) -> Result<Self, Error> {
        Self::checked(read::table_of_text(name, text)?)
    }

    fn checked(table: Table) -> Result<Self, Error> {
        table.check_filled()?;
        if let Some(odd) = table.misshapen.first() {
            return Err(Error::new(
                Kind::BadHeader,
                format!(
                    "the row has {} fields, the header has {}",
                    odd.fields, odd.expected
                ),
                "add or remove separators; put quotes round a field that holds one",
            )
            .in_file(&table.path)
            .at_row(odd.row));
        }
        Ok(Self { table })
    }

    /// Row of the header; `None` where the rows are numbered without one.
    pub(crate) fn header_row(&self) -> Option<u64> {
        self.table.header_row
    }

    /// Names of the columns, as the file has them.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        self.table.names()
    }

    /// The file's own name of a column, written in any case, with spaces, hyphens or underscores; `None` when there is no
    /// such column. One spelt just so goes first.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<&str> {
        let names = self.table.names();
        names
            .iter()
            .find(|n| **n == name.trim())
            .or_else(|| names.iter().find(|n| normal(n) == normal(name)))
            .copied()
    }

    /// The file's own name of a column that must be there; `what_for` says in the error why.
    ///
    /// # Errors
    /// When there is none.
    pub fn need(&self, name: &str, what_for: &str) -> Result<&str, Error> {
        self.find(name).ok_or_else(|| {
            let names = self.table.names();
            let hint =
                nearest(name, &names).map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
            Error::new(
                Kind::MissingColumn,
                format!("there is no column `{name}`, {what_for}"),
                format!("{hint}the columns are: {}", names.join(", ")),
            )
            .in_file(&self.table.path)
            .at_row(self.table.header_row)
            .in_column(name)
        })
    }

    /// Number of rows of data.
    #[must_use]
    pub fn height(&self) -> usize {
        self.table.frame.height()
    }

    /// The file's own number of row `at`: lines of a text and rows of a sheet count from 1, their header included, rows of
    /// a Parquet file from 1 without one.
    #[must_use]
    pub fn row(&self, at: usize) -> u64 {
        self.table.rows.number(at)
    }

    /// The cell as trimmed text; `None` when empty, beyond the last row, or without such a column (its own name, as
    /// [`find`](Sheet::find) gives it). Dates are `YYYY-MM-DD`.
    #[must_use]
    pub fn text(&self, column: Option<&str>, at: usize) -> Option<String> {
        Cells::of(&self.table, column.filter(|_| at < self.height()))
            .text(at)
            .map(std::borrow::Cow::into_owned)
    }

    /// The cell as a finite number; `None` when empty, beyond the last row, or without such a column. A comma is the decimal
    /// mark where a column of text holds one and commas do not part the columns; there are no thousands marks.
    ///
    /// # Errors
    /// When the cell holds something else.
    pub fn number(&self, column: &str, at: usize) -> Result<Option<f64>, Error> {
        Cells::of(&self.table, Some(column).filter(|_| at < self.height()))
            .number(at)
            .map_err(|why| self.fault(column, at, why.message(), why.mend()))
    }

    /// A cell that must hold a number.
    ///
    /// # Errors
    /// When it is empty or holds something else.
    pub fn filled(&self, column: &str, at: usize) -> Result<f64, Error> {
        self.number(column, at)?.ok_or_else(|| {
            self.fault(
                column,
                at,
                format!("the cell of {column} is empty"),
                "fill it, or delete the row",
            )
        })
    }

    /// The error of one cell with its place, for a check of the caller's own.
    #[must_use]
    pub fn fault(
        &self,
        column: &str,
        at: usize,
        message: impl Into<String>,
        mend: impl Into<String>,
    ) -> Error {
        Error::new(Kind::UnreadableColumn, message, mend)
            .in_file(&self.table.path)
            .at_row(self.row(at))
            .in_column(column)
    }

    /// Where the table came from; `role` says what it holds.
    #[must_use]
    pub fn source(&self, role: &'static str) -> Source {
        self.table.source(role)
    }
}
