//! Posterior of the parameters under weak proper priors, as weighted points: its density is that of the likelihood
//! ([`crate::terms`]) times the priors of the free θ ([`Family::priors`]).
//!
//! Up to two free parameters: the trapezoid rule on a grid around the mode, grown on each side until the density there
//! has vanished; it converges faster than any power for such densities. Each point's weight is spread over its cell, so
//! that distribution functions have no steps. More parameters: importance sampling from multivariate t laws that learn
//! from their draws (adaptive multiple importance sampling; Cornuet, Marin, Mira & Robert 2012, from memory), four
//! chains of it, with its effective sample size.

use crate::family::Family;
use crate::fit::{NoFit, Problem};
use crate::importance::{self, Draws, Effort};
use crate::law::Prior;
use crate::maximise::{LogLikelihood, maximise};
use crate::modes::modes;
use crate::quantity::{Derivatives, Quantity};
use crate::spread::{Spread, quantile};
use crate::terms::Terms;
use crate::unit::Unit;
use crate::unreached::beyond;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use sealspan_numeric::random::Stream;

/// A posterior.
pub struct Posterior {
    family: &'static dyn Family,
    /// θ and its weight; the weights sum to 1.
    points: Vec<(Vec<f64>, f64)>,
    /// Sides of a grid cell as steps of the free parameters; none for sampled points.
    sides: Vec<Vec<f64>>,
    /// Where the points of each independent chain of draws end; none for the grid.
    chains: Vec<usize>,
    /// Which parameters are free.
    free: Vec<usize>,
    /// Effective number of independent draws; `None` for the grid, which has no sampling error.
    pub effective_draws: Option<f64>,
}

/// First reach, growth and step of the grid, in standard deviations of the normal approximation.
const REACH: i64 = 64;
const GROWTH: i64 = 32;
const FARTHEST: i64 = 1024;
const GRID_STEP: f64 = 0.125;
/// Density at the grid's edge, over that at the mode, that has vanished.
const VANISHED: f64 = 1e-12;
/// How long importance sampling goes on.
const EFFORT: Effort = Effort {
    draws: 1000,
    rounds: 4,
    most: importance::MOST_ROUNDS,
    enough: 1000.0,
};
/// Independent chains of draws, whose differences say how far to trust them.
const CHAINS: u64 = 4;

/// Log-likelihood plus ln prior.
pub(crate) struct WithPrior<P> {
    pub(crate) problem: P,
    pub(crate) priors: Vec<Prior>,
}

impl<P> WithPrior<P> {
    fn ln_prior(&self, x: &[f64]) -> f64 {
        let term = |(v, p): (&f64, &Prior)| -0.5 * ((v - p.mean) / p.sd).powi(2);
        x.iter().zip(&self.priors).map(term).sum()
    }

    pub(crate) fn prior_covariance(&self) -> DMatrix<f64> {
        let squares = self.priors.iter().map(|p| p.sd * p.sd);
        DMatrix::from_diagonal(&DVector::from_iterator(self.priors.len(), squares))
    }
}

