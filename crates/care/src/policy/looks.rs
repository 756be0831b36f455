//! When a seal is looked at: never, at even steps of age, or at stated ages.

use crate::error::{Error, Result, positive};

/// Two ages closer than this share of themselves are one.
pub(crate) const SAME_AGE: f64 = 1e-9;

/// The ages at which a seal is looked at, in units of the clock; 0 is the fitting.
///
/// ```
/// use sealspan_care::policy::Looks;
/// // At 30 and 50, then at every 20 more.
/// let looks = Looks::At(vec![30.0, 50.0]);
/// assert_eq!((looks.after(0.0), looks.after(30.0), looks.after(50.0)), (Some(30.0), Some(50.0), Some(70.0)));
/// assert_eq!(Looks::Never.after(0.0), None);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub enum Looks {
    /// Not at all.
    Never,
    /// At this step of age and its multiples.
    Every(f64),
    /// At these ages, rising; after the last one its gap is repeated.
    At(Vec<f64>),
}

impl Looks {
    /// Checked: a step above zero, or rising ages above zero.
    ///
    /// # Errors
    /// When an age is not a finite number above zero, or the ages do not rise.
    ///
    /// ```
    /// use sealspan_care::policy::Looks;
    /// assert!(Looks::At(vec![30.0, 60.0]).checked().is_ok());
    /// assert!(Looks::At(vec![60.0, 30.0]).checked().is_err());
    /// ```
    pub fn checked(self) -> Result<Self> {
        match &self {
            Self::Never => {}
            Self::Every(step) => {
                positive("the time between inspections", *step)?;
            }
            Self::At(ages) => {
                let mut last = 0.0;
                for age in ages {
                    positive("an inspection age", *age)?;
                    if *age <= last * (1.0 + SAME_AGE) {
                        return Err(Error::input(
                            "an inspection age",
                            age,
                            "give the ages in rising order, each once",
                        ));
                    }
                    last = *age;
                }
                if ages.is_empty() {
                    return Err(Error::input(
                        "the number of inspection ages",
                        0,
                        "give at least one age, or no inspections at all",
                    ));
                }
            }
        }
        Ok(self)
    }

    /// Looks at ages first × m^bend, m = 1, 2, ... up to `oldest`: a bend below 1 looks more often as
    /// the seal ages, 1 looks evenly. A family of two numbers in place of a list of ages (our own; for
    /// a Weibull defect age of shape β, looks in proportion to the root of the hazard have the bend
    /// 2/(β + 1), after Keller 1974, from memory).
    ///
    /// ```
    /// use sealspan_care::policy::Looks;
    /// let even = Looks::bent(30.0, 1.0, 100.0);
    /// assert_eq!((even.after(0.0), even.after(60.0)), (Some(30.0), Some(90.0)));
    /// // Looks that come closer together with age: 30, 30 √2, ...
    /// let closer = Looks::bent(30.0, 0.5, 100.0);
    /// assert!((closer.after(30.0).unwrap() - 30.0 * 2.0_f64.sqrt()).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn bent(first: f64, bend: f64, oldest: f64) -> Self {
        const MOST: usize = 10_000;
        let ages: Vec<f64> = (1..=MOST)
            .map(|m| first * (m as f64).powf(bend))
            .take_while(|age| *age < oldest)
            .collect();
        if ages.len() < 2 {
            return Self::Every(first);
        }
        Self::At(ages)
    }

    /// From which age on looks are evenly spaced for ever, and how far apart.
    pub(crate) fn even_from(&self) -> Option<(f64, f64)> {
        match self {
            Self::Never => None,
            Self::Every(step) => Some((0.0, *step)),
            Self::At(ages) => {
                let last = ages.last()?;
                let before = ages.len().checked_sub(2).and_then(|i| ages.get(i));
                Some((*last, last - before.unwrap_or(&0.0)))
            }
        }
    }

    /// The age of the first look after `age`; `None` where there is none.
    #[must_use]
    pub fn after(&self, age: f64) -> Option<f64> {
        match self {
            Self::Never => None,
            Self::Every(step) => Some(multiple_after(*step, age)),
            Self::At(ages) => {
                let past = age * (1.0 + SAME_AGE);
                if let Some(next) = ages.get(ages.partition_point(|a| *a <= past)) {
                    return Some(*next);
                }
                let (last, gap) = self.even_from()?;
                Some(last + multiple_after(gap, age - last))
            }
        }
    }
}

/// The first multiple of `step` that lies after `age`.
pub(crate) fn multiple_after(step: f64, age: f64) -> f64 {
    ((age / step) * (1.0 + SAME_AGE) + SAME_AGE).floor() * step + step
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_next_look() {
        let even = Looks::Every(0.1);
        let mut age = 0.0;
        for k in 1..=1000 {
            age = even.after(age).unwrap();
            assert!((age - 0.1 * f64::from(k)).abs() < 1e-12 * age.max(1.0));
        }
        let stated = Looks::At(vec![50.0, 80.0, 100.0]);
        let ages: Vec<f64> = std::iter::successors(stated.after(0.0), |a| stated.after(*a))
            .take(5)
            .collect();
        assert_eq!(ages, [50.0, 80.0, 100.0, 120.0, 140.0]);
        assert_eq!(Looks::Never.after(3.0), None);
    }

    #[test]
    fn impossible_ages_are_refused() {
        assert!(Looks::Every(0.0).checked().is_err());
        assert!(Looks::At(vec![]).checked().is_err());
        assert!(Looks::At(vec![5.0, 5.0]).checked().is_err());
        assert!(Looks::At(vec![5.0, 6.0]).checked().is_ok());
    }
}
