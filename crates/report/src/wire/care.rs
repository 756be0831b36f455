//! How to care for a seal: the answer from one life or two stages, with what the estimate leaves open.

use super::GroupKey;
use super::measured_limit::MeasuredLimitPlan;
use super::plan::WholePlan;
use sealspan_care::age_spread::{AgeSpread, age_spread};
use sealspan_care::answer::{Replace, RunToFailure};
use sealspan_care::block::{BlockAnswer, best_block};
use sealspan_care::costs::Costs;
use sealspan_care::error::Result;
use sealspan_care::horizon::{HorizonAnswer, best_over};
use sealspan_care::plan::{
    Choice, InspectAnswer, Limits, OpportunityAnswer, Plan, Planner, Request, StopGap,
    StopGapAnswer, TurnAnswer,
};
use sealspan_care::policy::{CarePolicy, Looks};
use sealspan_care::replacement::Goal;
use sealspan_care::seal::Seal;
use sealspan_care::simulate::{Played, play};
use sealspan_care::terms::Handling;
use sealspan_care::weigh::{CommonPractice, common_practice};
use sealspan_life::life::Life;
use sealspan_records::Clock;
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
    /// The answer for all seals together, or for the stated life, if there is one.
    #[serde(flatten)]
    pub all: Option<CareBlock>,
    /// Why there is none for all seals together, though there is for a group.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
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
    /// The life it rests on; in two stages the age at the defect.
    pub life: LifeUsed,
    /// The delay from defect to failure, in two stages.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delay: Option<LifeUsed>,
    /// Replacing on failure only.
    pub run_to_failure: RunToFailure,
    /// Replacing at an age, without inspections or turns.
    pub replace: Replace,
    /// Inspecting, alone or beside what was given.
    pub inspect: Option<InspectAnswer>,
    /// Why there is no answer on inspecting.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inspect_reason: Option<String>,
    /// Turning, alone or beside what was given.
    pub turn: Option<TurnAnswer>,
    /// Why there is no answer on turning.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turn_reason: Option<String>,
    /// Other questions that were asked.
    #[serde(flatten)]
    pub more: More,
    /// True when the age lies beyond twice the oldest seal seen (a rule of ours): nothing is advised then.
    pub far_beyond_records: bool,
    /// What to do.
    pub recommended: Recommended,
    /// The same by playing 200,000 seals event by event ([`play`]).
    pub simulated: Played,
    /// What the estimate of the life leaves open ([`age_spread`]): of replacement by age alone, with the goal of cost.
    pub uncertainty: Option<AgeSpread>,
    /// Why that is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uncertainty_reason: Option<String>,
    /// Common practice at the same laws and prices; on the clock of days, where looks find something.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub common_practice: Option<CommonPractice>,
    /// The policies weighed over what the records leave open; from records only. What is recommended above is
    /// this plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan: Option<WholePlan>,
    /// Replacing by a property measured at looks, where the records hold measurements and its functional limit is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_limit: Option<MeasuredLimitPlan>,
    /// Why there is no answer on that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_limit_reason: Option<String>,
    /// The seal that all of it is worked out for, at its estimate.
    #[serde(skip)]
    pub seal: Seal,
    /// The costs that all of it is worked out at, with the price of the group's own seal.
    #[serde(skip)]
    pub costs: Costs,
    /// What to know before using the figures.
    pub notes: Vec<String>,
}

/// Answers that are given when asked for.
#[derive(Debug, Clone, Default, Serialize)]
pub struct More {
    /// Replacing a whole group at fixed times.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub block_replacement: Option<BlockAnswer>,
    /// Replacing when the asset is open anyway.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opportunity: Option<OpportunityAnswer>,
    /// Replacing at an age over a stated time only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub horizon: Option<HorizonAnswer>,
    /// Whether a worn seal lasts until the new one is there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stop_gap: Option<StopGapAnswer>,
}

/// The life an answer rests on.
#[derive(Debug, Clone, Serialize)]
pub struct LifeUsed {
    /// Family.
    pub family: &'static str,
    /// Its parameters.
    pub parameters: std::collections::BTreeMap<&'static str, f64>,
}

impl LifeUsed {
    fn of(life: &Life) -> Self {
        Self {
            family: life.family(),
            parameters: life.parameters().into_iter().collect(),
        }
    }
}

