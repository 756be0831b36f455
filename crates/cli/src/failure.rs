//! What went wrong, in words for people and as one document for programs.

use crate::output::{Format, Output};
use crate::page;
use serde::Serialize;
use std::io::Write;

/// Bad usage or input.
const BAD: u8 = 2;
/// The question can't be answered from this data.
const UNANSWERABLE: u8 = 1;

/// A failure with its place and its mend; boxed, for it travels through every result.
#[derive(Debug, Clone, Serialize)]
#[serde(transparent)]
pub struct Failure(Box<Body>);

#[derive(Debug, Clone, Serialize)]
struct Body {
    kind: String,
    message: String,
    file: Option<String>,
    row: Option<u64>,
    column: Option<String>,
    mend: Option<String>,
    #[serde(skip)]
    status: u8,
}

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    error: Failure,
}

impl Failure {
    fn new(kind: &str, message: impl Into<String>, status: u8) -> Self {
        Self(Box::new(Body {
            kind: kind.to_owned(),
            message: message.into(),
            file: None,
            row: None,
            column: None,
            mend: None,
            status,
        }))
    }

    fn mended(mut self, mend: impl Into<String>) -> Self {
        self.0.mend = Some(mend.into());
        self
    }

    /// The arguments are wrong.
    pub fn usage(error: &clap::Error) -> Self {
        let text = error.render().to_string();
        let message = text.trim().strip_prefix("error: ").unwrap_or(text.trim());
        let mend = match error.kind() {
            clap::error::ErrorKind::ValueValidation | clap::error::ErrorKind::InvalidValue => {
                "give that option a value of the kind it takes: --help says which"
            }
            _ => "see --help for what there is",
        };
        Self::new("usage", message, BAD).mended(mend)
    }

    /// An argument's value is wrong.
    pub fn argument(message: impl Into<String>, mend: impl Into<String>) -> Self {
        Self::new("usage", message, BAD).mended(mend)
    }

    /// The input is wrong.
    pub fn input(message: impl Into<String>, mend: impl Into<String>) -> Self {
        Self::new("input", message, BAD).mended(mend)
    }

    /// The data do not answer the question.
    pub fn unanswerable(message: impl Into<String>, mend: impl Into<String>) -> Self {
        Self::new("unanswerable", message, UNANSWERABLE).mended(mend)
    }

    /// The same failure, placed in a file.
    #[must_use]
    pub fn in_file(mut self, file: &std::path::Path) -> Self {
        self.0.file = Some(file.display().to_string());
        self
    }

    /// The same failure, at a cell of a file.
    #[must_use]
    pub fn at(mut self, place: sealspan_records::Place) -> Self {
        self.0.file = Some(place.file);
        self.0.row = Some(place.row);
        self.0.column = Some(place.column);
        self
    }

    /// What went wrong, in words.
    pub fn message(&self) -> String {
        self.0.message.clone()
    }

    /// Prints the failure: a JSON document on standard output, or words on standard error.
    pub fn print(self, format: Format) -> u8 {
        let status = self.0.status;
        match format {
            Format::Json => {
                let document = Document {
                    schema: "sealspan.error.v1",
                    error: self,
                };
                Output::new(Format::Json, document, |_| String::new())
                    .with_status(status)
                    .print()
            }
            Format::Text | Format::Csv | Format::Markdown => {
                // Standard error may be closed; the exit status still tells.
                let _ = writeln!(std::io::stderr(), "{}", page::plain(&self.words()));
                status
            }
        }
    }

    /// `error: message`, the place, and the mend on a line of its own.
    fn words(&self) -> String {
        let Body { message, .. } = &*self.0;
        let mut text = format!("error: {message}");
        let row = self.0.row.map(|r| format!("row {r}"));
        let column = self.0.column.as_ref().map(|c| format!("column `{c}`"));
        let place: Vec<String> = self
            .0
            .file
            .clone()
            .into_iter()
            .chain(row)
            .chain(column)
            .collect();
        if !place.is_empty() {
            text.push_str(&format!("\n  at: {}", place.join(", ")));
        }
        if let Some(mend) = &self.0.mend {
            text.push_str(&format!("\nmend: {mend}"));
        }
        text
    }
}

impl From<sealspan_records::Error> for Failure {
    fn from(error: sealspan_records::Error) -> Self {
        Self(Box::new(Body {
            kind: error.kind().to_string(),
            message: error.message().to_owned(),
            file: error.file().map(|f| f.display().to_string()),
            row: error.row(),
            column: error.column().map(str::to_owned),
            mend: Some(error.mend().to_owned()),
            status: if error.is_bad_input() {
                BAD
            } else {
                UNANSWERABLE
            },
        }))
    }
}

impl From<sealspan_care::error::Error> for Failure {
    fn from(error: sealspan_care::error::Error) -> Self {
        let (kind, status) = if error.is_input() {
            ("input", BAD)
        } else {
            ("unanswerable", UNANSWERABLE)
        };
        Self::new(kind, error.to_string(), status).mended(error.mend())
    }
}

impl From<sealspan_report::Error> for Failure {
    fn from(error: sealspan_report::Error) -> Self {
        let mend = if error.is_not_ours() {
            "choose another --out, or empty that folder"
        } else {
            "choose an --out that can be written to, with room for a few megabytes"
        };
        Self::new("output", error.to_string(), BAD).mended(mend)
    }
}
