//! Prices of a planned replacement and of a failure, downtime left out.

use sealspan_care::costs::{Costs, Prices};
use sealspan_records::observation::Clock;

pub fn costs(planned_cost: f64, failure_cost: f64) -> Costs {
    let prices = Prices {
        planned_cost,
        failure_cost,
        ..Prices::default()
    };
    Costs::new(prices, Clock::Days).unwrap()
}
