//! Posterior of the parameters under weak proper priors, as weighted points.
//!
//! Up to two free parameters: the trapezoid rule on a grid around the mode, which converges faster than any
//! power for smooth densities that vanish at the grid's edge. More: importance sampling from a multivariate t
//! law around the mode (Kloek & van Dijk 1978; from memory), with its effective sample size.

use crate::family::Family;
use crate::fit::{NoFit, Problem};
use crate::law::Prior;
use crate::maximise::{LogLikelihood, maximise};
use crate::quantity::{Derivatives, Quantity};
use crate::terms::Terms;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use sealspan_numeric::random::Stream;

/// A posterior.
pub struct Posterior {
    family: &'static dyn Family,
    /// θ and its weight; the weights sum to 1.
    points: Vec<(Vec<f64>, f64)>,
    /// Effective number of independent draws; `None` for the grid, which has no sampling error.
    pub effective_draws: Option<f64>,
}

/// Reach and step of the grid, in standard deviations of the normal approximation.
const REACH: f64 = 8.0;
const GRID_STEP: f64 = 0.25;
/// Draws of the importance sampler, and degrees of freedom of its t law.
const DRAWS: u64 = 8000;
const FREEDOM: f64 = 5.0;

/// Log-likelihood plus ln prior.
struct WithPrior<'a> {
    problem: Problem<'a>,
    priors: Vec<Prior>,
}

impl WithPrior<'_> {
    fn ln_prior(&self, x: &[f64]) -> f64 {
        let term = |(v, p): (&f64, &Prior)| -0.5 * ((v - p.mean) / p.sd).powi(2);
        x.iter().zip(&self.priors).map(term).sum()
    }
}

impl LogLikelihood for WithPrior<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        self.problem.value(x) + self.ln_prior(x)
    }
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let mut d = self.problem.derivatives(x);
        d.value += self.ln_prior(x);
        for (i, (v, p)) in x.iter().zip(&self.priors).enumerate() {
            let precision = 1.0 / (p.sd * p.sd);
            if let Some(slope) = d.gradient.get_mut(i) {
                *slope -= (v - p.mean) * precision;
            }
            if let Some(bend) = d.hessian.get_mut(i).and_then(|row| row.get_mut(i)) {
                *bend -= precision;
            }
        }
        d
    }
    fn weight(&self) -> f64 {
        self.problem.weight().max(1.0)
    }
}

impl Posterior {
    /// The posterior of a family over the free parameters; those not in `free` stay as in `base`. Works
    /// without failures too: the prior then says what the data do not.
    ///
    /// # Errors
    /// [`NoFit`] when the posterior has no mode that could be reached, or there are no seals.
    pub fn new(
        family: &'static dyn Family,
        terms: &Terms,
        base: &[f64],
        free: &[usize],
        seed: u64,
    ) -> Result<Self, NoFit> {
        if terms.extent.total <= 0.0 {
            return Err(NoFit::Empty);
        }
        let scale = terms.extent.oldest.max(f64::MIN_POSITIVE).ln();
        let prior = |i: &usize| {
            let own = family.priors().get(*i).copied();
            let own = own.unwrap_or(Prior { mean: 0.0, sd: 1.0 });
            Prior {
                mean: own.mean + if *i == 0 { scale } else { 0.0 },
                ..own
            }
        };
        let target = WithPrior {
            priors: free.iter().map(prior).collect(),
            problem: Problem {
                family,
                terms,
                base: base.to_vec(),
                free: free.to_vec(),
            },
        };
        let start = target.problem.pick(base);
        let mode = maximise(&target, &start)
            .or_else(|_| {
                let means: Vec<f64> = target.priors.iter().map(|p| p.mean).collect();
                maximise(&target, &means)
            })
            .map_err(|lost| lost.why)?;
        let root = mode.covariance.clone().cholesky().ok_or(NoFit::Ridge)?.l();
        let centre = DVector::from_column_slice(&mode.x);
        let (list, effective_draws) = if free.len() <= 2 {
            (grid(&target, &centre, &root, mode.value), None)
        } else {
            importance(&target, &centre, &root, mode.value, seed)
        };
        let total: f64 = list.iter().map(|p| p.1).sum();
        let points = list
            .into_iter()
            .filter(|p| p.1 > 1e-14 * total)
            .map(|(x, w)| (target.problem.place(&x), w / total))
            .collect();
        Ok(Self {
            family,
            points,
            effective_draws,
        })
    }

