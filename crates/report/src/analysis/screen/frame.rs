//! The seals with every column that groups them, gathered where all columns agree.

use sealspan_life::regression::{Clustered, Design, Regression, Robust};
use sealspan_life::terms::Terms;
use sealspan_records::{Clock, NONE, Observation, Question, Records, Sample, ask, dates};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A column: its levels in order, and the level of each gathering of seals.
pub struct Column {
    /// The file's name.
    pub name: String,
    /// Our name, where the study maps it.
    pub ours: String,
    /// Its levels.
    pub levels: Vec<String>,
    /// Position of each gathering's level.
    pub codes: Vec<usize>,
}

/// Seals gathered by all columns.
pub struct Frame {
    /// The columns of the question.
    pub by: Vec<Column>,
    /// The other columns.
    pub columns: Vec<Column>,
    /// The asset of each gathering, where recorded.
    pub assets: Option<Column>,
    /// Cycles or hours a day of each gathering's asset, where readings tell.
    pub duty: Option<Vec<f64>>,
    /// What the readings count.
    pub duty_name: &'static str,
    /// Each gathering's observations.
    pub samples: Vec<Sample>,
    /// The same, taken apart.
    pub terms: Vec<Arc<Terms>>,
}

/// Levels a column may have to count as a grouping.
const MOST_LEVELS: usize = 400;
/// Seals up to which each may be a gathering of its own.
const MOST_GATHERINGS: f64 = 50_000.0;

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

impl Column {
    /// Whether every level but an empty one is a number.
    pub(crate) fn numbers(&self) -> Option<Vec<f64>> {
        let parse = |l: &String| l.trim().parse::<f64>().ok().filter(|x| x.is_finite());
        self.levels.iter().map(parse).collect()
    }
}

/// Our name of a column.
fn ours(records: &Records, column: &str) -> String {
    let study = &records.study.columns;
    let maps = [&study.seals, &study.assets, &study.life];
    let mapped = maps
        .iter()
        .flat_map(|m| m.iter())
        .find(|(_, theirs)| *theirs == column);
    mapped.map_or_else(|| column.to_owned(), |(ours, _)| ours.clone())
}

/// The columns that may group seals, other than those in `taken`.
pub(crate) fn groupings(records: &Records, taken: &[String]) -> Vec<String> {
    let free = |c: &String| {
        let own = ours(records, c);
        !taken.contains(c) && !taken.contains(&own) && !NOT_GROUPINGS.contains(&own.as_str())
    };
    records.columns().into_iter().filter(free).collect()
}

impl Frame {
    /// Gathers the seals. `None` when nothing groups them.
    pub(crate) fn new(records: &Records, question: &Question) -> Option<Self> {
        let asking = |by: Vec<String>| {
            ask(
                records,
                &Question {
                    by,
                    ..question.clone()
                },
            )
            .ok()
        };
        let named: Vec<(String, usize)> = groupings(records, &question.by)
            .into_iter()
            .map(|c| {
                let levels = asking(vec![c.clone()]).map_or(0, |a| a.groups.len());
                (c, levels)
            })
            .filter(|(_, levels)| (2..=MOST_LEVELS).contains(levels))
            .collect();
        // Each combination of levels may be a gathering of its own.
        let combinations: f64 = named.iter().map(|(_, levels)| *levels as f64).product();
        if named.is_empty() || combinations.min(records.rows_used() as f64) > MOST_GATHERINGS {
            return None;
        }
        let named: Vec<String> = named.into_iter().map(|(name, _)| name).collect();
        let has_assets = records.seals.iter().any(|s| s.asset.is_some());
        let asset = has_assets.then(|| "asset".to_owned());
        let all = question.by.iter().chain(&named).chain(&asset);
        let answer = asking(all.cloned().collect())?;
        let column = |at: usize, name: &str| {
            let values = answer
                .groups
                .iter()
                .map(|g| g.key.get(at).map_or(NONE, |(_, v)| v.as_str()));
            coded(name, ours(records, name), values)
        };
        let first = question.by.len();
        let assets = asset.map(|name| column(first + named.len(), &name));
        let samples: Vec<Sample> = answer.groups.iter().map(|g| g.sample.clone()).collect();
        let duty = assets.as_ref().filter(|_| question.clock == Clock::Days);
        Some(Self {
            by: (0..first)
                .zip(&question.by)
                .map(|(at, n)| column(at, n))
                .collect(),
            columns: (first..).zip(&named).map(|(at, n)| column(at, n)).collect(),
            duty: duty.and_then(|column| of_assets(column, &duties(records))),
            duty_name: records.study.question.readings.unwrap_or_default().unit(),
            assets,
            terms: samples.iter().map(|s| Arc::new(Terms::new(s))).collect(),
            samples,
        })
    }

