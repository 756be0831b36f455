//! Numbers of a fit: parameters, ages, shares, each with its interval.

use super::Ends;
use crate::wire::Number;
use sealspan_life::law::Dimension;
use serde::Serialize;

/// A reported parameter.
#[derive(Debug, Clone, Serialize)]
pub struct ParameterFit {
    /// Name.
    pub name: &'static str,
    /// Unit of the estimate, its standard error and its ends; none for a pure number.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// Standard error on the parameter's own scale.
    pub std_error: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub std_error_reason: Option<&'static str>,
    /// Estimate and interval.
    #[serde(flatten)]
    pub number: Number,
    /// What the interval lacks.
    #[serde(flatten)]
    pub ends: Ends,
}

/// Age by which the share `p` has failed.
#[derive(Debug, Clone, Serialize)]
pub struct AtShare {
    /// Share failed.
    pub p: f64,
    /// Age.
    #[serde(flatten)]
    pub number: Number,
    /// What the interval lacks.
    #[serde(flatten)]
    pub ends: Ends,
}

/// Share surviving an age.
#[derive(Debug, Clone, Serialize)]
pub struct AtTime {
    /// Age.
    pub time: f64,
    /// Share.
    #[serde(flatten)]
    pub number: Number,
    /// What the interval lacks.
    #[serde(flatten)]
    pub ends: Ends,
    /// Lower edge of the band that holds at all ages at once.
    pub band_lower: Option<f64>,
    /// Upper edge.
    pub band_upper: Option<f64>,
    /// Why the band has no edge.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band_reason: Option<String>,
}

/// Time left to a seal of some age, by which a share of such seals has failed.
#[derive(Debug, Clone, Serialize)]
pub struct Remaining {
    /// Age now.
    pub age: f64,
    /// Share failed.
    pub p: f64,
    /// Time from now.
    #[serde(flatten)]
    pub number: Number,
    /// What the interval lacks.
    #[serde(flatten)]
    pub ends: Ends,
}

/// The unit of a parameter where ages are in `unit`; empty for a pure number.
pub(super) fn parameter_unit(dimension: Dimension, unit: &str) -> String {
    match dimension {
        Dimension::Time => unit.to_owned(),
        Dimension::PerTime => format!("per {}", unit.trim_end_matches('s')),
        Dimension::LnTime => format!("ln {unit}"),
        Dimension::None => String::new(),
    }
}
