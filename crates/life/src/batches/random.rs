//! Levels as draws from one normal: the spread between them, and each drawn towards the middle.

use super::{Cell, expected};
use crate::compare::Test;
use crate::family::Family;
use crate::fit::{Model, NoFit, fit_terms};
use crate::terms::Terms;
use rayon::prelude::*;
use sealspan_numeric::optimise::{Objective, bfgs, minimise_bracketed};
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::{chi_square_quantile, chi_square_survival, normal_quantile};
use sealspan_records::observation::Sample;
use std::sync::Arc;

/// Ends of the search for τ, in ln life.
const LEAST: f64 = 1e-3;
const MOST: f64 = 3.0;
/// Where the laws are fitted first.
const MIDDLING: f64 = 0.15;
/// Trapezoid nodes of a bell: from −6 to 6 standard deviations by steps of 3/4.
const NODES: i32 = 8;
const STEP: f64 = 0.75;

/// How far levels lie apart.
#[derive(Debug, Clone)]
pub struct Spread {
    /// Standard deviation τ of ln life between levels.
    pub tau: f64,
    /// Lower end of its profile-likelihood interval.
    pub lower: f64,
    /// Upper end; `None` where the likelihood does not fall again.
    pub upper: Option<f64>,
    /// Likelihood-ratio test of τ = 0: an even mixture of chi-squares with 0 and 1 degree of freedom.
    pub test: Test,
}

/// A level's life over that of its strata, drawn towards 1.
#[derive(Debug, Clone)]
pub struct LevelRatio {
    /// Lives.
    pub seals: f64,
    /// Failures.
    pub failures: f64,
    /// Failures expected were it like its strata.
    pub expected: f64,
    /// Life ratio: e to the posterior mean of its shift.
    pub ratio: f64,
    /// Lower end, τ and the laws taken as known.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// All levels.
#[derive(Debug, Clone)]
pub struct RandomLevels {
    /// How far they lie apart.
    pub spread: Spread,
    /// Level by level.
    pub levels: Vec<LevelRatio>,
    /// Parameters of each stratum's law at the middle level.
    pub laws: Vec<Vec<f64>>,
}

struct Problem {
    family: &'static dyn Family,
    /// By level: stratum and terms.
    cells: Vec<Vec<(usize, Terms)>>,
    weight: f64,
}

/// A level's posterior at one τ.
struct Posterior {
    ln_integral: f64,
    mean: f64,
    sd: f64,
    /// Posterior mean slope in every parameter of every stratum.
    slope: Vec<f64>,
}

impl Problem {
    fn size(&self) -> usize {
        self.family.dimension()
    }

    /// ℓ, its first two derivatives in δ, and its slope in all parameters.
    fn at(&self, level: &[(usize, Terms)], x: &[f64], delta: f64) -> ([f64; 3], Vec<f64>) {
        let n = self.size();
        let mut sums = [0.0; 3];
        let mut slope = vec![0.0; x.len()];
        for (stratum, terms) in level {
            let from = stratum * n;
            let mut theta = x.get(from..from + n).unwrap_or_default().to_vec();
            if let Some(location) = theta.first_mut() {
                *location += delta;
            }
            let d = self.family.log_likelihood_derivatives(&theta, terms);
            let [value, first, second] = &mut sums;
            *value += d.value;
            *first += d.gradient.first().copied().unwrap_or(0.0);
            *second += d
                .hessian
                .first()
                .and_then(|r| r.first())
                .copied()
                .unwrap_or(0.0);
            for (slot, g) in slope.iter_mut().skip(from).zip(&d.gradient) {
                *slot += g;
            }
        }
        (sums, slope)
    }

    fn posterior(&self, level: &[(usize, Terms)], x: &[f64], tau: f64) -> Posterior {
        let precision = tau.powi(-2);
        let (mut mode, mut curve) = (0.0, precision);
        for _ in 0..40 {
            let ([_, first, second], _) = self.at(level, x, mode);
            curve = (precision - second).max(precision);
            let step = (first - precision * mode) / curve;
            mode += step.clamp(-1.0, 1.0);
            if step.abs() < 1e-9 {
                break;
            }
        }
        let scale = curve.sqrt().recip();
        let nodes: Vec<(f64, f64, Vec<f64>)> = (-NODES..=NODES)
            .map(|k| {
                let delta = mode + scale * STEP * f64::from(k);
                let ([value, ..], slope) = self.at(level, x, delta);
                (delta, value - 0.5 * precision * delta * delta, slope)
            })
            .collect();
        let top = nodes.iter().map(|n| n.1).fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = nodes.iter().map(|n| (n.1 - top).exp()).collect();
        let total: f64 = weights.iter().sum();
        let mean = nodes
            .iter()
            .zip(&weights)
            .map(|(n, w)| w * n.0)
            .sum::<f64>()
            / total;
        let square = nodes
            .iter()
            .zip(&weights)
            .map(|(n, w)| w * (n.0 - mean).powi(2))
            .sum::<f64>();
        let mut slope = vec![0.0; x.len()];
        for (node, w) in nodes.iter().zip(&weights) {
            for (slot, g) in slope.iter_mut().zip(&node.2) {
                *slot += w * g / total;
            }
        }
        let width = STEP * scale / (tau * (2.0 * std::f64::consts::PI).sqrt());
        Posterior {
            ln_integral: top + (total * width).ln(),
            mean,
            sd: (square / total).sqrt(),
            slope,
        }
    }

