//! What each extra look buys: every site looks a number of times as often as it does today, and goes on turning and
//! replacing as it does.

use super::basis::{basis, mean_life, on_frames};
use super::{Evidence, Facts, today};
use crate::analysis::drawn::ends;
use crate::analysis::lives::GroupLife;
use crate::wire::care::PlanQuestion;
use crate::wire::looks::{LooksRow, PartLooks};
use rayon::prelude::*;
use sealspan_care::costs::{DAYS_PER_YEAR, HOURS_PER_DAY};
use sealspan_care::evaluate::Prepared;
use sealspan_care::policy::{CarePolicy, Looks};
use sealspan_care::seal::Seal;
use sealspan_care::terms::Terms;
use sealspan_care::weigh::Practice;

/// How many times as often as today.
const TIMES: [f64; 6] = [4.0, 2.0, 1.0, 0.5, 0.25, 0.0];
/// Fewest worlds drawn from the estimates that figures and intervals rest on.
const FEWEST: usize = 20;

/// The seal of a plan at its estimate and in every world, and today's practice on the clock of days.
#[derive(Debug, Clone)]
pub struct Worlds {
    /// At the estimate.
    pub centre: Seal,
    /// In every world.
    pub draws: Vec<Seal>,
    /// What each site does.
    pub practice: Vec<Practice>,
    /// Why looks find nothing before the failure.
    pub one_stage: Option<String>,
}

/// The worlds of a group without the weighing of policies.
///
/// # Errors
/// In words, when there is no life.
pub(crate) fn worlds(
    group: &GroupLife,
    evidence: &Evidence,
    facts: &Facts,
    question: &PlanQuestion,
) -> Result<Worlds, String> {
    let words = |e: sealspan_care::error::Error| e.to_string();
    let fitted = group.trusted()?;
    let (histories, sites) = evidence.of(&group.key.0);
    let basis = basis(fitted, histories, facts, question);
    let terms = Terms::new(question.costs, &question.handling).map_err(words)?;
    let today = today(&sites, &terms, mean_life(&basis.centre).map_err(words)?);
    let seed = (question.seed, question.confidence);
    let (basis, _) = on_frames(basis, evidence, facts, &today, seed);
    Ok(Worlds {
        centre: basis.centre,
        draws: basis.draws,
        practice: today.policies,
        one_stage: basis.two_stage.err().map(|one| one.reason),
    })
}

/// Rates of one position per day.
#[derive(Debug, Clone, Copy, Default)]
struct Figures {
    cost: f64,
    failures: f64,
    looks: f64,
    down: f64,
}

impl Figures {
    /// Adds so many times of another's.
    fn add(&mut self, other: &Self, times: f64) {
        self.cost += times * other.cost;
        self.failures += times * other.failures;
        self.looks += times * other.looks;
        self.down += times * other.down;
    }
}

/// Sites with looks `times` as often as they look.
fn figures(model: &Prepared, practice: &[Practice], times: f64, terms: &Terms) -> Option<Figures> {
    let whole: f64 = practice.iter().map(|p| p.share).sum();
    let mut sum = Figures::default();
    for site in practice {
        let looks = match &site.policy.looks {
            Looks::Every(step) if times > 0.0 => Looks::Every(step / times),
            _ => Looks::Never,
        };
        let policy = CarePolicy {
            looks,
            ..site.policy.clone()
        };
        let outcome = model.rough(&policy, terms, None).ok()?;
        let here = Figures {
            cost: outcome.cost_rate,
            failures: outcome.failed / outcome.mean_cycle,
            looks: outcome.inspections_per_cycle / outcome.mean_cycle,
            down: 1.0 - outcome.availability,
        };
        sum.add(&here, site.share / whole);
    }
    Some(sum)
}

/// Every number of looks in one world.
fn all(seal: &Seal, practice: &[Practice], terms: &Terms) -> Option<Vec<Figures>> {
    let model = Prepared::new(seal).ok()?;
    let each = TIMES.map(|times| figures(&model, practice, times, terms));
    each.into_iter().collect()
}

