//! Positions that consume too many seals: replacements against what their exposure leads one to expect.
//!
//! Given a position's accumulated hazard E, its replacements are close to Poisson with mean E (a counting
//! process on the scale of its own compensator). Positions differ by a gamma law with the fleet's mean, whose
//! spread the data give (empirical Bayes, Robbins 1956; Clayton & Kaldor 1987; from memory).

use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::special::{chi_square_quantile, ln_gamma};

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
fn whole(n: f64) -> impl Iterator<Item = f64> {
    (0..n.max(0.0) as u64).map(|i| i as f64)
}

/// How positions differ in their ratio of seen to expected: a gamma law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Mean ratio of the fleet.
    pub mean: f64,
    /// Shape of the gamma law; `None` when the counts differ no more than by chance.
    pub shape: Option<f64>,
}

/// Shapes beyond this are no spread: a standard deviation of 5 % of the mean. A ratio drawn in by a lesser one would
/// have an interval of next to no width, as if it were known.
const NO_SPREAD: f64 = 400.0;

/// The spread by maximum likelihood; `None` without replacements.
#[must_use]
pub fn spread(counts: &[Count]) -> Option<Spread> {
    let (seen, expected) = counts
        .iter()
        .fold((0.0, 0.0), |(s, e), c| (s + c.seen, e + c.expected));
    if seen <= 0.0 || expected <= 0.0 {
        return None;
    }
    let mean = seen / expected;
    let loss = |ln_shape: f64| {
        let shape = ln_shape.exp();
        let rate = shape / mean;
        let one = |c: &Count| {
            // ln Γ(shape + n)/Γ(shape) as a sum: no cancellation when the shape is large.
            let rise: f64 = whole(c.seen).map(|i| (shape + i).ln()).sum();
            rise - shape * (c.expected / rate).ln_1p() - c.seen * (rate + c.expected).ln()
        };
        -counts.iter().map(one).sum::<f64>()
    };
    let (best, _) = minimise_bracketed(loss, -4.0, NO_SPREAD.ln(), 1e-10);
    let shape = Some(best.exp()).filter(|s| *s < 0.99 * NO_SPREAD);
    Some(Spread { mean, shape })
}

/// A position's ratio drawn towards the fleet's: estimate, lower and upper end at two-sided `level` (of the
/// posterior). `None` when the fleet shows no spread to draw from.
#[must_use]
pub fn shrunk(count: Count, spread: Spread, level: f64) -> Option<(f64, f64, f64)> {
    let shape = spread.shape?;
    let rate = shape / spread.mean + count.expected;
    let shape = shape + count.seen;
    let end = |p: f64| chi_square_quantile(p, 2.0 * shape) / (2.0 * rate);
    Some((shape / rate, end(0.5 - 0.5 * level), end(0.5 + 0.5 * level)))
}
