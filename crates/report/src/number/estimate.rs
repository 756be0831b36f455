//! An estimate with its interval, or the reason why there is none, in words.

use super::{NBSP, level, percent_number, significant, to_width, with_currency};

/// The unit of a number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unit {
    /// No unit: a shape, a ratio, a count.
    None,
    /// A unit written after the number, in the plural: "days", "°C".
    Word(String),
    /// The number is a share between 0 and 1 and is written as per cent.
    Share,
    /// Money in a currency, written before the number.
    Money(String),
    /// Money for each unit of something: "EUR 3.10 per day".
    MoneyPer {
        /// The currency, as the study names it.
        currency: String,
        /// What it is paid for, in the singular: "day", "year".
        per: String,
    },
}

impl Unit {
    /// A unit written after the number, in the plural.
    #[must_use]
    pub fn word(unit: impl Into<String>) -> Self {
        Self::Word(unit.into())
    }

    /// Put the unit to a number that is already written out.
    fn attach(&self, number: &str) -> String {
        match self {
            Self::None => number.to_owned(),
            Self::Word(unit) if number == "1" => {
                format!("{number}{NBSP}{}", unit.strip_suffix('s').unwrap_or(unit))
            }
            Self::Word(unit) => format!("{number}{NBSP}{unit}"),
            Self::Share => format!("{number}{NBSP}%"),
            Self::Money(currency) => with_currency(number, currency),
            Self::MoneyPer { currency, per } => {
                format!("{} per {per}", with_currency(number, currency))
            }
        }
    }

    fn digits(&self, value: f64, width: Option<f64>) -> String {
        match (self, width) {
            (Self::Share, Some(width)) => to_width(value * 100.0, width * 100.0),
            (Self::Share, None) => percent_number(value),
            (_, Some(width)) => to_width(value, width),
            (_, None) => significant(value, 3),
        }
    }
}

/// What an interval is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IntervalKind {
    /// Covers the true value of a parameter in repeated samples.
    Confidence,
    /// Covers one future observation.
    Prediction,
    /// Covers a stated share of the population.
    Tolerance,
    /// Holds the stated posterior probability.
    Credible,
}

impl IntervalKind {
    /// The kind in words.
    #[must_use]
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Confidence => "confidence",
            Self::Prediction => "prediction",
            Self::Tolerance => "tolerance",
            Self::Credible => "credible",
        }
    }
}

/// How sure an estimate is. Levels are shares between 0 and 1.
#[derive(Debug, Clone, PartialEq)]
pub enum Range {
    /// A two-sided interval.
    Between {
        /// What the interval is for.
        kind: IntervalKind,
        /// Its two-sided level.
        level: f64,
        /// Lower end, in the estimate's unit.
        lower: f64,
        /// Upper end, in the estimate's unit.
        upper: f64,
    },
    /// A one-sided lower bound.
    AtLeast {
        /// What the bound is for.
        kind: IntervalKind,
        /// Its one-sided level.
        level: f64,
        /// The bound, in the estimate's unit.
        lower: f64,
    },
    /// A one-sided upper bound.
    AtMost {
        /// What the bound is for.
        kind: IntervalKind,
        /// Its one-sided level.
        level: f64,
        /// The bound, in the estimate's unit.
        upper: f64,
    },
    /// No interval, and why.
    Missing(String),
}

/// A number with its unit and its interval, or the reason why it is missing.
///
/// ```
/// use sealspan_report::number::{Estimate, NBSP, Unit};
/// let life = Estimate::confidence(412.3, 0.9, 356.2, 480.4, Unit::word("days"));
/// let plain = |text: String| text.replace(NBSP, " ");
/// assert_eq!(plain(life.short()), "412 days");
/// assert_eq!(plain(life.interval()), "90 % confidence interval 356 to 480");
/// assert_eq!(plain(life.sentence()), "412 days (90 % confidence interval 356 to 480)");
/// let none = Estimate::not_estimable("no failures were seen", Unit::word("days"));
/// assert_eq!(none.sentence(), "not estimable: no failures were seen");
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// The point estimate; none when only a bound can be given.
    pub value: Option<f64>,
    /// Its interval, or why there is none.
    pub range: Range,
    /// The unit of value and interval.
    pub unit: Unit,
}