impl<P: LogLikelihood> LogLikelihood for WithPrior<P> {
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
    /// The posterior of a family over the free parameters; those not in `free` stay as in `base`, a θ to begin from
    /// (one shorter than the family's begins at the priors). Works without failures too: the prior then says what the
    /// data do not. The same `seed` gives the same draws.
    ///
    /// # Errors
    /// [`NoFit`] when the posterior has no mode that could be reached, or there are no seals.
    ///
    /// ```
    /// use sealspan_life::{fit::fit, laws::by_name, posterior::Posterior, quantity::Quantity, terms::Terms};
    /// use sealspan_records::{Observation, Sample};
    /// let ages = [150.0, 190.0, 240.0, 250.0, 310.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    /// let sample = Sample::new(ages.into());
    /// let fit = fit(by_name("weibull").unwrap(), &sample).unwrap();
    /// let posterior =
    ///     Posterior::new(fit.family, &Terms::new(&sample), &fit.theta, &fit.free, 1).unwrap();
    /// let median = Quantity::Quantile(0.5);
    /// let half = posterior.quantiles(median, &[0.5])[0].unwrap();
    /// assert!((posterior.share_below(median, half) - 0.5).abs() < 0.01);
    /// ```
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
        // Worked out in the fit's own unit. The location's prior lies around the oldest age seen.
        let unit = Unit::of(terms);
        let (terms, mut base) = (&terms.in_unit(unit), base.to_vec());
        if let Some(location) = base.first_mut() {
            *location -= unit.ln();
        }
        let base = base.as_slice();
        let oldest = terms.extent.oldest.max(f64::MIN_POSITIVE).ln();
        let prior = |i: &usize| {
            let own = family.priors().get(*i).copied();
            let own = own.unwrap_or(Prior { mean: 0.0, sd: 1.0 });
            Prior {
                mean: own.mean + if *i == 0 { oldest } else { 0.0 },
                ..own
            }
        };
        let target = WithPrior {
            priors: free.iter().map(prior).collect(),
            problem: Problem {
                family,
                terms,
                base: whole(base, family.dimension()),
                free: free.to_vec(),
            },
        };
        let means: Vec<f64> = target.priors.iter().map(|p| p.mean).collect();
        let start = if base.len() < family.dimension() {
            means.clone()
        } else {
            target.problem.pick(base)
        };
        let place = |list: Weighted, total: f64| -> Weighted {
            let heavy = list.into_iter().filter(|p| p.1 > 1e-14 * total);
            let back = |x: &[f64]| {
                let mut theta = target.problem.place(x);
                if let Some(location) = theta.first_mut() {
                    *location += unit.ln();
                }
                theta
            };
            heavy.map(|(x, w)| (back(&x), w / total)).collect()
        };
        let mut out = Self {
            family,
            points: vec![],
            sides: vec![],
            chains: vec![],
            free: free.to_vec(),
            effective_draws: None,
        };
        if free.len() <= 2 {
            let mode = maximise(&target, &start).or_else(|_| maximise(&target, &means));
            let mode = mode.map_err(|lost| lost.why)?;
            let root = mode.covariance.cholesky().ok_or(NoFit::Ridge)?.l();
            let side = |c: nalgebra::DVectorView<f64>| c.iter().map(|x| x * GRID_STEP).collect();
            out.sides = root.column_iter().map(side).collect();
            let list = grid(&target, &DVector::from_vec(mode.x), &root);
            let total: f64 = list.iter().map(|p| p.1).sum();
            out.points = place(list, total);
            return Ok(out);
        }
        let modes = modes(&target, start, means)?;
        // Parts that could change places keep one order.
        let ordered = |theta: &[f64]| family.in_order(theta) == theta;
        let ln_density = |x: &[f64]| match ordered(&target.problem.place(x)) {
            true => target.value(x),
            false => f64::NEG_INFINITY,
        };
        let seeds = (0..CHAINS).map(|chain| {
            let own = Stream::new(seed, u64::MAX - chain).uniform();
            (own * 2f64.powi(53)) as u64
        });
        let chains: Vec<Draws> = seeds
            .map(|seed| importance::sample(ln_density, modes.clone(), EFFORT, seed))
            .collect();
        let top = chains
            .iter()
            .map(|c| c.top)
            .fold(f64::NEG_INFINITY, f64::max);
        out.effective_draws = Some(chains.iter().map(|c| c.effective).sum());
        // Each chain's total estimates the same integral, so that together they weigh as one.
        let rescaled = |chain: Draws| -> Weighted {
            let factor = (chain.top - top).exp();
            chain
                .points
                .into_iter()
                .map(|(x, w)| (x, w * factor))
                .collect()
        };
        let chains: Vec<Weighted> = chains.into_iter().map(rescaled).collect();
        let total: f64 = chains.iter().flatten().map(|p| p.1).sum();
        for chain in chains {
            out.points.extend(place(chain, total));
            out.chains.push(out.points.len());
        }
        Ok(out)
    }

    /// Standard error, from the simulation, of the share of the posterior at or below the quantile that ends the lower
    /// `share`: the larger of what the effective number n of draws says, √(share (1 − share)/n), and what the separate
    /// chains show, the standard error of their mean. `None` for the grid.
    #[must_use]
    pub fn error(&self, quantity: Quantity, share: f64) -> Option<f64> {
        let plain = (share * (1.0 - share) / self.effective_draws?).sqrt();
        let spread = self.spreads(quantity);
        let share = self.turned(quantity, share);
        let Some(end) = quantile(&spread, share).filter(|end| end.is_finite()) else {
            return Some(plain);
        };
        let starts = std::iter::once(0).chain(self.chains.iter().copied());
        let own: Vec<f64> = starts
            .zip(&self.chains)
            .filter_map(|(from, to)| {
                let chain = spread.get(from..*to)?;
                let weight: f64 = chain.iter().map(|s| s.weight).sum();
                Some(chain.iter().map(|s| s.below(end)).sum::<f64>() / weight)
            })
            .collect();
        let n = own.len() as f64;
        let mean = own.iter().sum::<f64>() / n;
        let squares: f64 = own.iter().map(|x| (x - mean).powi(2)).sum();
        Some(plain.max((squares / (n * (n - 1.0))).sqrt()))
    }

    /// Share of the posterior in which a quantity is at or below a value, in the quantity's unit.
    #[must_use]
    pub fn share_below(&self, quantity: Quantity, value: f64) -> f64 {
        let spread = self.spreads(quantity);
        let below = |s: &Spread| {
            let own = self.family.unscale(quantity, s.value);
            if own <= value { s.weight } else { 0.0 }
        };
        spread.iter().map(below).sum()
    }

    /// Survival falls as its index grows.
    fn turned(&self, quantity: Quantity, share: f64) -> f64 {
        match quantity {
            Quantity::Survival(_) => 1.0 - share,
            _ => share,
        }
    }

    fn spreads(&self, quantity: Quantity) -> Vec<Spread> {
        let points = self.points.par_iter();
        points
            .map(|(theta, weight)| self.spread(theta, *weight, quantity))
            .collect()
    }

    /// Quantiles of a quantity, in its own unit, at each of `shares`; infinite values count as largest, ages below 0 as
    /// 0. `None` where a quantile is infinite, or the quantity is the same in all of the posterior.
    #[must_use]
    pub fn quantiles(&self, quantity: Quantity, shares: &[f64]) -> Vec<Option<f64>> {
        let spread = self.spreads(quantity);
        shares
            .iter()
            .map(|share| {
                let share = self.turned(quantity, *share);
                let scaled = quantile(&spread, share)?;
                Some(self.family.unscale(quantity, scaled)).filter(|v| v.is_finite())
            })
            .collect()
    }

    /// Standard deviation of a quantity on the scale of its intervals; `None` where it is infinite or no number
    /// somewhere.
    #[must_use]
    pub fn standard_deviation(&self, quantity: Quantity) -> Option<f64> {
        let value = |theta: &[f64]| self.family.quantity(theta, quantity).value;
        let values: Vec<(f64, f64)> = self.points.iter().map(|(t, w)| (value(t), *w)).collect();
        let mean = values.iter().map(|(v, w)| v * w).sum::<f64>();
        let square = values
            .iter()
            .map(|(v, w)| w * (v - mean).powi(2))
            .sum::<f64>();
        square.is_finite().then(|| square.sqrt())
    }

    /// A point's weight over the quantity's scale.
    fn spread(&self, theta: &[f64], weight: f64, quantity: Quantity) -> Spread {
        let q = self.family.quantity(theta, quantity);
        let mut half = [0.0; 2];
        for (slot, side) in half.iter_mut().zip(&self.sides) {
            let along: f64 = self
                .free
                .iter()
                .zip(side)
                .map(|(i, step)| q.gradient.get(*i).copied().unwrap_or(0.0) * step)
                .sum();
            *slot = if along.is_finite() {
                0.5 * along.abs()
            } else {
                0.0
            };
        }
        let [a, b] = half;
        Spread {
            value: if q.value.is_nan() {
                beyond(self.family, theta, quantity)
            } else {
                q.value
            },
            wide: a.max(b),
            narrow: a.min(b),
            weight,
        }
    }

    /// Lives drawn from the posterior, by systematic sampling of the weighted points.
    #[must_use]
    pub(crate) fn lives(&self, count: usize, seed: u64) -> Vec<crate::life::Life> {
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

/// A point with a value for every θ: zeros where the family has no start for these data.
fn whole(base: &[f64], dimension: usize) -> Vec<f64> {
    let mut out = base.to_vec();
    out.resize(dimension, 0.0);
    out
}

type Weighted = Vec<(Vec<f64>, f64)>;

fn grid(target: &WithPrior<Problem<'_>>, centre: &DVector<f64>, root: &DMatrix<f64>) -> Weighted {
    let n = centre.len();
    let top = target.value(centre.as_slice());
    let at = |steps: &[i64]| {
        let u = DVector::from_iterator(n, steps.iter().map(|s| GRID_STEP * *s as f64));
        let x: Vec<f64> = (centre + root * u).iter().copied().collect();
        let weight = (target.value(&x) - top).exp();
        (x, if weight.is_finite() { weight } else { 0.0 })
    };
    let mut low = vec![-REACH; n];
    let mut high = vec![REACH; n];
    // Grows every side on whose edge there is density left.
    loop {
        let mut grown = false;
        for axis in 0..n {
            for upper in [false, true] {
                let edge = if upper { &high } else { &low }
                    .get(axis)
                    .copied()
                    .unwrap_or(0);
                let other: Vec<i64> = match (low.get(1 - axis.min(1)), high.get(1 - axis.min(1))) {
                    (Some(l), Some(h)) if n > 1 => (*l..=*h).collect(),
                    _ => vec![0],
                };
                let heaviest = other
                    .par_iter()
                    .map(|o| {
                        let steps = match (n, axis) {
                            (1, _) => vec![edge],
                            (_, 0) => vec![edge, *o],
                            _ => vec![*o, edge],
                        };
                        at(&steps).1
                    })
                    .reduce(|| 0.0, f64::max);
                if heaviest > VANISHED && edge.abs() < FARTHEST {
                    let side = if upper { &mut high } else { &mut low };
                    if let Some(slot) = side.get_mut(axis) {
                        *slot += if upper { GROWTH } else { -GROWTH };
                        grown = true;
                    }
                }
            }
        }
        if !grown {
            break;
        }
    }
    let range = |axis: usize| {
        let ends = low.get(axis).zip(high.get(axis));
        ends.map_or(0..=0, |(l, h)| *l..=*h)
    };
    let steps: Vec<Vec<i64>> = if n == 1 {
        range(0).map(|a| vec![a]).collect()
    } else {
        range(0)
            .flat_map(|a| range(1).map(move |b| vec![a, b]))
            .collect()
    };
    steps.par_iter().map(|s| at(s)).collect()
}

#[cfg(test)]
mod tests;
