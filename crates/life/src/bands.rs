//! Simultaneous bands of the product-limit curve: they hold the whole curve over a stretch of ages with
//! the stated confidence, where pointwise intervals hold it at one age only.

use crate::product_limit::{self, Step};
use crate::suprema::{bridge_critical, standardised_critical};
use sealspan_records::observation::Sample;
use thiserror::Error;

/// How the band's width follows the curve's precision.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Hall & Wellner (1980): wide where few are left, tight in the middle; may begin at age 0.
    HallWellner,
    /// Nair (1984), equal precision: in proportion to the pointwise interval.
    EqualPrecision,
}

/// The scale on which the band is symmetric.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Survival itself; ends beyond 0 and 1 are cut off there.
    Linear,
    /// ln(−ln survival): stays between 0 and 1, better in small samples.
    LogLog,
}

/// What is asked of a band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question {
    /// Kind of band.
    pub kind: Kind,
    /// Scale on which it is symmetric.
    pub scale: Scale,
    /// First age, in the sample's unit.
    pub from: f64,
    /// Last age.
    pub to: f64,
    /// Confidence that the whole curve between these ages lies in the band, between 0 and 1.
    pub level: f64,
}

/// The band from an age on, until the next step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandStep {
    /// Age: that from which the band runs, or a failure age after it.
    pub time: f64,
    /// Share surviving it.
    pub survival: f64,
    /// Lower end of the share.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// A simultaneous band.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// a = nσ²/(1 + nσ²) at the first age, with n seals in all and Greenwood's sum σ².
    pub a_lower: f64,
    /// The same at the last age.
    pub a_upper: f64,
    /// Critical value: of the supremum of the bridge (Hall–Wellner) or the standardised bridge (equal
    /// precision) between the two.
    pub critical: f64,
    /// Steps in order of age.
    pub steps: Vec<BandStep>,
}

/// Why there is no band.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoBand {
    /// The product-limit curve has no place for intervals.
    #[error("lives known only as intervals have no product-limit curve, so no band of it")]
    Intervals,
    /// The ages do not make a stretch: not finite, below 0, or the first above the last.
    #[error("the band's ages run from {from} to {to}; give two ages, the first not above the last")]
    EmptyRange {
        /// First age asked for.
        from: f64,
        /// Last age asked for.
        to: f64,
    },
    /// Nothing is known of survival so late.
    #[error("the oldest seal was seen at age {oldest}; a band to age {to} cannot be given")]
    BeyondTheOldest {
        /// Last age asked for.
        to: f64,
        /// Greatest age seen.
        oldest: f64,
    },
    /// No failure yet where the band would need one (see [`band`]).
    #[error("no seal had failed by age {age}: the curve has no variance there; begin later")]
    NoVariance {
        /// The age.
        age: f64,
    },
    /// The curve has come down to 0.
    #[error("the curve reaches 0 at age {age}, where its variance has no estimate; end before it")]
    ReachesZero {
        /// The age.
        age: f64,
    },
    /// The level is no probability, or too near 1.
    #[error("confidence {0} must lie between 0 and 1, and not within rounding of 1")]
    BadLevel(f64),
}

