//! How far a plan is from common practice (no source): look every couple of months, turn a quarter each
//! time.

use super::menu::{Candidate, Row};
use super::table::measure;
use crate::calendar::Calendar;
use crate::evaluate::{Outcome, Prepared};
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
    /// Its measure.
    pub measure: f64,
    /// How much more than the plan, as a share of the plan's measure.
    pub extra_share: f64,
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
#[must_use]
pub fn common_practice(
    model: &Prepared,
    terms: &Terms,
    goal: Goal,
    plan: &CarePolicy,
) -> Option<CommonPractice> {
    if !model.looks_can_find() {
        return None;
    }
    let step = MONTHS * Calendar::Months.days();
    let ring = model.seal().ring();
    let ask = |policy: &CarePolicy| Some(measure(goal, &model.rough(policy, terms, None).ok()?));
    let here = ask(plan)?;
    let best = |look: Option<f64>, turn: Option<f64>| best_age(model, terms, goal, look, turn);
    let (policy, practice) = best(Some(step), ring.map(|_| step))?;
    let extra_share = practice / here - 1.0;
    let mut because = vec![];
    if let Some(ring) = ring {
        let (_, unturned) = best(Some(step), None)?;
        because.push(format!(
            "turning at each of these looks {} (the most that turning can make of this life is {:.2} times, and an opening spoils {:.1} % of the seals)",
            change(practice / unturned - 1.0),
            ring.limit_ratio(),
            100.0 * model.seal().handling_damage
        ));
    }
    let (_, unlooked) = best(None, None)?;
    let (_, looked) = best(Some(step), None)?;
    because.push(format!(
        "looking every two months, not turning, {} against a replacement age alone",
        change(looked / unlooked - 1.0)
    ));
    Some(CommonPractice {
        policy,
        measure: practice,
        extra_share,
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

/// The best replacement age among the stops, or months without any.
fn best_age(
    model: &Prepared,
    terms: &Terms,
    goal: Goal,
    look: Option<f64>,
    turn: Option<f64>,
) -> Option<(Candidate, f64)> {
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
    };
    let outcomes: Vec<Option<Outcome>> = row.outcomes(model, terms, 1);
    row.candidates()
        .zip(outcomes)
        .filter_map(|(policy, outcome)| Some((policy, measure(goal, &outcome?))))
        .min_by(|a, b| a.1.total_cmp(&b.1))
}
