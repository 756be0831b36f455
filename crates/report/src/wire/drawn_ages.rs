//! How failures known only to lie between two looks came into methods that need exact ages.

use crate::number;
use sealspan_life::hazards::Source;
use serde::Serialize;

/// A share of a variance above which an answer leans on where the ages were drawn from (a rule of ours).
const LEANS: f64 = 0.3;

/// What was drawn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrawnAges {
    /// Failures whose ages were drawn within their intervals.
    pub failures: f64,
    /// How often.
    pub copies: usize,
    /// Seed.
    pub seed: u64,
    /// The law that they were drawn from.
    pub from: &'static str,
    /// Largest share of a variance that comes from not knowing the ages: of a coefficient's, or of the scores' of a test.
    pub largest_share: f64,
    /// How the copies were put together.
    pub method: &'static str,
    /// In a sentence.
    pub words: String,
}

impl DrawnAges {
    /// For proportional hazards.
    #[must_use]
    pub(crate) fn from_regression(
        failures: f64,
        source: Source<'_>,
        held: bool,
        largest_share: f64,
    ) -> Self {
        let leans = if largest_share > LEANS {
            "; so much that this check leans on the regression that it checks"
        } else {
            ""
        };
        let law = if held {
            "a regression whose effects are held near 0 (for that above has no answer)"
        } else {
            "the regression"
        };
        Self {
            failures,
            copies: source.copies,
            seed: source.seed,
            from: if held {
                "penalised_regression"
            } else {
                "regression"
            },
            largest_share,
            method: "multiple imputation, combined by Rubin's rules (1987; from memory)",
            words: format!(
                "{failures:.0} failures lie between two looks: their ages were drawn {} times from {law} within their intervals (seed {}); not knowing them makes up at most {} of a coefficient's variance{leans}",
                source.copies,
                source.seed,
                of_variance(largest_share)
            ),
        }
    }

    /// For the log-rank family.
    #[must_use]
    pub(crate) fn from_curve(failures: f64, copies: usize, seed: u64, largest_share: f64) -> Self {
        Self {
            failures,
            copies,
            seed,
            from: "interval_curve",
            largest_share,
            method: "scores averaged over the drawings, variance less that between them (Huang, Lee & Yu 2008; from memory)",
            words: format!(
                "{failures:.0} failures lie between two looks: the tests average {copies} drawings of their ages from the interval curve of all groups (seed {seed}), which takes {} of the scores' variance away",
                of_variance(largest_share)
            ),
        }
    }

    /// For Gray's test.
    #[must_use]
    pub(crate) fn from_shares(failures: f64, copies: usize, seed: u64, largest_share: f64) -> Self {
        Self {
            failures,
            copies,
            seed,
            from: "shares_by_mode",
            largest_share,
            method: "scores averaged over the drawings, variance less that between them (as Huang, Lee & Yu 2008 do for the log-rank test; from memory)",
            words: format!(
                "Gray's test: {failures:.0} failures of all modes lie between two looks: it averages {copies} drawings of their ages from the likeliest shares by mode of all groups (seed {seed}), which takes {} of its scores' variance away",
                of_variance(largest_share)
            ),
        }
    }
}

fn of_variance(share: f64) -> String {
    if share < 0.001 {
        "less than 0.1 %".to_owned()
    } else {
        number::percent(share)
    }
}
