//! Cumulative incidence by mode where failures are known only to lie between two looks: the nonparametric estimate of
//! greatest likelihood (Hudgens, Satten & Longini 2001, "Nonparametric maximum likelihood estimation for competing
//! risks survival data subject to interval censoring and truncation", Biometrics 57; from memory).
//!
//! It is the interval curve ([`crate::turnbull`]) with a mass for every pair of stretch and mode: a failure by a mode
//! lies in that mode's stretches, a sound seal in any stretch to come or after all looks. With one mode it is that
//! curve, with exact ages the estimate of Aalen & Johansen.

mod cells;
mod resampled;
#[cfg(test)]
mod tests;

use super::rows::{ByMode, ModeRow};
use crate::turnbull::problem::Problem;
use crate::turnbull::solve::solve;
use cells::{Cells, Row, cells};
use resampled::{Errors, errors};
use sealspan_numeric::special::{LN_SQRT_TWO_PI, normal_quantile};
use sealspan_records::observation::Sample;
use std::collections::BTreeMap;
use thiserror::Error;

/// A mode's incidence at the end of one of its stretches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LooksStep {
    /// Lower end of the stretch (lower, upper] (a single age when they are equal).
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Share failing in it by this mode.
    pub share: f64,
    /// Share failed by its end by this mode.
    pub incidence: f64,
    /// Standard error by resampled seals; `None` when [`LooksIncidence::no_errors`] says why.
    pub std_error: Option<f64>,
    /// Lower end of the pointwise interval on the log(−log) scale; `None` also where the share is 1 or nothing of it
    /// moves from resample to resample.
    pub lower_bound: Option<f64>,
    /// Upper end.
    pub upper_bound: Option<f64>,
}

/// Cumulative incidence of every mode.
#[derive(Debug, Clone, PartialEq)]
pub struct LooksIncidence {
    /// Stretches with mass of each mode, in order of age.
    pub modes: Vec<Vec<LooksStep>>,
    /// Share that outlives all stretches, or ends after them by a mode not told.
    pub beyond: f64,
    /// Log-likelihood: Σ ln of the mass each life can lie in, given the mass it was watched for.
    pub log_likelihood: f64,
    /// Largest violation of the likelihood's own conditions per seal (0 at the maximum).
    pub violation: f64,
    /// Resamples behind the standard errors; 0 without.
    pub resamples: usize,
    /// Monte-Carlo standard error of the confidence of each end.
    pub simulation_error: Option<f64>,
    /// Why there are no standard errors.
    pub no_errors: Option<NoErrors>,
}

/// Why there is no incidence.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoIncidence {
    /// Nothing was seen.
    #[error("no seals, or none that ended: there is no incidence")]
    Nothing,
    /// The conditions of the maximum are not met.
    #[error(
        "the search for the likeliest incidence broke off before it met the conditions of the maximum (violated by {violation:.1e} per seal)"
    )]
    NotReached {
        /// Largest violation per seal.
        violation: f64,
    },
}

/// Why an incidence has no standard errors.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoErrors {
    /// Resampling takes too long.
    #[error("{0} stretches by mode: too many to refit on resampled seals for standard errors")]
    TooManyStretches(usize),
    /// Resampling takes too long.
    #[error("too many seals to resample for standard errors")]
    TooManySeals,
}

/// The conditions of the maximum are met well enough to show an incidence.
const MET: f64 = 1e-7;

/// Cumulative incidence of every mode from lives of which some ended between two looks, with pointwise intervals at
/// two-sided confidence `level`; delayed entry and counts as elsewhere. It needs no independence of the modes.
///
/// Standard errors by refits to seals drawn anew with replacement (Efron & Tibshirani 1993), under `seed`. Where looks
/// are at ages of their own the estimate closes in more slowly than with the root of the seals, and they are rough.
///
/// # Errors
/// [`NoIncidence`], saying why.
///
/// ```
/// use sealspan_life::competing::between_looks::looks_incidence;
/// use sealspan_life::competing::rows::{ByMode, ModeRow};
/// use sealspan_records::observation::Observation;
/// let row = |observation, mode| ModeRow { observation, mode };
/// // Ten seals looked at after 100 days: three worn through, two cut.
/// let lives = ByMode::new(
///     vec![
///         row(Observation::interval(0.0, 100.0, 0.0, 3.0)?, Some(0)),
///         row(Observation::interval(0.0, 100.0, 0.0, 2.0)?, Some(1)),
///         row(Observation::right(100.0, 0.0, 5.0)?, None),
///     ],
///     2,
/// )?;
/// let found = looks_incidence(&lives, 0.9, 1)?;
/// assert!((found.modes[0][0].incidence - 0.3).abs() < 1e-9);
/// assert!((found.modes[1][0].incidence - 0.2).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn looks_incidence(
    lives: &ByMode,
    level: f64,
    seed: u64,
) -> Result<LooksIncidence, NoIncidence> {
    let rows = rows(lives);
    let found = masses(&rows, lives.modes()).ok_or(NoIncidence::Nothing)?;
    if found.violation > MET {
        return Err(NoIncidence::NotReached {
            violation: found.violation,
        });
    }
    let stretches = found.modes.iter().flatten().count();
    let (errors, no_errors) = match errors(&rows, &found, stretches, seed) {
        Ok(errors) => (Some(errors), None),
        Err(why) => (None, Some(why)),
    };
    let z = normal_quantile(0.5 + 0.5 * level);
    let step = |(mode, at, own): (usize, usize, &OwnMass)| {
        let std_error = errors.as_ref().and_then(|e| e.of(mode, at));
        let bounds = std_error.and_then(|e| log_log(own.incidence, e, z));
        LooksStep {
            lower: own.lower,
            upper: own.upper,
            share: own.share,
            incidence: own.incidence,
            std_error,
            lower_bound: bounds.map(|b| b.0),
            upper_bound: bounds.map(|b| b.1),
        }
    };
    let own_steps = |(mode, own): (usize, &Vec<OwnMass>)| {
        let numbered = own.iter().enumerate();
        numbered.map(|(at, mass)| step((mode, at, mass))).collect()
    };
    let resamples = errors.as_ref().map_or(0, |e| e.resamples);
    Ok(LooksIncidence {
        modes: found.modes.iter().enumerate().map(own_steps).collect(),
        beyond: found.beyond,
        log_likelihood: found.log_likelihood,
        violation: found.violation,
        resamples,
        simulation_error: errors.as_ref().map(|e| simulation_error(e, z)),
        no_errors,
    })
}

