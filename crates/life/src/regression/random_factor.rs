//! A factor of very many levels as draws from one normal: ln T = x·b + δ(level) + σε with δ ~ N(0, τ²).
//!
//! For a given τ this is a ridge: the penalised likelihood is climbed by Newton's method on a bordered system, whose
//! block of levels is diagonal, so that each step costs as much as its levels, not their square. τ maximises the
//! likelihood with the levels integrated out by Laplace's approximation (Tierney & Kadane 1986; Therneau, Grambsch
//! & Pankratz 2003 for the same in proportional hazards; from memory). So does the law's first own parameter (σ),
//! which the penalised likelihood alone would draw low, the levels taking up part of the scatter.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::line::{Design, Line, location};
use super::problem::MOST;
use super::{Regression, fit_design};
use crate::batches::spread::{LEAST, Spread};
use crate::family::Family;
use crate::fit::NoFit;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use std::cell::RefCell;

/// Step of ln σ by which a parabola through three values finds its best, and most moves of its middle.
const WIDTH: f64 = 0.1;
const MOVES: usize = 30;
/// Most Newton steps, and halvings of one; a step that promises less log-likelihood than the gain is the last.
const STEPS: usize = 60;
const HALVES: i32 = 25;
const GAIN: f64 = 1e-8;

/// A level drawn towards the middle.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnLevel {
    /// Shift of ln life, drawn towards 0.
    pub shift: f64,
    /// Its standard error, τ taken as known.
    pub std_error: f64,
    /// Lives.
    pub seals: f64,
    /// Failures.
    pub failures: f64,
}

/// The fitted regression.
#[derive(Clone)]
pub struct RandomFactor {
    /// The other effects and the law, at the middle level.
    pub regression: Regression,
    /// How far levels lie apart.
    pub spread: Spread,
    /// Level by level.
    pub levels: Vec<DrawnLevel>,
}

/// A line's value, slopes and bends in θ, row by row.
type Flat = [f64; 1 + MOST + MOST * MOST];

struct Problem<'a> {
    family: &'static dyn Family,
    design: &'a Design,
    level_of: &'a [usize],
    count: usize,
    /// Unknowns beside the levels.
    size: usize,
}

/// Where Newton's method stands.
#[derive(Clone)]
struct State {
    x: Vec<f64>,
    shifts: Vec<f64>,
}

/// Derivatives there, levels' block diagonal.
struct System {
    /// Penalised log-likelihood.
    value: f64,
    slope: DVector<f64>,
    /// Minus the second derivatives.
    own: DMatrix<f64>,
    level_slope: Vec<f64>,
    level_own: Vec<f64>,
    cross: Vec<Vec<f64>>,
}

impl Problem<'_> {
    fn shared(&self) -> usize {
        self.family.dimension().saturating_sub(1)
    }

    fn own_at(&self, stratum: usize) -> usize {
        self.design.names.len() + stratum * self.shared()
    }

    /// θ of a line; longer than the law needs, and 0 there.
    fn theta(&self, line: &Line, level: usize, state: &State) -> [f64; MOST] {
        let shift = state.shifts.get(level).copied().unwrap_or(0.0);
        let own = state.x.iter().skip(self.own_at(line.stratum));
        let mut theta = [0.0; MOST];
        theta[0] = location(&line.row, &state.x) + line.offset + shift;
        for (slot, value) in theta.iter_mut().skip(1).zip(own.take(self.shared())) {
            *slot = *value;
        }
        theta
    }

    fn lines(&self) -> impl IndexedParallelIterator<Item = (&Line, &usize)> {
        self.design.lines.par_iter().zip(self.level_of.par_iter())
    }

    fn value(&self, state: &State, tau: f64) -> f64 {
        let one = |(line, level): (&Line, &usize)| {
            self.family
                .log_likelihood(&self.theta(line, *level, state), &line.terms)
        };
        let each: Vec<f64> = self.lines().map(one).collect();
        each.iter().sum::<f64>() + self.penalty(state, tau)
    }

    /// What the log-likelihood loses to the levels' own law and to the stated penalties.
    fn penalty(&self, state: &State, tau: f64) -> f64 {
        let held: f64 = state.shifts.iter().map(|d| (d / tau).powi(2)).sum();
        let stated = self.design.penalties.iter().map(|p| p.value(&state.x));
        stated.sum::<f64>() - 0.5 * held
    }

    fn system(&self, state: &State, tau: f64) -> System {
        let one = |(line, level): (&Line, &usize)| {
            let theta = self.theta(line, *level, state);
            let mut out = [0.0; 1 + MOST + MOST * MOST];
            self.family.write_derivatives(&theta, &line.terms, &mut out);
            out
        };
        let each: Vec<Flat> = self.lines().map(one).collect();
        let (n, precision) = (self.size, tau.powi(-2));
        let mut out = System {
            value: 0.0,
            slope: DVector::zeros(n),
            own: DMatrix::zeros(n, n),
            level_slope: state.shifts.iter().map(|d| -d * precision).collect(),
            level_own: vec![precision; self.count],
            cross: vec![vec![0.0; n]; self.count],
        };
        let dimension = self.family.dimension();
        for ((line, level), d) in self.design.lines.iter().zip(self.level_of).zip(&each) {
            out.add(line, *level, d, (dimension, self.own_at(line.stratum)));
        }
        for p in &self.design.penalties {
            let off = (state.x.get(p.at).copied().unwrap_or(0.0) - p.mean) / p.sd;
            out.slope[p.at] -= off / p.sd;
            out.own[(p.at, p.at)] += 1.0 / (p.sd * p.sd);
        }
        out.value = each.iter().map(|d| d[0]).sum::<f64>() + self.penalty(state, tau);
        out
    }

    /// Climbs to the maximum of the penalised log-likelihood. `None` where it is not reached.
    /// With `held` the law's own parameters stay as they are.
    fn climb(&self, tau: f64, from: &State, held: bool) -> Option<(State, System, DMatrix<f64>)> {
        let mut state = from.clone();
        for _ in 0..STEPS {
            let system = self.system(&state, tau);
            let free = if held {
                self.design.names.len()
            } else {
                self.size
            };
            let (inverse, dx, shifts) = system.step(free)?;
            let gain = system.slope.dot(&dx)
                + system
                    .level_slope
                    .iter()
                    .zip(&shifts)
                    .map(|(g, d)| g * d)
                    .sum::<f64>();
            let moved = |scale: f64| State {
                x: state
                    .x
                    .iter()
                    .zip(dx.iter())
                    .map(|(a, s)| a + scale * s)
                    .collect(),
                shifts: state
                    .shifts
                    .iter()
                    .zip(&shifts)
                    .map(|(a, s)| a + scale * s)
                    .collect(),
            };
            if gain.abs() < GAIN {
                return Some((state, system, inverse));
            }
            let halves = (0..HALVES).map(|n| moved(0.5_f64.powi(n)));
            let next = halves.into_iter().find(|s| {
                let there = self.value(s, tau);
                there.is_finite() && there > system.value
            });
            match next {
                Some(next) => state = next,
                None => return Some((state, system, inverse)),
            }
        }
        None
    }
}

