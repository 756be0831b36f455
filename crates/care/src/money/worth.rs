//! What a stream of savings is worth today, when it has paid back, and the chance that it loses.
//!
//! ```
//! use sealspan_care::money::worth::{Terms, chance_of_loss, quantile};
//! let terms = Terms { period_days: 365.25, discount_rate: 0.1, at_start: 0.0 }.checked()?;
//! assert!((terms.factor(0) - (-0.05f64).exp()).abs() < 1e-12);
//! // A saving of 100 with a standard deviation of 5: its 2.5 % point, and the chance that it is a loss.
//! assert!((quantile(&[(100.0, 25.0)], 0.025).unwrap() - 90.2).abs() < 0.01);
//! assert!(chance_of_loss(&[(100.0, 25.0)]).unwrap() < 1e-80);
//! assert!((chance_of_loss(&[(0.0, 1.0)]).unwrap() - 0.5).abs() < 1e-9);
//! # Ok::<(), sealspan_care::error::Error>(())
//! ```

use crate::costs::DAYS_PER_YEAR;
use crate::error::{Result, not_negative, positive};
use sealspan_numeric::special::ln_normal_survival;
use serde::Serialize;

/// Savings period by period, money in the middle of each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// Days of one period.
    pub period_days: f64,
    /// Continuous discount rate per year of 365.25 days.
    pub discount_rate: f64,
    /// Money spent at the start for the change.
    pub at_start: f64,
}

/// The worth of a stream.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Worth {
    /// Present value, money, what is spent at the start taken off.
    pub present_value: f64,
    /// Days until the discounted savings have paid for what was spent and for dearer periods before; `None` when
    /// they have not by the end.
    pub payback_days: Option<f64>,
    /// Discounted sums from the start to the end of each period.
    pub cumulative: Vec<f64>,
}

impl Terms {
    /// Checks the terms.
    ///
    /// # Errors
    /// When the period is not above zero, or another number is negative or not finite.
    pub fn checked(self) -> Result<Self> {
        positive("the days of one period", self.period_days)?;
        not_negative("the discount rate", self.discount_rate)?;
        not_negative("the money spent at the start", self.at_start)?;
        Ok(self)
    }

    /// Worth now of one unit of money in the middle of period `i`: e^(−δ (i + ½) days / 365.25).
    #[must_use]
    pub fn factor(&self, i: usize) -> f64 {
        (-self.discount_rate * (i as f64 + 0.5) * self.period_days / DAYS_PER_YEAR).exp()
    }

    /// The worth of savings (money), one a period: Σ saving × factor, less what is spent at the start. Payback is the first time from which the discounted sum stays at zero or
    /// above, within a period in proportion.
    ///
    /// ```
    /// use sealspan_care::money::worth::Terms;
    /// let terms = Terms { period_days: 365.25, discount_rate: 0.0, at_start: 100.0 };
    /// let worth = terms.worth(&[80.0, 80.0]);
    /// assert_eq!((worth.present_value, &worth.cumulative), (60.0, &vec![-20.0, 60.0]));
    /// // A quarter of the way through the second year.
    /// assert!((worth.payback_days.unwrap() - 1.25 * 365.25).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn worth(&self, savings: &[f64]) -> Worth {
        let mut sum = -self.at_start;
        let cumulative: Vec<f64> = savings
            .iter()
            .enumerate()
            .map(|(i, saving)| {
                sum += saving * self.factor(i);
                sum
            })
            .collect();
        let last_red = cumulative.iter().rposition(|c| *c < 0.0);
        let payback_days = match last_red {
            None if self.at_start > 0.0 => Some(self.crossing(-self.at_start, &cumulative, 0)),
            None => Some(0.0),
            Some(i) if i + 1 < cumulative.len() => {
                let before = cumulative.get(i).copied().unwrap_or(0.0);
                Some(self.crossing(before, &cumulative, i + 1))
            }
            Some(_) => None,
        };
        Worth {
            present_value: sum,
            payback_days,
            cumulative,
        }
    }

    fn crossing(&self, before: f64, cumulative: &[f64], period: usize) -> f64 {
        let after = cumulative.get(period).copied().unwrap_or(0.0);
        let part = if after > before {
            -before / (after - before)
        } else {
            0.0
        };
        (period as f64 + part) * self.period_days
    }
}

