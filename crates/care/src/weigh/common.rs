//! How far a plan is from common practice (no source): look every couple of months, turn a quarter each
//! time.

use super::menu::{Candidate, Row};
use super::table::measure;
use crate::calendar::Calendar;
use crate::evaluate::{Outcome, Prepared, Shared};
use crate::plan::Limits;
use crate::policy::CarePolicy;
use crate::replacement::Goal;
use crate::terms::Terms;
use serde::Serialize;

/// Common practice at these laws and prices, with the replacement age that goes best with it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CommonPractice {
    /// The practice; ages in days.
    #[serde(flatten)]
    pub policy: Candidate,
    /// Its measure: money per unit of the clock, or the share of time down.
    pub measure: f64,
    /// How much more than the plan, as a share of the plan's measure.
    pub extra_share: f64,
    /// Share of seals that fail.
    pub failed: f64,
    /// Share of time up.
    pub availability: f64,
    /// Whether it keeps the limits asked for; `null` where none are.
    pub keeps_limits: Option<bool>,
    /// What makes the difference, in sentences.
    pub because: Vec<String>,
}

/// Months between looks.
const MONTHS: f64 = 2.0;
/// Steps looked at for the age that goes with it, in lives.
const LIVES: f64 = 3.0;
/// Below this share nothing makes a difference.
const NOTHING: f64 = 0.005;

/// Common practice beside a plan, both at one seal and on the clock of days. `None` where looks find
/// nothing before failure, or the plan cannot be worked out.
///
/// ```
/// use sealspan_care::{evaluate::Prepared, plan::Limits, policy::CarePolicy, replacement::Goal};
/// use sealspan_care::{seal::Seal, terms::{Event, Terms}, weigh::common_practice};
/// use sealspan_life::life::Life;
/// let (defect, delay) = (Life::exponential(300.0).unwrap(), Life::exponential(60.0).unwrap());
/// let model = Prepared::new(&Seal::two_stage(defect, delay))?;
/// let event = |money| Event { money, down: 0.0 };
/// let terms = Terms { planned: event(100.0), found: event(100.0), failed: event(900.0), look: 5.0, ..Terms::default() };
/// // A look every two months of 365.25/12 days; it is no dearer than itself.
/// let months = 365.25 / 6.0;
/// let same = CarePolicy::inspect_every(months);
/// let practice = common_practice(&model, &terms, (Goal::Cost, &Limits::default()), &same).unwrap();
/// assert!((practice.policy.inspect_every.unwrap() - months).abs() < 1e-9);
/// assert!(practice.extra_share.abs() < 1e-3);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[must_use]
pub fn common_practice(
    model: &Prepared,
    terms: &Terms,
    (goal, limits): (Goal, &Limits),
    plan: &CarePolicy,
) -> Option<CommonPractice> {
    if !model.looks_can_find() {
        return None;
    }
    let step = MONTHS * Calendar::Months.days();
    let ring = model.seal().ring();
    let ask = |policy: &CarePolicy| Some(measure(goal, &model.rough(policy, terms, None).ok()?));
    let here = ask(plan)?;
    let best = |look: Option<f64>, turn: Option<f64>| {
        let (policy, outcome) = best_age(model, terms, (goal, limits), look, turn)?;
        Some((policy, measure(goal, &outcome), outcome))
    };
    let (policy, practice, outcome) = best(Some(step), ring.map(|_| step))?;
    let extra_share = practice / here - 1.0;
    let mut because = vec![];
    if let Some(ring) = ring {
        let (_, unturned, _) = best(Some(step), None)?;
        because.push(format!(
            "turning at each of these looks {} (the most that turning can make of this life is {:.2} times, and an opening spoils {:.1} % of the seals)",
            change(practice / unturned - 1.0),
            ring.limit_ratio(),
            100.0 * model.seal().handling_damage
        ));
    }
    let (alone, unlooked, _) = best(None, None)?;
    let (_, looked, _) = best(Some(step), None)?;
    because.push(format!(
        "looking every two months, not turning, {} against {}",
        change(looked / unlooked - 1.0),
        if alone.replace_at.is_some() {
            "a replacement age alone"
        } else {
            "replacing on failure only"
        }
    ));
    Some(CommonPractice {
        policy,
        measure: practice,
        extra_share,
        failed: outcome.failed,
        availability: outcome.availability,
        keeps_limits: (*limits != Limits::default()).then(|| limits.broken(&outcome) <= 0.0),
        because,
    })
}

fn change(share: f64) -> String {
    if share.abs() < NOTHING {
        return "changes next to nothing".to_owned();
    }
    let word = if share > 0.0 { "adds" } else { "saves" };
    format!("{word} {:.1} %", 100.0 * share.abs())
}

/// The best replacement age among the stops, or months without any; the nearest to the limits where none keeps them.
fn best_age(
    model: &Prepared,
    terms: &Terms,
    (goal, limits): (Goal, &Limits),
    look: Option<f64>,
    turn: Option<f64>,
) -> Option<(Candidate, Outcome)> {
    let step = look.or(turn).unwrap_or(Calendar::Months.days());
    let life = model.mean_onset() + model.mean_delay().unwrap_or(0.0);
    let opened = look.is_some() || turn.is_some();
    let first = if opened { 2 } else { 1 };
    let stops = (first..=(LIVES * life / step).ceil() as usize).map(|m| Some(m as f64 * step));
    let row = Row {
        open: Candidate {
            inspect_every: look,
            turn_every: turn,
            replace_at: None,
        },
        ages: std::iter::once(None).chain(stops).collect(),
        given: false,
    };
    let outcomes: Vec<Option<Outcome>> = row.outcomes(model, terms, 1, &mut Shared::default());
    row.candidates()
        .zip(outcomes)
        .filter_map(|(policy, outcome)| Some((policy, outcome?)))
        .min_by(|a, b| {
            let first = limits.broken(&a.1).total_cmp(&limits.broken(&b.1));
            first.then(measure(goal, &a.1).total_cmp(&measure(goal, &b.1)))
        })
}
