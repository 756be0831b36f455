//! Stocks for the failures that the plan leaves.

use super::prices;
use crate::wire::demand::PlaceDemand;
use crate::wire::money::StockLine;
use crate::wire::stock::PlaceStock;
use sealspan_care::costs::{DAYS_PER_YEAR, HOURS_PER_DAY};
use sealspan_care::stock::StockTerms;
use sealspan_records::Study;
use sealspan_records::study::Costs;

/// Stocks of every part at every place for its mean failures over `days`.
///
/// # Errors
/// In words, when the study does not price stock or no stock is best.
pub fn places(
    study: &Study,
    costs: &Costs,
    places: &[PlaceDemand],
    days: f64,
) -> Result<Vec<PlaceStock>, String> {
    let mut study = study.clone();
    study.costs = costs.clone();
    let terms = prices::stock(&study)?;
    places
        .iter()
        .map(|place| {
            let demand_rate = place.total.unplanned.expected / days;
            let answer = StockTerms {
                demand_rate,
                ..terms
            }
            .answer()
            .map_err(|e| e.to_string())?;
            match &answer.best_reason {
                Some(why) => Err(why.clone()),
                None => Ok(PlaceStock {
                    place: place.place.clone(),
                    part: place.part.clone(),
                    positions: Some(place.running.round() as usize),
                    unplanned_per_day: demand_rate,
                    planned_per_day: place.total.planned.expected / days,
                    unit_price: terms.unit_price,
                    answer,
                }),
            }
        })
        .collect()
}

/// The stock advised at every place that has one.
#[must_use]
pub fn lines(places: &[PlaceStock]) -> Vec<StockLine> {
    let line = |place: &PlaceStock| {
        let best = place.answer.best.as_ref()?;
        Some(StockLine {
            place: place.place.clone(),
            part: place.part.clone(),
            demand_rate: place.unplanned_per_day,
            reorder_point: best.reorder_point,
            order_quantity: best.order_quantity.unwrap_or(1),
            fill_rate: best.level.fill_rate,
            cost_per_year: best.level.cost_rate * DAYS_PER_YEAR,
            investment: best.level.investment.unwrap_or(0.0),
        })
    };
    places.iter().filter_map(line).collect()
}

/// Hours that a position stands until an urgent seal comes; 0 where the study knows no urgent supply.
#[must_use]
pub fn urgent_hours(study: &Study) -> f64 {
    study.stock.urgent_lead_time_days.unwrap_or(0.0) * HOURS_PER_DAY
}
