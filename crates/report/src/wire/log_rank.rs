//! Tests of no difference without a law.

use super::compare::{Keyed, TestResult, value};
use sealspan_life::compare::Test;
use sealspan_life::log_rank::{NoTest, Weighting, log_rank, stratified, trend};
use sealspan_records::observation::Sample;
use std::collections::BTreeMap;

/// A test as written out, or its name and why there is none.
fn written(name: &'static str, test: Result<Test, NoTest>) -> TestResult {
    match test {
        Ok(t) => TestResult {
            name: t.name,
            statistic: Some(t.statistic),
            df: Some(t.df),
            p_value: Some(t.p_value),
            reason: None,
        },
        Err(why) => TestResult {
            name,
            statistic: None,
            df: None,
            p_value: None,
            reason: Some(why.to_string()),
        },
    }
}

/// The log-rank family over the levels of `by`; with columns `given`, also compared only within their
/// combinations; with three or more levels that are all numbers, also for a trend.
#[must_use]
pub fn rank_tests(groups: &[Keyed], by: &str, given: &[String]) -> Vec<TestResult> {
    let levels = levels(groups, by);
    let whole = table(groups, by, &[], &levels);
    let plain = whole.first().cloned().unwrap_or_default();
    let mut out: Vec<TestResult> = Weighting::ALL
        .into_iter()
        .map(|w| written(w.name(), log_rank(&plain, w)))
        .collect();
    let strata = table(groups, by, given, &levels);
    if !given.is_empty() {
        let test = stratified(&strata, Weighting::LogRank);
        out.push(written("log_rank_stratified", test));
    }
    let numbers: Option<Vec<f64>> = levels.iter().map(|l| l.trim().parse().ok()).collect();
    if let Some(numbers) = numbers.filter(|n| n.len() > 2 && n.iter().all(|x| x.is_finite())) {
        let test = trend(&strata, &numbers, Weighting::LogRank);
        out.push(written("log_rank_trend", test));
    }
    out
}

fn levels<'a>(groups: &'a [Keyed], by: &str) -> Vec<&'a str> {
    let mut out: Vec<&str> = groups.iter().map(|(key, _)| value(key, by)).collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// Samples by stratum (a combination of `given`), then by level.
fn table(groups: &[Keyed], by: &str, given: &[String], levels: &[&str]) -> Vec<Vec<Sample>> {
    let mut rows: BTreeMap<Vec<&str>, Vec<Vec<_>>> = BTreeMap::new();
    for (key, sample) in groups {
        let stratum = given.iter().map(|c| value(key, c)).collect();
        let row = rows
            .entry(stratum)
            .or_insert_with(|| vec![vec![]; levels.len()]);
        let at = levels.iter().position(|l| *l == value(key, by));
        if let Some(cell) = at.and_then(|i| row.get_mut(i)) {
            cell.extend_from_slice(sample.rows());
        }
    }
    let samples = |row: Vec<Vec<_>>| row.into_iter().map(Sample::new).collect();
    rows.into_values().map(samples).collect()
}
