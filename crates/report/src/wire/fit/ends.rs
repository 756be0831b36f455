//! Ends that an interval does not have, told apart: there is no limit, or it was not worked out.

use crate::wire::Number;
use sealspan_life::bounds::{Bounds, NoEnd};
use serde::Serialize;

/// Why an interval lacks an end, for programs; the number's `reason` says it in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct Ends {
    /// `no_limit`: values as low as one likes are admitted; `not_found`: there may be an end, the search for it broke
    /// off; `closes_in`: on this side the likelihood closes in on a few failures and says nothing; `changed_places`: on
    /// this side it has two parts change places; `infinite`: the quantity itself is; `stated`: nothing was estimated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_lower: Option<NoEnd>,
    /// The same of the upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_upper: Option<NoEnd>,
}

const BEYOND_DRAWS: &str = "at this confidence fewer than one draw lies beyond each end: the draws do not reach so far out; ask for less confidence";
const INFINITE: &str = "infinite under this law: no interval";
const STATED: &str = "stated, not estimated: no interval";

impl Ends {
    /// What an interval lacks.
    #[must_use]
    pub(crate) fn of(bounds: &Bounds) -> Self {
        Self {
            no_lower: bounds.no_lower,
            no_upper: bounds.no_upper,
        }
    }

    /// Whether nothing is missing.
    #[must_use]
    pub(crate) fn complete(&self) -> bool {
        *self == Self::default()
    }

    /// What is missing, in words; `None` when nothing is.
    #[must_use]
    pub(crate) fn reason(&self) -> Option<String> {
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
            NoEnd::Infinite => INFINITE.to_owned(),
            NoEnd::ChangedPlaces => format!(
                "no {name} end: on this side the two parts change places, so that the parameters of each by itself mean little; ages, shares and mean life do not hang on which part is named first; --bounds posterior has an end"
            ),
            NoEnd::BeyondDraws => BEYOND_DRAWS.to_owned(),
            NoEnd::ClosesIn => format!(
                "no {name} end from the likelihood: on this side it is highest where one part of the law closes in on a few failures, where it has no limit and says nothing; --bounds posterior has an end"
            ),
        };
        match (self.no_lower, self.no_upper) {
            (None, None) => None,
            (Some(NoEnd::Stated), _) | (_, Some(NoEnd::Stated)) => Some(STATED.to_owned()),
            (Some(NoEnd::Infinite), Some(NoEnd::Infinite)) => Some(INFINITE.to_owned()),
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
///
/// ```
/// use sealspan_report::wire::fit::missing;
/// assert_eq!(missing(None), "not worked out");
/// ```
#[must_use]
pub fn missing(why: Option<NoEnd>) -> &'static str {
    match why {
        Some(NoEnd::NoLimit) => "no limit",
        Some(NoEnd::BeyondDraws) => "not reached",
        Some(NoEnd::ClosesIn | NoEnd::ChangedPlaces) => "no end",
        Some(NoEnd::Infinite) => "infinite",
        _ => "not worked out",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every reason is told in words of its own, on the side it holds for.
    #[test]
    fn a_missing_end_says_why() {
        for (why, words) in [
            (NoEnd::NoLimit, "no upper limit: the data admit values"),
            (NoEnd::NotFound, "the search for it broke off"),
            (NoEnd::ClosesIn, "no upper end from the likelihood"),
            (
                NoEnd::ChangedPlaces,
                "no upper end: on this side the two parts change places",
            ),
        ] {
            let number = number(
                1.0,
                &Bounds {
                    lower: Some(0.5),
                    no_upper: Some(why),
                    ..Bounds::default()
                },
            )
            .0;
            let reason = number.reason.unwrap_or_default();
            assert!(reason.contains(words), "{reason}");
        }
        for (why, words) in [
            (NoEnd::Infinite, INFINITE),
            (NoEnd::Stated, STATED),
            (NoEnd::BeyondDraws, BEYOND_DRAWS),
        ] {
            assert_eq!(
                Ends::of(&Bounds::none(why)).reason().as_deref(),
                Some(words)
            );
        }
    }
}
