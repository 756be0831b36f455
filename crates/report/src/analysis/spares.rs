//! The care policy's demand, place by place, and the stock that covers it.

use super::lives::GroupLife;
use super::prices;
use crate::wire::care::{GroupCare, Recommended};
use crate::wire::stock::{PartJoint, PlaceStock, StockDocument, frontier, rule_of_thumb};
use sealspan_care::costs::Costs;
use sealspan_care::demand::{FleetDemand, cover, fleet_demand};
use sealspan_care::error::Result;
use sealspan_care::joint::fleet::joint;
use sealspan_care::policy::Policy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::stock::StockTerms;
use sealspan_records::study::Costs as StatedCosts;
use std::collections::BTreeMap;

/// Name of the place where the records name no site.
const NO_SITE: &str = "all sites";

/// Replacement age and stock chosen together, part by part and place by place. Terms and lives as for [`places`].
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

/// Stock for every site and group (part), each under its group's whole plan where `plans` holds one, else under its
/// best replacement age. `terms` holds everything but the demand, at the price of most seals; groups with a price of
/// their own, as `stated`, are held at that. Lives are in days.
///
/// # Errors
/// As [`Evaluator::new`] and [`cover`].
pub fn places(
    groups: &[GroupLife],
    (costs, stated): (&Costs, &StatedCosts),
    terms: &StockTerms,
    plans: &[GroupCare],
) -> Result<StockDocument> {
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
        let more = prices::dearer(stated, &group.key);
        let own = costs.dearer(more);
        let terms = prices::stock_of(terms, more);
        let evaluator = Evaluator::new(&fitted.life, &own, Goal::Cost)?;
        let policy = evaluator
            .best()?
            .age
            .map_or(Policy::RunToFailure, Policy::ReplaceAtAge);
        let planned = plans.iter().find(|p| p.group == group.key);
        let planned = planned.and_then(|p| p.block.as_ref());
        for (place, count) in sites(group) {
            let positions = count.round() as usize;
            let alone = fleet_demand(&evaluator, policy, positions, 1.0)?;
            let demand = planned.map_or(alone.clone(), |block| of_plan(&block.recommended, alone));
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
        shelf_life_source: None,
        places,
        left_out,
    })
}

/// What a whole plan draws: failures, findings and spoilt seals come unannounced.
fn of_plan(plan: &Recommended, alone: FleetDemand) -> FleetDemand {
    let cycles_per_day = alone.positions as f64 / plan.mean_cycle;
    FleetDemand {
        unplanned_per_day: cycles_per_day * (plan.failed + plan.found + plan.damaged),
        planned_per_day: cycles_per_day * plan.preventive,
        mean_cycle_days: plan.mean_cycle,
        ..alone
    }
}
