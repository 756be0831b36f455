//! Shared gamma frailty: the failure rate of every life in cluster j is multiplied by u_j, gamma with mean 1
//! and variance θ, and the baseline rate is left open.
//!
//! For a given θ the penalised partial likelihood is maximised by the EM steps of Nielsen et al. (1992) with
//! the acceleration of Varadhan & Roland (2008); θ maximises the integrated log-likelihood (Therneau,
//! Grambsch & Pankratz 2003), on the scale of the partial likelihood:
//!
//! L(θ) = PL(β, ω) + Σ_j \[d_j + ν(ω_j − e^{ω_j} + 1) + Σ_{i<d_j} ln(1 + iθ) − (ν + d_j) ln(1 + d_j θ)\], ν = 1/θ.

use super::cluster::{linear, past};
use super::data::{NoHazards, Prepared};
use super::fit::{Effect, HazardsFit, effects, maximise};
use super::frailty_error::covariance;
use super::partial::{Ties, value};
use crate::compare::Test;
use nalgebra::DVector;
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::{chi_square_quantile, chi_square_survival};
use std::cell::RefCell;

/// Variances tried before the search proper.
const GRID: [f64; 9] = [1e-3, 0.01, 0.05, 0.15, 0.4, 1.0, 2.5, 7.0, 20.0];
/// No interval is looked for beyond this variance.
const FARTHEST: f64 = 1e3;
/// Changes of ln u smaller than this end the EM steps; the second with so many clusters that they are known less
/// closely than that by far.
const STILL: [f64; 2] = [1e-11, 1e-4];
const STEPS: usize = 400;
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

/// Profile-likelihood interval of a variance, by its logarithm.
pub(super) fn interval(
    profile: impl Fn(f64) -> f64,
    theta: f64,
    best: f64,
    null: f64,
    level: f64,
    close: f64,
) -> (f64, Option<f64>) {
    let floor = best - 0.5 * chi_square_quantile(level, 1.0);
    let over = |q: f64| profile(q.exp()) - floor;
    let at = theta.max(1e-6).ln();
    let lower = if null >= floor {
        Some(0.0)
    } else {
        bracketed(over, (1e-8_f64).ln().min(at - 1.0), at, close).map(f64::exp)
    };
    let upper = bracketed(over, at, FARTHEST.ln(), close).map(f64::exp);
    (lower.unwrap_or(0.0), upper)
}

/// State of the search at one θ.
#[derive(Clone)]
pub(super) struct State {
    pub beta: DVector<f64>,
    /// ln u by cluster.
    pub omega: Vec<f64>,
}

