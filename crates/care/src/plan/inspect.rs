//! Inspecting: how often, what it finds, what it is worth, and at which price it stops paying.

use super::{Choice, Planner};
use crate::error::Result;
use crate::evaluate::{Outcome, pooled};
use crate::policy::{CarePolicy, Looks, Turn};
use crate::replacement::{FLAT, WORTH_DOING};
use crate::search;
use serde::Serialize;

/// Inspecting at even steps, and at ages that bend with age.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InspectAnswer {
    /// Time between inspections; `None` when none is worth it.
    pub every: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Replacement age that goes with it, when one was given.
    pub replace_at: Option<f64>,
    /// Time between turns that goes with it, when one was given.
    pub turn_every: Option<f64>,
    /// The figures, under the names of the output.
    #[serde(flatten)]
    pub figures: Outcome,
    /// Steps within 2 % of the best, units of the clock; an open side is `None`.
    pub flat_zone: Option<(Option<f64>, Option<f64>)>,
    /// Share saved against the same policy without inspections, in the goal's own measure; `None` where
    /// that has no end.
    pub saving: Option<f64>,
    /// Labour of one inspection (money) above which inspecting saves less than 1 %.
    pub pays_up_to_inspection_cost: Option<f64>,
    /// Chance that a defect appearing at any time between two looks leaks before it is found.
    pub missed: Option<f64>,
    /// Ages of the best schedule that bends with age; `None` when a step was given.
    pub schedule: Option<Vec<f64>>,
    /// Its money per unit of the clock.
    pub schedule_cost_rate: Option<f64>,
    /// Why there is no schedule.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub schedule_reason: Option<&'static str>,
    /// What to know before using it.
    pub notes: Vec<String>,
}

/// Points of the grid of steps.
const POINTS: usize = 40;
/// A cycle with more looks than this is not refined exactly.
const MANY_LOOKS: f64 = 1000.0;
/// Bends tried for a schedule.
const BENDS: [f64; 5] = [0.6, 0.75, 0.9, 1.05, 1.2];
/// Ages of a schedule given out at most.
const SHOWN: usize = 200;
/// Share of onsets by the last age that a schedule bends to.
const LAST_BENT: f64 = 1.0 - 1e-5;
/// Share of onsets by the last age given out.
const LAST_SHOWN: f64 = 0.999;

impl Planner {
    fn around(&self, looks: Looks) -> CarePolicy {
        CarePolicy {
            looks,
            turn: match self.request.turn {
                Choice::At(every) => Some(Turn {
                    every,
                    by: self.request.turn_by,
                }),
                _ => None,
            },
            replace_at: match self.request.replace {
                Choice::At(age) => Some(age),
                _ => None,
            },
            ..CarePolicy::run_to_failure()
        }
    }

    /// Inspecting alone, or beside a given replacement age or turn: the given step, or the best. [`Planner`] has an
    /// example.
    ///
    /// # Errors
    /// As [`Planner::evaluate`]. Check [`Planner::looks_can_find`] first.
    pub fn inspect(&self) -> Result<InspectAnswer> {
        let without = self.evaluate(&self.around(Looks::Never)).ok();
        let unlooked = without.as_ref().map_or(f64::INFINITY, |o| self.measure(o));
        let rough = self.by_step(|step| self.around(Looks::Every(step)));
        let along = |step: f64| rough(step).map_or(f64::INFINITY, |o| self.score(&o));
        let best = search::valleys(&along, self.steps(), POINTS, 2)
            .first()
            .copied()
            .map(|valley| self.exactly(valley));
        let reason = match best {
            None => {
                "No even step alone can be worked out: so few seals last so long that they would be opened too often; give a replacement age."
            }
            Some(valley) if valley.value >= super::BROKEN => "No even step alone keeps the limits.",
            Some(_) => {
                "Not worth it: no step costs less than not inspecting, at this price of a look and what it prevents."
            }
        };
        let best = best.filter(|valley| valley.value < unlooked * (1.0 - super::NO_GAIN));
        let given = match self.request.inspect {
            Choice::At(step) => Some(step),
            _ => None,
        };
        let price = self.pays_up_to(&rough, without.as_ref());
        let Some(every) = given.or(best.map(|valley| valley.at)) else {
            return Ok(self.no_looks(without.unwrap_or_default(), price, reason));
        };
        let figures = self.evaluate(&self.around(Looks::Every(every)))?;
        let here = self.measure(&figures);
        let schedule = match given {
            None => self.bent_schedule(every),
            Some(_) => None,
        };
        let saving = unlooked.is_finite().then_some(1.0 - here / unlooked);
        Ok(InspectAnswer {
            every: Some(every),
            reason: None,
            replace_at: self.around(Looks::Never).replace_at,
            turn_every: self.around(Looks::Never).turn.map(|turn| turn.every),
            figures,
            flat_zone: best.map(|valley| {
                let ceiling = valley.value * (1.0 + FLAT);
                search::zone(
                    &|step| self.step_score(step),
                    valley.at,
                    ceiling,
                    self.steps(),
                )
            }),
            saving,
            pays_up_to_inspection_cost: price,
            missed: self
                .model
                .seal()
                .delay
                .as_ref()
                .and_then(|delay| pooled::missed(delay, every, self.model.seal().detection).ok()),
            schedule_reason: match (&schedule, given) {
                (Some(_), _) => None,
                (None, Some(_)) => Some("an even step was given"),
                (None, None) => {
                    Some("no schedule that bends with age costs less than the even step")
                }
            },
            schedule_cost_rate: schedule.as_ref().map(|(_, rate)| *rate),
            schedule: schedule.map(|(ages, _)| ages),
            notes: self.notes(every, saving, best.map(|valley| valley.at)),
        })
    }

