//! The kinds of policy that are searched, each along one step between openings.

use super::{Choice, Planner};
use crate::policy::{CarePolicy, Looks, Turn};
use crate::search::{self, Valley};

/// Points of the grid of steps, and valleys refined.
const POINTS: usize = 36;
const VALLEYS: usize = 2;
/// Rounds of moving step and age.
const ROUNDS: usize = 6;
/// A turn goes with every look, every second, ... up to this.
const LOOKS_PER_TURN: usize = 4;

/// What is done at the openings.
#[derive(Debug, Clone, Copy)]
enum Work {
    Look,
    Turn,
    /// Turn at every look of this number.
    LookAndTurn(usize),
    /// Look at every turn of this number.
    TurnAndLook(usize),
}

impl Planner {
    fn policy(&self, work: Work, step: f64) -> CarePolicy {
        let turn = |every: f64| {
            Some(Turn {
                every,
                by: self.request.turn_by,
            })
        };
        let (looks, turn) = match work {
            Work::Look => (Looks::Every(step), None),
            Work::Turn => (Looks::Never, turn(step)),
            Work::LookAndTurn(n) => (Looks::Every(step), turn(n as f64 * step)),
            Work::TurnAndLook(n) => (Looks::Every(n as f64 * step), turn(step)),
        };
        CarePolicy {
            looks,
            turn,
            ..CarePolicy::run_to_failure()
        }
    }

    /// The policies to compare: those without a free step, and the kinds along a free one.
    fn kinds(&self) -> (Vec<CarePolicy>, Vec<Work>) {
        let can_turn = self.model.seal().ring().is_some();
        let inspect = match self.request.inspect {
            Choice::Free if !self.looks_can_find() => Choice::Never,
            given => given,
        };
        let turn = match self.request.turn {
            Choice::Free if !can_turn => Choice::Never,
            given => given,
        };
        let none = CarePolicy::run_to_failure();
        match (inspect, turn) {
            (Choice::Never, Choice::Never) => (vec![none], vec![]),
            (Choice::Free, Choice::Never) => (vec![none], vec![Work::Look]),
            (Choice::Never, Choice::Free) => (vec![none], vec![Work::Turn]),
            (Choice::Free, Choice::Free) => {
                let together = (1..=LOOKS_PER_TURN).map(Work::LookAndTurn);
                let kinds = [Work::Look, Work::Turn].into_iter().chain(together);
                (vec![none], kinds.collect())
            }
            (Choice::At(look), Choice::Never) => (vec![self.policy(Work::Look, look)], vec![]),
            (Choice::Never, Choice::At(turn)) => (vec![self.policy(Work::Turn, turn)], vec![]),
            (Choice::At(look), Choice::Free) => {
                let together = (1..=LOOKS_PER_TURN).map(Work::LookAndTurn);
                let kinds = [Work::Look].into_iter().chain(together);
                (kinds.map(|work| self.policy(work, look)).collect(), vec![])
            }
            (Choice::Free, Choice::At(turn)) => {
                let rarer = (1..=LOOKS_PER_TURN).map(|n| self.policy(Work::TurnAndLook(n), turn));
                let oftener = (2..=LOOKS_PER_TURN)
                    .map(|n| self.policy(Work::LookAndTurn(n), turn / n as f64));
                let alone = [self.policy(Work::Turn, turn)];
                (
                    alone.into_iter().chain(rarer).chain(oftener).collect(),
                    vec![],
                )
            }
            (Choice::At(look), Choice::At(turn)) => {
                let mut both = self.policy(Work::Look, look);
                both.turn = self.policy(Work::Turn, turn).turn;
                (vec![both], vec![])
            }
        }
    }

    /// Steps worth looking at: from well within the delay, or a few hundred in a life, to a few lives.
    pub(super) fn steps(&self) -> (f64, f64) {
        let life = self.model.mean_onset();
        let delay = self.model.mean_delay().unwrap_or(life);
        (
            (life.min(delay) / 20.0).max(life / 300.0),
            3.0 * (life + delay),
        )
    }

