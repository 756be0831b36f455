//! Weibull lives with a gamma frailty by cluster, by maximum likelihood.

use super::data::{NoHazards, Prepared, WithLooks};
use super::fit::{Effect, effects};
use super::frailty::{closeness, edge_test, highest, interval, usable};
use super::weibull_terms::WeibullTerms;
use crate::compare::Test;
use crate::maximise::{Maximum, maximise, refine};
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::chi_square_quantile;

/// The fit. Lives are ln T = x·b + σ ln E for a cluster whose frailty is 1.
#[derive(Debug, Clone)]
pub struct WeibullFrailty {
    /// `intercept`, then the columns.
    pub names: Vec<String>,
    /// Coefficients on ln life, ln σ, and ln θ where θ is above 0.
    pub x: Vec<f64>,
    /// Covariance of `x` from the observed information.
    pub covariance: DMatrix<f64>,
    /// Variance between clusters, θ.
    pub theta: f64,
    /// Profile-likelihood interval of θ; no upper end where the likelihood does not fall again.
    pub interval: (f64, Option<f64>),
    /// Log-likelihood, densities per unit of time.
    pub log_likelihood: f64,
    /// The same at θ = 0.
    pub log_likelihood_null: f64,
    /// Test of θ = 0.
    pub test: Test,
    /// The frailty of each cluster, in the order in which they first appear; all 1 where θ is 0.
    pub shared: Vec<Shared>,
}

/// What is known of the frailty of one cluster, given its own lives, θ and the law taken as known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shared {
    /// Mean.
    pub mean: f64,
    /// Variance.
    pub variance: f64,
}

impl Shared {
    /// Equal-tailed interval at two-sided `level`: of a gamma law, exact without failures between two looks and of
    /// like mean and variance with them.
    #[must_use]
    pub fn interval(&self, level: f64) -> (f64, f64) {
        if self.variance <= 0.0 {
            return (self.mean, self.mean);
        }
        let shape = self.mean * self.mean / self.variance;
        let scale = 0.5 * self.variance / self.mean;
        let end = |p: f64| scale * chi_square_quantile(p, 2.0 * shape);
        (end(0.5 - 0.5 * level), end(0.5 + 0.5 * level))
    }
}

/// Fits Weibull lives with a frailty by cluster, failures between two looks as they are. Strata are not told apart:
/// give them as columns.
///
/// Delayed entry divides by the chance that every life of the cluster reached its entry: right where lives
/// came under watch because they had survived until then, their dates of fitting taken as given.
///
/// # Errors
/// [`NoHazards`] where no maximum was found, or the clusters do not show how much they differ.
pub fn weibull_frailty(data: &WithLooks, level: f64) -> Result<WeibullFrailty, NoHazards> {
    let data = &data.0;
    usable(data)?;
    let terms = WeibullTerms::new(data);
    let mut start = vec![0.0; data.columns() + 2];
    if let Some(first) = start.first_mut() {
        *first = terms.ln_mean();
    }
    let lost = |_| NoHazards::NotReached { slope: f64::NAN };
    let without = maximise(&terms.with(0.0), &start).map_err(lost)?;
    let at = |theta: f64| {
        let fixed = terms.with(theta);
        refine(&fixed, &without.x).or_else(|_| maximise(&fixed, &without.x))
    };
    let profile = |theta: f64| at(theta).map_or(f64::NEG_INFINITY, |m| m.value);
    let [close, of_ends] = closeness(data.clusters);
    let theta = highest(&profile, without.value, close);
    let best = if theta > 0.0 {
        let mut from = at(theta).map_err(lost)?.x;
        from.push(theta.ln());
        maximise(&terms, &from).map_err(lost)?
    } else {
        without.clone()
    };
    let theta = if theta > 0.0 {
        best.x.last().map_or(0.0, |q| q.exp())
    } else {
        0.0
    };
    let shared = match theta > 0.0 {
        true => terms.frailties(&best.x),
        false => vec![[1.0, 0.0]; data.clusters],
    };
    let shared = shared
        .into_iter()
        .map(|[mean, variance]| Shared { mean, variance })
        .collect();
    let Maximum {
        x,
        value,
        covariance,
    } = given(data, &best);
    Ok(WeibullFrailty {
        names: std::iter::once("intercept".to_owned())
            .chain(data.names.iter().cloned())
            .collect(),
        x,
        covariance,
        theta,
        interval: interval(profile, theta, value, without.value, level, of_ends),
        log_likelihood: value,
        log_likelihood_null: without.value,
        test: edge_test(value, without.value),
        shared,
    })
}

/// The maximum in the columns as given.
fn given(data: &Prepared, best: &Maximum) -> Maximum {
    let size = best.x.len();
    let mut back = DMatrix::identity(size, size);
    for (j, (m, s)) in data.mean.iter().zip(&data.spread).enumerate() {
        back[(j + 1, j + 1)] = 1.0 / s;
        back[(0, j + 1)] = -m / s;
    }
    let x = &back * DVector::from_column_slice(&best.x);
    Maximum {
        x: x.iter().copied().collect(),
        value: best.value,
        covariance: &back * &best.covariance * back.transpose(),
    }
}

impl WeibullFrailty {
    /// Coefficients on ln life with Wald intervals at two-sided confidence `level`.
    #[must_use]
    pub fn effects(&self, level: f64) -> Vec<Effect> {
        effects(&self.names, &self.x, &self.covariance, level)
    }

    /// Coefficients on the log failure rate, −b/σ, with errors by the delta method.
    #[must_use]
    pub fn hazard_effects(&self, level: f64) -> Vec<Effect> {
        let n = self.names.len();
        let ln_sigma = self.x.get(n).copied().unwrap_or(0.0);
        let shape = (-ln_sigma).exp();
        let rates: Vec<f64> = self.x.iter().take(n).skip(1).map(|b| -b * shape).collect();
        let mut chain = DMatrix::zeros(rates.len(), self.x.len());
        for (j, rate) in rates.iter().enumerate() {
            chain[(j, j + 1)] = -shape;
            chain[(j, n)] = -rate;
        }
        let covariance = &chain * &self.covariance * chain.transpose();
        let names = self.names.get(1..).unwrap_or_default();
        effects(names, &rates, &covariance, level)
    }
}
