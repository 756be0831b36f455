//! Why a regression has no finite answer: the column and level that stand in its way.

use super::GroupKey;
use super::compare::{CompareOptions, Plan};
use nalgebra::DVector;
use sealspan_life::fit::NoFit;
use sealspan_life::regression::Design;
use sealspan_records::Cell;
use sealspan_records::observation::Sample;
use std::collections::{BTreeMap, BTreeSet};

/// What stands in the way of a finite answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InTheWay {
    /// Why, in words.
    pub words: String,
    /// Cells that the seals at fault hold; empty where no column is at fault.
    pub cells: Vec<Cell>,
}

impl InTheWay {
    /// A reason that no column is at fault for.
    #[must_use]
    pub(crate) fn plain(words: String) -> Self {
        Self {
            words,
            cells: vec![],
        }
    }
}

fn cell(column: &str, text: &str) -> Cell {
    (column.to_owned(), Some(text.to_owned()))
}

/// A column that explains itself by earlier ones to this share of its length is taken as explained.
const EXPLAINED: f64 = 1e-8;

/// Why a design has no finite answer, as plainly as can be told.
#[must_use]
pub(crate) fn reason(
    groups: &[(GroupKey, Sample)],
    options: &CompareOptions,
    plan: &Plan,
    design: &Design,
    why: &NoFit,
) -> InTheWay {
    let failures: f64 = groups.iter().map(|(_, s)| s.tally().failures()).sum();
    if failures <= 0.0 {
        return InTheWay::plain(why.to_string());
    }
    let factors: Vec<&String> = options.by.iter().chain(&options.given).collect();
    let rows: Vec<Vec<f64>> = design
        .lines
        .iter()
        .map(|line| {
            let mut row = vec![0.0; plan.names.len()];
            for (at, value) in &line.row {
                if let Some(slot) = row.get_mut(*at) {
                    *slot = *value;
                }
            }
            row
        })
        .collect();
    shape_without_failures(groups, options)
        .or_else(|| level_without_failures(groups, &factors))
        .or_else(|| combination_without_failures(groups, &options.more.interactions))
        .or_else(|| effect_without_failures(plan, design))
        .or_else(|| {
            let said: Vec<String> = plan.names.iter().map(|n| plan.said(n)).collect();
            let (at, words) = determined_column(&said, &rows)?;
            Some(InTheWay {
                words,
                cells: own_cell(plan, at).into_iter().collect(),
            })
        })
        .unwrap_or_else(|| InTheWay::plain(why.to_string()))
}

/// The cell that a coefficient stands for: its column, and its level where it is a level's.
fn own_cell(plan: &Plan, at: usize) -> Option<Cell> {
    let term = plan
        .terms
        .iter()
        .find(|t| (t.first..t.first + t.coefficients.len()).contains(&at))?;
    let level = plan.names.get(at).and_then(|n| {
        let level = n.strip_prefix(term.column.as_str())?;
        level.strip_prefix('=').map(str::to_owned)
    });
    Some((term.column.clone(), level))
}

/// More effects than can be told apart, in words that name the columns.
#[must_use]
pub(crate) fn too_many(plan: &Plan, effects: f64, most: f64) -> String {
    let largest = plan.terms.iter().max_by_key(|t| t.coefficients.len());
    let named = largest.map_or(String::new(), |t| {
        format!(
            " (`{}` alone has {} levels)",
            t.column,
            t.coefficients.len() + 1
        )
    });
    format!(
        "the columns asked for make {effects:.0} effects, more than the {most:.0} that can be told apart{named}; choose coarser columns, or name a column that only says which seals are alike under --cluster"
    )
}

/// The first combination of an interaction none of whose seals failed, in words.
fn effect_without_failures(plan: &Plan, design: &Design) -> Option<InTheWay> {
    plan.names.iter().enumerate().skip(1).find_map(|(at, name)| {
        if !name.contains(':') {
            return None;
        }
        let with = design
            .lines
            .iter()
            .filter(|l| l.row.iter().any(|(j, _)| *j == at));
        let (failed, seals) = with.fold((0.0, 0.0), |(f, n), l| {
            (f + l.terms.extent.failures, n + l.terms.extent.total)
        });
        (failed <= 0.0).then(|| {
            InTheWay::plain(format!(
                "none of the {seals:.0} seals with {name} failed, so that part of the interaction has no upper limit; merge levels, or state --penalty"
            ))
        })
    })
}