/// Mean days between looks today, at the sites that look.
fn mean_step(practice: &[Practice]) -> Option<f64> {
    let (mut share, mut rate) = (0.0, 0.0);
    for site in practice {
        if let Looks::Every(step) = site.policy.looks {
            share += site.share;
            rate += site.share / step;
        }
    }
    (rate > 0.0).then(|| share / rate)
}

/// The looks of a part whose `worlds` are known.
#[must_use]
pub(crate) fn part_looks(
    group: &GroupLife,
    worlds: Result<&Worlds, String>,
    terms: &Terms,
    confidence: f64,
) -> PartLooks {
    let positions = group.running.iter().map(|r| r.count).sum();
    let rows = worlds.and_then(|w| rows(w, positions, terms, confidence));
    PartLooks {
        part: group.key.words(),
        positions,
        reason: rows.as_ref().err().cloned(),
        rows: rows.unwrap_or_default(),
    }
}

/// Why there are no rows.
const NO_FIGURES: &str = "the figures of today's practice cannot be worked out";

fn rows(
    worlds: &Worlds,
    positions: f64,
    terms: &Terms,
    confidence: f64,
) -> Result<Vec<LooksRow>, String> {
    if let Some(why) = &worlds.one_stage {
        return Err(format!(
            "looks are taken to find nothing before the failure: {why}"
        ));
    }
    let practice = worlds.practice.as_slice();
    let step = mean_step(practice).ok_or("no site looks at these seals regularly")?;
    let drawn: Vec<Vec<Figures>> = worlds
        .draws
        .par_iter()
        .filter_map(|seal| all(seal, practice, terms))
        .collect();
    if drawn.len() < FEWEST {
        return Err(
            "too few of the lives drawn from the estimate have long-run figures".to_owned(),
        );
    }
    let today = TIMES.iter().position(|t| *t == 1.0).unwrap_or(0);
    let year = positions * DAYS_PER_YEAR;
    let cost = |world: &[Figures], i: usize| world.get(i).map_or(f64::NAN, |f| f.cost * year);
    // Averages over the worlds, as the plan's are.
    let mean = |i: usize| -> Option<Figures> {
        let mut sum = Figures::default();
        for world in &drawn {
            sum.add(world.get(i)?, 1.0 / drawn.len() as f64);
        }
        Some(sum)
    };
    let now = mean(today).ok_or(NO_FIGURES)?;
    let row = |(i, times): (usize, &f64)| {
        let here = mean(i)?;
        let of =
            |value: &dyn Fn(&[Figures]) -> f64| ends(drawn.iter().map(|w| value(w)), confidence);
        let dearer = |w: &[Figures]| cost(w, i) - cost(w, today);
        let [cost_lower, cost_upper] = of(&|w| cost(w, i))?;
        let [dearer_lower, dearer_upper] = of(&dearer)?;
        let every = (*times > 0.0).then(|| step / times);
        Some(LooksRow {
            times_today: *times,
            every,
            every_reason: every.is_none().then_some("no looks"),
            looks_per_year: here.looks * year,
            failures_per_year: here.failures * year,
            hours_down_per_year: here.down * year * HOURS_PER_DAY,
            cost_per_year: here.cost * year,
            cost_lower,
            cost_upper,
            dearer_per_year: (here.cost - now.cost) * year,
            dearer_lower,
            dearer_upper,
        })
    };
    let list: Option<Vec<LooksRow>> = TIMES.iter().enumerate().map(row).collect();
    list.ok_or_else(|| NO_FIGURES.to_owned())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_care::costs::{Costs, Prices};
    use sealspan_care::evaluate::evaluate;
    use sealspan_care::terms::Handling;
    use sealspan_life::life::Life;
    use sealspan_records::Clock;

    fn seal() -> Seal {
        Seal {
            detection: 0.8,
            ..Seal::two_stage(
                Life::weibull(2.5, 300.0).unwrap(),
                Life::weibull(1.5, 90.0).unwrap(),
            )
        }
    }

    fn terms() -> Terms {
        let prices = Prices {
            planned_cost: 80.0,
            failure_cost: 2000.0,
            planned_hours: 1.5,
            failure_hours: 9.0,
            downtime_cost: 270.0,
            discount_rate: 0.0,
        };
        let handling = Handling {
            inspection_cost: 20.0,
            opening_hours: 0.5,
            ..Handling::default()
        };
        Terms::new(&Costs::new(prices, Clock::Days).unwrap(), &handling).unwrap()
    }

    fn site(share: f64, every: Option<f64>, replace_at: Option<f64>) -> Practice {
        Practice {
            share,
            policy: CarePolicy {
                looks: every.map_or(Looks::Never, Looks::Every),
                replace_at,
                ..CarePolicy::run_to_failure()
            },
        }
    }

    fn of(practice: Vec<Practice>) -> Worlds {
        Worlds {
            centre: seal(),
            draws: vec![seal(); 25],
            practice,
            one_stage: None,
        }
    }

    /// Each row is the sum of the sites' own policies, worked out one by one; a site that never looks goes on so.
    #[test]
    fn rows_are_the_sites_policies() {
        let practice = vec![site(3.0, Some(60.0), Some(400.0)), site(1.0, None, None)];
        let rows = rows(&of(practice), 40.0, &terms(), 0.9).unwrap();
        for (row, times) in rows.iter().zip(TIMES) {
            let every = (times > 0.0).then(|| 60.0 / times);
            let outcome = |every, at| {
                let policy = site(1.0, every, at).policy;
                evaluate(&seal(), &policy, &terms()).unwrap()
            };
            let (a, b) = (outcome(every, Some(400.0)), outcome(None, None));
            let near = |got: f64, want: f64| {
                let want = want * 40.0 * 365.25;
                assert!(
                    (got - want).abs() < 1e-4 * want.abs() + 1e-9,
                    "{got} {want}"
                );
            };
            near(row.cost_per_year, 0.75 * a.cost_rate + 0.25 * b.cost_rate);
            let failed = |o: &sealspan_care::evaluate::Outcome| o.failed / o.mean_cycle;
            near(row.failures_per_year, 0.75 * failed(&a) + 0.25 * failed(&b));
            near(
                row.looks_per_year,
                0.75 * a.inspections_per_cycle / a.mean_cycle,
            );
            near(
                row.hours_down_per_year / 24.0,
                1.0 - 0.75 * a.availability - 0.25 * b.availability,
            );
            assert_eq!(row.every, every);
            // Worlds all alike leave nothing open; the mean of them rounds.
            let same = |end: f64| (end / row.cost_per_year - 1.0).abs() < 1e-13;
            assert!(same(row.cost_lower) && same(row.cost_upper));
        }
        assert_eq!(rows[2].dearer_per_year, 0.0);
        let more_looks_fewer_failures = |w: &[LooksRow]| {
            w[0].looks_per_year > w[1].looks_per_year
                && w[0].failures_per_year < w[1].failures_per_year
        };
        assert!(rows.windows(2).all(more_looks_fewer_failures));
    }

    #[test]
    fn what_cannot_be_judged_is_said() {
        let none = rows(&of(vec![site(1.0, None, None)]), 4.0, &terms(), 0.9);
        assert!(none.unwrap_err().contains("no site looks"));
        let confounded = Worlds {
            one_stage: Some("no findings".to_owned()),
            ..of(vec![site(1.0, Some(60.0), None)])
        };
        let why = rows(&confounded, 4.0, &terms(), 0.9).unwrap_err();
        assert!(why.ends_with("no findings"));
        let few = Worlds {
            draws: vec![seal(); 3],
            ..of(vec![site(1.0, Some(60.0), None)])
        };
        assert!(
            rows(&few, 4.0, &terms(), 0.9)
                .unwrap_err()
                .contains("too few")
        );
    }
}
