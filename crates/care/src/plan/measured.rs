//! The measured limit: how often to measure a seal, at which reading to replace it, and at which age whatever it read.

use super::{BROKEN, Limits, Plan};
use crate::error::{Error, Result};
use crate::evaluate::{Outcome, evaluate, measured};
use crate::policy::{CarePolicy, Looks};
use crate::replacement::Goal;
use crate::seal::{Paths, Seal};
use crate::terms::Terms;
use rayon::prelude::*;
use sealspan_numeric::optimise::minimise_bracketed;

/// Limits tried for each time between looks, evenly from the functional limit to a new seal.
const LIMITS: usize = 12;
/// Times between looks whose limit is refined.
const REFINED: usize = 3;
/// A limit is refined to this share of a new seal's distance.
const NEAR: f64 = 1e-3;

/// Share by which rough figures may be off the exact ones, and more: they are good to about 1e-4.
const ROUGH: f64 = 0.01;

/// What is asked of a measured limit.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredQuestion {
    /// Times between looks to choose from, units of the clock.
    pub steps: Vec<f64>,
    /// Replacement ages to choose from where nothing is measured, rising; the last one is also the oldest age at which a
    /// measured seal is replaced whatever it reads.
    pub ages: Vec<f64>,
    /// A given replacement age, instead of the best one at a look.
    pub replace_at: Option<f64>,
    /// A given limit, as a value of the property.
    pub limit: Option<f64>,
    /// The property is read in steps of this; 0 where it may take any value.
    pub resolution: f64,
    /// What is to be least.
    pub goal: Goal,
    /// What has to be kept.
    pub limits: Limits,
}

/// The best measured limit, beside what needs no measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredPlan {
    /// Look, limit and replacement age.
    pub plan: Plan,
    /// The limit as a value of the property.
    pub limit: f64,
    /// The best replacement age alone, by the same paths.
    pub by_age: Plan,
}

impl MeasuredQuestion {
    fn score(&self, outcome: &Outcome) -> f64 {
        let broken = self.limits.broken(outcome);
        match self.goal {
            _ if broken > 0.0 => BROKEN * (1.0 + broken),
            Goal::Cost => outcome.cost_rate,
            Goal::Availability => 1.0 - outcome.availability,
        }
    }

    /// The best of a policy's replacement ages.
    fn best_age(&self, seal: &Seal, paths: &Paths, terms: &Terms, tried: &Tried) -> (f64, f64) {
        let policy = tried.policy();
        let Ok(list) = measured::rough(seal, paths, &policy, terms) else {
            return (f64::INFINITY, tried.age);
        };
        let only = list.len().saturating_sub(1);
        list.iter()
            .enumerate()
            .filter(|(i, _)| self.replace_at.is_none() || *i == only)
            .map(|(_, cutoff)| (self.score(&cutoff.outcome), cutoff.age))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap_or((f64::INFINITY, tried.age))
    }
}

/// A time between looks with a limit, as a distance, and a replacement age.
#[derive(Debug, Clone, Copy)]
struct Tried {
    step: f64,
    within: f64,
    age: f64,
    score: f64,
}

impl Tried {
    fn policy(&self) -> CarePolicy {
        CarePolicy {
            looks: Looks::Every(self.step),
            replace_within: Some(self.within),
            replace_at: Some(self.age),
            ..CarePolicy::run_to_failure()
        }
    }
}

/// The best time between looks, limit and replacement age for a measured seal; the best age alone beside it.
///
/// # Errors
/// When the seal is not a measured one, nothing is left to choose from, or no policy keeps the limits.
///
/// ```
/// use sealspan_care::evaluate::evaluate;
/// use sealspan_care::plan::{Limits, MeasuredQuestion, best_measured};
/// use sealspan_care::{replacement::Goal, seal::{Paths, Seal}, terms::{Event, Terms}};
/// use sealspan_life::degradation::{Limit, Scale};
/// // A property that falls from 20 by 0.01 a day, a third more or less by seal, to the limit of 10.
/// let limit = Limit { value: 10.0, rising: false };
/// let paths = Paths::new(limit, Scale::Plain, (20.0, -0.01), (0.04, 0.0, 1e-5), 0.1)?;
/// let seal = Seal::measured(paths);
/// let terms = Terms {
///     planned: Event { money: 100.0, down: 0.0 }, found: Event { money: 100.0, down: 0.0 },
///     failed: Event { money: 2000.0, down: 0.0 }, look: 1.0, ..Terms::default()
/// };
/// let mut question = MeasuredQuestion {
///     steps: vec![60.0, 120.0], ages: vec![400.0, 600.0, 800.0, 1200.0], replace_at: None, limit: None,
///     resolution: 0.0, goal: Goal::Cost, limits: Limits::default(),
/// };
/// let best = best_measured(&seal, &terms, &question)?;
/// let exact = evaluate(&seal, &best.plan.policy, &terms)?.cost_rate;
/// assert!((best.plan.outcome.cost_rate / exact - 1.0).abs() < 1e-8);
/// assert!(exact < best.by_age.outcome.cost_rate);
/// // A given limit of 12.5 is 2.5 before the functional one.
/// question.limit = Some(12.5);
/// let given = best_measured(&seal, &terms, &question)?;
/// assert!((given.plan.policy.replace_within.unwrap() - 2.5).abs() < 1e-12 && given.limit == 12.5);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn best_measured(
    seal: &Seal,
    terms: &Terms,
    question: &MeasuredQuestion,
) -> Result<MeasuredPlan> {
    let (Some(paths), Some(oldest)) = (measured::paths(seal), question.ages.last().copied()) else {
        return Err(Error::no_answer("No property of this seal is measured."));
    };
    let last = question.replace_at.unwrap_or(oldest);
    let given =
        match question.limit {
            Some(value) => Some(paths.distance_at(value).ok_or_else(|| {
                Error::input("the measured limit", value, "give a value above 0")
            })?),
            None => None,
        };
    let mut found: Vec<Tried> = question
        .steps
        .par_iter()
        .filter(|step| **step < last)
        .filter_map(|step| coarse(seal, paths, terms, question, (*step, last, given)))
        .collect();
    found.sort_by(|a, b| a.score.total_cmp(&b.score));
    found.truncate(REFINED);
    let refined = found.iter().flat_map(|tried| match given {
        Some(_) => vec![*tried],
        None => refined(seal, paths, terms, question, *tried),
    });
    let best = refined
        .min_by(|a, b| a.score.total_cmp(&b.score))
        .filter(|tried| tried.score.is_finite())
        .ok_or_else(|| {
            Error::no_answer(
                "No measured limit can be worked out: no time between looks is shorter than the replacement age.",
            )
        })?;
    let policy = best.policy();
    let outcome = evaluate(seal, &policy, terms)?;
    if question.limits.broken(&outcome) > 1e-6 {
        return Err(Error::no_answer(format!(
            "No measured limit keeps the limits asked for: the nearest fails with chance {:.4} and is up {:.5} of the time.",
            outcome.failed, outcome.availability
        )));
    }
    Ok(MeasuredPlan {
        limit: paths.value_at(best.within),
        plan: Plan { policy, outcome },
        by_age: by_age(seal, paths, terms, question)?,
    })
}

