//! What a replacement costs in money and in hours down, planned or after a failure.

use crate::error::{Error, Result, not_negative, positive};
use sealspan_records::observation::Clock;

/// Days in the year of account.
pub const DAYS_PER_YEAR: f64 = 365.25;

/// Hours in a day.
pub const HOURS_PER_DAY: f64 = 24.0;

/// Prices as the user gives them. Money in any one currency, durations in hours.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Prices {
    /// Seal and labour of a planned replacement, money.
    pub planned_cost: f64,
    /// Seal, labour, clean-up and loss of a replacement after a failure, money, downtime apart.
    pub failure_cost: f64,
    /// Hours the equipment is down for a planned replacement.
    pub planned_hours: f64,
    /// Hours the equipment is down for a failure.
    pub failure_hours: f64,
    /// Money per hour the equipment is down.
    pub downtime_cost: f64,
    /// Continuous discount rate per year of 365.25 days.
    pub discount_rate: f64,
}

/// Checked prices on one clock.
///
/// ```
/// use sealspan_care::costs::{Costs, Prices, hours_per_unit};
/// use sealspan_records::observation::Clock;
/// let prices = Prices {
///     planned_cost: 100.0, failure_cost: 400.0, planned_hours: 2.0, failure_hours: 6.0,
///     downtime_cost: 50.0, discount_rate: 0.08,
/// };
/// let days = Costs::new(prices, Clock::Days)?;
/// assert_eq!((days.planned_money(), days.failure_money()), (200.0, 700.0));
/// assert_eq!((days.planned_time(), days.failure_time()), (2.0 / 24.0, 6.0 / 24.0));
/// assert_eq!((days.clock(), days.hours_per_unit(), days.clock_note()), (Clock::Days, Some(24.0), None));
/// assert!((days.discount_per_unit().unwrap() - 0.08 / 365.25).abs() < 1e-15);
/// assert_eq!(days.dearer(-30.0).prices().planned_cost, 70.0);
/// // How long a cycle lasts depends on the duty: here six hours.
/// assert_eq!(hours_per_unit(Clock::Cycles), None);
/// let cycles = Costs::new(prices, Clock::Cycles)?;
/// assert_eq!((cycles.failure_time(), cycles.discount_per_unit()), (0.0, None));
/// assert_eq!(cycles.with_hours_per_unit(6.0)?.failure_time(), 1.0);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Costs {
    prices: Prices,
    clock: Clock,
    hours_per_unit: Option<f64>,
}

/// Hours that pass while the clock moves on by one unit; `None` where that depends on the duty.
#[must_use]
pub fn hours_per_unit(clock: Clock) -> Option<f64> {
    match clock {
        Clock::Days => Some(24.0),
        Clock::Hours => Some(1.0),
        Clock::Cycles => None,
    }
}

impl Costs {
    /// Checks `prices` for a life measured on `clock`.
    ///
    /// On the hours clock the equipment is taken to run round the clock, so an hour down is an hour
    /// of the clock; on the cycles clock a cycle has no length in hours until
    /// [`Costs::with_hours_per_unit`] gives one, and downtime is then priced but takes no time.
    ///
    /// # Errors
    /// When a price is negative or not finite, or both kinds of replacement are free.
    ///
    /// ```
    /// use sealspan_care::costs::{Costs, Prices};
    /// use sealspan_records::observation::Clock;
    /// let prices = Prices { planned_cost: 100.0, failure_cost: 400.0, failure_hours: 6.0, downtime_cost: 50.0, ..Prices::default() };
    /// let costs = Costs::new(prices, Clock::Days)?;
    /// assert_eq!(costs.failure_money(), 700.0);
    /// assert_eq!(costs.failure_time(), 0.25);
    /// assert!(Costs::new(Prices { planned_cost: -1.0, ..prices }, Clock::Days).is_err());
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn new(prices: Prices, clock: Clock) -> Result<Self> {
        not_negative("the planned cost", prices.planned_cost)?;
        not_negative("the failure cost", prices.failure_cost)?;
        not_negative("the planned hours down", prices.planned_hours)?;
        not_negative("the failure hours down", prices.failure_hours)?;
        not_negative("the downtime cost per hour", prices.downtime_cost)?;
        not_negative("the discount rate", prices.discount_rate)?;
        let costs = Self {
            prices,
            clock,
            hours_per_unit: hours_per_unit(clock),
        };
        if costs.failure_money() <= 0.0 && costs.failure_time() <= 0.0 {
            return Err(Error::input(
                "the cost of a failure",
                0,
                "give a failure cost, or failure hours with a downtime cost",
            ));
        }
        Ok(costs)
    }

    /// The same where each seal costs `more` money (less, below 0; no replacement costs less than nothing).
    #[must_use]
    pub fn dearer(&self, more: f64) -> Self {
        let mut out = *self;
        for cost in [&mut out.prices.planned_cost, &mut out.prices.failure_cost] {
            *cost = (*cost + more).max(0.0);
        }
        out
    }

