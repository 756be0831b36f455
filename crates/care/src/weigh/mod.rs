//! Weighing care policies over everything that an estimate leaves possible.
//!
//! The policies are those a service calendar can hold. Each is worked out in every world drawn from the
//! estimate; the one with the least average is the plan. Beside it stand the chance that each policy is
//! the best one, the regret, what more watching would be worth, and which input flips the decision.
//!
//! ```
//! use sealspan_care::weigh::{Kind, RatesQuestion, Weighing, elsewhere, menu_rates, weigh};
//! use sealspan_care::{calendar::Calendar, costs::{Costs, Prices}, plan::Request, policy::CarePolicy};
//! use sealspan_care::{seal::Seal, terms::{Handling, Terms}};
//! use sealspan_life::life::Life;
//! use sealspan_records::observation::Clock;
//! // Lives without memory, of a mean between 80 and 119: no care pays, whatever the mean.
//! let with_mean = |mean| Seal::one_stage(Life::exponential(mean).unwrap());
//! let seal = with_mean(100.0);
//! let draws: Vec<_> = (0..40).map(|i| with_mean(80.0 + f64::from(i))).collect();
//! let rate = (0..40).map(|i| 1.0 / (80.0 + f64::from(i))).sum::<f64>() / 40.0;
//! let prices = Prices { planned_cost: 100.0, failure_cost: 500.0, ..Prices::default() };
//! let (costs, handling) = (Costs::new(prices, Clock::Days)?, Handling::default());
//! let weighing = Weighing {
//!     seal: &seal, draws: &draws, costs: &costs, handling, request: Request::default(),
//!     calendar: Calendar::Weeks, shortest: None, today: &[], counted: None, watched: None,
//!     confidence: 0.9, price_range: 0.25,
//! };
//! let weighed = weigh(&weighing)?;
//! assert_eq!(weighed.plan.kind(), Kind::OnFailureOnly);
//! assert_eq!(weighed.plan.policy(1), CarePolicy::run_to_failure());
//! assert!((weighed.then.mean / (500.0 * rate) - 1.0).abs() < 1e-5);
//! // The same plan where the mean life is 50.
//! let there = elsewhere(&weighing, &weighed.plan, &with_mean(50.0)).unwrap();
//! assert!((there.plan / 10.0 - 1.0).abs() < 1e-5);
//! // Rates of events, to be priced later.
//! let terms = Terms::new(&costs, &handling)?;
//! let rates = menu_rates(&RatesQuestion {
//!     seal: &seal, draws: &draws, places: &[], terms: &terms, request: Request::default(),
//!     clock: Clock::Days, calendar: Calendar::Weeks, today: &[], counted: None,
//! })?;
//! let run = rates.policies.iter().find(|p| p.policy == weighed.plan).unwrap();
//! assert!((run.mean.failed / rate - 1.0).abs() < 1e-5);
//! assert!((run.centre.times(2.0).money(&terms) / 10.0 - 1.0).abs() < 1e-5);
//! # Ok::<(), sealspan_care::error::Error>(())
//! ```

mod common;
mod elsewhere;
mod flips;
mod inputs;
mod judge;
mod menu;
mod rates;
mod table;

pub use common::{CommonPractice, common_practice};
pub use elsewhere::{Elsewhere, elsewhere};
pub use flips::{Flip, Swing};
pub use inputs::Input;
pub use judge::{MoreWatching, Regret};
pub use menu::{Candidate, Kind};
pub use rates::{Counted, MenuRates, PolicyRates, Rates, RatesQuestion, menu_rates};

use crate::calendar::Calendar;
use crate::costs::{Costs, HOURS_PER_DAY};
use crate::error::{Error, Result};
use crate::evaluate::{Outcome, Prepared};
use crate::plan::{Limits, Request};
use crate::policy::CarePolicy;
use crate::seal::Seal;
use crate::terms::{Handling, Terms};
use judge::{Judge, quantile};
use menu::Menu;
use rayon::prelude::*;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::Clock;
use serde::Serialize;
use std::collections::BTreeMap;
use table::{Table, mean, measure};

/// A part of the fleet cared for alike today.
#[derive(Debug, Clone, PartialEq)]
pub struct Practice {
    /// Share of the seals' time spent under it.
    pub share: f64,
    /// What is done.
    pub policy: CarePolicy,
}