    /// The best policy with its score; one that breaks a limit only when none keeps it.
    pub(super) fn search(&self) -> Option<(CarePolicy, f64)> {
        let (fixed, kinds) = self.kinds();
        let mut found: Vec<(CarePolicy, f64)> = fixed
            .iter()
            .filter_map(|policy| self.best_age(policy))
            .collect();
        for work in kinds {
            let along = |step: f64| {
                self.best_age(&self.policy(work, step))
                    .map_or(f64::INFINITY, |(_, score)| score)
            };
            let valleys = search::valleys(&along, self.steps(), POINTS, VALLEYS);
            if let Some(Valley { at, .. }) = valleys.first() {
                let policy = |step: f64| self.policy(work, step);
                found.extend(
                    self.best_age(&policy(*at))
                        .map(|(best, score)| self.polished(&policy, *at, best, score)),
                );
            }
        }
        // Simple policies come first and stay unless another gains more than rounding.
        found
            .into_iter()
            .filter(|(_, score)| score.is_finite())
            .map(|(policy, score)| self.between_stops(policy, score))
            .reduce(|a, b| if b.1 < a.1 * (1.0 - 1e-7) { b } else { a })
    }

    /// Moves step and age in turn until neither gains.
    fn polished(
        &self,
        policy: &dyn Fn(f64) -> CarePolicy,
        step: f64,
        best: CarePolicy,
        score: f64,
    ) -> (CarePolicy, f64) {
        let (mut step, mut best, mut score) = (step, best, score);
        for _ in 0..ROUNDS {
            let (moved, moved_score) = self.between_stops(best.clone(), score);
            let (Choice::Free, Some(age)) = (self.request.replace, moved.replace_at) else {
                return (moved, moved_score);
            };
            let with = |step: f64, age: f64| CarePolicy {
                replace_at: Some(age),
                ..policy(step)
            };
            let here = Valley {
                at: step,
                value: moved_score,
            };
            let (low, high) = (0.8 * step, 1.25 * step);
            let alone = |x: f64| self.rough_score(&with(x, age));
            let together = |x: f64| self.rough_score(&with(x, age * x / step));
            let one = search::refine(&alone, here, low, high);
            let both = search::refine(&together, here, low, high);
            let gained = score - one.value.min(both.value);
            let (next, age) = if one.value <= both.value {
                (one, age)
            } else {
                (both, age * both.at / step)
            };
            (best, step, score) = (with(next.at, age), next.at, next.value);
            if gained <= 1e-8 * score.abs() {
                break;
            }
        }
        (best, score)
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

    /// Two invented seals with cheap looks and dear ones, whose best step and age hang on each other: no step about the
    /// plan's costs less, its age kept or moved alike.
    #[test]
    fn step_and_age_are_moved_until_neither_gains() {
        for (onset, delay, detection, failure_cost, inspection_cost, opening_hours) in [
            ((2.805, 300.0), (1.097, 47.71), 0.985, 822.3, 0.489, 0.111),
            ((1.864, 300.0), (3.661, 17.17), 0.962, 5321.6, 4.909, 0.614),
        ] {
            let law = |(shape, scale)| Life::weibull(shape, scale).unwrap();
            let seal = Seal {
                detection,
                ..Seal::two_stage(law(onset), law(delay))
            };
            let prices = Prices {
                planned_cost: 80.0,
                failure_cost,
                planned_hours: 2.0,
                failure_hours: 30.0,
                downtime_cost: 60.0,
                discount_rate: 0.0,
            };
            let handling = Handling {
                inspection_cost,
                opening_hours,
                ..Handling::default()
            };
            let costs = Costs::new(prices, Clock::Days).unwrap();
            let planner = Planner::new(&seal, &costs, &handling, Request::default()).unwrap();
            let best = planner.best().unwrap();
            let step = match best.policy.looks {
                Looks::Every(step) => Some(step),
                _ => None,
            };
            let step = step.unwrap();
            let age = best.policy.replace_at.unwrap();
            for percent in 80..=125 {
                let factor = f64::from(percent) / 100.0;
                for age in [age, age * factor] {
                    let other = CarePolicy {
                        looks: Looks::Every(step * factor),
                        replace_at: Some(age),
                        ..best.policy.clone()
                    };
                    let other = planner.evaluate(&other).unwrap().cost_rate;
                    let gain = 1.0 - other / best.outcome.cost_rate;
                    assert!(gain < 1e-5, "{failure_cost} {percent} {age}: {gain}");
                }
            }
        }
    }
}
