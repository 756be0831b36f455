//! The care policy's demand, place by place, and the stock that covers it.

use super::lives::GroupLife;
use super::place_rates::place_rates;
use super::prices;
use crate::wire::care::{GroupCare, Recommended};
use crate::wire::plan::WholePlan;
use crate::wire::stock::{PartJoint, PlaceStock, StockDocument, frontier, rule_of_thumb};
use sealspan_care::costs::Costs;
use sealspan_care::demand::{FleetDemand, cover, fleet_demand};
use sealspan_care::error::Result;
use sealspan_care::evaluate::evaluate;
use sealspan_care::joint::fleet::joint;
use sealspan_care::policy::Policy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::stock::StockTerms;
use sealspan_care::terms::Terms;
use sealspan_records::study::Costs as StatedCosts;
use sealspan_records::{Question, Records, Study};
use std::collections::BTreeMap;

/// Name of the place where the records name no site.
const NO_SITE: &str = "all sites";

/// Replacement age and stock chosen together ([`joint`]), part by part and place by place, the seals in service of each
/// place rounded to whole positions. Terms and lives as for [`places`]; groups without a life are left out.
///
/// # Errors
/// As [`joint`].
pub fn together(
    groups: &[GroupLife],
    (costs, stated): (&Costs, &StatedCosts),
    terms: &StockTerms,
) -> Result<Vec<PartJoint>> {
    let mut out = vec![];
    for group in groups {
        let Ok(fitted) = &group.fitted else { continue };
        let more = prices::dearer(stated, &group.key);
        let own = costs.dearer(more);
        let terms = prices::stock_of(terms, more);
        let evaluator = Evaluator::new(&fitted.life, &own, Goal::Cost)?;
        for (place, count) in sites(group) {
            out.push(PartJoint {
                place,
                part: group.key.words(),
                joint: joint(&evaluator, count.round() as usize, 1.0, &terms)?,
            });
        }
    }
    out.sort_by(|a, b| (&a.place, &a.part).cmp(&(&b.place, &b.part)));
    Ok(out)
}

/// Seals in service by site.
fn sites(group: &GroupLife) -> BTreeMap<String, f64> {
    let mut sites: BTreeMap<String, f64> = BTreeMap::new();
    for seal in &group.running {
        let site = seal.site.clone().unwrap_or_else(|| NO_SITE.to_owned());
        *sites.entry(site).or_insert(0.0) += seal.count;
    }
    sites
}

/// Stock for every site and group (part) of records grouped by `asked`, each under its group's whole plan where `plans`
/// holds one, at the place's own rate where the plan's laws can follow it; else under its best replacement age. `terms`
/// holds everything but the demand, at the price of most seals; groups with a price of their own, as `study` states,
/// are held at that. Lives are in days. With n positions and m days from one fitting to the next in the long run, failures,
/// findings and spoilt seals come unannounced, n/m times their share a day, and seals by schedule n/m times theirs
/// ([`fleet_demand`]; [`cover`] finds the stock). Groups without a life are named in `left_out`.
///
/// # Errors
/// As [`Evaluator::new`] and [`cover`].
pub fn places(
    (records, asked): (&Records, &Question),
    groups: &[GroupLife],
    (costs, study): (&Costs, &Study),
    terms: &StockTerms,
    plans: &[GroupCare],
) -> Result<StockDocument> {
    let rates = place_rates(records, asked, plans, 1);
    let handling = prices::handling(study);
    let mut places = vec![];
    let mut left_out = vec![];
    for group in groups {
        let part = group.key.words();
        let fitted = match &group.fitted {
            Ok(fitted) => fitted,
            Err(why) => {
                left_out.push(format!("{part}: {why}"));
                continue;
            }
        };
        let more = prices::dearer(&study.costs, &group.key);
        let own = costs.dearer(more);
        let terms = prices::stock_of(terms, more);
        let evaluator = Evaluator::new(&fitted.life, &own, Goal::Cost)?;
        let policy = evaluator
            .best()?
            .age
            .map_or(Policy::RunToFailure, Policy::ReplaceAtAge);
        let planned = plans.iter().find(|p| p.group == group.key);
        let planned = planned.and_then(|p| p.block.as_ref());
        let handled = Terms::new(&own, &handling)?;
        for (place, count) in sites(group) {
            let positions = count.round() as usize;
            let alone = fleet_demand(&evaluator, policy, positions, 1.0)?;
            let demand = match planned {
                Some(block) => {
                    let rate = rates.of(&group.key, &place).0;
                    let here = block.plan.as_ref();
                    let here = here.and_then(|plan| at_place(plan, rate, &handled));
                    of_plan(here.unwrap_or_else(|| Drawn::of(&block.recommended)), alone)
                }
                None => alone,
            };
            let covered = cover(demand, &terms)?;
            places.push(PlaceStock {
                place,
                part: part.clone(),
                positions: Some(covered.demand.positions),
                unplanned_per_day: covered.demand.unplanned_per_day,
                planned_per_day: covered.demand.planned_per_day,
                unit_price: terms.unit_price,
                answer: covered.stock,
            });
        }
    }
    places.sort_by(|a, b| (&a.place, &a.part).cmp(&(&b.place, &b.part)));
    let frontier = frontier(&places);
    Ok(StockDocument {
        schema: "sealspan.stock.v1",
        frontier_reason: frontier.is_empty().then(|| {
            "needs a seal price, and demands that wait: here they go urgent or have no price"
                .to_owned()
        }),
        frontier,
        rule_of_thumb: rule_of_thumb(&places),
        budget: None,
        write_off: vec![],
        joint: vec![],
        shelf_life: terms.shelf_life,
        shelf_life_source: study.stock.shelf_life_source.clone(),
        places,
        left_out,
    })
}

/// What a plan draws from the stock, in the long run.
struct Drawn {
    mean_cycle: f64,
    /// Shares of the seals that go without notice, and by schedule.
    unplanned: f64,
    planned: f64,
}

impl Drawn {
    /// Failures, findings and spoilt seals come unannounced.
    fn of(plan: &Recommended) -> Self {
        Self {
            mean_cycle: plan.mean_cycle,
            unplanned: plan.failed + plan.found + plan.damaged,
            planned: plan.preventive,
        }
    }
}

/// A whole plan where onsets come `rate` times as fast; `None` where its laws cannot follow that.
fn at_place(plan: &WholePlan, rate: f64, terms: &Terms) -> Option<Drawn> {
    let seal = plan.worlds.centre.with_onset_rate(rate).ok()?;
    let policy = plan.weighed.plan.policy(plan.turn_by);
    let outcome = evaluate(&seal, &policy, terms).ok()?;
    Some(Drawn {
        mean_cycle: outcome.mean_cycle,
        unplanned: outcome.failed + outcome.found + outcome.damaged,
        planned: outcome.preventive,
    })
}

fn of_plan(plan: Drawn, alone: FleetDemand) -> FleetDemand {
    let cycles_per_day = alone.positions as f64 / plan.mean_cycle;
    FleetDemand {
        unplanned_per_day: cycles_per_day * plan.unplanned,
        planned_per_day: cycles_per_day * plan.planned,
        mean_cycle_days: plan.mean_cycle,
        ..alone
    }
}
