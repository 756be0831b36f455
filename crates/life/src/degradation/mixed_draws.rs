//! What the estimated spreads leave open: draws of them from their posterior.
//!
//! The restricted likelihood times a prior that is flat on σ² and, for a spread τ among seals, falls off as 1/τ
//! beyond what one seal's own measurements can tell and is flat below it: the scale-free prior under which a
//! normal sample's predictions have Student's law, kept proper at 0 (after Box & Tiao 1973 and Gelman 2006,
//! both from memory; the form is ours, its coverage is in tests/coverage/condition.md). The variance
//! of the gauge is given the flat prior because with one flat on ln σ few seals make the gauge too exact: a seal's own
//! intervals then cover one to two points too little. With many seals by importance sampling from a multivariate t law
//! about the maximum; with few, where that law fits badly, by Metropolis steps one parameter at a time. Both
//! are seeded, so the same data give the same bytes. With few seals this is most of a prediction's error.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::mixed_fit::{Problem, Structure, Sums};
use super::mixed_sums::Gathered;
use crate::maximise::Maximum;
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};
use sealspan_numeric::random::Stream;

/// Number of draws.
const DRAWS: usize = 200;
/// Importance sampling worth fewer equal draws than this gives way to Metropolis steps.
const WORTH: f64 = 60.0;
/// Rounds of steps before the first draw, rounds between changes of the step lengths, and rounds from draw to draw.
const WARM_UP: usize = 900;
const CHANGE_EVERY: usize = 30;
const APART: usize = 12;
/// Share of steps taken that one parameter at a time does best with (Roberts & Rosenthal 2009, from memory).
const TAKEN: f64 = 0.44;
/// Degrees of freedom of the proposals, an even number.
const FREEDOM: f64 = 4.0;
/// A prior flat on σ² is σ² times one flat on ln σ.
const FLAT_ON_VARIANCE: f64 = 2.0;
/// Seed of the draws: a part of the method, not a choice of the user's.
const SEED: u64 = 20_240_101;

/// Spreads that the data leave possible, with the mean line that belongs to them, in scaled units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Draw {
    /// Its weight; the weights of all draws add up to 1.
    pub weight: f64,
    /// Mean level and rate, given these spreads.
    pub mean: Vector2<f64>,
    /// Covariance of that mean.
    pub mean_covariance: Matrix2<f64>,
    /// Covariance of level and rate among seals.
    pub among: Matrix2<f64>,
    /// Standard deviation of one measurement.
    pub noise: f64,
}

/// Spreads, in units of σ and squared, below which one seal's own line does not tell them from 0.
#[derive(Debug, Clone, Copy)]
struct Floor {
    level: f64,
    rate: f64,
}

impl Floor {
    /// The variances of level and rate of a line through as many measurements as a seal has on average.
    fn of(seals: &[Sums]) -> Self {
        let count = seals.len().max(1) as f64;
        let sum = |f: fn(&Sums) -> f64| seals.iter().map(f).sum::<f64>() / count;
        let (n, t, tt) = (sum(|s| s.n), sum(|s| s.t), sum(|s| s.tt));
        let det = n * tt - t * t;
        Self {
            level: tt / det,
            rate: n / det,
        }
    }

    /// ln prior of the entries of L; the entry that carries the correlation has a flat one.
    fn ln_prior(self, structure: Structure, [l1, _, l3]: [f64; 3]) -> f64 {
        let level = -0.5 * (l1 * l1 + self.level).ln();
        let rate = -0.5 * (l3 * l3 + self.rate).ln();
        match structure {
            Structure::Correlated | Structure::Independent => level + rate,
            Structure::Rate => rate,
            Structure::Level => level,
            Structure::Alike => 0.0,
        }
    }
}

/// Draws about a restricted maximum.
#[must_use]
pub fn draws(problem: &Problem<'_>, maximum: &Maximum) -> Vec<Draw> {
    let found = weighted(problem, maximum);
    let squares: f64 = found.iter().map(|d| d.weight * d.weight).sum();
    if squares > 0.0 && 1.0 / squares >= WORTH {
        found
    } else {
        stepped(problem, &maximum.x)
    }
}