/// The best of evenly spaced limits at one time between looks.
fn coarse(
    seal: &Seal,
    paths: &Paths,
    terms: &Terms,
    question: &MeasuredQuestion,
    (step, last, given): (f64, f64, Option<f64>),
) -> Option<Tried> {
    let cell = paths.new_distance() / LIMITS as f64;
    let tried = match given {
        Some(within) => vec![within],
        None => (0..LIMITS).map(|i| i as f64 * cell).collect(),
    };
    tried
        .into_iter()
        .map(|within| {
            let start = Tried {
                step,
                within,
                age: last,
                score: f64::INFINITY,
            };
            let (score, age) = question.best_age(seal, paths, terms, &start);
            Tried {
                age,
                score,
                ..start
            }
        })
        .min_by(|a, b| a.score.total_cmp(&b.score))
}

/// The limit refined at the replacement age found, then put on the nearest readings.
fn refined(
    seal: &Seal,
    paths: &Paths,
    terms: &Terms,
    question: &MeasuredQuestion,
    tried: Tried,
) -> Vec<Tried> {
    let cell = paths.new_distance() / LIMITS as f64;
    let score = |within: f64| {
        let policy = Tried { within, ..tried }.policy();
        measured::rough(seal, paths, &policy, terms)
            .ok()
            .and_then(|list| list.last().map(|cutoff| question.score(&cutoff.outcome)))
            .unwrap_or(f64::INFINITY)
    };
    // As a share of a new seal's distance, so that the unit of the property does not matter.
    let whole = paths.new_distance();
    let (low, high) = (tried.within - cell, tried.within + cell);
    let by_share = |share: f64| score(share * whole);
    let (share, value) = minimise_bracketed(by_share, low / whole, high / whole, NEAR);
    let within = share * whole;
    let best = if value < tried.score {
        within
    } else {
        tried.within
    };
    if question.resolution <= 0.0 {
        return vec![Tried {
            within: best,
            score: value.min(tried.score),
            ..tried
        }];
    }
    let reading = paths.value_at(best) / question.resolution;
    [reading.floor(), reading.ceil()]
        .into_iter()
        .filter_map(|count| paths.distance_at(count * question.resolution))
        .map(|within| Tried {
            within,
            score: score(within),
            ..tried
        })
        .collect()
}

/// The best replacement age alone.
fn by_age(seal: &Seal, paths: &Paths, terms: &Terms, question: &MeasuredQuestion) -> Result<Plan> {
    let ages = match question.replace_at {
        Some(age) => vec![age],
        None => question.ages.clone(),
    };
    // Worked out to the last digit only where the rough figures come near the best.
    let roughly = |age: f64| {
        let figures = measured::rough(seal, paths, &CarePolicy::replace_at(age), terms);
        let last = figures.ok().and_then(|list| list.last().copied());
        last.map_or(f64::INFINITY, |cutoff| question.score(&cutoff.outcome))
    };
    let scores: Vec<f64> = ages.iter().map(|age| roughly(*age)).collect();
    let least = scores.iter().copied().fold(f64::INFINITY, f64::min);
    let near = |score: f64| {
        let barely_broken = (BROKEN..BROKEN * (1.0 + ROUGH)).contains(&score);
        score.is_infinite() || barely_broken || score <= least * (1.0 + ROUGH)
    };
    let mut best: Option<(f64, Plan)> = None;
    for (age, _) in ages.into_iter().zip(scores).filter(|(_, s)| near(*s)) {
        let policy = CarePolicy::replace_at(age);
        let outcome = evaluate(seal, &policy, terms)?;
        let score = question.score(&outcome);
        if best.as_ref().is_none_or(|(least, _)| score < *least) {
            best = Some((score, Plan { policy, outcome }));
        }
    }
    best.map(|(_, plan)| plan)
        .ok_or_else(|| Error::no_answer("No replacement age to choose from."))
}

#[cfg(test)]
mod tests;
