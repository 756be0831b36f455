//! Shared gamma frailty: the failure rate of every life in cluster j is multiplied by u_j, gamma with mean 1
//! and variance θ, and the baseline rate is left open.
//!
//! For a given θ the penalised partial likelihood is maximised, which the EM steps of Nielsen et al. (1992) come to;
//! θ maximises the integrated log-likelihood (Therneau,
//! Grambsch & Pankratz 2003), on the scale of the partial likelihood:
//!
//! L(θ) = PL(β, ω) + Σ_j \[d_j + ν(ω_j − e^{ω_j} + 1) + Σ_{i<d_j} ln(1 + iθ) − (ν + d_j) ln(1 + d_j θ)\], ν = 1/θ.

use super::data::{NoHazards, Prepared};
use super::fit::{Effect, HazardsFit, effects};
use super::penalised::Penalised;
use super::penalised_best::State;
use crate::compare::Test;
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::{chi_square_quantile, chi_square_survival};
use std::cell::RefCell;

/// Variances tried before the search proper.
pub(super) const GRID: [f64; 9] = [1e-3, 0.01, 0.05, 0.15, 0.4, 1.0, 2.5, 7.0, 20.0];
/// No interval is looked for beyond this variance.
const FARTHEST: f64 = 1e3;
/// Clusters from which a variance is sought to fewer digits, of which its error leaves two.
const MANY: usize = 500;

/// To how much the search for ln θ, and for the ends of its interval, is carried on.
pub(super) fn closeness(clusters: usize) -> [f64; 2] {
    if clusters < MANY {
        [1e-10, 1e-7]
    } else {
        [1e-4, 1e-3]
    }
}

/// The fit.
#[derive(Debug, Clone)]
pub struct Frailty {
    /// Coefficients within a cluster, with errors that take θ as known; empty with a reason where the
    /// errors are out of reach.
    pub effects: Result<Vec<Effect>, String>,
    /// Coefficients in the columns as given.
    pub estimates: Vec<f64>,
    /// Variance between clusters, θ.
    pub theta: f64,
    /// Profile-likelihood interval of θ; no upper end where the likelihood does not fall again.
    pub interval: (f64, Option<f64>),
    /// Integrated log-likelihood at the maximum.
    pub log_likelihood: f64,
    /// The same at θ = 0: the log partial likelihood.
    pub log_likelihood_null: f64,
    /// Test of θ = 0.
    pub test: Test,
}

/// Likelihood-ratio test of a variance of zero. The value lies on the edge of its range, so the reference
/// is an even mixture of chi-squares with 0 and 1 degree of freedom (Self & Liang 1987).
pub(super) fn edge_test(best: f64, null: f64) -> Test {
    let statistic = (2.0 * (best - null)).max(0.0);
    Test {
        name: "no_variation_between_clusters",
        statistic,
        df: 1.0,
        p_value: if statistic > 0.0 {
            0.5 * chi_square_survival(statistic, 1.0)
        } else {
            1.0
        },
    }
}

/// Profile-likelihood interval of a variance, by its logarithm; ends `known` already are not sought.
pub(super) fn interval(
    profile: impl Fn(f64) -> f64,
    theta: f64,
    [best, null]: [f64; 2],
    level: f64,
    close: f64,
    known: [Option<f64>; 2],
) -> (f64, Option<f64>) {
    let floor = best - 0.5 * chi_square_quantile(level, 1.0);
    let over = |q: f64| profile(q.exp()) - floor;
    let at = theta.max(1e-6).ln();
    let lower = if null >= floor {
        Some(0.0)
    } else {
        let sought = || bracketed(over, (1e-8_f64).ln().min(at - 1.0), at, close).map(f64::exp);
        known[0].or_else(sought)
    };
    let upper = known[1].or_else(|| bracketed(over, at, FARTHEST.ln(), close).map(f64::exp));
    (lower.unwrap_or(0.0), upper)
}

struct Search<'a> {
    penalised: Penalised<'a>,
    /// Failures by cluster.
    failed: Vec<f64>,
}

impl<'a> Search<'a> {
    fn new(fit: &'a HazardsFit) -> Self {
        let data = &fit.data;
        let mut failed = vec![0.0; data.clusters];
        for line in data.strata.iter().flat_map(|s| &s.lines) {
            if let Some(slot) = failed.get_mut(line.cluster) {
                *slot += if line.failed { line.count } else { 0.0 };
            }
        }
        Self {
            penalised: Penalised::new(data, fit.ties),
            failed,
        }
    }

    /// Integrated log-likelihood at a solution.
    fn integrated(&self, theta: f64, state: &State) -> f64 {
        let nu = 1.0 / theta;
        let each = self.failed.iter().zip(&state.omega).map(|(d, omega)| {
            let mut rising = 0.0;
            let mut i = 1.0;
            while i < *d {
                rising += (i * theta).ln_1p();
                i += 1.0;
            }
            d + nu * (omega - omega.exp_m1()) + rising - (nu + d) * (d * theta).ln_1p()
        });
        state.partial + each.sum::<f64>()
    }
}

