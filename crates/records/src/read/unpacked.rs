//! What an XLSX workbook says it unpacks to, before anything of it is unpacked. A part that unpacks to more
//! than its directory says is refused by the unpacker.

use super::Input;
use super::limits::{LARGEST_PART, LARGEST_WORKBOOK};
use crate::error::{Error, Kind};
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// The fewest bytes a shared text takes in its part, `<si/>`.
const SHORTEST_TEXT: usize = 5;

/// Refuses a workbook that unpacks to more than [`LARGEST_WORKBOOK`], with a part kept whole of more
/// than [`LARGEST_PART`], or one that counts more shared texts than its part can hold.
pub(crate) fn check(bytes: &[u8], input: &Input<'_>) -> Result<(), Error> {
    let bad = |e: zip::result::ZipError| super::xlsx::damaged(input, &e.to_string());
    let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(bad)?;
    let mut all = 0_u64;
    for at in 0..zip.len() {
        let mut part = zip.by_index(at).map_err(bad)?;
        let name = part.name().map_err(bad)?.to_ascii_lowercase();
        all = all.saturating_add(part.size());
        if all > LARGEST_WORKBOOK {
            return Err(too_large(input, LARGEST_WORKBOOK));
        }
        if part.size() > LARGEST_PART && !name.contains("sheets/") {
            return Err(too_large(input, LARGEST_PART));
        }
        if name.ends_with("sharedstrings.xml") {
            check_count(&kept(&mut part, input)?, input)?;
        }
    }
    Ok(())
}

fn kept(part: &mut impl Read, input: &Input<'_>) -> Result<Vec<u8>, Error> {
    let mut text = Vec::new();
    part.take(LARGEST_PART)
        .read_to_end(&mut text)
        .map_err(|e| super::xlsx::damaged(input, &e.to_string()))?;
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
