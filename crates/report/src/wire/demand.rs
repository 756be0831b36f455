//! Seals asked for month by month, by part and place.

use sealspan_care::ahead::months::Month;
use serde::Serialize;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct DemandDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Unit of ages and times.
    pub unit: &'static str,
    /// Two-sided level of the prediction intervals.
    pub confidence: f64,
    /// `plan`: as given with each part; `practice`: as the records show it done today.
    pub policy: &'static str,
    /// Each part, all places together.
    pub parts: Vec<PlaceDemand>,
    /// Each part at each place.
    pub places: Vec<PlaceDemand>,
    /// All parts together.
    pub all: PlaceDemand,
    /// Money expected by month for failures and planned replacements, downtime priced in, not discounted; `null` without
    /// prices.
    pub spend: Option<Vec<f64>>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spend_reason: Option<String>,
    /// How such forecasts would have done on the records' own past.
    pub back_test: Option<BackTest>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub back_test_reason: Option<String>,
    /// Groups without a life of their own, and why.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
    /// What was assumed.
    pub notes: Vec<String>,
    /// What to mind before acting on a replacement age.
    pub cautions: Vec<String>,
}

/// One part at one place.
#[derive(Debug, Clone, Serialize)]
pub struct PlaceDemand {
    /// Where; `all` for every place together.
    pub place: String,
    /// Which seal.
    pub part: String,
    /// Seals running there now.
    pub running: f64,
    /// The plan in words; left out as practice goes on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan: Option<String>,
    /// Replacement age; `null` when seals are replaced only when they fail or are found worn.
    pub replace_at: Option<f64>,
    /// Why there is no age.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replace_at_reason: Option<&'static str>,
    /// Month by month.
    pub months: Vec<Month>,
    /// All months together.
    pub total: Month,
}

/// Forecasts made as of earlier days, held against what then happened.
#[derive(Debug, Clone, Serialize)]
pub struct BackTest {
    /// Days each forecast looked ahead.
    pub horizon: f64,
    /// The forecasts.
    pub rows: Vec<BackTestRow>,
    /// Share of them whose interval held what happened, its ends included.
    pub hit_rate: f64,
    /// Share the intervals promised, the mean of the chances that they hold: whole numbers make it somewhat more than the
    /// level.
    pub promised: f64,
    /// Failures forecast over all rows.
    pub expected: f64,
    /// Failures that came.
    pub happened: u64,
}

/// One forecast.
#[derive(Debug, Clone, Serialize)]
pub struct BackTestRow {
    /// The day it was made as of.
    pub as_of: String,
    /// Where.
    pub place: String,
    /// Which seal.
    pub part: String,
    /// Seals running then.
    pub running: f64,
    /// Expected failures of those seals.
    pub expected: f64,
    /// Lower end of the prediction interval.
    pub lower: usize,
    /// Upper end.
    pub upper: usize,
    /// Failures that came.
    pub happened: u64,
}
