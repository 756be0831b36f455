//! From a study's costs to what decisions ask for.

use crate::wire::GroupKey;
use sealspan_care::costs::{DAYS_PER_YEAR, Prices};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_care::terms::Handling;
use sealspan_records::Study;
use sealspan_records::study::Costs as StudyCosts;

/// Prices of a replacement as a study gives them; what it does not give is 0.
#[must_use]
pub fn replacement(study: &Study) -> Prices {
    let c = &study.costs;
    Prices {
        planned_cost: c.planned_cost().unwrap_or(0.0),
        failure_cost: c.failure_cost().unwrap_or(0.0),
        planned_hours: c.planned_hours.unwrap_or(0.0),
        failure_hours: c.failure_hours.unwrap_or(0.0),
        downtime_cost: c.downtime_cost().unwrap_or(0.0),
        discount_rate: c.discount_rate_per_year.unwrap_or(0.0),
    }
}

/// Prices of looking and turning as a study gives them; what it does not give is 0.
#[must_use]
pub fn handling(study: &Study) -> Handling {
    let c = &study.costs;
    Handling {
        inspection_cost: c.inspection_labour.unwrap_or(0.0),
        turn_cost: c.turn_labour.unwrap_or(0.0),
        opening_hours: c.inspection_hours.unwrap_or(0.0),
        ..Handling::default()
    }
}

/// How much more than the study's seal price the seal of a group costs.
#[must_use]
pub fn dearer(costs: &StudyCosts, group: &GroupKey) -> f64 {
    costs.dearer_by(group.0.iter().map(|(_, value)| value.as_str()))
}

/// Terms of a stock question for a seal that costs `more` than the study's.
#[must_use]
pub(crate) fn stock_of(terms: &StockTerms, more: f64) -> StockTerms {
    let Some(price) = terms.unit_price.filter(|_| more != 0.0) else {
        return *terms;
    };
    StockTerms {
        unit_price: Some(price + more),
        holding_cost: terms.holding_cost * (price + more) / price,
        ..*terms
    }
}

const HOURS_PER_DAY: f64 = 24.0;

/// Terms of a stock question as a study gives them, for a demand still to be put in; or what is missing.
/// With an urgent lead time, an empty shelf means an urgent order and the downtime until it arrives;
/// without one, the position stands until the normal order arrives.
///
/// # Errors
/// The key that is missing, in words.
pub fn stock(study: &Study) -> Result<StockTerms, String> {
    let missing = |key: &str| format!("the study gives no `{key}`");
    let price = study
        .costs
        .seal_price
        .ok_or_else(|| missing("costs.seal_price"))?;
    let lead_time = study
        .stock
        .lead_time_days
        .ok_or_else(|| missing("stock.lead_time_days"))?;
    let carrying = study
        .stock
        .carrying_rate_per_year
        .ok_or_else(|| missing("stock.carrying_rate_per_year"))?;
    let day_down = HOURS_PER_DAY
        * study
            .costs
            .downtime_cost()
            .ok_or_else(|| missing("costs.downtime_cost_per_hour"))?;
    let shortage = match study.stock.urgent_lead_time_days {
        Some(days) => Shortage::Urgent {
            cost_per_order: study.stock.urgent_price.unwrap_or(price) - price + days * day_down,
        },
        None => Shortage::Backorder {
            cost_per_day: day_down,
        },
    };
    Ok(StockTerms {
        demand_rate: 0.0,
        lead_time,
        holding_cost: price * carrying / DAYS_PER_YEAR,
        shortage,
        order_cost: study.stock.order_cost.unwrap_or(0.0),
        unit_price: Some(price),
        target_fill_rate: None,
        shelf_life: study.stock.shelf_life_days,
        age_on_arrival: study.stock.age_on_arrival_days.unwrap_or(0.0),
        lead_time_deviation: study.stock.lead_time_deviation_days.unwrap_or(0.0),
    })
}
