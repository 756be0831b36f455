//! Positions that consume too many seals: replacements against what their exposure leads one to expect.
//!
//! Given a position's accumulated hazard E, its replacements are close to Poisson with mean E (a counting
//! process on the scale of its own compensator). E belongs to the ages that its seals reached: a place that eats
//! seals has young ones only and a small E. What an ordinary place would have used in that time is [`super::ordinary`].
//!
//! ```
//! use sealspan_life::recurrence::hungry::Count;
//! // None where 2 were expected: P(X = 0) = e⁻².
//! let none = Count { seen: 0.0, expected: 2.0 };
//! assert!((none.mid_p_value() - (1.0 - 0.5 * (-2.0_f64).exp())).abs() < 1e-12);
//! assert!((none.two_sided() - (-2.0_f64).exp()).abs() < 1e-12);
//! ```

use sealspan_numeric::special::ln_gamma;

/// Replacements of a position and what was expected, above zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Count {
    /// Replacements.
    pub seen: f64,
    /// Expected replacements.
    pub expected: f64,
}

impl Count {
    /// P(X = n) of a Poisson variable with the expected mean.
    fn mass(&self, n: f64) -> f64 {
        (n * self.expected.ln() - self.expected - ln_gamma(n + 1.0)).exp()
    }

    /// P(X ≥ seen): the exact one-sided p-value of too many.
    ///
    /// ```
    /// use sealspan_life::recurrence::hungry::Count;
    /// let p = Count { seen: 2.0, expected: 1.0 }.p_value();
    /// assert!((p - (1.0 - 2.0 * (-1f64).exp())).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn p_value(&self) -> f64 {
        if self.seen <= self.expected {
            let below: f64 = whole(self.seen).map(|n| self.mass(n)).sum();
            return (1.0 - below).clamp(0.0, 1.0);
        }
        let (mut n, mut mass) = (self.seen, self.mass(self.seen));
        let mut sum = 0.0;
        while mass > 1e-17 * sum {
            sum += mass;
            n += 1.0;
            mass *= self.expected / n;
        }
        sum
    }

    /// Twice the smaller tail, with half of P(X = seen) in each; at most 1.
    #[must_use]
    pub fn two_sided(&self) -> f64 {
        let over = self.mid_p_value();
        (2.0 * over.min(1.0 - over)).clamp(0.0, 1.0)
    }

    /// P(X > seen) + P(X = seen)/2: less cautious, even on average.
    #[must_use]
    pub fn mid_p_value(&self) -> f64 {
        (self.p_value() - 0.5 * self.mass(self.seen)).max(0.0)
    }
}

/// 0, 1, … below n.
pub(super) fn whole(n: f64) -> impl Iterator<Item = f64> {
    (0..n.max(0.0) as u64).map(|i| i as f64)
}
