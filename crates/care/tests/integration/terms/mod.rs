//! Terms of an invented fleet, each of them unlike the others, so that none can stand for another.

use sealspan_care::terms::{Event, Terms};

pub fn terms() -> Terms {
    let event = |money: f64, down: f64| Event { money, down };
    Terms {
        planned: event(100.0, 3.0),
        failed: event(1500.0, 12.0),
        found: event(140.0, 5.0),
        damaged: event(150.0, 6.0),
        opportunity: event(80.0, 2.0),
        opening: event(6.0, 1.5),
        look: 9.0,
        turn: 4.0,
        undetected: 3.0,
    }
}
