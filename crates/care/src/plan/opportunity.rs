//! Replacing when the asset is open anyway: from which age on it pays.

use super::{Choice, Planner};
use crate::error::{Error, Result, positive};
use crate::evaluate::{Outcome, Prepared};
use crate::policy::CarePolicy;
use crate::seal::{FailureSign, Seal};
use crate::search;
use serde::Serialize;

/// Replacing at opportunities from an age on, with or without a replacement age.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OpportunityAnswer {
    /// Mean time between opportunities.
    pub mean_between: f64,
    /// Age from which an opportunity is taken; `None` when none should be.
    pub from_age: Option<f64>,
    /// Age at which the seal is replaced without waiting for one; `None` when never.
    pub replace_at: Option<f64>,
    /// The figures.
    #[serde(flatten)]
    pub figures: Outcome,
    /// Share saved against the same without opportunities, in the goal's own measure.
    pub saving: f64,
}

const POINTS: usize = 20;
const AGES: usize = 24;

impl Planner {
    /// The best threshold and replacement age when the asset is opened at random, on average once in
    /// `mean_between` units of the clock.
    ///
    /// # Errors
    /// When the seal fails in two stages or hidden, or the time is out of range.
    pub fn opportunities(&self, mean_between: f64) -> Result<OpportunityAnswer> {
        positive("the time between opportunities", mean_between)?;
        let seal = self.model.seal();
        if seal.delay.is_some() || seal.failure == FailureSign::Hidden {
            return Err(Error::no_answer(
                "Opportunities are worked out for seals that fail evidently and in one stage.",
            ));
        }
        let model = Prepared::new(&Seal {
            opportunity_rate: 1.0 / mean_between,
            ..seal.clone()
        })?;
        let policy = |from: Option<f64>, age: Option<f64>| CarePolicy {
            opportunity_from: from,
            replace_at: age,
            ..CarePolicy::run_to_failure()
        };
        let score = |from: Option<f64>, age: Option<f64>| {
            model
                .rough(&policy(from, age), &self.terms, None)
                .map_or(f64::INFINITY, |outcome| self.score(&outcome))
        };
        let best_age = |from: Option<f64>| match self.request.replace {
            Choice::At(age) => (Some(age), score(from, Some(age))),
            Choice::Never => (None, score(from, None)),
            Choice::Free => {
                let along = |age: f64| score(from, Some(age));
                let best = search::valleys(&along, self.ages(), AGES, 1);
                let never = score(from, None);
                best.first()
                    .filter(|valley| valley.value < never)
                    .map_or((None, never), |valley| (Some(valley.at), valley.value))
            }
        };
        let along = |from: f64| best_age(Some(from)).1;
        let threshold = search::valleys(&along, self.ages(), POINTS, 1)
            .first()
            .copied();
        let (plain_age, plain) = best_age(None);
        // The search's figures are rough: an age that hardly a seal reaches may seem to gain by their error alone.
        let exact = |from: Option<f64>, age: Option<f64>| -> Result<(Option<f64>, Outcome)> {
            let figures = model.evaluate(&policy(from, age), &self.terms)?;
            if self.request.replace != Choice::Free || age.is_none() {
                return Ok((age, figures));
            }
            let open = model.evaluate(&policy(from, None), &self.terms)?;
            Ok(match self.idle(&figures, &open) {
                true => (None, open),
                false => (age, figures),
            })
        };
        let without = exact(None, plain_age)?;
        let (from_age, (replace_at, figures)) = match threshold.filter(|v| v.value < plain) {
            Some(valley) => {
                let with = exact(Some(valley.at), best_age(Some(valley.at)).0)?;
                match self.gains(&with.1, &without.1) {
                    true => (Some(valley.at), with),
                    false => (None, without),
                }
            }
            None => (None, without),
        };
        Ok(OpportunityAnswer {
            mean_between,
            from_age,
            replace_at,
            figures,
            saving: 1.0 - self.measure(&figures) / self.measure(&without.1),
        })
    }
}
