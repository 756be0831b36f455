//! The likelihood of masses over cells: its value, slopes, curvature and the conditions of its maximum.
//!
//! Cells are stretches of age, or stretches of age by failure mode.
//!
//! With pᵢ the mass an observation can lie in and qᵢ the mass after its entry (all of it for a seal
//! watched from new), ℓ = Σ w ln pᵢ − Σ w ln qᵢ. It does not change when all masses are multiplied, so
//! the masses need not be held to sum to one while it is climbed.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::cells::Cells;
use nalgebra::DMatrix;
use std::collections::BTreeSet;

/// Ranges up to this long are summed one by one: differences of running sums lose the digits of a small
/// mass.
const SHORT: usize = 8;

/// Cells `low..high`.
pub(crate) type Range = (usize, usize);

/// What one kind of observation says of the masses.
pub(crate) trait Kind {
    /// Cells in which it can lie; the first range is where a search may begin.
    fn inside(&self) -> impl Iterator<Item = Range>;
    /// Cells it was watched for, where its watching began late; no range for one watched from new.
    fn watched(&self) -> impl Iterator<Item = Range>;
    /// Whether its watching began late.
    fn late(&self) -> bool;
    /// Seals.
    fn weight(&self) -> f64;
}

/// The problem over cells.
pub(crate) struct Problem<K = Cells> {
    pub observed: Vec<K>,
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

    fn over(&self, ranges: impl Iterator<Item = Range>) -> f64 {
        ranges.map(|(low, high)| self.between(low, high)).sum()
    }

    fn between(&self, low: usize, high: usize) -> f64 {
        if high.saturating_sub(low) <= SHORT {
            return self.mass.get(low..high).map_or(0.0, |m| m.iter().sum());
        }
        let at = |i: usize| self.upto.get(i).copied().unwrap_or(0.0);
        at(high) - at(low)
    }
}

