//! Stocks for the failures that the plan leaves.

use crate::wire::money::StockLine;
use crate::wire::stock::PlaceStock;
use sealspan_care::costs::{DAYS_PER_YEAR, HOURS_PER_DAY};
use sealspan_records::Study;

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
            unit_price: place.unit_price.unwrap_or(0.0),
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
