//! Calendar dates of every precision: a day, a month, a quarter or a year, as a span of days.

use jiff::civil::Date;

/// How finely a date was written down; the order is from fine to coarse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Precision {
    /// To the day.
    Day,
    /// To the month.
    Month,
    /// To the quarter.
    Quarter,
    /// To the year.
    Year,
}

/// A date as the days it may stand for, first and last included.
///
/// ```
/// use jiff::civil::date;
/// use sealspan_records::dates::{Precision, Span};
/// let quarter = Span::quarter(2024, 1).unwrap();
/// assert_eq!((quarter.first(), quarter.last()), (date(2024, 1, 1), date(2024, 3, 31)));
/// assert_eq!(quarter.precision(), Precision::Quarter);
/// let day = Span::day(date(2024, 2, 29));
/// assert!(day.is_day() && day.meets(&quarter) && quarter.meets(&Span::year(2024).unwrap()));
/// assert_eq!(day.by_month(), Span::month(2024, 2).unwrap());
/// assert_eq!(Span::day(date(1970, 1, 11)).middle_day(), 10.0); // days since 1970-01-01
/// assert!(Span::quarter(2024, 5).is_none());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    first: Date,
    last: Date,
    precision: Precision,
}

impl Span {
    /// One day.
    #[must_use]
    pub fn day(date: Date) -> Self {
        Self {
            first: date,
            last: date,
            precision: Precision::Day,
        }
    }

    /// A whole month, 1 to 12; `None` when there is no such month.
    #[must_use]
    pub fn month(year: i16, month: i8) -> Option<Self> {
        let first = Date::new(year, month, 1).ok()?;
        Some(Self {
            first,
            last: first.last_of_month(),
            precision: Precision::Month,
        })
    }

    /// A whole quarter, 1 to 4; `None` when there is no such quarter.
    #[must_use]
    pub fn quarter(year: i16, quarter: i8) -> Option<Self> {
        if !(1..=4).contains(&quarter) {
            return None;
        }
        Some(Self {
            first: Date::new(year, 3 * quarter - 2, 1).ok()?,
            last: Date::new(year, 3 * quarter, 1).ok()?.last_of_month(),
            precision: Precision::Quarter,
        })
    }

    /// A whole year; `None` when it is out of range.
    #[must_use]
    pub fn year(year: i16) -> Option<Self> {
        let first = Date::new(year, 1, 1).ok()?;
        Some(Self {
            first,
            last: first.last_of_year(),
            precision: Precision::Year,
        })
    }

    /// First day it may stand for.
    #[must_use]
    pub fn first(&self) -> Date {
        self.first
    }

    /// Last day it may stand for.
    #[must_use]
    pub fn last(&self) -> Date {
        self.last
    }

    /// How finely it was written down.
    #[must_use]
    pub fn precision(&self) -> Precision {
        self.precision
    }

    /// Its middle, in days since 1970-01-01 (that day is 0): where a date known to a month or a quarter is drawn. Half the
    /// sum of the first and the last day's number, so a half for an even number of days.
    #[must_use]
    pub fn middle_day(&self) -> f64 {
        let epoch = Date::constant(1970, 1, 1);
        0.5 * (days_between(epoch, self.first) + days_between(epoch, self.last)) as f64
    }

    /// The month it lies in, or the quarter or year where it is not known to the month.
    #[must_use]
    pub fn by_month(&self) -> Self {
        if self.is_day() {
            Self::month(self.first.year(), self.first.month()).unwrap_or(*self)
        } else {
            *self
        }
    }

    /// True for a date to the day.
    #[must_use]
    pub fn is_day(&self) -> bool {
        self.precision == Precision::Day
    }

    /// True when the two have a day in common, so that they may be the same day.
    #[must_use]
    pub fn meets(&self, other: &Span) -> bool {
        self.first <= other.last && other.first <= self.last
    }
}

impl std::fmt::Display for Span {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (year, month) = (self.first.year(), self.first.month());
        match self.precision {
            Precision::Day => write!(f, "{}", self.first),
            Precision::Month => write!(f, "{year:04}-{month:02}"),
            Precision::Quarter => write!(f, "{year:04}-Q{}", (month + 2) / 3),
            Precision::Year => write!(f, "{year:04}"),
        }
    }
}

/// Whole days from `from` to `to`; negative when `to` is earlier.
///
/// ```
/// use jiff::civil::date;
/// assert_eq!(sealspan_records::dates::days_between(date(2024, 2, 28), date(2024, 3, 1)), 2);
/// ```
#[must_use]
pub fn days_between(from: Date, to: Date) -> i64 {
    to.duration_since(from).as_secs() / 86_400
}

/// The date so many days after 1970-01-01, rounded down to a whole day, as text (`YYYY-MM-DD`); `None` when out of range
/// or not a number.
///
/// ```
/// use sealspan_records::dates::text_of_day;
/// assert_eq!(text_of_day(10.0).as_deref(), Some("1970-01-11"));
/// assert_eq!(text_of_day(-0.5).as_deref(), Some("1969-12-31"));
/// assert_eq!((text_of_day(1e18), text_of_day(f64::NAN)), (None, None));
/// ```
#[must_use]
pub fn text_of_day(day: f64) -> Option<String> {
    let days = day.is_finite().then(|| day.floor() as i64)?;
    from_epoch_days(days).map(|d| d.to_string())
}

/// The date so many days after 1970-01-01; `None` when out of range.
pub(crate) fn from_epoch_days(days: i64) -> Option<Date> {
    let epoch = Date::constant(1970, 1, 1);
    epoch
        .checked_add(jiff::SignedDuration::from_secs(days.checked_mul(86_400)?))
        .ok()
}