impl Estimate {
    /// An estimate with a two-sided confidence interval.
    #[must_use]
    pub fn confidence(value: f64, level: f64, lower: f64, upper: f64, unit: Unit) -> Self {
        Self {
            value: Some(value),
            range: Range::Between {
                kind: IntervalKind::Confidence,
                level,
                lower,
                upper,
            },
            unit,
        }
    }

    /// Nothing can be said, for the given reason.
    #[must_use]
    pub fn not_estimable(reason: impl Into<String>, unit: Unit) -> Self {
        Self {
            value: None,
            range: Range::Missing(reason.into()),
            unit,
        }
    }

    /// The estimate alone: "412 days"; with one bound only, "at least 310
    /// days"; "not estimable" when there is no number at all.
    #[must_use]
    pub fn short(&self) -> String {
        let width = self.width();
        let finite = |v: f64| v.is_finite();
        match (self.value.filter(|v| finite(*v)), &self.range) {
            (Some(value), _) => self.unit.attach(&self.unit.digits(value, width)),
            (None, Range::AtLeast { lower, .. }) if finite(*lower) => {
                format!("at least {}", self.written(*lower))
            }
            (None, Range::AtMost { upper, .. }) if finite(*upper) => {
                format!("at most {}", self.written(*upper))
            }
            _ => "not estimable".to_owned(),
        }
    }

    /// The interval alone, "90 % confidence interval 356 to 480", or the
    /// reason why there is none.
    #[must_use]
    pub fn interval(&self) -> String {
        match &self.range {
            Range::Between {
                kind,
                level: two_sided,
                lower,
                upper,
            } => {
                let (lower, upper) = self.ends(*lower, *upper);
                let (level, kind) = (level(*two_sided), kind.word());
                format!("{level} {kind} interval {lower} to {upper}")
            }
            Range::AtLeast { kind, level: l, .. } => {
                format!("{} one-sided lower {} bound", level(*l), kind.word())
            }
            Range::AtMost { kind, level: l, .. } => {
                format!("{} one-sided upper {} bound", level(*l), kind.word())
            }
            Range::Missing(reason) => format!("no interval: {reason}"),
        }
    }

    /// The whole: "412 days (90 % confidence interval 356 to 480)", or "not
    /// estimable: no failures were seen".
    #[must_use]
    pub fn sentence(&self) -> String {
        let short = self.short();
        if short == "not estimable" {
            return match &self.range {
                Range::Missing(reason) => format!("not estimable: {reason}"),
                _ => "not estimable: the bound is not a finite number".to_owned(),
            };
        }
        let both = match (&self.range, self.value) {
            (Range::AtLeast { lower, .. }, Some(_)) => {
                format!("{}, at least {}", self.interval(), self.written(*lower))
            }
            (Range::AtMost { upper, .. }, Some(_)) => {
                format!("{}, at most {}", self.interval(), self.written(*upper))
            }
            _ => self.interval(),
        };
        format!("{short} ({both})")
    }

    fn width(&self) -> Option<f64> {
        match self.range {
            Range::Between { lower, upper, .. } => {
                Some(upper - lower).filter(|w| w.is_finite() && *w > 0.0)
            }
            _ => None,
        }
    }

    fn written(&self, value: f64) -> String {
        self.unit.attach(&self.unit.digits(value, self.width()))
    }

    fn ends(&self, lower: f64, upper: f64) -> (String, String) {
        let width = self.width();
        let end = |value: f64| {
            if value == f64::INFINITY {
                "unbounded".to_owned()
            } else {
                self.unit.digits(value, width)
            }
        };
        let upper = match self.unit {
            Unit::Share => format!("{}{NBSP}%", end(upper)),
            _ => end(upper),
        };
        (end(lower), upper)
    }
}
