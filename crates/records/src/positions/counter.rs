//! The time axis of a position: days, or its asset's counter between the readings that are known.

use crate::dates::{Span, days_between};
use crate::inspection::Inspection;
use crate::observation::Clock;
use crate::seal::Seal;
use jiff::civil::Date;

/// Days from the first of some dates to the middle of a span.
pub(super) fn day(origin: Date, span: &Span) -> f64 {
    0.5 * (days_between(origin, span.first()) + days_between(origin, span.last())) as f64
}

/// Where days lie on the clock asked for.
pub(super) enum Axis {
    /// Days are the clock.
    Days,
    /// Day and reading, both rising.
    Readings(Vec<(f64, f64)>),
}

impl Axis {
    /// The axis of a position: its seals, and the looks at its asset.
    pub(super) fn new(
        clock: Clock,
        origin: Date,
        seals: &[&Seal],
        looks: &[&Inspection],
        now: Option<(Date, f64)>,
    ) -> Self {
        if clock == Clock::Days {
            return Self::Days;
        }
        let mut points: Vec<(f64, f64)> = vec![];
        for seal in seals {
            let fitted = seal.fitted_reading.map(|r| (day(origin, &seal.fitted), r));
            let removed = seal.removed.zip(seal.removed_reading);
            points.extend(fitted);
            points.extend(removed.map(|(date, r)| (day(origin, &date), r)));
        }
        let seen = |l: &&Inspection| l.reading.map(|r| (day(origin, &l.date), r));
        points.extend(looks.iter().filter_map(seen));
        points.extend(now.map(|(date, r)| (days_between(origin, date) as f64, r)));
        points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut rising: Vec<(f64, f64)> = vec![];
        for point in points {
            match rising.last() {
                Some(last) if point.1 < last.1 => {}
                Some(last) if point.0 == last.0 => {
                    rising.pop();
                    rising.push(point);
                }
                _ => rising.push(point),
            }
        }
        Self::Readings(rising)
    }

    /// First and last day that the axis reaches, within those given.
    pub(super) fn reach(&self, from: f64, to: f64) -> (f64, f64) {
        match self {
            Self::Days => (from, to),
            Self::Readings(points) => {
                let first = points.first().map_or(f64::INFINITY, |p| p.0);
                let last = points.last().map_or(f64::NEG_INFINITY, |p| p.0);
                (from.max(first), to.min(last))
            }
        }
    }

    /// Place of a day on the axis; readings between known ones on a straight line.
    pub(super) fn at(&self, day: f64) -> f64 {
        let points = match self {
            Self::Days => return day,
            Self::Readings(points) => points,
        };
        let next = points.partition_point(|p| p.0 < day);
        let before = next.checked_sub(1).and_then(|i| points.get(i));
        match (before, points.get(next)) {
            (Some((a, x)), Some((b, y))) => x + (y - x) * (day - a) / (b - a),
            (None, Some((_, y))) => *y,
            (Some((_, x)), None) => *x,
            (None, None) => 0.0,
        }
    }
}
