//! The replacement age that costs least at a place by itself, beside the plan's age for all places.
//!
//! Looks and turns stay as planned; defects start there at the place's own rate (`place_rates`), at the estimate and at
//! every draw together with the draw of the laws.

use super::drawn::ends;
use super::endings::running;
use super::futures::{PartFuture, PlaceFuture};
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
use sealspan_records::study::Costs as Stated;

/// Draws that it rests on.
const DRAWS: usize = 60;
/// Why there are none.
pub(super) const NONE: &str = "no part with a whole plan, whose laws can follow a place's own rate, is in service at two places";

/// What the answer rests on beside the parts.
pub(super) struct Asked<'a> {
    pub plans: &'a [GroupCare],
    pub costs: &'a Costs,
    pub stated: &'a Stated,
    pub handling: &'a Handling,
    pub confidence: f64,
}

/// A part with its plan at a place.
struct Here<'a> {
    key: &'a GroupKey,
    plan: &'a WholePlan,
    at: &'a PlaceFuture,
}

/// Every part with a whole plan at every place that has seals of it in service, where there are two places or more. A
/// part whose laws cannot follow a place's own rate is left out.
pub(super) fn own_ages(parts: &[PartFuture], asked: &Asked) -> Option<OwnAges> {
    let planned = parts.iter().filter_map(|part| {
        let group = asked.plans.iter().find(|g| g.group == part.key)?;
        let plan = group.block.as_ref()?.plan.as_ref()?;
        (part.places.len() > 1).then_some((part, plan))
    });
    let all: Vec<Here> = planned
        .flat_map(|(part, plan)| {
            let places = part.places.iter();
            places.map(move |at| Here {
                key: &part.key,
                plan,
                at,
            })
        })
        .collect();
    let found = all.par_iter().map(|here| own_age(here, asked));
    let found: Vec<(OwnAge, Vec<f64>)> = found.collect::<Vec<_>>().into_iter().flatten().collect();
    // Draw i of every part and place together.
    let sum = |i: usize| found.iter().filter_map(|f| f.1.get(i)).sum();
    let [saving_lower, saving_upper] = ends((0..DRAWS).map(sum), asked.confidence)?;
    (!found.is_empty()).then(|| OwnAges {
        saving: found.iter().map(|f| f.0.saving).sum(),
        saving_lower,
        saving_upper,
        ages: found.into_iter().map(|f| f.0).collect(),
    })
}

/// The answer at one place, with what its own age saves at every draw.
fn own_age(here: &Here, asked: &Asked) -> Option<(OwnAge, Vec<f64>)> {
    let worlds = &here.plan.worlds;
    let positions = running(&here.at.running);
    let (rate, drawn) = here.at.rates()?;
    let pairs = worlds.draws.iter().zip(drawn).take(DRAWS);
    let seals: Vec<Seal> = pairs
        .map(|(seal, rate)| seal.with_onset_rate(*rate).ok())
        .collect::<Option<_>>()?;
    let dearer = prices::dearer(asked.stated, here.key);
    let terms = Terms::new(&asked.costs.dearer(dearer), asked.handling).ok()?;
    let chosen = here.plan.weighed.plan;
    let turn_by = here.plan.turn_by;
    let centre = worlds.centre.with_onset_rate(*rate).ok()?;
    let own = least((&chosen, turn_by), &centre, &seals, (&terms, asked.costs))?;
    let saved = |seal: &Seal| -> Option<f64> {
        let model = Prepared::new(seal).ok()?;
        let cost = |policy: &Candidate| {
            let outcome = model.rough(&policy.policy(turn_by), &terms, None).ok()?;
            Some(outcome.cost_rate)
        };
        Some(positions * DAYS_PER_YEAR * (cost(&chosen)? - cost(&own)?))
    };
    let saved: Vec<f64> = seals.iter().map(saved).collect::<Option<_>>()?;
    let [rate_lower, rate_upper] = ends(drawn.iter().copied(), asked.confidence)?;
    let [saving_lower, saving_upper] = ends(saved.iter().copied(), asked.confidence)?;
    let count = saved.len() as f64;
    let age = OwnAge {
        place: here.at.place.clone(),
        part: here.key.words(),
        positions,
        rate: *rate,
        rate_lower,
        rate_upper,
        planned_age: chosen.replace_at,
        own_age: own.replace_at,
        saving: saved.iter().sum::<f64>() / count,
        saving_lower,
        saving_upper,
        chance_dearer: saved.iter().filter(|s| **s < 0.0).count() as f64 / count,
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
