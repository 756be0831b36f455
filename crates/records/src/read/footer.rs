//! The footer of a Parquet file, held against the shape that the format gives it before the decoder makes room for what
//! its lists claim. The decoder goes by the numbers of fields and not by their kinds: a field of another kind would have
//! it read a list where there is none.

use super::limits::MOST_LISTED;
use super::thrift::Thrift;

/// Structures and lists within each other.
const DEEPEST: u8 = 32;

/// The kind of a field.
enum Kind {
    Byte,
    Number,
    Truth,
    Bytes,
    Structure(Fields),
    List(&'static Kind),
}
use Kind::{Byte, Bytes, List, Number, Structure, Truth};

/// Fields by their numbers; those that are not here are passed over.
type Fields = &'static [(i64, Kind)];

// The structures of the Apache Parquet format (parquet.thrift), as far as the decoder reads them.
static FILE: Fields = &[
    (1, Number),
    (2, List(&Structure(SCHEMA_ELEMENT))),
    (3, Number),
    (4, List(&Structure(ROW_GROUP))),
    (5, List(&Structure(KEY_VALUE))),
    (6, Bytes),
    (7, List(&Structure(&[(1, EMPTY), (2, EMPTY)]))),
];
const EMPTY: Kind = Structure(&[]);
const SCHEMA_ELEMENT: Fields = &[
    (1, Number),
    (2, Number),
    (3, Number),
    (4, Bytes),
    (5, Number),
    (6, Number),
    (7, Number),
    (8, Number),
    (9, Number),
    (10, Structure(LOGICAL_TYPE)),
];
const LOGICAL_TYPE: Fields = &[
    (1, EMPTY),
    (2, EMPTY),
    (3, EMPTY),
    (4, EMPTY),
    (5, Structure(&[(1, Number), (2, Number)])),
    (6, EMPTY),
    (7, Structure(TIME)),
    (8, Structure(TIME)),
    (10, Structure(&[(1, Byte), (2, Truth)])),
    (11, EMPTY),
    (12, EMPTY),
    (13, EMPTY),
    (14, EMPTY),
    (15, EMPTY),
];
const TIME: Fields = &[
    (1, Truth),
    (2, Structure(&[(1, EMPTY), (2, EMPTY), (3, EMPTY)])),
];
const KEY_VALUE: Fields = &[(1, Bytes), (2, Bytes)];
const ROW_GROUP: Fields = &[
    (1, List(&Structure(COLUMN_CHUNK))),
    (2, Number),
    (3, Number),
    (4, List(&Structure(&[(1, Number), (2, Truth), (3, Truth)]))),
    (5, Number),
    (6, Number),
    (7, Number),
];
const COLUMN_CHUNK: Fields = &[
    (1, Bytes),
    (2, Number),
    (3, Structure(COLUMN)),
    (4, Number),
    (5, Number),
    (6, Number),
    (7, Number),
];
const COLUMN: Fields = &[
    (1, Number),
    (2, List(&Number)),
    (3, List(&Bytes)),
    (4, Number),
    (5, Number),
    (6, Number),
    (7, Number),
    (9, Number),
    (10, Number),
    (11, Number),
    (12, Structure(STATISTICS)),
    (14, Number),
    (15, Number),
];
const STATISTICS: Fields = &[
    (1, Bytes),
    (2, Bytes),
    (3, Number),
    (4, Number),
    (5, Bytes),
    (6, Bytes),
    (7, Truth),
    (8, Truth),
];

/// Whether the footer has the format's shape, no list of it claims more members than there are bytes left for them, nor
/// all together more than [`MOST_LISTED`].
pub(crate) fn footer_sound(footer: &[u8]) -> bool {
    let mut thrift = Thrift::new(footer, MOST_LISTED);
    thrift.structure(FILE, DEEPEST).is_some()
}

impl Thrift<'_> {
    fn structure(&mut self, fields: Fields, depth: u8) -> Option<()> {
        let mut at = 0;
        while let Some((number, kind)) = self.field(at)? {
            at = number;
            match fields.iter().find(|f| f.0 == number) {
                Some((_, known)) => self.known(known, kind, depth)?,
                None => self.skip(kind, depth)?,
            }
        }
        Some(())
    }

    fn known(&mut self, known: &Kind, kind: u8, depth: u8) -> Option<()> {
        let depth = depth.checked_sub(1)?;
        match (known, kind) {
            (Truth, 1 | 2) | (Byte, 3) | (Number, 4..=6) | (Bytes, 8) => self.skip(kind, depth),
            (Structure(fields), 12) => self.structure(fields, depth),
            (List(member), 9) => {
                let (members, kind) = self.list()?;
                (0..members).try_for_each(|_| self.known(member, kind, depth))
            }
            _ => None,
        }
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

    /// A field that the format knows is of the kind it has there; others are passed over by their own.
    #[test]
    fn known_fields_have_their_kinds() {
        // Field 1, the version: a number, not a structure.
        assert!(footer_sound(&[0x15, 2, 0]));
        assert!(!footer_sound(&[0x1C, 0, 0]));
        // Field 2, the schema: a list of structures, not of numbers and no number.
        assert!(footer_sound(&[0x29, 0x1C, 0x15, 2, 0, 0]));
        assert!(!footer_sound(&[0x29, 0x15, 2, 0]));
        assert!(!footer_sound(&[0x25, 2, 0]));
        // Field 20 is not known: a list of two lists of one number each.
        assert!(footer_sound(&[0x09, 40, 0x29, 0x15, 4, 0x15, 6, 0]));
        // A number of a field that two bytes would cut to 2.
        assert!(!footer_sound(&[0x05, 0x84, 0x80, 0x08, 2, 0]));
        assert!(!footer_sound(&[0x19; 40]));
    }
}
