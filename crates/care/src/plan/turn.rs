//! Turning: what it does to the life of a ring, what it costs, and what mending the alignment would do.

use super::{Choice, Planner};
use crate::error::{Error, Result};
use crate::evaluate::{Outcome, Prepared};
use crate::policy::{CarePolicy, Turn};
use crate::replacement::{FLAT, Goal, WORTH_DOING};
use crate::seal::{Onset, Ring, Seal};
use crate::search::{self, Valley};
use crate::terms::Terms;
use sealspan_numeric::roots::bracketed;
use serde::Serialize;

/// A life and its price when run to failure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LifeAndCost {
    /// Mean life.
    pub mean_life: f64,
    /// Age by which 10 % have failed.
    pub b10: f64,
    /// Money per unit of the clock.
    pub cost_rate: f64,
}

/// Turning a ring regularly and replacing it on failure, or at a given age.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TurnAnswer {
    /// Time between turns; `None` when turning is not worth it.
    pub every: Option<f64>,
    /// Why it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Sectors of one turn.
    pub by_sectors: usize,
    /// Mean life turned over mean life never turned, handling damage apart.
    pub life_ratio: f64,
    /// Mean life turned, handling damage apart.
    pub mean_life: f64,
    /// Age by which 10 % have failed, turned.
    pub b10: f64,
    /// Life ratio of turning ever more often: the power mean of the severities over their mean. Of the
    /// first stage where there are two.
    pub limit_ratio: f64,
    /// Money per unit of the clock, turning and handling damage included.
    pub cost_rate: f64,
    /// Turns in a cycle.
    pub turns_per_cycle: f64,
    /// Steps within 2 % of the best, units of the clock; an open side is `None`.
    pub flat_zone: Option<(Option<f64>, Option<f64>)>,
    /// Share saved against never turning, in the goal's own measure.
    pub saving: f64,
    /// Labour of one turn (money) above which turning saves less than 1 %; `None` when it never saves as much.
    pub pays_up_to_turn_cost: Option<f64>,
    /// Never turned.
    pub never_turned: LifeAndCost,
    /// The frame mended so that the same wear falls evenly on all sectors, and never turned.
    pub alignment_mended: LifeAndCost,
    /// What to know before using it.
    pub notes: Vec<String>,
}

const POINTS: usize = 48;
/// A step that costs more than never turning by this share is not looked into: beyond any flat zone.
const CLEARLY: f64 = 0.03;

impl Planner {
    fn turned(&self, every: Option<f64>) -> CarePolicy {
        CarePolicy {
            turn: every.map(|every| Turn {
                every,
                by: self.request.turn_by,
            }),
            replace_at: match self.request.replace {
                Choice::At(age) => Some(age),
                _ => None,
            },
            ..CarePolicy::run_to_failure()
        }
    }

