//! What each policy of the menu comes to in each world that the estimate leaves possible.
//!
//! A few worlds are asked about the whole menu first; all of them about the policies that come near the
//! best somewhere. Where the limits turn out to leave none of these, all worlds are asked about all.

use super::menu::{Candidate, Kind, Menu, Row};
use crate::evaluate::{Outcome, Prepared, Shared};
use crate::plan::Limits;
use crate::replacement::Goal;
use crate::terms::Terms;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Worlds asked about the whole menu.
const FIRST: usize = 16;
/// A policy goes on when it comes within this share of the best on average, or of some world's own best.
const NEAR_ON_AVERAGE: f64 = 0.15;
const NEAR_SOMEWHERE: f64 = 0.02;
/// Policies nearest to the limits that go on when none keeps them.
const NEAREST: usize = 12;

/// Policies by world.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    pub policies: Vec<Candidate>,
    /// Outcomes of a policy, one for each world.
    pub outcomes: Vec<Vec<Outcome>>,
}

/// What is least: money, or time down.
pub(crate) fn measure(goal: Goal, outcome: &Outcome) -> f64 {
    match goal {
        Goal::Cost => outcome.cost_rate,
        Goal::Availability => 1.0 - outcome.availability,
    }
}

/// What every policy of some rows comes to in one world.
fn in_one_world(
    rows: &[Row],
    turn_by: usize,
    model: &Prepared,
    terms: &Terms,
    shared: &mut Shared,
) -> Vec<Option<Outcome>> {
    let rows = rows.iter();
    rows.flat_map(|row| row.outcomes(model, terms, turn_by, shared))
        .collect()
}

pub(crate) fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let n = values.len().max(1) as f64;
    values.sum::<f64>() / n
}

impl Table {
    /// The menu in the worlds `models`, which come in no particular order.
    pub fn new(
        menu: &Menu,
        models: &[Prepared],
        terms: &Terms,
        goal: Goal,
        limits: &Limits,
    ) -> Self {
        let step = models.len().div_ceil(FIRST).max(1);
        let some: Vec<&Prepared> = models.iter().step_by(step).collect();
        let all = Self::of(&menu.rows, menu.turn_by, &some, terms);
        if some.len() == models.len() {
            return all;
        }
        let (kept, ceiling) = all.near(goal, limits);
        let rows = menu.rows.iter();
        let rows: Vec<Row> = rows
            .filter_map(|row| row.only(|c| kept.contains(c)))
            .collect();
        let models: Vec<&Prepared> = models.iter().collect();
        let few = Self::of(&rows, menu.turn_by, &models, terms);
        if few.keeps_below(goal, limits, ceiling) {
            return few;
        }
        Self::of(&menu.rows, menu.turn_by, &models, terms)
    }

    /// Whether a policy keeps the limits at no more than this on average: what was left out costs more.
    fn keeps_below(&self, goal: Goal, limits: &Limits, ceiling: f64) -> bool {
        let broken = self.broken(limits);
        let mut all = self.measures(goal).into_iter().zip(broken);
        all.any(|(m, broken)| broken <= 0.0 && mean(m.iter().copied()) <= ceiling)
    }

    /// The policies of some rows that can be worked out in every world.
    fn of(rows: &[Row], turn_by: usize, models: &[&Prepared], terms: &Terms) -> Self {
        let by_world: Vec<Vec<Option<Outcome>>> = models
            .par_iter()
            .map(|model| in_one_world(rows, turn_by, model, terms, &mut Shared::default()))
            .collect();
        Self::filled(rows, &by_world)
    }

    /// The whole menu in one world.
    pub fn alone(menu: &Menu, model: &Prepared, terms: &Terms, shared: &mut Shared) -> Self {
        let world = in_one_world(&menu.rows, menu.turn_by, model, terms, shared);
        Self::filled(&menu.rows, &[world])
    }

    fn filled(rows: &[Row], by_world: &[Vec<Option<Outcome>>]) -> Self {
        let names = rows.iter().flat_map(Row::candidates);
        let (mut policies, mut outcomes) = (vec![], vec![]);
        for (i, name) in names.enumerate() {
            let of: Option<Vec<Outcome>> = by_world
                .iter()
                .map(|world| world.get(i).copied().flatten())
                .collect();
            if let Some(of) = of {
                policies.push(name);
                outcomes.push(of);
            }
        }
        Self { policies, outcomes }
    }