    /// Quantiles of a quantity, in its own unit, at each of `shares`; infinite values count as largest.
    #[must_use]
    pub fn quantiles(&self, quantity: Quantity, shares: &[f64]) -> Vec<Option<f64>> {
        let mut values: Vec<(f64, f64)> = self
            .points
            .par_iter()
            .map(|(theta, weight)| {
                let scaled = self.family.quantity(theta, quantity).value;
                let value = self.family.unscale(quantity, scaled);
                // An age that is never reached.
                (if value.is_nan() { f64::INFINITY } else { value }, *weight)
            })
            .collect();
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        shares
            .iter()
            .map(|share| weighted_quantile(&values, *share).filter(|v| v.is_finite()))
            .collect()
    }

    /// Lives drawn from the posterior, by systematic sampling of the weighted points.
    #[must_use]
    pub fn lives(&self, count: usize, seed: u64) -> Vec<crate::life::Life> {
        let shift = Stream::new(seed, 0).uniform();
        let mut out = Vec::with_capacity(count);
        let (mut at, mut sum) = (0, self.points.first().map_or(0.0, |p| p.1));
        for i in 0..count {
            let target = (i as f64 + shift) / count as f64;
            while sum < target && at + 1 < self.points.len() {
                at += 1;
                sum += self.points.get(at).map_or(0.0, |p| p.1);
            }
            if let Some((theta, _)) = self.points.get(at) {
                out.push(crate::life::Life::new(self.family, theta.clone()));
            }
        }
        out
    }
}

/// Value at a cumulative weight, between the middles of neighbouring steps.
fn weighted_quantile(values: &[(f64, f64)], share: f64) -> Option<f64> {
    let mut before: Option<(f64, f64)> = None;
    let mut sum = 0.0;
    for (value, weight) in values {
        let middle = sum + 0.5 * weight;
        if middle >= share {
            return Some(match before {
                Some((v, m)) if value.is_finite() => v + (value - v) * (share - m) / (middle - m),
                _ => *value,
            });
        }
        before = Some((*value, middle));
        sum += weight;
    }
    before.map(|b| b.0)
}

type Weighted = Vec<(Vec<f64>, f64)>;

fn grid(target: &WithPrior, centre: &DVector<f64>, root: &DMatrix<f64>, top: f64) -> Weighted {
    let steps = (REACH / GRID_STEP) as i64;
    let n = centre.len();
    let side: Vec<f64> = (-steps..=steps).map(|i| GRID_STEP * i as f64).collect();
    let whitened: Vec<Vec<f64>> = if n == 1 {
        side.iter().map(|a| vec![*a]).collect()
    } else {
        side.iter()
            .flat_map(|a| side.iter().map(|b| vec![*a, *b]))
            .collect()
    };
    whitened
        .into_par_iter()
        .map(|u| {
            let x = centre + root * DVector::from_vec(u);
            let x: Vec<f64> = x.iter().copied().collect();
            let weight = (target.value(&x) - top).exp();
            (x, if weight.is_finite() { weight } else { 0.0 })
        })
        .collect()
}

fn importance(
    target: &WithPrior,
    centre: &DVector<f64>,
    root: &DMatrix<f64>,
    top: f64,
    seed: u64,
) -> (Weighted, Option<f64>) {
    let n = centre.len();
    let list: Weighted = (0..DRAWS)
        .into_par_iter()
        .map(|i| {
            let mut stream = Stream::new(seed, i);
            let normal = DVector::from_fn(n, |_, _| stream.normal());
            // χ² with whole degrees of freedom as a sum of squares.
            let chi: f64 = (0..FREEDOM as usize).map(|_| stream.normal().powi(2)).sum();
            let u = normal * (FREEDOM / chi).sqrt();
            let ln_proposal = -0.5 * (FREEDOM + n as f64) * (u.norm_squared() / FREEDOM).ln_1p();
            let x: Vec<f64> = (centre + root * u).iter().copied().collect();
            let weight = (target.value(&x) - top - ln_proposal).exp();
            (x, if weight.is_finite() { weight } else { 0.0 })
        })
        .collect();
    let sum: f64 = list.iter().map(|p| p.1).sum();
    let squares: f64 = list.iter().map(|p| p.1 * p.1).sum();
    (list, Some(sum * sum / squares))
}
