//! A trial that shows a life: seals run for a stated time, and at most so many may fail.
//!
//! Life is Weibull with a shape taken as known, so a seal that is sound at `show_life` with probability R is
//! sound after the trial's time D with probability R^((D/L)^β). The count of failures is binomial. Without
//! failures n = ln(1 − C) / ((D/L)^β ln R) (Meeker & Escobar 1998, section 10.6; from memory).

use crate::error::{Error, Result, positive, share};
use sealspan_life::demonstration::{
    failing_shown, more_fail, pass_chance, reaches, seals_for_failing,
};

/// More seals than this are no trial.
const MOST_SEALS: u64 = 1_000_000_000;
/// Longest trial, in lives to show, that is still given as an answer.
const LONGEST: f64 = 1e6;

/// What is to be shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Claim {
    life: f64,
    reliability: f64,
    shape: f64,
}

/// Seals, time and failures allowed.
///
/// ```
/// use sealspan_care::trial::show::{Claim, Plan};
/// // 22 seals run for the life at which 90 % are to be sound, none failing: 0.9²² may pass by chance.
/// let claim = Claim::new(1000.0, 0.9, 2.0)?;
/// let plan = Claim::possible(Plan { seals: 22, duration: 1000.0, failures_allowed: 0 })?;
/// let chance = 0.9f64.powi(22);
/// assert!((claim.failing(1000.0, 1.0) - 0.1).abs() < 1e-12);
/// assert!((claim.confidence(&plan) - (1.0 - chance)).abs() < 1e-9);
/// assert!((claim.pass(&plan, 1.0) - chance).abs() < 1e-9);
/// assert!((claim.reliability_shown(&plan, 1.0 - chance).unwrap() - 0.9).abs() < 1e-6);
/// let longer = claim.longer_for(&plan, 0.5).unwrap();
/// assert!((claim.pass(&plan, longer) - 0.5).abs() < 1e-6 && longer > 1.0);
/// assert_eq!(claim.with_shape(3.0).shape(), 3.0);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// Seals on trial.
    pub seals: u64,
    /// Time each is run, in the unit of the life.
    pub duration: f64,
    /// Failures with which the trial is still passed.
    pub failures_allowed: u64,
}

impl Claim {
    /// "The share `reliability` of seals is sound at the age `life`", for Weibull lives of known `shape`.
    ///
    /// # Errors
    /// When a number is out of its range.
    pub fn new(life: f64, reliability: f64, shape: f64) -> Result<Self> {
        Ok(Self {
            life: positive("the life to show", life)?,
            reliability: share("the reliability", reliability)?,
            shape: positive("the shape", shape)?,
        })
    }

    /// The same claim with another shape.
    #[must_use]
    pub fn with_shape(self, shape: f64) -> Self {
        Self { shape, ..self }
    }

    /// The shape taken as known.
    #[must_use]
    pub fn shape(&self) -> f64 {
        self.shape
    }

    /// Probability that a seal fails in a trial of `duration`, when lives are `longer` times those claimed:
    /// 1 − R^((D/(L × longer))^β).
    #[must_use]
    pub fn failing(&self, duration: f64, longer: f64) -> f64 {
        let exponent = (duration / (self.life * longer)).powf(self.shape);
        -(exponent * self.reliability.ln()).exp_m1()
    }

    /// A plan that shows something: it has seals, a duration, and not all of them may fail.
    ///
    /// # Errors
    /// When it does not.
    pub fn possible(plan: Plan) -> Result<Plan> {
        positive("the duration", plan.duration)?;
        all_may_fail(plan.seals, plan.failures_allowed)?;
        Ok(plan)
    }

    /// Confidence with which a passed trial shows the claim: the binomial chance that more seals fail than are allowed,
    /// were the claim just met.
    #[must_use]
    pub fn confidence(&self, plan: &Plan) -> f64 {
        more_fail(
            self.failing(plan.duration, 1.0),
            plan.seals,
            plan.failures_allowed,
        )
    }

    /// Chance (binomial) that the trial is passed by seals whose lives are `longer` times those claimed.
    #[must_use]
    pub fn pass(&self, plan: &Plan, longer: f64) -> f64 {
        pass_chance(
            self.failing(plan.duration, longer),
            plan.seals,
            plan.failures_allowed,
        )
    }