    /// Number of gatherings.
    pub(crate) fn gatherings(&self) -> usize {
        self.samples.len()
    }

    /// Columns looked at, apart from those held constant.
    pub(crate) fn looked_at(&self, ground: &super::Ground) -> Vec<String> {
        let others = self.columns.iter().filter(|c| !ground.holds(&c.name));
        others.map(|c| c.name.clone()).collect()
    }

    /// The covariance that allows for like seals of one asset. `None` where no asset is recorded.
    pub(crate) fn robust(&self, fit: &Regression, design: &Design) -> Option<Robust> {
        let assets = self.assets.as_ref()?;
        let parts: Vec<Clustered<'_>> = design
            .lines
            .iter()
            .zip(&assets.codes)
            .map(|(line, code)| Clustered {
                cluster: assets.levels.get(*code).map_or("", String::as_str),
                row: &line.row,
                offset: line.offset,
                stratum: line.stratum,
                terms: Terms::clone(&line.terms),
            })
            .collect();
        fit.robust(&parts)
    }

    /// All observations of the gatherings that `has` picks.
    pub(crate) fn pooled(&self, has: impl Fn(usize) -> bool) -> Sample {
        let rows: Vec<Observation> = self
            .samples
            .iter()
            .enumerate()
            .filter(|(at, _)| has(*at))
            .flat_map(|(_, s)| s.rows().iter().copied())
            .collect();
        Sample::new(rows)
    }
}

fn coded<'a>(name: &str, ours: String, values: impl Iterator<Item = &'a str> + Clone) -> Column {
    let mut seen: BTreeMap<&str, usize> = values.clone().map(|v| (v, 0)).collect();
    for (at, slot) in seen.values_mut().enumerate() {
        *slot = at;
    }
    let codes = values.filter_map(|v| seen.get(v).copied()).collect();
    Column {
        name: name.to_owned(),
        ours,
        levels: seen.keys().map(|l| (*l).to_owned()).collect(),
        codes,
    }
}

/// Readings a day of each asset: what its seals counted over the days they were in.
pub(crate) fn duties(records: &Records) -> BTreeMap<&str, f64> {
    let mut sums: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
    for seal in &records.seals {
        let ends = seal
            .fitted_reading
            .zip(seal.removed_reading)
            .zip(seal.removed);
        let (Some(asset), Some(((from, to), removed))) = (seal.asset.as_deref(), ends) else {
            continue;
        };
        let days = dates::days_between(seal.fitted.first(), removed.first());
        if to > from && days > 0 {
            let slot = sums.entry(asset).or_default();
            slot.0 += to - from;
            slot.1 += days as f64;
        }
    }
    sums.into_iter()
        .map(|(asset, (count, days))| (asset, count / days))
        .collect()
}

/// Duty by gathering; the middle one where an asset has none. `None` when fewer than half have one.
fn of_assets(assets: &Column, duties: &BTreeMap<&str, f64>) -> Option<Vec<f64>> {
    let mut known: Vec<f64> = duties.values().copied().collect();
    if 2 * known.len() < assets.levels.len() {
        return None;
    }
    known.sort_by(f64::total_cmp);
    let middle = *known.get(known.len() / 2)?;
    let of = |code: &usize| {
        let name = assets.levels.get(*code)?;
        duties.get(name.as_str()).copied()
    };
    Some(
        assets
            .codes
            .iter()
            .map(|c| of(c).unwrap_or(middle))
            .collect(),
    )
}
