//! The conditions that are looked at: levels of columns, for all groups or within one.

use super::frame::{Column, Frame};
use super::ground::Ground;
use crate::column::spoken;
use sealspan_life::regression::Row;
use sealspan_records::NONE;
use std::collections::BTreeSet;

/// A condition.
pub struct Candidate {
    /// Column.
    pub column: String,
    /// Level.
    pub level: String,
    /// Group to which it is confined: column and level.
    pub within: Option<(String, String)>,
    /// The gatherings that have it, each with 1.
    pub row: Row,
    /// Its seals.
    pub seals: f64,
    /// Its failures.
    pub failures: f64,
    /// How near its column is to what wears a seal: 0 for what it is exposed to, 1 for others, 2 for equipment.
    pub remoteness: u8,
}

/// Failures that a condition needs, and the others need, for a look (a rule of ours).
const FAILURES: f64 = 3.0;

/// Words in the names of columns that say what a seal meets, and of those that say where it sits (a rule of ours,
/// used only to name a condition that another one shares all its seals with).
const EXPOSURE: [&str; 16] = [
    "product",
    "medium",
    "fluid",
    "oil",
    "clean",
    "chemical",
    "agent",
    "acid",
    "caustic",
    "steam",
    "temperature",
    "pressure",
    "concentration",
    "humidity",
    "duty",
    "batch",
];
const EQUIPMENT: [&str; 6] = ["model", "make", "type", "line", "position", "part"];

impl Candidate {
    /// The condition in words.
    pub fn words(&self) -> String {
        let own = format!("{} {}", spoken(&self.column), self.level);
        match &self.within {
            Some((_, group)) => format!("{group} with {own}"),
            None => own,
        }
    }
}

/// Every condition with enough failures.
pub fn all(frame: &Frame, ground: &Ground) -> Vec<Candidate> {
    let tallies: Vec<_> = frame.samples.iter().map(|s| s.tally()).collect();
    let total: f64 = tallies.iter().map(|t| t.failures()).sum();
    let mut out = vec![];
    for column in frame.columns.iter().filter(|c| !ground.holds(&c.name)) {
        let mut by_level: Vec<Vec<usize>> = vec![vec![]; column.levels.len()];
        for (at, code) in column.codes.iter().enumerate() {
            if let Some(list) = by_level.get_mut(*code) {
                list.push(at);
            }
        }
        for (level, own) in column.levels.iter().zip(&by_level) {
            if level == NONE {
                continue;
            }
            let mut add = |within: Option<(&Column, usize)>| {
                let has = |at: &&usize| {
                    within.is_none_or(|(by, group)| by.codes.get(**at) == Some(&group))
                };
                let row: Row = own.iter().filter(has).map(|at| (*at, 1.0)).collect();
                let mine = || row.iter().filter_map(|(at, _)| tallies.get(*at));
                let failures: f64 = mine().map(|t| t.failures()).sum();
                if failures < FAILURES || total - failures < FAILURES {
                    return;
                }
                out.push(Candidate {
                    column: column.name.clone(),
                    level: level.clone(),
                    within: within.map(|(by, group)| {
                        (
                            by.name.clone(),
                            by.levels.get(group).cloned().unwrap_or_default(),
                        )
                    }),
                    seals: mine().map(|t| t.total()).sum(),
                    failures,
                    row,
                    remoteness: remoteness(&column.ours),
                });
            };
            add(None);
            for by in &frame.by {
                let groups: BTreeSet<usize> = own
                    .iter()
                    .filter_map(|at| by.codes.get(*at).copied())
                    .collect();
                // Within one group alone it is the same condition.
                if groups.len() > 1 {
                    for group in groups {
                        add(Some((by, group)));
                    }
                }
            }
        }
    }
    out
}

fn remoteness(name: &str) -> u8 {
    let name = name.to_lowercase();
    if EXPOSURE.iter().any(|w| name.contains(w)) {
        0
    } else if EQUIPMENT.iter().any(|w| name.contains(w)) {
        2
    } else {
        1
    }
}