/// The simultaneous band of the product-limit curve of `sample` that `question` asks for.
///
/// With Greenwood's sum σ², n seals in all and critical values k and c (computed to about 1e-9, see
/// [`crate::suprema`]): Hall–Wellner S ± S k (1 + nσ²)/√n, equal precision S ± S c σ; on the log(−log)
/// scale S^(1/θ) to S^θ with θ = exp(k (1 + nσ²)/(√n ln S)) or exp(c σ/ln S). Klein & Moeschberger,
/// Survival Analysis, section 4.4 (from memory). The confidence is that of large samples. With delayed
/// entry σ² counts the seals under watch.
///
/// # Errors
/// [`NoBand`], saying why: intervals in the sample, an empty stretch of ages or one beyond the oldest
/// seal, no variance at an age that needs it (equal precision and the log(−log) scale must begin at or
/// after the first failure; Hall–Wellner must end after it), a curve that reaches 0, an impossible level.
///
/// ```
/// use sealspan_life::bands::{Kind, NoBand, Question, Scale, band};
/// use sealspan_records::observation::{Observation, Sample};
/// let ages = (1..=20).map(|t| Observation::exact(f64::from(t), 0.0, 1.0));
/// let sample = Sample::new(ages.collect::<Result<_, _>>()?);
/// let mut question = Question {
///     kind: Kind::EqualPrecision,
///     scale: Scale::LogLog,
///     from: 3.0,
///     to: 15.0,
///     level: 0.9,
/// };
/// let found = band(&sample, question).unwrap();
/// assert_eq!(found.steps.len(), 13);
/// assert!(found.critical > 1.645); // wider than at one age
/// question.from = 0.5;
/// assert_eq!(band(&sample, question), Err(NoBand::NoVariance { age: 0.5 }));
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
pub fn band(sample: &Sample, question: Question) -> Result<Band, NoBand> {
    let Question {
        kind,
        scale,
        from,
        to,
        level,
    } = question;
    if !(from.is_finite() && to.is_finite() && 0.0 <= from && from <= to) {
        return Err(NoBand::EmptyRange { from, to });
    }
    let curve = product_limit::curve(sample, 0.95).ok_or(NoBand::Intervals)?;
    let oldest = sample.oldest();
    if to > oldest {
        return Err(NoBand::BeyondTheOldest { to, oldest });
    }
    let total = sample.tally().total();
    let points = points(&curve.steps, from, to)?;
    let ends = points.first().zip(points.last());
    let (first, last) = ends.ok_or(NoBand::EmptyRange { from, to })?;
    if first.variance <= 0.0 && (kind == Kind::EqualPrecision || scale == Scale::LogLog) {
        return Err(NoBand::NoVariance { age: from });
    }
    if last.variance <= 0.0 {
        return Err(NoBand::NoVariance { age: to });
    }
    let bridge_time = |p: &Point| {
        let scaled = total * p.variance;
        scaled / (1.0 + scaled)
    };
    let (a_lower, a_upper) = (bridge_time(first), bridge_time(last));
    let critical = match kind {
        Kind::HallWellner => bridge_critical(a_lower, a_upper, level),
        Kind::EqualPrecision => standardised_critical(a_lower, a_upper, level),
    };
    let critical = critical.ok_or(NoBand::BadLevel(level))?;
    let step = |p: &Point| {
        let relative = critical
            * match kind {
                Kind::HallWellner => (1.0 + total * p.variance) / total.sqrt(),
                Kind::EqualPrecision => p.variance.sqrt(),
            };
        let (lower, upper) = ends_of(p.survival, relative, scale);
        BandStep {
            time: p.time,
            survival: p.survival,
            lower,
            upper,
        }
    };
    Ok(Band {
        a_lower,
        a_upper,
        critical,
        steps: points.iter().map(step).collect(),
    })
}

/// The curve at an age, with Greenwood's sum.
struct Point {
    time: f64,
    survival: f64,
    variance: f64,
}

/// The curve at `from` and at the failure ages after it, up to `to`.
fn points(steps: &[Step], from: f64, to: f64) -> Result<Vec<Point>, NoBand> {
    let point = |s: &Step| {
        let error = s.std_error.ok_or(NoBand::ReachesZero { age: s.time })?;
        Ok(Point {
            time: s.time,
            survival: s.survival,
            variance: (error / s.survival).powi(2),
        })
    };
    let (before, after) = steps.split_at(steps.partition_point(|s| s.time <= from));
    let start = before.last().map(point).transpose()?;
    let start = start.unwrap_or(Point {
        time: from,
        survival: 1.0,
        variance: 0.0,
    });
    let mut points = vec![Point {
        time: from,
        ..start
    }];
    for s in after.iter().take_while(|s| s.time <= to) {
        points.push(point(s)?);
    }
    Ok(points)
}

