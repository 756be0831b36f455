//! Wear that only grows: independent gamma increments, measured without error.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::crossing::{Crossing, Part};
use super::{Limit, Path};
use crate::fit::NoFit;
use crate::maximise::{LogLikelihood, Maximum, maximise};
use crate::quantity::Derivatives;
use sealspan_numeric::jet::{Jet, Scalar};
use sealspan_numeric::special::{chi_square_survival, student_quantile};
use thiserror::Error;

/// Fewest increments fitted (a rule of ours).
pub const FEWEST: usize = 5;

/// Why there is no gamma process.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoWear {
    /// Too few increments.
    #[error("only {0} increment(s) of wear: {FEWEST} are needed")]
    TooFew(usize),
    /// Some increments do not grow.
    #[error(
        "{backward} of {all} increments stand still or go backwards: the measurements have an error that a gamma process does not know"
    )]
    Backward {
        /// How many.
        backward: usize,
        /// Of how many.
        all: usize,
    },
    /// No maximum.
    #[error("the likelihood of the gamma process has no maximum that could be reached: {0}")]
    NotReached(NoFit),
}

/// A fitted gamma process: the wear in a time Δ has a gamma law of shape `shape` × Δ and rate `rate`.
///
/// ```
/// use sealspan_life::degradation::{Limit, wear::{Wear, fit}};
/// let paths = [
///     vec![(0.0, 0.0), (1.0, 1.0), (2.0, 3.0), (3.0, 4.0)],
///     vec![(0.0, 0.0), (1.0, 2.0), (2.0, 3.0), (3.0, 5.0)],
/// ];
/// let limit = Limit { value: 6.0, rising: true };
/// let fitted = fit(&paths, limit).unwrap();
/// // Shape 1 a day and rate 1/2, from 0: over two days P(wear > 6) = e⁻³ (1 + 3).
/// let known = Wear { shape: 1.0, rate: 0.5, ..fitted.clone() }.parameters_known();
/// let crossing = known.new_seal(limit);
/// assert!((crossing.by(2.0) - 4.0 * (-3.0_f64).exp()).abs() < 1e-9);
/// // Nothing is open but the estimate: by 2 days this share is past the limit.
/// let [lower, upper] = known.share_interval(limit, 4.0 * (-3.0_f64).exp(), 0.9).map(Option::unwrap);
/// assert!((lower - 2.0).abs() < 1e-6 && (upper - 2.0).abs() < 1e-6);
/// // Far off half are past the limit when the mean wear is: ± t errors of its logarithm. With these paths ten times
/// // over t has 60 − 2 degrees of freedom, 1.671553 at 90 % (from tables).
/// let many = fit(&paths.iter().cycle().take(20).cloned().collect::<Vec<_>>(), limit).unwrap();
/// let far = Limit { value: 6000.0, rising: true };
/// let [lower, upper] = many.share_interval(far, 0.5, 0.9).map(Option::unwrap);
/// assert!(((lower * upper).sqrt() / 4000.0 - 1.0).abs() < 0.01);
/// assert!(((upper / lower).ln() / (2.0 * 1.671_553 * many.ln_mean_error) - 1.0).abs() < 0.05);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Wear {
    /// Shape per unit of age.
    pub shape: f64,
    /// Rate, per unit of the property.
    pub rate: f64,
    /// Standard errors of ln shape and ln rate.
    pub ln_errors: (f64, f64),
    /// Standard error of the mean wear rate's logarithm.
    pub ln_mean_error: f64,
    /// Log-likelihood of all values but each seal's first, given that one.
    pub given_first: f64,
    /// Value of a new seal: the mean of the first values, taken back to age 0 at the mean wear rate.
    pub new_value: f64,
    /// First values of the seals, taken back to age 0 at the mean wear rate.
    pub starts: Vec<f64>,
    /// Shape and rate that the data leave possible, with weights that add up to 1.
    pub open: Vec<(f64, [f64; 2])>,
    /// Increments fitted.
    pub increments: usize,
}

struct Increments(Vec<(f64, f64)>);

impl Increments {
    fn evaluate<S: Scalar>(&self, ln_shape: S, ln_rate: S) -> S {
        let (shape, rate) = (ln_shape.exp(), ln_rate.exp());
        self.0.iter().fold(S::constant(0.0), |total, (span, wear)| {
            let own = shape * *span;
            total + own * ln_rate - own.ln_gamma() + (own - 1.0) * wear.ln() - rate * *wear
        })
    }
}

