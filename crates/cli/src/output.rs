//! Writing the answer: one text or one JSON document on standard output.

use crate::{lines, page, rows};
use sealspan_report::render::json::compact;
use serde::Serialize;
use std::io::{self, BufWriter, Write};
use std::path::Path;

/// How an answer is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Format {
    /// For reading.
    #[default]
    Text,
    /// For programs: one document.
    Json,
    /// For tables: one row an item of the answer's main list, in full precision.
    Csv,
    /// The text as Markdown, its tables between pipes.
    Markdown,
}

impl Format {
    /// Whether it is for reading, not for programs.
    pub fn is_for_people(self) -> bool {
        matches!(self, Self::Text | Self::Markdown)
    }
}

type Writer = Box<dyn FnOnce(&mut dyn Write) -> io::Result<()>>;

/// An answer ready to be written, and the exit status that goes with it.
pub struct Output {
    write: Writer,
    status: u8,
}

impl Output {
    /// A document for programs, or its text for people.
    pub fn new<D: Serialize + 'static>(
        format: Format,
        document: D,
        text: impl FnOnce(&D) -> String,
    ) -> Self {
        match format {
            Format::Json => Self {
                write: Box::new(move |out| {
                    compact(out, &document).map_err(io::Error::other)?;
                    writeln!(out)
                }),
                status: 0,
            },
            Format::Csv => Self {
                write: Box::new(move |out| rows::csv(&document, out)),
                status: 0,
            },
            Format::Text => Self::text(page::plain(&lines::joined(&document, text(&document)))),
            Format::Markdown => {
                Self::text(page::markdown(&lines::joined(&document, text(&document))))
            }
        }
    }

    /// As [`Output::new`], the text ending with the folder that figures and results went to, if any.
    pub fn with_folder<D: Serialize + 'static>(
        format: Format,
        document: D,
        text: impl FnOnce(&D) -> String,
        folder: Option<&Path>,
    ) -> Self {
        Self::new(format, document, |d| match folder {
            Some(folder) => format!(
                "{}\nfigures and results are in {}\n",
                text(d),
                folder.display()
            ),
            None => text(d),
        })
    }

    /// Bytes as they are.
    pub fn bytes(bytes: Vec<u8>) -> Self {
        Self {
            write: Box::new(move |out| out.write_all(&bytes)),
            status: 0,
        }
    }

    fn text(text: String) -> Self {
        Self {
            write: Box::new(move |out| writeln!(out, "{}", text.trim_end())),
            status: 0,
        }
    }

    /// The same answer with another exit status.
    #[must_use]
    pub fn with_status(self, status: u8) -> Self {
        Self { status, ..self }
    }

    /// Writes the answer; a reader that has gone away is the end, not an error.
    pub fn print(self) -> u8 {
        let mut out = BufWriter::with_capacity(1 << 16, io::stdout().lock());
        let written = (self.write)(&mut out).and_then(|()| out.flush());
        match written {
            Ok(()) => self.status,
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => self.status,
            Err(error) => {
                let _ = writeln!(io::stderr(), "standard output cannot be written: {error}");
                2
            }
        }
    }
}
