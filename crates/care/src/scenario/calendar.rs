//! Days counted from the start of a run, and dates as a clerk writes them.

use std::fmt;

use jiff::{SignedDuration, civil::Date};

/// Whole days from `from` to `to`; negative when `to` is earlier.
pub(super) fn days_between(from: Date, to: Date) -> i64 {
    from.duration_until(to).as_hours() / 24
}

/// The day `days` after `from`, held inside the calendar's range.
pub(super) fn day_after(from: Date, days: i64) -> Date {
    from.saturating_add(SignedDuration::from_hours(days.saturating_mul(24)))
}

/// A quarter of a year, as it is moulded on elastomer seals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Quarter {
    year: i16,
    number: i8,
}

impl Quarter {
    /// Reads "2022-Q1".
    pub fn parse(text: &str) -> Option<Self> {
        let (year, number) = text.split_once("-Q")?;
        let year = year.parse().ok().filter(|y| (1900..=2999).contains(y))?;
        let number = number.parse().ok().filter(|n| (1..=4).contains(n))?;
        Some(Self { year, number })
    }

    /// The quarter in which `date` lies.
    pub fn of(date: Date) -> Self {
        Self {
            year: date.year(),
            number: (date.month() - 1) / 3 + 1,
        }
    }

    /// The quarter before.
    pub fn previous(self) -> Self {
        if self.number > 1 {
            Self {
                number: self.number - 1,
                ..self
            }
        } else {
            Self {
                year: self.year - 1,
                number: 4,
            }
        }
    }

    /// A running number, one more each quarter.
    pub fn serial(self) -> usize {
        usize::try_from(i32::from(self.year) * 4 + i32::from(self.number)).unwrap_or(0)
    }

    /// "221" for the first quarter of 2022: the tail of a batch name.
    pub fn code(self) -> String {
        format!("{:02}{}", self.year.rem_euclid(100), self.number)
    }
}

impl fmt::Display for Quarter {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{:04}-Q{}", self.year, self.number)
    }
}

/// How fine a written date is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Precision {
    /// 2022-03-17
    Day,
    /// 2022-03
    Month,
    /// 2022-Q1
    Quarter,
}

/// A date as it stands in the records.
///
/// ```
/// use sealspan_care::scenario::{Precision, Written};
/// let day = jiff::civil::date(2023, 11, 5);
/// assert_eq!(Written::day(day).to_string(), "2023-11-05");
/// assert_eq!(Written { day, precision: Precision::Quarter }.to_string(), "2023-Q4");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Written {
    /// The true day.
    pub day: Date,
    /// How much of it was written down.
    pub precision: Precision,
}

impl Written {
    /// A date written to the day.
    #[must_use]
    pub fn day(day: Date) -> Self {
        Self {
            day,
            precision: Precision::Day,
        }
    }
}

impl fmt::Display for Written {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.precision {
            Precision::Day => self.day.fmt(out),
            Precision::Month => write!(out, "{:04}-{:02}", self.day.year(), self.day.month()),
            Precision::Quarter => Quarter::of(self.day).fmt(out),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use jiff::civil::date;

    #[test]
    fn days_add_and_subtract_over_a_leap_day() {
        let start = date(2020, 2, 27);
        assert_eq!(day_after(start, 3), date(2020, 3, 1));
        assert_eq!(days_between(start, date(2020, 3, 1)), 3);
        assert_eq!(days_between(date(2020, 3, 1), start), -3);
    }

    #[test]
    fn quarters_read_write_and_step() {
        let quarter = Quarter::parse("2022-Q1").unwrap();
        assert_eq!(quarter.to_string(), "2022-Q1");
        assert_eq!(quarter.previous().to_string(), "2021-Q4");
        assert_eq!(quarter.serial(), quarter.previous().serial() + 1);
        assert_eq!(Quarter::of(date(2022, 3, 31)), quarter);
        assert!(Quarter::parse("2022-Q5").is_none());
        assert!(Quarter::parse("22/1").is_none());
    }

    #[test]
    fn coarse_dates_are_written_coarsely() {
        let day = date(2023, 11, 5);
        let text = |precision| Written { day, precision }.to_string();
        assert_eq!(text(Precision::Day), "2023-11-05");
        assert_eq!(text(Precision::Month), "2023-11");
        assert_eq!(text(Precision::Quarter), "2023-Q4");
    }
}
