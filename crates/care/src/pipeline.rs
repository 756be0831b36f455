//! Seals on order in a one-for-one stock: a Poisson number whatever the spread of the lead time
//! (Palm's theorem; Palm 1938, Sherbrooke 1968, both from memory).
//!
//! ```
//! use sealspan_care::pipeline::Pipeline;
//! let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
//! let none = (-1f64).exp();
//! // 0.05 seals a day, 20 days: a Poisson number of mean 1 is on order.
//! let on_order = Pipeline::new(0.05, 20.0)?;
//! near(on_order.mean(), 1.0);
//! near(on_order.at_most(0), none);
//! near(on_order.above(0), 1.0 - none);
//! near(on_order.on_hand(1), none);
//! near(on_order.fill_rate(1), none);
//! near(on_order.backorder_variance(0), 1.0);
//! near(on_order.counts().probability(2), none / 2.0);
//! assert_eq!(on_order.stock_for_fill_rate(0.9), 3); // P(X ≤ 2) = 0.92
//! assert_eq!(on_order.stock_for_ready_rate(0.9), 2);
//! // Lead times of 20 days with a standard deviation of 10, one order after another.
//! near(Pipeline::in_turn(0.05, 20.0, 10.0)?.backorder_variance(0), 1.25);
//! # Ok::<(), sealspan_care::error::Error>(())
//! ```

use crate::counts::Counts;
use crate::error::{Error, Result};

/// More seals on order than this, on average, is taken for a slip in the units.
const MOST_ON_ORDER: f64 = 100_000.0;
/// Probabilities are followed out to this share of the greatest one.
const LEAST: f64 = 1e-300;

/// Tail sums of the Poisson number X of seals on order, each a sum of positive terms only, so even
/// backorders of 1e-25 keep ten digits.
#[derive(Debug, Clone)]
pub struct Pipeline {
    mean: f64,
    counts: Counts,
    at_most: Vec<f64>,
    above: Vec<f64>,
    on_hand: Vec<f64>,
    backorders: Vec<f64>,
}

