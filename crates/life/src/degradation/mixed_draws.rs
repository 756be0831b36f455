//! What the estimated spreads leave open: draws of them from their posterior, by importance sampling.
//!
//! The restricted likelihood times a flat prior on ln σ and on the entries of L (standard deviations in units of
//! σ; after Gelman 2006, from memory). Proposals come from a multivariate t law about the maximum,
//! seeded, so the same data give the same bytes. With few seals this is most of a prediction's error.

use super::mixed_fit::{Problem, Structure, Sums, ln_likelihood};
use crate::maximise::Maximum;
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};
use sealspan_numeric::random::Stream;

/// Number of draws.
const DRAWS: usize = 200;
/// Degrees of freedom of the proposals, an even number.
const FREEDOM: f64 = 4.0;
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

/// Draws about a restricted maximum; empty where the spreads have no covariance to draw from.
#[must_use]
pub fn draws(problem: &Problem<'_>, maximum: &Maximum) -> Vec<Draw> {
    let free = problem.structure.parameters() - 2;
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
            let proposal =
                -0.5 * (FREEDOM + free as f64) * (off.norm_squared() / FREEDOM).ln_1p();
            let x = &centre + &root * off;
            let (ln_posterior, draw) = at(problem, x.as_slice())?;
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

/// The restricted likelihood and the mean line at given ln σ and entries of L.
fn at(problem: &Problem<'_>, x: &[f64]) -> Option<(f64, Draw)> {
    let ln_sigma = *x.first()?;
    let root = root(problem.structure, x);
    let noise = ln_sigma.exp();
    let [l1, l2, l3] = root;
    let own = Matrix2::new(l1, 0.0, l2, l3) * noise;
    let among = own * own.transpose();
    let (mean, mean_covariance) = mean_line(problem.seals, &among, noise)?;
    let fixed = [mean.x, mean.y, ln_sigma];
    let value = ln_likelihood(problem.seals, fixed, root, true);
    let draw = Draw {
        weight: 0.0,
        mean,
        mean_covariance,
        among,
        noise,
    };
    value.is_finite().then_some((value, draw))
}

fn root(structure: Structure, x: &[f64]) -> [f64; 3] {
    let padded: Vec<f64> = [0.0, 0.0].into_iter().chain(x.iter().copied()).collect();
    structure.root_of(&padded)
}

/// Generalised least squares: (Σ ZᵀV⁻¹Z)⁻¹ Σ ZᵀV⁻¹y and the inverse itself.
fn mean_line(
    seals: &[Sums],
    among: &Matrix2<f64>,
    noise: f64,
) -> Option<(Vector2<f64>, Matrix2<f64>)> {
    let precision = 1.0 / (noise * noise);
    let (mut a, mut c) = (Matrix2::zeros(), Vector2::zeros());
    for s in seals {
        let own = Matrix2::new(s.n, s.t, s.t, s.tt) * precision;
        let inner = (Matrix2::identity() + own * among).try_inverse()?;
        a += inner * own;
        c += inner * Vector2::new(s.y, s.ty) * precision;
    }
    let covariance = a.try_inverse()?;
    Some((covariance * c, covariance))
}