/// What to do, and what one position then comes to in the long run ([`Planner::evaluate`]). Shares are of the seals fitted:
/// those found, failed, replaced at the age and damaged are all of them.
#[derive(Debug, Clone, Serialize)]
pub struct Recommended {
    /// Inspect this often; `null`: not at all.
    pub inspect_every: Option<f64>,
    /// Turn this often; `null`: not at all.
    pub turn_every: Option<f64>,
    /// Replace at this age; `null`: on failure or finding only.
    pub replace_at: Option<f64>,
    /// Why an interval is missing.
    pub reason: String,
    /// Money per unit of the clock.
    pub cost_rate: f64,
    /// Share of time up.
    pub availability: f64,
    /// Share found worn in time.
    pub found: f64,
    /// Share that fail.
    pub failed: f64,
    /// Share that reach the replacement age.
    pub preventive: f64,
    /// Share spoilt by handling.
    pub damaged: f64,
    /// Inspections from one fitting to the next.
    pub inspections_per_cycle: f64,
    /// Turns from one fitting to the next.
    pub turns_per_cycle: f64,
    /// Mean time from one fitting to the next.
    pub mean_cycle: f64,
    /// Share saved against replacing on failure only: 1 - cost rate over that on failure, or with the goal of availability
    /// 1 - time down over that on failure; `None` where that is not finite.
    pub saving: Option<f64>,
    /// Money now for the plan kept up for ever, the first fitting not counted.
    pub present_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub present_value_reason: Option<String>,
}

/// What is asked about replacement by age alone.
pub struct CareQuestion<'a> {
    /// Checked costs on the life's clock.
    pub costs: &'a Costs,
    /// What to aim for.
    pub goal: Goal,
    /// A given age, instead of the best one.
    pub replace_at: Option<f64>,
    /// Two-sided level of intervals, between 0 and 1.
    pub confidence: f64,
    /// Seed of the simulation.
    pub seed: u64,
}

/// What is asked about a whole plan.
#[derive(Clone)]
pub struct PlanQuestion<'a> {
    /// Checked costs on the life's clock.
    pub costs: &'a Costs,
    /// Prices of looking and turning.
    pub handling: Handling,
    /// What is free, given or left out, the goal and the limits.
    pub request: Request,
    /// Two-sided level of intervals, between 0 and 1.
    pub confidence: f64,
    /// Seed of the simulation.
    pub seed: u64,
    /// Also judge replacing a group at fixed times.
    pub block: bool,
    /// Also judge opportunities, with this mean time between them.
    pub opportunity_every: Option<f64>,
    /// Also find the best age over this time only.
    pub horizon: Option<f64>,
    /// Also ask whether a worn seal lasts.
    pub stop_gap: Option<StopGap>,
    /// Currency of sentences.
    pub currency: String,
}

/// Seals played by the check simulation.
const PLAYED: usize = 200_000;

/// Answers on replacement by age for `life`; `draws` are lives its estimate leaves possible (none: taken
/// as known), `oldest` the oldest age in the records.
///
/// # Errors
/// As [`plan_block`].
pub(crate) fn block(
    life: &Life,
    draws: &[Life],
    oldest: Option<f64>,
    question: &CareQuestion,
) -> Result<CareBlock> {
    let plan = PlanQuestion {
        costs: question.costs,
        handling: Handling::default(),
        request: Request {
            replace: question.replace_at.map_or(Choice::Free, Choice::At),
            goal: question.goal,
            ..Request::default()
        },
        confidence: question.confidence,
        seed: question.seed,
        block: false,
        opportunity_every: None,
        horizon: None,
        stop_gap: None,
        currency: String::new(),
    };
    plan_block(&Seal::one_stage(life.clone()), draws, oldest, &plan)
}

/// Answers on a whole plan for `seal`; `draws` are lives that its estimate leaves possible (none: it is taken as known),
/// `oldest` the oldest age in the records.
///
/// # Errors
/// As [`Planner::new`], [`Planner::best`] and [`play`]; when block replacement or a horizon is asked for a seal of two stages
/// or with hidden failures.
///
/// ```
/// use sealspan_care::costs::{Costs, Prices};
/// use sealspan_care::{plan::Request, seal::Seal, terms::Handling};
/// use sealspan_life::life::Life;
/// use sealspan_records::Clock;
/// use sealspan_report::wire::care::{PlanQuestion, plan_block};
/// let prices = Prices { planned_cost: 100.0, failure_cost: 400.0, ..Prices::default() };
/// let costs = Costs::new(prices, Clock::Days)?;
/// let question = PlanQuestion {
///     costs: &costs,
///     handling: Handling::default(),
///     request: Request::default(),
///     confidence: 0.9,
///     seed: 1,
///     block: false,
///     opportunity_every: None,
///     horizon: None,
///     stop_gap: None,
///     currency: "EUR".to_owned(),
/// };
/// // Seals that do not age: replacing one early gains nothing, and one failure in 500 days costs 400.
/// let seal = Seal::one_stage(Life::exponential(500.0).unwrap());
/// let answer = plan_block(&seal, &[], None, &question)?;
/// assert_eq!(answer.recommended.replace_at, None);
/// assert!((answer.recommended.cost_rate - 400.0 / 500.0).abs() < 1e-9);
/// assert!((answer.recommended.failed - 1.0).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn plan_block(
    seal: &Seal,
    draws: &[Life],
    oldest: Option<f64>,
    question: &PlanQuestion,
) -> Result<CareBlock> {
    planned_block(seal, draws, oldest, question, None)
}

