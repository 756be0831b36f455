//! What is wrong or doubtful in the data, with its place and mend; collected, never thrown.

use serde::Serialize;
use std::collections::BTreeMap;

/// How grave a finding is.
///
/// ```
/// use sealspan_records::Severity;
/// assert_eq!(Severity::Warning.word(), "warning");
/// assert!(Severity::Error > Severity::Warning && Severity::Warning > Severity::Note);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; nothing was changed.
    Note,
    /// Doubtful; the row is used, or set aside for want of something.
    Warning,
    /// Wrong; the row, or the column, is not used.
    Error,
}

impl Severity {
    /// The severity's word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        }
    }
}

/// One finding. Of one kind, file and column the first 50 stand one by one; the others are one finding that counts them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// A stable word for programs, in snake case.
    pub kind: &'static str,
    /// How grave it is.
    pub severity: Severity,
    /// What was found.
    pub message: String,
    /// The file it is in; `None` where it is about none.
    pub file: Option<String>,
    /// The file's own row number; `None` where it is about more than one row.
    pub row: Option<u64>,
    /// The column, by the file's own name; `None` where it is about none.
    pub column: Option<String>,
    /// What to do about it.
    pub mend: String,
}

impl Finding {
    pub(crate) fn new(kind: &'static str, severity: Severity, message: impl Into<String>) -> Self {
        Self {
            kind,
            severity,
            message: message.into(),
            file: None,
            row: None,
            column: None,
            mend: String::new(),
        }
    }

    pub(crate) fn error(kind: &'static str, message: impl Into<String>) -> Self {
        Self::new(kind, Severity::Error, message)
    }

    pub(crate) fn warning(kind: &'static str, message: impl Into<String>) -> Self {
        Self::new(kind, Severity::Warning, message)
    }

    pub(crate) fn note(kind: &'static str, message: impl Into<String>) -> Self {
        Self::new(kind, Severity::Note, message)
    }

    pub(crate) fn file(mut self, file: &str) -> Self {
        self.file = Some(file.to_owned());
        self
    }

    pub(crate) fn row(mut self, row: u64) -> Self {
        self.row = Some(row);
        self
    }

    pub(crate) fn column(mut self, column: &str) -> Self {
        self.column = Some(column.to_owned());
        self
    }

    pub(crate) fn mend(mut self, mend: impl Into<String>) -> Self {
        self.mend = mend.into();
        self
    }
}

/// One row that is not used, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SetAside {
    /// The file; of a folder, the file in it.
    pub file: String,
    /// The file's own row number.
    pub row: u64,
    /// The column at fault, by the file's own name, where there is one.
    pub column: Option<String>,
    /// Why the row is not used.
    pub reason: String,
}

/// Most findings of one kind shown one by one for one column; the rest is summed up in one line.
pub const SHOWN_OF_A_KIND: usize = 50;

/// Kind, file and column.
type Alike = (&'static str, Option<String>, Option<String>);

/// Findings in the making: at most [`SHOWN_OF_A_KIND`] of a kind, column and file one by one.
#[derive(Debug, Clone, Default)]
pub(crate) struct Findings {
    list: Vec<Finding>,
    seen: BTreeMap<Alike, (usize, Severity)>,
}

impl Findings {
    pub(crate) fn push(&mut self, finding: Finding) {
        let key = (finding.kind, finding.file.clone(), finding.column.clone());
        let (seen, _) = self.seen.entry(key).or_insert((0, finding.severity));
        *seen += 1;
        if *seen <= SHOWN_OF_A_KIND {
            self.list.push(finding);
        }
    }

    pub(crate) fn extend(&mut self, more: impl IntoIterator<Item = Finding>) {
        for finding in more {
            self.push(finding);
        }
    }

    /// The findings, gravest first, then by file, row and kind; long runs summed up.
    pub(crate) fn finish(mut self) -> Vec<Finding> {
        for ((kind, file, column), (seen, severity)) in self.seen {
            if seen > SHOWN_OF_A_KIND {
                self.list.push(Finding {
                    kind,
                    severity,
                    message: format!("{} more rows like this", seen - SHOWN_OF_A_KIND),
                    file,
                    row: None,
                    column,
                    mend: "mend the first ones, then look again".to_owned(),
                });
            }
        }
        self.list.sort_by(|a, b| {
            (
                b.severity,
                &a.file,
                a.row.unwrap_or(u64::MAX),
                a.kind,
                &a.column,
            )
                .cmp(&(
                    a.severity,
                    &b.file,
                    b.row.unwrap_or(u64::MAX),
                    b.kind,
                    &b.column,
                ))
        });
        self.list
    }
}