impl Search<'_> {
    /// Slope of the integrated log-likelihood in θ at a solution: β and ω are at their best, so only θ
    /// itself counts.
    fn slope(&self, theta: f64, state: &State) -> f64 {
        let nu = 1.0 / theta;
        let each = self.failed.iter().zip(&state.omega).map(|(d, omega)| {
            let mut rising = 0.0;
            let mut i = 1.0;
            while i < *d {
                rising += i / (1.0 + i * theta);
                i += 1.0;
            }
            let penalty = omega - omega.exp_m1();
            let past = nu * nu * (d * theta).ln_1p() - (nu + d) * d / (1.0 + d * theta);
            rising + past - nu * nu * penalty
        });
        each.sum()
    }

    /// The variance near `theta` at which the slope vanishes, which a search for the highest value finds to
    /// half the digits only.
    fn exactly(&self, theta: f64, near: &State) -> f64 {
        let slope = |q: f64| {
            let solved = self.penalised.best(q.exp(), near);
            solved.map_or(f64::NAN, |s| self.slope(q.exp(), &s))
        };
        let (low, high) = (theta.ln() - 0.01, theta.ln() + 0.01);
        bracketed(slope, low, high, 1e-12).map_or(theta, f64::exp)
    }
}

/// Adds a gamma frailty by cluster to a fit.
///
/// # Errors
/// In words for delayed entry (the clusters seen are then survivors, and the baseline rate is no longer
/// free of the frailty) and with fewer than two clusters of two lives.
pub fn frailty(fit: &HazardsFit, level: f64) -> Result<Frailty, NoHazards> {
    let data = &fit.data;
    usable(data)?;
    if data.delayed() {
        return Err(NoHazards::Clusters(
            "lives watched only from an age above zero are survivors of their clusters, and a frailty with an open baseline rate cannot allow for that; see the Weibull frailty".to_owned(),
        ));
    }
    let search = Search::new(fit);
    let start = State {
        beta: fit.beta.clone(),
        omega: vec![0.0; data.clusters],
        partial: fit.log_likelihood,
    };
    let null = fit.log_likelihood;
    // Each search goes on from the one before.
    let last = RefCell::new(start.clone());
    let profile = |theta: f64| {
        let from = last.borrow().clone();
        search
            .penalised
            .best(theta, &from)
            .map_or(f64::NEG_INFINITY, |s| {
                let value = search.integrated(theta, &s);
                last.replace(s);
                value
            })
    };
    let [close, of_ends] = closeness(data.clusters);
    let theta = match highest(&profile, null, close) {
        theta if theta == 0.0 || data.clusters >= MANY => theta,
        theta => search.exactly(theta, &last.borrow()),
    };
    let (state, log_likelihood, errors) = if theta > 0.0 {
        let state = search.penalised.best(theta, &last.borrow())?;
        let errors = search.penalised.covariance(theta, &state);
        (state.clone(), search.integrated(theta, &state), errors)
    } else {
        (start, null, Some(fit.inverse.clone()))
    };
    let estimates: Vec<f64> = state
        .beta
        .iter()
        .zip(&data.spread)
        .map(|(b, s)| b / s)
        .collect();
    let errors = errors.map(|c| effects(&data.names, &estimates, &fit.unscaled(&c), level));
    Ok(Frailty {
        effects: errors.ok_or_else(|| NoHazards::NotReached { slope: 0.0 }.to_string()),
        estimates,
        theta,
        interval: interval(
            profile,
            theta,
            [log_likelihood, null],
            level,
            of_ends,
            [None; 2],
        ),
        log_likelihood,
        log_likelihood_null: null,
        test: edge_test(log_likelihood, null),
    })
}

/// The variance with the highest profile: 0 unless some variance beats none.
pub(super) fn highest(profile: &impl Fn(f64) -> f64, null: f64, close: f64) -> f64 {
    near_highest(profile, crest(profile), null, close)
}

/// The place on the grid with the highest profile.
pub(super) fn crest(profile: &impl Fn(f64) -> f64) -> usize {
    let values = GRID.iter().map(|t| profile(*t)).enumerate();
    values
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(0, |(i, _)| i)
}

/// The variance with the highest profile about a place on the grid.
pub(super) fn near_highest(
    profile: &impl Fn(f64) -> f64,
    top: usize,
    null: f64,
    close: f64,
) -> f64 {
    let at = |i: usize, far: f64| GRID.get(i).copied().unwrap_or(far).ln();
    let low = top.checked_sub(1).map_or((1e-7_f64).ln(), |i| at(i, 1.0));
    let high = at(top + 1, 200.0);
    let (q, less) = minimise_bracketed(|q| -profile(q.exp()), low, high, close);
    // Below this the likelihood cannot be told from that without variation.
    if -less > null + 1e-9 { q.exp() } else { 0.0 }
}

/// A variance between clusters needs clusters, some of them with more than one life.
pub(super) fn usable(data: &Prepared) -> Result<(), NoHazards> {
    let mut lives = vec![0.0; data.clusters];
    for line in data.strata.iter().flat_map(|s| &s.lines) {
        if let Some(slot) = lives.get_mut(line.cluster) {
            *slot += line.count;
        }
    }
    if lives.iter().filter(|n| **n > 1.0).count() < 2 {
        return Err(NoHazards::Clusters(
            "fewer than two clusters hold more than one seal: how much clusters differ cannot be seen".to_owned(),
        ));
    }
    Ok(())
}
