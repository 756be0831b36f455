//! Are sound seals taken off too early, and what does that throw away?

use super::cycle::Cycle;
use super::law::{Home, Laws};
use super::{Asked, Seals};
use crate::wire::habits::{Middle, ReplacedResult};
use crate::wire::{GroupKey, Number};
use sealspan_care::costs::{Costs, DAYS_PER_YEAR};
use sealspan_life::life::Life;
use sealspan_life::recurrence::many::false_discovery;
use sealspan_records::Clock;
use std::collections::BTreeMap;

/// Seals taken off by schedule from which a habit is judged (a rule of ours).
const FEWEST: f64 = 5.0;

/// What was seen of a group at a site.
#[derive(Default)]
struct Seen {
    /// Ages and numbers of seals taken off by schedule.
    ages: Vec<(f64, f64)>,
    ended: f64,
    gone: f64,
    oldest: f64,
    running: f64,
}

/// What one life says of the habit.
struct Said {
    limit: Option<f64>,
    thrown: f64,
    lasted: Option<f64>,
    cost: Option<f64>,
    early: bool,
}

/// Every group at every site with seals taken off by schedule.
pub(super) fn replaced(
    seals: &Seals,
    laws: &Laws,
    costs: Option<&Costs>,
    confidence: f64,
    asked: &Asked<'_>,
) -> Vec<ReplacedResult> {
    let mut out: Vec<ReplacedResult> = seen(seals)
        .into_iter()
        .filter(|(_, s)| total(&s.ages) >= FEWEST)
        .filter_map(|(home, seen)| {
            let (life, draws) = laws.of(&home)?;
            judge(home, &seen, &life, &draws, costs, confidence, asked.clock)
        })
        .collect();
    let p: Vec<f64> = out.iter().map(|r| r.p_value).collect();
    for (row, adjusted) in out.iter_mut().zip(false_discovery(&p)) {
        row.adjusted_p_value = adjusted;
        row.too_early = adjusted <= asked.false_discovery;
    }
    out
}

fn total(ages: &[(f64, f64)]) -> f64 {
    ages.iter().map(|a| a.1).sum()
}

fn seen(seals: &Seals) -> BTreeMap<Home, Seen> {
    let mut out: BTreeMap<Home, Seen> = BTreeMap::new();
    for group in &seals.answer.groups {
        let parts = seals.parts(&group.key);
        let home = (parts.site.map(str::to_owned), parts.like.to_vec());
        let own = out.entry(home).or_default();
        let count = group.sample.tally().total();
        let reached = group.sample.rows().iter().map(|o| o.last());
        own.oldest = reached.fold(own.oldest, f64::max);
        match parts.outcome {
            "in_service" => own.running += count,
            "preventive" => {
                let rows = group.sample.rows().iter();
                own.ages.extend(rows.map(|o| (o.last(), o.count())));
                own.ended += count;
            }
            "failed" | "worn" => {
                own.gone += count;
                own.ended += count;
            }
            _ => own.ended += count,
        }
    }
    for own in out.values_mut() {
        own.ages.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    out
}

/// The age by which a share of the seals had been taken off.
fn quantile(ages: &[(f64, f64)], share: f64) -> f64 {
    let wanted = share * total(ages);
    let mut so_far = 0.0;
    for (age, count) in ages {
        so_far += count;
        if so_far >= wanted {
            return *age;
        }
    }
    ages.last().map_or(0.0, |a| a.0)
}

fn say(life: &Life, seen: &Seen, costs: Option<&Costs>, units: f64) -> Option<Said> {
    let cycle = Cycle::new(life)?;
    let called = cycle.called(life, costs);
    let practised = quantile(&seen.ages, 0.5);
    let whole = cycle.service(called.age);
    let (mut thrown, mut lasted) = (0.0, 0.0);
    for (age, count) in &seen.ages {
        let alive = cycle.survival(*age);
        let left = ((whole - cycle.service(Some(*age))) / alive).max(0.0);
        if alive > 0.0 {
            thrown += count * left / (age + left);
        }
        if let Some(limit) = called.age
            && alive > 0.0
        {
            lasted += count * (cycle.survival(limit) / alive).min(1.0);
        }
    }
    let n = total(&seen.ages);
    let cost = called.rate.zip(costs).map(|(best, costs)| {
        let today = cycle.rate(costs, Some(practised));
        seen.running * units * (today - best)
    });
    Some(Said {
        limit: called.age,
        thrown: thrown / n,
        lasted: called.age.map(|_| lasted / n),
        cost,
        early: practised < called.from,
    })
}

fn judge(
    (site, like): Home,
    seen: &Seen,
    life: &Life,
    draws: &[Life],
    costs: Option<&Costs>,
    confidence: f64,
    clock: Clock,
) -> Option<ReplacedResult> {
    let units = if clock == Clock::Days {
        DAYS_PER_YEAR
    } else {
        1.0
    };
    let said = say(life, seen, costs, units)?;
    let drawn: Vec<Said> = draws
        .iter()
        .filter_map(|life| say(life, seen, costs, units))
        .collect();
    let ends = |of: &dyn Fn(&Said) -> f64| {
        let mut values: Vec<f64> = drawn.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        let at = |share: f64| {
            let place = (share * (values.len().max(1) - 1) as f64).round() as usize;
            values.get(place).copied().filter(|v| v.is_finite())
        };
        (at(0.5 - 0.5 * confidence), at(0.5 + 0.5 * confidence))
    };
    let number = |estimate: Option<f64>, of: &dyn Fn(&Said) -> f64, reason: &str| {
        let (lower, upper) = ends(of);
        Number {
            estimate,
            lower,
            upper,
            reason: (estimate.is_none() || upper.is_none()).then(|| reason.to_owned()),
        }
    };
    let waits = "waiting for failures is best, or may be: there is no age to last to";
    let not_early = drawn.iter().filter(|d| !d.early).count() as f64;
    Some(ReplacedResult {
        site,
        group: GroupKey(like),
        replaced: total(&seen.ages),
        ended: seen.ended,
        gone: seen.gone,
        oldest: seen.oldest,
        practised_age: Middle {
            median: quantile(&seen.ages, 0.5),
            quarter: quantile(&seen.ages, 0.25),
            three_quarters: quantile(&seen.ages, 0.75),
        },
        limit_age: number(said.limit, &|s| s.limit.unwrap_or(f64::INFINITY), waits),
        thrown_away: number(Some(said.thrown), &|s| s.thrown, ""),
        would_have_lasted: match said.lasted {
            Some(lasted) => number(Some(lasted), &|s| s.lasted.unwrap_or(0.0), waits),
            None => Number {
                reason: Some(waits.to_owned()),
                ..Number::default()
            },
        },
        running: seen.running,
        yearly_cost: match said.cost {
            Some(cost) => number(Some(cost), &|s| s.cost.unwrap_or(0.0), ""),
            None => Number {
                reason: Some("the study gives no costs".to_owned()),
                ..Number::default()
            },
        },
        p_value: (1.0 + not_early) / (1.0 + drawn.len() as f64),
        adjusted_p_value: 1.0,
        too_early: false,
    })
}