    /// Score of an even step: exact where a cycle has few enough looks for that to be quick.
    fn step_score(&self, step: f64) -> f64 {
        let policy = self.around(Looks::Every(step));
        if self.model.oldest() > MANY_LOOKS * step {
            return self.rough_score(&policy);
        }
        let outcome = self.evaluate(&policy);
        outcome.map_or(f64::INFINITY, |outcome| self.score(&outcome))
    }

    /// The best step near one found roughly.
    fn exactly(&self, valley: search::Valley) -> search::Valley {
        if valley.value >= super::BROKEN {
            return valley;
        }
        let along = |step: f64| self.step_score(step);
        let here = search::Valley {
            at: valley.at,
            value: along(valley.at),
        };
        search::refine(&along, here, 0.98 * valley.at, 1.02 * valley.at)
    }

    fn notes(&self, every: f64, saving: Option<f64>, best: Option<f64>) -> Vec<String> {
        let mut notes = vec![];
        if let Some(saving) = saving
            && saving < WORTH_DOING
        {
            notes.push(if saving < 0.0 {
                format!(
                    "Inspecting so often costs more than not inspecting, by {:.2} %.",
                    -100.0 * saving
                )
            } else {
                format!(
                    "Hardly worth doing: inspecting saves {:.2} %.",
                    100.0 * saving
                )
            });
        }
        if best.is_some_and(|best| best <= self.steps().0 * 1.0001)
            && self.request.inspect == Choice::Free
        {
            notes.push(
                "Inspecting costs next to nothing here, so the shortest step looked at came out best: give what a look and its downtime cost.".to_owned(),
            );
        }
        if let Choice::At(_) = self.request.inspect {
            match best {
                Some(best) if (best / every - 1.0).abs() > 1e-3 => notes.push(format!(
                    "This step was given. The best one is {best:.4} units of the clock."
                )),
                None => notes
                    .push("This step was given. Not inspecting is best at these costs.".to_owned()),
                Some(_) => {}
            }
        }
        notes
    }

    fn no_looks(&self, figures: Outcome, price: Option<f64>, reason: &str) -> InspectAnswer {
        InspectAnswer {
            every: None,
            reason: Some(reason.to_owned()),
            replace_at: self.around(Looks::Never).replace_at,
            turn_every: self.around(Looks::Never).turn.map(|turn| turn.every),
            figures,
            flat_zone: None,
            saving: Some(0.0),
            pays_up_to_inspection_cost: price,
            missed: None,
            schedule: None,
            schedule_cost_rate: None,
            schedule_reason: Some("no even step is advised"),
            notes: vec![],
        }
    }

    /// The labour price up to which some step saves 1 %: the largest (0.99 g C − A)/n over steps, g the rate
    /// without looks, C and n the cycle and its looks, A the cycle's money without that labour.
    fn pays_up_to(
        &self,
        rough: &dyn Fn(f64) -> Option<Outcome>,
        without: Option<&Outcome>,
    ) -> Option<f64> {
        let rate = match without {
            Some(outcome) => outcome.cost_rate,
            None => self.terms.undetected,
        };
        let price = |o: &Outcome| {
            let others = o.cost_rate * o.mean_cycle - self.terms.look * o.inspections_per_cycle;
            ((1.0 - WORTH_DOING) * rate * o.mean_cycle - others) / o.inspections_per_cycle
        };
        let along = |step: f64| match rough(step) {
            Some(o) if o.inspections_per_cycle > super::FEW => -price(&o),
            _ => f64::INFINITY,
        };
        let best = search::valleys(&along, self.steps(), POINTS, 2)
            .first()
            .copied()?;
        let exact = self.evaluate(&self.around(Looks::Every(best.at))).ok()?;
        Some(price(&exact)).filter(|price| *price > 0.0)
    }

