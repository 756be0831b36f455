//! What each place does to the rate at which seals with a whole plan go: failures and findings there against what their
//! laws expect under the place's own looks.

use super::endings::FAILED;
use super::futures::practice_at;
use super::place_factors::{PlaceFactors, SITE, Tally, ending, split};
use crate::wire::GroupKey;
use crate::wire::care::GroupCare;
use crate::wire::plan::WholePlan;
use sealspan_care::ahead::cared::expected_to_go;
use sealspan_records::{Clock, Question, Records, ask};

/// Days between the ages that expected numbers are worked out at, and most of them.
const STEP: f64 = 2.0;
const MOST: usize = 4000;
/// What a look finds.
const FOUND: &str = "worn";

/// The factor of every part with a whole plan at every place; every one is 1 where the records name no sites, or the groups
/// are by site.
pub(super) fn place_rates(
    records: &Records,
    asked: &Question,
    plans: &[GroupCare],
    seed: u64,
) -> PlaceFactors {
    let mut seen = Tally::default();
    let plans: Vec<(&GroupKey, &WholePlan)> = plans
        .iter()
        .filter_map(|p| Some((&p.group, p.block.as_ref()?.plan.as_ref()?)))
        .collect();
    if !asked.by.iter().any(|c| c == SITE) {
        add(&mut seen, records, asked, &plans, FAILED);
        add(&mut seen, records, asked, &plans, FOUND);
    }
    seen.factors(seed + 300)
}

/// Adds the endings of one kind; what is expected is added with the failures.
fn add(
    seen: &mut Tally,
    records: &Records,
    asked: &Question,
    plans: &[(&GroupKey, &WholePlan)],
    kind: &str,
) {
    let mode = if kind == FAILED {
        asked.mode.clone()
    } else {
        Some(kind.to_owned())
    };
    let by = asked.by.iter().cloned().chain([SITE.to_owned()]).collect();
    let question = Question {
        by,
        clock: Clock::Days,
        mode,
    };
    // Records without sites have no such column.
    let Ok(answer) = ask(records, &question) else {
        return;
    };
    for group in &answer.groups {
        let Some((part, place)) = split(&group.key) else {
            continue;
        };
        let Some((_, plan)) = plans.iter().find(|p| *p.0 == part) else {
            continue;
        };
        let rows = group.sample.rows();
        // In one stage looks find nothing that the law knows of.
        if kind == FOUND && plan.worlds.centre.delay.is_none() {
            continue;
        }
        let oldest = rows.iter().map(|row| ending(row).0).fold(0.0, f64::max);
        let steps = ((oldest / STEP).ceil() as usize + 2).min(MOST);
        let policy = practice_at(plan, &place);
        let Ok(through) = expected_to_go(&plan.worlds.centre, &policy, STEP, steps) else {
            continue;
        };
        let at = |age: f64| {
            let k = ((age / STEP).round() as usize).min(steps - 1);
            through.get(k).copied().unwrap_or(0.0)
        };
        let Some(counted) = seen.of(&part, &place) else {
            continue;
        };
        for row in rows {
            let (last, ended) = ending(row);
            counted.happened += ended * row.count();
            if kind == FAILED {
                counted.expected += row.count() * (at(last) - at(row.entry())).max(0.0);
            }
        }
    }
}
