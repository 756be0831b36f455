//! The replacement age of a fleet and the spares that cover its failures, chosen together: a younger age costs
//! seals and saves stock.

use crate::demand::fleet_demand;
use crate::error::Result;
use crate::policy::Policy;
use crate::replacement::Evaluator;
use crate::stock::StockTerms;
use serde::Serialize;

/// A replacement age with its stock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Pair {
    /// Replacement age, units of the clock; `None`: on failure only.
    pub replace_at: Option<f64>,
    /// Seals on hand plus on order.
    pub stock: usize,
    /// Seals per order.
    pub order_quantity: Option<usize>,
    /// Money per day for replacements and failures of all positions.
    pub care_cost: f64,
    /// Money per day for holding, ordering and shortages.
    pub stock_cost: f64,
    /// Their sum.
    pub cost_rate: f64,
}

/// The pair chosen together against one choice after the other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JointFleet {
    /// The best pair.
    pub together: Pair,
    /// The age by replacements and failures alone, then the best stock for it.
    pub age_first: Pair,
    /// The stock for seals run to failure, then the best age with that stock kept.
    pub stock_first: Pair,
    /// Money per day that choosing together saves over the better of the two.
    pub saving: f64,
}

/// Rungs of the ladder of ages between two that are looked at first, and rounds of closing in.
const STRIDE: usize = 4;
const ROUNDS: usize = 24;

struct Fleet<'a> {
    evaluator: &'a Evaluator,
    positions: usize,
    units_per_day: f64,
    terms: &'a StockTerms,
}

impl Fleet<'_> {
    /// The cost with the best stock for an age, or with a stock kept.
    fn pair(&self, age: Option<f64>, kept: Option<usize>) -> Result<Pair> {
        let policy = age.map_or(Policy::RunToFailure, Policy::ReplaceAtAge);
        let demand = fleet_demand(self.evaluator, policy, self.positions, self.units_per_day)?;
        let rate = age.map_or_else(
            || self.evaluator.run_to_failure_rate(),
            |age| self.evaluator.cost_rate(age),
        );
        let care_cost = rate * self.positions as f64 * self.units_per_day;
        let terms = StockTerms {
            demand_rate: demand.unplanned_per_day,
            ..*self.terms
        };
        let (stock, order_quantity, stock_cost) = match kept {
            Some(stock) => (stock, Some(1), terms.one_for_one_cost(stock)?),
            None => {
                let best = terms.advised()?;
                (best.level.stock, best.order_quantity, best.level.cost_rate)
            }
        };
        Ok(Pair {
            replace_at: age,
            stock,
            order_quantity,
            care_cost,
            stock_cost,
            cost_rate: care_cost + stock_cost,
        })
    }

    /// The best age: every few rungs of the ladder, then closed in on by thirds.
    fn best(&self, kept: Option<usize>) -> Result<Pair> {
        let mut best = self.pair(None, kept)?;
        let ages: Vec<f64> = self
            .evaluator
            .ladder()
            .rungs()
            .iter()
            .map(|r| r.age)
            .collect();
        let mut zone = None;
        for (i, age) in ages.iter().enumerate().step_by(STRIDE) {
            let here = self.pair(Some(*age), kept)?;
            if here.cost_rate < best.cost_rate {
                best = here;
                let low = ages.get(i.saturating_sub(STRIDE)).copied().unwrap_or(*age);
                zone = Some((low, ages.get(i + STRIDE).copied().unwrap_or(*age)));
            }
        }
        let Some((mut low, mut high)) = zone else {
            return Ok(best);
        };
        for _ in 0..ROUNDS {
            let third = (high - low) / 3.0;
            let (a, b) = (
                self.pair(Some(low + third), kept)?,
                self.pair(Some(high - third), kept)?,
            );
            if a.cost_rate <= b.cost_rate {
                high -= third
            } else {
                low += third
            }
            for pair in [a, b] {
                if pair.cost_rate < best.cost_rate {
                    best = pair;
                }
            }
        }
        Ok(best)
    }
}

/// The best age and stock for `positions` positions with one seal each. `units_per_day`: units of the life's clock
/// that pass in a day. The evaluator's costs hold a replacement's own money and downtime, the stock's terms the
/// holding, ordering and shortage; planned seals are ordered ahead and draw no stock.
///
/// # Errors
/// As [`fleet_demand`] and [`StockTerms::answer`].
///
/// ```
/// use sealspan_care::{costs::{Costs, Prices}, joint::fleet::joint, replacement::{Evaluator, Goal}};
/// use sealspan_care::stock::{Shortage, StockTerms};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// let costs = Costs::new(Prices { planned_cost: 1.0, failure_cost: 5.0, ..Prices::default() }, Clock::Days)?;
/// // Lives without memory: no age pays, 40 positions cost 40 · 5/500 a day and ask for 0.08 seals a day, for which
/// // a stock of 5 is best ([`crate::demand::cover`]).
/// let evaluator = Evaluator::new(&Life::exponential(500.0).unwrap(), &costs, Goal::Cost)?;
/// let terms = StockTerms {
///     demand_rate: 0.0, lead_time: 20.0, holding_cost: 0.02,
///     shortage: Shortage::Backorder { cost_per_day: 2.0 },
///     order_cost: 0.0, unit_price: None, target_fill_rate: None, shelf_life: None,
///     age_on_arrival: 0.0, lead_time_deviation: 0.0,
/// };
/// let best = joint(&evaluator, 40, 1.0, &terms)?.together;
/// assert_eq!((best.replace_at, best.stock), (None, 5));
/// assert!((best.care_cost - 0.4).abs() < 1e-9);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn joint(
    evaluator: &Evaluator,
    positions: usize,
    units_per_day: f64,
    terms: &StockTerms,
) -> Result<JointFleet> {
    let fleet = Fleet {
        evaluator,
        positions,
        units_per_day,
        terms,
    };
    let together = fleet.best(None)?;
    let age_first = fleet.pair(evaluator.best_age()?, None)?;
    let run = fleet.pair(None, None)?;
    let stock_first = fleet.best(Some(run.stock))?;
    // Closing in may stop a hair above a pair already known.
    let known = if age_first.cost_rate < together.cost_rate {
        age_first
    } else {
        together
    };
    let other = age_first.cost_rate.min(stock_first.cost_rate);
    Ok(JointFleet {
        together: known,
        age_first,
        stock_first,
        saving: (other - known.cost_rate).max(0.0),
    })
}
