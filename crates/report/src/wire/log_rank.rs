//! Tests of no difference without a law.

use super::compare::{Keyed, TestResult, value};
use super::drawn_ages::DrawnAges;
use sealspan_life::compare::Test;
use sealspan_life::imputation::{between_looks, copies};
use sealspan_life::log_rank::{NoTest, Scores, Weighting, drawn, scores};
use sealspan_records::observation::Sample;
use std::collections::BTreeMap;

/// A test as written out, or its name and why there is none.
pub(super) fn written(name: &'static str, test: Result<Test, NoTest>) -> TestResult {
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
/// combinations; with three or more levels that are all numbers, also for a trend. Where failures lie between
/// two looks their ages are drawn, and it is told how.
#[must_use]
pub(crate) fn rank_tests(
    groups: &[Keyed],
    by: &str,
    given: &[String],
    seed: u64,
) -> (Vec<TestResult>, Option<DrawnAges>) {
    let levels = levels(groups, by);
    let whole = table(groups, by, &[], &levels);
    let strata = table(groups, by, given, &levels);
    let numbers: Option<Vec<f64>> = levels.iter().map(|l| l.trim().parse().ok()).collect();
    let numbers = numbers.filter(|n| n.len() > 2 && n.iter().all(|x| x.is_finite()));
    let rows = || groups.iter().flat_map(|(_, sample)| sample.rows());
    let between = between_looks(rows());
    let mut scores = Scored::new((between > 0.0).then(|| (copies(rows()), seed)));
    let mut out = vec![];
    for (weighting, found) in Weighting::ALL
        .into_iter()
        .zip(scores.of(&whole, &Weighting::ALL))
    {
        let name = weighting.name();
        out.push(written(name, found.and_then(|s| s.test(name))));
    }
    if !given.is_empty() {
        let name = "log_rank_stratified";
        let found = scores.of(&strata, &[Weighting::LogRank]).pop();
        let test = found.unwrap_or(Err(NoTest::NoFailures));
        out.push(written(name, test.and_then(|s| s.test(name))));
    }
    if let Some(numbers) = numbers {
        let found = scores.of(&strata, &[Weighting::LogRank]).pop();
        let test = found.unwrap_or(Err(NoTest::NoFailures));
        out.push(written(
            "log_rank_trend",
            test.and_then(|s| s.trend(&numbers)),
        ));
    }
    (out, scores.told(between))
}

/// Scores from exact ages, or averaged over drawings of them.
struct Scored {
    drawing: Option<(usize, u64)>,
    share: Option<f64>,
}

impl Scored {
    fn new(drawing: Option<(usize, u64)>) -> Self {
        Self {
            drawing,
            share: None,
        }
    }

    fn of(
        &mut self,
        strata: &[Vec<Sample>],
        weightings: &[Weighting],
    ) -> Vec<Result<Scores, NoTest>> {
        let Some((copies, seed)) = self.drawing else {
            return weightings.iter().map(|w| scores(strata, *w)).collect();
        };
        match drawn(strata, weightings, copies, seed) {
            Ok(all) => {
                let largest = all.iter().map(|d| d.share).fold(0.0, f64::max);
                self.share = Some(self.share.unwrap_or(0.0).max(largest));
                all.into_iter().map(|d| Ok(d.scores)).collect()
            }
            Err(why) => weightings.iter().map(|_| Err(why)).collect(),
        }
    }

    fn told(&self, between: f64) -> Option<DrawnAges> {
        let (copies, seed) = self.drawing?;
        Some(DrawnAges::from_curve(between, copies, seed, self.share?))
    }
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
