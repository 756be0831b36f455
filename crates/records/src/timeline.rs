//! One seal's dates as ages on a clock: for histories, where looks must keep their order.

use crate::ages::NoAge;
use crate::dates::{Span, days_between};
use crate::inspection::Inspection;
use crate::observation::Clock;
use crate::seal::Seal;
use jiff::civil::Date;

/// Turns dates into ages of one seal. A fitting date known to the month or coarser stands at its middle,
/// so that all ages shift together.
pub(crate) struct Timeline {
    fitted: Date,
    half: f64,
    /// Readings by days since fitting, in order; none on the clock of days.
    readings: Vec<(f64, f64)>,
}

impl Timeline {
    /// The timeline of a seal; on a clock of readings it needs those at fitting and at the end.
    pub(crate) fn new(
        seal: &Seal,
        looks: &[&Inspection],
        clock: Clock,
        reading_now: Option<f64>,
    ) -> Result<Self, NoAge> {
        let mut line = Self {
            fitted: seal.fitted.first(),
            half: 0.5 * days_between(seal.fitted.first(), seal.fitted.last()) as f64,
            readings: vec![],
        };
        if clock == Clock::Days {
            return Ok(line);
        }
        let none = |column, reason: &str| NoAge {
            column,
            reason: reason.to_owned(),
        };
        let from = seal
            .fitted_reading
            .ok_or_else(|| none("fitted_reading", "no reading at fitting"))?;
        let end = match seal.removed {
            Some(_) => seal.removed_reading,
            None => reading_now,
        };
        let end = end.ok_or_else(|| {
            none(
                "removed_reading",
                "no reading at removal, or at its position at the cut-off",
            )
        })?;
        let mut readings = vec![(0.0, 0.0)];
        let seen = looks.iter().filter_map(|l| {
            let reading = l.reading?;
            Some((line.middle(&l.date), reading - from))
        });
        readings.extend(seen);
        let last = seal.removed.unwrap_or(Span::day(seal.watched_to));
        readings.push((line.middle(&last), end - from));
        readings.sort_by(|a, b| a.0.total_cmp(&b.0));
        let falls = readings
            .windows(2)
            .any(|w| matches!(w, [a, b] if b.1 < a.1));
        if falls {
            return Err(none(
                "removed_reading",
                "the readings of the seal and its looks run backwards",
            ));
        }
        line.readings = readings;
        Ok(line)
    }

    fn days(&self, date: Date) -> f64 {
        (days_between(self.fitted, date) as f64 - self.half).max(0.0)
    }

    fn middle(&self, span: &Span) -> f64 {
        0.5 * (self.days(span.first()) + self.days(span.last()))
    }

    /// Age at so many days; between readings in proportion to the days.
    fn at(&self, days: f64) -> f64 {
        let (Some(first), Some(last)) = (self.readings.first(), self.readings.last()) else {
            return days;
        };
        if days >= last.0 {
            return last.1;
        }
        let mut before = *first;
        for here in &self.readings {
            if here.0 > days {
                let share = (days - before.0) / (here.0 - before.0);
                return before.1 + share * (here.1 - before.1);
            }
            before = *here;
        }
        last.1
    }

    /// Age on the first, middle and last day that a date may stand for, none after `watched_to`.
    pub(crate) fn span(&self, span: &Span, watched_to: Date) -> (f64, f64, f64) {
        let (low, high) = (
            self.days(span.first()),
            self.days(span.last().min(watched_to)),
        );
        let high = high.max(low);
        (self.at(low), self.at(0.5 * (low + high)), self.at(high))
    }

    /// Age on a day.
    pub(crate) fn day(&self, date: Date) -> f64 {
        self.at(self.days(date))
    }
}