impl<K: Kind> Problem<K> {
    /// `None` without cells, or when an observation can lie in none of them.
    pub fn new(observed: Vec<K>, cells: usize) -> Option<Self> {
        let nowhere = |o: &K| o.inside().all(|(low, high)| low >= high);
        if cells == 0 || observed.iter().any(nowhere) {
            return None;
        }
        let total = observed.iter().map(Kind::weight).sum();
        let new = observed.iter().filter(|o| !o.late());
        Some(Self {
            from_new: new.map(Kind::weight).sum(),
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
                let inside = sums.over(o.inside()).ln();
                let watched = if o.late() {
                    sums.over(o.watched()).ln()
                } else {
                    0.0
                };
                o.weight() * (inside - watched)
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
            let pull = o.weight() / sums.over(o.inside());
            o.inside().for_each(|(low, high)| add(low, high, pull));
            if o.late() {
                let push = -o.weight() / sums.over(o.watched());
                o.watched().for_each(|(low, high)| add(low, high, push));
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
            .map(|o| match o.late() {
                false => o.weight(),
                true => o.weight() / sums.over(o.watched()),
            })
            .sum();
        let next: Vec<f64> = mass
            .iter()
            .zip(slopes)
            .map(|(m, s)| (m * (1.0 + s / restored)).max(0.0))
            .collect();
        normalised(next)
    }

    /// Σ w a aᵀ / p² over the given groups of cells, where a marks the cells an observation can lie in.
    pub fn inside(&self, mass: &[f64], groups: &Groups) -> DMatrix<f64> {
        let sums = Sums::new(mass);
        let blocks = self.observed.iter().flat_map(|o| {
            let p = sums.over(o.inside());
            groups.square(o.inside(), o.weight() / (p * p))
        });
        blocks_sum(groups.count, blocks)
    }

    /// Σ w b bᵀ / q² over the given groups, where b marks the cells of an observation's watching that began late.
    pub fn watched(&self, mass: &[f64], groups: &Groups) -> DMatrix<f64> {
        let sums = Sums::new(mass);
        let late = self.observed.iter().filter(|o| o.late());
        let blocks = late.flat_map(|o| {
            let q = sums.over(o.watched());
            groups.square(o.watched(), o.weight() / (q * q))
        });
        blocks_sum(groups.count, blocks)
    }

    /// Few cells of which every observation can lie in at least one: the fewest where each lies in one range.
    pub fn stabbing(&self) -> BTreeSet<usize> {
        let end = |o: &&K| o.inside().next().map_or(0, |range| range.1);
        let mut by_end: Vec<&K> = self.observed.iter().collect();
        by_end.sort_by_key(end);
        let mut chosen = BTreeSet::new();
        for o in by_end {
            let stabbed =
                |(low, high): Range| low < high && chosen.range(low..high).next().is_some();
            if !o.inside().any(stabbed) {
                chosen.insert(end(&o).saturating_sub(1));
            }
        }
        chosen
    }
}

/// Masses scaled to sum to one.
pub(crate) fn normalised(mut mass: Vec<f64>) -> Vec<f64> {
    let sum: f64 = mass.iter().sum();
    mass.iter_mut().for_each(|m| *m /= sum);
    mass
}

/// Cells with mass taken together in runs, the masses within each held in proportion.
pub(crate) struct Groups {
    /// Of each cell, and of the place after the last: the group it is in or before, and the share of that group's mass
    /// that lies before it.
    places: Vec<(usize, f64)>,
    /// How many groups.
    pub count: usize,
}

impl Groups {
    /// Every one of the `active` cells, which are in order, by itself.
    pub fn single(cells: usize, active: &[usize]) -> Self {
        let mut places = Vec::with_capacity(cells + 1);
        let mut next = active.iter().peekable();
        let mut before = 0;
        for cell in 0..=cells {
            places.push((before, 0.0));
            if next.next_if(|a| **a == cell).is_some() {
                before += 1;
            }
        }
        Self {
            places,
            count: active.len(),
        }
    }

    /// The `active` cells, which are in order, in groups that end before the active cells numbered `ends`.
    pub fn ending(mass: &[f64], active: &[usize], ends: &[usize]) -> Self {
        let of = |j: &usize| mass.get(*j).copied().unwrap_or(0.0);
        let starts = std::iter::once(0).chain(ends.iter().copied());
        let total: Vec<f64> = starts
            .zip(ends)
            .map(|(from, to)| active.get(from..*to).unwrap_or(&[]).iter().map(of).sum())
            .collect();
        let mut places = Vec::with_capacity(mass.len() + 1);
        let mut next = active.iter().zip(1..).peekable();
        let (mut group, mut before) = (0, 0.0);
        for cell in 0..=mass.len() {
            places.push((group, before));
            if let Some((_, passed)) = next.next_if(|(a, _)| **a == cell) {
                before += of(&cell) / total.get(group).copied().unwrap_or(1.0);
                if ends.get(group) == Some(&passed) {
                    (group, before) = (group + 1, 0.0);
                }
            }
        }
        Self {
            places,
            count: total.len(),
        }
    }

    /// The group that a cell is in or before, and the share of its mass before it.
    pub fn place(&self, cell: usize) -> (usize, f64) {
        let end = (self.count, 0.0);
        self.places.get(cell).copied().unwrap_or(end)
    }

    /// The marks of ranges of cells, as runs of groups with the share of each that is marked.
    fn marked(&self, ranges: impl Iterator<Item = Range>) -> Vec<(Range, f64)> {
        let mut out = vec![];
        for (low, high) in ranges {
            let ((first, before), (last, after)) = (self.place(low), self.place(high));
            if first == last {
                out.push(((first, first + 1), after - before));
                continue;
            }
            if before > 0.0 {
                out.push(((first, first + 1), 1.0 - before));
            }
            out.push(((first + usize::from(before > 0.0), last), 1.0));
            out.push(((last, last + 1), after));
        }
        out.retain(|((low, high), share)| low < high && *share > 0.0);
        out
    }

    /// `value` times the square of the marks, as blocks of rows and columns.
    fn square(&self, ranges: impl Iterator<Item = Range>, value: f64) -> Vec<(Range, Range, f64)> {
        let marked = self.marked(ranges);
        let row = |(rows, a): &(Range, f64)| {
            let (rows, a) = (*rows, *a);
            marked
                .iter()
                .map(move |(columns, b)| (rows, *columns, value * a * b))
        };
        marked.iter().flat_map(row).collect()
    }
}

/// Sum of matrices that hold one value in a block of rows and columns and nothing elsewhere: marked at the corners,
/// then summed along both directions, so that the work does not grow with the blocks' size.
fn blocks_sum(size: usize, blocks: impl Iterator<Item = (Range, Range, f64)>) -> DMatrix<f64> {
    let mut corners = DMatrix::zeros(size + 1, size + 1);
    for ((top, bottom), (left, right), value) in blocks {
        corners[(top, left)] += value;
        corners[(top, right)] -= value;
        corners[(bottom, left)] -= value;
        corners[(bottom, right)] += value;
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
