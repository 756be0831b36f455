//! What else differs: every level of every other column against the rest, within the groups of the
//! study's question, with the many looks allowed for.

use crate::wire::GroupKey;
use rayon::prelude::*;
use sealspan_life::family::Family;
use sealspan_life::regression::{Cell, regress};
use sealspan_life::terms::Terms;
use sealspan_records::{Answer, NONE, Question, Records, Sample, ask};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A level that lives longer or shorter than the rest of its groups.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Screened {
    /// Column.
    pub column: String,
    /// Level.
    pub level: String,
    /// Its seals.
    pub seals: f64,
    /// Its failures.
    pub failures: f64,
    /// Its life over that of the rest, the groups held constant.
    pub life_ratio: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// p-value of this look by itself.
    pub p_value: f64,
    /// p-value allowing for all looks (Bonferroni).
    pub p_value_all_looks: f64,
}

/// What was looked at, and what stood out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Screen {
    /// Columns looked at.
    pub columns: Vec<String>,
    /// Looks in all: levels with enough failures.
    pub looks: usize,
    /// Levels whose p-value over all looks is below 0.05, smallest first.
    pub found: Vec<Screened>,
}

/// Failures a level needs to be looked at (a rule of ours).
const FAILURES: f64 = 5.0;
/// Levels a column may have to count as a grouping.
const MOST_LEVELS: usize = 400;
/// Share of false alarms over all looks.
const ALARM: f64 = 0.05;

/// Columns that are ages, dates, readings or names of single seals, not groupings.
const NOT_GROUPINGS: [&str; 24] = [
    "seal",
    "fitted",
    "fitted_reading",
    "removed",
    "removed_reading",
    "last_known_good",
    "outcome",
    "mechanism",
    "sector",
    "cure_date",
    "records_from",
    "records_to",
    "current_reading",
    "lower",
    "upper",
    "entry",
    "count",
    "time",
    "status",
    "mode",
    "material",
    "asset",
    "thickness_mm",
    "turned",
];

/// Looks at every column that groups the seals, given the groups `by`.
#[must_use]
pub fn screen(
    records: &Records,
    question: &Question,
    family: &'static dyn Family,
    confidence: f64,
) -> Screen {
    let columns = groupings(records, &question.by);
    let mut looks: Vec<Look> = vec![];
    for column in &columns {
        let by: Vec<String> = question.by.iter().chain([column]).cloned().collect();
        if let Ok(answer) = ask(
            records,
            &Question {
                by,
                ..question.clone()
            },
        ) {
            looks.extend(levels(column, &answer));
        }
    }
    let total = looks.len();
    let mut found: Vec<Screened> = looks
        .par_iter()
        .filter_map(|look| look.judge(family, confidence, total))
        .collect();
    found.retain(|s| s.p_value_all_looks < ALARM);
    found.sort_by(|a, b| a.p_value.total_cmp(&b.p_value));
    Screen {
        columns,
        looks: total,
        found,
    }
}

/// The columns that may group seals, other than those in `taken`.
pub(super) fn groupings(records: &Records, taken: &[String]) -> Vec<String> {
    let study = &records.study.columns;
    let ours = |column: &str| {
        let maps = [&study.seals, &study.assets, &study.life];
        let mapped = maps
            .iter()
            .flat_map(|m| m.iter())
            .find(|(_, theirs)| *theirs == column);
        mapped.map_or_else(|| column.to_owned(), |(ours, _)| ours.clone())
    };
    let taken: BTreeSet<&str> = taken.iter().map(String::as_str).collect();
    records
        .columns()
        .into_iter()
        .filter(|c| {
            let name = ours(c);
            !taken.contains(c.as_str())
                && !taken.contains(name.as_str())
                && !NOT_GROUPINGS.contains(&name.as_str())
        })
        .collect()
}

/// One level against the rest: for each group, its seals and the others.
struct Look {
    column: String,
    level: String,
    cells: Vec<(GroupKey, Sample, Sample)>,
}

fn levels(column: &str, answer: &Answer) -> Vec<Look> {
    // Seals by group and level.
    let mut seals: BTreeMap<Vec<(String, String)>, BTreeMap<String, Sample>> = BTreeMap::new();
    let mut names: BTreeSet<String> = BTreeSet::new();
    for group in &answer.groups {
        if let Some(((_, level), key)) = group.key.split_last() {
            names.insert(level.clone());
            let levels = seals.entry(key.to_vec()).or_default();
            levels.insert(level.clone(), group.sample.reduce());
        }
    }
    if !(2..=MOST_LEVELS).contains(&names.len()) {
        return vec![];
    }
    names
        .into_iter()
        .filter(|level| level != NONE)
        .map(|level| {
            let mut cells = vec![];
            for (key, levels) in &seals {
                if let Some(own) = levels.get(&level) {
                    let others = levels.iter().filter(|(l, _)| **l != level);
                    let rest = others.flat_map(|(_, s)| s.rows().iter().copied()).collect();
                    let rest = Sample::new(rest).reduce();
                    cells.push((GroupKey(key.clone()), own.clone(), rest));
                }
            }
            Look {
                column: column.to_owned(),
                level,
                cells,
            }
        })
        .filter(|look| {
            let own = |c: &(GroupKey, Sample, Sample)| c.1.tally().failures();
            look.cells.iter().map(own).sum::<f64>() >= FAILURES
        })
        .collect()
}

impl Look {
    fn judge(
        &self,
        family: &'static dyn Family,
        confidence: f64,
        looks: usize,
    ) -> Option<Screened> {
        // Only groups where there is something to compare with.
        let cells: Vec<_> = self
            .cells
            .iter()
            .filter(|c| c.2.tally().failures() > 0.0)
            .collect();
        let groups = cells.len();
        let name = |i: usize| {
            if i == 0 {
                "intercept".to_owned()
            } else {
                format!("group {i}")
            }
        };
        let names: Vec<String> = (0..groups).map(name).chain(["level".to_owned()]).collect();
        let mut design = vec![];
        for (i, (_, own, rest)) in cells.iter().enumerate() {
            let row = |level: f64| -> Vec<f64> {
                let groups = (0..groups).map(|j| f64::from(u8::from(j == 0 || j == i)));
                groups.chain([level]).collect()
            };
            design.push(Cell {
                row: row(1.0),
                terms: Arc::new(Terms::new(own)),
            });
            design.push(Cell {
                row: row(0.0),
                terms: Arc::new(Terms::new(rest)),
            });
        }
        let fit = regress(family, &names, &design).ok()?;
        let effect = fit.coefficients(confidence).pop()?;
        let tally = |f: fn(&sealspan_records::Tally) -> f64| -> f64 {
            cells.iter().map(|c| f(&c.1.tally())).sum()
        };
        Some(Screened {
            column: self.column.clone(),
            level: self.level.clone(),
            seals: tally(|t| t.total()),
            failures: tally(|t| t.failures()),
            life_ratio: effect.estimate.exp(),
            lower: effect.lower.exp(),
            upper: effect.upper.exp(),
            p_value: effect.p_value,
            p_value_all_looks: (effect.p_value * looks as f64).min(1.0),
        })
    }
}
