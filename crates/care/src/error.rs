//! The one error of this crate: bad input, or a question that has no answer.

/// Why a decision could not be worked out. The text says what to change.
///
/// ```
/// use sealspan_care::{costs::{Costs, Prices}, error::Error};
/// use sealspan_records::observation::Clock;
/// let bad = Costs::new(Prices { planned_cost: -1.0, ..Prices::default() }, Clock::Days).unwrap_err();
/// assert!(bad.is_input() && !bad.is_no_answer());
/// assert_eq!(bad.mend(), "give a finite number, zero or more");
/// assert_eq!(bad.to_string(), "the planned cost is -1: give a finite number, zero or more");
/// let none = Error::unanswerable("No seal has failed.");
/// assert!(none.is_no_answer() && none.to_string() == "No seal has failed.");
/// ```
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(transparent)]
pub struct Error(#[from] Kind);

#[derive(Debug, Clone, PartialEq, thiserror::Error)]
enum Kind {
    #[error("{what} is {value}: {mend}")]
    Input {
        what: &'static str,
        value: String,
        mend: &'static str,
    },
    #[error("{0}")]
    NoAnswer(String),
}

/// Result of this crate.
pub type Result<T> = std::result::Result<T, Error>;

impl Error {
    pub(crate) fn input(what: &'static str, value: impl ToString, mend: &'static str) -> Self {
        Kind::Input {
            what,
            value: value.to_string(),
            mend,
        }
        .into()
    }

    pub(crate) fn no_answer(why: impl Into<String>) -> Self {
        Kind::NoAnswer(why.into()).into()
    }

    /// A question without an answer, said by a caller of this crate.
    #[must_use]
    pub fn unanswerable(why: &str) -> Self {
        Self::no_answer(why)
    }

    /// True when a given number is out of its range: the caller's to mend.
    #[must_use]
    pub fn is_input(&self) -> bool {
        matches!(self.0, Kind::Input { .. })
    }

    /// What to do about it.
    #[must_use]
    pub fn mend(&self) -> &'static str {
        match self.0 {
            Kind::Input { mend, .. } => mend,
            Kind::NoAnswer(_) => "change what is asked, or give more records",
        }
    }

    /// True when the input is fine but the question has no answer.
    #[must_use]
    pub fn is_no_answer(&self) -> bool {
        matches!(self.0, Kind::NoAnswer(_))
    }
}

/// `value` when it is finite and not negative.
pub(crate) fn not_negative(what: &'static str, value: f64) -> Result<f64> {
    if value.is_finite() && value >= 0.0 {
        Ok(value)
    } else {
        Err(Error::input(
            what,
            value,
            "give a finite number, zero or more",
        ))
    }
}

/// `value` when it is finite and above zero.
pub(crate) fn positive(what: &'static str, value: f64) -> Result<f64> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(Error::input(what, value, "give a finite number above zero"))
    }
}

/// `value` when it lies strictly between 0 and 1.
pub(crate) fn share(what: &'static str, value: f64) -> Result<f64> {
    if value > 0.0 && value < 1.0 {
        Ok(value)
    } else {
        Err(Error::input(
            what,
            value,
            "give a share between 0 and 1, for example 0.95",
        ))
    }
}