/// What is weighed.
#[derive(Debug, Clone)]
pub struct Weighing<'a> {
    /// The seal at its estimate.
    pub seal: &'a Seal,
    /// Worlds that the estimate leaves possible, all equally likely.
    pub draws: &'a [Seal],
    /// Costs on the life's clock.
    pub costs: &'a Costs,
    /// Prices of looking and turning.
    pub handling: Handling,
    /// What is free, given or left out, the goal and the limits.
    pub request: Request,
    /// Step of the service calendar.
    pub calendar: Calendar,
    /// Least time between two openings, units of the clock.
    pub shortest: Option<f64>,
    /// What is done today.
    pub today: &'a [Practice],
    /// What the records counted of it, in the place of the policies: where the seal's law cannot tell what today's looks
    /// find.
    pub counted: Option<Counted>,
    /// Seal-time behind the estimate.
    pub watched: Option<f64>,
    /// Two-sided level of intervals.
    pub confidence: f64,
    /// Range of stated inputs, as a share either way.
    pub price_range: f64,
}

/// A measure averaged over the worlds, with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Average {
    /// Mean over the worlds.
    pub mean: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// A policy and the chance that it is the best one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rated {
    /// The policy.
    #[serde(flatten)]
    pub policy: Candidate,
    /// Share of worlds in which it is the best.
    pub chance_best: f64,
    /// Mean measure.
    pub mean: f64,
    /// Mean share of seals that fail.
    pub failed: f64,
}

/// Today's practice and the plan side by side.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Saving {
    /// Today's practice.
    pub now: Average,
    /// Today's less the plan's.
    pub saving: Average,
    /// Share of worlds in which the plan is dearer than today's practice.
    pub chance_dearer: f64,
}

/// The plan and how sure it is. Measures are money per unit of the clock, or the share of time down when
/// that is the goal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Weighed {
    /// Worlds weighed.
    pub draws: usize,
    /// Worlds left out because they have no long-run figures.
    pub left_out: usize,
    /// Step of the service calendar; `None` for round numbers of usage.
    pub calendar: Option<&'static str>,
    /// Policies on the menu.
    pub policies: usize,
    /// The plan.
    pub plan: Candidate,
    /// Its measure.
    pub then: Average,
    /// Mean share of seals that fail under it.
    pub failed: f64,
    /// Mean share of time up.
    pub availability: f64,
    /// Share of worlds in which the plan keeps the limits; `None` without limits.
    pub chance_of_keeping_limits: Option<f64>,
    /// Against today's practice.
    pub today: Option<Saving>,
    /// Policies by their chance to be the best one, at least 1 %, the likeliest first; the plan is always
    /// among them.
    pub options: Vec<Rated>,
    /// The same by what they consist of.
    pub kinds: BTreeMap<Kind, f64>,
    /// The best policy of each kind on average, within the limits or not.
    pub alternatives: Vec<Rated>,
    /// What the choice may cost.
    pub regret: Regret,
    /// How much more watching would make it safe.
    pub more_watching: Option<MoreWatching>,
    /// Each input moved by itself, the widest first.
    pub swings: Vec<Swing>,
}

/// Fewest worlds that give an interval.
const FEWEST: usize = 20;
/// Policies with less chance are not listed.
const LISTED: f64 = 0.01;
const DAYS_PER_MONTH: f64 = crate::costs::DAYS_PER_YEAR / 12.0;

