//! How each site cares for its seals, against the lives that its records show.

use super::{GroupKey, Number};
use serde::Serialize;

/// Habits of all sites.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Habits {
    /// What the age at which sound seals are taken off is held against: `least_cost`, or `one_in_ten_failed` where
    /// no costs are known.
    pub limit: &'static str,
    /// What is held constant in the lives.
    pub held_constant: Vec<String>,
    /// Expected share of false claims among the sites and groups called too early, and among those called never
    /// inspecting.
    pub false_discovery: f64,
    /// Draws of the lives behind the intervals and p-values.
    pub draws: usize,
    /// Sites and groups of seals that are replaced by schedule.
    pub replaced: Vec<ReplacedResult>,
    /// Looks by site.
    pub looks: Vec<LooksResult>,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// What stands out, in sentences.
    pub sentences: Vec<String>,
}

/// Seals of one group at one site that are taken off sound, by schedule.
#[derive(Debug, Clone, Serialize)]
pub struct ReplacedResult {
    /// Site; `None` where none is recorded.
    pub site: Option<String>,
    /// Group.
    pub group: GroupKey,
    /// Seals taken off by schedule with the seal sound.
    pub replaced: f64,
    /// All seals that ended.
    pub ended: f64,
    /// Of these, seals that failed or were worn.
    pub gone: f64,
    /// The greatest age that any of its seals reached.
    pub oldest: f64,
    /// The ages of those taken off by schedule.
    pub practised_age: Middle,
    /// The age that the life calls for, by [`Habits::limit`]; the upper end is open where waiting for failures may be best.
    pub limit_age: Number,
    /// Share of the service up to that age that was thrown away, mean of the seals taken off: of one taken off at age t,
    /// m / (t + m), m the mean time it would still have served up to that age (to its failure where there is none).
    pub thrown_away: Number,
    /// Chance S(limit)/S(t), 1 at most, that a seal taken off at age t would have lasted to that age, mean of the seals
    /// taken off; S the share surviving.
    pub would_have_lasted: Number,
    /// Seals of the group running at the site now.
    pub running: f64,
    /// What the habit costs those running beyond the best age, seals running x (cost rate at the median age practised -
    /// least cost rate): money a year of 365.25 days, or per unit of another clock.
    pub yearly_cost: Number,
    /// (1 + drawn lives that do not call the habit too early) / (1 + drawn lives).
    pub p_value: f64,
    /// Share of false claims among those with so small a p-value (Benjamini & Hochberg 1995).
    pub adjusted_p_value: f64,
    /// True when called too early.
    pub too_early: bool,
}

/// The middle of some ages.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct Middle {
    /// Half are younger.
    pub median: f64,
    /// A quarter is younger.
    pub quarter: f64,
    /// Three quarters are younger.
    pub three_quarters: f64,
}

/// Looks at the seals of one site.
#[derive(Debug, Clone, Serialize)]
pub struct LooksResult {
    /// Site.
    pub site: String,
    /// Years of service under watch.
    pub years: f64,
    /// Looks.
    pub looks: u64,
    /// Looks expected at the rate a year of the other sites that look at all.
    pub expected: Option<f64>,
    /// Failures.
    pub failed: f64,
    /// Seals taken off worn, before they failed.
    pub worn: f64,
    /// Chance of so few looks or fewer at that rate, as a Poisson count.
    pub p_value: Option<f64>,
    /// Adjusted over the sites (Benjamini & Hochberg 1995).
    pub adjusted_p_value: Option<f64>,
    /// True when no look is recorded where ten or more were to be expected (a rule of ours) and the adjusted p-value is no
    /// larger than [`Habits::false_discovery`].
    pub never_inspects: bool,
    /// Why nothing is expected.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
}
