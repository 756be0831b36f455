//! A manway gasket, invented: it costs money to fit, a leak stops the tank.

use sealspan_care::costs::Prices;
use sealspan_care::terms::Handling;

pub const PRICES: Prices = Prices {
    planned_cost: 240.0,
    failure_cost: 1500.0,
    planned_hours: 4.0,
    failure_hours: 20.0,
    downtime_cost: 60.0,
    discount_rate: 0.0,
};

pub const HANDLING: Handling = Handling {
    inspection_cost: 20.0,
    turn_cost: 5.0,
    opening_hours: 1.5,
    undetected_cost: 0.0,
    spare_wait_hours: 0.0,
};
