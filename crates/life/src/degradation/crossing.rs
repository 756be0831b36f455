//! When a path reaches its limit, as a distribution of the age.

use sealspan_numeric::roots::{bracket_from, bracketed};
use sealspan_numeric::special::{chi_square_survival, ln_normal_survival};

/// The distribution of the age at which the true value reaches the limit: an average over what the estimate
/// leaves open.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    parts: Vec<(f64, Part)>,
}

/// The distribution under known parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Part {
    /// Level and rate are normal: P(T ≤ t) is the chance that level + rate × t is past the limit.
    Normal {
        /// Mean level and rate.
        mean: (f64, f64),
        /// Variance of the level, covariance, variance of the rate.
        covariance: (f64, f64, f64),
        /// The limit on the path's scale.
        limit: f64,
        /// +1 for a rising property.
        side: f64,
    },
    /// Gamma wear from an age at which `left` was still to go: P(T ≤ t) is the chance that the wear
    /// since then exceeds it.
    Gamma {
        /// Age of the last measurement.
        from: f64,
        /// Wear still allowed then, in the unit of the property.
        left: f64,
        /// Shape of the wear per unit of age.
        shape: f64,
        /// Rate of the gamma law.
        rate: f64,
    },
}

impl Part {
    fn by(&self, age: f64) -> f64 {
        match *self {
            Self::Normal {
                mean: (a, r),
                covariance: (v, c, w),
                limit,
                side,
            } => {
                let sd = (v + 2.0 * c * age + w * age * age).max(0.0).sqrt();
                let past = side * (a + r * age - limit);
                if sd > 0.0 {
                    ln_normal_survival(-past / sd).exp()
                } else {
                    f64::from(u8::from(past >= 0.0))
                }
            }
            Self::Gamma {
                from,
                left,
                shape,
                rate,
            } => {
                let span = age - from;
                if left <= 0.0 {
                    1.0
                } else if span <= 0.0 {
                    0.0
                } else {
                    chi_square_survival(2.0 * rate * left, 2.0 * shape * span)
                }
            }
        }
    }

    /// First age that it can tell of.
    fn from(&self) -> f64 {
        match self {
            Self::Normal { .. } => 0.0,
            Self::Gamma { from, .. } => *from,
        }
    }

    /// A first step towards the limit: a hundredth of the mean way there.
    fn step(&self) -> f64 {
        let way = match *self {
            Self::Normal {
                mean: (a, r),
                limit,
                ..
            } => ((limit - a) / r).abs(),
            Self::Gamma {
                left, shape, rate, ..
            } => left * rate / shape,
        };
        if way.is_finite() && way > 0.0 {
            0.01 * way
        } else {
            1.0
        }
    }
}

impl Crossing {
    /// An average of distributions; the weights add up to 1.
    #[must_use]
    pub(crate) fn new(parts: Vec<(f64, Part)>) -> Self {
        Self { parts }
    }

    /// Chance, 0 to 1, that the limit is reached by this age, in the unit of the paths' ages.
    #[must_use]
    pub fn by(&self, age: f64) -> f64 {
        self.parts.iter().map(|(w, part)| w * part.by(age)).sum()
    }

    /// Age by which the limit is reached with chance `p`; `None` where it never is with that chance. Where the chance
    /// is as large from the first, the first age that can be told (0, or that of the last measurement).
    #[must_use]
    pub fn age_at(&self, p: f64) -> Option<f64> {
        let miss = |age: f64| self.by(age) - p;
        let from = self
            .parts
            .iter()
            .map(|(_, part)| part.from())
            .reduce(f64::min)?;
        if miss(from) >= 0.0 {
            return Some(from);
        }
        let step: f64 = self.parts.iter().map(|(w, part)| w * part.step()).sum();
        let (lo, hi) = bracket_from(miss, from, step, 80)?;
        bracketed(miss, lo, hi, 1e-12 * hi.abs().max(1e-300))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn ages_and_chances_are_inverse() {
        let alone = |part| Crossing::new(vec![(1.0, part)]);
        let normal = alone(Part::Normal {
            mean: (7.0, -0.01),
            covariance: (0.04, -1e-4, 4e-6),
            limit: 3.5,
            side: -1.0,
        });
        let gamma = alone(Part::Gamma {
            from: 100.0,
            left: 2.0,
            shape: 0.02,
            rate: 3.0,
        });
        for crossing in [&normal, &gamma] {
            for p in [0.05, 0.5, 0.95] {
                let age = crossing.age_at(p).unwrap();
                assert!((crossing.by(age) - p).abs() < 1e-9, "{p}");
            }
        }
        assert!((normal.age_at(0.5).unwrap() - 350.0).abs() < 1e-6);
    }

    #[test]
    fn a_path_that_may_never_arrive_has_no_late_quantile() {
        let part = Part::Normal {
            mean: (7.0, -0.001),
            covariance: (0.0, 0.0, 1e-6),
            limit: 3.5,
            side: -1.0,
        };
        let doubtful = Crossing::new(vec![(1.0, part)]);
        assert!(doubtful.age_at(0.95).is_none() && doubtful.age_at(0.3).is_some());
    }

    /// Worn past the limit at its last measurement: the limit is reached by then.
    #[test]
    fn a_part_past_its_limit_is_there_since_its_last_measurement() {
        let part = Part::Gamma {
            from: 100.0,
            left: -1.0,
            shape: 0.02,
            rate: 3.0,
        };
        assert_eq!(Crossing::new(vec![(1.0, part)]).age_at(0.5), Some(100.0));
    }

    /// From 7 down by 1 a unit of age the limit 6.5 is reached at 0.5, before one whole unit.
    #[test]
    fn a_limit_may_be_reached_within_one_unit_of_age() {
        let part = |mean: (f64, f64)| Part::Normal {
            mean,
            covariance: (1e-8, 0.0, 0.0),
            limit: 6.5,
            side: -1.0,
        };
        let age = Crossing::new(vec![(1.0, part((7.0, -1.0)))])
            .age_at(0.5)
            .unwrap();
        assert!((age - 0.5).abs() < 1e-9, "{age}");
        // Past it when new.
        let past = Crossing::new(vec![(1.0, part((6.0, -1.0)))]);
        assert_eq!(past.age_at(0.5), Some(0.0));
    }

    /// Of six parts in ten that are there and four on their way, nine in ten are there when three quarters of the four
    /// are; a part that goes nowhere holds none of them up.
    #[test]
    fn parts_already_there_do_not_hold_up_the_others() {
        let gamma = |left: f64| Part::Gamma {
            from: 100.0,
            left,
            shape: 0.02,
            rate: 3.0,
        };
        let still = Part::Normal {
            mean: (7.0, 0.0),
            covariance: (1e-6, 0.0, 0.0),
            limit: 3.5,
            side: -1.0,
        };
        let alone = Crossing::new(vec![(1.0, gamma(2.0))]).age_at(0.75).unwrap();
        for (with, p) in [(gamma(-200.0), 0.9), (gamma(0.0), 0.9), (still, 0.3)] {
            let both = Crossing::new(vec![(0.4, gamma(2.0)), (0.6, with)]);
            let age = both.age_at(p).unwrap();
            assert!((age / alone - 1.0).abs() < 1e-9, "{age} {alone}");
        }
    }
}
