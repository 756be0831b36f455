//! Text tables: comma, semicolon or tab between the fields, quotes where needed.

use super::shape::{Split, rows};
use super::{Input, Opened, Reader, plain, quoted, read_text};
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::table::{self, Table};
use polars::prelude::*;

/// The reader of text tables.
pub(crate) struct Text;

impl Reader for Text {
    fn knows(&self, _head: &[u8]) -> bool {
        true
    }

    fn read(&self, input: &Input<'_>, file: Opened) -> Result<Table, Error> {
        let decoded = read_text(input, file)?;
        let table = parse(input, decoded.text, decoded.encoding, decoded.note)?;
        Ok(Table {
            bytes: decoded.bytes,
            sha256: decoded.sha256,
            ..table
        })
    }
}

/// Reads a table from its text; size and hash of the file are for the caller to add.
pub(crate) fn parse(
    input: &Input<'_>,
    text: String,
    encoding: &'static str,
    note: Option<Finding>,
) -> Result<Table, Error> {
    let text = with_line_feeds(text);
    let (header, body, header_row) = header_and_body(&text, input)?;
    let separator = separator(header, header_row, input)?;
    let names = names(header, separator);
    table::check_names(&names, input.path, Some(header_row))?;
    let first = header_row + 1;
    let split = if body.contains('"') {
        quoted::split(body, separator, names.len(), first, input.path)?
    } else {
        plain::split(body, separator, names.len(), first)
    };
    assemble(input, &names, split, header_row, separator, encoding, note)
}

/// Old files end lines with a lone carriage return.
fn with_line_feeds(text: String) -> String {
    let head = text.get(..text.len().min(1 << 16)).unwrap_or(&text);
    if !head.contains('\n') && head.contains('\r') {
        text.replace('\r', "\n")
    } else {
        text
    }
}

/// The first line that is not blank, what follows it, and its row number.
fn header_and_body<'a>(text: &'a str, input: &Input<'_>) -> Result<(&'a str, &'a str, u64), Error> {
    let mut rest = text;
    let mut row = 1;
    loop {
        let end = header_end(rest);
        let (line, body) = rest.split_at_checked(end).unwrap_or((rest, ""));
        if !line.trim().is_empty() {
            return Ok((line.trim_end_matches(['\r', '\n']), body, row));
        }
        if body.is_empty() {
            table::check_named(input.path, &[])?;
        }
        rest = body;
        row += 1;
    }
}

/// Where the first line ends, line ends inside quotes apart.
fn header_end(text: &str) -> usize {
    let mut open = false;
    for (at, b) in text.bytes().enumerate() {
        match b {
            b'"' => open = !open,
            b'\n' if !open => return at + 1,
            _ => {}
        }
    }
    text.len()
}

/// The mark that stands between the header's names: the one seen most often outside quotes.
fn separator(header: &str, row: u64, input: &Input<'_>) -> Result<u8, Error> {
    let mut counts = [(0_usize, b','), (0, b';'), (0, b'\t')];
    let mut open = false;
    for b in header.bytes() {
        if b == b'"' {
            open = !open;
        }
        for (count, mark) in &mut counts {
            *count += usize::from(!open && b == *mark);
        }
    }
    let best = counts.iter().rev().max_by_key(|(count, _)| *count).copied();
    match best {
        Some((count, mark)) if count > 0 => Ok(mark),
        _ => Err(Error::new(
            Kind::BadHeader,
            format!("the header \"{}\" has one column only", clip(header)),
            "put commas, semicolons or tabs between the columns; a table of seals has fitted, \
             removed and outcome, a table of lives has time and status, or lower and upper",
        )
        .in_file(input.path)
        .at_row(row)),
    }
}

fn clip(text: &str) -> String {
    text.chars().take(60).collect()
}

fn names(header: &str, separator: u8) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .delimiter(separator)
        .from_reader(header.as_bytes());
    let mut record = csv::StringRecord::new();
    match reader.read_record(&mut record) {
        Ok(true) => record
            .iter()
            .map(|n| n.split_whitespace().collect::<Vec<_>>().join(" "))
            .collect(),
        _ => Vec::new(),
    }
}

fn assemble(
    input: &Input<'_>,
    names: &[String],
    split: Split,
    header_row: u64,
    separator: u8,
    encoding: &'static str,
    note: Option<Finding>,
) -> Result<Table, Error> {
    table::check_named(input.path, names)?;
    let columns = split
        .columns
        .into_iter()
        .map(IntoColumn::into_column)
        .collect();
    let frame = table::frame(names, columns, input.path, Some(header_row))?;
    let file = input.path.display().to_string();
    let blank = split.skipped.len() - split.misshapen.len();
    let mut notes: Vec<Finding> = note.into_iter().collect();
    if blank > 0 {
        notes.push(
            Finding::note(
                "blank_rows",
                format!("{blank} blank lines were passed over"),
            )
            .file(&file)
            .mend("nothing to do, unless records are missing there"),
        );
    }
    Ok(Table {
        path: input.path.to_path_buf(),
        bytes: 0,
        sha256: String::new(),
        format: "text",
        encoding: Some(encoding),
        frame,
        header_row: Some(header_row),
        rows: rows(header_row + 1, split.height, &split.skipped),
        misshapen: split.misshapen,
        comma_is_free: separator != b',',
        notes,
        file,
    })
}
