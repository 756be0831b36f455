//! Seals to lay in for a fleet over a horizon without resupply: exact renewal demand, which a
//! constant rate gets badly wrong for lives that wear out.

use crate::error::{Error, Result, share};
use crate::forecast::Running;
use crate::renewals::replacements;
use crate::stock::Demand;
use crate::successes::Effort;
use sealspan_life::life::Life;
use serde::Serialize;

/// What a stock laid in at the start does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LaidIn {
    /// Seals laid in.
    pub stock: usize,
    /// Chance that they last to the end.
    pub enough: f64,
    /// Expected number of replacements without a seal.
    pub expected_short: f64,
    /// Expected seals left at the end.
    pub expected_left: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FleetStock {
    /// Stocks from 0 past the best one.
    pub levels: Vec<LaidIn>,
    /// The smallest stock that lasts with the chance asked for.
    pub best: LaidIn,
    /// Replacements on failure within the horizon.
    pub demand: Demand,
    /// What was assumed.
    pub notes: Vec<String>,
}

const STEPS: usize = 400;

/// Stock that lasts a fleet over `horizon` with probability `target`. Ages in units of the life's clock.
///
/// # Errors
/// When the target is not between 0 and 1, no seal is given, or as
/// [`crate::renewals::replacements`].
///
/// ```
/// use sealspan_care::{fleet_stock::fleet_stock, forecast::Running};
/// use sealspan_life::life::Life;
/// let life = Life::weibull(2.5, 1000.0).unwrap();
/// let new = [Running { age: 0.0, count: 50 }];
/// let answer = fleet_stock(&life, &new, 500.0, 0.95)?;
/// assert_eq!(answer.best.stock, 13);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn fleet_stock(
    life: &Life,
    running: &[Running],
    horizon: f64,
    target: f64,
) -> Result<FleetStock> {
    share("the target probability", target)?;
    if running.iter().all(|seal| seal.count == 0) {
        return Err(Error::no_answer("No stock to size: there are no seals."));
    }
    let counts = replacements(life, running, horizon, STEPS, Effort::CAREFUL)?;
    let demand = Demand::of(&counts);
    let wanted = counts.quantile(target);
    let (mut below, mut left) = (0.0, 0.0);
    let mut levels = Vec::new();
    for stock in 0..=wanted.max(counts.quantile(0.999)) + 1 {
        left += below;
        below += counts.probability(stock);
        levels.push(LaidIn {
            stock,
            enough: below.min(1.0),
            expected_short: (demand.mean - stock as f64 + left).max(0.0),
            expected_left: left,
        });
    }
    let best = levels
        .get(wanted)
        .copied()
        .ok_or_else(|| Error::no_answer("No stock reaches the target."))?;
    Ok(FleetStock {
        levels,
        best,
        demand,
        notes: vec![
            "Nothing is delivered within the horizon; every failure is replaced at once by a new seal, and replacements fail too.".to_owned(),
            "The life is taken as known, so the figures carry no interval of their own.".to_owned(),
        ],
    })
}
