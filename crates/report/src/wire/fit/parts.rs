//! Smaller parts of a family's answer.

use super::Ends;
use serde::Serialize;

/// The weak prior of one reported parameter: normal on `scale`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PriorOf {
    /// Parameter.
    pub name: &'static str,
    /// What of it is normal: `itself`, `logarithm` or `log odds`.
    pub scale: &'static str,
    /// Unit of the parameter; empty for a pure number.
    pub unit: String,
    /// Mean on that scale.
    pub mean: f64,
    /// Standard deviation on that scale.
    pub standard_deviation: f64,
    /// The value that half of the prior lies below.
    pub median: f64,
    /// Nine tenths of the prior lie above this value and below the next, a twentieth on each side.
    pub from: f64,
    /// See `from`.
    pub to: f64,
    /// Share of the information on the parameter that the prior supplies: variance of the posterior over that of
    /// the prior.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supplies: Option<f64>,
}

/// Tests of fit with p-values from refits.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct GoodnessResult {
    /// Anderson–Darling statistic.
    pub anderson_darling: f64,
    /// Cramér–von Mises statistic.
    pub cramer_von_mises: f64,
    /// p-value of the Anderson–Darling statistic.
    pub p_value: f64,
    /// p-value of the Cramér–von Mises statistic.
    pub p_value_cramer_von_mises: f64,
    /// Monte-Carlo standard error of the p-value.
    pub p_value_error: f64,
    /// Refits behind it.
    pub refits: usize,
    /// Share of the samples drawn that had no estimate and are left out.
    pub without_estimate: f64,
}

/// A line through median ranks by Benard's approximation on Weibull paper, ln age regressed on the rank (IEC 61649 describes
/// it).
#[derive(Debug, Clone, Copy, Serialize)]
pub struct RankLineResult {
    /// Weibull shape, the reciprocal of the line's slope.
    pub shape: f64,
    /// Characteristic life.
    pub scale: f64,
    /// Failures on the line.
    pub failures: usize,
    /// What it is good for.
    pub note: &'static str,
}

/// A profile-likelihood interval beside another.
#[derive(Debug, Clone, Serialize)]
pub struct Beside {
    /// Of what.
    pub of: String,
    /// Lower end.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// What it lacks.
    #[serde(flatten)]
    pub ends: Ends,
    /// The same in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Where the likelihood of a quantity peaks, beside another estimate of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Peak {
    /// Of what.
    pub of: String,
    /// Value at the greatest likelihood.
    pub estimate: f64,
}

/// A row set aside.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AsideRow {
    /// The file, where the table is more than one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The file's own row number.
    pub row: u64,
    /// Why it is not used.
    pub reason: String,
}

/// A seal's residuals.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct ResidualRow {
    /// Last age known.
    pub time: f64,
    /// Whether it failed.
    pub failed: bool,
    /// Cumulative hazard lived through.
    pub cox_snell: f64,
    /// Deviance residual.
    pub deviance: f64,
}
