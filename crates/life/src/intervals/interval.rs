//! One interval, how it was made, and what is known of the simulation behind it.

use crate::bounds::{Bounds, Method};

/// Whether one of so many draws at least is expected beyond each end of an interval at two-sided confidence `level`,
/// (1 − level)/2 × (draws + 1) ≥ 1 (a rule of ours). With fewer the ends are not simulated, nor is their error.
#[must_use]
pub fn draws_reach(draws: f64, level: f64) -> bool {
    0.5 * (1.0 - level) * (draws + 1.0) >= 1.0
}

/// An interval with the error of the simulation behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// The ends.
    pub bounds: Bounds,
    /// Monte-Carlo standard error of the confidence of each end (0.003 is 0.3 points); `None` where nothing was drawn,
    /// or too little to reach the ends.
    pub simulation_error: Option<f64>,
    /// Whether the ends lie farther out than the draws behind them reach.
    pub beyond_draws: bool,
    /// How it was made: the profile likelihood where the method asked for does not apply.
    pub method: Method,
    /// Why it was made otherwise than the rest; `None` where it was not.
    pub instead: Option<Instead>,
}

/// Why one interval is a profile-likelihood interval and the others of its fit are not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Instead {
    /// Too few refits have the quantity.
    FewRefits,
    /// The estimate lies at the end of its range and has no standard error.
    AtEdge,
    /// The refits do not reach ends so far out.
    BeyondRefits,
}

impl Instead {
    /// The reason in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::FewRefits => "too few refits have an estimate there",
            Self::AtEdge => {
                "the estimate lies at the end of its range, where it has no standard error to calibrate or studentise by"
            }
            Self::BeyondRefits => {
                "at this confidence fewer than one refit lies beyond each end; ask for less confidence, or for --bounds posterior"
            }
        }
    }
}

impl Interval {
    /// An interval made as the rest of its fit are.
    pub(super) fn plain(bounds: Bounds, method: Method) -> Self {
        Self {
            bounds,
            simulation_error: None,
            beyond_draws: false,
            method,
            instead: None,
        }
    }

    /// The same with its simulation's error, where `draws` reach the ends.
    pub(super) fn simulated(self, error: Option<f64>, draws: f64, level: f64) -> Self {
        let reached = draws_reach(draws, level);
        Self {
            simulation_error: error.filter(|_| reached),
            beyond_draws: error.is_some() && !reached,
            ..self
        }
    }
}
