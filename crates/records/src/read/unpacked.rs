//! What an XLSX workbook unpacks to, counted before anything of it is kept.
//!
//! Sizes in a ZIP directory are claims, so parts are unpacked into nothing and counted.

use super::Input;
use super::limits::{LARGEST_PART, LARGEST_WORKBOOK};
use crate::error::{Error, Kind};
use std::io::{Cursor, Read, sink};
use zip::ZipArchive;

/// Deflate shortens by 1032 at most, so what is packed smaller than this cannot unpack beyond the limit.
const DEFLATE: u64 = 1032;
/// The fewest bytes a shared text takes in its part, `<si/>`.
const SHORTEST_TEXT: usize = 5;

/// Refuses a workbook that unpacks to more than [`LARGEST_WORKBOOK`], with a part kept whole of more
/// than [`LARGEST_PART`], or one that counts more shared texts than its part can hold.
pub(crate) fn check(bytes: &[u8], input: &Input<'_>) -> Result<(), Error> {
    let bad = |e: zip::result::ZipError| super::xlsx::damaged(input, &e.to_string());
    let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(bad)?;
    let harmless = bytes.len() as u64 * DEFLATE <= LARGEST_PART;
    let mut left = LARGEST_WORKBOOK;
    for at in 0..zip.len() {
        let mut part = zip.by_index(at).map_err(bad)?;
        let name = part.name().map_err(bad)?.to_ascii_lowercase();
        if name.ends_with("sharedstrings.xml") {
            let text = kept(&mut part, input)?;
            left = left.saturating_sub(text.len() as u64);
            check_count(&text, input)?;
        } else if !harmless {
            let whole = if name.contains("sheets/") {
                LARGEST_WORKBOOK
            } else {
                LARGEST_PART
            };
            let most = left.min(whole);
            let unpacked = std::io::copy(&mut part.take(most + 1), &mut sink())
                .map_err(|e| super::xlsx::damaged(input, &e.to_string()))?;
            if unpacked > most {
                return Err(too_large(input, whole));
            }
            left -= unpacked;
        }
    }
    Ok(())
}

fn kept(part: &mut impl Read, input: &Input<'_>) -> Result<Vec<u8>, Error> {
    let mut text = Vec::new();
    part.take(LARGEST_PART + 1)
        .read_to_end(&mut text)
        .map_err(|e| super::xlsx::damaged(input, &e.to_string()))?;
    if text.len() as u64 > LARGEST_PART {
        return Err(too_large(input, LARGEST_PART));
    }
    Ok(text)
}

/// The decoder makes room for as many texts as the part says it has.
fn check_count(text: &[u8], input: &Input<'_>) -> Result<(), Error> {
    const MARK: &[u8] = b"uniqueCount";
    let mut rest = text;
    while let Some(at) = rest.windows(MARK.len()).position(|w| w == MARK) {
        rest = rest.get(at + MARK.len()..).unwrap_or_default();
        let digits: Vec<u8> = rest
            .iter()
            .skip_while(|b| matches!(b, b'=' | b'"' | b'\'' | b' ' | b'\t' | b'\r' | b'\n'))
            .take_while(|b| b.is_ascii_digit())
            .copied()
            .collect();
        let count = String::from_utf8_lossy(&digits);
        let most = text.len() / SHORTEST_TEXT + 1;
        if !count.is_empty() && count.parse::<usize>().map_or(true, |n| n > most) {
            return Err(super::xlsx::damaged(
                input,
                "it claims more texts than it has room for",
            ));
        }
    }
    Ok(())
}

fn too_large(input: &Input<'_>, most: u64) -> Error {
    Error::new(
        Kind::TooLarge,
        format!("the XLSX workbook unpacks to more than {} MiB", most >> 20),
        "save the sheet of the records alone, as CSV or Parquet",
    )
    .in_file(input.path)
}
