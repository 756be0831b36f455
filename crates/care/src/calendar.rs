//! Ages rounded down to what a service calendar can hold.

use sealspan_records::observation::Clock;
use serde::Serialize;

const DAYS_PER_YEAR: f64 = 365.25;

/// The step of a service calendar.
///
/// ```
/// use sealspan_care::calendar::Calendar;
/// assert!((12.0 * Calendar::Months.days() - 365.25).abs() < 1e-9);
/// let words: Vec<_> = Calendar::Months.and_finer().map(Calendar::word).collect();
/// assert_eq!(words, ["month", "week"]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Calendar {
    /// Weeks of 7 days.
    Weeks,
    /// Months of 365.25 / 12 days.
    #[default]
    Months,
    /// Quarters of 365.25 / 4 days.
    Quarters,
}

impl Calendar {
    /// Days in one step.
    #[must_use]
    pub fn days(self) -> f64 {
        match self {
            Self::Weeks => 7.0,
            Self::Months => DAYS_PER_YEAR / 12.0,
            Self::Quarters => DAYS_PER_YEAR / 4.0,
        }
    }

    /// This step and the finer ones, for ages that are shorter than it.
    pub fn and_finer(self) -> impl Iterator<Item = Self> {
        let all = [Self::Quarters, Self::Months, Self::Weeks];
        all.into_iter().filter(move |c| c.days() <= self.days())
    }

    /// Name of one step.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Weeks => "week",
            Self::Months => "month",
            Self::Quarters => "quarter",
        }
    }
}

/// An age rounded down.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rounded {
    /// Whole steps of the calendar (days), or the age itself (usage).
    pub count: f64,
    /// What is counted: `week`, `month`, `quarter`, or the unit of usage.
    pub step: &'static str,
    /// The age in the unit of its clock.
    pub age: f64,
}

/// `age` on a clock rounded down: days to whole steps of the calendar, usage to two significant digits. `None`
/// when less than one step is left.
///
/// ```
/// use sealspan_care::calendar::{Calendar, rounded_down};
/// use sealspan_records::observation::Clock;
/// assert_eq!(rounded_down(364.0, Clock::Days, Calendar::Months).unwrap().count, 11.0);
/// assert_eq!(rounded_down(1290.0, Clock::Cycles, Calendar::Months).unwrap().age, 1200.0);
/// assert!(rounded_down(6.9, Clock::Days, Calendar::Weeks).is_none());
/// ```
#[must_use]
pub fn rounded_down(age: f64, clock: Clock, calendar: Calendar) -> Option<Rounded> {
    if !(age.is_finite() && age > 0.0) {
        return None;
    }
    if clock == Clock::Days {
        let count = (age / calendar.days()).floor();
        return (count >= 1.0).then(|| Rounded {
            count,
            step: calendar.word(),
            age: count * calendar.days(),
        });
    }
    let step = 10f64.powf(age.log10().floor() - 1.0).max(1.0);
    let count = (age / step).floor() * step;
    (count >= 1.0).then_some(Rounded {
        count,
        step: clock.unit(),
        age: count,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn never_rounds_up() {
        for calendar in [Calendar::Weeks, Calendar::Months, Calendar::Quarters] {
            for tenths in 1..20_000 {
                let age = f64::from(tenths) / 10.0;
                let Some(r) = rounded_down(age, Clock::Days, calendar) else {
                    assert!(age < calendar.days());
                    continue;
                };
                assert!(r.age <= age && age - r.age < calendar.days());
            }
        }
        for age in [1.0, 9.9, 10.0, 99.9, 1290.0, 12_999.0] {
            let r = rounded_down(age, Clock::Hours, Calendar::Months).unwrap();
            assert!(r.age <= age && r.age > 0.89 * age - 1.0, "{age}");
        }
        assert_eq!(
            rounded_down(366.0, Clock::Days, Calendar::Quarters)
                .unwrap()
                .count,
            4.0
        );
    }

    #[test]
    fn an_age_that_is_no_time_has_no_whole_part() {
        for clock in [Clock::Days, Clock::Hours] {
            for age in [f64::INFINITY, f64::NAN, 0.0, -40.0] {
                assert_eq!(rounded_down(age, clock, Calendar::Months), None, "{age}");
            }
        }
    }
}