/// An end z standard errors out, when the standard error itself is off by 1/√(2B) of itself.
fn simulation_error(errors: &Errors, z: f64) -> f64 {
    let density = (-0.5 * z * z - LN_SQRT_TWO_PI).exp();
    density * z / (2.0 * errors.resamples as f64).sqrt()
}

/// A mode's mass in one of its stretches.
#[derive(Debug, Clone, Copy, PartialEq)]
struct OwnMass {
    lower: f64,
    upper: f64,
    share: f64,
    incidence: f64,
}

/// Stretches (lower, upper] with the likeliest share in each, of the lives that ended by a mode and of those that
/// ended by others, all groups together.
pub(super) fn stretches(groups: &[[Sample; 2]]) -> [Vec<(f64, f64, f64)>; 2] {
    let mut lives = vec![];
    for group in groups {
        for (kind, sample) in group.iter().enumerate() {
            lives.extend(sample.rows().iter().map(|o| ModeRow {
                observation: *o,
                mode: o.ended().then_some(kind),
            }));
        }
    }
    let found = ByMode::new(lives, 2).ok();
    let found = found.and_then(|lives| masses(&rows(&lives), 2));
    let modes = found.map_or_else(|| vec![vec![]; 2], |f| f.modes);
    let mut each = modes.into_iter().map(|own| {
        let stretch = |m: OwnMass| (m.lower, m.upper, m.share);
        own.into_iter().map(stretch).collect()
    });
    [(); 2].map(|()| each.next().unwrap_or_default())
}

/// Likeliest masses.
struct ByModeMasses {
    modes: Vec<Vec<OwnMass>>,
    beyond: f64,
    log_likelihood: f64,
    violation: f64,
}

/// Lives alike put together, in one order.
fn rows(lives: &ByMode) -> Vec<Row> {
    let mut alike: BTreeMap<_, Row> = BTreeMap::new();
    for r in lives.rows() {
        let row = Row {
            seen: r.observation.seen(),
            entry: r.observation.entry(),
            mode: r.mode,
            weight: r.observation.count(),
        };
        let kept = alike.entry(row.key());
        kept.and_modify(|k| k.weight += row.weight).or_insert(row);
    }
    alike.into_values().collect()
}

/// `None` where no life ended, or there is none.
fn masses(rows: &[Row], modes: usize) -> Option<ByModeMasses> {
    let Cells {
        stretches,
        told,
        count,
    } = cells(rows, modes);
    if stretches.is_empty() {
        return None;
    }
    let problem = Problem::new(told, count)?;
    let mass = solve(&problem);
    let mut out = vec![vec![]; modes];
    let mut gone = vec![0.0; modes];
    for (cell, share) in stretches.iter().zip(&mass) {
        let (Some(own), Some(gone)) = (out.get_mut(cell.mode), gone.get_mut(cell.mode)) else {
            continue;
        };
        if *share > 0.0 {
            *gone += share;
            own.push(OwnMass {
                lower: cell.lower,
                upper: cell.upper,
                share: *share,
                incidence: gone.min(1.0),
            });
        }
    }
    let slopes = problem.slopes(&mass);
    Some(ByModeMasses {
        modes: out,
        beyond: mass.get(stretches.len()).copied().unwrap_or(0.0),
        log_likelihood: problem.log_likelihood(&mass),
        violation: problem.violation(&mass, &slopes),
    })
}

fn log_log(share: f64, error: f64, z: f64) -> Option<(f64, f64)> {
    let ln = share.ln();
    let half = z * error / (share * -ln);
    (ln < 0.0 && half > 0.0 && half.is_finite())
        .then(|| ((ln * half.exp()).exp(), (ln * (-half).exp()).exp()))
}