impl LogLikelihood for Increments {
    fn value(&self, x: &[f64]) -> f64 {
        let at = |i: usize| x.get(i).copied().unwrap_or(f64::NAN);
        self.evaluate(at(0), at(1))
    }

    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let at = |i: usize| x.get(i).copied().unwrap_or(f64::NAN);
        let [shape, rate] = Jet::<2>::variables([at(0), at(1)]);
        let jet = self.evaluate(shape, rate);
        Derivatives {
            value: jet.value,
            gradient: jet.gradient.to_vec(),
            hessian: jet.hessian.iter().map(|row| row.to_vec()).collect(),
        }
    }

    fn weight(&self) -> f64 {
        self.0.len() as f64
    }
}

/// Fits the process by maximum likelihood (density of the increments; van Noortwijk 2009, from memory).
///
/// # Errors
/// [`NoWear`], saying why there is none.
///
/// ```
/// use sealspan_life::degradation::{Limit, wear::fit};
/// let paths = [
///     vec![(0.0, 0.0), (1.0, 1.0), (2.0, 3.0), (3.0, 4.0)],
///     vec![(0.0, 0.0), (1.0, 2.0), (2.0, 3.0), (3.0, 5.0)],
/// ];
/// let wear = fit(&paths, Limit { value: 10.0, rising: true }).unwrap();
/// // The mean wear is what was worn over the time: 9 in 6.
/// assert!((wear.shape / wear.rate - 1.5).abs() < 1e-6);
/// ```
pub fn fit(paths: &[Vec<(f64, f64)>], limit: Limit) -> Result<Wear, NoWear> {
    let side = limit.side();
    let pairs: Vec<(f64, f64)> = paths
        .iter()
        .flat_map(|p| p.windows(2))
        .filter_map(|w| match w {
            [a, b] if b.0 > a.0 => Some((b.0 - a.0, side * (b.1 - a.1))),
            _ => None,
        })
        .collect();
    if pairs.len() < FEWEST {
        return Err(NoWear::TooFew(pairs.len()));
    }
    let backward = pairs.iter().filter(|p| p.1 <= 0.0).count();
    if backward > 0 {
        return Err(NoWear::Backward {
            backward,
            all: pairs.len(),
        });
    }
    let count = pairs.len() as f64;
    let (time, wear) = pairs
        .iter()
        .fold((0.0, 0.0), |(t, w), p| (t + p.0, w + p.1));
    let mean = wear / time;
    // Moments: Var(wear) = shape Δ / rate², mean = shape Δ / rate.
    let variance = pairs
        .iter()
        .map(|p| (p.1 - mean * p.0).powi(2))
        .sum::<f64>()
        / count;
    let rate = mean * (time / count) / variance.max(1e-12 * wear * wear / (count * count));
    let start = [(mean * rate).ln(), rate.ln()];
    let problem = Increments(pairs);
    let found = maximise(&problem, &start).map_err(|l| NoWear::NotReached(l.why))?;
    let at = |i: usize| found.x.get(i).copied().unwrap_or(f64::NAN).exp();
    let c = &found.covariance;
    let (shape, rate) = (at(0), at(1));
    let firsts: Vec<&(f64, f64)> = paths.iter().filter_map(|p| p.first()).collect();
    let back = |p: &&(f64, f64)| p.1 - side * shape / rate * p.0;
    let starts: Vec<f64> = firsts.iter().map(back).collect();
    Ok(Wear {
        open: open(&problem, &found),
        new_value: starts.iter().sum::<f64>() / starts.len().max(1) as f64,
        starts,
        shape,
        rate,
        ln_errors: (c[(0, 0)].sqrt(), c[(1, 1)].sqrt()),
        ln_mean_error: (c[(0, 0)] + c[(1, 1)] - 2.0 * c[(0, 1)]).max(0.0).sqrt(),
        given_first: found.value,
        increments: count as usize,
    })
}

/// Nodes and weights of Gauss and Hermite for the standard normal law (Abramowitz & Stegun table 25.10, n = 7,
/// times √2 and over √π).
const NODES: [(f64, f64); 7] = [
    (-3.750_439_717_725_742, 5.482_688_559_722_178e-4),
    (-2.366_759_410_734_541, 3.075_712_396_758_65e-2),
    (-1.154_405_394_739_968, 0.240_123_178_605_013),
    (0.0, 0.457_142_857_142_857),
    (1.154_405_394_739_968, 0.240_123_178_605_013),
    (2.366_759_410_734_541, 3.075_712_396_758_65e-2),
    (3.750_439_717_725_742, 5.482_688_559_722_178e-4),
];

