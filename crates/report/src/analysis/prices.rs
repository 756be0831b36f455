//! From a study's costs to what decisions ask for.
//!
//! ```
//! use sealspan_care::stock::Shortage;
//! use sealspan_records::Study;
//! use sealspan_report::analysis::extras::own_prices;
//! use sealspan_report::analysis::intervals::prices_of;
//! use sealspan_report::analysis::money_prices::{self, keys};
//! use sealspan_report::analysis::prices::{dearer, handling, replacement, stock};
//! use sealspan_report::wire::GroupKey;
//! let text = r#"
//! [costs]
//! seal_price = 40.0
//! seal_prices = { FKM = 65.0 }
//! fitting_labour = 60.0
//! planned_hours = 1.0
//! failure_hours = 9.0
//! downtime_cost_per_hour = 250.0
//! clean_up = 300.0
//! inspection_labour = 20.0
//! inspection_hours = 0.5
//! [stock]
//! lead_time_days = 30.0
//! carrying_rate_per_year = 0.25
//! "#;
//! let study = Study::parse(text, std::path::Path::new("study.toml"))?;
//! let prices = replacement(&study);
//! assert_eq!((prices.planned_cost, prices.failure_cost), (100.0, 400.0)); // 40 + 60; + 300
//! assert_eq!((handling(&study).inspection_cost, handling(&study).opening_hours), (20.0, 0.5));
//! assert_eq!(prices_of(&study).map(|p| p.failure_hours), Some(9.0));
//! let fkm = GroupKey(vec![("material".to_owned(), "FKM".to_owned())]);
//! assert_eq!(dearer(&study.costs, &fkm), 25.0); // 65 - 40
//! assert!(own_prices(&study.costs).into_values().eq([65.0]));
//!
//! let terms = stock(&study)?;
//! assert_eq!(terms.holding_cost, 40.0 * 0.25 / 365.25); // a seal and day
//! assert_eq!(terms.shortage, Shortage::Backorder { cost_per_day: 6000.0 }); // 24 x 250
//! assert!(stock(&Study::default()).is_err()); // no price
//!
//! let events = money_prices::Prices::of(&study.costs);
//! assert_eq!((events.failure, events.planned), (2650.0, 350.0)); // with 9 hours, with 1
//! assert_eq!(events.opening, 125.0); // half an hour
//! assert!(keys().contains(&"clean_up"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

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

/// How much more than the study's seal price the seal of a group costs, by the price of a material that the group names; 0
/// where it has none, below 0 where it is cheaper.
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

/// Terms of a stock question as a study gives them, in days, for a demand still to be put in (it is 0); or what is missing.
/// Holding a seal for a day costs price x carrying rate / 365.25, a day down 24 times the money of an hour down.
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