    /// Mean share failing and mean share of time up of a policy.
    pub fn averages(of: &[Outcome]) -> Outcome {
        Outcome {
            failed: mean(of.iter().map(|o| o.failed)),
            availability: mean(of.iter().map(|o| o.availability)),
            cost_rate: mean(of.iter().map(|o| o.cost_rate)),
            ..Outcome::default()
        }
    }

    /// How far each policy is on average from keeping the limits; 0 when it keeps them.
    pub fn broken(&self, limits: &Limits) -> Vec<f64> {
        let of = self.outcomes.iter();
        of.map(|of| limits.broken(&Self::averages(of))).collect()
    }

    /// The measure, policy by world.
    pub fn measures(&self, goal: Goal) -> Vec<Vec<f64>> {
        let one = |of: &Vec<Outcome>| of.iter().map(|o| measure(goal, o)).collect();
        self.outcomes.iter().map(one).collect()
    }

    /// The same cycles at other prices.
    pub fn priced(&self, terms: &Terms) -> Self {
        let one = |of: &Vec<Outcome>| of.iter().map(|o| o.priced(terms)).collect();
        Self {
            policies: self.policies.clone(),
            outcomes: self.outcomes.iter().map(one).collect(),
        }
    }

    /// The policies that go on, and the mean measure up to which all have.
    fn near(&self, goal: Goal, limits: &Limits) -> (Vec<Candidate>, f64) {
        let measures = self.measures(goal);
        let broken = self.broken(limits);
        let kept = |i: usize| broken.get(i).is_some_and(|b| *b <= 0.0);
        let any = broken.iter().any(|b| *b <= 0.0);
        let mut last: Vec<f64> = broken.clone();
        last.sort_by(f64::total_cmp);
        let nearest = last.get(NEAREST.min(last.len().max(1) - 1)).copied();
        let worlds = measures.first().map_or(0, Vec::len);
        let least = |of: &dyn Fn(&Vec<f64>) -> f64| {
            let mine = measures.iter().enumerate().filter(|(i, _)| kept(*i));
            mine.map(|(_, m)| of(m)).fold(f64::INFINITY, f64::min)
        };
        let average = |m: &Vec<f64>| mean(m.iter().copied());
        let ceiling = least(&average) * (1.0 + NEAR_ON_AVERAGE);
        let best: Vec<f64> = (0..worlds)
            .map(|d| least(&|m: &Vec<f64>| m.get(d).copied().unwrap_or(f64::INFINITY)))
            .collect();
        let wanted = |i: usize, m: &Vec<f64>| {
            if !any {
                return broken.get(i).copied() <= nearest;
            }
            // A limit kept only just in a few worlds may be kept in all of them, and the other way round.
            let somewhere = m
                .iter()
                .zip(&best)
                .any(|(x, b)| *x <= b * (1.0 + NEAR_SOMEWHERE));
            (kept(i) || broken.get(i).is_some_and(|b| *b < 0.01))
                && (somewhere || average(m) <= ceiling)
        };
        let firsts = self.first_of_kinds(&measures);
        let names = self.policies.iter().enumerate().zip(&measures);
        let kept = names.filter(|((i, _), m)| wanted(*i, m) || firsts.contains(i));
        (kept.map(|((_, name), _)| *name).collect(), ceiling)
    }

