//! A life looked up on a ladder of ages: survival, share failed and time in service up to an age.

use crate::error::{Error, Result};
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;

/// The ladder runs between these shares failed and surviving.
const FIRST_FAILED: f64 = 1e-14;
const LAST_SURVIVING: f64 = 1e-15;
/// Rungs, evenly spaced in ln age.
const RUNGS: usize = 256;
/// Relative tolerance of each integral between rungs.
const TOLERANCE: f64 = 1e-13;

/// One cycle of a seal replaced at `age` unless it fails before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cut {
    /// Replacement age.
    pub age: f64,
    /// Share that reaches it.
    pub survival: f64,
    /// Share that fails before.
    pub failed: f64,
    /// Mean time in service, ∫₀ᵀ R(t) dt.
    pub service: f64,
}

/// Rungs of a life, each integral between neighbours done once.
///
/// ```
/// use sealspan_care::ladder::Ladder;
/// use sealspan_life::life::Life;
/// let ladder = Ladder::new(&Life::exponential(100.0).unwrap())?;
/// assert!((ladder.mean() - 100.0).abs() < 1e-9);
/// // Cut at 50: e^(−1/2) get there, and the time in service is mean × share failed.
/// let cut = ladder.at(50.0);
/// assert!((cut.survival - (-0.5f64).exp()).abs() < 1e-12);
/// assert!((cut.service - 100.0 * cut.failed).abs() < 1e-9);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Ladder {
    life: Life,
    mean: f64,
    rungs: Vec<Cut>,
}

impl Ladder {
    /// Climbs a life.
    ///
    /// # Errors
    /// When the mean life is not finite, so that no long-run cost rate exists.
    pub fn new(life: &Life) -> Result<Self> {
        let mean = life.mean();
        let (low, high) = (
            life.quantile(FIRST_FAILED),
            life.quantile(1.0 - LAST_SURVIVING),
        );
        if !(mean.is_finite() && mean > 0.0) {
            return Err(Error::no_answer(format!(
                "No long-run cost: the mean of this {} life is not finite, a few seals would outlast all others together.",
                life.family()
            )));
        }
        if !(low > 0.0 && high > low && high.is_finite()) {
            return Err(Error::no_answer(format!(
                "No long-run cost: the ages of this {} life spread over more than a computer's numbers can hold.",
                life.family()
            )));
        }
        let mut ladder = Self {
            life: life.clone(),
            mean,
            rungs: Vec::with_capacity(RUNGS),
        };
        for i in 0..RUNGS {
            let share = i as f64 / (RUNGS - 1) as f64;
            let age = (low.ln() + share * (high / low).ln()).exp();
            let cut = ladder.at(age);
            ladder.rungs.push(cut);
        }
        Ok(ladder)
    }

    /// The life climbed.
    #[must_use]
    pub(crate) fn life(&self) -> &Life {
        &self.life
    }

    /// Mean life, ∫₀^∞ R(t) dt, units of the clock.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// The rungs, youngest first.
    #[must_use]
    pub(crate) fn rungs(&self) -> &[Cut] {
        &self.rungs
    }

    /// The cycle cut at any `age`.
    #[must_use]
    pub fn at(&self, age: f64) -> Cut {
        let below = self.rungs.partition_point(|rung| rung.age <= age);
        let (from, service) = below
            .checked_sub(1)
            .and_then(|i| self.rungs.get(i))
            .map_or((0.0, 0.0), |rung| (rung.age, rung.service));
        let rest = integrate(|t| self.life.survival(t), from, age, TOLERANCE).value;
        Cut {
            age,
            survival: self.life.survival(age),
            failed: self.life.failed(age),
            service: service + rest,
        }
    }

    /// ∫ f(t) dt from 0 to `age`, rung by rung so that no part of the life is stepped over.
    pub(crate) fn integral(&self, f: impl Fn(f64) -> f64, age: f64) -> f64 {
        let mut from = 0.0;
        let mut sum = 0.0;
        let inner = self.rungs.iter().map(|r| r.age).filter(|a| *a < age);
        for to in inner.chain([age]) {
            sum += integrate(&f, from, to, TOLERANCE).value;
            from = to;
        }
        sum
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A log-logistic life of shape below 1 has no finite mean; ages of a Weibull life of shape 0.02 pass the range of
    /// numbers at either end.
    #[test]
    fn lives_without_a_rate_are_refused() {
        let why = |life: &Life| Ladder::new(life).err().unwrap().to_string();
        let endless = Life::parse("loglogistic:shape=0.8,scale=100").unwrap();
        assert!(why(&endless).contains("the mean of this"));
        let wide = Life::weibull(0.02, 1.0).unwrap();
        assert!(why(&wide).contains("spread over more"), "{}", why(&wide));
        assert!(Ladder::new(&Life::weibull(0.5, 1.0).unwrap()).is_ok());
    }
}