    /// The same prices where one unit of the clock lasts `hours` (24 for days; for cycles the
    /// average hours from one cycle to the next).
    ///
    /// # Errors
    /// When `hours` is not a finite number above zero.
    pub fn with_hours_per_unit(self, hours: f64) -> Result<Self> {
        Ok(Self {
            hours_per_unit: Some(positive("hours per unit of the clock", hours)?),
            ..self
        })
    }

    /// The prices as given.
    #[must_use]
    pub fn prices(&self) -> &Prices {
        &self.prices
    }

    /// The clock that lives and rates are on.
    #[must_use]
    pub fn clock(&self) -> Clock {
        self.clock
    }

    /// Hours that one unit of the clock lasts, where known.
    #[must_use]
    pub fn hours_per_unit(&self) -> Option<f64> {
        self.hours_per_unit
    }

    /// Money of one planned replacement, downtime priced in: cost + hours down × price of an hour.
    #[must_use]
    pub fn planned_money(&self) -> f64 {
        self.prices.planned_cost + self.prices.planned_hours * self.prices.downtime_cost
    }

    /// Money of one failure, downtime priced in: cost + hours down × price of an hour.
    #[must_use]
    pub fn failure_money(&self) -> f64 {
        self.prices.failure_cost + self.prices.failure_hours * self.prices.downtime_cost
    }

    /// Time down for a planned replacement in units of the clock; 0 where a unit has no length.
    #[must_use]
    pub fn planned_time(&self) -> f64 {
        self.hours_per_unit
            .map_or(0.0, |unit| self.prices.planned_hours / unit)
    }

    /// Time down for a failure in units of the clock; 0 where a unit has no length.
    #[must_use]
    pub fn failure_time(&self) -> f64 {
        self.hours_per_unit
            .map_or(0.0, |unit| self.prices.failure_hours / unit)
    }

    /// Continuous discount rate per unit of the clock, the rate a year × hours a unit / hours in 365.25 days; `None` where
    /// a unit has no length in hours.
    #[must_use]
    pub fn discount_per_unit(&self) -> Option<f64> {
        self.hours_per_unit
            .map(|unit| self.prices.discount_rate * unit / (DAYS_PER_YEAR * 24.0))
    }

    /// What was assumed of the clock, in words; `None` on the days clock, where nothing is.
    #[must_use]
    pub fn clock_note(&self) -> Option<&'static str> {
        match (self.clock, self.hours_per_unit) {
            (Clock::Days, _) => None,
            (Clock::Hours, _) => Some(
                "Operating hours are taken as running round the clock: an hour down is an hour of the clock.",
            ),
            (Clock::Cycles, Some(_)) => {
                Some("Downtime is turned into cycles by the hours per cycle given.")
            }
            (Clock::Cycles, None) => Some(
                "A cycle has no stated length in hours: downtime is priced but takes no time, and availability and present value are left out.",
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const PRICES: Prices = Prices {
        planned_cost: 100.0,
        failure_cost: 300.0,
        planned_hours: 2.0,
        failure_hours: 12.0,
        downtime_cost: 10.0,
        discount_rate: 0.08,
    };

    #[test]
    fn one_price_list_on_three_clocks() {
        let days = Costs::new(PRICES, Clock::Days).unwrap();
        assert_eq!((days.planned_money(), days.failure_money()), (120.0, 420.0));
        assert_eq!(days.failure_time(), 0.5);
        assert_eq!(days.discount_per_unit(), Some(0.08 / 365.25));
        let hours = Costs::new(PRICES, Clock::Hours).unwrap();
        assert_eq!(hours.planned_time(), 2.0);
        let cycles = Costs::new(PRICES, Clock::Cycles).unwrap();
        assert_eq!(
            (cycles.failure_time(), cycles.discount_per_unit()),
            (0.0, None)
        );
        let timed = cycles.with_hours_per_unit(6.0).unwrap();
        assert_eq!(timed.failure_time(), 2.0);
    }

    #[test]
    fn bad_prices_are_named() {
        let bad = [
            (
                Prices {
                    planned_cost: -1.0,
                    ..PRICES
                },
                "planned cost",
            ),
            (
                Prices {
                    failure_cost: f64::NAN,
                    ..PRICES
                },
                "failure cost",
            ),
            (
                Prices {
                    downtime_cost: f64::INFINITY,
                    ..PRICES
                },
                "downtime cost",
            ),
            (Prices::default(), "cost of a failure"),
        ];
        for (prices, name) in bad {
            let error = Costs::new(prices, Clock::Days).unwrap_err();
            assert!(
                error.is_input() && error.to_string().contains(name),
                "{error}"
            );
        }
    }
}
