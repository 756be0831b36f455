//! Posterior of the parameters under weak proper priors, as weighted points.
//!
//! Up to two free parameters: the trapezoid rule on a grid around the mode, grown on each side until the density
//! there has vanished; it converges faster than any power for such densities. Each point's weight is spread
//! over its cell, so that distribution functions have no steps. More parameters: importance sampling from multivariate t
//! laws that learn from their draws ([`crate::importance`]), with its effective sample size.

use crate::family::Family;
use crate::fit::{NoFit, Problem};
use crate::importance::{self, Effort};
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
    /// Sides of a grid cell as steps of the free parameters; none for sampled points.
    sides: Vec<Vec<f64>>,
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
    draws: 2000,
    rounds: 4,
    most: importance::MOST_ROUNDS,
    enough: 2000.0,
};

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

    fn prior_covariance(&self) -> DMatrix<f64> {
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
        let mode = maximise(&target, &start).or_else(|_| maximise(&target, &means));
        let (centre, spread) = match mode {
            Ok(mode) => (mode.x, mode.covariance),
            // A density without a mode can have a finite integral all the same: begin from the priors.
            Err(lost) if free.len() <= 2 => return Err(lost.why),
            Err(_) => (means, target.prior_covariance()),
        };
        let shape = spread.cholesky().ok_or(NoFit::Ridge)?;
        let centre = DVector::from_vec(centre);
        let (list, sides, effective_draws) = if free.len() <= 2 {
            let root = shape.l();
            let side = |c: nalgebra::DVectorView<f64>| c.iter().map(|x| x * GRID_STEP).collect();
            let sides = root.column_iter().map(side).collect();
            (grid(&target, &centre, &root), sides, None)
        } else {
            // Parts that could change places keep one order.
            let ordered = |theta: &[f64]| family.in_order(theta) == theta;
            let ln_density = |x: &[f64]| match ordered(&target.problem.place(x)) {
                true => target.value(x),
                false => f64::NEG_INFINITY,
            };
            let draws = importance::sample(ln_density, centre, shape, EFFORT, seed);
            (draws.points, vec![], Some(draws.effective))
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
            sides,
            free: free.to_vec(),
            effective_draws,
        })
    }

    /// Quantiles of a quantity, in its own unit, at each of `shares`; infinite values count as largest.
    #[must_use]
    pub fn quantiles(&self, quantity: Quantity, shares: &[f64]) -> Vec<Option<f64>> {
        let falls = matches!(quantity, Quantity::Survival(_));
        let spread: Vec<Spread> = self
            .points
            .par_iter()
            .map(|(theta, weight)| self.spread(theta, *weight, quantity))
            .collect();
        shares
            .iter()
            .map(|share| {
                // Survival falls as its index grows.
                let share = if falls { 1.0 - share } else { *share };
                let scaled = quantile(&spread, share)?;
                Some(self.family.unscale(quantity, scaled)).filter(|v| v.is_finite())
            })
            .collect()
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
            // An age that is never reached.
            value: if q.value.is_nan() {
                f64::INFINITY
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

/// A point with a value for every θ: zeros where the family has no start for these data.
fn whole(base: &[f64], dimension: usize) -> Vec<f64> {
    let mut out = base.to_vec();
    out.resize(dimension, 0.0);
    out
}

/// A weight spread like the sum of two uniform laws, of these half widths, around a value.
struct Spread {
    value: f64,
    wide: f64,
    narrow: f64,
    weight: f64,
}

impl Spread {
    /// Weight at or below `x`.
    fn below(&self, x: f64) -> f64 {
        let off = x - self.value;
        let reach = self.wide + self.narrow;
        let share = if off >= reach {
            1.0
        } else if off <= -reach {
            0.0
        } else if off.abs() <= self.wide - self.narrow {
            0.5 + 0.5 * off / self.wide
        } else {
            // The triangular ends.
            let rest = reach - off.abs();
            let tail = rest * rest / (8.0 * self.wide * self.narrow);
            if off > 0.0 { 1.0 - tail } else { tail }
        };
        self.weight * share
    }
}

/// Where the spread weights reach a share, by halving.
fn quantile(spread: &[Spread], share: f64) -> Option<f64> {
    let finite = spread.iter().filter(|s| s.value.is_finite());
    let (mut low, mut high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), s| {
        let reach = s.wide + s.narrow;
        (l.min(s.value - reach), h.max(s.value + reach))
    });
    let below = |x: f64| spread.iter().map(|s| s.below(x)).sum::<f64>();
    if low >= high || below(high) < share {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) < share {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
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