    /// The best first look and bend, when it costs less than even steps of `every`.
    fn bent_schedule(&self, every: f64) -> Option<(Vec<f64>, f64)> {
        let oldest = match self.request.replace {
            Choice::At(age) => age,
            // From there on the last gap is repeated.
            _ => self.model.onset_quantile(LAST_BENT),
        };
        let policy = |first: f64, bend: f64| self.around(Looks::bent(first, bend, oldest));
        let score = |first: f64, bend: f64| self.rough_score(&policy(first, bend));
        let first_for = |bend: f64| {
            let along = |first: f64| score(first, bend);
            search::valleys(&along, (0.5 * every, 8.0 * every), 8, 1)
                .first()
                .copied()
        };
        let mut found: Vec<(f64, search::Valley)> = BENDS
            .into_iter()
            .filter_map(|bend| Some((bend, first_for(bend)?)))
            .collect();
        found.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
        let (bend, first) = found.first().copied()?;
        let along = |bend: f64| score(first.at, bend);
        let around = search::Valley {
            at: bend,
            value: first.value,
        };
        let bend = search::refine(&along, around, bend - 0.15, bend + 0.15).at;
        let outcome = self.evaluate(&policy(first.at, bend)).ok()?;
        let even = self.evaluate(&self.around(Looks::Every(every))).ok()?;
        if self.score(&outcome) >= self.score(&even) {
            return None;
        }
        let shown = oldest.min(self.model.onset_quantile(LAST_SHOWN));
        let Looks::At(ages) = Looks::bent(first.at, bend, shown) else {
            return None;
        };
        Some((ages.into_iter().take(SHOWN).collect(), outcome.cost_rate))
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
    use sealspan_life::life::Life;
    use sealspan_records::observation::Clock;

    /// No other bend of a schedule with the same first look costs less than the one given.
    #[test]
    fn no_bend_near_that_of_a_schedule_costs_less() {
        let prices = Prices {
            planned_cost: 60.0,
            failure_cost: 2500.0,
            ..Prices::default()
        };
        let handling = Handling {
            inspection_cost: 15.0,
            ..Handling::default()
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        for shape in [2.2, 3.1] {
            let seal = Seal::two_stage(
                Life::weibull(shape, 270.0).unwrap(),
                Life::weibull(1.5, 60.0).unwrap(),
            );
            let request = Request {
                replace: Choice::Never,
                ..Request::default()
            };
            let planner = Planner::new(&seal, &costs, &handling, request).unwrap();
            let (ages, cost) = planner.bent_schedule(40.0).unwrap();
            let first = *ages.first().unwrap();
            let oldest = planner.model.onset_quantile(LAST_BENT);
            for i in 0..=40 {
                let looks = Looks::bent(first, 0.4 + 0.025 * f64::from(i), oldest);
                let other = planner.rough_score(&planner.around(looks));
                assert!(other > cost * (1.0 - 1e-5), "{shape} {i}: {other} {cost}");
            }
        }
    }

    /// What is noted beside a step: what it saves, that inspecting is all but free, and which step would be best.
    #[test]
    fn notes_beside_a_step() {
        let prices = Prices {
            planned_cost: 60.0,
            failure_cost: 2500.0,
            ..Prices::default()
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let seal = Seal::two_stage(
            Life::weibull(2.2, 270.0).unwrap(),
            Life::weibull(1.5, 60.0).unwrap(),
        );
        let planner = |inspect: Choice| {
            let request = Request {
                inspect,
                ..Request::default()
            };
            Planner::new(&seal, &costs, &Handling::default(), request).unwrap()
        };
        let (searched, given) = (planner(Choice::Free), planner(Choice::At(40.0)));
        let shortest = searched.steps().0;
        assert!(shortest < 39.0);
        let free = "Inspecting costs next to nothing here, so the shortest step looked at came out best: give what a look and its downtime cost.";
        for (planner, every, saving, best, want) in [
            (&searched, 40.0, Some(0.2), Some(40.0), None),
            (&searched, 40.0, None, Some(40.0), None),
            (
                &searched,
                40.0,
                Some(0.005),
                Some(40.0),
                Some("Hardly worth doing: inspecting saves 0.50 %."),
            ),
            (
                &searched,
                40.0,
                Some(-0.03),
                Some(40.0),
                Some("Inspecting so often costs more than not inspecting, by 3.00 %."),
            ),
            (&searched, shortest, Some(0.2), Some(shortest), Some(free)),
            (&given, 40.0, Some(0.2), Some(40.0), None),
            (
                &given,
                40.0,
                Some(0.2),
                Some(39.0),
                Some("This step was given. The best one is 39.0000 units of the clock."),
            ),
            (
                &given,
                40.0,
                Some(0.2),
                None,
                Some("This step was given. Not inspecting is best at these costs."),
            ),
        ] {
            let want: Vec<&str> = want.into_iter().collect();
            assert_eq!(planner.notes(every, saving, best), want, "{every} {best:?}");
        }
    }
}
