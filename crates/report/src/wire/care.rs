//! When to replace a seal: the answer from one life, with what the estimate leaves open.

use super::GroupKey;
use sealspan_care::age_spread::{AgeSpread, age_spread};
use sealspan_care::answer::{Replace, RunToFailure};
use sealspan_care::costs::Costs;
use sealspan_care::error::Result;
use sealspan_care::policy::Policy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::simulate::{Simulated, simulate};
use sealspan_life::life::Life;
use serde::Serialize;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct CareDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Unit of ages; rates are per this unit.
    pub unit: &'static str,
    /// What was aimed for.
    pub goal: Goal,
    /// The answer for all seals together, or for the stated life.
    #[serde(flatten)]
    pub all: CareBlock,
    /// The answer by group, when groups were asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<GroupCare>,
    /// What to mind before acting on it.
    pub cautions: Vec<String>,
}

/// The answer for one group.
#[derive(Debug, Clone, Serialize)]
pub struct GroupCare {
    /// Its name.
    pub group: GroupKey,
    /// The answer, if there is one.
    #[serde(flatten)]
    pub block: Option<CareBlock>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// The answer for one life.
#[derive(Debug, Clone, Serialize)]
pub struct CareBlock {
    /// The life it rests on.
    pub life: LifeUsed,
    /// Replacing on failure only.
    pub run_to_failure: RunToFailure,
    /// Replacing at an age.
    pub replace: Replace,
    /// Inspecting; not part of this answer.
    pub inspect: Option<()>,
    /// Turning; not part of this answer.
    pub turn: Option<()>,
    /// Why there is neither.
    pub inspect_and_turn_reason: &'static str,
    /// True when the age lies beyond twice the oldest seal seen: nothing is advised then.
    pub far_beyond_records: bool,
    /// What to do.
    pub recommended: Recommended,
    /// The same by playing it event by event.
    pub simulated: Simulated,
    /// What the estimate of the life leaves open.
    pub uncertainty: Option<AgeSpread>,
    /// Why that is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uncertainty_reason: Option<String>,
    /// What to know before using the figures.
    pub notes: Vec<String>,
}

/// The life an answer rests on.
#[derive(Debug, Clone, Serialize)]
pub struct LifeUsed {
    /// Family.
    pub family: &'static str,
    /// Its parameters.
    pub parameters: std::collections::BTreeMap<&'static str, f64>,
}

/// What to do.
#[derive(Debug, Clone, Serialize)]
pub struct Recommended {
    /// Inspect this often; not part of this answer.
    pub inspect_every: Option<f64>,
    /// Turn this often; not part of this answer.
    pub turn_every: Option<f64>,
    /// Replace at this age; `null`: on failure only.
    pub replace_at: Option<f64>,
    /// Why an interval is missing.
    pub reason: String,
    /// Money per unit of the clock.
    pub cost_rate: f64,
}

/// What is asked.
pub struct CareQuestion<'a> {
    /// Checked costs on the life's clock.
    pub costs: &'a Costs,
    /// What to aim for.
    pub goal: Goal,
    /// A given age, instead of the best one.
    pub replace_at: Option<f64>,
    /// Level of intervals.
    pub confidence: f64,
    /// Seed of the simulation.
    pub seed: u64,
}

/// Seals played by the check simulation.
const PLAYED: usize = 200_000;
const NOT_YET: &str =
    "only replacement by age is worked out here; inspection and turning intervals are not";

/// Answers for `life`; `draws` are lives its estimate leaves possible (none: taken as known), `oldest`
/// the oldest age in the records.
///
/// # Errors
/// As [`Evaluator::new`], [`Evaluator::best`] and [`simulate`].
pub fn block(
    life: &Life,
    draws: &[Life],
    oldest: Option<f64>,
    question: &CareQuestion,
) -> Result<CareBlock> {
    let evaluator = Evaluator::new(life, question.costs, question.goal)?;
    let replace = match question.replace_at {
        Some(age) => evaluator.given(age)?,
        None => evaluator.best()?,
    };
    let policy = replace
        .age
        .map_or(Policy::RunToFailure, Policy::ReplaceAtAge);
    let simulated = simulate(life, policy, question.costs, PLAYED, question.seed)?;
    let mut notes: Vec<String> = question
        .costs
        .clock_note()
        .map(str::to_owned)
        .into_iter()
        .collect();
    if let (Some(age), Some(oldest)) = (replace.age, oldest)
        && age > oldest
    {
        notes.push(format!(
            "Extrapolated: the age {age:.0} is beyond the oldest seal seen ({oldest:.0})."
        ));
    }
    let far_beyond_records =
        matches!((replace.age, oldest), (Some(age), Some(oldest)) if age > 2.0 * oldest);
    let uncertainty = uncertainty(draws, &replace, question);
    let uncertainty_reason = uncertainty.as_ref().err().cloned();
    Ok(CareBlock {
        life: LifeUsed {
            family: life.family(),
            parameters: life.parameters().into_iter().collect(),
        },
        run_to_failure: evaluator.run_to_failure(),
        far_beyond_records,
        recommended: Recommended {
            inspect_every: None,
            turn_every: None,
            replace_at: replace.age,
            reason: match &replace.reason {
                Some(why) => format!("{NOT_YET}; no replacement age: {why}"),
                None => NOT_YET.to_owned(),
            },
            cost_rate: replace.cost_rate,
        },
        replace,
        inspect: None,
        turn: None,
        inspect_and_turn_reason: NOT_YET,
        simulated,
        uncertainty: uncertainty.ok(),
        uncertainty_reason,
        notes,
    })
}

fn uncertainty(
    draws: &[Life],
    replace: &Replace,
    question: &CareQuestion,
) -> std::result::Result<AgeSpread, String> {
    if draws.is_empty() {
        return Err("the life is taken as known: nothing was estimated".to_owned());
    }
    if question.goal == Goal::Availability {
        return Err("intervals are worked out for the goal of cost only".to_owned());
    }
    age_spread(draws, question.costs, replace.age, question.confidence).map_err(|e| e.to_string())
}