    /// How many times as long as claimed seals must live to pass the trial with this chance, [`Claim::pass`] solved for
    /// `longer`; `None` when no life gives it.
    #[must_use]
    pub fn longer_for(&self, plan: &Plan, chance: f64) -> Option<f64> {
        let failing = failing_shown(plan.seals, 1.0 - chance, plan.failures_allowed)?;
        let exponent = (-failing).ln_1p() / self.reliability.ln();
        let longer = plan.duration / self.life * exponent.powf(-1.0 / self.shape);
        (longer.is_finite() && longer > 0.0).then_some(longer)
    }

    /// Reliability at the life to show that a passed trial shows with this confidence: (1 − p)^((L/D)^β), p the chance of
    /// failing at which that confidence is reached; `None` where none is.
    #[must_use]
    pub fn reliability_shown(&self, plan: &Plan, confidence: f64) -> Option<f64> {
        let failing = failing_shown(plan.seals, confidence, plan.failures_allowed)?;
        let exponent = (self.life / plan.duration).powf(self.shape);
        Some((exponent * (-failing).ln_1p()).exp())
    }

    /// Fewest seals, each run for `duration` (in the unit of the life), with which at most `failures` failures show the
    /// claim with this confidence.
    ///
    /// # Errors
    /// When the trial is so short that a thousand million seals would not do.
    ///
    /// ```
    /// use sealspan_care::trial::show::Claim;
    /// // 90 % sound at 365 days with 90 % confidence, each run for twice that: 4 seals at shape 2.5.
    /// let claim = Claim::new(365.0, 0.9, 2.5)?;
    /// assert_eq!(claim.seals(730.0, 0.9, 0)?, 4);
    /// // Without a failure 4 seals show it from t on, 0.9^(4 (t/365)^2.5) = 0.1.
    /// let shortest = 365.0 * (0.1f64.ln() / (4.0 * 0.9f64.ln())).powf(1.0 / 2.5);
    /// assert!((claim.duration(4, 0.9, 0)? - shortest).abs() < 1e-6);
    /// assert_eq!(claim.failures_allowed(4, 730.0, 0.9)?, Some(0));
    /// assert_eq!(claim.failures_allowed(4, 365.0, 0.9)?, None);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn seals(&self, duration: f64, confidence: f64, failures: u64) -> Result<u64> {
        positive("the duration", duration)?;
        share("the confidence", confidence)?;
        let failing = self.failing(duration, 1.0);
        if failing >= 1.0 {
            // Seals that only meet the claim are all but sure to fail in so long a trial.
            return Ok(failures + 1);
        }
        // About −ln(1 − C) failures must be expected, or more with failures allowed.
        let least = -(-confidence).ln_1p() / failing;
        if failing <= 0.0 || least + failures as f64 / failing > MOST_SEALS as f64 {
            return Err(Error::no_answer(
                "So short a trial would need more than a thousand million seals: run it longer.",
            ));
        }
        seals_for_failing(failing, confidence, failures)
            .ok_or_else(|| Error::no_answer("No number of seals shows this."))
    }

    /// Shortest time to run each seal, in the unit of the life: the one in which seals that only meet the claim fail more
    /// than `failures` times with chance `confidence`. [`Claim::seals`] has an example.
    ///
    /// # Errors
    /// When all seals may fail, or the time would be more than a million lives.
    pub fn duration(&self, seals: u64, confidence: f64, failures: u64) -> Result<f64> {
        share("the confidence", confidence)?;
        all_may_fail(seals, failures)?;
        let failing = failing_shown(seals, confidence, failures)
            .ok_or_else(|| Error::no_answer("No duration shows this."))?;
        let exponent = (-failing).ln_1p() / self.reliability.ln();
        let ratio = exponent.powf(1.0 / self.shape);
        if !(ratio > 0.0 && ratio <= LONGEST) {
            return Err(Error::no_answer(
                "Each seal would have to run for more than a million times the life to show: use more seals.",
            ));
        }
        Ok(self.life * ratio)
    }

    /// Most failures with which the trial (each seal run for `duration`, in the unit of the life) still shows the claim; `None` when it does not even without one.
    ///
    /// # Errors
    /// When a number is out of its range.
    pub fn failures_allowed(
        &self,
        seals: u64,
        duration: f64,
        confidence: f64,
    ) -> Result<Option<u64>> {
        positive("the duration", duration)?;
        share("the confidence", confidence)?;
        all_may_fail(seals, 0)?;
        let failing = self.failing(duration, 1.0);
        let shows = |k: u64| reaches(more_fail(failing, seals, k), confidence);
        if !shows(0) {
            return Ok(None);
        }
        let (mut most, mut too_many) = (0, seals);
        while too_many - most > 1 {
            let middle = most + (too_many - most) / 2;
            if shows(middle) {
                most = middle;
            } else {
                too_many = middle;
            }
        }
        Ok(Some(most))
    }
}

