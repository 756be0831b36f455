//! The measured limit: how often to measure, at which reading to replace, and what that saves.

use sealspan_care::evaluate::Outcome;
use sealspan_care::simulate::Played;
use sealspan_care::weigh::Average;
use serde::Serialize;

/// The best measured limit of one group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeasuredLimitPlan {
    /// The measured property.
    pub measure: String,
    /// Value at which function is lost.
    pub functional_limit: f64,
    /// Whether the property rises to it.
    pub rising: bool,
    /// Seals that the paths rest on.
    pub seals: usize,
    /// Measurements.
    pub measurements: usize,
    /// Model of the paths.
    pub model: &'static str,
    /// Look this often, units of the clock.
    pub inspect_every: f64,
    /// Replace when the property reads this or worse, in its own unit as the functional limit.
    pub replace_at_reading: f64,
    /// Replace at this age whatever it reads.
    pub replace_at: f64,
    /// The goal's measure over the paths that the measurements leave possible: money of one position per unit of the clock,
    /// or the share of time down.
    pub then: Average,
    /// The same for the best replacement age alone, by the same paths.
    pub by_age: ByAge,
    /// What the measured limit saves against that age; negative where it is dearer.
    pub saving: Average,
    /// Share of the possible paths in which it is dearer.
    pub chance_dearer: f64,
    /// Paths that were drawn.
    pub draws: usize,
    /// All figures at the estimate.
    pub figures: Outcome,
    /// The same by playing it event by event at the estimate.
    pub simulated: Played,
    /// The answer in sentences.
    pub sentences: Vec<String>,
}

/// The best replacement age alone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ByAge {
    /// The age.
    pub replace_at: f64,
    /// The goal's measure.
    pub then: Average,
    /// Share that fail, at the estimate.
    pub failed: f64,
}
