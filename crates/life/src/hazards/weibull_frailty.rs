//! Weibull lives with a gamma frailty by cluster, by maximum likelihood.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::data::{NoHazards, Prepared, WithLooks};
use super::fit::{Effect, effects};
use super::frailty::{GRID, closeness, crest, edge_test, interval, near_highest, usable};
use super::weibull_terms::WeibullTerms;
use crate::compare::Test;
use crate::contour::{Contour, Enough};
use crate::maximise::{Lost, Maximum, climb, maximise, refine};
use crate::quantity::Derivatives;
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::chi_square_quantile;
use std::cell::RefCell;

/// The fit. Lives are ln T = x·b + σ ln E for a cluster whose frailty is 1.
///
/// ```
/// use sealspan_life::hazards::{Prepared, Ties, WatchedLife, WithLooks, fit, frailty, weibull_frailty};
/// use sealspan_records::Observation;
/// let life = |age: f64, design, cluster| WatchedLife {
///     observation: Observation::exact(age, 0.0, 1.0).unwrap(),
///     design,
///     stratum: 0,
///     cluster,
/// };
/// // Two clusters of the same lives do not differ.
/// let of = |c: usize| [life(20.0, 0, c), life(60.0, 1, c), life(100.0, 0, c), life(220.0, 1, c)];
/// let data = Prepared::new(&["group".to_owned()], &[vec![0.0], vec![1.0]], &[of(0), of(1)].concat()).unwrap();
/// let found = weibull_frailty(&WithLooks::from(data.clone()), 0.9).unwrap();
/// assert_eq!((found.theta, found.interval.0, found.test.statistic), (0.0, 0.0, 0.0));
/// assert_eq!(found.shared[0].interval(0.9), (1.0, 1.0));
/// // A Weibull law's two signs: on ln life b, on the ln failure rate −b/σ.
/// let sigma = found.x[2].exp();
/// let (life, rate) = (&found.effects(0.9)[1], &found.hazard_effects(0.9)[0]);
/// assert!((rate.estimate + life.estimate / sigma).abs() < 1e-12);
/// // With the baseline rate left open there is no variance either.
/// let open = fit(data, Ties::Efron).unwrap();
/// let with = frailty(&open, 0.9).unwrap();
/// assert_eq!((with.theta, with.interval.0, with.test.p_value), (0.0, 0.0, found.test.p_value));
/// assert!((with.log_likelihood - open.log_likelihood).abs() < 1e-9);
/// ```
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
    // Each search goes on from the one before.
    let last = RefCell::new(without.x.clone());
    let at = |theta: f64| {
        let fixed = terms.with(theta);
        let from = last.borrow().clone();
        let found = refine(&fixed, &from).or_else(|_| maximise(&fixed, &without.x))?;
        last.replace(found.x.clone());
        Ok(found)
    };
    let profile = |theta: f64| at(theta).map_or(f64::NEG_INFINITY, |m: Maximum| m.value);
    let [close, of_ends] = closeness(data.clusters);
    let top = crest(&profile);
    let best = match direct(&terms, at, top, without.value) {
        Some(found) => found,
        None => match near_highest(&profile, top, without.value, close) {
            theta if theta > 0.0 => {
                let mut from = at(theta).map_err(lost)?.x;
                from.push(theta.ln());
                maximise(&terms, &from).map_err(lost)?
            }
            _ => without.clone(),
        },
    };
    let theta = match best.x.len() > without.x.len() {
        true => best.x.last().map_or(0.0, |q| q.exp()),
        false => 0.0,
    };
    let known = match theta > 0.0 {
        true => ends(&terms, &best, level),
        false => [None; 2],
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
        interval: interval(
            profile,
            theta,
            [value, without.value],
            level,
            of_ends,
            known,
        ),
        log_likelihood: value,
        log_likelihood_null: without.value,
        test: edge_test(value, without.value),
        shared,
    })
}

/// The maximum in θ and all else together, by Newton's method from the grid's highest place. `None` where it is not
/// surely above: at the foot of the grid, beside no variance at all.
fn direct(
    terms: &WeibullTerms<'_>,
    at: impl Fn(f64) -> Result<Maximum, Lost>,
    top: usize,
    null: f64,
) -> Option<Maximum> {
    let theta = *GRID.get(top).filter(|_| top > 0)?;
    let near = at(theta).ok()?;
    let mut from = near.x;
    from.push(theta.ln());
    let found = climb(terms, &from).ok()?;
    let higher = found.value >= near.value && found.value > null + 1e-9;
    higher.then_some(found)
}

/// How closely the ends of the interval of ln θ are sought.
const ENDS: Enough = Enough {
    step: 1e-7,
    fall: 1e-7,
};

/// The ends of the profile-likelihood interval of θ, followed along the contours of the likelihood; `None` where the
/// way to one breaks off.
fn ends(terms: &WeibullTerms<'_>, best: &Maximum, level: f64) -> [Option<f64>; 2] {
    let ln_theta = |x: &[f64]| {
        let n = x.len();
        let mut gradient = vec![0.0; n];
        if let Some(slot) = gradient.last_mut() {
            *slot = 1.0;
        }
        Derivatives {
            value: x.last().copied().unwrap_or(f64::NAN),
            gradient,
            hessian: vec![vec![0.0; n]; n],
        }
    };
    let depth = chi_square_quantile(level, 1.0).sqrt();
    [-1.0, 1.0].map(|side| {
        let contour = Contour {
            likelihood: terms,
            quantity: &ln_theta,
            top: best.value,
            centre: DVector::from_column_slice(&best.x),
            covariance: best.covariance.clone(),
            side,
        };
        let end = contour.path(depth, ENDS).ok()?;
        end.iter().next_back().map(|q| q.exp())
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