/// Weighs the policies: the plan is the one of the least mean measure over the worlds among those that keep the limits.
/// This module's head has an example.
///
/// # Errors
/// When an input is out of range, fewer than 20 worlds have long-run figures, or no policy of the menu keeps the
/// limits: the nearest one is said.
pub fn weigh(weighing: &Weighing) -> Result<Weighed> {
    let terms = Terms::new(weighing.costs, &weighing.handling)?;
    let request = &weighing.request;
    let centre = Prepared::new(weighing.seal)?;
    let menu = Menu::new(
        &centre,
        request,
        weighing.costs.clock(),
        weighing.calendar,
        weighing.shortest,
    )?;
    let Worlds {
        models,
        now,
        left_out,
    } = worlds(weighing, &terms)?;
    let table = Table::new(&menu, &models, &terms, request.goal, &request.limits);
    let kept = within_limits(&table, weighing)?;
    let judge = Judge::new(kept.measures(request.goal)).ok_or_else(|| {
        Error::no_answer("No policy of the calendar can be worked out in every life drawn.")
    })?;
    let plan = kept.policies.get(judge.chosen()).copied();
    let outcomes = kept.outcomes.get(judge.chosen());
    let (Some(plan), Some(outcomes)) = (plan, outcomes) else {
        return Err(Error::no_answer(
            "No policy of the calendar can be worked out.",
        ));
    };
    let own: Vec<f64> = outcomes.iter().map(|o| measure(request.goal, o)).collect();
    let averages = Table::averages(outcomes);
    Ok(Weighed {
        draws: models.len(),
        left_out,
        calendar: menu.calendar.map(Calendar::word),
        policies: menu.rows.iter().map(|row| row.ages.len()).sum(),
        plan,
        then: average(&own, weighing.confidence),
        failed: averages.failed,
        availability: averages.availability,
        chance_of_keeping_limits: keeping(&request.limits, outcomes),
        today: saving(&now, &own, weighing.confidence),
        options: options(&kept, &judge),
        kinds: kinds(&kept, &judge),
        alternatives: alternatives(&table, &kept, &judge, weighing),
        regret: judge.regret(),
        more_watching: more_watching(weighing, &judge),
        swings: flips::swings(weighing, &menu, &plan),
    })
}

/// The worlds with their tables, today's practice in each, and how many have no long-run figures.
struct Worlds {
    models: Vec<Prepared>,
    now: Vec<Option<f64>>,
    left_out: usize,
}

fn worlds(weighing: &Weighing, terms: &Terms) -> Result<Worlds> {
    let all: Vec<Option<(Prepared, Option<f64>)>> = weighing
        .draws
        .par_iter()
        .map(|seal| world(seal, weighing, terms))
        .collect();
    let left_out = all.iter().filter(|w| w.is_none()).count();
    let (models, mut now): (Vec<Prepared>, Vec<Option<f64>>) = all.into_iter().flatten().unzip();
    if let Some(counted) = &weighing.counted {
        let (mean, error) = counted.measure(terms, weighing.request.goal);
        // Even steps of its chance, one a world: worlds come in no order.
        let all = now.len() as f64;
        for (i, now) in now.iter_mut().enumerate() {
            let z = normal_quantile((i as f64 + 0.5) / all);
            *now = Some((mean + error * z).max(0.0));
        }
    }
    if models.len() < FEWEST {
        return Err(Error::no_answer(
            "Too few of the lives drawn from the estimate have a long-run cost to weigh policies by.",
        ));
    }
    Ok(Worlds {
        models,
        now,
        left_out,
    })
}

fn more_watching(weighing: &Weighing, judge: &Judge) -> Option<MoreWatching> {
    let mut more = judge.more_watching(weighing.watched?);
    let month = match weighing.costs.clock() {
        Clock::Days => Some(DAYS_PER_MONTH),
        Clock::Hours => Some(HOURS_PER_DAY * DAYS_PER_MONTH),
        Clock::Cycles => None,
    };
    more.seal_months = more.seal_time.zip(month).map(|(time, month)| time / month);
    Some(more)
}

/// Share of worlds in which the plan keeps the limits, where there are any.
fn keeping(limits: &Limits, outcomes: &[Outcome]) -> Option<f64> {
    let keeps = outcomes.iter().map(|o| limits.broken(o) <= 0.0);
    let share = mean(keeps.map(|k| f64::from(u8::from(k))));
    (*limits != Limits::default()).then_some(share)
}

/// A world with its tables, and today's practice in it.
fn world(seal: &Seal, weighing: &Weighing, terms: &Terms) -> Option<(Prepared, Option<f64>)> {
    let model = Prepared::new(seal).ok()?;
    let whole: f64 = weighing.today.iter().map(|p| p.share).sum();
    let now: Option<f64> = weighing
        .today
        .iter()
        .map(|p| {
            let outcome = model.rough(&p.policy, terms, None).ok()?;
            Some(p.share / whole * measure(weighing.request.goal, &outcome))
        })
        .sum();
    Some((model, now.filter(|_| whole > 0.0)))
}

