//! What the splitters of text share: column builders, and which lines did not fit.

use crate::table::{Misshapen, Rows};
use polars::prelude::*;

/// Columns of text in the making.
pub(crate) struct Shape {
    builders: Vec<StringChunkedBuilder>,
    height: usize,
    /// Row numbers that are not in the columns (blank or misshapen), ascending.
    skipped: Vec<u64>,
    misshapen: Vec<Misshapen>,
}

/// Columns of text, whole.
pub(crate) struct Split {
    pub(crate) columns: Vec<StringChunked>,
    pub(crate) height: usize,
    pub(crate) skipped: Vec<u64>,
    pub(crate) misshapen: Vec<Misshapen>,
}

impl Shape {
    pub(crate) fn new(width: usize, rows: usize) -> Self {
        Self {
            builders: (0..width)
                .map(|_| StringChunkedBuilder::new(PlSmallStr::EMPTY, rows))
                .collect(),
            height: 0,
            skipped: Vec::new(),
            misshapen: Vec::new(),
        }
    }

    /// Takes one row that is known to be as wide as the header.
    pub(crate) fn take<'a>(&mut self, fields: impl Iterator<Item = &'a str>) {
        for (builder, field) in self.builders.iter_mut().zip(fields) {
            let field = field.trim();
            if field.is_empty() {
                builder.append_null();
            } else {
                builder.append_value(field);
            }
        }
        self.height += 1;
    }

    pub(crate) fn skip(&mut self, row: u64) {
        self.skipped.push(row);
    }

    pub(crate) fn refuse(&mut self, row: u64, fields: usize) {
        self.skipped.push(row);
        self.misshapen.push(Misshapen {
            row,
            fields,
            expected: self.builders.len(),
        });
    }

    pub(crate) fn width(&self) -> usize {
        self.builders.len()
    }

    pub(crate) fn finish(self) -> Split {
        Split {
            columns: self.builders.into_iter().map(|b| b.finish()).collect(),
            height: self.height,
            skipped: self.skipped,
            misshapen: self.misshapen,
        }
    }
}

/// The row numbers of `height` rows that start at `first` and leave out `skipped`.
pub(crate) fn rows(first: u64, height: usize, skipped: &[u64]) -> Rows {
    if skipped.is_empty() {
        return Rows::From(first);
    }
    let mut list = Vec::with_capacity(height);
    let mut out = skipped.iter().copied().peekable();
    let mut row = first;
    while list.len() < height {
        if out.next_if_eq(&row).is_none() {
            list.push(row);
        }
        row += 1;
    }
    Rows::Listed(list)
}
