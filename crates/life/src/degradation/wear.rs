//! Wear that only grows: independent gamma increments, measured without error.

use super::crossing::{Crossing, Part};
use super::{Limit, Path};
use crate::fit::NoFit;
use crate::maximise::{LogLikelihood, maximise};
use crate::quantity::Derivatives;
use sealspan_numeric::jet::{Jet, Scalar};
use sealspan_numeric::special::{chi_square_survival, ln_gamma};
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
#[derive(Debug, Clone, Copy, PartialEq)]
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
    let found = maximise(&Increments(pairs), &start).map_err(|l| NoWear::NotReached(l.why))?;
    let at = |i: usize| found.x.get(i).copied().unwrap_or(f64::NAN).exp();
    let c = &found.covariance;
    let (shape, rate) = (at(0), at(1));
    let firsts: Vec<&(f64, f64)> = paths.iter().filter_map(|p| p.first()).collect();
    let back = |p: &&(f64, f64)| p.1 - side * shape / rate * p.0;
    Ok(Wear {
        shape,
        rate,
        ln_errors: (c[(0, 0)].sqrt(), c[(1, 1)].sqrt()),
        ln_mean_error: (c[(0, 0)] + c[(1, 1)] - 2.0 * c[(0, 1)]).max(0.0).sqrt(),
        given_first: found.value,
        new_value: firsts.iter().map(back).sum::<f64>() / firsts.len().max(1) as f64,
        increments: count as usize,
    })
}

impl Wear {
    /// When a new seal reaches the limit.
    #[must_use]
    pub fn new_seal(&self, limit: Limit) -> Crossing {
        self.from(0.0, self.new_value, limit)
    }

    /// When a seal with these measurements reaches the limit; `None` without a measurement.
    #[must_use]
    pub fn of_seal(&self, path: &Path, limit: Limit) -> Option<Crossing> {
        let (age, value) = path.last()?;
        Some(self.from(*age, *value, limit))
    }

    fn from(&self, age: f64, value: f64, limit: Limit) -> Crossing {
        let part = Part::Gamma {
            from: age,
            left: limit.side() * (limit.value - value),
            shape: self.shape,
            rate: self.rate,
        };
        Crossing::new(vec![(1.0, part)])
    }

    /// Two-sided p-value of a seal's total wear under the process; `None` with fewer than two ages.
    #[must_use]
    pub fn p_value(&self, path: &Path, limit: Limit) -> Option<f64> {
        let (first, last) = (path.first()?, path.last()?);
        let span = last.0 - first.0;
        let wear = limit.side() * (last.1 - first.1);
        if span <= 0.0 {
            return None;
        }
        let above = chi_square_survival(2.0 * self.rate * wear, 2.0 * self.shape * span);
        Some((2.0 * above.min(1.0 - above)).min(1.0))
    }

    /// Log-density of one increment, for checks.
    #[must_use]
    pub fn ln_density(&self, span: f64, wear: f64) -> f64 {
        let own = self.shape * span;
        own * self.rate.ln() - ln_gamma(own) + (own - 1.0) * wear.ln() - self.rate * wear
    }
}
