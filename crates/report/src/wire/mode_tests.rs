//! Do groups fail by a mode in equal shares, all modes at work? Gray's test where groups are compared by mode.

use super::GroupKey;
use super::compare::{TestResult, value};
use super::drawn_ages::DrawnAges;
use super::log_rank::written;
use crate::number;
use sealspan_life::competing::gray::{self, gray, gray_drawn};
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_life::imputation::{between_looks, copies};
use sealspan_life::log_rank::NoTest;
use sealspan_records::{Answer, Error, NONE, Question, Records, ask, modes};
use serde::Serialize;
use std::collections::BTreeMap;

/// Gray's test for one mode.
#[derive(Debug, Clone, Serialize)]
pub struct ModeTest {
    /// The mode's word.
    pub mode: String,
    /// Seals that ended by it.
    pub failures: f64,
    /// `gray`; with columns held constant also `gray_stratified`, groups compared only within their combinations.
    pub tests: Vec<TestResult>,
    /// How failures between two looks came into them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_ages: Option<DrawnAges>,
}

/// What the test asks, where the log-rank tests of the mode stand beside it.
pub const ASKS: &str = "Gray's test (1988) asks whether equal shares fail by this mode with all modes at work, the log-rank tests whether it would come as fast were it alone; they part where the other modes differ between the groups";

/// What the test asks, by itself.
pub const ASKS_ALONE: &str =
    "Gray's test (1988): do equal shares fail by the mode in all groups, with all modes at work?";

type Keyed = (GroupKey, ByMode);

/// Every mode that the records name, between the groups of the question; none with one group or one mode.
///
/// # Errors
/// As [`ask`].
pub fn mode_tests(
    records: &Records,
    question: &Question,
    seed: u64,
) -> Result<Vec<ModeTest>, Error> {
    let words = modes(records);
    let plain = asked(records, question, None)?;
    if plain.groups.len() < 2 || words.len() < 2 {
        return Ok(vec![]);
    }
    let mut out = vec![];
    for mode in words {
        let own = asked(records, question, Some(&mode))?;
        let each = keyed(&plain, &own);
        let failures = failures(&each);
        let groups = [each.into_iter().map(|(_, lives)| lives).collect()];
        let (test, drawn_ages) = one(gray::NAME, &groups, seed);
        out.push(ModeTest {
            mode,
            failures,
            tests: vec![test],
            drawn_ages,
        });
    }
    Ok(out)
}

/// The mode of the question between the levels of `by`; with columns `given` also only within their combinations.
/// `None` without a mode, and where no seal ended by another.
///
/// # Errors
/// As [`ask`].
pub fn mode_test(
    records: &Records,
    question: &Question,
    by: &str,
    given: &[String],
    seed: u64,
) -> Result<Option<ModeTest>, Error> {
    let Some(mode) = &question.mode else {
        return Ok(None);
    };
    let columns = std::iter::once(by).chain(given.iter().map(String::as_str));
    let question = Question {
        by: columns.map(str::to_owned).collect(),
        ..question.clone()
    };
    let plain = asked(records, &question, None)?;
    let own = asked(records, &question, Some(mode))?;
    let told = |(key, _): &Keyed| {
        let cells = key.0.iter().map(|(_, text)| text.trim());
        !cells
            .into_iter()
            .any(|text| text.is_empty() || text == NONE)
    };
    let groups: Vec<Keyed> = keyed(&plain, &own).into_iter().filter(told).collect();
    let mut rows = groups.iter().flat_map(|(_, lives)| lives.rows());
    if !rows.any(|r| r.mode == Some(OTHERS)) {
        return Ok(None);
    }
    let (whole, drawn_ages) = one(gray::NAME, &strata(&groups, by, &[]), seed);
    let mut tests = vec![whole];
    if !given.is_empty() {
        tests.push(one("gray_stratified", &strata(&groups, by, given), seed).0);
    }
    Ok(Some(ModeTest {
        mode: mode.clone(),
        failures: failures(&groups),
        tests,
        drawn_ages,
    }))
}

