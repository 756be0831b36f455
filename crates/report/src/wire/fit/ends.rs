//! Ends that an interval does not have, told apart: there is no limit, or it was not worked out.

use crate::wire::Number;
use sealspan_life::bounds::{Bounds, NoEnd};
use serde::Serialize;

/// Why an interval lacks an end, for programs; the number's `reason` says it in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct Ends {
    /// `no_limit`: values as low as one likes are admitted; `not_found`: there may be an end, the search for it broke
    /// off; `stated`: nothing was estimated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_lower: Option<NoEnd>,
    /// The same of the upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_upper: Option<NoEnd>,
}

const STATED: &str = "stated, not estimated: no interval";

impl Ends {
    /// What an interval lacks.
    #[must_use]
    pub fn of(bounds: &Bounds) -> Self {
        Self {
            no_lower: bounds.no_lower,
            no_upper: bounds.no_upper,
        }
    }

    /// Whether nothing is missing.
    #[must_use]
    pub fn complete(&self) -> bool {
        *self == Self::default()
    }

    /// What is missing, in words; `None` when nothing is.
    #[must_use]
    pub fn reason(&self) -> Option<String> {
        let side = |why: NoEnd, name: &str| match why {
            NoEnd::NoLimit => {
                format!("no {name} limit: the data admit values without end on this side")
            }
            NoEnd::NotFound => {
                format!(
                    "the {name} end was not worked out: the search for it broke off, which does not say that there is none"
                )
            }
            NoEnd::Stated => STATED.to_owned(),
        };
        match (self.no_lower, self.no_upper) {
            (None, None) => None,
            (Some(NoEnd::Stated), _) | (_, Some(NoEnd::Stated)) => Some(STATED.to_owned()),
            (Some(why), None) => Some(side(why, "lower")),
            (None, Some(why)) => Some(side(why, "upper")),
            (Some(a), Some(b)) => Some(format!("{}; {}", side(a, "lower"), side(b, "upper"))),
        }
    }
}

/// An estimate with its interval, and what the interval lacks.
pub(super) fn number(estimate: f64, bounds: &Bounds) -> (Number, Ends) {
    let ends = Ends::of(bounds);
    let number = Number {
        estimate: Some(estimate),
        lower: bounds.lower,
        upper: bounds.upper,
        reason: ends.reason(),
    };
    (number, ends)
}

/// The word that stands for a missing end in a table.
#[must_use]
pub fn missing(why: Option<NoEnd>) -> &'static str {
    match why {
        Some(NoEnd::NoLimit) => "no limit",
        _ => "not worked out",
    }
}