fn all_may_fail(seals: u64, failures: u64) -> Result<()> {
    if seals == 0 {
        return Err(Error::input(
            "the number of seals",
            0,
            "put one on trial at least",
        ));
    }
    if failures >= seals {
        return Err(Error::input(
            "the number of failures allowed",
            failures,
            "allow fewer failures than there are seals: a trial in which all may fail shows nothing",
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn each_unknown_gives_the_others_back() {
        let claim = Claim::new(365.0, 0.9, 2.5).unwrap();
        for failures in [0, 1, 3] {
            for seals in [5, 22, 60] {
                let duration = claim.duration(seals, 0.9, failures).unwrap();
                let plan = Plan {
                    seals,
                    duration,
                    failures_allowed: failures,
                };
                assert!((claim.confidence(&plan) - 0.9).abs() < 1e-11);
                assert!((claim.pass(&plan, 1.0) - 0.1).abs() < 1e-11);
                assert!(claim.pass(&plan, 2.0) > claim.pass(&plan, 1.5));
                assert_eq!(claim.seals(duration, 0.9, failures).unwrap(), seals);
                let allowed = claim.failures_allowed(seals, duration, 0.9).unwrap();
                assert_eq!(allowed, Some(failures));
            }
        }
    }

    #[test]
    fn a_whole_number_is_not_rounded_up() {
        // n = ln(1 − C) / ln R is whole here: R = 0.9^(1/m), C = 1 − 0.9^k.
        for n in 1..200u64 {
            let reliability = 0.9f64;
            let confidence = 1.0 - reliability.powf(n as f64);
            let claim = Claim::new(100.0, reliability, 1.7).unwrap();
            assert_eq!(claim.seals(100.0, confidence, 0).unwrap(), n, "{n}");
        }
        // Twice the life at shape 1 halves the seals.
        let claim = Claim::new(10.0, 0.5, 1.0).unwrap();
        assert_eq!(claim.seals(20.0, 0.75, 0).unwrap(), 1);
    }

    #[test]
    fn what_cannot_be_shown_is_said() {
        let claim = Claim::new(365.0, 0.9, 2.5).unwrap();
        assert_eq!(claim.failures_allowed(21, 365.0, 0.9).unwrap(), None);
        assert!(claim.duration(3, 0.9, 3).unwrap_err().is_input());
        let short = claim.seals(1e-9, 0.9, 0).unwrap_err();
        assert!(short.is_no_answer() && !short.is_input());
        // −ln 0.1/ln 0.9 = 21.85 seals for a whole life at shape 1: two thousand million seals are refused by their
        // number, half of a thousand million are not.
        let claim = Claim::new(1.0, 0.9, 1.0).unwrap();
        let whole = 0.1f64.ln() / 0.9f64.ln();
        let refused = claim.seals(whole / 2e9, 0.9, 0).unwrap_err();
        assert!(
            refused.to_string().contains("thousand million"),
            "{refused}"
        );
        let many = claim.seals(whole / 5e8, 0.9, 0).unwrap() as f64;
        assert!((many / 5e8 - 1.0).abs() < 1e-6, "{many}");
        assert!(Claim::new(365.0, 1.0, 2.5).is_err());
    }
}
