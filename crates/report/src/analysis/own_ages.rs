//! The replacement age that costs least at a place, or for a duty, by itself, beside the plan's age for all of a part.
//!
//! Looks and turns stay as planned. At a place defects start at the place's own rate (`place_rates`), at the estimate and at
//! every draw together with the draw of the part's laws. A duty has laws of its own, from its own seals.

use super::drawn::ends;
use super::duties::finer;
use super::endings::running;
use super::futures::{PartFuture, PlaceFuture};
use super::intervals::watched;
use super::lives::groups;
use super::place_factors::SITE;
use super::planned::question_of;
use super::plans::{Evidence, Facts, beyond_records, worlds};
use super::prices;
use crate::wire::GroupKey;
use crate::wire::care::GroupCare;
use crate::wire::money_places::{OwnAge, OwnAges};
use crate::wire::plan::WholePlan;
use rayon::prelude::*;
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::{Costs, DAYS_PER_YEAR};
use sealspan_care::evaluate::Prepared;
use sealspan_care::plan::{Choice, Request};
use sealspan_care::seal::Seal;
use sealspan_care::terms::{Handling, Terms};
use sealspan_care::weigh::{Candidate, RatesQuestion, menu_rates};
use sealspan_life::family::Family;
use sealspan_records::study::Costs as Stated;
use sealspan_records::{Question, Records, Sample, ask};

/// Draws that it rests on.
const DRAWS: usize = 60;
/// Why there are none.
pub(super) const NONE: &str = "no part with a whole plan, whose laws can follow a place's own rate, is in service at two places";
/// An age of its own is taken where its chance to be dearer is at most this, a longer one at most half of it (rules of
/// ours).
const SURE: f64 = 0.1;
/// Seals that must have been watched at a longer age, there and by that part, for it to be taken (a rule of ours).
const WATCHED: f64 = 10.0;
/// Why a duty has no rate.
const OWN_LAWS: &str = "a duty has laws of its own";
/// Why there are none by duty.
pub(super) const NO_DUTIES: &str =
    "the records name no duty (product, cleaning), or none whose log bears laws of its own";

/// What the answer rests on beside the parts.
pub(super) struct Asked<'a> {
    pub plans: &'a [GroupCare],
    pub costs: &'a Costs,
    pub stated: &'a Stated,
    pub handling: &'a Handling,
    pub confidence: f64,
}

/// A part with its plan at a place or for a duty.
struct Here<'a> {
    key: &'a GroupKey,
    plan: &'a WholePlan,
    at: String,
    positions: f64,
    /// Its seals at the estimate, and at every draw.
    centre: Seal,
    draws: Vec<Seal>,
    /// What was seen of its seals.
    sample: Sample,
    /// The oldest of them, where an age beyond what was seen is to be refused.
    oldest: Option<f64>,
    /// Rate of onsets over that of all of the part, with the ends of its interval, where that is what differs.
    rate: Option<(f64, [f64; 2])>,
}

impl<'a> Here<'a> {
    /// At a place; `None` where the laws cannot follow its own rate.
    fn place(
        (key, plan): (&'a GroupKey, &'a WholePlan),
        at: &PlaceFuture,
        sample: Sample,
        confidence: f64,
    ) -> Option<Self> {
        let (rate, drawn) = at.rates()?;
        let pairs = plan.worlds.draws.iter().zip(drawn).take(DRAWS);
        let draws = pairs.map(|(seal, rate)| seal.with_onset_rate(*rate).ok());
        Some(Self {
            key,
            plan,
            at: at.place.clone(),
            positions: running(&at.running),
            centre: plan.worlds.centre.with_onset_rate(*rate).ok()?,
            draws: draws.collect::<Option<_>>()?,
            sample,
            oldest: None,
            rate: Some((*rate, ends(drawn.iter().copied(), confidence)?)),
        })
    }
}

fn plan_of<'a>(
    plans: &'a [GroupCare],
    part: &[(String, String)],
) -> Option<(&'a GroupKey, &'a WholePlan)> {
    let group = plans.iter().find(|g| g.group.0 == part)?;
    Some((&group.group, group.block.as_ref()?.plan.as_ref()?))
}