    /// Turning alone, or beside a given replacement age: the given step, or the best. [`Planner`] has an example.
    ///
    /// # Errors
    /// When the seal has no sectors, its failure is hidden without a replacement age, or as
    /// [`Planner::evaluate`].
    pub fn turn(&self) -> Result<TurnAnswer> {
        let Some(ring) = self.model.seal().ring() else {
            return Err(Error::no_answer(
                "No answer on turning: say how unevenly the sectors wear.",
            ));
        };
        let unturned = self.evaluate(&self.turned(None))?;
        let never = self.measure(&unturned);
        let life = self.model.mean_onset();
        let bounds = (life / 300.0, 3.0 * life);
        let spacing = (bounds.1 / bounds.0).powf(1.0 / (POINTS - 1) as f64);
        let by_step = self.by_step(|step| self.turned(Some(step)));
        // The grid's next point is worth nothing either, so no valley lies beside what is left out.
        let worthless = |step: f64| {
            self.request.goal == Goal::Cost
                && self.openings_cost(step * spacing) > (1.0 + CLEARLY) * unturned.cost_rate
        };
        let figures = |step: f64| (!worthless(step)).then(|| by_step(step)).flatten();
        let along = |step: f64| figures(step).map_or(f64::INFINITY, |o| self.score(&o));
        let best = search::valleys(&along, bounds, POINTS, 3).first().copied();
        // The search's figures are rough: a step that hardly a seal reaches may seem to gain by their error alone, and
        // where turning is free they do not tell the shortest step, which is best then, from others near it.
        let exact = |step: f64| {
            let found = self.evaluate(&self.turned(Some(step)));
            found.map_or(f64::INFINITY, |o| self.measure(&o))
        };
        let gains = |valley: &Valley| {
            let enough = never * (1.0 - super::NO_GAIN);
            valley.value < enough && exact(valley.at) < enough
        };
        let shortest = bounds.0;
        let best = best.filter(gains).map(|valley| {
            let value = along(shortest);
            let near = valley.at > shortest && value < (1.0 + CLEARLY) * valley.value;
            match near && exact(shortest) < exact(valley.at) {
                true => Valley {
                    at: shortest,
                    value,
                },
                false => valley,
            }
        });
        let given = match self.request.turn {
            Choice::At(step) => Some(step),
            _ => None,
        };
        let every = given.or(best.map(|valley| valley.at));
        let lives = self.model.evident_and_unharmed();
        let (mean, b10) = life_of(&lives, &self.turned(every))?;
        let never_turned = self.life_and_cost(self.model.seal().clone())?;
        let pays_up_to = self.turn_pays_up_to(&figures, bounds)?;
        let figures = self.evaluate(&self.turned(every))?;
        let mut answer = TurnAnswer {
            every,
            reason: None,
            by_sectors: self.request.turn_by,
            life_ratio: mean / never_turned.mean_life,
            mean_life: mean,
            b10,
            limit_ratio: ring.limit_ratio(),
            cost_rate: figures.cost_rate,
            turns_per_cycle: figures.turns_per_cycle,
            flat_zone: best
                .map(|valley| search::zone(&along, valley.at, valley.value * (1.0 + FLAT), bounds)),
            saving: 1.0 - self.measure(&figures) / never,
            pays_up_to_turn_cost: pays_up_to,
            never_turned,
            alignment_mended: self.life_and_cost(mended(self.model.seal(), ring)?)?,
            notes: vec![],
        };
        answer.explain(
            given,
            best.map(|valley| valley.at)
                .filter(|best| *best > 1.0001 * bounds.0),
        );
        if best.is_some_and(|valley| valley.at <= 1.0001 * bounds.0) {
            answer.notes.push(
                "Turning costs next to nothing here, so the oftener the better: give what a turn and its downtime cost, and the chance that it spoils the seal.".to_owned(),
            );
        }
        Ok(answer)
    }

    /// What a turn every `step` costs at least, its labour apart. A cycle of n openings serves no longer than n + 1
    /// steps, so its money over its time is no less than the smaller of an opening's over a step and the end's over one.
    fn openings_cost(&self, step: f64) -> f64 {
        let t = &self.terms;
        let ends = [t.planned, t.failed, t.found, t.damaged, t.opportunity];
        let money = ends.iter().map(|e| e.money).fold(f64::INFINITY, f64::min);
        let down = ends.iter().map(|e| e.down).fold(0.0, f64::max);
        let opening = t.opening.money / (step + t.opening.down);
        opening.min(money / (step + down))
    }

    /// Never turned, run to failure or to the given age.
    fn life_and_cost(&self, seal: Seal) -> Result<LifeAndCost> {
        let model = Prepared::new(&seal)?;
        let (mean_life, b10) = life_of(&model.evident_and_unharmed(), &self.turned(None))?;
        Ok(LifeAndCost {
            mean_life,
            b10,
            cost_rate: model.evaluate(&self.turned(None), &self.terms)?.cost_rate,
        })
    }

