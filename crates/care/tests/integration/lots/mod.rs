//! A stock of an invented place that is ordered in lots, with urgent supply.

use sealspan_care::spares::play::{Lead, Rules};
use sealspan_care::stock::{Shortage, StockTerms};

pub const LOTS: StockTerms = StockTerms {
    demand_rate: 0.05,
    lead_time: 30.0,
    holding_cost: 0.05,
    shortage: Shortage::Urgent {
        cost_per_order: 40.0,
    },
    order_cost: 6.0,
    unit_price: Some(30.0),
    target_fill_rate: None,
    shelf_life: None,
    age_on_arrival: 0.0,
    lead_time_deviation: 0.0,
};

/// One place's stock of parts ordered one by one.
pub const RULES: Rules = Rules {
    demand_rate: 0.05,
    lead: Lead::Steady(30.0),
    reorder_point: 2,
    quantity: 1,
    usable: None,
    urgent: false,
};
