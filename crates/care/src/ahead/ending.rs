//! How a seal's time ends: by failure, by another removal, or at a replacement age.

use crate::error::{Error, Result, positive};
use sealspan_life::life::Life;

/// Share of failures before the oldest replacement age looked at, and most ages looked at.
const OLDEST: f64 = 0.9999;
const MOST_AGES: usize = 2000;
/// A replacement age must save this share to be one.
const WORTH: f64 = 0.001;

/// Shares of seals that end by a failure unannounced, or by a removal that could be ordered ahead.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Share {
    /// Failures.
    pub unplanned: f64,
    /// Removals by plan or for another reason.
    pub planned: f64,
}

impl Share {
    pub(super) fn all(self) -> f64 {
        self.unplanned + self.planned
    }
}

/// Removal for one reason other than failure.
#[derive(Debug, Clone)]
pub struct Removal {
    /// Time to it, were there no other.
    pub life: Life,
    /// Factor on its rate: a place's own.
    pub rate: f64,
}

impl From<Life> for Removal {
    fn from(life: Life) -> Self {
        Self { life, rate: 1.0 }
    }
}

/// The ways a seal's time ends, independent of each other.
#[derive(Debug, Clone)]
pub struct Ending {
    /// Life to failure.
    pub failure: Life,
    /// Factor on the rate of failure: a place's own.
    pub failure_rate: f64,
    /// Removals for other reasons, as practice goes on.
    pub others: Vec<Removal>,
    /// Age of planned replacement.
    pub replace_at: Option<f64>,
    /// Factor on the life to failure: above 1 lives longer. A batch's own quality.
    pub stretch: f64,
}

/// The share surviving when the rate is so many times that which leaves `survival`.
pub(super) fn at_rate(survival: f64, rate: f64) -> f64 {
    if rate == 1.0 {
        survival
    } else {
        survival.powf(rate)
    }
}

impl Ending {
    /// Failure alone, replaced at an age (units of the clock) if there is one.
    ///
    /// # Errors
    /// When the age is not above zero.
    pub fn new(failure: &Life, replace_at: Option<f64>) -> Result<Self> {
        if let Some(age) = replace_at {
            positive("the replacement age", age)?;
        }
        Ok(Self {
            failure: failure.clone(),
            failure_rate: 1.0,
            others: vec![],
            replace_at,
            stretch: 1.0,
        })
    }

    /// The same with lives `factor` times as long; [`super::first::first_failures`] has an example.
    #[must_use]
    pub fn stretched(&self, factor: f64) -> Self {
        Self {
            stretch: self.stretch * factor,
            ..self.clone()
        }
    }

    fn fails_after(&self, age: f64) -> f64 {
        at_rate(self.failure.survival(age / self.stretch), self.failure_rate)
    }

    fn stays(&self, age: f64) -> f64 {
        self.others
            .iter()
            .map(|other| at_rate(other.life.survival(age), other.rate))
            .product()
    }

    /// Shares of new seals that end between the ages of neighbouring `edges`, by kind; the shares of each pair of
    /// ages add up to the fall of the share still in place.
    pub(super) fn shares(&self, edges: &[f64]) -> Vec<Share> {
        let limit = self.replace_at.unwrap_or(f64::INFINITY);
        edges
            .windows(2)
            .map(|pair| match pair {
                [from, to] => self.between(*from, *to, limit),
                _ => Share::default(),
            })
            .collect()
    }

    fn between(&self, from: f64, to: f64, limit: f64) -> Share {
        if from >= limit {
            return Share::default();
        }
        let end = to.min(limit);
        let (s0, s1) = (self.fails_after(from), self.fails_after(end));
        let (g0, g1) = (self.stays(from), self.stays(end));
        let mut share = Share {
            unplanned: (s0 - s1) * 0.5 * (g0 + g1),
            planned: (g0 - g1) * 0.5 * (s0 + s1),
        };
        if to >= limit {
            share.planned += s1 * g1;
        }
        share
    }

    /// Share still in place at `age`.
    pub(super) fn in_place(&self, age: f64) -> f64 {
        match self.replace_at {
            Some(limit) if age >= limit => 0.0,
            _ => self.fails_after(age) * self.stays(age),
        }
    }

    /// First endings of a seal now `age` old in `cells` steps from now; of one still to be fitted the age is below 0. One
    /// that is past its replacement age, or older than any seal gets, is replaced by plan in the first step.
    pub(super) fn first(&self, age: f64, step: f64, cells: usize) -> Vec<Share> {
        let here = self.in_place(age.max(0.0));
        if here <= 0.0 {
            let mut out = vec![Share::default(); cells];
            if let Some(now) = out.first_mut() {
                now.planned = 1.0;
            }
            return out;
        }
        let edges: Vec<f64> = (0..=cells)
            .map(|i| (age + step * i as f64).max(0.0))
            .collect();
        let mut out = self.shares(&edges);
        for share in &mut out {
            share.unplanned /= here;
            share.planned /= here;
        }
        out
    }

    /// The age of planned replacement with the least cost among multiples of `step` (units of the clock), at `failed` and
    /// `planned` money for a failure and another removal; other removals go on as they are. `None` when replacing at an age saves less than a thousandth. By renewal reward, the time in place by
    /// the trapezoid rule.
    ///
    /// ```
    /// use sealspan_care::ahead::ending::Ending;
    /// use sealspan_life::life::Life;
    /// // As in Barlow and Hunter's rule for a Weibull life: a failure costs five planned replacements.
    /// let wearing = Ending::new(&Life::weibull(2.0, 1000.0).unwrap(), None)?;
    /// assert!((wearing.best_age(10.0, 5.0, 1.0).unwrap() - 510.655).abs() < 10.0);
    /// let lasting = Ending::new(&Life::exponential(1000.0).unwrap(), None)?;
    /// assert_eq!(lasting.best_age(10.0, 5.0, 1.0), None);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    #[must_use]
    pub fn best_age(&self, step: f64, failed: f64, planned: f64) -> Option<f64> {
        let open = Self {
            replace_at: None,
            ..self.clone()
        };
        let oldest = self.stretch * self.failure.quantile(OLDEST);
        let cells = ((oldest / step).ceil() as usize).clamp(2, MOST_AGES);
        let grid: Vec<f64> = (0..=cells).map(|i| step * i as f64).collect();
        let (mut money, mut time, mut before) = (0.0, 0.0, 1.0);
        let mut best = (0.0, f64::INFINITY);
        for (age, share) in grid.iter().skip(1).zip(open.shares(&grid)) {
            let here = open.in_place(*age);
            money += failed * share.unplanned + planned * share.planned;
            time += 0.5 * step * (before + here);
            before = here;
            let rate = (money + planned * here) / time;
            if rate < best.1 {
                best = (*age, rate);
            }
        }
        (best.1 < (1.0 - WORTH) * money / time).then_some(best.0)
    }

    /// Refuses a step so coarse, or a life so short, that most seals end within one step.
    pub(super) fn fits(&self, step: f64) -> Result<()> {
        if self.in_place(0.5 * step) < 0.5 {
            return Err(Error::no_answer(super::TOO_FAST));
        }
        Ok(())
    }
}