    /// Place of the best policy of each kind on average, without regard to limits.
    pub fn first_of_kinds(&self, measures: &[Vec<f64>]) -> Vec<usize> {
        let mut best: BTreeMap<Kind, (usize, f64)> = BTreeMap::new();
        for (i, (policy, m)) in self.policies.iter().zip(measures).enumerate() {
            let own = mean(m.iter().copied());
            let first = best.entry(policy.kind()).or_insert((i, own));
            if own < first.1 {
                *first = (i, own);
            }
        }
        best.into_values().map(|(i, _)| i).collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::calendar::Calendar;
    use crate::plan::{Choice, Request};
    use crate::seal::Seal;
    use crate::terms::Event;
    use sealspan_life::life::Life;
    use sealspan_records::observation::Clock;

    /// Policies by their costs in each world and the share that fails in all of them.
    fn table(policies: &[(Candidate, &[f64], f64)]) -> Table {
        let worlds = |costs: &[f64], failed: f64| {
            let one = |cost: &f64| Outcome {
                cost_rate: *cost,
                failed,
                ..Outcome::default()
            };
            costs.iter().map(one).collect()
        };
        Table {
            policies: policies.iter().map(|p| p.0).collect(),
            outcomes: policies.iter().map(|p| worlds(p.1, p.2)).collect(),
        }
    }

    fn at(age: u32) -> Candidate {
        Candidate {
            inspect_every: None,
            turn_every: None,
            replace_at: Some(f64::from(age)),
        }
    }

    fn at_most(failed: f64) -> Limits {
        Limits {
            most_failure_probability: Some(failed),
            ..Limits::default()
        }
    }

    /// A compromise that is nowhere near the best but near the least on average goes on; what is near neither does not.
    #[test]
    fn a_compromise_goes_on() {
        let table = table(&[
            (at(1), &[1.0, 3.0], 0.0),
            (at(2), &[3.0, 1.0], 0.0),
            (at(3), &[2.1, 2.1], 0.0),
            (at(4), &[2.4, 2.4], 0.0),
            // Near the best in one world alone.
            (at(5), &[1.01, 9.0], 0.0),
        ]);
        let (kept, ceiling) = table.near(Goal::Cost, &Limits::default());
        assert_eq!(kept, [at(1), at(2), at(3), at(5)]);
        assert!((ceiling - 1.15 * 2.0).abs() < 1e-12);
    }

    /// Where policies keep the limits in the first worlds, one that breaks them there by a hair goes on beside them; one
    /// that breaks them by much, or costs much, does not.
    #[test]
    fn a_limit_broken_by_a_hair_in_a_few_worlds_may_be_kept_in_all() {
        let cost = |i: u32| [10.0 + f64::from(i)];
        let costs: Vec<[f64; 1]> = (0..20).map(cost).collect();
        let keepers = costs
            .iter()
            .zip(1..)
            .map(|(cost, i)| (at(i), &cost[..], 0.09));
        let mut all: Vec<(Candidate, &[f64], f64)> = keepers.collect();
        // The cheapest of all goes on as the first of its kind, whatever it breaks.
        all.push((at(101), &[5.0], 0.4));
        all.push((at(102), &[9.0], 0.105));
        all.push((at(103), &[9.0], 0.12));
        all.push((at(104), &[20.0], 0.105));
        let (kept, ceiling) = table(&all).near(Goal::Cost, &at_most(0.1));
        assert_eq!(kept, [at(1), at(2), at(101), at(102)]);
        assert!((ceiling - 11.5).abs() < 1e-12);
    }

    /// Where none keeps the limits, the nearest to them go on: thirteen of twenty, beside the first of its kind.
    #[test]
    fn where_no_policy_keeps_the_limits_the_nearest_go_on() {
        let all: Vec<(Candidate, &[f64], f64)> = (1..=20)
            .map(|i| {
                let cost: &[f64] = if i == 20 { &[1.0] } else { &[2.0] };
                (at(i), cost, 0.2 + 0.01 * f64::from(i))
            })
            .collect();
        let (kept, ceiling) = table(&all).near(Goal::Cost, &at_most(0.1));
        let nearest: Vec<Candidate> = (1..=13).chain([20]).map(at).collect();
        assert_eq!(kept, nearest);
        assert!(ceiling.is_infinite());
    }

    /// Enough is left where a policy keeps the limits on average and costs no more than the ceiling.
    #[test]
    fn what_was_left_out_may_be_wanted_again() {
        let table = table(&[(at(1), &[3.0, 5.0], 0.2), (at(2), &[6.0, 8.0], 0.05)]);
        let enough =
            |most: f64, ceiling: f64| table.keeps_below(Goal::Cost, &at_most(most), ceiling);
        assert!(enough(0.1, 7.0) && enough(0.3, 4.0));
        assert!(!enough(0.1, 6.9) && !enough(0.01, 100.0) && !enough(0.3, 3.9));
    }

    /// What walks share changes nothing, nor does leaving ages out: each row by itself gives the same.
    #[test]
    fn sharing_changes_nothing() {
        let alone = |scale: f64, delay: f64| Seal {
            detection: 0.8,
            handling_damage: 0.01,
            ..Seal::two_stage(
                Life::weibull(2.5, scale).unwrap(),
                Life::weibull(1.5, delay).unwrap(),
            )
        };
        let ring = |seal: Seal| seal.with_severities(&[1.5, 1.0, 0.8, 1.0]).unwrap();
        let terms = Terms {
            failed: Event {
                money: 2500.0,
                down: 1.0,
            },
            planned: Event {
                money: 300.0,
                down: 0.2,
            },
            opening: Event {
                money: 20.0,
                down: 0.04,
            },
            look: 10.0,
            turn: 2.0,
            ..Terms::default()
        };
        for seal in [alone(300.0, 90.0), ring(alone(300.0, 90.0))] {
            let model = Prepared::new(&seal).unwrap();
            let request = Request::default();
            let days = (Clock::Days, Calendar::Months);
            let menu = Menu::new(&model, &request, days.0, days.1, None).unwrap();
            let mut shared = Shared::default();
            let together = in_one_world(&menu.rows, menu.turn_by, &model, &terms, &mut shared);
            let each = menu.rows.iter().flat_map(|row| {
                let fresh = &mut Shared::default();
                row.outcomes(&model, &terms, menu.turn_by, fresh)
            });
            assert_eq!(together, each.collect::<Vec<_>>());
            // Without the last ages a walk ends sooner, and knows as much.
            let early = |c: &Candidate| c.replace_at.is_some_and(|age| age < 250.0);
            for row in &menu.rows {
                let Some(first) = row.only(early) else {
                    continue;
                };
                let fresh = &mut Shared::default();
                let all = row.outcomes(&model, &terms, menu.turn_by, fresh);
                let some = first.outcomes(&model, &terms, menu.turn_by, &mut shared);
                let wanted = row.candidates().zip(all).filter(|(c, _)| early(c));
                assert_eq!(some, wanted.map(|(_, o)| o).collect::<Vec<_>>());
            }
            // Another delay: only the stretches are still known.
            let other = if seal.ring().is_some() {
                ring(alone(300.0, 60.0))
            } else {
                alone(300.0, 60.0)
            };
            let other = Prepared::new(&other).unwrap();
            let mut still = shared.still_known(true, false);
            assert_eq!(
                in_one_world(&menu.rows, menu.turn_by, &other, &terms, &mut still),
                in_one_world(
                    &menu.rows,
                    menu.turn_by,
                    &other,
                    &terms,
                    &mut Shared::default()
                )
            );
        }
    }

    /// Where none of three keeps the limits, all three go on.
    #[test]
    fn of_few_policies_that_break_the_limits_all_go_on() {
        let all = [
            (at(1), &[1.0][..], 0.4),
            (at(2), &[2.0][..], 0.3),
            (at(3), &[3.0][..], 0.2),
        ];
        for n in 1..=3 {
            let (kept, _) = table(&all[..n]).near(Goal::Cost, &at_most(0.1));
            let want: Vec<Candidate> = all[..n].iter().map(|p| p.0).collect();
            assert_eq!(kept, want);
        }
    }

    /// Ages in forty worlds: what is far from the best in the first of them is left out, but where no age keeps the limits
    /// all worlds are asked about all.
    #[test]
    fn ages_are_left_out_only_where_others_keep_the_limits() {
        let terms = Terms {
            failed: Event {
                money: 2500.0,
                down: 1.0,
            },
            planned: Event {
                money: 300.0,
                down: 0.2,
            },
            ..Terms::default()
        };
        let life = |i: i32| Life::weibull(3.0, 300.0 + f64::from(i)).unwrap();
        let worlds: Vec<Prepared> = (0..40)
            .map(|i| Prepared::new(&Seal::one_stage(life(i))).unwrap())
            .collect();
        let request = Request {
            inspect: Choice::Never,
            turn: Choice::Never,
            ..Request::default()
        };
        let menu = Menu::new(&worlds[0], &request, Clock::Days, Calendar::Months, None).unwrap();
        let of = |limits: &Limits| Table::new(&menu, &worlds, &terms, Goal::Cost, limits);
        let models: Vec<&Prepared> = worlds.iter().collect();
        let whole = Table::of(&menu.rows, menu.turn_by, &models, &terms);
        let least = |table: &Table| {
            let averages = table.measures(Goal::Cost).into_iter();
            averages
                .map(|m| mean(m.into_iter()))
                .fold(f64::INFINITY, f64::min)
        };
        let free = of(&Limits::default());
        assert!(free.policies.len() < whole.policies.len());
        assert_eq!(least(&free), least(&whole));
        assert_eq!(of(&at_most(1e-9)).policies, whole.policies);
    }
}
