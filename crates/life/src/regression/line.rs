//! Designs: the rows of columns that shift ln life, and the seals under each.

use super::Penalty;
use crate::terms::Terms;
use std::sync::Arc;

/// A design row by its entries that are not 0: column and value, columns rising.
pub type Row = Vec<(usize, f64)>;

/// Seals that share a design row, all of whose entries are written out.
#[derive(Clone)]
pub struct Cell {
    /// Design row x; the first entry is 1 for the intercept.
    pub row: Vec<f64>,
    /// Their observations, taken apart.
    pub terms: Arc<Terms>,
}

/// Seals that share a design row, an offset and a stratum.
#[derive(Clone)]
pub struct Line {
    /// Design row; column 0 is the intercept and holds 1.
    pub row: Row,
    /// A known shift of ln life.
    pub offset: f64,
    /// Which set of the law's other parameters they share.
    pub stratum: usize,
    /// Their observations, taken apart.
    pub terms: Arc<Terms>,
}

/// A regression to be fitted.
#[derive(Clone, Default)]
pub struct Design {
    /// Names of the columns, the intercept first.
    pub names: Vec<String>,
    /// Seals by design row.
    pub lines: Vec<Line>,
    /// Number of sets of the law's other parameters; 1 for a common shape.
    pub strata: usize,
    /// What is held near a value from outside the data.
    pub penalties: Vec<Penalty>,
}

impl Design {
    /// A design of written-out rows with one common shape.
    #[must_use]
    pub fn of_cells(names: &[String], cells: &[Cell]) -> Self {
        let lines = cells.iter().map(|c| Line {
            row: sparse(&c.row),
            offset: 0.0,
            stratum: 0,
            terms: Arc::clone(&c.terms),
        });
        Self {
            names: names.to_vec(),
            lines: lines.collect(),
            strata: 1,
            penalties: vec![],
        }
    }
}

/// The entries of a written-out row that are not 0.
#[must_use]
pub(super) fn sparse(row: &[f64]) -> Row {
    let entries = row.iter().copied().enumerate();
    entries.filter(|(_, value)| *value != 0.0).collect()
}

/// x·b.
pub(super) fn location(row: &Row, x: &[f64]) -> f64 {
    row.iter()
        .map(|(at, value)| value * x.get(*at).copied().unwrap_or(0.0))
        .sum()
}
