//! A trial planned ahead: its seals and time, what it shows, and what if the shape is wrong.

use serde::Serialize;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct TrialDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// `show_life` or `tell_apart`.
    pub purpose: &'static str,
    /// Which of the numbers below was solved for.
    pub solved_for: &'static str,
    /// Unit of times.
    pub unit: &'static str,
    /// Seals on trial; of each material, when two are to be told apart.
    pub seals: u64,
    /// Time each is run.
    pub duration: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub duration_reason: Option<&'static str>,
    /// Failures with which the trial is still passed.
    pub failures_allowed: Option<u64>,
    /// Why there are none to state.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub failures_allowed_reason: Option<&'static str>,
    /// Confidence asked for, or the one solved for: one-sided where a life is shown, of the two-sided interval of the ratio
    /// where two materials are told apart.
    pub confidence: f64,
    /// Weibull shape taken as known.
    pub shape: f64,
    /// What was taken where nothing was said.
    pub taken: Vec<String>,
    /// A trial that shows a life.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub show: Option<ShowLife>,
    /// A trial that tells two materials apart.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub apart: Option<TellApart>,
    /// What the answer rests on.
    pub assumptions: Vec<String>,
    /// What to mind.
    pub warnings: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// What a trial that shows a life adds.
#[derive(Debug, Clone, Serialize)]
pub struct ShowLife {
    /// Life to show.
    pub show_life: f64,
    /// Share to be sound at that age.
    pub reliability: f64,
    /// Confidence with which the trial, passed, shows it: whole seals and failures reach a little more than asked.
    pub confidence_reached: f64,
    /// Reliability at that age shown with the confidence asked for; left out where that is 0 or 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reliability_shown: Option<f64>,
    /// Chance to pass, for seals as good as claimed and better.
    pub passing: Vec<Passing>,
    /// How many times as long as claimed seals must live to pass with the chance beside it; left out where no life
    /// does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub good_life_ratio: Option<f64>,
    /// That chance.
    pub good_chance: f64,
    /// The same trial if the shape is another.
    pub wrong_shape: Vec<WrongShape>,
    /// Why the shape does not matter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wrong_shape_reason: Option<&'static str>,
}

/// Chance to pass.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Passing {
    /// Life over the life claimed.
    pub life_ratio: f64,
    /// Share of such seals sound at the life to show: R^((1/ratio)^shape), R the reliability claimed.
    pub sound: f64,
    /// Chance that they pass.
    pub chance: f64,
}

/// The same trial under another shape: a fifth less or more (a rule of ours).
#[derive(Debug, Clone, Serialize)]
pub struct WrongShape {
    /// The true shape.
    pub shape: f64,
    /// Confidence that the passed trial then gives.
    pub confidence: f64,
    /// Seals that would give the confidence asked for.
    pub seals: Option<u64>,
    /// Why there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// What a trial that tells two materials apart adds.
#[derive(Debug, Clone, Serialize)]
pub struct TellApart {
    /// Life of the second material over that of the first.
    pub ratio: f64,
    /// Chance asked for that the trial tells them apart.
    pub power: Option<f64>,
    /// Why none was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub power_reason: Option<&'static str>,
    /// Chance that it does with this many seals.
    pub power_reached: f64,
    /// Failures to expect of the first and of the second material.
    pub failures_expected: [f64; 2],
    /// Ends of a typical interval of the ratio, if the ratio is as stated: ratio x exp(± z √(v/n)), v the large-sample
    /// variance of the ln ratio of one seal each, n the seals.
    pub typical_interval: [f64; 2],
    /// The same trial, if the shape is another.
    pub other_shapes: Vec<OtherShape>,
    /// The same trial, if the ratio is another.
    pub other_ratios: Vec<OtherRatio>,
}

/// The trial under another shape: a fifth less or more (a rule of ours).
#[derive(Debug, Clone, Copy, Serialize)]
pub struct OtherShape {
    /// Shape.
    pub shape: f64,
    /// Chance of telling apart with the seals of the plan.
    pub power_reached: f64,
}

/// Chance of telling another ratio apart: the stated one to the power 0.5, 1.5 or 2 (a rule of ours).
#[derive(Debug, Clone, Copy, Serialize)]
pub struct OtherRatio {
    /// Ratio.
    pub ratio: f64,
    /// Chance of telling apart with the seals of the plan.
    pub power_reached: f64,
}