impl Pipeline {
    /// Seals on order when demands come at `demand_rate` per day and an order takes `lead_time`
    /// days on average.
    ///
    /// # Errors
    /// When a number is negative or not finite, or more than 100,000 seals would be on order.
    ///
    /// ```
    /// let on_order = sealspan_care::pipeline::Pipeline::new(0.05, 20.0)?;
    /// assert!((on_order.backorders(1) - (-1f64).exp()).abs() < 1e-15);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn new(demand_rate: f64, lead_time: f64) -> Result<Self> {
        crate::error::not_negative("the demand rate per day", demand_rate)?;
        crate::error::not_negative("the lead time in days", lead_time)?;
        let mean = demand_rate * lead_time;
        if mean > MOST_ON_ORDER {
            return Err(Error::input(
                "the number of seals on order (demand rate times lead time)",
                mean,
                "check that the rate is per day and the lead time in days",
            ));
        }
        Ok(Self::of(Counts::poisson(mean, LEAST)))
    }

    /// As [`Pipeline::new`] when orders arrive in the order they were placed and the lead time varies
    /// from one spell to another with this standard deviation (gamma): the demand during a lead time
    /// is then a negative binomial number (mixture of Poisson numbers over the lead time; Zipkin,
    /// Foundations of Inventory Management, 2000, chapter 7, from memory). With independent lead
    /// times that may overtake each other only the mean counts: Palm's theorem.
    ///
    /// # Errors
    /// As [`Pipeline::new`], and when the standard deviation is negative or not finite.
    pub fn in_turn(demand_rate: f64, lead_time: f64, deviation: f64) -> Result<Self> {
        crate::error::not_negative("the standard deviation of the lead time", deviation)?;
        let steady = Self::new(demand_rate, lead_time)?;
        if deviation == 0.0 || steady.mean == 0.0 {
            return Ok(steady);
        }
        let variance = steady.mean + (demand_rate * deviation).powi(2);
        Ok(Self::of(Counts::negative_binomial(
            steady.mean,
            variance,
            LEAST,
        )))
    }

    /// Tail sums of any number of seals on order.
    pub(crate) fn of(counts: Counts) -> Self {
        let mean = counts.mean();
        let top = counts.last();
        let p = |k: usize| counts.probability(k);
        let mut at_most = running((0..=top).map(p));
        // The sum is 1 but for rounding; dividing makes it exactly so.
        let whole = at_most.last().copied().unwrap_or(1.0);
        at_most.iter_mut().for_each(|x| *x /= whole);
        let above = reversed(running(
            (0..=top).rev().map(|k| p(k + 1)).collect::<Vec<_>>(),
        ));
        let backorders = reversed(running(above.iter().rev().copied()));
        let on_hand = std::iter::once(0.0)
            .chain(running(at_most.iter().take(top).copied()))
            .collect();
        Self {
            mean,
            counts,
            at_most,
            above,
            on_hand,
            backorders,
        }
    }

    /// Variance of the number of backorders with stock `s`: twice the sum over k > s of backorders(k),
    /// plus backorders(s), less its square.
    #[must_use]
    pub fn backorder_variance(&self, s: usize) -> f64 {
        let deeper: f64 = self.backorders.iter().skip(s + 1).rev().sum();
        let mean = self.backorders(s);
        (2.0 * deeper + mean - mean * mean).max(0.0)
    }

    /// Mean number on order: demand rate times lead time.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Distribution of the number on order, which is also the demand during one lead time.
    #[must_use]
    pub fn counts(&self) -> &Counts {
        &self.counts
    }

    /// P(X ≤ k).
    #[must_use]
    pub fn at_most(&self, k: usize) -> f64 {
        self.at_most.get(k).copied().unwrap_or(1.0)
    }

    /// P(X > k), without subtraction.
    #[must_use]
    pub fn above(&self, k: usize) -> f64 {
        self.above.get(k).copied().unwrap_or(0.0)
    }

    /// Expected backorders with stock `s`: Σ over k ≥ s of P(X > k).
    #[must_use]
    pub fn backorders(&self, s: usize) -> f64 {
        self.backorders.get(s).copied().unwrap_or(0.0)
    }

    /// Expected seals on hand with stock `s`: Σ over k < s of P(X ≤ k).
    #[must_use]
    pub fn on_hand(&self, s: usize) -> f64 {
        match (self.on_hand.get(s), self.on_hand.last()) {
            (Some(x), _) => *x,
            (None, Some(last)) => last + (s - (self.on_hand.len() - 1)) as f64,
            (None, None) => s as f64,
        }
    }

    /// Share of demands met at once with stock `s`: P(X ≤ s − 1).
    #[must_use]
    pub fn fill_rate(&self, s: usize) -> f64 {
        s.checked_sub(1).map_or(0.0, |k| self.at_most(k))
    }

    /// Smallest stock whose fill rate is at least `target` (below 1).
    #[must_use]
    pub fn stock_for_fill_rate(&self, target: f64) -> usize {
        let short = self.at_most.iter().take_while(|p| **p < target).count();
        if target <= 0.0 { 0 } else { short + 1 }
    }

    /// Smallest stock without a backorder for at least `target` (below 1) of the time.
    #[must_use]
    pub fn stock_for_ready_rate(&self, target: f64) -> usize {
        self.at_most.iter().take_while(|p| **p < target).count()
    }
}

fn running(values: impl IntoIterator<Item = f64>) -> Vec<f64> {
    values
        .into_iter()
        .scan(0.0, |sum, x| {
            *sum += x;
            Some(*sum)
        })
        .collect()
}

fn reversed(mut values: Vec<f64>) -> Vec<f64> {
    values.reverse();
    values
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn balance_and_ends() {
        for mean in [0.0, 0.3, 4.0, 900.0] {
            let x = Pipeline::new(mean, 1.0).unwrap();
            for s in [0, 1, 5, 880, 2000] {
                let balance = x.on_hand(s) - x.backorders(s) - (s as f64 - mean);
                assert!(
                    balance.abs() < 1e-10 * (1.0 + s as f64),
                    "mean {mean}, stock {s}: {balance}"
                );
            }
            assert_eq!(x.at_most(100_000), 1.0);
        }
        assert!(Pipeline::new(1e9, 1.0).unwrap_err().is_input());
        assert!(Pipeline::new(-1.0, 1.0).unwrap_err().is_input());
    }

    #[test]
    fn the_two_service_measures_differ_by_one_seal() {
        let x = Pipeline::new(1.0, 2.0).unwrap();
        assert_eq!(x.fill_rate(4), x.at_most(3));
        assert_eq!(x.stock_for_fill_rate(0.9), x.stock_for_ready_rate(0.9) + 1);
        assert_eq!(x.stock_for_fill_rate(0.0), 0);
    }
}
