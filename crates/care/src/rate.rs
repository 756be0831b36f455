//! The long-run cost rate of replacing at an age (renewal reward), for money or for hours down.
//!
//! g(T) = [c_p R(T) + c_f F(T)] / [∫₀ᵀ R + d_p R(T) + d_f F(T)]
//! (Barlow & Hunter 1960; Barlow & Proschan 1965; formulas from memory).

use crate::ladder::{Cut, Ladder};
use sealspan_numeric::roots::bracketed;

/// What the two ways of ending a cycle weigh, and the time each takes.
///
/// ```
/// use sealspan_care::{ladder::Ladder, rate::Weights};
/// use sealspan_life::life::Life;
/// let weights = Weights { planned: 1.0, failed: 5.0, planned_time: 2.0, failed_time: 10.0 };
/// let lasting = Ladder::new(&Life::exponential(100.0).unwrap())?;
/// // At age 100: in service for 100 F, then down for 10 F + 2 R.
/// let cut = lasting.at(100.0);
/// let (r, f) = ((-1.0f64).exp(), 1.0 - (-1.0f64).exp());
/// assert!((weights.cycle(&cut) - (110.0 * f + 2.0 * r)).abs() < 1e-9);
/// assert!((weights.rate(&cut) - (r + 5.0 * f) / (110.0 * f + 2.0 * r)).abs() < 1e-12);
/// // Lives without memory have no best age; those that wear out have one.
/// assert!(weights.valleys(&lasting).is_empty());
/// assert_eq!(weights.valleys(&Ladder::new(&Life::weibull(2.0, 1000.0).unwrap())?).len(), 1);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// c_p: money (or hours) of a planned replacement.
    pub planned: f64,
    /// c_f: money (or hours) of a failure.
    pub failed: f64,
    /// d_p: time down for a planned replacement, units of the clock.
    pub planned_time: f64,
    /// d_f: time down for a failure, units of the clock.
    pub failed_time: f64,
}

/// Relative rounding step of a root in ln age.
const ROOT: f64 = 1e-15;

impl Weights {
    /// Mean length of a cycle, downtime included: ∫₀ᵀ R + d_p R(T) + d_f F(T), units of the clock.
    #[must_use]
    pub fn cycle(&self, cut: &Cut) -> f64 {
        cut.service + self.planned_time * cut.survival + self.failed_time * cut.failed
    }

    fn reward(&self, cut: &Cut) -> f64 {
        self.planned * cut.survival + self.failed * cut.failed
    }

    /// g(T), per unit of the clock.
    #[must_use]
    pub fn rate(&self, cut: &Cut) -> f64 {
        self.reward(cut) / self.cycle(cut)
    }

    /// g(∞): replacing on failure only.
    #[must_use]
    pub(crate) fn rate_to_failure(&self, mean_life: f64) -> f64 {
        self.failed / (mean_life + self.failed_time)
    }

    /// Has the sign of g′(T): (c_f − c_p) h × cycle − reward × (1 + (d_f − d_p) h), h the hazard.
    /// Well conditioned even where g itself is flat to the last digit.
    fn slope(&self, ladder: &Ladder, cut: &Cut) -> f64 {
        let hazard = ladder.life().hazard(cut.age);
        (self.failed - self.planned) * hazard * self.cycle(cut)
            - self.reward(cut) * (1.0 + (self.failed_time - self.planned_time) * hazard)
    }

    /// Ages where the cost rate has a local minimum, youngest first: the slope's changes from
    /// minus to plus over the whole ladder, so a second valley is not missed.
    #[must_use]
    pub fn valleys(&self, ladder: &Ladder) -> Vec<Cut> {
        let slopes: Vec<f64> = ladder
            .rungs()
            .iter()
            .map(|cut| self.slope(ladder, cut))
            .collect();
        let pairs = ladder.rungs().windows(2).zip(slopes.windows(2));
        pairs
            .filter_map(|(rungs, slopes)| match (rungs, slopes) {
                ([a, b], [x, y]) if *x < 0.0 && *y >= 0.0 => Some((a.age.ln(), b.age.ln())),
                _ => None,
            })
            .filter_map(|(a, b)| {
                bracketed(
                    |ln_age| self.slope(ladder, &ladder.at(ln_age.exp())),
                    a,
                    b,
                    ROOT,
                )
            })
            .map(|ln_age| ladder.at(ln_age.exp()))
            .collect()
    }

    /// The deepest valley, if there is one.
    ///
    /// ```
    /// use sealspan_care::{ladder::Ladder, rate::Weights};
    /// use sealspan_life::life::Life;
    /// let weights = Weights { planned: 1.0, failed: 5.0, planned_time: 0.0, failed_time: 0.0 };
    /// let ladder = Ladder::new(&Life::weibull(2.0, 1000.0).unwrap())?;
    /// let cut = weights.best(&ladder).unwrap();
    /// // g(T) = c_f F / ∫R + c_p R / ∫R equals the marginal rate (c_f − c_p) h(T) there.
    /// assert!((weights.rate(&cut) - 4.0 * 2.0 * cut.age / 1000.0_f64.powi(2)).abs() < 1e-9);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    #[must_use]
    pub fn best(&self, ladder: &Ladder) -> Option<Cut> {
        self.valleys(ladder)
            .into_iter()
            .min_by(|a, b| self.rate(a).total_cmp(&self.rate(b)))
    }

    /// Share of the run-to-failure rate that the deepest valley saves; 0 when there is none.
    #[must_use]
    pub(crate) fn saving(&self, ladder: &Ladder) -> f64 {
        self.best(ladder).map_or(0.0, |cut| {
            1.0 - self.rate(&cut) / self.rate_to_failure(ladder.mean())
        })
    }

    /// The ages around `at` where the rate stays within `ceiling`; an open side is `None`.
    pub(crate) fn zone(
        &self,
        ladder: &Ladder,
        at: f64,
        ceiling: f64,
    ) -> (Option<f64>, Option<f64>) {
        let over = |ln_age: f64| self.rate(&ladder.at(ln_age.exp())) - ceiling;
        let edge = |inside: f64, outside: f64| {
            bracketed(over, inside.ln(), outside.ln(), ROOT).map(f64::exp)
        };
        let side = |ages: &mut dyn Iterator<Item = &Cut>| {
            let mut inside = at;
            for cut in ages {
                if self.rate(cut) > ceiling {
                    return edge(inside, cut.age);
                }
                inside = cut.age;
            }
            None
        };
        let younger = side(&mut ladder.rungs().iter().rev().filter(|cut| cut.age < at));
        let older = side(&mut ladder.rungs().iter().filter(|cut| cut.age > at));
        (younger, older)
    }
}
