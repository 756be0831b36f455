//! What is answered about replacing at an age, under the names of the output document.

use serde::Serialize;

/// Replacing on failure only.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunToFailure {
    /// Money per unit of the clock, downtime priced in.
    pub cost_rate: f64,
    /// Share of time up.
    pub availability: Option<f64>,
    /// Mean life, units of the clock.
    pub mean_life: f64,
    /// Money now for all replacements to come, the first fitting not counted.
    pub present_value: Option<f64>,
    /// Why there is no availability or present value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_out_reason: Option<String>,
}

/// An age off the best one and what it costs more.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OffBest {
    /// Age, units of the clock.
    pub age: f64,
    /// Money per unit of the clock.
    pub cost_rate: f64,
    /// Extra over the best in the goal's own measure, as a share (0.02 is 2 %).
    pub extra_share: f64,
}

/// Replacing at an age.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Replace {
    /// The age; `None` when never replacing before failure is best.
    pub age: Option<f64>,
    /// Why there is no age.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Money per unit of the clock, downtime priced in.
    pub cost_rate: f64,
    /// Ages within 2 % of the best; the upper end is `None` when never replacing is within 2 % too.
    /// `None` as a whole when no age is.
    pub flat_zone: Option<(f64, Option<f64>)>,
    /// Share of seals that fail before the age.
    pub failure_probability: f64,
    /// Share of time up.
    pub availability: Option<f64>,
    /// Mean time from one fitting to the next, downtime included.
    pub mean_cycle: f64,
    /// Money now for all replacements to come, the first fitting not counted.
    pub present_value: Option<f64>,
    /// Why there is no availability or present value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_out_reason: Option<String>,
    /// Why the flat zone has no upper end, or there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flat_zone_reason: Option<&'static str>,
    /// Share of the run-to-failure rate saved, in the goal's own measure; negative when it loses.
    pub saving: f64,
    /// A quarter too early.
    pub quarter_early: Option<OffBest>,
    /// A quarter too late.
    pub quarter_late: Option<OffBest>,
    /// Ratio of failure to planned cost (or hours) above which replacing at an age saves at least 1 %.
    pub pays_from_ratio: Option<f64>,
    /// What to know before using the age.
    pub notes: Vec<String>,
}
