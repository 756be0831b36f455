//! The replacement age that goes with given openings.

use super::{Choice, Planner};
use crate::evaluate::Cutoff;
use crate::policy::{CareAction, CarePolicy, Opening};
use crate::search::{self, Valley};

/// Points of the grid of ages without openings, and valleys refined.
const POINTS: usize = 60;
const VALLEYS: usize = 3;
/// Share of onsets before the youngest age looked at.
const YOUNGEST: f64 = 1e-4;

impl Planner {
    /// The policy with the best replacement age (as asked for) and its score. With openings the ages
    /// compared are their own, where replacing takes the place of an opening.
    pub(super) fn best_age(&self, policy: &CarePolicy) -> Option<(CarePolicy, f64)> {
        let with = |age: Option<f64>| CarePolicy {
            replace_at: age,
            ..policy.clone()
        };
        match self.request.replace {
            Choice::Never => Some((with(None), self.rough_score(&with(None)))),
            Choice::At(age) => Some((with(Some(age)), self.rough_score(&with(Some(age))))),
            Choice::Free if matches!(policy.next(0.0), CareAction::Run) => {
                let best = self.age_valley(policy)?;
                let never = self.rough_score(&with(None));
                // Ages that hardly a seal reaches are no ages: equal to rounding means never.
                if never <= best.value * (1.0 + 1e-9) {
                    return Some((with(None), never));
                }
                Some((with(Some(best.at)), best.value))
            }
            Choice::Free => {
                let mut stops: Vec<Cutoff> = vec![];
                let end = self.model.rough(policy, &self.terms, Some(&mut stops));
                let never = end.map_or(f64::INFINITY, |outcome| self.score(&outcome));
                let best = stops
                    .iter()
                    .map(|stop| (stop.age, self.score(&stop.outcome)))
                    .min_by(|a, b| a.1.total_cmp(&b.1));
                match best {
                    Some((age, score)) if score < never * (1.0 - 1e-9) => {
                        Some((with(Some(age)), score))
                    }
                    _ => Some((with(None), never)),
                }
            }
        }
    }

    /// Ages worth looking at.
    pub(super) fn ages(&self) -> (f64, f64) {
        let oldest = self.model.oldest();
        let delay = self.model.mean_delay().unwrap_or(0.0);
        let low = self.model.onset_quantile(YOUNGEST);
        (
            low.max(1e-6 * oldest),
            (oldest + 5.0 * delay).max(low * 10.0),
        )
    }

    /// The deepest valley over replacement ages.
    pub(super) fn age_valley(&self, policy: &CarePolicy) -> Option<Valley> {
        let along = |age: f64| {
            self.rough_score(&CarePolicy {
                replace_at: Some(age),
                ..policy.clone()
            })
        };
        search::valleys(&along, self.ages(), POINTS, VALLEYS)
            .first()
            .copied()
    }

    /// Lets the age lie between the openings next to it, where that is better.
    pub(super) fn between_stops(&self, policy: CarePolicy, score: f64) -> (CarePolicy, f64) {
        let (Choice::Free, Some(age)) = (self.request.replace, policy.replace_at) else {
            return (policy, score);
        };
        let open = CarePolicy {
            replace_at: None,
            ..policy.clone()
        };
        let mut stops = vec![0.0];
        while let CareAction::Open(Opening { age: next, .. }) =
            open.next(stops.last().copied().unwrap_or(0.0))
        {
            stops.push(next);
            if next > age * (1.0 + 1e-9) {
                break;
            }
        }
        let along = |age: f64| {
            self.rough_score(&CarePolicy {
                replace_at: Some(age),
                ..open.clone()
            })
        };
        let mut best = Valley {
            at: age,
            value: score,
        };
        for pair in stops.windows(2).rev().take(2) {
            if let [from, to] = pair {
                let from = from.max(0.05 * to);
                best = search::refine(&along, best, from, *to);
            }
        }
        let age = CarePolicy {
            replace_at: Some(best.at),
            ..open
        };
        (age, best.value)
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

    /// Looks so far apart that all seals have failed by the first: the best age lies within the first stretch, far from
    /// any opening.
    #[test]
    fn the_best_age_may_lie_before_the_first_look() {
        let prices = Prices {
            planned_cost: 1.0,
            failure_cost: 10.0,
            ..Prices::default()
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let seal = Seal::two_stage(
            Life::weibull(6.0, 100.0).unwrap(),
            Life::exponential(5.0).unwrap(),
        );
        for look in [160.0, 200.0, 400.0] {
            let request = Request {
                inspect: Choice::At(look),
                ..Request::default()
            };
            let planner = Planner::new(&seal, &costs, &Handling::default(), request).unwrap();
            let best = planner.best().unwrap();
            assert!(best.policy.replace_at.is_some_and(|age| age < look));
            for age in search::grid(20.0, 400.0, 60) {
                let other = CarePolicy {
                    replace_at: Some(age),
                    ..best.policy.clone()
                };
                let other = planner.evaluate(&other).unwrap().cost_rate;
                assert!(
                    other > best.outcome.cost_rate * (1.0 - 1e-6),
                    "{look} {age}"
                );
            }
        }
    }
}