/// Every part with a whole plan at every place that has seals of it in service, where there are two places or more. A
/// part whose laws cannot follow a place's own rate is left out.
pub(super) fn own_ages(
    (records, question): (&Records, &Question),
    parts: &[PartFuture],
    asked: &Asked,
) -> Option<OwnAges> {
    let by = question.by.iter().cloned().chain([SITE.to_owned()]);
    let by_site = Question {
        by: by.collect(),
        ..question.clone()
    };
    let seen = ask(records, &by_site).map_or_else(|_| vec![], |answer| answer.groups);
    let sample = |part: &GroupKey, place: &str| {
        let own = seen.iter().find(|g| {
            let last = g.key.split_last();
            last.is_some_and(|(site, rest)| site.1 == place && rest == part.0)
        });
        own.map(|g| g.sample.clone()).unwrap_or_default()
    };
    let mut all = vec![];
    for part in parts.iter().filter(|part| part.places.len() > 1) {
        let Some(found) = plan_of(asked.plans, &part.key.0) else {
            continue;
        };
        let places = part.places.iter();
        all.extend(places.filter_map(|at| {
            Here::place(found, at, sample(&part.key, &at.place), asked.confidence)
        }));
    }
    in_all(SITE, &all, asked)
}

/// The same by what seals meet: every part with a whole plan for every duty that seals of it in service have, by laws of
/// the duty's own. A duty whose log does not tell as many stages as the part's, or has no law to be trusted, is left out, and so is one
/// whose age lies beyond what was seen of it.
pub(super) fn own_ages_by_duty(
    records: &Records,
    question: &Question,
    asked: &Asked,
    (family, seed): (&'static dyn Family, u64),
) -> Option<OwnAges> {
    let (finer, answer) = finer(records, question)?;
    let column = finer.by.last()?;
    let facts = Facts {
        measured: None,
        ..Facts::of(&records.study)
    };
    let evidence = Evidence::read(records, &finer.by, finer.clock, &facts);
    let costs = (asked.confidence, seed);
    let asks = question_of(&records.study, asked.costs, Request::default(), costs);
    let lives = groups(&answer, family, seed);
    let all = lives.par_iter().map(|life| {
        let ((_, duty), part) = life.key.0.split_last()?;
        let (key, plan) = plan_of(asked.plans, part)?;
        let positions = running(&life.running);
        let own = worlds(life, &evidence, &facts, &asks).ok()?;
        let alike = own.centre.delay.is_some() == plan.worlds.centre.delay.is_some();
        let enough = alike && positions > 0.0 && own.draws.len() >= DRAWS;
        enough.then(|| Here {
            key,
            plan,
            at: duty.clone(),
            positions,
            centre: own.centre,
            draws: own.draws.into_iter().take(DRAWS).collect(),
            sample: life.sample.clone(),
            oldest: Some(life.sample.oldest()),
            rate: None,
        })
    });
    let all: Vec<Here> = all.collect::<Vec<_>>().into_iter().flatten().collect();
    in_all(column, &all, asked)
}

fn in_all(by: &str, all: &[Here], asked: &Asked) -> Option<OwnAges> {
    let found = all.par_iter().map(|here| own_age(here, asked));
    let found: Vec<(OwnAge, Vec<f64>)> = found.collect::<Vec<_>>().into_iter().flatten().collect();
    let taken = || found.iter().filter(|f| f.0.taken);
    // Draw i of every part and place together.
    let sum = |i: usize| taken().filter_map(|f| f.1.get(i)).sum();
    let [saving_lower, saving_upper] = ends((0..DRAWS).map(sum), asked.confidence)?;
    let saving = taken().map(|f| f.0.saving).sum();
    (!found.is_empty()).then(|| OwnAges {
        by: by.to_owned(),
        saving,
        saving_lower,
        saving_upper,
        ages: found.into_iter().map(|f| f.0).collect(),
    })
}

/// The answer at one place or for one duty, with what its own age saves at every draw.
fn own_age(here: &Here, asked: &Asked) -> Option<(OwnAge, Vec<f64>)> {
    let dearer = prices::dearer(asked.stated, here.key);
    let terms = Terms::new(&asked.costs.dearer(dearer), asked.handling).ok()?;
    let chosen = here.plan.weighed.plan;
    let turn_by = here.plan.turn_by;
    let own = least(
        (&chosen, turn_by),
        &here.centre,
        &here.draws,
        (&terms, asked.costs),
    )?;
    if here.oldest.is_some() && beyond_records(&here.centre, own.replace_at, here.oldest).is_some()
    {
        return None;
    }
    // Money saved a year, shares that fail by the plan's age and by its own.
    let played = |seal: &Seal| -> Option<(f64, [f64; 2])> {
        let model = Prepared::new(seal).ok()?;
        let under = |policy: &Candidate| model.rough(&policy.policy(turn_by), &terms, None).ok();
        let (planned, own) = (under(&chosen)?, under(&own)?);
        let saved = here.positions * DAYS_PER_YEAR * (planned.cost_rate - own.cost_rate);
        Some((saved, [planned.failed, own.failed]))
    };
    let played: Vec<(f64, [f64; 2])> = here.draws.iter().map(played).collect::<Option<_>>()?;
    let saved: Vec<f64> = played.iter().map(|p| p.0).collect();
    let [saving_lower, saving_upper] = ends(saved.iter().copied(), asked.confidence)?;
    let count = saved.len() as f64;
    let chance_dearer = saved.iter().filter(|s| **s < 0.0).count() as f64 / count;
    let age_or_never = |at: Option<f64>| at.unwrap_or(f64::INFINITY);
    let longer = age_or_never(own.replace_at) > age_or_never(chosen.replace_at);
    let failed = |which: usize| played.iter().filter_map(|p| p.1.get(which)).sum::<f64>() / count;
    let watched_then = own.replace_at.map(|age| watched(&here.sample, age));
    let seen = !longer || watched_then.is_some_and(|n| n >= WATCHED);
    let age = OwnAge {
        at: here.at.clone(),
        part: here.key.words(),
        positions: here.positions,
        rate: here.rate.map(|r| r.0),
        rate_lower: here.rate.map(|r| r.1[0]),
        rate_upper: here.rate.map(|r| r.1[1]),
        rate_reason: here.rate.is_none().then_some(OWN_LAWS),
        detection: here
            .oldest
            .and(here.centre.delay.as_ref())
            .map(|_| here.centre.detection),
        planned_age: chosen.replace_at,
        own_age: own.replace_at,
        watched_then,
        failed_planned: failed(0),
        failed_own: failed(1),
        saving: saved.iter().sum::<f64>() / count,
        saving_lower,
        saving_upper,
        chance_dearer,
        taken: seen
            && own.replace_at != chosen.replace_at
            && chance_dearer <= if longer { 0.5 * SURE } else { SURE },
        draws: saved.len(),
    };
    Some((age, saved))
}

/// The age of the calendar that costs least on average over the worlds, with the looks and turns chosen.
fn least(
    (chosen, turn_by): (&Candidate, usize),
    centre: &Seal,
    seals: &[Seal],
    (terms, costs): (&Terms, &Costs),
) -> Option<Candidate> {
    let kept = |step: Option<f64>| step.map_or(Choice::Never, Choice::At);
    let menu = menu_rates(&RatesQuestion {
        seal: centre,
        draws: seals,
        places: &[],
        terms,
        request: Request {
            inspect: kept(chosen.inspect_every),
            turn: kept(chosen.turn_every),
            turn_by,
            ..Request::default()
        },
        clock: costs.clock(),
        calendar: Calendar::default(),
        today: &[],
        counted: None,
    })
    .ok()?;
    let by_money = menu
        .policies
        .iter()
        .map(|p| (p.policy, p.mean.money(terms)));
    let best = by_money.min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(best.0)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_care::costs::Prices;
    use sealspan_life::life::Life;
    use sealspan_records::Clock;

    /// Where defects start `rate` times as fast at every age, a Weibull life and the age that costs least are shorter by
    /// `rate` to the power of one over the shape.
    #[test]
    fn the_least_age_moves_with_the_rate() {
        let seal = Seal::one_stage(Life::weibull(2.5, 900.0).unwrap());
        let prices = Prices {
            planned_cost: 80.0,
            failure_cost: 4000.0,
            planned_hours: 0.0,
            failure_hours: 0.0,
            downtime_cost: 0.0,
            discount_rate: 0.0,
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let terms = Terms::new(&costs, &Handling::default()).unwrap();
        let alone = Candidate {
            inspect_every: None,
            turn_every: None,
            replace_at: None,
        };
        let age = |rate: f64| {
            let here = seal.with_onset_rate(rate).unwrap();
            let worlds = vec![here.clone(); 20];
            let own = least((&alone, 1), &here, &worlds, (&terms, &costs)).unwrap();
            own.replace_at.unwrap()
        };
        let step = Calendar::default().days();
        // The optimum at scale 1, by scipy's bounded minimisation of the cost rate.
        let best = 900.0 * 0.179_400;
        for rate in [0.05_f64, 0.25, 1.0, 3.0] {
            let want = best * rate.powf(-1.0 / 2.5);
            assert!(
                (age(rate) - want).abs() <= step,
                "{rate}: {} {want}",
                age(rate)
            );
        }
    }
}
