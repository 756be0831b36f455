//! The likelihood of masses over cells: its value, slopes, curvature and the conditions of its maximum.
//!
//! With pᵢ the mass an observation can lie in and qᵢ the mass after its entry (all of it for a seal
//! watched from new), ℓ = Σ w ln pᵢ − Σ w ln qᵢ. It does not change when all masses are multiplied, so
//! the masses need not be held to sum to one while it is climbed.

use super::cells::Cells;
use nalgebra::DMatrix;

/// Ranges up to this long are summed one by one: differences of running sums lose the digits of a small
/// mass.
const SHORT: usize = 8;

/// The problem over cells.
pub(super) struct Problem {
    pub observed: Vec<Cells>,
    pub cells: usize,
    pub total: f64,
    /// Seals watched from new.
    from_new: f64,
}

/// Masses with their running sums.
struct Sums<'a> {
    mass: &'a [f64],
    upto: Vec<f64>,
}

impl<'a> Sums<'a> {
    fn new(mass: &'a [f64]) -> Self {
        let mut upto = Vec::with_capacity(mass.len() + 1);
        let mut sum = 0.0;
        upto.push(sum);
        for m in mass {
            sum += m;
            upto.push(sum);
        }
        Self { mass, upto }
    }

    fn between(&self, low: usize, high: usize) -> f64 {
        if high.saturating_sub(low) <= SHORT {
            return self.mass.get(low..high).map_or(0.0, |m| m.iter().sum());
        }
        let at = |i: usize| self.upto.get(i).copied().unwrap_or(0.0);
        at(high) - at(low)
    }
}

impl Problem {
    /// `None` without cells, or when an observation can lie in none of them.
    pub fn new(observed: Vec<Cells>, cells: usize) -> Option<Self> {
        if cells == 0 || observed.iter().any(|o| o.low >= o.high) {
            return None;
        }
        let total = observed.iter().map(|o| o.weight).sum();
        let new = observed.iter().filter(|o| o.entry == 0);
        Some(Self {
            from_new: new.map(|o| o.weight).sum(),
            observed,
            cells,
            total,
        })
    }

    /// Seals watched only from a later age.
    pub fn late(&self) -> f64 {
        self.total - self.from_new
    }

    /// Log-likelihood of masses that sum to one.
    pub fn log_likelihood(&self, mass: &[f64]) -> f64 {
        let sums = Sums::new(mass);
        self.observed
            .iter()
            .map(|o| {
                let inside = sums.between(o.low, o.high).ln();
                let watched = if o.entry > 0 {
                    sums.between(o.entry, self.cells).ln()
                } else {
                    0.0
                };
                o.weight * (inside - watched)
            })
            .sum()
    }

    /// Derivative of the log-likelihood in each cell's mass, where the masses sum to one.
    pub fn slopes(&self, mass: &[f64]) -> Vec<f64> {
        let sums = Sums::new(mass);
        let mut steps = vec![0.0; self.cells + 1];
        let mut add = |low: usize, high: usize, value: f64| {
            if let Some(s) = steps.get_mut(low) {
                *s += value;
            }
            if let Some(s) = steps.get_mut(high) {
                *s -= value;
            }
        };
        add(0, self.cells, -self.from_new);
        for o in &self.observed {
            add(o.low, o.high, o.weight / sums.between(o.low, o.high));
            if o.entry > 0 {
                let watched = sums.between(o.entry, self.cells);
                add(o.entry, self.cells, -o.weight / watched);
            }
        }
        let mut running = 0.0;
        steps
            .iter()
            .take(self.cells)
            .map(|s| {
                running += s;
                running
            })
            .collect()
    }

    /// Largest violation per seal of the maximum's own conditions (Kuhn and Tucker): no cell's slope
    /// above 0, and slope 0 wherever there is mass.
    pub fn violation(&self, mass: &[f64], slopes: &[f64]) -> f64 {
        let each = slopes.iter().zip(mass).map(|(s, m)| {
            let worst = s.max(m * s.abs()) / self.total;
            // An observation without mass has no slope: the conditions are not met.
            if worst.is_finite() {
                worst
            } else {
                f64::INFINITY
            }
        });
        each.fold(0.0, f64::max)
    }

