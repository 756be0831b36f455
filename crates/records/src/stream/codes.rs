//! The distinct rows of a batch: each column as codes, joined into one code a row.

use polars::prelude::*;

/// A code for each row, dense and in order of first appearance, and the row where each first stands.
#[derive(Debug, Default)]
pub(crate) struct Codes {
    pub(crate) of: Vec<u32>,
    pub(crate) first: Vec<IdxSize>,
}

/// Pairs of codes up to which they are joined through a table; more go through a map.
const TABLE: usize = 1 << 22;
const UNSEEN: u32 = u32::MAX;

impl Codes {
    /// A code of its own for every row: for batches in which hardly a row is like another.
    pub(crate) fn each(height: usize) -> Self {
        Self {
            of: (0..height as u32).collect(),
            first: (0..height as IdxSize).collect(),
        }
    }

    /// Codes of the rows that `columns` tell apart; one code for all where there is no column.
    pub(crate) fn of<'a>(height: usize, columns: impl Iterator<Item = &'a Column>) -> Self {
        let none = Self {
            of: vec![0; height],
            first: if height > 0 { vec![0] } else { Vec::new() },
        };
        columns.fold(none, |codes, column| codes.and(&Self::column(column)))
    }

    /// Codes of one column of text, numbers or dates.
    fn column(column: &Column) -> Self {
        let mut codes = Self {
            of: Vec::with_capacity(column.len()),
            first: Vec::new(),
        };
        if let Ok(text) = column.str() {
            let mut seen = PlHashMap::new();
            codes.fill(text.iter(), |cell, next| *seen.entry(cell).or_insert(next));
        } else if let Ok(numbers) = column.f64() {
            let mut seen = PlHashMap::new();
            let bits = numbers.iter().map(|v| v.map(f64::to_bits));
            codes.fill(bits, |cell, next| *seen.entry(cell).or_insert(next));
        } else if let Ok(dates) = column.date() {
            let mut seen = PlHashMap::new();
            let days = dates.physical().iter();
            codes.fill(days, |cell, next| *seen.entry(cell).or_insert(next));
        } else {
            codes.fill((0..column.len()).map(|_| ()), |(), _| 0);
        }
        codes
    }

    /// Appends the codes of cells; `code` gives the code of a cell, `next` if it is new.
    fn fill<T: PartialEq + Copy>(
        &mut self,
        cells: impl Iterator<Item = T>,
        mut code: impl FnMut(T, u32) -> u32,
    ) {
        let mut before: Option<(T, u32)> = None;
        for (at, cell) in cells.enumerate() {
            let known = before.filter(|(c, _)| *c == cell).map(|(_, code)| code);
            let next = self.first.len() as u32;
            let own = known.unwrap_or_else(|| code(cell, next));
            if own == next {
                self.first.push(at as IdxSize);
            }
            before = Some((cell, own));
            self.of.push(own);
        }
    }

    /// Codes of the pairs of two.
    pub(crate) fn and(self, other: &Self) -> Self {
        let (here, there) = (self.first.len(), other.first.len());
        if here <= 1 {
            return Self {
                of: other.of.clone(),
                first: other.first.clone(),
            };
        }
        if there <= 1 {
            return self;
        }
        let mut joined = Self {
            of: Vec::with_capacity(self.of.len()),
            first: Vec::new(),
        };
        let pairs = self.of.iter().copied().zip(other.of.iter().copied());
        if here.saturating_mul(there) <= TABLE {
            let mut seen = vec![UNSEEN; here * there];
            joined.fill(pairs, |(a, b), next| {
                match seen.get_mut(a as usize * there + b as usize) {
                    Some(slot) if *slot != UNSEEN => *slot,
                    Some(slot) => {
                        *slot = next;
                        next
                    }
                    None => next,
                }
            });
        } else {
            let mut seen = PlHashMap::new();
            joined.fill(pairs, |pair, next| *seen.entry(pair).or_insert(next));
        }
        joined
    }

    /// How many rows have each code.
    pub(crate) fn counts(&self) -> Vec<u64> {
        let mut counts = vec![0; self.first.len()];
        for code in &self.of {
            if let Some(n) = counts.get_mut(*code as usize) {
                *n += 1;
            }
        }
        counts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_alike_in_every_column_share_a_code() {
        let columns = [
            Column::new("time".into(), [5.0, 7.0, 5.0, 5.0, 7.0]),
            Column::new(
                "status".into(),
                [Some("failed"), None, None, Some("failed"), None],
            ),
        ];
        let codes = Codes::of(5, columns.iter());
        assert_eq!(codes.of, [0, 1, 2, 0, 1]);
        assert_eq!(codes.first, [0, 1, 2]);
        assert_eq!(codes.counts(), [2, 2, 1]);
    }

    #[test]
    fn many_codes_are_joined_as_few_are() {
        let a: Vec<f64> = (0..6000).map(|i| f64::from(i % 3000)).collect();
        let b: Vec<f64> = (0..6000).map(|i| f64::from((i * 7) % 2999)).collect();
        let columns = [Column::new("a".into(), &a), Column::new("b".into(), &b)];
        let codes = Codes::of(6000, columns.iter());
        let mut pairs: Vec<(u64, u64)> = a
            .iter()
            .zip(&b)
            .map(|(a, b)| (a.to_bits(), b.to_bits()))
            .collect();
        pairs.sort_unstable();
        pairs.dedup();
        assert_eq!(codes.first.len(), pairs.len());
    }

    #[test]
    fn without_a_column_all_rows_are_alike() {
        assert_eq!(Codes::of(3, std::iter::empty()).counts(), [3]);
        assert!(Codes::of(0, std::iter::empty()).first.is_empty());
    }
}