/// Chance that a saving is below zero when it is one of `cases` (mean, variance), each as likely, and nearly normal
/// within a case.
#[must_use]
pub fn chance_of_loss(cases: &[(f64, f64)]) -> Option<f64> {
    let below = |(mean, variance): &(f64, f64)| {
        if *variance > 0.0 {
            ln_normal_survival(mean / variance.sqrt()).exp()
        } else if *mean < 0.0 {
            1.0
        } else {
            0.0
        }
    };
    (!cases.is_empty()).then(|| cases.iter().map(below).sum::<f64>() / cases.len() as f64)
}

/// The value below which a share `p` of the cases' savings lies, each case nearly normal: by bisection.
#[must_use]
pub fn quantile(cases: &[(f64, f64)], p: f64) -> Option<f64> {
    let ends = cases
        .iter()
        .map(|(m, v)| (m - 9.0 * v.sqrt(), m + 9.0 * v.sqrt()));
    let (mut low, mut high) = ends.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?;
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        let moved: Vec<(f64, f64)> = cases.iter().map(|(m, v)| (m - middle, *v)).collect();
        if chance_of_loss(&moved)? < p {
            low = middle
        } else {
            high = middle
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn worth_and_payback() {
        let terms = Terms {
            period_days: DAYS_PER_YEAR,
            discount_rate: 0.1,
            at_start: 0.0,
        };
        let w = terms.worth(&[-100.0, 150.0, 150.0]);
        let want = -100.0 * (-0.05_f64).exp() + 150.0 * ((-0.15_f64).exp() + (-0.25_f64).exp());
        assert!((w.present_value - want).abs() < 1e-12);
        // Paid back within the second year.
        let part = 100.0 * (-0.05_f64).exp() / (150.0 * (-0.15_f64).exp());
        assert!((w.payback_days.unwrap_or(0.0) - (1.0 + part) * DAYS_PER_YEAR).abs() < 1e-9);
        assert_eq!(terms.worth(&[-1.0, -1.0]).payback_days, None);
        assert_eq!(terms.worth(&[1.0, 1.0]).payback_days, Some(0.0));
        let bought = Terms {
            at_start: 50.0,
            discount_rate: 0.0,
            ..terms
        }
        .worth(&[100.0, 100.0]);
        assert_eq!(bought.payback_days, Some(0.5 * DAYS_PER_YEAR));
    }

    #[test]
    fn losses() {
        let cases = [(1.0, 1.0), (-1.0, 1.0)];
        assert!((chance_of_loss(&cases).unwrap_or(0.0) - 0.5).abs() < 1e-12);
        assert_eq!(chance_of_loss(&[(2.0, 0.0), (-2.0, 0.0)]), Some(0.5));
        assert_eq!(chance_of_loss(&[]), None);
        let median = quantile(&[(3.0, 4.0)], 0.95).unwrap_or(0.0);
        assert!((median - (3.0 + 2.0 * 1.644_853_626_951_472_7)).abs() < 1e-9);
    }

    /// The same in thousands, and of a sure case.
    #[test]
    fn great_money_has_the_same_quantiles() {
        for (p, z) in [
            (0.05, -1.644_853_626_951_472_7),
            (0.95, 1.644_853_626_951_472_7),
        ] {
            let found = quantile(&[(0.0, 1e8)], p).unwrap_or(f64::NAN);
            assert!((found / (1e4 * z) - 1.0).abs() < 1e-9, "{found}");
        }
        assert_eq!(quantile(&[(7.0, 0.0)], 0.3), Some(7.0));
    }

    /// Without a spread a saving is lost or not; one of four here is.
    #[test]
    fn a_sure_saving_is_lost_or_not() {
        let cases = [(-1.0, 0.0), (1.0, 0.0), (0.0, 0.0), (250.0, 0.0)];
        assert_eq!(chance_of_loss(&cases), Some(0.25));
        assert_eq!(chance_of_loss(&[(-3.0, 0.0)]), Some(1.0));
        assert_eq!(chance_of_loss(&[]), None);
    }
}