/// Ends of the band around `survival`; `relative` is its half-width on the linear scale over S.
fn ends_of(survival: f64, relative: f64, scale: Scale) -> (f64, f64) {
    match scale {
        Scale::Linear => {
            let half = survival * relative;
            ((survival - half).max(0.0), (survival + half).min(1.0))
        }
        Scale::LogLog => {
            let ln = survival.ln();
            let half = relative / -ln;
            ((ln * half.exp()).exp(), (ln * (-half).exp()).exp())
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_records::observation::Observation;

    fn sample() -> Sample {
        let mut rows = vec![];
        for t in 1..=30 {
            let age = f64::from(t);
            rows.push(Observation::exact(age, 0.0, 1.0).unwrap());
            rows.push(Observation::right(age + 0.5, 0.0, 1.0).unwrap());
        }
        Sample::new(rows)
    }

    fn ask(kind: Kind, scale: Scale) -> Question {
        Question {
            kind,
            scale,
            from: 2.0,
            to: 20.2,
            level: 0.9,
        }
    }

    #[test]
    fn bands_hold_the_curve_and_the_pointwise_interval_of_equal_precision() {
        let pointwise = product_limit::curve(&sample(), 0.9).unwrap().steps;
        for kind in [Kind::HallWellner, Kind::EqualPrecision] {
            for scale in [Scale::Linear, Scale::LogLog] {
                let found = band(&sample(), ask(kind, scale)).unwrap();
                assert_eq!(found.steps.len(), 19);
                for s in &found.steps {
                    assert!(0.0 <= s.lower && s.lower < s.survival && s.survival < s.upper);
                    assert!(s.upper <= 1.0);
                    let at = pointwise.iter().find(|p| p.time == s.time).unwrap();
                    if (kind, scale) == (Kind::EqualPrecision, Scale::LogLog) {
                        assert!(s.lower < at.lower.unwrap() && s.upper > at.upper.unwrap());
                    }
                }
            }
        }
    }

    #[test]
    fn equal_precision_at_one_age_is_the_pointwise_interval() {
        let question = Question {
            from: 7.0,
            to: 7.3,
            ..ask(Kind::EqualPrecision, Scale::LogLog)
        };
        let found = band(&sample(), question).unwrap().steps;
        let pointwise = product_limit::curve(&sample(), 0.9).unwrap().steps[6];
        assert_eq!((found.len(), pointwise.time), (1, 7.0));
        assert!((found[0].lower - pointwise.lower.unwrap()).abs() < 1e-9);
        assert!((found[0].upper - pointwise.upper.unwrap()).abs() < 1e-9);
    }

    #[test]
    fn hall_wellner_may_begin_at_age_0_on_the_linear_scale() {
        let question = Question {
            from: 0.0,
            ..ask(Kind::HallWellner, Scale::Linear)
        };
        let first = band(&sample(), question).unwrap().steps[0];
        assert_eq!((first.time, first.survival, first.upper), (0.0, 1.0, 1.0));
        let log = Question {
            scale: Scale::LogLog,
            ..question
        };
        assert_eq!(band(&sample(), log), Err(NoBand::NoVariance { age: 0.0 }));
    }

    #[test]
    fn a_step_at_the_first_age_counts_and_one_sample_twice_is_narrower() {
        let question = ask(Kind::HallWellner, Scale::Linear);
        let single = sample();
        let doubled = single.rows().iter().map(|o| o.with_count(2.0).unwrap());
        let (once, twice) = (
            band(&single, question).unwrap(),
            band(&Sample::new(doubled.collect()), question).unwrap(),
        );
        assert_eq!(once.steps[0].time, 2.0);
        assert!((once.steps[0].survival - 59.0 / 60.0 * 57.0 / 58.0).abs() < 1e-15);
        // Twice the seals: the same a, so the same critical value, and a band narrower by √2.
        assert!((once.a_upper / twice.a_upper - 1.0).abs() < 1e-12);
        let width = |b: &Band| b.steps[10].upper - b.steps[10].lower;
        assert!((width(&once) / width(&twice) - f64::sqrt(2.0)).abs() < 1e-9);
    }

    #[test]
    fn what_has_no_band_says_why() {
        let question = ask(Kind::EqualPrecision, Scale::Linear);
        let refusal = |sample: &Sample, q: Question| band(sample, q).unwrap_err();
        let backwards = Question {
            from: 9.0,
            to: 8.0,
            ..question
        };
        let late = Question {
            to: 31.0,
            ..question
        };
        let early = Question {
            from: 0.2,
            to: 0.9,
            kind: Kind::HallWellner,
            ..question
        };
        let sure = Question {
            level: 1.0,
            ..question
        };
        let gone = Observation::exact(40.0, 0.0, 1.0).unwrap();
        let all_gone = Sample::new(sample().rows().iter().copied().chain([gone]).collect());
        let to_the_end = Question {
            to: 40.0,
            ..question
        };
        let between = Observation::interval(3.0, 8.0, 0.0, 1.0).unwrap();
        assert_eq!(
            [
                refusal(&sample(), backwards),
                refusal(&sample(), late),
                refusal(&sample(), early),
                refusal(&sample(), sure),
                refusal(&all_gone, to_the_end),
                refusal(&Sample::new(vec![between]), question),
            ],
            [
                NoBand::EmptyRange { from: 9.0, to: 8.0 },
                NoBand::BeyondTheOldest {
                    to: 31.0,
                    oldest: 30.5
                },
                NoBand::NoVariance { age: 0.9 },
                NoBand::BadLevel(1.0),
                NoBand::ReachesZero { age: 40.0 },
                NoBand::Intervals,
            ]
        );
    }

    #[test]
    fn stretches_that_are_none_are_refused() {
        for (from, to) in [
            (15.0, 3.0),
            (-2.0, 3.0),
            (f64::NAN, 3.0),
            (2.0, f64::INFINITY),
        ] {
            let question = Question {
                from,
                to,
                ..ask(Kind::EqualPrecision, Scale::LogLog)
            };
            let found = band(&sample(), question);
            assert!(
                matches!(found, Err(NoBand::EmptyRange { .. })),
                "{from} {to}"
            );
        }
    }
}
