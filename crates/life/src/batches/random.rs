//! Levels as draws from one normal: the spread between them, and each drawn towards the middle.

use super::spread::{LEAST, MOST, Spread};
use super::{Cell, expected};
use crate::family::Family;
use crate::fit::{Model, NoFit, fit_terms};
use crate::maximise::{information, newton_step};
use crate::quantity::Derivatives;
use crate::terms::Terms;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::Sample;
use std::cell::RefCell;
use std::sync::Arc;

/// Where the laws are fitted first.
const MIDDLING: f64 = 0.15;
/// Trapezoid nodes of a bell: from −6 to 6 standard deviations by steps of 1 (error of a normal: 5e-9).
const NODES: i32 = 6;
const STEP: f64 = 1.0;
/// Levels from which the laws, known well by then, are held while τ is sought, and fitted anew between.
const MANY: usize = 500;
/// Rounds of that.
const ROUNDS: usize = 2;
/// Most Newton steps, and halvings of one.
const STEPS: usize = 50;
const HALVES: i32 = 20;
/// Spreads that an interval is averaged over, and how far beyond the upper end of τ they go.
const GRID: usize = 12;
const BEYOND: f64 = 1.5;
/// A Newton step that promises less log-likelihood than this is the last.
const GAIN: f64 = 1e-6;

/// A level's life over that of its strata, drawn towards 1.
#[derive(Debug, Clone)]
pub struct LevelRatio {
    /// Its lives, failed or not.
    pub seals: f64,
    /// Failures.
    pub failures: f64,
    /// Failures expected were it like its strata.
    pub expected: f64,
    /// Life ratio: e to the posterior mean of its shift.
    pub ratio: f64,
    /// Lower end of the ratio, e to the posterior mean of the shift less z of its standard deviations, the laws taken
    /// as known, and τ too where the data show one; else averaged over those they leave open.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// All levels.
#[derive(Debug, Clone)]
pub struct RandomLevels {
    /// How far they lie apart.
    pub spread: Spread,
    /// Level by level, by number.
    pub levels: Vec<LevelRatio>,
    /// θ of each stratum's law at the middle level.
    pub laws: Vec<Vec<f64>>,
}

struct Problem {
    family: &'static dyn Family,
    /// By level: stratum and terms.
    cells: Vec<Vec<(usize, Terms)>>,
}

impl Problem {
    fn size(&self) -> usize {
        self.family.dimension()
    }

    fn theta(&self, x: &[f64], stratum: usize, delta: f64) -> Vec<f64> {
        let from = stratum * self.size();
        let own = x.get(from..from + self.size());
        let mut theta = own.unwrap_or_default().to_vec();
        if let Some(location) = theta.first_mut() {
            *location += delta;
        }
        theta
    }

    fn value(&self, level: &[(usize, Terms)], x: &[f64], delta: f64) -> f64 {
        let one = |(stratum, terms): &(usize, Terms)| {
            let theta = self.theta(x, *stratum, delta);
            self.family.log_likelihood(&theta, terms)
        };
        level.iter().map(one).sum()
    }

    /// By stratum: the log-likelihood with its derivatives in that stratum's parameters.
    fn derivatives(&self, level: &[(usize, Terms)], x: &[f64], delta: f64) -> Vec<Derivatives> {
        let one = |(stratum, terms): &(usize, Terms)| {
            let theta = self.theta(x, *stratum, delta);
            self.family.log_likelihood_derivatives(&theta, terms)
        };
        level.iter().map(one).collect()
    }

    /// First two derivatives in δ.
    fn bend(&self, level: &[(usize, Terms)], x: &[f64], delta: f64) -> (f64, f64) {
        let (mut first, mut second) = (0.0, 0.0);
        for d in self.derivatives(level, x, delta) {
            first += d.gradient.first().copied().unwrap_or(0.0);
            let corner = d.hessian.first().and_then(|r| r.first());
            second += corner.copied().unwrap_or(0.0);
        }
        (first, second)
    }

