//! How many of the seals running now will fail within a time.

use super::GroupKey;
use sealspan_care::error::Result;
use sealspan_care::forecast::{Forecast, Outlook, Running};
use sealspan_life::life::Life;
use serde::Serialize;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct ForecastDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Unit of ages and times.
    pub unit: &'static str,
    /// How far ahead.
    pub horizon: f64,
    /// The forecast for all seals together.
    #[serde(flatten)]
    pub all: Forecast,
    /// The forecast by group, when groups were asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<GroupForecast>,
}

/// The forecast of one group.
#[derive(Debug, Clone, Serialize)]
pub struct GroupForecast {
    /// Its name.
    pub group: GroupKey,
    /// The forecast, if there is one.
    #[serde(flatten)]
    pub forecast: Option<Forecast>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct ForecastQuestion {
    /// How far ahead, in the unit of the clock.
    pub horizon: f64,
    /// Equal periods it is cut into.
    pub periods: usize,
    /// Level of the prediction intervals.
    pub confidence: f64,
    /// Whether failures of replacements are to be counted too.
    pub with_renewals: bool,
}

/// Forecasts first failures of `running` (age, count) from a fitted life and the lives its estimate
/// leaves possible.
///
/// # Errors
/// As [`Outlook::forecast`].
pub(crate) fn forecast(
    running: &[(f64, f64)],
    life: &Life,
    draws: &[Life],
    oldest: Option<f64>,
    question: ForecastQuestion,
) -> Result<Forecast> {
    let running: Vec<Running> = running
        .iter()
        .map(|(age, n)| Running {
            age: *age,
            count: n.round() as usize,
        })
        .collect();
    Outlook {
        running: &running,
        life,
        draws,
        horizon: question.horizon,
        periods: question.periods,
        confidence: question.confidence,
        oldest_seen: oldest,
        with_renewals: question.with_renewals,
    }
    .forecast()
}
