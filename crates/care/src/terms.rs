//! What each event of a cycle costs and how long it keeps the equipment down, on one clock.

use crate::costs::Costs;
use crate::error::{Result, not_negative};

/// Prices of looking and turning, and of being without a spare, as the user gives them.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize)]
pub struct Handling {
    /// Labour of one look, money.
    pub inspection_cost: f64,
    /// Labour of one turn, money.
    pub turn_cost: f64,
    /// Hours the equipment is down for one opening: cooling, look or turn, closing.
    pub opening_hours: f64,
    /// Money per unit of the clock that a hidden failure lasts.
    pub undetected_cost: f64,
    /// Hours down waiting for a spare when a replacement was not planned.
    pub spare_wait_hours: f64,
}

/// An event's money, downtime priced in, and its time down in units of the clock.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Event {
    /// Money.
    pub money: f64,
    /// Time down.
    pub down: f64,
}

/// All events of a cycle.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Terms {
    /// Replaced by schedule.
    pub planned: Event,
    /// Failed and replaced.
    pub failed: Event,
    /// Found worn and replaced.
    pub found: Event,
    /// Spoilt by handling and replaced.
    pub damaged: Event,
    /// Replaced while the asset was open anyway.
    pub opportunity: Event,
    /// One opening of the equipment.
    pub opening: Event,
    /// Labour of a look, money.
    pub look: f64,
    /// Labour of a turn, money.
    pub turn: f64,
    /// Money per unit of time that a failure goes unseen.
    pub undetected: f64,
}

impl Terms {
    /// From prices: money of an event is its cost and its hours down at their price. A look and a turn at once share one opening. A seal found worn or spoilt costs a
    /// planned replacement; like a failed one it may have to wait for a spare, the equipment down. At
    /// an opportunity the downtime is somebody else's.
    ///
    /// # Errors
    /// When a price is negative or not finite.
    ///
    /// ```
    /// use sealspan_care::{costs::{Costs, Prices}, terms::{Handling, Terms}};
    /// use sealspan_records::observation::Clock;
    /// let prices = Prices {
    ///     planned_cost: 100.0, failure_cost: 400.0, planned_hours: 2.0, failure_hours: 6.0,
    ///     downtime_cost: 50.0, ..Prices::default()
    /// };
    /// let handling = Handling { opening_hours: 1.0, spare_wait_hours: 3.0, ..Handling::default() };
    /// let terms = Terms::new(&Costs::new(prices, Clock::Days)?, &handling)?;
    /// // A failure: 400, and 6 + 3 hours at 50; one found worn waits for a spare too.
    /// assert_eq!((terms.failed.money, terms.failed.down), (850.0, 9.0 / 24.0));
    /// assert_eq!((terms.planned.money, terms.found.money), (200.0, 350.0));
    /// assert_eq!((terms.opening.money, terms.opportunity.money), (50.0, 100.0));
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn new(costs: &Costs, handling: &Handling) -> Result<Self> {
        not_negative("the inspection cost", handling.inspection_cost)?;
        not_negative("the turn cost", handling.turn_cost)?;
        not_negative("the inspection hours", handling.opening_hours)?;
        not_negative("the undetected cost", handling.undetected_cost)?;
        not_negative("the hours waiting for a spare", handling.spare_wait_hours)?;
        let event = |money: f64, hours: f64| Event {
            money: money + hours * costs.prices().downtime_cost,
            down: costs.hours_per_unit().map_or(0.0, |unit| hours / unit),
        };
        let prices = costs.prices();
        let wait = handling.spare_wait_hours;
        let unplanned = event(prices.planned_cost, prices.planned_hours + wait);
        Ok(Self {
            planned: event(prices.planned_cost, prices.planned_hours),
            failed: event(prices.failure_cost, prices.failure_hours + wait),
            found: unplanned,
            damaged: unplanned,
            opportunity: event(prices.planned_cost, 0.0),
            opening: event(0.0, handling.opening_hours),
            look: handling.inspection_cost,
            turn: handling.turn_cost,
            undetected: handling.undetected_cost,
        })
    }
}