/// Failures by the mode below which a p-value is called rough (a rule of ours, that of fits: the chi-square law
/// holds for many).
const ROUGH: f64 = 10.0;

impl ModeTest {
    /// That few failures make the p-value rough, where they do.
    #[must_use]
    pub fn doubt(&self) -> Option<String> {
        (self.failures < ROUGH && self.tests.iter().any(|t| t.p_value.is_some())).then(|| {
            format!(
                "only {} by {}: the p-value of Gray's test is rough",
                number::counted(self.failures, "failure"),
                self.mode
            )
        })
    }
}

/// Numbers of the two kinds of failure.
const OWN: usize = 0;
const OTHERS: usize = 1;

fn asked(records: &Records, question: &Question, mode: Option<&str>) -> Result<Answer, Error> {
    let question = Question {
        mode: mode.map(str::to_owned),
        ..question.clone()
    };
    ask(records, &question)
}

fn failures(groups: &[Keyed]) -> f64 {
    let rows = groups.iter().flat_map(|(_, lives)| lives.rows());
    let own = rows.filter(|r| r.mode == Some(OWN));
    own.map(|r| r.observation.count()).sum()
}

/// The groups' lives: what ends by the mode shows in its own answer, what ends by another in the plain one.
fn keyed(plain: &Answer, own: &Answer) -> Vec<Keyed> {
    let groups = plain.groups.iter().zip(&own.groups);
    let lives = groups.filter_map(|(plain, own)| {
        let pairs = plain.sample.rows().iter().zip(own.sample.rows());
        let rows = pairs.map(|(plain, own)| match (own.ended(), plain.ended()) {
            (true, _) => ModeRow {
                observation: *own,
                mode: Some(OWN),
            },
            (false, ended) => ModeRow {
                observation: *plain,
                mode: ended.then_some(OTHERS),
            },
        });
        let alike = plain.sample.rows().len() == own.sample.rows().len() && plain.key == own.key;
        let lives = ByMode::new(rows.collect(), 2).ok().filter(|_| alike)?;
        Some((GroupKey(plain.key.clone()), lives))
    });
    lives.collect()
}

/// Lives by stratum (a combination of `given`), then by level.
fn strata(groups: &[Keyed], by: &str, given: &[String]) -> Vec<Vec<ByMode>> {
    let mut levels: Vec<&str> = groups.iter().map(|(key, _)| value(key, by)).collect();
    levels.sort_unstable();
    levels.dedup();
    let mut out: BTreeMap<Vec<&str>, Vec<Vec<ModeRow>>> = BTreeMap::new();
    for (key, lives) in groups {
        let stratum = given.iter().map(|c| value(key, c)).collect();
        let row = out.entry(stratum);
        let row = row.or_insert_with(|| vec![vec![]; levels.len()]);
        let at = levels.iter().position(|l| *l == value(key, by));
        if let Some(cell) = at.and_then(|i| row.get_mut(i)) {
            cell.extend_from_slice(lives.rows());
        }
    }
    let lives = |rows| ByMode::new(rows, 2).ok();
    out.into_values()
        .map(|row| row.into_iter().filter_map(lives).collect())
        .collect()
}

/// The test, its ages drawn where failures lie between two looks.
fn one(name: &'static str, strata: &[Vec<ByMode>], seed: u64) -> (TestResult, Option<DrawnAges>) {
    let rows = || strata.iter().flatten().flat_map(ByMode::rows);
    let between = between_looks(rows().map(|r| &r.observation));
    let mut drawn_ages = None;
    let found = if between > 0.0 {
        let copies = copies(rows().map(|r| &r.observation));
        gray_drawn(strata, OWN, copies, seed).and_then(|drawn| {
            drawn_ages = Some(DrawnAges::from_shares(between, copies, seed, drawn.share));
            drawn.scores.test(name)
        })
    } else {
        gray(strata, OWN).map(|test| sealspan_life::compare::Test { name, ..test })
    };
    // Why there is none, in words of groups and modes.
    let mut out = written(name, found.clone());
    if found == Err(NoTest::NoFailures) {
        out.reason = Some("no seal here ended by this mode".to_owned());
    }
    (out, drawn_ages)
}