    /// ln of a level's integral with its derivatives in the parameters of its strata, in their order: the mean
    /// slope, and the mean bend plus the variance of the slope (Louis 1982, from memory).
    fn marginal(&self, level: &[(usize, Terms)], x: &[f64], tau: f64) -> Derivatives {
        let at = |delta| {
            let each = self.derivatives(level, x, delta);
            (each.iter().map(|d| d.value).sum(), each)
        };
        let (value, nodes) = self.nodes(level, x, tau, at);
        let (n, size) = (self.size(), self.size() * level.len());
        let mut mean = DVector::zeros(size);
        let mut square = DMatrix::zeros(size, size);
        for (weight, _, each) in &nodes {
            let slopes = each.iter().flat_map(|d| d.gradient.iter().copied());
            let slope = DVector::from_iterator(size, slopes);
            square += *weight * &slope * slope.transpose();
            mean += *weight * slope;
            for (block, d) in each.iter().enumerate() {
                let rows = d.hessian.iter().flatten().copied();
                let bend = DMatrix::from_row_iterator(n, n, rows);
                let mut own = square.view_mut((block * n, block * n), (n, n));
                own += *weight * bend;
            }
        }
        let bend = square - &mean * mean.transpose();
        Derivatives {
            value,
            gradient: mean.iter().copied().collect(),
            hessian: bend
                .row_iter()
                .map(|r| r.iter().copied().collect())
                .collect(),
        }
    }

    /// Where a level's posterior is highest, and how wide it is there.
    fn peak(&self, level: &[(usize, Terms)], x: &[f64], tau: f64) -> (f64, f64) {
        let precision = tau.powi(-2);
        let (mut mode, mut scale) = (0.0, tau);
        for _ in 0..40 {
            let (first, second) = self.bend(level, x, mode);
            let curve = (precision - second).max(precision);
            scale = curve.sqrt().recip();
            let step = (first - precision * mode) / curve;
            mode += step.clamp(-1.0, 1.0);
            // Nodes need not stand on the very top.
            if step.abs() < 1e-4 * scale {
                break;
            }
        }
        (mode, scale)
    }

    /// A level's nodes, weighed by `value` of the log-likelihood there, and the ln of their integral.
    fn nodes<T>(
        &self,
        level: &[(usize, Terms)],
        x: &[f64],
        tau: f64,
        at: impl Fn(f64) -> (f64, T),
    ) -> (f64, Vec<(f64, f64, T)>) {
        let (mode, scale) = self.peak(level, x, tau);
        let mut nodes: Vec<(f64, f64, T)> = (-NODES..=NODES)
            .map(|k| {
                let delta = mode + scale * STEP * f64::from(k);
                let (value, more) = at(delta);
                (value - 0.5 * (delta / tau).powi(2), delta, more)
            })
            .collect();
        let top = nodes.iter().map(|n| n.0).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = nodes.iter().map(|n| (n.0 - top).exp()).sum();
        for node in &mut nodes {
            node.0 = (node.0 - top).exp() / total;
        }
        let width = STEP * scale / (tau * (2.0 * std::f64::consts::PI).sqrt());
        (top + (total * width).ln(), nodes)
    }

    /// Posterior mean and standard deviation of a level's shift.
    fn shift(&self, level: &[(usize, Terms)], x: &[f64], tau: f64) -> (f64, f64) {
        let at = |delta| (self.value(level, x, delta), ());
        let (_, nodes) = self.nodes(level, x, tau, at);
        let mean: f64 = nodes.iter().map(|n| n.0 * n.1).sum();
        let square: f64 = nodes.iter().map(|n| n.0 * (n.1 - mean).powi(2)).sum();
        (mean, square.sqrt())
    }

    /// The laws at their best for one τ, and the marginal log-likelihood there: Newton's method, until a step
    /// promises next to nothing.
    fn solve(&self, tau: f64, from: &[f64]) -> (Vec<f64>, f64) {
        let mut x = from.to_vec();
        let mut here = self.all(&x, tau);
        for _ in 0..STEPS {
            let slope = DVector::from_column_slice(&here.gradient);
            let step = newton_step(&information(&here), &slope);
            let moved = |scale: f64| -> Vec<f64> {
                let both = x.iter().zip(step.iter());
                both.map(|(a, s)| a + scale * s).collect()
            };
            let gain = 0.5 * slope.dot(&step);
            if gain < GAIN {
                return (moved(1.0), here.value + gain);
            }
            let halves = (0..HALVES).map(|n| moved(0.5_f64.powi(n)));
            let mut tried = halves.map(|next| (self.all(&next, tau), next));
            match tried.find(|(there, _)| there.value > here.value) {
                Some((there, next)) => (here, x) = (there, next),
                None => break,
            }
        }
        (x, here.value)
    }