/// Posterior of shape and rate under a flat prior on their logarithms, on a grid about the maximum; the estimate
/// alone where it has no covariance.
fn open(problem: &Increments, found: &Maximum) -> Vec<(f64, [f64; 2])> {
    let at = |i: usize| found.x.get(i).copied().unwrap_or(f64::NAN);
    let alone = vec![(1.0, [at(0).exp(), at(1).exp()])];
    let Some(root) = found.covariance.clone().cholesky().map(|c| c.l()) else {
        return alone;
    };
    let mut grid = vec![];
    for (a, u) in NODES {
        for (b, v) in NODES {
            let x = [
                at(0) + root[(0, 0)] * a,
                at(1) + root[(1, 0)] * a + root[(1, 1)] * b,
            ];
            // How much higher the likelihood is here than the normal law about the maximum.
            let higher = problem.value(&x) - found.value + 0.5 * (a * a + b * b);
            grid.push((u * v * higher.exp(), x.map(f64::exp)));
        }
    }
    let total: f64 = grid.iter().map(|g| g.0).sum();
    if !(total > 0.0 && total.is_finite()) {
        return alone;
    }
    grid.retain(|g| g.0 > NEGLIGIBLE * total);
    let total: f64 = grid.iter().map(|g| g.0).sum();
    grid.iter_mut().for_each(|g| g.0 /= total);
    grid
}

/// A share of the posterior that is left out.
const NEGLIGIBLE: f64 = 1e-4;
/// Most first values carried through a prediction of a new seal.
const STARTS: usize = 12;

impl Wear {
    /// When a new seal reaches the limit: over the first values seen, and what the estimate leaves open.
    #[must_use]
    pub fn new_seal(&self, limit: Limit) -> Crossing {
        let mut sorted = self.starts.clone();
        sorted.sort_by(f64::total_cmp);
        let every = sorted.len().div_ceil(STARTS).max(1);
        let values: Vec<f64> = sorted.into_iter().step_by(every).collect();
        let count = values.len().max(1) as f64;
        let parts = values.iter().flat_map(|value| {
            let each = self.parts(0.0, *value, limit);
            each.into_iter().map(move |(w, part)| (w / count, part))
        });
        Crossing::new(parts.collect())
    }

    /// Interval, at two-sided confidence `level`, of the age by which a share `p` of new seals is past the
    /// limit: normal on the logarithm, from what the estimate and the mean first value leave open, with
    /// Student's t for few increments.
    #[must_use]
    pub fn share_interval(&self, limit: Limit, p: f64, level: f64) -> [Option<f64>; 2] {
        let n = self.starts.len().max(1) as f64;
        let variance = self.starts.iter().map(|v| (v - self.new_value).powi(2));
        let error = (variance.sum::<f64>() / (n - 1.0).max(1.0) / n).sqrt();
        let (mut mean, mut square) = (0.0, 0.0);
        for (step, share) in [(-1.0, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.0, 1.0 / 6.0)] {
            let value = self.new_value + step * 3.0_f64.sqrt() * error;
            for (w, part) in self.parts(0.0, value, limit) {
                let Some(age) = Crossing::new(vec![(1.0, part)]).age_at(p) else {
                    return [None; 2];
                };
                let ln = age.max(f64::MIN_POSITIVE).ln();
                mean += w * share * ln;
                square += w * share * ln * ln;
            }
        }
        let spread = (square - mean * mean).max(0.0).sqrt();
        let t = student_quantile(0.5 + 0.5 * level, (self.increments as f64 - 2.0).max(1.0));
        [mean - t * spread, mean + t * spread].map(|ln| Some(ln.exp()))
    }

    /// The same with shape and rate taken as known, for checks.
    #[must_use]
    pub fn parameters_known(&self) -> Self {
        Self {
            open: vec![(1.0, [self.shape, self.rate])],
            ..self.clone()
        }
    }

    /// When a seal with these measurements reaches the limit; `None` without a measurement.
    #[must_use]
    pub fn of_seal(&self, path: &Path, limit: Limit) -> Option<Crossing> {
        let (age, value) = path.last()?;
        Some(Crossing::new(self.parts(*age, *value, limit)))
    }

    /// One part for each shape and rate that is possible.
    fn parts(&self, age: f64, value: f64, limit: Limit) -> Vec<(f64, Part)> {
        let left = limit.side() * (limit.value - value);
        let part = |(weight, [shape, rate]): &(f64, [f64; 2])| {
            let part = Part::Gamma {
                from: age,
                left,
                shape: *shape,
                rate: *rate,
            };
            (*weight, part)
        };
        self.open.iter().map(part).collect()
    }

    /// Two-sided p-value of a seal's total wear under the process; `None` with fewer than two ages.
    #[must_use]
    pub(crate) fn p_value(&self, path: &Path, limit: Limit) -> Option<f64> {
        let (first, last) = (path.first()?, path.last()?);
        let span = last.0 - first.0;
        let wear = limit.side() * (last.1 - first.1);
        if span <= 0.0 {
            return None;
        }
        let above = chi_square_survival(2.0 * self.rate * wear, 2.0 * self.shape * span);
        Some((2.0 * above.min(1.0 - above)).min(1.0))
    }
}

#[cfg(test)]
mod tests;
