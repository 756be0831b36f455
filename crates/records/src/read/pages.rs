//! The headers of a Parquet column's pages, held against their column before the decoder makes room for what
//! they claim: room that cannot be had ends the process.

use super::limits::{LARGEST_CHUNK, MOST_LISTED};

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
    let mut thrift = Thrift(chunk, 0);
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

/// Whether no list of a footer claims more members than there are bytes left for them, nor all lists together more than
/// [`MOST_LISTED`]: the decoder makes room for what is claimed.
pub(crate) fn footer_sound(footer: &[u8]) -> bool {
    Thrift(footer, MOST_LISTED)
        .skip(12, DEEPEST_IN_FOOTER)
        .is_some()
}

/// Thrift's compact protocol, as far as page headers and footers need it: what is left of the bytes, and of
/// the members that lists may have together (page headers have no lists).
struct Thrift<'a>(&'a [u8], usize);

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
                self.1 = self.1.checked_sub(members)?;
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A structure whose field 4 is a list of empty structures; `claimed` members, `there` of them there.
    fn listing(claimed: u32, there: usize) -> Vec<u8> {
        let mut footer = vec![0x49, 0xFC];
        let mut left = claimed;
        while left >= 0x80 {
            footer.push((left & 0x7F) as u8 | 0x80);
            left >>= 7;
        }
        footer.push(left as u8);
        footer.resize(footer.len() + there, 0);
        footer.push(0);
        footer
    }

    #[test]
    fn a_footer_lists_what_it_has() {
        assert!(footer_sound(&[0]));
        assert!(footer_sound(&listing(3, 3)));
        assert!(footer_sound(&listing(2_000_000, 2_000_000)));
        // More than there is, and more than is taken.
        assert!(!footer_sound(&listing(3, 1)));
        assert!(!footer_sound(&listing(u32::MAX, 100)));
        assert!(!footer_sound(&listing(2_200_000, 2_200_000)));
        assert!(!footer_sound(&[]));
    }

    /// Truth values of a list take a byte each; lists within lists count too.
    #[test]
    fn lists_of_truths_and_of_lists_are_passed_over() {
        // Field 1: three truths; field 2: two lists of one number each.
        assert!(footer_sound(&[
            0x19, 0x31, 1, 2, 1, 0x19, 0x29, 0x15, 4, 0x15, 6, 0
        ]));
        assert!(!footer_sound(&[0x19, 0x31, 1, 2]));
        let nested = vec![0x19; 40];
        assert!(!footer_sound(&nested));
    }
}
