//! A trial that tells two materials apart: seals of each, and the ratio of lives it finds.
//!
//! Two Weibull samples of equal size and common unknown shape, run to failure or for a stated time; the
//! asymptotic variance of the ln ratio of their lives from the expected information of the smallest extreme
//! value law with censoring (Escobar & Meeker 1994, Applied Statistics AS 292; from memory; derived here).

use crate::error::{Error, Result, positive, share};
use sealspan_numeric::quadrature::integrate;
use sealspan_numeric::special::normal_quantile;

/// Below this the integrands are nothing.
const DEEP: f64 = -45.0;
/// Above this hardly a seal is left.
const HIGH: f64 = 5.0;
/// More seals than this are no trial.
const MOST_SEALS: f64 = 1e9;

/// What is to be told apart.
///
/// ```
/// use sealspan_care::trial::apart::Materials;
/// // To failure: V = 2/β² = 0.32, and the power is Φ(ln ρ √(n/V) − z₀.₉₅) = Φ(0.9395) = 0.826 (by hand).
/// let materials = Materials::new(1.5, 2.5, None)?;
/// assert_eq!(materials.failing(), [1.0, 1.0]);
/// assert!((materials.variance() - 0.32).abs() < 1e-9);
/// assert!((materials.power(13, 0.9)? - 0.8263).abs() < 1e-4);
/// // Each run for a characteristic life: 1 − 1/e of the first fail.
/// assert!((Materials::new(1.5, 2.5, Some(1.0))?.failing()[0] - 0.632_120_559).abs() < 1e-9);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Materials {
    ratio: f64,
    shape: f64,
    /// Trial's time over the characteristic life of the first material; `None` when run to failure.
    time: Option<f64>,
}

/// Information of one seal on its ln life (`place`), on both (`mixed`) and on the scale of ln life (`spread`),
/// in units of σ⁻², when it is watched until the standardised ln time `z`.
#[derive(Debug, Clone, Copy)]
struct Information {
    place: f64,
    mixed: f64,
    spread: f64,
}

fn information(z: f64) -> Information {
    let end = z.min(HIGH);
    // With u = e^z: E[w ln u] and E[w ln² u], w = min(u, u_end), after integrating by parts.
    let weight = |z: f64| (z - z.exp()).exp();
    let mixed = integrate(|z| (z + 1.0) * weight(z), DEEP, end, 1e-12).value;
    let square = integrate(|z| (z * z + 2.0 * z) * weight(z), DEEP, end, 1e-12).value;
    let place = -(-z.exp()).exp_m1();
    Information {
        place,
        mixed,
        spread: place + square,
    }
}

impl Materials {
    /// The second material lives `ratio` times as long as the first, both Weibull of `shape`; each seal is run
    /// for `time` times the first one's characteristic life, or to failure.
    ///
    /// # Errors
    /// When a number is out of its range or the lives are the same.
    pub fn new(ratio: f64, shape: f64, time: Option<f64>) -> Result<Self> {
        positive("the ratio of lives", ratio)?;
        if ratio == 1.0 {
            return Err(Error::input(
                "the ratio of lives",
                1,
                "give the least ratio that matters, such as 1.5: no trial tells equal lives apart",
            ));
        }
        Ok(Self {
            ratio,
            shape: positive("the shape", shape)?,
            time: time.map(|t| positive("the duration", t)).transpose()?,
        })
    }

    /// Standardised ln time at which watching ends, for the first and the second material.
    fn ends(&self) -> [f64; 2] {
        let first = self.time.map_or(f64::INFINITY, |t| self.shape * t.ln());
        [first, first - self.shape * self.ratio.ln()]
    }

    /// Chance that a seal of the first and of the second material fails in the trial: 1 − e^(−t^β) and
    /// 1 − e^(−(t/ρ)^β), t in characteristic lives of the first.
    #[must_use]
    pub fn failing(&self) -> [f64; 2] {
        self.ends().map(|z| -(-z.exp()).exp_m1())
    }

    /// Asymptotic variance of the ln ratio of lives, times the seals of each material: the inverse of the expected
    /// information on both ln lives and the common scale 1/β.
    #[must_use]
    pub fn variance(&self) -> f64 {
        self.variance_between(self.ends())
    }