    /// As the price up to which inspecting pays, for the labour of a turn.
    fn turn_pays_up_to(
        &self,
        figures: &dyn Fn(f64) -> Option<Outcome>,
        bounds: (f64, f64),
    ) -> Result<Option<f64>> {
        let rate = self.evaluate(&self.turned(None))?.cost_rate;
        let price = |o: &Outcome| {
            let others = o.cost_rate * o.mean_cycle - self.terms.turn * o.turns_per_cycle;
            ((1.0 - WORTH_DOING) * rate * o.mean_cycle - others) / o.turns_per_cycle
        };
        let along = |step: f64| match figures(step) {
            Some(o) if o.turns_per_cycle > super::FEW => -price(&o),
            _ => f64::INFINITY,
        };
        let best = search::valleys(&along, bounds, POINTS, 2).first().copied();
        let Some(best) = best else {
            return Ok(None);
        };
        let exact = self.evaluate(&self.turned(Some(best.at)))?;
        // What is left of rounding is no price.
        let worth = 1e-6 * self.terms.failed.money;
        Ok(Some(price(&exact)).filter(|price| *price > worth))
    }
}

impl TurnAnswer {
    fn explain(&mut self, given: Option<f64>, best: Option<f64>) {
        if self.limit_ratio < 1.0 + 1e-9 {
            self.reason = Some(
                "Not worth it: turning cannot lengthen this life, because all sectors wear alike or failure does not depend on wear (shape 1 or less).".to_owned(),
            );
        } else if self.every.is_none() {
            self.reason = Some(
                "Not worth it: what turning adds to the life is less than its labour, downtime and handling damage.".to_owned(),
            );
        } else if self.saving < WORTH_DOING && self.saving >= 0.0 {
            self.notes.push(format!(
                "Hardly worth doing: turning saves {:.2} %.",
                100.0 * self.saving
            ));
        } else if self.saving < 0.0 {
            self.notes.push(format!(
                "Turning so often costs {:.2} % more than never turning.",
                -100.0 * self.saving
            ));
        }
        match (given, best) {
            (Some(step), Some(best)) if (best / step - 1.0).abs() > 1e-3 => self.notes.push(
                format!("This step was given. The best one is {best:.4} units of the clock."),
            ),
            (Some(_), None) if self.flat_zone.is_none() => self
                .notes
                .push("This step was given. Never turning is best at these costs.".to_owned()),
            _ => {}
        }
    }
}

/// Mean and B10 life under the turns of a policy, run to failure.
fn life_of(model: &Prepared, policy: &CarePolicy) -> Result<(f64, f64)> {
    let alone = CarePolicy {
        replace_at: None,
        ..policy.clone()
    };
    let free = Terms::default();
    let mean = model.evaluate(&alone, &free)?.mean_service;
    let failed_by = |age: f64| {
        let cut = CarePolicy {
            replace_at: Some(age),
            ..alone.clone()
        };
        model
            .evaluate(&cut, &free)
            .map_or(f64::NAN, |outcome| outcome.failed - 0.1)
    };
    let (low, high) = (1e-6 * mean, 10.0 * mean);
    let ln = bracketed(|ln: f64| failed_by(ln.exp()), low.ln(), high.ln(), 1e-11);
    let b10 = ln.map(f64::exp).ok_or_else(|| {
        Error::no_answer("No B10 life: ages spread over too many orders of size.")
    })?;
    Ok((mean, b10))
}

