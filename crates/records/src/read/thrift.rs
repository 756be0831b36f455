//! Thrift's compact protocol, as far as the page headers and the footer of a Parquet file need it.

pub(super) struct Thrift<'a> {
    /// Bytes not yet read.
    pub left: &'a [u8],
    /// Members that lists may have yet, all together.
    members: usize,
}

impl<'a> Thrift<'a> {
    /// The bytes, and how many members lists may have together.
    pub fn new(left: &'a [u8], members: usize) -> Self {
        Self { left, members }
    }

    pub fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.left.split_first()?;
        self.left = rest;
        Some(*first)
    }

    pub fn unsigned(&mut self) -> Option<u64> {
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

    pub fn number(&mut self) -> Option<i64> {
        let n = self.unsigned()?;
        Some((n >> 1) as i64 ^ -((n & 1) as i64))
    }

    /// The number and kind of the next field; `None` inside at the end of a structure.
    pub fn field(&mut self, before: i64) -> Option<Option<(i64, u8)>> {
        let byte = self.byte()?;
        if byte == 0 {
            return Some(None);
        }
        let number = match byte >> 4 {
            0 => self.number()?,
            step => before.checked_add(i64::from(step))?,
        };
        // Numbers have two bytes in the protocol: others would be cut to one that is known.
        (0..=i64::from(i16::MAX))
            .contains(&number)
            .then_some(Some((number, byte & 0x0F)))
    }

    /// Members of a list and their kind: no more than there are bytes, of which each takes one or more, and no truth values,
    /// which neither page headers nor footers list.
    pub fn list(&mut self) -> Option<(usize, u8)> {
        let head = self.byte()?;
        let members = match head >> 4 {
            15 => usize::try_from(self.unsigned()?).ok()?,
            few => usize::from(few),
        };
        self.members = self.members.checked_sub(members)?;
        let kind = head & 0x0F;
        (members <= self.left.len() && !matches!(kind, 1 | 2)).then_some((members, kind))
    }

    /// Passes over a value of this kind.
    pub fn skip(&mut self, kind: u8, depth: u8) -> Option<()> {
        let depth = depth.checked_sub(1)?;
        match kind {
            // A truth value lies in the kind of its field.
            1 | 2 => {}
            3 => drop(self.byte()?),
            4..=6 => drop(self.unsigned()?),
            7 => self.left = self.left.get(8..)?,
            8 => {
                let length = usize::try_from(self.unsigned()?).ok()?;
                self.left = self.left.get(length..)?;
            }
            12 => {
                let mut at = 0;
                while let Some((field, kind)) = self.field(at)? {
                    at = field;
                    self.skip(kind, depth)?;
                }
            }
            9 => {
                let (members, kind) = self.list()?;
                for _ in 0..members {
                    self.skip(kind, depth)?;
                }
            }
            // Sets and maps: neither page headers nor footers have one.
            _ => return None,
        }
        Some(())
    }
}