impl System {
    /// Adds a line's derivatives in θ; `own` is where its stratum's own parameters begin.
    fn add(&mut self, line: &Line, level: usize, d: &Flat, (dimension, own): (usize, usize)) {
        let at = |i: usize| d.get(i).copied().unwrap_or(0.0);
        let slope = |i: usize| at(1 + i);
        let bend = |i: usize, j: usize| at(1 + dimension + i * dimension + j);
        // The unknowns a line hangs on: its columns by the location, then the law's own parameters.
        let columns = line.row.iter().map(|(at, v)| (*at, *v, 0));
        let shape = (1..dimension).map(|k| (own + k - 1, 1.0, k));
        let places: Vec<(usize, f64, usize)> = columns.chain(shape).collect();
        for (i, a, k) in &places {
            self.slope[*i] += a * slope(*k);
            for (j, b, l) in &places {
                self.own[(*i, *j)] -= a * b * bend(*k, *l);
            }
            let cross = self.cross.get_mut(level).and_then(|c| c.get_mut(*i));
            if let Some(slot) = cross {
                *slot -= a * bend(0, *k);
            }
        }
        if let Some(slot) = self.level_slope.get_mut(level) {
            *slot += slope(0);
        }
        if let Some(slot) = self.level_own.get_mut(level) {
            *slot -= bend(0, 0);
        }
    }

    /// Covariance of what is not a level, and Newton's step, in which only the first `free` unknowns move.
    fn step(&self, free: usize) -> Option<(DMatrix<f64>, DVector<f64>, Vec<f64>)> {
        let (mut left, mut right) = (self.own.clone(), self.slope.clone());
        let levels = || {
            self.cross
                .iter()
                .zip(&self.level_own)
                .zip(&self.level_slope)
        };
        for ((cross, own), slope) in levels() {
            let used: Vec<(usize, f64)> = cross
                .iter()
                .copied()
                .enumerate()
                .filter(|(_, v)| *v != 0.0)
                .collect();
            for (i, a) in &used {
                right[*i] -= a * slope / own;
                for (j, b) in &used {
                    left[(*i, *j)] -= a * b / own;
                }
            }
        }
        for i in free..right.len() {
            right[i] = 0.0;
            left.row_mut(i).fill(0.0);
            left.column_mut(i).fill(0.0);
            left[(i, i)] = 1.0;
        }
        let inverse = left.cholesky()?.inverse();
        let dx = &inverse * right;
        let shift = |((cross, own), slope): ((&Vec<f64>, &f64), &f64)| {
            let told: f64 = cross.iter().zip(dx.iter()).map(|(c, d)| c * d).sum();
            (slope - told) / own
        };
        let shifts = levels().map(shift).collect();
        Some((inverse, dx, shifts))
    }

    /// Log-likelihood with the levels integrated out (Laplace), at the maximum.
    fn marginal(&self, tau: f64) -> f64 {
        let width: f64 = self
            .level_own
            .iter()
            .map(|own| (own * tau * tau).ln())
            .sum();
        self.value - 0.5 * width
    }
}

