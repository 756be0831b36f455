//! Splits text without quotes, in parallel pieces that end at line ends.

use super::shape::{Shape, Split};
use polars::prelude::StringChunked;
use rayon::prelude::*;

/// Pieces are at least this long, in bytes.
const PIECE: usize = 1 << 20;

/// Splits the lines of `body` by `separator`; `first` is the row number of its first line.
pub(crate) fn split(body: &str, separator: u8, width: usize, first: u64) -> Split {
    let pieces = pieces(body);
    let counts: Vec<u64> = pieces
        .par_iter()
        .map(|p| p.bytes().filter(|b| *b == b'\n').count() as u64)
        .collect();
    let mut starts = Vec::with_capacity(pieces.len());
    let mut row = first;
    for count in &counts {
        starts.push(row);
        row += count;
    }
    let parts: Vec<Split> = pieces
        .par_iter()
        .zip(&starts)
        .zip(&counts)
        .map(|((piece, start), count)| one(piece, separator, width, *start, *count))
        .collect();
    join(parts, width)
}

/// Cuts the text after line ends into pieces of about equal length.
fn pieces(body: &str) -> Vec<&str> {
    let size = (body.len() / (4 * rayon::current_num_threads())).max(PIECE);
    let mut out = Vec::new();
    let mut rest = body;
    while rest.len() > size {
        let tail = rest.as_bytes().get(size..).unwrap_or_default();
        let Some(end) = tail.iter().position(|b| *b == b'\n') else {
            break;
        };
        let Some((piece, next)) = rest.split_at_checked(size + end + 1) else {
            break;
        };
        out.push(piece);
        rest = next;
    }
    if !rest.is_empty() {
        out.push(rest);
    }
    out
}

fn one(piece: &str, separator: u8, width: usize, first: u64, count: u64) -> Split {
    let mut shape = Shape::new(width, count as usize + 1);
    let mark = char::from(separator);
    let mut marks: Vec<usize> = Vec::with_capacity(width);
    for (row, line) in (first..).zip(piece.split_terminator('\n')) {
        let line = line.strip_suffix('\r').unwrap_or(line);
        marks.clear();
        marks.extend(
            line.bytes()
                .enumerate()
                .filter(|(_, b)| *b == separator)
                .map(|(at, _)| at),
        );
        if marks.len() + 1 == width && !blank(line, mark) {
            let ends = marks.iter().copied().chain([line.len()]);
            let starts = [0].into_iter().chain(marks.iter().map(|at| at + 1));
            shape.take(
                starts
                    .zip(ends)
                    .map(|(from, to)| line.get(from..to).unwrap_or_default()),
            );
        } else {
            odd(&mut shape, line, mark, row, marks.len() + 1);
        }
    }
    shape.finish()
}

fn blank(line: &str, mark: char) -> bool {
    line.starts_with([mark, ' ']) && line.chars().all(|c| c == mark || c.is_whitespace())
}

/// A line that is blank, too wide by empty fields only, or misshapen.
fn odd(shape: &mut Shape, line: &str, mark: char, row: u64, fields: usize) {
    let width = shape.width();
    if line.chars().all(|c| c == mark || c.is_whitespace()) {
        shape.skip(row);
    } else if fields > width && line.split(mark).skip(width).all(|f| f.trim().is_empty()) {
        shape.take(line.split(mark).take(width));
    } else {
        shape.refuse(row, fields);
    }
}

fn join(parts: Vec<Split>, width: usize) -> Split {
    let mut whole = Shape::new(width, 0).finish();
    for part in parts {
        whole.height += part.height;
        whole.skipped.extend(part.skipped);
        whole.misshapen.extend(part.misshapen);
        for (into, column) in whole.columns.iter_mut().zip(&part.columns) {
            append(into, column);
        }
    }
    whole
}

/// Appends chunk to chunk; the columns are all text, so it cannot fail.
fn append(into: &mut StringChunked, more: &StringChunked) {
    let done = into.append(more);
    debug_assert!(done.is_ok());
}
