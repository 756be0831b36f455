//! Ends that an interval does not have, told apart: there is no limit, or it was not worked out.

use crate::wire::Number;
use sealspan_life::bounds::{Bounds, NoEnd};
use serde::Serialize;

/// Why an interval lacks an end, for programs; the number's `reason` says it in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct Ends {
    /// `no_limit`: values as low as one likes are admitted; `not_found`: there may be an end, the search for it broke
    /// off; `closes_in`: on this side the likelihood closes in on a few failures and says nothing; `stated`: nothing was
    /// estimated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_lower: Option<NoEnd>,
    /// The same of the upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_upper: Option<NoEnd>,
}

const BEYOND_DRAWS: &str = "at this confidence fewer than one draw lies beyond each end: the draws do not reach so far out; ask for less confidence";
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
            NoEnd::BeyondDraws => BEYOND_DRAWS.to_owned(),
            NoEnd::ClosesIn => format!(
                "no {name} end from the likelihood: on this side it is highest where one part of the law closes in on a few failures, where it has no limit and says nothing; --bounds posterior has an end"
            ),
        };
        match (self.no_lower, self.no_upper) {
            (None, None) => None,
            (Some(NoEnd::Stated), _) | (_, Some(NoEnd::Stated)) => Some(STATED.to_owned()),
            (Some(NoEnd::BeyondDraws), Some(NoEnd::BeyondDraws)) => Some(BEYOND_DRAWS.to_owned()),
            (Some(why), None) => Some(side(why, "lower")),
            (None, Some(why)) => Some(side(why, "upper")),
            (Some(a), Some(b)) => Some(format!("{}; {}", side(a, "lower"), side(b, "upper"))),
        }
    }
}

/// An estimate with its interval, and what the interval lacks.
pub(super) fn number(estimate: f64, bounds: &Bounds) -> (Number, Ends) {
    let finite = |end: Option<f64>| end.filter(|x| x.is_finite());
    let past = [bounds.lower, bounds.upper]
        .iter()
        .flatten()
        .any(|x| !x.is_finite());
    let ends = Ends::of(bounds);
    let number = Number {
        estimate: Some(estimate),
        lower: finite(bounds.lower),
        upper: finite(bounds.upper),
        reason: ends
            .reason()
            .or_else(|| past.then(|| OUT_OF_RANGE.to_owned())),
    };
    (number, ends)
}

/// Said of what is too large or too small to be written as a number.
pub(super) const OUT_OF_RANGE: &str =
    "beyond the range of the arithmetic: measure ages in a larger or smaller unit";

/// The word that stands for a missing end in a table.
#[must_use]
pub fn missing(why: Option<NoEnd>) -> &'static str {
    match why {
        Some(NoEnd::NoLimit) => "no limit",
        Some(NoEnd::BeyondDraws) => "not reached",
        Some(NoEnd::ClosesIn) => "no end",
        _ => "not worked out",
    }
}
