//! Share failed by each mode so far, all modes at work: from exact ages, or from looks.

use super::FitOptions;
use sealspan_life::competing::between_looks::{LooksIncidence, LooksStep, looks_incidence};
use sealspan_life::competing::incidence::{Step, cumulative_incidence};
use sealspan_life::competing::rows::ByMode;
use serde::Serialize;

/// A point of a mode's incidence.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct IncidencePoint {
    /// Age.
    pub time: f64,
    /// Lower end of the stretch in which these failures lie (failures between looks only).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
    /// Share failed by the mode.
    pub incidence: f64,
    /// Standard error: Greenwood's kind, or by seals drawn anew.
    pub std_error: Option<f64>,
    /// The same by Gray's variance (1988; exact ages only): larger in small samples, and what his test rests on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gray_std_error: Option<f64>,
    /// Lower end of the pointwise interval.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why a number is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
}

/// Every mode's incidence, or why there is none.
#[derive(Default)]
pub(super) struct Shares {
    pub(super) method: Option<&'static str>,
    pub(super) modes: Vec<Vec<IncidencePoint>>,
    pub(super) bounds: Option<String>,
    pub(super) simulation_error: Option<f64>,
    pub(super) reason: Option<String>,
}

const ALL: &str = "the share is 1, or the same in every sample drawn anew: no interval";
const NO_ERROR: &str = "no standard error (see incidence_bounds)";

pub(super) fn shares(lives: &ByMode, options: &FitOptions) -> Shares {
    if let Some(exact) = cumulative_incidence(lives, options.confidence) {
        let own = exact.modes.iter();
        return Shares {
            method: Some("aalen_johansen"),
            modes: own.map(|m| m.iter().map(of_exact).collect()).collect(),
            bounds: Some("Greenwood's kind of variance, on the log(−log) scale".to_owned()),
            ..Shares::default()
        };
    }
    match looks_incidence(lives, options.confidence, options.seed) {
        Ok(looks) => of_looks(&looks),
        Err(why) => Shares {
            reason: Some(why.to_string()),
            ..Shares::default()
        },
    }
}

fn of_exact(step: &Step) -> IncidencePoint {
    IncidencePoint {
        time: step.time,
        from: None,
        incidence: step.incidence,
        std_error: Some(step.std_error),
        gray_std_error: Some(step.gray_std_error),
        lower: step.lower,
        upper: step.upper,
        reason: step.lower.is_none().then_some(ALL),
    }
}

fn of_looks(looks: &LooksIncidence) -> Shares {
    let missing = if looks.no_errors.is_some() {
        NO_ERROR
    } else {
        ALL
    };
    let point = |s: &LooksStep| IncidencePoint {
        time: s.upper,
        from: Some(s.lower),
        incidence: s.incidence,
        std_error: s.std_error,
        gray_std_error: None,
        lower: s.lower_bound,
        upper: s.upper_bound,
        reason: s.lower_bound.is_none().then_some(missing),
    };
    let own = looks.modes.iter();
    Shares {
        method: Some("looks"),
        modes: own.map(|m| m.iter().map(point).collect()).collect(),
        bounds: Some(looks.no_errors.map_or_else(
            || {
                format!(
                    "refits of the likeliest shares to {} samples of seals drawn anew, on the log(−log) scale; rough where every seal is looked at on days of its own",
                    looks.resamples
                )
            },
            |why| why.to_string(),
        )),
        simulation_error: looks.simulation_error,
        reason: None,
    }
}
