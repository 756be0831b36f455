//! The interval curve (Turnbull 1976): the survival of greatest likelihood for any mix of exact, right-,
//! left- and interval-censored lives with delayed entry. Mass inside a stretch has no place within it.

use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::{Sample, Seen};
use std::collections::BTreeMap;

/// Mass in the stretch (lower, upper] (a single age when they are equal).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mass {
    /// Lower end.
    pub lower: f64,
    /// Upper end; infinite for the mass that outlives all looks.
    pub upper: f64,
    /// Share failing in it.
    pub share: f64,
    /// Share surviving it.
    pub survival: f64,
    /// Standard error of that survival from the information of the masses; `None` with very many masses
    /// or singular information, and where the curve is 0.
    pub std_error: Option<f64>,
    /// Lower end of the pointwise interval on the log(−log) scale.
    pub lower_bound: Option<f64>,
    /// Upper end.
    pub upper_bound: Option<f64>,
}

/// The interval curve.
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalCurve {
    /// Stretches that carry mass, in order.
    pub masses: Vec<Mass>,
    /// Log-likelihood: Σ ln of the mass each observation can lie in.
    pub log_likelihood: f64,
    /// Largest violation of the likelihood's own conditions per seal (0 at the maximum).
    pub violation: f64,
}

/// One kind of observation as a range of cells: may lie in `low..high`, was watched for `entry..`.
#[derive(Debug, Clone, Copy)]
struct Cells {
    low: usize,
    high: usize,
    entry: usize,
    weight: f64,
}

/// A cell: the stretch between a lower end and the next upper end.
type Ends = (f64, f64);

/// Order of ends at one age: the closed lower end of an exact age, upper ends, open lower ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum End {
    Closed,
    Upper,
    Open,
}

fn bits(t: f64) -> u64 {
    t.to_bits()
}

/// Lower and upper ends of an observation.
fn ends(seen: Seen) -> ((u64, End), (u64, End)) {
    match seen {
        Seen::Exact(t) => ((bits(t), End::Closed), (bits(t), End::Upper)),
        Seen::Right(t) => ((bits(t), End::Open), (bits(f64::INFINITY), End::Upper)),
        Seen::Interval(a, b) => ((bits(a), End::Open), (bits(b), End::Upper)),
    }
}

/// Innermost stretches, and each observation as a range of them (equal ones merged).
fn cells(sample: &Sample) -> (Vec<Ends>, Vec<Cells>) {
    let mut marks = vec![];
    for o in sample.rows() {
        let (lower, upper) = ends(o.seen());
        marks.extend([lower, upper]);
        if o.entry() > 0.0 {
            // Mass must not straddle an entry age (Frydman 1994).
            marks.push((bits(o.entry()), End::Upper));
        }
    }
    marks.sort_unstable();
    marks.dedup();
    let inner: Vec<((u64, End), (u64, End))> = marks
        .windows(2)
        .filter_map(|w| match w {
            [a, b] if a.1 != End::Upper && b.1 == End::Upper => Some((*a, *b)),
            _ => None,
        })
        .collect();
    let mut merged: BTreeMap<(usize, usize, usize), f64> = BTreeMap::new();
    for o in sample.rows() {
        let (lower, upper) = ends(o.seen());
        let low = inner.partition_point(|c| c.0 < lower);
        let high = inner.partition_point(|c| c.1 <= upper);
        let entry = if o.entry() > 0.0 {
            inner.partition_point(|c| c.0 < (bits(o.entry()), End::Open))
        } else {
            0
        };
        *merged.entry((low, high, entry)).or_insert(0.0) += o.count();
    }
    let observed = merged
        .into_iter()
        .map(|((low, high, entry), weight)| Cells {
            low,
            high,
            entry,
            weight,
        });
    let ends = inner
        .iter()
        .map(|c| (f64::from_bits(c.0.0), f64::from_bits(c.1.0)))
        .collect();
    (ends, observed.collect())
}

/// The problem over cells.
struct Problem {
    observed: Vec<Cells>,
    cells: usize,
    total: f64,
    truncated: bool,
}

/// Newton's method is used up to this many cells with mass.
const DENSE: usize = 400;
/// Mass below this has left its cell for the standard errors.
const CARRIES: f64 = 1e-9;
/// Most EM steps.
const MOST_STEPS: usize = 20_000;
/// Conditions are met when no cell's slope exceeds 1 by more than this.
const MET: f64 = 1e-10;