/// Fits a design with a random factor beside it: the level of each of its lines, of `count`. `confidence` is that of
/// the interval of τ; a `stated` τ is taken as it is.
///
/// # Errors
/// [`NoFit`] as without the factor, or where no τ lets the climb end.
pub fn random_factor(
    family: &'static dyn Family,
    design: &Design,
    level_of: &[usize],
    count: usize,
    confidence: f64,
    stated: Option<f64>,
) -> Result<RandomFactor, NoFit> {
    let plain = fit_design(family, design)?;
    let null = plain.maximum.value;
    let plain = plain.regression;
    let problem = Problem {
        family,
        design,
        level_of,
        count,
        size: plain.x.len(),
    };
    let last = RefCell::new(State {
        x: plain.x.clone(),
        shifts: vec![0.0; count],
    });
    let profile = |q: f64| {
        let found = problem.best(q.exp(), &last.borrow());
        found.map_or(f64::NEG_INFINITY, |(state, value)| {
            last.replace(state);
            value
        })
    };
    let spread = match stated {
        Some(tau) => Spread::stated(tau, profile(tau.max(LEAST).ln()), null),
        None => Spread::by_profile(profile, null, confidence, 1e-3),
    };
    let tau = spread.tau;
    let lost = NoFit::NotReached { slope: f64::NAN };
    let climbed = problem.best(tau.max(LEAST), &last.borrow());
    let (state, value) = climbed.ok_or(lost)?;
    let system = problem.system(&state, tau.max(LEAST));
    let (inverse, ..) = system.step(problem.size).ok_or(lost)?;
    let levels = problem.levels(&state, &system, &inverse);
    let penalties: f64 = design.penalties.iter().map(|p| p.value(&state.x)).sum();
    let regression = Regression {
        log_likelihood: value - penalties,
        covariance: inverse,
        x: state.x,
        ..plain
    };
    Ok(RandomFactor {
        regression,
        spread,
        levels,
    })
}

impl Problem<'_> {
    /// The maximum over everything but τ of the likelihood with the levels integrated out: where it lies, and what
    /// it is. σ is looked for from where `from` has it, the rest climbed to with σ held: with σ free the penalised
    /// likelihood may have no maximum where levels have a failure or two each.
    fn best(&self, tau: f64, from: &State) -> Option<(State, f64)> {
        let start = match self.shared() {
            1 => from.clone(),
            // Other parameters of the law are where the penalised likelihood has them, where it has a maximum.
            _ => self
                .climb(tau, from, false)
                .map_or_else(|| from.clone(), |found| found.0),
        };
        let at = |state: &State, step: f64| {
            let (state, system, _) = self.climb(tau, &self.wider(state, step), true)?;
            Some((state, system.marginal(tau)))
        };
        let mut middle = at(&start, 0.0)?;
        if self.shared() == 0 {
            return Some(middle);
        }
        for _ in 0..MOVES {
            let low = at(&middle.0, -WIDTH);
            let high = at(&middle.0, WIDTH);
            let value =
                |side: &Option<(State, f64)>| side.as_ref().map_or(f64::NEG_INFINITY, |s| s.1);
            let (down, up) = (value(&low), value(&high));
            let next = if down > middle.1 { low } else { high };
            match next.filter(|n| n.1 > middle.1) {
                Some(next) => middle = next,
                None => {
                    let bend = down - 2.0 * middle.1 + up;
                    let step = WIDTH * 0.5 * (down - up) / bend;
                    let top = (bend.is_finite() && bend < 0.0).then(|| at(&middle.0, step));
                    let top = top.flatten().filter(|t| t.1 > middle.1);
                    return Some(top.unwrap_or(middle));
                }
            }
        }
        Some(middle)
    }

    /// The same place with every σ e to the `step` times as large.
    fn wider(&self, state: &State, step: f64) -> State {
        let mut out = state.clone();
        for place in (0..self.design.strata.max(1)).map(|s| self.own_at(s)) {
            if let Some(slot) = out.x.get_mut(place) {
                *slot += step;
            }
        }
        out
    }

    fn levels(&self, state: &State, system: &System, inverse: &DMatrix<f64>) -> Vec<DrawnLevel> {
        let mut out: Vec<DrawnLevel> = state
            .shifts
            .iter()
            .zip(&system.cross)
            .zip(&system.level_own)
            .map(|((shift, cross), own)| {
                // Its own error, and that of what it is held against.
                let cross = DVector::from_column_slice(cross);
                let told = cross.dot(&(inverse * &cross)) / (own * own);
                DrawnLevel {
                    shift: *shift,
                    std_error: (own.recip() + told).sqrt(),
                    seals: 0.0,
                    failures: 0.0,
                }
            })
            .collect();
        for (line, level) in self.design.lines.iter().zip(self.level_of) {
            if let Some(own) = out.get_mut(*level) {
                own.seals += line.terms.extent.total;
                own.failures += line.terms.extent.failures;
            }
        }
        out
    }
}

#[cfg(test)]
mod tests;