/// Weighted draws by importance sampling; empty where the maximum has no covariance to draw from.
fn weighted(problem: &Problem<'_>, maximum: &Maximum) -> Vec<Draw> {
    let floor = Floor::of(problem.seals);
    let free = problem.structure.parameters() - 2;
    let about = line_of(&maximum.x);
    let centre = DVector::from_fn(free, |i, _| maximum.x.get(i + 2).copied().unwrap_or(0.0));
    let covariance = DMatrix::from_fn(free, free, |i, j| maximum.covariance[(i + 2, j + 2)]);
    let Some(root) = covariance.cholesky().map(|c| c.l()) else {
        return vec![];
    };
    let mut found: Vec<(f64, Draw)> = (0..DRAWS)
        .filter_map(|i| {
            let mut stream = Stream::new(SEED, i as u64);
            let normal = DVector::from_fn(free, |_, _| stream.normal());
            let chi = 2.0 * (stream.exponential() + stream.exponential());
            let off = normal * (FREEDOM / chi).sqrt();
            let proposal = -0.5 * (FREEDOM + free as f64) * (off.norm_squared() / FREEDOM).ln_1p();
            let x = &centre + &root * off;
            let (ln_posterior, draw) = at(problem, floor, about, x.as_slice())?;
            Some((ln_posterior - proposal, draw))
        })
        .collect();
    let top = found.iter().map(|f| f.0).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = found.iter().map(|f| (f.0 - top).exp()).sum();
    found.iter_mut().for_each(|(ln_weight, draw)| {
        draw.weight = (*ln_weight - top).exp() / total;
    });
    found.into_iter().map(|f| f.1).collect()
}

/// Equally weighted draws by Metropolis steps from a point (b₀, b₁, ln σ, then L); empty where it has no
/// likelihood.
#[must_use]
pub fn stepped(problem: &Problem<'_>, from: &[f64]) -> Vec<Draw> {
    let floor = Floor::of(problem.seals);
    let about = line_of(from);
    let mut x: Vec<f64> = from.iter().skip(2).copied().collect();
    let Some((mut here, mut draw)) = at(problem, floor, about, &x) else {
        return vec![];
    };
    let mut stream = Stream::new(SEED, DRAWS as u64);
    let mut length = vec![0.3; x.len()];
    let mut taken = vec![0.0; x.len()];
    let mut out = vec![];
    for round in 1..=WARM_UP + DRAWS * APART {
        for i in 0..x.len() {
            let (Some(old), Some(step)) = (x.get(i).copied(), length.get(i).copied()) else {
                continue;
            };
            let (jump, chance) = (stream.normal(), stream.uniform());
            if let Some(slot) = x.get_mut(i) {
                *slot = old + step * jump;
            }
            match at(problem, floor, about, &x).filter(|(there, _)| there - here > chance.ln()) {
                Some((there, next)) => {
                    (here, draw) = (there, next);
                    taken.iter_mut().skip(i).take(1).for_each(|n| *n += 1.0);
                }
                None => x.iter_mut().skip(i).take(1).for_each(|v| *v = old),
            }
        }
        if round <= WARM_UP && round.is_multiple_of(CHANGE_EVERY) {
            for (step, count) in length.iter_mut().zip(&mut taken) {
                let share = *count / CHANGE_EVERY as f64;
                *step *= (2.0 * (share - TAKEN)).exp();
                *count = 0.0;
            }
        }
        if round > WARM_UP && (round - WARM_UP).is_multiple_of(APART) {
            out.push(Draw {
                weight: 1.0 / DRAWS as f64,
                ..draw
            });
        }
    }
    out
}

/// The restricted likelihood and the mean line at given ln σ and entries of L; sums are taken about a line near it.
fn at(problem: &Problem<'_>, floor: Floor, about: [f64; 2], x: &[f64]) -> Option<(f64, Draw)> {
    let ln_sigma = *x.first()?;
    let root = root(problem.structure, x);
    let noise = ln_sigma.exp();
    let [l1, l2, l3] = root;
    let own = Matrix2::new(l1, 0.0, l2, l3) * noise;
    let gathered = Gathered::of(problem.seals, about, root);
    let (off, covariance) = gathered.line()?;
    let prior = floor.ln_prior(problem.structure, root);
    let likelihood = gathered.ln_likelihood([off.x, off.y], ln_sigma, true);
    let value = likelihood + prior + FLAT_ON_VARIANCE * ln_sigma;
    let draw = Draw {
        weight: 0.0,
        mean: Vector2::from(about) + off,
        mean_covariance: covariance * (noise * noise),
        among: own * own.transpose(),
        noise,
    };
    value.is_finite().then_some((value, draw))
}

/// Level and rate of a point.
fn line_of(x: &[f64]) -> [f64; 2] {
    [0, 1].map(|i| x.get(i).copied().unwrap_or(0.0))
}

fn root(structure: Structure, x: &[f64]) -> [f64; 3] {
    let padded: Vec<f64> = [0.0, 0.0].into_iter().chain(x.iter().copied()).collect();
    structure.root_of(&padded)
}

#[cfg(test)]
mod tests;
