//! Stocks for the failures that the plan leaves.

use super::prices;
use crate::wire::demand::PlaceDemand;
use crate::wire::money::StockLine;
use sealspan_care::costs::DAYS_PER_YEAR;
use sealspan_care::stock::StockTerms;
use sealspan_records::Study;
use sealspan_records::study::Costs;

/// The best stock of every part at every place for its mean failures over `days`.
///
/// # Errors
/// In words, when the study does not price stock or no stock is best.
pub fn stock_lines(
    study: &Study,
    costs: &Costs,
    places: &[PlaceDemand],
    days: f64,
) -> Result<Vec<StockLine>, String> {
    let mut study = study.clone();
    study.costs = costs.clone();
    let terms = prices::stock(&study)?;
    places
        .iter()
        .map(|place| {
            let demand_rate = place.total.unplanned.expected / days;
            let best = StockTerms {
                demand_rate,
                ..terms
            }
            .advised()
            .map_err(|e| e.to_string())?;
            Ok(StockLine {
                place: place.place.clone(),
                part: place.part.clone(),
                demand_rate,
                reorder_point: best.reorder_point,
                order_quantity: best.order_quantity.unwrap_or(1),
                fill_rate: best.level.fill_rate,
                cost_per_year: best.level.cost_rate * DAYS_PER_YEAR,
                investment: best.level.investment.unwrap_or(0.0),
            })
        })
        .collect()
}