fn average(values: &[f64], confidence: f64) -> Average {
    let tail = 0.5 - 0.5 * confidence;
    Average {
        mean: mean(values.iter().copied()),
        lower: quantile(values.to_vec(), tail),
        upper: quantile(values.to_vec(), 1.0 - tail),
    }
}

fn saving(now: &[Option<f64>], own: &[f64], confidence: f64) -> Option<Saving> {
    let now: Vec<f64> = now.iter().copied().collect::<Option<_>>()?;
    let saved: Vec<f64> = now.iter().zip(own).map(|(now, own)| now - own).collect();
    Some(Saving {
        now: average(&now, confidence),
        chance_dearer: mean(saved.iter().map(|s| f64::from(u8::from(*s < 0.0)))),
        saving: average(&saved, confidence),
    })
}

/// The policies that keep the limits on average.
fn within_limits(table: &Table, weighing: &Weighing) -> Result<Table> {
    let broken = table.broken(&weighing.request.limits);
    let mut kept = Table {
        policies: vec![],
        outcomes: vec![],
    };
    for ((policy, outcomes), broken) in table.policies.iter().zip(&table.outcomes).zip(&broken) {
        if *broken <= 0.0 {
            kept.policies.push(*policy);
            kept.outcomes.push(outcomes.clone());
        }
    }
    if kept.policies.is_empty() && !table.policies.is_empty() {
        let nearest = judge::first_least(broken.iter().copied());
        let found = nearest.and_then(|i| Some((table.policies.get(i)?, table.outcomes.get(i)?)));
        return Err(found.map_or_else(
            || Error::no_answer("No policy keeps the limits."),
            |(policy, of)| infeasible(policy, &Table::averages(of), weighing),
        ));
    }
    Ok(kept)
}

fn infeasible(policy: &Candidate, figures: &Outcome, weighing: &Weighing) -> Error {
    let unit = weighing.costs.clock().unit();
    let mut missed = vec![];
    if let Some(most) = weighing.request.limits.most_failure_probability
        && figures.failed > most
    {
        missed.push(format!(
            "{} fail where at most {most} may",
            apart(figures.failed, most, 3)
        ));
    }
    if let Some(least) = weighing.request.limits.least_availability
        && figures.availability < least
    {
        missed.push(format!(
            "{} of the time is up where at least {least} is asked",
            apart(figures.availability, least, 6)
        ));
    }
    Error::no_answer(format!(
        "No policy of the calendar keeps the limits. The nearest is: {}; with it {}, at a cost of {:.4} per {}. Loosen the limit to that, allow a finer calendar or shorter steps, or make failure rarer (another material, better detection).",
        words(policy, unit),
        missed.join(" and "),
        figures.cost_rate,
        unit.strip_suffix('s').unwrap_or(unit),
    ))
}

/// A share with so many decimals, or as many as show that it is not the limit.
fn apart(share: f64, limit: f64, decimals: usize) -> String {
    let mut all = (decimals..=12).map(|places| format!("{share:.places$}"));
    let differs = |text: &String| text.parse() != Ok(limit);
    all.find(differs).unwrap_or_else(|| share.to_string())
}

/// A policy in words, ages in the unit of the clock.
fn words(policy: &Candidate, unit: &str) -> String {
    let part = |what: &str, age: Option<f64>| age.map(|age| format!("{what} {age:.0} {unit}"));
    let parts: Vec<String> = [
        part("inspect every", policy.inspect_every),
        part("turn every", policy.turn_every),
        part("replace at", policy.replace_at),
    ]
    .into_iter()
    .flatten()
    .collect();
    if parts.is_empty() {
        return "replace on failure only".to_owned();
    }
    parts.join(", ")
}

