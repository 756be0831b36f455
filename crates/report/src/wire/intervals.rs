//! The interval sheet: what to state for each material and condition, and how far it was tested.

use super::{GroupKey, Number};
use sealspan_care::calendar::{Calendar, Rounded};
use serde::Serialize;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct IntervalsDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Share of seals that may fail within the interval.
    pub share: f64,
    /// One-sided confidence of that.
    pub confidence: f64,
    /// Step of the service calendar that days are rounded down to.
    pub calendar: Calendar,
    /// Family fitted.
    pub family: &'static str,
    /// Units of the clocks, the first asked for first.
    pub units: Vec<&'static str>,
    /// Why there is only one clock.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub one_clock_reason: Option<String>,
    /// Why there is no interval of least cost.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost_reason: Option<String>,
    /// One entry a group, in order of their names.
    pub groups: Vec<GroupIntervals>,
    /// How to read the sheet.
    pub notes: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// One material and condition.
#[derive(Debug, Clone, Serialize)]
pub struct GroupIntervals {
    /// Its name.
    pub group: GroupKey,
    /// What to state, in words: the lesser of the two intervals on each clock, whichever clock comes first.
    pub state: Option<String>,
    /// Why there is nothing to state.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Whether any of it reaches beyond the oldest seal seen.
    pub extrapolated: bool,
    /// One entry a clock.
    pub clocks: Vec<ClockIntervals>,
}

/// One group on one clock.
#[derive(Debug, Clone, Serialize)]
pub struct ClockIntervals {
    /// Unit of ages.
    pub unit: &'static str,
    /// Seals read on this clock.
    pub seals: f64,
    /// Failures among them.
    pub failures: f64,
    /// Seals watched at the age that is stated (entered by then, and last seen at it or later); left out where none is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub watched_then: Option<f64>,
    /// Oldest age seen, failed or not.
    pub oldest_seen: f64,
    /// Age by which the share has failed: estimate, and the interval of two-sided level 2c - 1, c the one-sided confidence,
    /// whose lower end is the bound below unless that rests on the defect model.
    pub age_of_share: Number,
    /// The age by which at most the share fails, with the confidence asked for.
    pub at_most_share: Interval,
    /// The age of least cost, replaced at an age alone, by the estimate.
    pub least_cost: Interval,
    /// What the two rest on: `sound_until_removed` reads seals taken off worn as sound until then, `defects` reads what
    /// looks found as defects on their way to failure, `failed_when_removed` reads them as failed that day for the share
    /// (too short rather than too long) and as sound until then for least cost.
    pub basis: &'static str,
    /// Why the log does not tell defects although looks took worn seals off.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis_reason: Option<String>,
    /// What to state on this clock: the lesser of the two, rounded down.
    pub state: Option<Rounded>,
    /// What sets it, `share` or `cost`, or why there is none.
    pub state_reason: String,
    /// Bounds for shapes taken as known, when failures are too few; none of them is stated for you.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub if_shape_known: Vec<KnownShape>,
    /// Doubts.
    pub warnings: Vec<String>,
}

/// An interval, or why there is none.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Interval {
    /// The age as worked out.
    pub age: Option<f64>,
    /// The age rounded down to what a calendar can hold.
    pub rounded: Option<Rounded>,
    /// Whether the age lies beyond the oldest seal seen; `None` without an age.
    pub extrapolated: Option<bool>,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A bound for a shape taken as known.
#[derive(Debug, Clone, Serialize)]
pub struct KnownShape {
    /// Weibull shape.
    pub shape: f64,
    /// Where it comes from.
    pub source: &'static str,
    /// The age by which at most the share fails, with the confidence asked for.
    pub age: f64,
}