impl Problem {
    fn sums(mass: &[f64]) -> Vec<f64> {
        let mut sums = Vec::with_capacity(mass.len() + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for m in mass {
            sum += m;
            sums.push(sum);
        }
        sums
    }

    fn between(sums: &[f64], low: usize, high: usize) -> f64 {
        let at = |i: usize| sums.get(i).copied().unwrap_or(0.0);
        at(high) - at(low)
    }

    fn log_likelihood(&self, mass: &[f64]) -> f64 {
        let sums = Self::sums(mass);
        self.observed
            .iter()
            .map(|o| {
                let inside = Self::between(&sums, o.low, o.high).ln();
                let watched = if o.entry > 0 {
                    Self::between(&sums, o.entry, self.cells).ln()
                } else {
                    0.0
                };
                o.weight * (inside - watched)
            })
            .sum()
    }

    /// Derivative of the log-likelihood in each cell's mass.
    fn slopes(&self, mass: &[f64]) -> Vec<f64> {
        let sums = Self::sums(mass);
        let mut steps = vec![0.0; self.cells + 1];
        let mut add = |low: usize, high: usize, value: f64| {
            if let Some(s) = steps.get_mut(low) {
                *s += value;
            }
            if let Some(s) = steps.get_mut(high) {
                *s -= value;
            }
        };
        for o in &self.observed {
            add(
                o.low,
                o.high,
                o.weight / Self::between(&sums, o.low, o.high),
            );
            if o.entry > 0 {
                add(
                    o.entry,
                    self.cells,
                    -o.weight / Self::between(&sums, o.entry, self.cells),
                );
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

    /// Largest violation per seal of the maximum's conditions: with the masses summing to one, the
    /// slope must be Σ (weights not truncated away) where there is mass and no more elsewhere.
    fn violation(&self, mass: &[f64]) -> f64 {
        let slopes = self.slopes(mass);
        let level: f64 = slopes.iter().zip(mass).map(|(s, m)| s * m).sum();
        let worst = slopes.iter().zip(mass).map(|(s, m)| {
            let over = (s - level) / self.total;
            over.max(m * over.abs())
        });
        worst.fold(0.0, f64::max)
    }

    /// One self-consistency step (Turnbull 1976), which never loses likelihood.
    fn em(&self, mass: &[f64]) -> Vec<f64> {
        let sums = Self::sums(mass);
        let slopes = self.slopes(mass);
        // Seals that were lost before watching began are restored in expectation: each adds
        // 1 / P(watched) seals in all.
        let restored: f64 = self
            .observed
            .iter()
            .map(|o| {
                o.weight
                    / if o.entry > 0 {
                        Self::between(&sums, o.entry, self.cells)
                    } else {
                        1.0
                    }
            })
            .sum();
        let ghosts: f64 = self
            .observed
            .iter()
            .filter(|o| o.entry > 0)
            .map(|o| o.weight / Self::between(&sums, o.entry, self.cells))
            .sum();
        mass.iter()
            .zip(&slopes)
            .map(|(m, s)| m * (s + ghosts) / restored)
            .collect()
    }

    /// A Newton step over the cells with mass, kept on the simplex; `None` when it cannot be taken.
    fn newton(&self, mass: &[f64]) -> Option<Vec<f64>> {
        let active: Vec<usize> = (0..self.cells)
            .filter(|j| mass.get(*j).is_some_and(|m| *m > 0.0))
            .collect();
        let k = active.len();
        if self.truncated || !(2..=DENSE).contains(&k) {
            return None;
        }
        let slopes = self.slopes(mass);
        let information = self.information(mass, &active);
        let mut matrix = DMatrix::zeros(k + 1, k + 1);
        matrix.view_mut((0, 0), (k, k)).copy_from(&information);
        let mut right = DVector::zeros(k + 1);
        for (i, j) in active.iter().enumerate() {
            matrix[(i, k)] = 1.0;
            matrix[(k, i)] = 1.0;
            right[i] = *slopes.get(*j)?;
        }
        let step = matrix.lu().solve(&right)?;
        let mut reach: f64 = 1.0;
        for (i, j) in active.iter().enumerate() {
            let m = *mass.get(*j)?;
            if step[i] < 0.0 {
                reach = reach.min(-m / step[i]);
            }
        }
        let before = self.log_likelihood(mass);
        for _ in 0..40 {
            let mut next = mass.to_vec();
            for (i, j) in active.iter().enumerate() {
                let m = next.get_mut(*j)?;
                *m += reach * step[i];
                if *m < 1e-14 {
                    *m = 0.0;
                }
            }
            let sum: f64 = next.iter().sum();
            next.iter_mut().for_each(|m| *m /= sum);
            let after = self.log_likelihood(&next);
            if after >= before - 1e-13 * before.abs() {
                return Some(next);
            }
            reach *= 0.5;
        }
        None
    }

    /// Σ w (a aᵀ / P² − b bᵀ / P_b²) over the active cells: a marks the cells an observation can lie in,
    /// b those after its entry.
    fn information(&self, mass: &[f64], active: &[usize]) -> DMatrix<f64> {
        let sums = Self::sums(mass);
        let k = active.len();
        let mut out = DMatrix::zeros(k, k);
        for o in &self.observed {
            let p = Self::between(&sums, o.low, o.high);
            let low = active.partition_point(|j| *j < o.low);
            let high = active.partition_point(|j| *j < o.high);
            let value = o.weight / (p * p);
            for i in low..high {
                for j in low..high {
                    out[(i, j)] += value;
                }
            }
            if o.entry > 0 {
                let watched = Self::between(&sums, o.entry, self.cells);
                let value = o.weight / (watched * watched);
                let low = active.partition_point(|j| *j < o.entry);
                for i in low..k {
                    for j in low..k {
                        out[(i, j)] -= value;
                    }
                }
            }
        }
        out
    }

    /// EM steps, Newton steps, and cells that should have mass taken in again, until the conditions hold.
    fn solve(&self) -> Vec<f64> {
        let mut mass = vec![1.0 / self.cells as f64; self.cells];
        let mut steps = 0;
        while steps < MOST_STEPS {
            for _ in 0..40 {
                mass = self.em(&mass);
                steps += 1;
            }
            // Mass that is leaving is taken out at once; its slope decides whether it comes back.
            let slopes = self.slopes(&mass);
            if !self.truncated {
                for (m, s) in mass.iter_mut().zip(&slopes) {
                    if *m < 1e-5 && *s < self.total * (1.0 - 1e-3) {
                        *m = 0.0;
                    }
                }
            }
            for _ in 0..30 {
                match self.newton(&mass) {
                    Some(next) => {
                        let moved = next
                            .iter()
                            .zip(&mass)
                            .map(|(a, b)| (a - b).abs())
                            .fold(0.0, f64::max);
                        mass = next;
                        if moved < 1e-15 {
                            break;
                        }
                    }
                    None => break,
                }
            }
            if self.violation(&mass) <= MET {
                break;
            }
            let slopes = self.slopes(&mass);
            let level = self.total;
            for (m, s) in mass.iter_mut().zip(&slopes) {
                if *m == 0.0 && *s > level {
                    *m = 1e-4;
                }
            }
            let sum: f64 = mass.iter().sum();
            mass.iter_mut().for_each(|m| *m /= sum);
        }
        mass
    }
}

/// Turnbull's curve with pointwise intervals at two-sided confidence `level`. `None` for no seals.
#[must_use]
pub fn curve(sample: &Sample, level: f64) -> Option<IntervalCurve> {
    let (ends, observed) = cells(sample);
    if ends.is_empty() || observed.iter().any(|o| o.low >= o.high) {
        return None;
    }
    let total = observed.iter().map(|o| o.weight).sum();
    let truncated = observed.iter().any(|o| o.entry > 0);
    let problem = Problem {
        observed,
        cells: ends.len(),
        total,
        truncated,
    };
    let mass = problem.solve();
    let errors = survival_errors(&problem, &mass);
    let z = normal_quantile(0.5 + 0.5 * level);
    let mut masses = vec![];
    let mut gone = 0.0;
    for (((lower, upper), share), error) in ends.iter().zip(&mass).zip(errors) {
        if *share <= 0.0 {
            continue;
        }
        gone += share;
        let survival = if upper.is_finite() {
            (1.0 - gone).max(0.0)
        } else {
            0.0
        };
        let survival = if survival < 1e-12 { 0.0 } else { survival };
        let std_error = error.filter(|_| survival > 0.0);
        let bounds = std_error.map(|e| log_log(survival, e, z));
        masses.push(Mass {
            lower: *lower,
            upper: *upper,
            share: *share,
            survival,
            std_error,
            lower_bound: bounds.map(|b| b.0),
            upper_bound: bounds.map(|b| b.1),
        });
    }
    let (log_likelihood, violation) = (problem.log_likelihood(&mass), problem.violation(&mass));
    Some(IntervalCurve {
        masses,
        log_likelihood,
        violation,
    })
}

fn log_log(survival: f64, error: f64, z: f64) -> (f64, f64) {
    let ln = survival.ln();
    let half = z * error / (survival * -ln);
    ((ln * half.exp()).exp(), (ln * (-half).exp()).exp())
}

/// Standard error of the survival after each cell, from the inverse information of the masses held to
/// sum to one.
fn survival_errors(problem: &Problem, mass: &[f64]) -> Vec<Option<f64>> {
    let none = vec![None; problem.cells];
    let active: Vec<usize> = (0..problem.cells)
        .filter(|j| mass.get(*j).is_some_and(|m| *m > CARRIES))
        .collect();
    let k = active.len();
    if !(2..=DENSE).contains(&k) {
        return none;
    }
    // With the last mass as one minus the others: J = I over differences to the last.
    let full = problem.information(mass, &active);
    let last = k - 1;
    let reduced = DMatrix::from_fn(last, last, |i, j| {
        full[(i, j)] - full[(i, last)] - full[(last, j)] + full[(last, last)]
    });
    let Some(covariance) = reduced.cholesky().map(|c| c.inverse()) else {
        return none;
    };
    let mut out = none;
    let mut upto = DVector::zeros(last);
    let mut next = active.iter().take(last).enumerate().peekable();
    let mut error = None;
    for (j, slot) in out.iter_mut().enumerate() {
        while let Some((i, _)) = next.next_if(|(_, a)| **a <= j) {
            upto[i] = 1.0;
            let variance = (upto.transpose() * &covariance * &upto)[(0, 0)];
            error = (variance >= 0.0).then(|| variance.sqrt());
        }
        *slot = error;
    }
    out
}