/// As [`plan_block`], around a policy that is already chosen.
///
/// # Errors
/// As [`plan_block`].
pub(crate) fn planned_block(
    seal: &Seal,
    draws: &[Life],
    oldest: Option<f64>,
    question: &PlanQuestion,
    chosen: Option<CarePolicy>,
) -> Result<CareBlock> {
    let planner = Planner::new(seal, question.costs, &question.handling, question.request)?;
    let run = planner.run_to_failure()?;
    let given = match question.request.replace {
        Choice::At(age) => Some(age),
        _ => None,
    };
    let replace = planner.replace_alone(given)?;
    let (inspect, inspect_reason) = inspect(&planner)?;
    let (turn, turn_reason) = turn(&planner)?;
    let plan = match chosen {
        Some(policy) => Plan {
            outcome: planner.evaluate(&policy)?,
            policy,
        },
        None => plan(&planner, &replace)?,
    };
    let simulated = play(seal, &plan.policy, planner.terms(), PLAYED, question.seed)?;
    let age = plan.policy.replace_at;
    let spread = uncertainty(draws, &planner, &plan.policy, question);
    let spread_reason = spread.as_ref().err().cloned();
    Ok(CareBlock {
        life: LifeUsed::of(&seal.law()?),
        delay: seal.delay.as_ref().map(LifeUsed::of),
        far_beyond_records: matches!((age, oldest), (Some(age), Some(oldest)) if age > 2.0 * oldest),
        recommended: recommended(&planner, &plan, &run, &replace),
        more: more(seal, &planner, question)?,
        common_practice: (question.costs.clock() == Clock::Days)
            .then(|| {
                let asked = (question.request.goal, &question.request.limits);
                common_practice(planner.model(), planner.terms(), asked, &plan.policy)
            })
            .flatten(),
        plan: None,
        measured_limit: None,
        measured_limit_reason: None,
        seal: seal.clone(),
        costs: *question.costs,
        notes: {
            let blind = plan.policy.looks != Looks::Never && !planner.looks_can_find();
            let blind = blind.then(|| BLIND.to_owned());
            blind
                .into_iter()
                .chain(notes(question, age, oldest))
                .collect()
        },
        run_to_failure: run,
        replace,
        inspect,
        inspect_reason,
        turn,
        turn_reason,
        simulated,
        uncertainty: spread.ok(),
        uncertainty_reason: spread_reason,
    })
}

fn inspect(planner: &Planner) -> Result<(Option<InspectAnswer>, Option<String>)> {
    if planner.request().inspect == Choice::Never {
        return Ok((None, Some("inspections were ruled out".to_owned())));
    }
    if !planner.looks_can_find() {
        let why = "an inspection finds nothing before failure here: give a detection probability above 0, and the two stages (--defect and --delay) or an undetected cost";
        return Ok((None, Some(why.to_owned())));
    }
    answered(planner.inspect())
}

fn turn(planner: &Planner) -> Result<(Option<TurnAnswer>, Option<String>)> {
    if planner.request().turn == Choice::Never {
        return Ok((None, Some("turning was ruled out".to_owned())));
    }
    if planner.model().seal().ring().is_none() {
        let why = "how unevenly the sectors wear was not given (--sector-severity)";
        return Ok((None, Some(why.to_owned())));
    }
    answered(planner.turn())
}

/// An answer, or why there is none; faults of the input stay errors.
fn answered<T>(result: Result<T>) -> Result<(Option<T>, Option<String>)> {
    match result {
        Ok(answer) => Ok((Some(answer), None)),
        Err(error) if error.is_no_answer() => Ok((None, Some(error.to_string()))),
        Err(error) => Err(error),
    }
}

/// The best plan. Where only a replacement age is open and nothing limits it, it is the one found.
fn plan(planner: &Planner, replace: &Replace) -> Result<Plan> {
    let request = planner.request();
    let by_age_alone = !planner.looks_can_find()
        && planner.model().seal().ring().is_none()
        && !matches!(request.inspect, Choice::At(_))
        && request.limits == Limits::default();
    if !by_age_alone || request.replace == Choice::Never {
        return planner.best();
    }
    let policy = replace
        .age
        .map_or_else(CarePolicy::run_to_failure, CarePolicy::replace_at);
    let outcome = planner.evaluate(&policy)?;
    Ok(Plan { policy, outcome })
}