    /// Marginal log-likelihood at one τ with its derivatives in all parameters.
    fn all(&self, x: &[f64], tau: f64) -> Derivatives {
        let n = self.size();
        let cells = self.cells.par_iter();
        let each: Vec<Derivatives> = cells.map(|c| self.marginal(c, x, tau)).collect();
        let mut out = Derivatives {
            value: 0.0,
            gradient: vec![0.0; x.len()],
            hessian: vec![vec![0.0; x.len()]; x.len()],
        };
        for (level, d) in self.cells.iter().zip(each) {
            out.value += d.value;
            let places = level.iter().flat_map(|(s, _)| s * n..(s + 1) * n);
            let places: Vec<usize> = places.collect();
            for ((at, slope), bends) in places.iter().zip(&d.gradient).zip(&d.hessian) {
                if let Some(slot) = out.gradient.get_mut(*at) {
                    *slot += slope;
                }
                for (other, bend) in places.iter().zip(bends) {
                    if let Some(slot) = out.hessian.get_mut(*at).and_then(|r| r.get_mut(*other)) {
                        *slot += bend;
                    }
                }
            }
        }
        out
    }
}

impl Problem {
    /// Marginal log-likelihood at one τ with the laws as they are.
    fn held(&self, x: &[f64], tau: f64) -> f64 {
        let one = |level: &Vec<(usize, Terms)>| {
            let at = |delta| (self.value(level, x, delta), ());
            self.nodes(level, x, tau, at).0
        };
        let each: Vec<f64> = self.cells.par_iter().map(one).collect();
        each.iter().sum()
    }

    /// Laws near those at the likeliest τ, for many levels.
    fn near(&self, start: &[f64]) -> Vec<f64> {
        let mut near = self.solve(MIDDLING, start).0;
        if self.cells.len() < MANY {
            return near;
        }
        for _ in 0..ROUNDS {
            let profile = |q: f64| -self.held(&near, q.exp());
            let (q, _) = minimise_bracketed(profile, LEAST.ln(), MOST.ln(), 1e-2);
            near = self.solve(q.exp(), &near).0;
        }
        near
    }

    /// Spreads that the data leave open, with their weights: the estimate alone where its interval leaves 0 out; else
    /// those up to somewhat beyond its upper end, weighed by their likelihood (a flat prior on τ). An estimate of 0
    /// alone would draw every level wholly to 1, as if its life were known.
    fn open(&self, laws: &[Vec<f64>], spread: &Spread) -> Vec<(f64, f64)> {
        if spread.lower > 0.0 {
            return vec![(spread.tau, 1.0)];
        }
        let x: Vec<f64> = laws.iter().flatten().copied().collect();
        let top = spread.upper.map_or(MOST, |u| (BEYOND * u).min(MOST));
        let at = |k: usize| top * (k as f64 + 0.5) / GRID as f64;
        let heights: Vec<f64> = (0..GRID).map(|k| self.held(&x, at(k))).collect();
        let highest = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = heights.iter().map(|h| (h - highest).exp()).sum();
        let weights = heights.iter().map(|h| (h - highest).exp() / total);
        weights.enumerate().map(|(k, w)| (at(k), w)).collect()
    }