fn mended(seal: &Seal, ring: &Ring) -> Result<Seal> {
    Ok(Seal {
        onset: Onset::Law(ring.even_frame()?),
        ..seal.clone()
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::costs::{Costs, Prices};
    use crate::plan::Request;
    use crate::terms::Handling;
    use sealspan_life::life::Life;
    use sealspan_records::observation::Clock;

    /// No turn costs less than its openings are said to cost at least, from two a day to one in three lives, with and
    /// without damage and a given age.
    #[test]
    fn openings_are_a_lower_bound() {
        let prices = Prices {
            planned_cost: 80.0,
            failure_cost: 900.0,
            planned_hours: 2.0,
            failure_hours: 30.0,
            downtime_cost: 60.0,
            discount_rate: 0.0,
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        for (shape, damage, age) in [(1.2, 0.0, None), (3.0, 0.02, None), (3.0, 0.3, Some(150.0))] {
            let seal = Seal {
                handling_damage: damage,
                ..Seal::one_stage(Life::weibull(shape, 200.0).unwrap())
            };
            let seal = seal.with_severities(&[2.0, 1.0, 1.0, 1.0]).unwrap();
            for opening_hours in [0.0, 1.0, 48.0] {
                let handling = Handling {
                    turn_cost: 1.0,
                    opening_hours,
                    ..Handling::default()
                };
                let request = Request {
                    replace: age.map_or(Choice::Never, Choice::At),
                    ..Request::default()
                };
                let planner = Planner::new(&seal, &costs, &handling, request).unwrap();
                for step in search::grid(0.5, 600.0, 25) {
                    let turned = planner.turned(Some(step));
                    let cost = planner.model.rough(&turned, &planner.terms, None).unwrap();
                    assert!(cost.cost_rate >= planner.openings_cost(step), "{step}");
                }
            }
        }
    }

    fn answer(every: Option<f64>, saving: f64, zone: bool) -> TurnAnswer {
        let life = LifeAndCost {
            mean_life: 200.0,
            b10: 90.0,
            cost_rate: 5.0,
        };
        TurnAnswer {
            every,
            reason: None,
            by_sectors: 1,
            life_ratio: 1.2,
            mean_life: 240.0,
            b10: 100.0,
            limit_ratio: 1.3,
            cost_rate: 4.0,
            turns_per_cycle: 6.0,
            flat_zone: zone.then_some((None, None)),
            saving,
            pays_up_to_turn_cost: None,
            never_turned: life,
            alignment_mended: life,
            notes: vec![],
        }
    }

    /// What is noted beside a step: what it saves, and which step would be best.
    #[test]
    fn notes_beside_a_step() {
        for (saving, given, best, zone, want) in [
            (0.2, None, Some(40.0), true, None),
            (
                0.005,
                None,
                Some(40.0),
                true,
                Some("Hardly worth doing: turning saves 0.50 %."),
            ),
            (
                -0.03,
                None,
                Some(40.0),
                true,
                Some("Turning so often costs 3.00 % more than never turning."),
            ),
            (0.2, Some(40.0), Some(40.0), true, None),
            (
                0.2,
                Some(40.0),
                Some(39.0),
                true,
                Some("This step was given. The best one is 39.0000 units of the clock."),
            ),
            (0.2, Some(40.0), None, true, None),
            (
                0.2,
                Some(40.0),
                None,
                false,
                Some("This step was given. Never turning is best at these costs."),
            ),
        ] {
            let mut found = answer(Some(40.0), saving, zone);
            found.explain(given, best);
            let want: Vec<&str> = want.into_iter().collect();
            assert_eq!(found.notes, want, "{saving} {best:?}");
        }
    }

    fn notes((shape, scale): (f64, f64), turn_cost: f64, turn: Choice) -> Vec<String> {
        let prices = Prices {
            planned_cost: 80.0,
            failure_cost: 900.0,
            ..Prices::default()
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let seal = Seal::one_stage(Life::weibull(shape, scale).unwrap());
        let seal = seal.with_severities(&[2.0, 1.0, 1.0, 1.0]).unwrap();
        let handling = Handling {
            turn_cost,
            ..Handling::default()
        };
        let request = Request {
            replace: Choice::Never,
            turn,
            ..Request::default()
        };
        let planner = Planner::new(&seal, &costs, &handling, request).unwrap();
        planner.turn().unwrap().notes
    }

    /// Turns that cost nothing come out best at the shortest step looked at, which is said instead of advising that step.
    #[test]
    fn turns_for_nothing_are_said_to_be() {
        let life = (6.0, 2_000.0);
        for turn in [Choice::Free, Choice::At(400.0)] {
            let found = notes(life, 0.0, turn);
            assert_eq!(found.len(), 1, "{found:?}");
            assert!(found[0].starts_with("Turning costs next to nothing here"));
        }
        assert_eq!(notes(life, 5.0, Choice::Free), [""; 0]);
        let found = notes(life, 5.0, Choice::At(400.0));
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].starts_with("This step was given. The best one is "));
    }

    /// The same where rough figures put the best step among longer ones.
    #[test]
    fn the_shortest_of_free_steps_is_found_though_rough_figures_miss_it() {
        let found = notes((3.0, 200.0), 0.0, Choice::Free);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].starts_with("Turning costs next to nothing here"));
    }
}