fn recommended(
    planner: &Planner,
    plan: &Plan,
    run: &RunToFailure,
    replace: &Replace,
) -> Recommended {
    let policy = &plan.policy;
    let inspect_every = match policy.looks {
        Looks::Every(step) => Some(step),
        _ => None,
    };
    let mut reasons = vec![];
    if inspect_every.is_none() {
        reasons.push(if planner.looks_can_find() {
            "inspecting is not worth it or was ruled out".to_owned()
        } else {
            "no inspections: they would find nothing before failure".to_owned()
        });
    }
    if policy.turn.is_none() {
        reasons.push(if planner.model().seal().ring().is_some() {
            "turning is not worth it or was ruled out".to_owned()
        } else {
            "no turns: how unevenly the sectors wear was not given".to_owned()
        });
    }
    if policy.replace_at.is_none() {
        let why = replace
            .reason
            .as_deref()
            .filter(|_| inspect_every.is_none());
        reasons.push(format!(
            "no replacement age: {}",
            why.unwrap_or("not worth it beside the rest, or ruled out")
        ));
    }
    let saving = match planner.request().goal {
        Goal::Cost => Some(1.0 - plan.outcome.cost_rate / run.cost_rate),
        Goal::Availability => run
            .availability
            .map(|up| 1.0 - (1.0 - plan.outcome.availability) / (1.0 - up)),
    };
    let present = planner.present_value(policy);
    Recommended {
        inspect_every,
        turn_every: policy.turn.map(|turn| turn.every),
        replace_at: policy.replace_at,
        reason: reasons.join("; "),
        cost_rate: plan.outcome.cost_rate,
        availability: plan.outcome.availability,
        found: plan.outcome.found,
        failed: plan.outcome.failed,
        preventive: plan.outcome.preventive,
        damaged: plan.outcome.damaged,
        inspections_per_cycle: plan.outcome.inspections_per_cycle,
        turns_per_cycle: plan.outcome.turns_per_cycle,
        mean_cycle: plan.outcome.mean_cycle,
        saving: saving.filter(|share| share.is_finite()),
        present_value_reason: present.as_ref().err().map(ToString::to_string),
        present_value: present.ok(),
    }
}

/// Answers to further questions on a seal.
pub(crate) fn more(seal: &Seal, planner: &Planner, question: &PlanQuestion) -> Result<More> {
    let single = planner.single_life()?;
    let need = || {
        sealspan_care::error::Error::unanswerable(
            "Block replacement and a stated horizon are worked out for seals that fail evidently and in one stage.",
        )
    };
    Ok(More {
        block_replacement: if question.block {
            Some(best_block(
                single.as_ref().ok_or_else(need)?,
                question.costs,
            )?)
        } else {
            None
        },
        opportunity: question
            .opportunity_every
            .map(|every| planner.opportunities(every))
            .transpose()?,
        horizon: match question.horizon {
            Some(time) => Some(best_over(
                single.as_ref().ok_or_else(need)?,
                question.costs,
                time,
            )?),
            None => None,
        },
        stop_gap: question
            .stop_gap
            .map(|stop_gap| stop_gap.answer(seal))
            .transpose()?,
    })
}

const BLIND: &str = "The inspections asked for find nothing before failure here, so they only cost: give a detection probability above 0, and the two stages (--defect and --delay) or an undetected cost, or leave them out.";

fn notes(question: &PlanQuestion, age: Option<f64>, oldest: Option<f64>) -> Vec<String> {
    let mut notes: Vec<String> = question
        .costs
        .clock_note()
        .map(str::to_owned)
        .into_iter()
        .collect();
    if let (Some(age), Some(oldest)) = (age, oldest)
        && age > oldest
    {
        notes.push(format!(
            "Extrapolated: the age {age:.0} is beyond the oldest seal seen ({oldest:.0})."
        ));
    }
    notes
}

fn uncertainty(
    draws: &[Life],
    planner: &Planner,
    policy: &CarePolicy,
    question: &PlanQuestion,
) -> std::result::Result<AgeSpread, String> {
    if draws.is_empty() {
        return Err("the life is taken as known: nothing was estimated".to_owned());
    }
    if question.request.goal == Goal::Availability {
        return Err("intervals are worked out for the goal of cost only".to_owned());
    }
    let by_age_alone = policy.looks == Looks::Never
        && policy.turn.is_none()
        && planner.model().seal().ring().is_none()
        && question.handling.spare_wait_hours == 0.0;
    if !by_age_alone {
        return Err("intervals are worked out for replacement by age alone".to_owned());
    }
    age_spread(
        draws,
        question.costs,
        policy.replace_at,
        question.confidence,
    )
    .map_err(|e| e.to_string())
}
