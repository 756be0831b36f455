//! A running chart over the calendar: failures less those expected, level by level.
//!
//! The statistic is W ← max(0, W − k × expected) + failures with k = (ρ − 1)/ln ρ: the cumulative sum of the
//! log-likelihood ratio of a failure rate ρ times as high (Page 1954), in units of failures. It falls back
//! to 0 while a level does as its material does, and rises with every failure beyond that.

use super::between;
use crate::family::Family;

/// A seal on the calendar; ages in days, and days counted from any one day.
#[derive(Debug, Clone)]
pub struct Exposed {
    /// Its level.
    pub level: usize,
    /// Day it was fitted.
    pub fitted: f64,
    /// Age at which watching began.
    pub entry: f64,
    /// Age at which it ended, was taken off, or was last seen; a failure between two looks has both.
    pub end: (f64, f64),
    /// Whether it failed.
    pub failed: bool,
    /// θ of its stratum's law.
    pub law: Vec<f64>,
}

/// A point of the chart: at every failure, and at the end of watching.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoursePoint {
    /// Day.
    pub day: f64,
    /// Failures so far.
    pub failures: f64,
    /// Failures expected so far.
    pub expected: f64,
    /// The statistic W.
    pub statistic: f64,
}

/// One level's chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Its points.
    pub points: Vec<CoursePoint>,
    /// First day on which W reached the limit; `None` where it never did.
    pub alarm: Option<f64>,
}

/// Days of one level's chart at which the statistic is worked out between two failures.
const BETWEEN: usize = 8;

/// The statistic of one level as it goes between its failures too, where it falls as failures are expected: (day, W),
/// at eight even steps up to each point of its `course` by [`watch`] and just after it; the `ratio` as there.
#[must_use]
pub fn path(
    family: &'static dyn Family,
    level: usize,
    seals: &[Exposed],
    ratio: f64,
    course: &Course,
) -> Vec<(f64, f64)> {
    let k = allowance(ratio);
    let own: Vec<&Exposed> = seals.iter().filter(|s| s.level == level).collect();
    let expected = |day: f64| own.iter().map(|s| s.hazard(family, day)).sum::<f64>();
    let first = own.iter().map(|s| s.fitted + s.entry);
    let mut day = first.fold(f64::INFINITY, f64::min);
    let (mut statistic, mut before) = (0.0, 0.0);
    let mut out = vec![];
    for point in &course.points {
        for i in 1..=BETWEEN {
            let at = day + (point.day - day) * i as f64 / BETWEEN as f64;
            let fallen: f64 = statistic - k * (expected(at) - before);
            out.push((at, fallen.max(0.0)));
        }
        out.push((point.day, point.statistic));
        (day, statistic, before) = (point.day, point.statistic, point.expected);
    }
    out
}

impl Exposed {
    /// Cumulative hazard by a day. A failure between two looks is spread up to its expected place, and
    /// counted on the day it was found.
    fn hazard(&self, family: &'static dyn Family, day: f64) -> f64 {
        let h = |t: f64| {
            if t > 0.0 {
                -family.ln_survival(&self.law, t)
            } else {
                0.0
            }
        };
        let (low, high) = self.end;
        let most = if low < high {
            between(h(low), h(high))
        } else {
            h(high)
        };
        let age = (day - self.fitted).clamp(self.entry, high.max(self.entry));
        h(age).min(most) - h(self.entry)
    }

    fn found(&self) -> f64 {
        self.fitted + self.end.1
    }
}

/// k of the statistic: what is taken off for every expected failure.
pub(super) fn allowance(ratio: f64) -> f64 {
    (ratio - 1.0) / ratio.ln()
}

/// Charts of `levels` levels, numbered from 0, against a limit: W ← max(0, W − k × expected) + failures from one
/// failure to the next, with k = (ρ − 1)/ln ρ, ρ the `ratio` above 1 of failure rates that the chart looks for (Page
/// 1954), in failures. A failure counts on the day it was found; one between two looks is expected only as far as its
/// expected place between them. A level without seals has no points.
///
/// ```
/// use sealspan_life::{batches::{Exposed, path, watch}, laws::by_name};
/// let law = by_name("exponential").unwrap();
/// let seal = |end: f64| Exposed {
///     level: 0, fitted: 0.0, entry: 0.0, end: (end, end), failed: true, law: vec![100.0_f64.ln()],
/// };
/// let seals = [seal(50.0), seal(100.0)];
/// // k = (e − 1)/ln e for a rate e times as high.
/// let ratio = std::f64::consts::E;
/// let k = ratio - 1.0;
/// let course = &watch(law, 1, &seals, ratio, 1.1)[0];
/// // By day 50 each had lived half a mean life: one failure expected and one seen, W = max(0, −k) + 1. By day 100 half
/// // a failure more was expected.
/// assert!((course.points[0].expected - 1.0).abs() < 1e-12 && course.points[0].statistic == 1.0);
/// assert!((course.points[1].statistic - (2.0 - 0.5 * k)).abs() < 1e-12);
/// assert_eq!(course.alarm, Some(100.0));
/// // Halfway between them W has fallen by a quarter of a failure.
/// let way = path(law, 0, &seals, ratio, course);
/// let (_, w) = way.iter().find(|point| point.0 == 75.0).unwrap();
/// assert!((w - (1.0 - 0.25 * k)).abs() < 1e-12);
/// ```
#[must_use]
pub fn watch(
    family: &'static dyn Family,
    levels: usize,
    seals: &[Exposed],
    ratio: f64,
    limit: f64,
) -> Vec<Course> {
    let k = allowance(ratio);
    let mut by_level: Vec<Vec<&Exposed>> = vec![vec![]; levels];
    for seal in seals {
        if let Some(own) = by_level.get_mut(seal.level) {
            own.push(seal);
        }
    }
    let course = |own: &Vec<&Exposed>| {
        let mut days: Vec<f64> = own.iter().filter(|s| s.failed).map(|s| s.found()).collect();
        days.sort_by(f64::total_cmp);
        let last = own
            .iter()
            .map(|s| s.found())
            .fold(f64::NEG_INFINITY, f64::max);
        days.dedup();
        if days.last().is_none_or(|d| *d < last) && last.is_finite() {
            days.push(last);
        }
        let mut out = Course {
            points: vec![],
            alarm: None,
        };
        let (mut statistic, mut before) = (0.0_f64, 0.0);
        for day in days {
            let failures = own.iter().filter(|s| s.failed && s.found() <= day).count() as f64;
            let expected: f64 = own.iter().map(|s| s.hazard(family, day)).sum();
            let past = out.points.last().map_or(0.0, |p: &CoursePoint| p.failures);
            statistic = (statistic - k * (expected - before)).max(0.0) + failures - past;
            before = expected;
            if out.alarm.is_none() && statistic >= limit {
                out.alarm = Some(day);
            }
            out.points.push(CoursePoint {
                day,
                failures,
                expected,
                statistic,
            });
        }
        out
    };
    by_level.iter().map(course).collect()
}