    /// The same if both lived equally long: the geometric mean of the two lives.
    #[must_use]
    pub(crate) fn variance_if_equal(&self) -> f64 {
        let [first, second] = self.ends();
        let middle = if first.is_finite() {
            0.5 * (first + second)
        } else {
            first
        };
        self.variance_between([middle; 2])
    }

    fn variance_between(&self, ends: [f64; 2]) -> f64 {
        let [a, b] = ends.map(information);
        let own = 1.0 / a.place + 1.0 / b.place;
        let lean = a.mixed / a.place - b.mixed / b.place;
        let spread =
            a.spread + b.spread - a.mixed * a.mixed / a.place - b.mixed * b.mixed / b.place;
        (own + lean * lean / spread) / (self.shape * self.shape)
    }

    /// Seals of each material with which a two-sided interval at `confidence` leaves out equal lives with chance
    /// `power`: n = (z_{(1+C)/2} √V₀ + z_P √V₁)² / ln² ρ, with V₀ the variance if the lives were equal, which
    /// sets the bar, and V₁ the one at the ratio (the form used for two shares; from memory). Played, trials judged
    /// by the likelihood ratio tell the lives apart as often as said when run to failure (within 0.01), and up to
    /// 0.04 oftener when stopped early.
    ///
    /// # Errors
    /// When a share is out of its range, or the trial is too short for any number of seals.
    ///
    /// ```
    /// use sealspan_care::trial::apart::Materials;
    /// // To failure: (z₀.₉₅ + z₀.₈)² · 2 / (β ln ρ)² = 12.03.
    /// let seals = Materials::new(1.5, 2.5, None)?.seals(0.8, 0.9)?;
    /// assert_eq!(seals, 13);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn seals(&self, power: f64, confidence: f64) -> Result<u64> {
        share("the power", power)?;
        share("the confidence", confidence)?;
        let reach = normal_quantile(0.5 + 0.5 * confidence) * self.variance_if_equal().sqrt()
            + normal_quantile(power) * self.variance().sqrt();
        if reach <= 0.0 {
            return Ok(2);
        }
        let seals = (reach / self.ratio.ln()).powi(2);
        if !(seals.is_finite() && seals <= MOST_SEALS) {
            return Err(Error::no_answer(
                "Hardly a seal fails in so short a trial, so no number of seals tells the lives apart: run it longer.",
            ));
        }
        // Whole numbers that rounding has lifted by a hair are not rounded up; a spread needs two.
        Ok(((seals * (1.0 - 1e-9)).ceil() as u64).max(2))
    }

    /// Chance of telling the materials apart with so many seals of each: the formula of [`Materials::seals`] solved for
    /// the power.
    ///
    /// # Errors
    /// When there is no seal or the confidence is out of its range.
    pub fn power(&self, seals: u64, confidence: f64) -> Result<f64> {
        share("the confidence", confidence)?;
        positive("the number of seals", seals as f64)?;
        let found = self.ratio.ln().abs() * (seals as f64).sqrt();
        let bar = normal_quantile(0.5 + 0.5 * confidence) * self.variance_if_equal().sqrt();
        let z = (found - bar) / self.variance().sqrt();
        if z.is_nan() {
            return Err(Error::no_answer(
                "No seal fails in so short a trial: run it longer.",
            ));
        }
        Ok(sealspan_numeric::special::ln_normal_survival(-z).exp())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Of a seal in a thousand that fails some 10⁶ are needed; of one in 10⁷ more than there are, though a finite number.
    #[test]
    fn a_trial_that_needs_too_many_seals_is_refused() {
        let seals = |time| {
            let materials = Materials::new(1.5, 1.0, Some(time)).unwrap();
            assert!((materials.failing()[0] / time - 1.0).abs() < 1e-2);
            materials.seals(0.8, 0.9)
        };
        assert!((1e4..1e6).contains(&(seals(1e-3).unwrap() as f64)));
        let refused = seals(1e-10).unwrap_err().to_string();
        assert!(refused.contains("run it longer"), "{refused}");
    }
}