struct Search<'a> {
    data: &'a Prepared,
    ties: Ties,
    /// Failures by cluster.
    failed: Vec<f64>,
    /// Changes of ln u that end the EM steps.
    still: f64,
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
            data,
            ties: fit.ties,
            still: STILL[usize::from(data.clusters >= MANY)],
            failed,
        }
    }

    /// The best solution along the grid of variances, each begun from the one before.
    fn nearest(&self, start: &State) -> State {
        let mut best: Option<(f64, State)> = None;
        let mut from = start.clone();
        for theta in GRID {
            let Ok(state) = self.solve(theta, &from) else {
                break;
            };
            let found = self.integrated(theta, &state);
            from = state.clone();
            if best.as_ref().is_none_or(|b| found > b.0) {
                best = Some((found, state));
            }
        }
        best.map_or_else(|| start.clone(), |b| b.1)
    }

    /// One EM step.
    fn step(&self, theta: f64, from: &State) -> Result<State, NoHazards> {
        let (beta, _) = maximise(self.data, self.ties, from.beta.clone(), &from.omega)?;
        let mut expected = vec![0.0; self.failed.len()];
        let pasts = past(self.data, self.ties, &beta, &from.omega);
        for (stratum, past) in self.data.strata.iter().zip(&pasts) {
            for (line, _, eta) in linear(self.data, stratum, &beta) {
                // The frailty is taken off again: the step asks for the hazard of u = 1.
                let omega = from.omega.get(line.cluster).copied().unwrap_or(0.0);
                if let Some(slot) = expected.get_mut(line.cluster) {
                    *slot += line.count * past.expected(line, eta + omega) * (-omega).exp();
                }
            }
        }
        let update = |(d, h): (&f64, &f64)| (theta * d).ln_1p() - (theta * h).ln_1p();
        Ok(State {
            beta,
            omega: self.failed.iter().zip(&expected).map(update).collect(),
        })
    }

    /// EM steps to the end, every third one extrapolated.
    fn solve(&self, theta: f64, start: &State) -> Result<State, NoHazards> {
        let mut state = start.clone();
        for _ in 0..STEPS {
            let first = self.step(theta, &state)?;
            let r = minus(&first.omega, &state.omega);
            if largest(&r) <= self.still {
                return Ok(first);
            }
            let second = self.step(theta, &first)?;
            let v = minus(&minus(&second.omega, &first.omega), &r);
            let ratio = (norm(&r) / norm(&v)).clamp(1.0, 64.0);
            let jump = if ratio.is_finite() { ratio } else { 1.0 };
            let omega = state.omega.iter().zip(r.iter().zip(&v));
            state = State {
                omega: omega
                    .map(|(o, (r, v))| o + 2.0 * jump * r + jump * jump * v)
                    .collect(),
                beta: second.beta,
            };
        }
        Err(NoHazards::NotReached { slope: f64::NAN })
    }

    /// Integrated log-likelihood at a solution.
    fn integrated(&self, theta: f64, state: &State) -> f64 {
        let partial = value(self.data, self.ties, &state.beta, &state.omega);
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
        partial + each.sum::<f64>()
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
            let solved = self.solve(q.exp(), near);
            solved.map_or(f64::NAN, |s| self.slope(q.exp(), &s))
        };
        let (low, high) = (theta.ln() - 0.01, theta.ln() + 0.01);
        bracketed(slope, low, high, 1e-12).map_or(theta, f64::exp)
    }
}

fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

fn norm(a: &[f64]) -> f64 {
    a.iter().map(|x| x * x).sum::<f64>().sqrt()
}

fn largest(a: &[f64]) -> f64 {
    a.iter().fold(0.0, |m, x| x.abs().max(m))
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
    };
    let null = fit.log_likelihood;
    let near = search.nearest(&start);
    // With many clusters the steps are dear: each search goes on from the one before.
    let many = data.clusters >= MANY;
    let last = RefCell::new(near.clone());
    let profile = |theta: f64| {
        let from = last.borrow().clone();
        search.solve(theta, &from).map_or(f64::NEG_INFINITY, |s| {
            let value = search.integrated(theta, &s);
            if many {
                last.replace(s);
            }
            value
        })
    };
    let [close, of_ends] = closeness(data.clusters);
    let theta = match highest(&profile, null, close) {
        theta if theta == 0.0 || many => theta,
        theta => search.exactly(theta, &near),
    };
    let state = if theta > 0.0 {
        search.solve(theta, &near)?
    } else {
        start
    };
    let log_likelihood = if theta > 0.0 {
        search.integrated(theta, &state)
    } else {
        null
    };
    let estimates: Vec<f64> = state
        .beta
        .iter()
        .zip(&data.spread)
        .map(|(b, s)| b / s)
        .collect();
    let errors = covariance(data, fit.ties, theta, &state).map(|c| fit.unscaled(&c));
    Ok(Frailty {
        effects: errors.map(|c| effects(&data.names, &estimates, &c, level)),
        estimates,
        theta,
        interval: interval(profile, theta, log_likelihood, null, level, of_ends),
        log_likelihood,
        log_likelihood_null: null,
        test: edge_test(log_likelihood, null),
    })
}

/// The variance with the highest profile: 0 unless some variance beats none.
pub(super) fn highest(profile: &impl Fn(f64) -> f64, null: f64, close: f64) -> f64 {
    let values: Vec<f64> = GRID.iter().map(|t| profile(*t)).collect();
    let top = values
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.total_cmp(b.1))
        .map_or(0, |(i, _)| i);
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