    /// One self-consistency step (Turnbull 1976), which never loses likelihood.
    pub fn self_consistent(&self, mass: &[f64], slopes: &[f64]) -> Vec<f64> {
        let sums = Sums::new(mass);
        // Seals lost before watching began are restored in expectation: 1 / P(watched) seals for each.
        let restored: f64 = self
            .observed
            .iter()
            .map(|o| match o.entry {
                0 => o.weight,
                entry => o.weight / sums.between(entry, self.cells),
            })
            .sum();
        let next: Vec<f64> = mass
            .iter()
            .zip(slopes)
            .map(|(m, s)| (m * (1.0 + s / restored)).max(0.0))
            .collect();
        normalised(next)
    }

    /// Σ w a aᵀ / p² over the given cells, in order, where a marks the cells an observation can lie in.
    pub fn inside(&self, mass: &[f64], active: &[usize]) -> DMatrix<f64> {
        let sums = Sums::new(mass);
        let place = places(self.cells, active);
        let blocks = self.observed.iter().filter_map(|o| {
            let p = sums.between(o.low, o.high);
            Some((*place.get(o.low)?, *place.get(o.high)?, o.weight / (p * p)))
        });
        blocks_sum(active.len(), blocks)
    }

    /// Σ w b bᵀ / q² over the given cells, where b marks those after an observation's late entry.
    pub fn watched(&self, mass: &[f64], active: &[usize]) -> DMatrix<f64> {
        let sums = Sums::new(mass);
        let place = places(self.cells, active);
        let late = self.observed.iter().filter(|o| o.entry > 0);
        let blocks = late.filter_map(|o| {
            let q = sums.between(o.entry, self.cells);
            Some((*place.get(o.entry)?, active.len(), o.weight / (q * q)))
        });
        blocks_sum(active.len(), blocks)
    }

    /// Fewest cells of which every observation can lie in at least one.
    pub fn stabbing(&self) -> Vec<usize> {
        let mut by_end: Vec<&Cells> = self.observed.iter().collect();
        by_end.sort_by_key(|o| o.high);
        let mut chosen: Vec<usize> = vec![];
        for o in by_end {
            if chosen.last().is_none_or(|c| *c < o.low) {
                chosen.push(o.high - 1);
            }
        }
        chosen
    }
}

/// Masses scaled to sum to one.
pub(super) fn normalised(mut mass: Vec<f64>) -> Vec<f64> {
    let sum: f64 = mass.iter().sum();
    mass.iter_mut().for_each(|m| *m /= sum);
    mass
}

/// How many of the `active` cells, which are in order, lie before each cell.
fn places(cells: usize, active: &[usize]) -> Vec<usize> {
    let mut out = Vec::with_capacity(cells + 1);
    let mut next = active.iter().peekable();
    let mut before = 0;
    for cell in 0..=cells {
        out.push(before);
        if next.next_if(|a| **a == cell).is_some() {
            before += 1;
        }
    }
    out
}

/// Sum of matrices that hold one value in the square block `low..high` and nothing elsewhere: marked at
/// the corners, then summed along both directions, so that the work does not grow with the blocks' size.
fn blocks_sum(size: usize, blocks: impl Iterator<Item = (usize, usize, f64)>) -> DMatrix<f64> {
    let mut corners = DMatrix::zeros(size + 1, size + 1);
    for (low, high, value) in blocks {
        corners[(low, low)] += value;
        corners[(low, high)] -= value;
        corners[(high, low)] -= value;
        corners[(high, high)] += value;
    }
    let mut out = corners.remove_row(size).remove_column(size);
    for j in 0..size {
        for i in 1..size {
            out[(i, j)] += out[(i - 1, j)];
        }
    }
    for j in 1..size {
        for i in 0..size {
            out[(i, j)] += out[(i, j - 1)];
        }
    }
    out
}