    fn all(&self, x: &[f64], tau: f64) -> Vec<Posterior> {
        self.cells
            .par_iter()
            .map(|c| self.posterior(c, x, tau))
            .collect()
    }

    /// The laws at their best for one τ, and the marginal log-likelihood there.
    fn solve(&self, tau: f64, from: &[f64]) -> (Vec<f64>, f64) {
        let marginal = Marginal { problem: self, tau };
        let x = bfgs(&marginal, from, 60).unwrap_or_else(|| from.to_vec());
        let value = -self.weight * marginal.value(&x);
        (x, value)
    }
}

impl Problem {
    /// τ with its interval and test; `null` is the log-likelihood without spread.
    fn spread(&self, near: &[f64], null: f64, confidence: f64) -> Spread {
        let profile = |q: f64| self.solve(q.exp(), near).1;
        let (q, less) = minimise_bracketed(|q| -profile(q), LEAST.ln(), MOST.ln(), 1e-3);
        let best = (-less).max(null);
        let tau = if -less > null + 1e-7 { q.exp() } else { 0.0 };
        let floor = best - 0.5 * chi_square_quantile(confidence, 1.0);
        let over = |q: f64| profile(q) - floor;
        let lower = if tau <= 0.0 || null >= floor {
            0.0
        } else {
            bracketed(over, LEAST.ln(), q, 1e-2).map_or(0.0, f64::exp)
        };
        let from = if tau > 0.0 { q } else { LEAST.ln() };
        let statistic = 2.0 * (best - null);
        Spread {
            tau,
            lower,
            upper: bracketed(over, from, MOST.ln(), 1e-2).map(f64::exp),
            test: Test {
                name: "no_spread_between_levels",
                statistic,
                df: 1.0,
                p_value: if tau > 0.0 {
                    0.5 * chi_square_survival(statistic, 1.0)
                } else {
                    1.0
                },
            },
        }
    }
}

/// Mean negative marginal log-likelihood at one τ.
struct Marginal<'a> {
    problem: &'a Problem,
    tau: f64,
}

impl Objective for Marginal<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        let each = self.problem.all(x, self.tau);
        -each.iter().map(|p| p.ln_integral).sum::<f64>() / self.problem.weight
    }

    fn gradient(&self, x: &[f64]) -> Vec<f64> {
        let mut sum = vec![0.0; x.len()];
        for p in self.problem.all(x, self.tau) {
            for (slot, g) in sum.iter_mut().zip(&p.slope) {
                *slot -= g / self.problem.weight;
            }
        }
        sum
    }
}

/// Fits all levels. Every stratum must bear a law by itself.
///
/// # Errors
/// [`NoFit`] of the first stratum that does not.
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
            own.push((cell.stratum, Terms::new(&cell.sample.reduce())));
        }
    }
    let problem = Problem {
        family,
        cells: by_level,
        weight: cells.iter().map(|c| c.sample.tally().total()).sum(),
    };
    // Laws at a middling spread are near those at every other.
    let near = problem.solve(MIDDLING, &start).0;
    let spread = problem.spread(&near, null, confidence);
    let tau = spread.tau;
    let laws = if tau > 0.0 {
        problem.solve(tau, &near).0
    } else {
        start
    };
    let n = family.dimension();
    let laws: Vec<Vec<f64>> = laws.chunks(n.max(1)).map(<[f64]>::to_vec).collect();
    Ok(RandomLevels {
        levels: ratios(&problem, cells, &laws, tau, confidence),
        spread,
        laws,
    })
}

fn ratios(
    problem: &Problem,
    cells: &[Cell],
    laws: &[Vec<f64>],
    tau: f64,
    confidence: f64,
) -> Vec<LevelRatio> {
    let z = normal_quantile(0.5 + 0.5 * confidence);
    let x: Vec<f64> = laws.iter().flatten().copied().collect();
    let each = problem.cells.iter().enumerate();
    each.map(|(level, own)| {
        let (mean, sd) = if tau > 0.0 {
            let p = problem.posterior(own, &x, tau);
            (p.mean, p.sd)
        } else {
            (0.0, 0.0)
        };
        let mut out = LevelRatio {
            seals: 0.0,
            failures: 0.0,
            expected: 0.0,
            ratio: mean.exp(),
            lower: (mean - z * sd).exp(),
            upper: (mean + z * sd).exp(),
        };
        for cell in cells.iter().filter(|c| c.level == level) {
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
