//! What each place does to the rate at which seals with a whole plan go: failures and findings there against what their
//! laws expect under the place's own looks.

use super::DRAWS;
use super::endings::FAILED;
use super::endings_places::{SITE, split};
use super::futures::practice_at;
use crate::wire::GroupKey;
use crate::wire::plan::WholePlan;
use sealspan_care::ahead::cared::expected_to_go;
use sealspan_care::ahead::places::{Factors, Seen as Counted, factors};
use sealspan_records::observation::{Observation, Seen};
use sealspan_records::{Clock, Question, Records, ask};
use std::collections::BTreeMap;

/// Days between the ages that expected numbers are worked out at, and most of them.
const STEP: f64 = 2.0;
const MOST: usize = 4000;
/// What a look finds.
const FOUND: &str = "worn";

/// A factor for every place.
pub(super) struct PlaceRates {
    places: Vec<String>,
    factors: Factors,
}

impl PlaceRates {
    /// From the records of all parts with a plan; every factor is 1 where they name no sites, or the groups are by site.
    pub(super) fn read(
        records: &Records,
        asked: &Question,
        plans: &[(&GroupKey, &WholePlan)],
        seed: u64,
    ) -> Self {
        let mut seen: BTreeMap<String, Counted> = BTreeMap::new();
        if !asked.by.iter().any(|c| c == SITE) {
            add(&mut seen, records, asked, plans, FAILED);
            add(&mut seen, records, asked, plans, FOUND);
        }
        let counts: Vec<Counted> = seen.values().copied().collect();
        Self {
            factors: factors(&counts, DRAWS, seed + 300),
            places: seen.into_keys().collect(),
        }
    }

    /// A place's factor at the estimate, and at every draw.
    pub(super) fn of(&self, place: &str) -> (f64, Vec<f64>) {
        let at = self.places.iter().position(|p| p == place);
        let found = at.and_then(|i| {
            let drawn = self.factors.drawn.iter().filter_map(|d| d.get(i).copied());
            Some((self.factors.centre.get(i).copied()?, drawn.collect()))
        });
        found.unwrap_or_else(|| (1.0, vec![1.0; DRAWS]))
    }
}

/// Adds the endings of one kind; what is expected is added with the failures.
fn add(
    seen: &mut BTreeMap<String, Counted>,
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
        let counted = seen.entry(place).or_default();
        for row in rows {
            let (last, ended) = ending(row);
            counted.happened += ended * row.count();
            if kind == FAILED {
                counted.expected += row.count() * (at(last) - at(row.entry())).max(0.0);
            }
        }
    }
}

/// Age at the end, and 1 where the seal ended so.
pub(super) fn ending(row: &Observation) -> (f64, f64) {
    match row.seen() {
        Seen::Exact(t) => (t, 1.0),
        Seen::Right(t) => (t, 0.0),
        Seen::Interval(a, b) => (0.5 * (a + b), 1.0),
    }
}
