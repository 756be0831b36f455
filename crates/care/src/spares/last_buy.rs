//! The last buy of a part that will no longer be made: how many to lay in for all the demand to come.

use crate::counts::Counts;
use crate::error::{Error, Result, not_negative, positive};
use crate::stock::Demand;
use serde::Serialize;

/// The question.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LastBuy {
    /// Money lost for each demand without a seal: what the stop-gap costs above the price of a seal.
    pub short_cost: f64,
    /// Money lost for each seal left over: price less what it fetches, and its holding.
    pub left_cost: f64,
}

/// What a quantity gives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bought {
    /// Seals bought.
    pub quantity: usize,
    /// Chance that they last.
    pub enough: f64,
    /// Expected demands without a seal.
    pub expected_short: f64,
    /// Expected seals left over.
    pub expected_left: f64,
    /// Expected money lost by shortage and surplus.
    pub cost: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LastBuyAnswer {
    /// The best quantity.
    pub best: Bought,
    /// Quantities around it.
    pub quantities: Vec<Bought>,
    /// The chance of lasting from which one more no longer pays: short over short plus left.
    pub critical_ratio: f64,
    /// Demand to the end.
    pub demand: Demand,
}

/// Demand to the end as a Poisson number of this mean; where the mean itself is uncertain with coefficient
/// of variation `cv`, its gamma mixture, a negative binomial number.
///
/// # Errors
/// When a number is negative or not finite, or the mean is above 10⁶.
pub fn demand(mean: f64, cv: f64) -> Result<Counts> {
    not_negative("the demand to the end", mean)?;
    not_negative("the coefficient of variation of the demand", cv)?;
    if mean > 1e6 {
        return Err(Error::input(
            "the demand to the end",
            mean,
            "it is above a million seals; check that the rate is per day",
        ));
    }
    Ok(Counts::negative_binomial(
        mean,
        mean + (cv * mean).powi(2),
        1e-30,
    ))
}

impl LastBuy {
    /// The quantity with the least expected loss: the smallest whose chance of lasting reaches the critical
    /// ratio, short cost / (short cost + left cost) (the newsvendor's rule, from memory).
    ///
    /// # Errors
    /// When a cost is not above zero.
    ///
    /// ```
    /// use sealspan_care::spares::last_buy::{LastBuy, demand};
    /// let answer = LastBuy { short_cost: 180.0, left_cost: 12.0 }.answer(&demand(20.0, 0.0)?)?;
    /// assert_eq!(answer.best.quantity, 27);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn answer(&self, demand: &Counts) -> Result<LastBuyAnswer> {
        positive("the cost of a demand without a seal", self.short_cost)?;
        positive("the cost of a seal left over", self.left_cost)?;
        let critical_ratio = self.short_cost / (self.short_cost + self.left_cost);
        let mean = demand.mean();
        let wanted = demand.quantile(critical_ratio);
        let (mut below, mut left) = (0.0, 0.0);
        let mut all = Vec::new();
        for quantity in 0..=wanted.max(demand.quantile(0.999)) + 1 {
            left += below;
            below += demand.probability(quantity);
            let short = (mean - quantity as f64 + left).max(0.0);
            all.push(Bought {
                quantity,
                enough: below.min(1.0),
                expected_short: short,
                expected_left: left,
                cost: self.short_cost * short + self.left_cost * left,
            });
        }
        let best = all
            .get(wanted)
            .copied()
            .ok_or_else(|| Error::no_answer("No quantity reaches the critical ratio."))?;
        Ok(LastBuyAnswer {
            best,
            quantities: all,
            critical_ratio,
            demand: Demand::of(demand),
        })
    }
}