fn options(kept: &Table, judge: &Judge) -> Vec<Rated> {
    let mut list: Vec<(usize, Rated)> = kept
        .policies
        .iter()
        .zip(&kept.outcomes)
        .zip(judge.chances().iter().zip(judge.means()))
        .map(|((policy, of), (chance, mean))| Rated {
            policy: *policy,
            chance_best: *chance,
            mean: *mean,
            failed: Table::averages(of).failed,
        })
        .enumerate()
        .filter(|(i, rated)| rated.chance_best >= LISTED || *i == judge.chosen())
        .collect();
    list.sort_by(|a, b| {
        b.1.chance_best
            .total_cmp(&a.1.chance_best)
            .then(a.0.cmp(&b.0))
    });
    list.into_iter().map(|(_, rated)| rated).collect()
}

fn alternatives(table: &Table, kept: &Table, judge: &Judge, weighing: &Weighing) -> Vec<Rated> {
    let measures = table.measures(weighing.request.goal);
    let chances = judge.chances();
    let chance = |policy: &Candidate| {
        let at = kept.policies.iter().position(|p| p == policy);
        at.and_then(|i| chances.get(i).copied()).unwrap_or(0.0)
    };
    let rated = |i: usize| {
        let (policy, of) = (table.policies.get(i)?, table.outcomes.get(i)?);
        Some(Rated {
            policy: *policy,
            chance_best: chance(policy),
            mean: mean(measures.get(i)?.iter().copied()),
            failed: Table::averages(of).failed,
        })
    };
    let firsts = table.first_of_kinds(&measures);
    firsts.into_iter().filter_map(rated).collect()
}

fn kinds(kept: &Table, judge: &Judge) -> BTreeMap<Kind, f64> {
    let mut sums = BTreeMap::new();
    for (policy, chance) in kept.policies.iter().zip(judge.chances()) {
        if chance > 0.0 {
            *sums.entry(policy.kind()).or_insert(0.0) += chance;
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Of 50 worlds 2.5 lie beyond either end of a 90 % interval: the third from below and the third from above stand.
    #[test]
    fn an_interval_leaves_a_twentieth_of_the_worlds_beyond_either_end() {
        let worlds: Vec<f64> = (1..=50).map(f64::from).collect();
        let found = average(&worlds, 0.9);
        assert_eq!((found.mean, found.lower, found.upper), (25.5, 3.0, 48.0));
    }

    /// In two worlds one policy is the best each, and a third, the best in neither, is the least on average; a fourth is
    /// neither.
    #[test]
    fn options_are_the_plan_and_all_that_may_be_best() {
        let candidate = |look: Option<f64>, age: Option<f64>| Candidate {
            inspect_every: look,
            turn_every: None,
            replace_at: age,
        };
        let policies = vec![
            candidate(None, None),
            candidate(None, Some(300.0)),
            candidate(Some(30.0), None),
            candidate(None, Some(900.0)),
        ];
        let costs = [
            [1.0, 3.0, 3.0, 1.0],
            [5.0, 1.0, 1.0, 5.0],
            [1.5; 4],
            [9.0; 4],
        ];
        let worlds = |costs: &[f64; 4]| {
            let one = |cost: &f64| Outcome {
                cost_rate: *cost,
                ..Outcome::default()
            };
            costs.iter().map(one).collect()
        };
        let table = Table {
            policies: policies.clone(),
            outcomes: costs.iter().map(worlds).collect(),
        };
        let judge = Judge::new(table.measures(crate::replacement::Goal::Cost)).unwrap();
        let listed: Vec<(Candidate, f64, f64)> = options(&table, &judge)
            .iter()
            .map(|o| (o.policy, o.chance_best, o.mean))
            .collect();
        assert_eq!(
            listed,
            [
                (policies[0], 0.5, 2.0),
                (policies[1], 0.5, 3.0),
                (policies[2], 0.0, 1.5)
            ]
        );
        let kinds = kinds(&table, &judge);
        let wanted = [(Kind::OnFailureOnly, 0.5), (Kind::ReplaceAtAge, 0.5)];
        assert_eq!(kinds, BTreeMap::from(wanted));
    }

    #[test]
    fn a_share_has_as_many_decimals_as_tell_it_from_its_limit() {
        for (share, limit, decimals, words) in [
            (0.25, 0.1, 3, "0.250"),
            (0.10004, 0.1, 3, "0.10004"),
            (0.989_999_6, 0.99, 6, "0.9899996"),
            (0.1, 0.1, 3, "0.1"),
        ] {
            assert_eq!(apart(share, limit, decimals), words);
        }
    }
}