    /// τ with its interval and test; `null` is the log-likelihood without spread.
    fn spread(&self, near: &[f64], null: f64, confidence: f64) -> Spread {
        // Laws at one spread are near those at the next that is tried.
        let last = RefCell::new(near.to_vec());
        let many = self.cells.len() >= MANY;
        let profile = |q: f64| {
            if many {
                return self.held(near, q.exp());
            }
            let from = last.borrow().clone();
            let (x, value) = self.solve(q.exp(), &from);
            last.replace(x);
            value
        };
        Spread::by_profile(profile, null, confidence, if many { 1e-2 } else { 1e-3 })
    }
}

/// Fits all of `count` levels in `strata` strata, both numbered from 0. Every stratum must bear a law by itself.
///
/// A level's likelihood is ∫ Π L(location + δ) φ(δ/τ)/τ dδ, the product over its strata, by the trapezoid rule around
/// its peak (derivatives: Louis 1982, from memory); laws and τ are those at its largest product over levels, with τ at
/// its profile's interval of two-sided `confidence`. Where that interval reaches 0, a level's shift is averaged over τ
/// up to half as far again as the upper end, weighed by their likelihood (a rule of ours: a flat prior on τ).
///
/// # Errors
/// [`NoFit`] of the first stratum that does not.
///
/// ```
/// use sealspan_life::{batches::{Cell, levels}, laws::by_name};
/// use sealspan_records::{Observation, Sample};
/// let cell = |level, factor: f64| Cell {
///     stratum: 0,
///     level,
///     sample: Sample::new(
///         (1..=8).map(|i| Observation::exact(factor * f64::from(20 * i), 0.0, 1.0).unwrap()).collect(),
///     ),
/// };
/// // One batch of five lives a quarter as long.
/// let cells: Vec<Cell> = (0..5).map(|b| cell(b, if b == 4 { 0.25 } else { 1.0 })).collect();
/// let found = levels(by_name("weibull").unwrap(), 1, 5, &cells, 0.9).unwrap();
/// assert!(found.levels[4].upper < 1.0 && found.levels[0].lower < 1.0 && found.levels[0].upper > 1.0);
/// ```
pub fn levels(
    family: &'static dyn Family,
    strata: usize,
    count: usize,
    cells: &[Cell],
    confidence: f64,
) -> Result<RandomLevels, NoFit> {
    let (mut start, mut null) = (vec![], 0.0);
    for stratum in 0..strata {
        let own = cells.iter().filter(|c| c.stratum == stratum);
        let sample = Sample::new(own.flat_map(|c| c.sample.rows().iter().copied()).collect());
        let fit = fit_terms(Model::free(family), &Arc::new(Terms::new(&sample)))?;
        null += fit.log_likelihood;
        start.extend(fit.theta);
    }
    let mut by_level: Vec<Vec<(usize, Terms)>> = vec![vec![]; count];
    for cell in cells {
        if let Some(own) = by_level.get_mut(cell.level) {
            own.push((cell.stratum, Terms::new(&cell.sample)));
        }
    }
    let problem = Problem {
        family,
        cells: by_level,
    };
    // Laws at a middling spread are near those at every other.
    let near = problem.near(&start);
    let spread = problem.spread(&near, null, confidence);
    let tau = spread.tau;
    let laws = if tau > 0.0 {
        problem.solve(tau, &near).0
    } else {
        start
    };
    let n = family.dimension();
    let laws: Vec<Vec<f64>> = laws.chunks(n.max(1)).map(<[f64]>::to_vec).collect();
    let open = problem.open(&laws, &spread);
    Ok(RandomLevels {
        levels: ratios(&problem, cells, &laws, &open, confidence),
        spread,
        laws,
    })
}

fn ratios(
    problem: &Problem,
    cells: &[Cell],
    laws: &[Vec<f64>],
    open: &[(f64, f64)],
    confidence: f64,
) -> Vec<LevelRatio> {
    let z = normal_quantile(0.5 + 0.5 * confidence);
    let x: Vec<f64> = laws.iter().flatten().copied().collect();
    let mut of: Vec<Vec<&Cell>> = vec![vec![]; problem.cells.len()];
    for cell in cells {
        if let Some(own) = of.get_mut(cell.level) {
            own.push(cell);
        }
    }
    let each = problem.cells.iter().zip(&of);
    each.map(|(own, cells)| {
        let (mut mean, mut square) = (0.0, 0.0);
        for (tau, weight) in open {
            let (shift, sd) = problem.shift(own, &x, *tau);
            mean += weight * shift;
            square += weight * (sd * sd + shift * shift);
        }
        let sd = (square - mean * mean).max(0.0).sqrt();
        let mut out = LevelRatio {
            seals: 0.0,
            failures: 0.0,
            expected: 0.0,
            ratio: mean.exp(),
            lower: (mean - z * sd).exp(),
            upper: (mean + z * sd).exp(),
        };
        for cell in cells {
            let tally = cell.sample.tally();
            out.seals += tally.total();
            out.failures += tally.failures();
            let law = laws.get(cell.stratum).map_or(&[][..], Vec::as_slice);
            let rows = cell.sample.rows().iter();
            out.expected += rows.map(|o| expected(problem.family, law, o)).sum::<f64>();
        }
        out
    })
    .collect()
}

#[cfg(test)]
mod tests;
