//! A report as plain data: pages for its readers, with sentences, figures, tables and cautions.

use crate::analysis::what_if::WhatIf;
use crate::cautions::Caution;
use crate::chart::Chart;
use serde::Serialize;

/// A whole report.
///
/// ```
/// use sealspan_report::document::{Lead, Table};
/// let lead = Lead::new("Replace", "Every 300 days.");
/// assert_eq!(lead.lines, ["Every 300 days."]);
/// let table = Table::new("Seals", &["site", "seals"], vec![vec!["north".into(), "12".into()]]);
/// assert_eq!(table.columns[1], ("seals".to_owned(), true)); // numbers, set to the right
/// ```
#[derive(Debug, Clone)]
pub struct Document {
    /// Title.
    pub title: String,
    /// The answers, before everything else.
    pub lead: Vec<Lead>,
    /// What the data are, in a sentence.
    pub about: String,
    /// True when the data are invented.
    pub invented: bool,
    /// One page a reader, then the evidence.
    pub pages: Vec<Page>,
    /// How the report was made: label and value.
    pub stamp: Vec<(String, String)>,
}

/// One answer at the head of a report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Lead {
    /// What it is about, in a few words.
    pub label: String,
    /// The answer, a sentence or two a line.
    pub lines: Vec<String>,
}

impl Lead {
    /// An answer in one line under its label.
    #[must_use]
    pub fn new(label: &str, text: impl Into<String>) -> Self {
        Self {
            label: label.to_owned(),
            lines: vec![text.into()],
        }
    }
}

/// A page for one reader.
#[derive(Debug, Clone)]
pub struct Page {
    /// Anchor: letters, digits and hyphens.
    pub id: String,
    /// Title.
    pub title: String,
    /// Whom it is for, in a sentence.
    pub reader: String,
    /// What stands on it, top to bottom.
    pub blocks: Vec<Block>,
}

/// A piece of a page.
#[derive(Debug, Clone)]
pub enum Block {
    /// A heading.
    Heading(String),
    /// The answer to a question, set off from the rest.
    Answer(String),
    /// A paragraph.
    Text(String),
    /// A list.
    List(Vec<String>),
    /// What most readers can do without, behind a line that says what it is.
    Folded {
        /// What it is.
        title: String,
        /// Its paragraphs.
        lines: Vec<String>,
    },
    /// A picture with its data.
    Figure(Box<Chart>),
    /// A table.
    Table(Table),
    /// What to mind before acting.
    Cautions(Vec<Caution>),
    /// Other prices, intervals and stocks, worked out while the reader changes them.
    WhatIf(Box<WhatIf>),
}

/// A table of text that is ready to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What it shows.
    pub caption: String,
    /// Heads of the columns; true for columns of numbers, which are set to the right.
    pub columns: Vec<(String, bool)>,
    /// Cells, row by row.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// A table whose first column is text and whose others are numbers.
    #[must_use]
    pub fn new(caption: impl Into<String>, heads: &[&str], rows: Vec<Vec<String>>) -> Self {
        let columns = heads
            .iter()
            .enumerate()
            .map(|(i, h)| ((*h).to_owned(), i > 0))
            .collect();
        Self {
            caption: caption.into(),
            columns,
            rows,
        }
    }
}

/// A table of values in full precision, for files.
#[derive(Debug, Clone, PartialEq)]
pub struct DataTable {
    /// File name without its ending: letters, digits, `-` and `_`.
    pub name: String,
    /// Heads of the columns, with units.
    pub columns: Vec<String>,
    /// Cells, row by row.
    pub rows: Vec<Vec<Cell>>,
}

impl DataTable {
    /// Whether a column, counted from 0, holds numbers and no words.
    #[must_use]
    pub(crate) fn holds_numbers(&self, at: usize) -> bool {
        let number = |row: &Vec<Cell>| matches!(row.get(at), Some(Cell::Number(_)));
        self.rows.iter().all(number)
    }
}

/// A value in a file.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words.
    Text(String),
    /// A number; none, and one that is not finite, is written as an empty cell.
    Number(Option<f64>),
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Self::Number(Some(number))
    }
}

impl From<Option<f64>> for Cell {
    fn from(number: Option<f64>) -> Self {
        Self::Number(number)
    }
}
