//! Running to failure and replacing at an age, for seals of every kind.

use super::{BROKEN, Limits, Planner};
use crate::answer::{OffBest, Replace, RunToFailure};
use crate::error::{Error, Result, positive};
use crate::evaluate::Outcome;
use crate::policy::CarePolicy;
use crate::replacement::{Evaluator, FLAT, WORTH_DOING};
use crate::seal::FailureSign;
use crate::search;
use sealspan_life::life::Life;

const NO_DISCOUNT: &str = "No present value: no discount rate was given.";

impl Planner {
    /// The life of a seal whose failure is one evident event: what the simpler evaluator of replacement
    /// ages takes.
    ///
    /// # Errors
    /// When a ring's life is out of the range of numbers.
    pub fn single_life(&self) -> Result<Option<Life>> {
        let seal = self.model.seal();
        if seal.delay.is_some() || seal.failure == FailureSign::Hidden {
            return Ok(None);
        }
        seal.law().map(Some)
    }

    /// Replacing on failure only. A hidden failure is then never found: in the long run its cost goes
    /// on at the undetected rate.
    ///
    /// # Errors
    /// As [`Planner::evaluate`].
    pub fn run_to_failure(&self) -> Result<RunToFailure> {
        if let Some(life) = self.single_life()? {
            let mut run = Evaluator::new(&life, &self.costs, self.request.goal)?.run_to_failure();
            // The wait for a spare is known here only.
            let figures = self.evaluate(&CarePolicy::run_to_failure())?;
            if self.handling.spare_wait_hours > 0.0 {
                run.cost_rate = figures.cost_rate;
                run.availability = run.availability.map(|_| figures.availability);
                (run.present_value, run.left_out_reason) =
                    self.present_or_why(&CarePolicy::run_to_failure());
            }
            return Ok(run);
        }
        let mean_life = self.model.mean_life()?;
        let timed = self.costs.hours_per_unit().is_some();
        if self.hidden() {
            return Ok(RunToFailure {
                cost_rate: self.terms.undetected,
                availability: timed.then_some(0.0),
                mean_life,
                present_value: None,
                left_out_reason: Some(
                    "Failures are hidden: without inspections or a replacement age none comes to light, and its cost goes on.".to_owned(),
                ),
            });
        }
        let run = self.evaluate(&CarePolicy::run_to_failure())?;
        let (present_value, left_out_reason) = self.present_or_why(&CarePolicy::run_to_failure());
        Ok(RunToFailure {
            cost_rate: run.cost_rate,
            availability: timed.then_some(run.availability),
            mean_life,
            present_value,
            left_out_reason,
        })
    }

    /// Money now for a policy kept up for ever at the discount rate of the prices, the first fitting not counted
    /// ([`crate::evaluate::Prepared::present_value`]).
    ///
    /// # Errors
    /// When no discount rate was given or a unit of the clock has no length, and as [`Planner::evaluate`].
    pub fn present_value(&self, policy: &CarePolicy) -> Result<f64> {
        let Some(delta) = self.costs.discount_per_unit() else {
            return Err(Error::no_answer(
                self.costs.clock_note().unwrap_or(NO_DISCOUNT).to_owned(),
            ));
        };
        if delta <= 0.0 {
            return Err(Error::no_answer(NO_DISCOUNT));
        }
        self.model.present_value(policy, &self.terms, delta)
    }

    fn present_or_why(&self, policy: &CarePolicy) -> (Option<f64>, Option<String>) {
        match self.present_value(policy) {
            Ok(value) => (Some(value), None),
            Err(why) => (None, Some(why.to_string())),
        }
    }

    /// Replacing at an age (units of the clock) without looks or turns: the given age, or the best. [`Planner`] has an
    /// example.
    ///
    /// # Errors
    /// As [`Planner::evaluate`], or when `given` is out of range.
    pub fn replace_alone(&self, given: Option<f64>) -> Result<Replace> {
        let given = given
            .map(|age| positive("the replacement age", age))
            .transpose()?;
        if let Some(life) = self.single_life()?
            && self.handling.spare_wait_hours == 0.0
            && (given.is_some() || self.request.limits == Limits::default())
        {
            let evaluator = Evaluator::new(&life, &self.costs, self.request.goal)?;
            return match given {
                Some(age) => evaluator.given(age),
                None => evaluator.best(),
            };
        }
        let run = self.run_to_failure()?;
        let plain = self.evaluate(&CarePolicy::run_to_failure()).ok();
        let without = plain
            .as_ref()
            .map_or(f64::INFINITY, |outcome| self.measure(outcome));
        let valley = self.age_valley(&CarePolicy::run_to_failure());
        let best = valley
            .filter(|valley| valley.value < BROKEN)
            .filter(|valley| {
                let Ok(at_best) = self.figures_at(valley.at) else {
                    return false;
                };
                plain
                    .as_ref()
                    .is_none_or(|plain| self.gains(&at_best, plain))
            });
        match (given, best) {
            (None, None) => Ok(self.never(run)),
            (Some(age), best) => self.at_age(age, best.map_or(age, |b| b.at), without),
            (None, Some(best)) => self.at_age(best.at, best.at, without),
        }
    }

