//! What looking more or less often comes to.

use serde::Serialize;

/// One part: its looks as they are, and more or fewer of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartLooks {
    /// Which seal.
    pub part: String,
    /// Seals running now.
    pub positions: f64,
    /// From the most looks to none; empty where looks cannot be judged.
    pub rows: Vec<LooksRow>,
    /// Why they cannot.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// All positions of a part with looks a number of times as often as today at the sites that look, everything else done as it
/// is. Long-run figures a year of 365.25 days, averaged over the lives drawn; their intervals by rank among these.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LooksRow {
    /// How many times as often as today; 0: never.
    pub times_today: f64,
    /// Mean days between looks at the sites that look: the inverse of their mean rate, by seal-time.
    pub every: Option<f64>,
    /// Why there is no such time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub every_reason: Option<&'static str>,
    /// Looks.
    pub looks_per_year: f64,
    /// Failures.
    pub failures_per_year: f64,
    /// Hours down.
    pub hours_down_per_year: f64,
    /// Money, hours down priced in.
    pub cost_per_year: f64,
    /// Lower end of its interval: what the estimates leave open.
    pub cost_lower: f64,
    /// Upper end.
    pub cost_upper: f64,
    /// Money above that of today's looks.
    pub dearer_per_year: f64,
    /// Lower end of its interval.
    pub dearer_lower: f64,
    /// Upper end.
    pub dearer_upper: f64,
}
