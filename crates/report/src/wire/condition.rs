//! Measured condition: paths to a limit, remaining life of each running seal, seals that stand out.

use super::{GroupKey, Number};
use serde::Serialize;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct ConditionDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// The measured property.
    pub measure: String,
    /// Unit of ages.
    pub unit: &'static str,
    /// The limit.
    pub limit: f64,
    /// Two-sided level of every interval.
    pub confidence: f64,
    /// Time to the next look; `None` when not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_look: Option<f64>,
    /// Measurements that belong to no seal in use.
    pub unused_measurements: u64,
    /// Seals in service that were never measured.
    pub running_unmeasured: u64,
    /// One entry a group.
    pub groups: Vec<ConditionGroup>,
    /// What to keep in mind.
    pub notes: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// One group of seals.
#[derive(Debug, Clone, Serialize)]
pub struct ConditionGroup {
    /// Its name.
    pub group: GroupKey,
    /// `rising` or `falling`; `None` when it cannot be told.
    pub direction: Option<&'static str>,
    /// Seals measured.
    pub seals: usize,
    /// Measurements.
    pub measurements: usize,
    /// Models looked at.
    pub candidates: Vec<CandidateResult>,
    /// The model used; `None` with a reason when there is none.
    pub model: Option<ModelResult>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Ages at which the shares asked for of new seals have reached the limit.
    pub new_seal: Vec<ShareAge>,
    /// Each running seal that was measured, the one with the least median time left first.
    pub running: Vec<RunningSeal>,
    /// What is expected by the next look.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_next_look: Option<NextLook>,
    /// Seals that go another way than the rest.
    pub unusual: Vec<UnusualSeal>,
    /// Doubts, in words.
    pub notes: Vec<String>,
}

/// A model looked at.
#[derive(Debug, Clone, Serialize)]
pub struct CandidateResult {
    /// `linear`, `log-linear` or `gamma`.
    pub model: &'static str,
    /// Log-likelihood of all values but each seal's first, given that one.
    pub log_likelihood: Option<f64>,
    /// Parameters.
    pub parameters: usize,
    /// Akaike's criterion of it.
    pub aic: Option<f64>,
    /// Why it is not to be had.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// The model used.
#[derive(Debug, Clone, Serialize)]
pub struct ModelResult {
    /// Its word.
    pub model: &'static str,
    /// In a sentence.
    pub words: String,
    /// Parameters by name.
    pub parameters: Vec<NamedNumber>,
    /// Full log-likelihood at its maximum, where the model has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub log_likelihood: Option<f64>,
}

/// A parameter.
#[derive(Debug, Clone, Serialize)]
pub struct NamedNumber {
    /// Its name.
    pub name: &'static str,
    /// Its unit.
    pub unit: String,
    /// Estimate and interval.
    #[serde(flatten)]
    pub number: Number,
}

/// The age by which a share has reached the limit.
#[derive(Debug, Clone, Serialize)]
pub struct ShareAge {
    /// The share.
    pub p: f64,
    /// The age by which that share of new seals is expected past the limit.
    pub age: Option<f64>,
    /// Lower end of its confidence interval.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A running seal.
#[derive(Debug, Clone, Serialize)]
pub struct RunningSeal {
    /// Its name.
    pub seal: String,
    /// Its asset.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub asset: Option<String>,
    /// Its age now.
    pub age: f64,
    /// Last value measured.
    pub last_value: f64,
    /// Age then.
    pub last_age: f64,
    /// Measurements taken.
    pub measurements: usize,
    /// Time left until its true value reaches the limit, median and prediction interval; 0 where it may be past.
    pub remaining: Number,
    /// Chance that it is past the limit now.
    pub past_now: f64,
    /// Chance that it is past the limit at the next look.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub past_at_next_look: Option<f64>,
}

/// What is expected by the next look.
#[derive(Debug, Clone, Serialize)]
pub struct NextLook {
    /// Time until then.
    pub after: f64,
    /// Seals running and measured.
    pub running: usize,
    /// Expected number past the limit now.
    pub expected_past_now: f64,
    /// Expected number past the limit then.
    pub expected_past_then: f64,
    /// Lower end of the prediction interval of that number: a quantile of the sum of independent seals.
    pub lower: u64,
    /// Its upper end.
    pub upper: u64,
    /// Share of the seals that crosses between now and then: (expected then - expected now) / seals, 0 at least.
    pub share_crossing: f64,
}

/// A seal that stands out.
#[derive(Debug, Clone, Serialize)]
pub struct UnusualSeal {
    /// Its name.
    pub seal: String,
    /// Its asset.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub asset: Option<String>,
    /// Whether it is in service.
    pub running: bool,
    /// Its own rate over the mean rate: the model's, or under gamma wear what was measured, (last - first value) over the
    /// time between. `None` under gamma wear where it was measured at one age only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub times_mean_rate: Option<f64>,
    /// Two-sided p-value of going like the rest.
    pub p_value: f64,
}
