//! Money place by place, and replacement ages of a place's own.

use super::money::Year;
use serde::Serialize;

/// One place, all its parts together.
#[derive(Debug, Clone, Serialize)]
pub struct PlaceMoney {
    /// Where.
    pub place: String,
    /// Seals running there now.
    pub positions: f64,
    /// A year as practice goes on there, averaged over the months.
    pub today: Year,
    /// The same under the plan.
    pub plan: Year,
    /// What the place's own log counted; left out where it says nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recorded: Option<RecordedFailures>,
    /// Money saved a year, averaged over the months, not discounted.
    pub saving: f64,
    /// Lower end of its prediction interval: the chance of the seals and the error of the lives.
    pub saving_lower: Option<f64>,
    /// Upper end.
    pub saving_upper: Option<f64>,
    /// Why there is no interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub interval_reason: Option<&'static str>,
}

/// Failures that a place's log counted, beside its forecast.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RecordedFailures {
    /// So many.
    pub counted: f64,
    /// A year, of 365.25 days under watch, for as many seals of each part as are in service now.
    pub per_year: f64,
    /// Failures that the rate forecast for today's practice would have given over the same time under watch.
    pub expected: f64,
    /// Two-sided p-value of so many at that rate, as a Poisson count (mid-p).
    pub p_value: f64,
}

/// The replacement age that costs least at one place, or for one duty, beside the plan's age for all of a part: the step of
/// the calendar that costs least on average over the lives drawn; looks and turns as planned. Intervals are by rank among
/// the lives drawn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnAge {
    /// The place, or the duty: what its seals meet.
    pub at: String,
    /// Which seal.
    pub part: String,
    /// Seals running there now.
    pub positions: f64,
    /// Rate at which defects start there over that of all of the part; `null` for a duty.
    pub rate: Option<f64>,
    /// Lower end of its interval, from the lives drawn.
    pub rate_lower: Option<f64>,
    /// Upper end.
    pub rate_upper: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_reason: Option<&'static str>,
    /// Share of defects that a look finds, by a duty's own laws; `null` at a place, and where the log tells no defects.
    pub detection: Option<f64>,
    /// The plan's age, days; `null`: on failure only.
    pub planned_age: Option<f64>,
    /// Its own, days; `null`: on failure only.
    pub own_age: Option<f64>,
    /// Its seals that were watched at its own age; left out where that is on failure only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub watched_then: Option<f64>,
    /// Share of its seals that fail before they are replaced under the plan, averaged over the lives drawn.
    pub failed_planned: f64,
    /// The same with its own age.
    pub failed_own: f64,
    /// Expected money a year that its own age saves over the plan's, for all its positions.
    pub saving: f64,
    /// Ends of its interval, from the lives drawn.
    pub saving_lower: f64,
    /// Upper end.
    pub saving_upper: f64,
    /// Chance that its own age costs more than the plan's.
    pub chance_dearer: f64,
    /// Whether it differs from the plan's age and is unlikely to be dearer (10 % at most, 5 % where it is longer), and where it is longer was seen there by ten seals at least: only these are counted in the sum.
    pub taken: bool,
    /// Lives drawn that intervals and chance rest on.
    pub draws: usize,
}

/// What all places, or all duties, come to when each has the age that costs least there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnAges {
    /// The column of the records: `site`, or that of the duties.
    pub by: String,
    /// Every part with a whole plan at every place, or for every duty, that holds it.
    pub ages: Vec<OwnAge>,
    /// Expected money a year that those taken save over the plan's ages.
    pub saving: f64,
    /// Ends of its interval, from the lives drawn.
    pub saving_lower: f64,
    /// Upper end.
    pub saving_upper: f64,
}