/// The first combination of two interacting columns that no seal has, or none of whose seals failed, in words.
fn combination_without_failures(
    groups: &[(GroupKey, Sample)],
    interactions: &[(String, String)],
) -> Option<InTheWay> {
    interactions.iter().find_map(|(one, other)| {
        let mut cells: BTreeMap<(&str, &str), (f64, f64)> = BTreeMap::new();
        for (key, sample) in groups {
            let cell = (super::compare::value(key, one), super::compare::value(key, other));
            let (tally, slot) = (sample.tally(), cells.entry(cell).or_default());
            slot.0 += tally.failures();
            slot.1 += tally.total();
        }
        let ones: BTreeSet<&str> = cells.keys().map(|c| c.0).collect();
        let others: BTreeSet<&str> = cells.keys().map(|c| c.1).collect();
        let all = ones.iter().flat_map(|a| others.iter().map(move |b| (*a, *b)));
        let lacking = all.map(|cell| (cell, cells.get(&cell).copied().unwrap_or_default()));
        let lacking: Vec<_> = lacking.filter(|(_, (failed, _))| *failed <= 0.0).collect();
        let ((a, b), (_, seals)) = lacking.first()?;
        let whose = format!("{one} = `{a}` and {other} = `{b}`");
        let more = match lacking.len() - 1 {
            0 => String::new(),
            n => format!(" ({n} more combinations of the two lack failures)"),
        };
        Some(if *seals > 0.0 {
            InTheWay {
                words: format!(
                    "none of the {seals:.0} seals with {whose} failed{more}, so that part of the interaction has no upper limit; merge levels, leave the interaction out, or state --penalty"
                ),
                cells: vec![cell(one, a), cell(other, b)],
            }
        } else {
            InTheWay::plain(format!(
                "no seal has {whose}{more}, so that part of the interaction cannot be told; merge levels, leave the interaction out, or state --penalty"
            ))
        })
    })
}

/// The first level with a shape of its own that cannot have one, in words.
fn shape_without_failures(
    groups: &[(GroupKey, Sample)],
    options: &CompareOptions,
) -> Option<InTheWay> {
    let column = options.more.shape_by.as_ref()?;
    let mut levels: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
    for (key, sample) in groups {
        let slot = levels
            .entry(super::compare::value(key, column))
            .or_default();
        slot.0 += sample.tally().total();
        slot.1 += sample.tally().failures();
    }
    let (level, (seals, _)) = levels.iter().find(|(_, (_, failed))| *failed <= 0.0)?;
    Some(InTheWay {
        words: format!(
            "none of the {seals:.0} seals with {column} = `{level}` failed, so they tell no shape of their own, which --shape-by asks for (--penalty holds effects, not shapes); leave --shape-by out, or merge that level with another"
        ),
        cells: vec![cell(column, level)],
    })
}

/// The first level of a factor none of whose seals failed, in words.
#[must_use]
pub(crate) fn level_without_failures(
    groups: &[(GroupKey, Sample)],
    factors: &[&String],
) -> Option<InTheWay> {
    for factor in factors {
        let mut levels: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
        for (key, sample) in groups {
            let level = super::compare::value(key, factor);
            let tally = sample.tally();
            let slot = levels.entry(level).or_default();
            slot.0 += tally.failures();
            slot.1 += tally.total();
        }
        if let Some((level, (_, seals))) = levels.iter().find(|(_, (failed, _))| *failed <= 0.0) {
            return Some(InTheWay {
                words: format!(
                    "none of the {seals:.0} seals with {factor} = `{level}` failed, so how much longer they last has no upper limit; leave that level out, merge it with another, or state --penalty to hold effects near 0"
                ),
                cells: vec![cell(factor, level)],
            });
        }
    }
    None
}

/// The first column that earlier columns determine, and that in words.
#[must_use]
pub(crate) fn determined_column(names: &[String], rows: &[Vec<f64>]) -> Option<(usize, String)> {
    let mut basis: Vec<(usize, DVector<f64>)> = vec![];
    for (j, name) in names.iter().enumerate() {
        let column: DVector<f64> = DVector::from_iterator(
            rows.len(),
            rows.iter().map(|r| r.get(j).copied().unwrap_or(0.0)),
        );
        let length = column.norm();
        let mut rest = column.clone();
        let mut by = vec![];
        for (k, direction) in &basis {
            let along = direction.dot(&rest);
            if along.abs() > 1e-6 * length && *k > 0 {
                by.push(names.get(*k).map_or("", String::as_str));
            }
            rest -= direction * along;
        }
        if rest.norm() <= EXPLAINED * length.max(f64::MIN_POSITIVE) {
            let by = if by.is_empty() {
                "is the same for every seal".to_owned()
            } else {
                format!("is determined by {}", by.join(", "))
            };
            return Some((
                j,
                format!(
                    "the column `{name}` {by}: their effects cannot be told apart; leave one of them out"
                ),
            ));
        }
        basis.push((j, rest.normalize()));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_the_column_that_says_nothing_new() {
        let names = ["intercept", "site=B", "heat"].map(str::to_owned);
        let rows = [[1.0, 0.0, 20.0], [1.0, 1.0, 35.0], [1.0, 1.0, 35.0]].map(|r| r.to_vec());
        let (at, why) = determined_column(&names, &rows).unwrap_or_default();
        assert_eq!(at, 2);
        assert!(why.contains("`heat` is determined by site=B"), "{why}");
        let rows = [[1.0, 0.0, 20.0], [1.0, 1.0, 35.0], [1.0, 1.0, 40.0]].map(|r| r.to_vec());
        assert_eq!(determined_column(&names, &rows), None);
    }
}