    fn figures_at(&self, age: f64) -> Result<Outcome> {
        self.evaluate(&CarePolicy::replace_at(age))
    }

    fn at_age(&self, age: f64, best: f64, without: f64) -> Result<Replace> {
        let here = self.figures_at(age)?;
        let least = self.measure(&self.figures_at(best)?);
        let along = |age: f64| {
            let outcome = self
                .model
                .rough(&CarePolicy::replace_at(age), &self.terms, None);
            outcome.map_or(f64::INFINITY, |outcome| self.measure(&outcome))
        };
        let zone = search::zone(&along, best, least * (1.0 + FLAT), self.ages());
        let off = |factor: f64| -> Result<OffBest> {
            let other = self.figures_at(age * factor)?;
            Ok(OffBest {
                age: age * factor,
                cost_rate: other.cost_rate,
                extra_share: self.measure(&other) / self.measure(&here) - 1.0,
            })
        };
        let saving = if without.is_finite() {
            1.0 - self.measure(&here) / without
        } else {
            1.0 - self.measure(&here) / self.terms.undetected
        };
        let flat_zone = zone.0.map(|low| (low, zone.1));
        let (present_value, left_out_reason) = self.present_or_why(&CarePolicy::replace_at(age));
        Ok(Replace {
            age: Some(age),
            reason: None,
            cost_rate: here.cost_rate,
            flat_zone,
            flat_zone_reason: match flat_zone {
                Some((_, Some(_))) => None,
                Some((_, None)) => Some("never replacing is within 2 % of the best too"),
                None => Some("no age comes within 2 % of the best on the younger side"),
            },
            failure_probability: here.failed,
            availability: self.costs.hours_per_unit().map(|_| here.availability),
            mean_cycle: here.mean_cycle,
            present_value,
            left_out_reason,
            saving,
            quarter_early: Some(off(0.75)?),
            quarter_late: Some(off(1.25)?),
            pays_from_ratio: self.pays_from_ratio(),
            notes: if saving < WORTH_DOING {
                vec![format!(
                    "Hardly worth doing: it saves {:.2} % against replacing on failure only.",
                    100.0 * saving
                )]
            } else {
                vec![]
            },
        })
    }

    fn never(&self, run: RunToFailure) -> Replace {
        Replace {
            age: None,
            reason: Some(
                "Not worth it, or out of the limits: no age is better than replacing on failure only."
                    .to_owned(),
            ),
            cost_rate: run.cost_rate,
            flat_zone: None,
            flat_zone_reason: Some("no replacement age is advised"),
            failure_probability: 1.0,
            availability: run.availability,
            mean_cycle: run.mean_life + self.terms.failed.down,
            present_value: run.present_value,
            left_out_reason: run.left_out_reason,
            saving: 0.0,
            quarter_early: None,
            quarter_late: None,
            pays_from_ratio: self.pays_from_ratio(),
            notes: vec![],
        }
    }

    /// Ratio of failure to planned cost from which an age saves 1 %. At an age T it is
    /// R/C over (0.99/(μ + d_f) − F/C), C the mean cycle; the least over all ages is wanted.
    fn pays_from_ratio(&self) -> Option<f64> {
        if self.hidden() || self.terms.planned.money <= 0.0 {
            return None;
        }
        let run = self.evaluate(&CarePolicy::run_to_failure()).ok()?;
        let target = (1.0 - WORTH_DOING) / run.mean_cycle;
        let along = |age: f64| {
            let outcome = self
                .model
                .rough(&CarePolicy::replace_at(age), &self.terms, None);
            let Ok(outcome) = outcome else {
                return f64::INFINITY;
            };
            let room = target - outcome.failed / outcome.mean_cycle;
            if room <= 0.0 {
                return f64::INFINITY;
            }
            outcome.preventive / outcome.mean_cycle / room
        };
        search::valleys(&along, self.ages(), 60, 2)
            .first()
            .map(|valley| valley.value)
            .filter(|ratio| *ratio < 1e6)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::costs::{Costs, Prices};
    use crate::plan::Request;
    use crate::seal::Seal;
    use crate::terms::Handling;
    use sealspan_records::observation::Clock;

    /// In two stages: the best age saves much, one that hardly a seal reaches a hair, and only there is it said.
    #[test]
    fn an_age_that_saves_little_is_said_to_be_hardly_worth_it() {
        let prices = Prices {
            planned_cost: 1.0,
            failure_cost: 10.0,
            ..Prices::default()
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let seal = Seal::two_stage(
            Life::weibull(4.0, 300.0).unwrap(),
            Life::exponential(20.0).unwrap(),
        );
        let handling = Handling::default();
        let planner = Planner::new(&seal, &costs, &handling, Request::default()).unwrap();
        let best = planner.replace_alone(None).unwrap();
        assert!(best.saving > 0.3 && best.notes.is_empty(), "{best:?}");
        let late = planner.replace_alone(Some(500.0)).unwrap();
        assert!(late.saving < 0.01, "{}", late.saving);
        let said = format!(
            "Hardly worth doing: it saves {:.2} % against replacing on failure only.",
            100.0 * late.saving
        );
        assert_eq!(late.notes, [said]);
    }
}
