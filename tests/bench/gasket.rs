//! The invented door gasket that the benchmarks of care share, and its prices.

use sealspan_care::costs::Prices;
use sealspan_care::seal::Seal;
use sealspan_care::terms::Handling;
use sealspan_life::life::Life;

pub const PRICES: Prices = Prices {
    planned_cost: 300.0,
    failure_cost: 3000.0,
    planned_hours: 8.0,
    failure_hours: 24.0,
    downtime_cost: 60.0,
    discount_rate: 0.0,
};

pub const HANDLING: Handling = Handling {
    inspection_cost: 20.0,
    turn_cost: 2.0,
    opening_hours: 1.0,
    undetected_cost: 0.0,
    spare_wait_hours: 0.0,
};

/// A door gasket that shows its wear before it leaks.
pub fn gasket() -> Seal {
    let defect = Life::weibull(2.0, 300.0).unwrap();
    let delay = Life::weibull(2.0, 90.0).unwrap();
    Seal {
        detection: 0.9,
        ..Seal::two_stage(defect, delay)
    }
}

/// The same on a ring of four sectors, one of which wears half again as fast.
pub fn on_an_uneven_ring() -> Seal {
    gasket().with_severities(&[1.5, 1.0, 1.0, 1.0]).unwrap()
}
