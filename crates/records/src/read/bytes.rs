//! Text files into memory and into UTF-8, with a refusal of endless lines on the way.

use super::Input;
use super::limits::LONGEST_LINE;
use super::open::Opened;
use crate::error::{Error, Kind};
use crate::finding::Finding;
use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};

/// Text, the name of its encoding, and what had to be guessed.
type Guessed = (String, &'static str, Option<Finding>);

/// A text in UTF-8, and what it was before.
pub(crate) struct Decoded {
    pub(crate) text: String,
    pub(crate) encoding: &'static str,
    pub(crate) note: Option<Finding>,
    /// Bytes of the file.
    pub(crate) bytes: u64,
    /// SHA-256 of the bytes.
    pub(crate) sha256: String,
}

/// Reads a text file and turns it into UTF-8; stops at the first line that is too long, so that a
/// file without line ends costs no more memory than one line may have.
pub(crate) fn read_text(input: &Input<'_>, file: Opened) -> Result<Decoded, Error> {
    let mut line_start = 0_usize;
    let content = file.content(input, |all, from| {
        let fresh = all.get(from..).unwrap_or_default();
        for (n, piece) in fresh.chunks(LONGEST_LINE).enumerate() {
            if let Some(at) = piece.iter().rposition(|b| matches!(b, b'\n' | b'\r')) {
                line_start = from + n * LONGEST_LINE + at + 1;
            } else if from + n * LONGEST_LINE + piece.len() - line_start > LONGEST_LINE {
                return Err(too_long(input, all, line_start));
            }
        }
        Ok(())
    })?;
    let bytes = content.bytes.len() as u64;
    let (text, encoding, note) = decode(content.bytes, input)?;
    Ok(Decoded {
        text,
        encoding,
        note,
        bytes,
        sha256: content.sha256,
    })
}

fn too_long(input: &Input<'_>, all: &[u8], start: usize) -> Error {
    let before = all.get(..start).unwrap_or_default();
    let line = 1 + before.iter().filter(|b| **b == b'\n').count() as u64;
    Error::new(
        Kind::LineTooLong,
        format!("line {line} is longer than {} MiB", LONGEST_LINE >> 20),
        "this is no table of records, or its line ends were lost: export it again as CSV",
    )
    .in_file(input.path)
    .at_row(line)
}

fn decode(bytes: Vec<u8>, input: &Input<'_>) -> Result<Guessed, Error> {
    let wide = if bytes.starts_with(&[0xFF, 0xFE]) {
        Some((UTF_16LE, "UTF-16 little endian"))
    } else if bytes.starts_with(&[0xFE, 0xFF]) {
        Some((UTF_16BE, "UTF-16 big endian"))
    } else {
        wide_without_mark(&bytes)
    };
    if let Some((encoding, name)) = wide {
        let (text, bad) = encoding.decode_with_bom_removal(&bytes);
        if bad {
            return Err(not_text(input, "broken UTF-16"));
        }
        return Ok((text.into_owned(), name, None));
    }
    if bytes.contains(&0) {
        return Err(not_text(input, "zero bytes, which no text has"));
    }
    match String::from_utf8(bytes) {
        Ok(text) if text.starts_with('\u{feff}') => Ok((
            text.trim_start_matches('\u{feff}').to_owned(),
            "UTF-8 with byte-order mark",
            None,
        )),
        Ok(text) => Ok((text, "UTF-8", None)),
        Err(e) => Ok(western(&e, input)),
    }
}

fn western(e: &std::string::FromUtf8Error, input: &Input<'_>) -> Guessed {
    let valid = e.utf8_error().valid_up_to();
    let before = e.as_bytes().get(..valid).unwrap_or_default();
    let line = 1 + before.iter().filter(|b| **b == b'\n').count() as u64;
    let (text, _) = WINDOWS_1252.decode_without_bom_handling(e.as_bytes());
    (
        text.into_owned(),
        "Windows-1252",
        Some(
            Finding::note(
                "encoding_guessed",
                "the file is not UTF-8 and was read as Windows-1252 (Latin-1); accented letters \
                 may be wrong",
            )
            .file(&input.path.display().to_string())
            .row(line)
            .mend("save the file as UTF-8"),
        ),
    )
}

/// UTF-16 without a mark: text in Latin letters has a zero in every other byte.
fn wide_without_mark(bytes: &[u8]) -> Option<(&'static encoding_rs::Encoding, &'static str)> {
    let head = bytes.get(..bytes.len().min(512))?;
    let pairs = head.chunks_exact(2);
    let count = pairs.len();
    if count == 0 || bytes.len() % 2 == 1 {
        return None;
    }
    let (mut low, mut high) = (0, 0);
    for pair in pairs {
        if let [a, b] = pair {
            low += usize::from(*a == 0 && *b != 0);
            high += usize::from(*b == 0 && *a != 0);
        }
    }
    if high * 10 >= count * 9 {
        Some((UTF_16LE, "UTF-16 little endian"))
    } else if low * 10 >= count * 9 {
        Some((UTF_16BE, "UTF-16 big endian"))
    } else {
        None
    }
}

fn not_text(input: &Input<'_>, what: &str) -> Error {
    Error::new(
        Kind::NotText,
        format!("the file is neither Parquet, XLSX nor text: it holds {what}"),
        "save the table as CSV (UTF-8), Parquet or XLSX",
    )
    .in_file(input.path)
}
