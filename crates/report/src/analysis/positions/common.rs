//! What the hungry positions have in common.

use crate::analysis::screen::groupings;
use crate::wire::positions::PositionsDocument;
use sealspan_numeric::special::ln_gamma;
use sealspan_records::Records;
use sealspan_records::positions::{PositionLog, PositionsQuestion, positions};
use std::collections::{BTreeMap, BTreeSet};

/// Share of false alarms over all levels looked at.
const ALARM: f64 = 0.05;

/// A level of a column that hungry positions share more than others do.
pub(super) struct Shared {
    pub(super) column: String,
    pub(super) level: String,
    /// Hungry positions at that level, and all positions at it.
    pub(super) hungry: usize,
    pub(super) all: usize,
}

type Home = (String, Option<String>);

/// The levels that hungry positions share more than chance would have it, most telling first; each column
/// once. Positions whose seals differ in the column do not take part.
pub(super) fn shared(
    records: &Records,
    question: &PositionsQuestion,
    document: &PositionsDocument,
) -> Vec<Shared> {
    let hungry: BTreeSet<Home> = document
        .positions
        .iter()
        .filter(|p| p.hungry)
        .map(|p| (p.asset.clone(), p.position.clone()))
        .collect();
    if hungry.len() < 3 {
        return vec![];
    }
    let mut found: Vec<(f64, Shared)> = vec![];
    let mut looks = 0.0;
    for column in groupings(records, &question.like) {
        let asked = PositionsQuestion {
            by: vec![column.clone()],
            ..question.clone()
        };
        let Ok(logs) = positions(records, &asked) else {
            continue;
        };
        let (levels, total) = tally(&logs.list, &hungry);
        if levels.len() < 2 || 2 * levels.len() > logs.list.len() {
            continue;
        }
        looks += levels.len() as f64;
        let best = levels
            .into_iter()
            .map(|(level, (h, n))| (at_least(h, n, total), level, h, n))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((p, level, h, n)) = best {
            let shared = Shared {
                column,
                level,
                hungry: h,
                all: n,
            };
            found.push((p, shared));
        }
    }
    found.retain(|(p, _)| p * looks < ALARM);
    found.sort_by(|a, b| {
        a.0.total_cmp(&b.0)
            .then_with(|| a.1.column.cmp(&b.1.column))
    });
    found.into_iter().map(|(_, s)| s).collect()
}

/// Hungry and all positions by level, and in all.
fn tally(
    logs: &[PositionLog],
    hungry: &BTreeSet<Home>,
) -> (BTreeMap<String, (usize, usize)>, (usize, usize)) {
    let mut levels: BTreeMap<String, (usize, usize)> = BTreeMap::new();
    let mut total = (0, 0);
    for log in logs {
        let Some((_, level)) = log.group.as_ref().and_then(|g| g.first()) else {
            continue;
        };
        let is = hungry.contains(&(log.asset.clone(), log.position.clone()));
        let cell = levels.entry(level.clone()).or_default();
        for count in [cell, &mut total] {
            count.0 += usize::from(is);
            count.1 += 1;
        }
    }
    (levels, total)
}

/// Chance that `n` of the positions drawn from all hold `h` hungry ones or more (hypergeometric).
fn at_least(h: usize, n: usize, (hungry, all): (usize, usize)) -> f64 {
    let choose = |n: usize, k: usize| {
        ln_gamma(n as f64 + 1.0) - ln_gamma(k as f64 + 1.0) - ln_gamma((n - k) as f64 + 1.0)
    };
    (h..=n.min(hungry))
        .filter(|x| n - x <= all - hungry)
        .map(|x| (choose(hungry, x) + choose(all - hungry, n - x) - choose(all, n)).exp())
        .sum()
}
