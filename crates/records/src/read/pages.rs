//! The headers of a Parquet column's pages, held against their column before the decoder makes room for what
//! they claim: room that cannot be had ends the process.

use super::limits::LARGEST_CHUNK;

/// Structures within structures that a page header may have, and a footer.
const DEEPEST: u8 = 8;
const DEEPEST_IN_FOOTER: u8 = 32;

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
    let mut thrift = Thrift(chunk);
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
        let (true, Some(rest)) = (sizes, thrift.0.get(body..)) else {
            return false;
        };
        if !(0..=most).contains(&page.values) {
            return false;
        }
        if matches!(page.kind, 0 | 3) {
            left -= page.values;
        }
        thrift.0 = rest;
    }
    true
}

/// Whether no list of a footer claims more members than there are bytes left for them: the decoder makes room for all.
pub(crate) fn footer_sound(footer: &[u8]) -> bool {
    Thrift(footer).skip(12, DEEPEST_IN_FOOTER).is_some()
}

/// Thrift's compact protocol, as far as page headers and footers need it.
struct Thrift<'a>(&'a [u8]);

impl Thrift<'_> {
    fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }

    fn unsigned(&mut self) -> Option<u64> {
        let mut out = 0;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            out |= u64::from(byte & 0x7F) << shift;
            if byte < 0x80 {
                return Some(out);
            }
        }
        None
    }

    fn number(&mut self) -> Option<i64> {
        let n = self.unsigned()?;
        Some((n >> 1) as i64 ^ -((n & 1) as i64))
    }

    /// The number and kind of the next field; `None` inside at the end of a structure.
    fn field(&mut self, before: i64) -> Option<Option<(i64, u8)>> {
        let byte = self.byte()?;
        if byte == 0 {
            return Some(None);
        }
        let number = match byte >> 4 {
            0 => self.number()?,
            step => before.checked_add(i64::from(step))?,
        };
        Some(Some((number, byte & 0x0F)))
    }

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

    fn skip(&mut self, kind: u8, depth: u8) -> Option<()> {
        let depth = depth.checked_sub(1)?;
        match kind {
            1 | 2 => {}
            3 => drop(self.byte()?),
            4..=6 => drop(self.unsigned()?),
            7 => self.0 = self.0.get(8..)?,
            8 => {
                let length = usize::try_from(self.unsigned()?).ok()?;
                self.0 = self.0.get(length..)?;
            }
            12 => {
                let mut at = 0;
                while let Some((field, kind)) = self.field(at)? {
                    at = field;
                    self.skip(kind, depth)?;
                }
            }
            9 | 10 => {
                let head = self.byte()?;
                let members = match head >> 4 {
                    15 => usize::try_from(self.unsigned()?).ok()?,
                    few => usize::from(few),
                };
                // A member takes a byte or more; a truth value within a list takes one.
                if members > self.0.len() {
                    return None;
                }
                for _ in 0..members {
                    match head & 0x0F {
                        1 | 2 => drop(self.byte()?),
                        kind => self.skip(kind, depth)?,
                    }
                }
            }
            // Maps: neither page headers nor footers have one.
            _ => return None,
        }
        Some(())
    }
}
