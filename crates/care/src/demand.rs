//! What a care policy draws from the stock, and the stock that covers it.

use crate::error::{Error, Result, positive};
use crate::policy::{Action, Policy, State};
use crate::replacement::Evaluator;
use crate::stock::{StockAnswer, StockTerms};
use serde::Serialize;

/// Seals a fleet takes per day under a policy, in the long run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FleetDemand {
    /// Positions with one seal each.
    pub positions: usize,
    /// Seals per day after failures: these come unannounced.
    pub unplanned_per_day: f64,
    /// Seals per day by schedule: these can be ordered ahead.
    pub planned_per_day: f64,
    /// Mean days from one fitting to the next at one position, downtime included.
    pub mean_cycle_days: f64,
    /// What was assumed.
    pub notes: Vec<String>,
}

/// A care policy's demand and the stock for it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoveredDemand {
    /// What the policy draws.
    pub demand: FleetDemand,
    /// Stock for the unplanned part; the planned part is ordered ahead.
    pub stock: StockAnswer,
    /// Days ahead at which planned seals must be on order.
    pub order_planned_ahead_days: f64,
}

/// Above this share of a position's cycle, a lead time is too long for the Poisson rule to be close.
const LONG_LEAD: f64 = 0.25;

/// Long-run demand of `positions` positions under `policy`, when `units_per_day` units of the life's
/// clock pass per day (1 on the days clock; operating hours or cycles per day on the others).
///
/// Each position fails and is replaced as a renewal process; its rate is one over the mean cycle
/// (elementary renewal theorem), and the share F(T) of the cycles ends by failure.
///
/// # Errors
/// When there are no positions, or `units_per_day` or the age is not above zero.
///
/// ```
/// use sealspan_care::{costs::{Costs, Prices}, demand::fleet_demand, policy::Policy};
/// use sealspan_care::replacement::{Evaluator, Goal};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// let costs = Costs::new(Prices { planned_cost: 1.0, failure_cost: 5.0, ..Prices::default() }, Clock::Days)?;
/// let evaluator = Evaluator::new(&Life::exponential(500.0).unwrap(), &costs, Goal::Cost)?;
/// let demand = fleet_demand(&evaluator, Policy::RunToFailure, 40, 1.0)?;
/// assert!((demand.unplanned_per_day - 0.08).abs() < 1e-12);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn fleet_demand(
    evaluator: &Evaluator,
    policy: Policy,
    positions: usize,
    units_per_day: f64,
) -> Result<FleetDemand> {
    if positions == 0 {
        return Err(Error::input(
            "the number of positions",
            0,
            "give at least one",
        ));
    }
    positive("the units of the clock per day", units_per_day)?;
    let weights = evaluator.money();
    let (cycle, failed, survival) = match policy.next(State { age: 0.0 }) {
        Action::Run => (evaluator.ladder().mean() + weights.failed_time, 1.0, 0.0),
        Action::ReplaceAt(age) => {
            let cut = evaluator.ladder().at(positive("the replacement age", age)?);
            (weights.cycle(&cut), cut.failed, cut.survival)
        }
    };
    let cycles_per_day = positions as f64 * units_per_day / cycle;
    Ok(FleetDemand {
        positions,
        unplanned_per_day: cycles_per_day * failed,
        planned_per_day: cycles_per_day * survival,
        mean_cycle_days: cycle / units_per_day,
        notes: vec![
            "Long-run rates: a fleet fitted all at once fails in waves at first, not at this rate.".to_owned(),
            "Failures of many positions together come nearly, not exactly, as a Poisson stream; the fewer the positions and the steadier the lives, the less so.".to_owned(),
        ],
    })
}

/// Sizes the stock for the unplanned part of `demand`; `terms.demand_rate` is replaced by it.
///
/// # Errors
/// As [`StockTerms::answer`].
///
/// ```
/// use sealspan_care::{costs::{Costs, Prices}, demand::{cover, fleet_demand}, policy::Policy};
/// use sealspan_care::{replacement::{Evaluator, Goal}, stock::{Shortage, StockTerms}};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// let costs = Costs::new(Prices { planned_cost: 1.0, failure_cost: 5.0, ..Prices::default() }, Clock::Days)?;
/// let evaluator = Evaluator::new(&Life::exponential(500.0).unwrap(), &costs, Goal::Cost)?;
/// let demand = fleet_demand(&evaluator, Policy::RunToFailure, 40, 1.0)?;
/// let terms = StockTerms {
///     demand_rate: 0.0, lead_time: 20.0, holding_cost: 0.02,
///     shortage: Shortage::Backorder { cost_per_day: 2.0 },
///     order_cost: 0.0, unit_price: None, target_fill_rate: None, shelf_life: None,
///     age_on_arrival: 0.0, lead_time_deviation: 0.0,
/// };
/// let covered = cover(demand, &terms)?;
/// // 0.08 a day for 20 days: Poisson of mean 1.6. By hand, P(X ≤ 4) = 0.976 and P(X ≤ 5) = 0.994, and the least
/// // stock with at least 2/2.02 = 0.990 is best.
/// assert_eq!(covered.stock.best.unwrap().level.stock, 5);
/// assert_eq!(covered.order_planned_ahead_days, 20.0);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn cover(demand: FleetDemand, terms: &StockTerms) -> Result<CoveredDemand> {
    let mut stock = StockTerms {
        demand_rate: demand.unplanned_per_day,
        ..*terms
    }
    .answer()?;
    if terms.lead_time > LONG_LEAD * demand.mean_cycle_days {
        stock.notes.push(format!(
            "The lead time is {:.0} % of a position's mean cycle: the Poisson rule is rough here.",
            100.0 * terms.lead_time / demand.mean_cycle_days
        ));
    }
    stock.notes.push(
        "The stock covers failures only; seals for scheduled replacements are ordered a lead time ahead.".to_owned(),
    );
    Ok(CoveredDemand {
        demand,
        stock,
        order_planned_ahead_days: terms.lead_time,
    })
}
