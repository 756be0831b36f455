//! The headers of a Parquet column's pages, held against their column before the decoder makes room for what
//! they claim: room that cannot be had ends the process.

use super::limits::LARGEST_CHUNK;
use super::thrift::Thrift;

/// Structures within structures that a page header may have.
const DEEPEST: u8 = 8;

/// What a page header says.
#[derive(Default)]
struct Page {
    kind: i64,
    unpacked: i64,
    packed: i64,
    values: i64,
}

/// Whether the pages of a column chunk lie within it and claim no more values than the chunk has.
pub(crate) fn sound(chunk: &[u8], values: i64) -> bool {
    let mut thrift = Thrift::new(chunk, 0);
    let mut left = values;
    while left > 0 {
        let Some(page) = thrift.page() else {
            return false;
        };
        // A value of a dictionary takes a byte or more; other pages count against the chunk.
        let most = match page.kind {
            0 | 3 => left,
            _ => page.unpacked,
        };
        let sizes = 0 <= page.packed && (0..=LARGEST_CHUNK).contains(&page.unpacked);
        let body = usize::try_from(page.packed).unwrap_or(usize::MAX);
        let (true, Some(rest)) = (sizes, thrift.left.get(body..)) else {
            return false;
        };
        if !(0..=most).contains(&page.values) {
            return false;
        }
        if matches!(page.kind, 0 | 3) {
            left -= page.values;
        }
        thrift.left = rest;
    }
    true
}

impl Thrift<'_> {
    fn page(&mut self) -> Option<Page> {
        let (mut page, mut at) = (Page::default(), 0);
        while let Some((field, kind)) = self.field(at)? {
            at = field;
            match (field, kind) {
                (1, 5) => page.kind = self.number()?,
                (2, 5) => page.unpacked = self.number()?,
                (3, 5) => page.packed = self.number()?,
                (5 | 7 | 8, 12) => page.values = self.values()?,
                _ => self.skip(kind, DEEPEST)?,
            }
        }
        Some(page)
    }

    /// The first field of a data or dictionary page header.
    fn values(&mut self) -> Option<i64> {
        let (mut values, mut at) = (0, 0);
        while let Some((field, kind)) = self.field(at)? {
            at = field;
            match (field, kind) {
                (1, 5) => values = self.number()?,
                _ => self.skip(kind, DEEPEST)?,
            }
        }
        Some(values)
    }
}
