//! A factor of more levels than can be told apart: its levels as draws from one normal.

use super::asked::Asked;
use super::options::CompareOptions;
use super::result::{self, EffectResult, RegressionResult};
use super::{CoefficientResult, CompareDocument, Keyed, TestResult, levels, seals, value};
use sealspan_life::regression::{DrawnLevel, RandomFactor, random_factor};
use sealspan_numeric::special::normal_quantile;
use serde::Serialize;
use std::collections::BTreeMap;

/// More effects than this are a column of names, not of causes.
pub const MOST_EFFECTS: f64 = 200.0;
/// Levels that a factor needs for their spread to be told (a rule of ours).
const FEWEST_LEVELS: usize = 50;
/// Seals a level on average, below which the levels are no more than the seals' own names (a rule of ours).
const FEWEST_OF_A_LEVEL: f64 = 2.0;

/// A factor whose levels are draws from one normal ([`random_factor`]).
#[derive(Debug, Clone, Serialize)]
pub struct RandomFactorResult {
    /// Its column.
    pub column: String,
    /// Standard deviation of ln life between levels.
    pub spread: f64,
    /// Lower end of its profile-likelihood interval.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why an end is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// Every level, shortest life first.
    pub levels: Vec<RandomLevel>,
}

/// A level, drawn towards the middle.
#[derive(Debug, Clone, Serialize)]
pub struct RandomLevel {
    /// Its name.
    pub level: String,
    /// Its seals.
    pub seals: f64,
    /// Its failures.
    pub failures: f64,
    /// Life over that of the middle level, drawn towards 1.
    pub life_ratio: f64,
    /// Lower end of exp(shift ± z s), s the error of the drawn shift in ln life, the spread taken as known.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// The factor to be taken as random: the one of most levels, where all effects are more than can be told apart, no
/// other term hangs on it, and it does not name single seals.
pub fn factor(groups: &[Keyed], options: &CompareOptions) -> Option<String> {
    let number = |column: &&String| levels(groups, column, &[]).map_or(0, |l| l.len());
    let sizes: Vec<(usize, &String)> = options
        .factors()
        .into_iter()
        .map(|c| (number(&c), c))
        .collect();
    let effects: usize = sizes.iter().map(|(n, _)| n.saturating_sub(1)).sum();
    let (most, column) = sizes.into_iter().max_by_key(|(n, _)| *n)?;
    let crossed = options.more.interactions.iter();
    let free = !crossed.flat_map(|(a, b)| [a, b]).any(|c| c == column)
        && options.more.shape_by.as_ref() != Some(column);
    let seals: f64 = groups.iter().map(|(_, s)| s.tally().total()).sum();
    let shared = seals >= FEWEST_OF_A_LEVEL * most as f64;
    (effects as f64 > MOST_EFFECTS && most >= FEWEST_LEVELS && shared && free)
        .then(|| column.clone())
}

/// Compares with the levels of `column` as draws.
///
/// # Errors
/// As without it.
pub fn compare(
    unit: &'static str,
    groups: &[Keyed],
    options: &CompareOptions,
    column: &str,
    mut warnings: Vec<String>,
) -> Result<CompareDocument, String> {
    let mut fixed = options.clone();
    fixed.by = fixed.by.filter(|by| by != column);
    fixed.given.retain(|given| given != column);
    let mut asked = Asked::new(unit, groups, &fixed)?;
    warnings.append(&mut asked.plan.remarks);
    let names = levels(groups, column, &[])?;
    let numbers: BTreeMap<&str, usize> = names.iter().map(String::as_str).zip(0..).collect();
    let mut by_level: Vec<Vec<Keyed>> = vec![vec![]; names.len()];
    for (key, sample) in groups {
        let own = numbers.get(value(key, column)).copied();
        if let Some(list) = own.and_then(|at| by_level.get_mut(at)) {
            list.push((key.clone(), sample.clone()));
        }
    }
    let (mut lines, mut level_of) = (vec![], vec![]);
    for (at, own) in by_level.iter().enumerate() {
        let places = seals::places(own, &asked.plan)?;
        let mine = seals::lines(own, &places);
        level_of.extend(std::iter::repeat_n(at, mine.len()));
        lines.extend(mine);
    }
    asked.design.lines = lines;
    let fitted = random_factor(
        options.family,
        &asked.design,
        &level_of,
        names.len(),
        options.confidence,
        options.more.penalty,
    );
    let spread = options.more.penalty.map_or_else(
        || "whose spread is estimated".to_owned(),
        |sd| format!("whose standard deviation in ln life is the {sd} stated with --penalty"),
    );
    let words = format!(
        "`{column}` has {} levels, more than can be told apart one by one: each is taken as a draw from one normal, {spread}, and is drawn towards the middle, the more the fewer failures it has",
        names.len()
    );
    let reason = fitted.as_ref().err().map(ToString::to_string);
    let stated = options.more.penalty.is_some();
    let tests = options.by.iter();
    let tests = tests.map(|by| spread_test(by, column, &fitted, stated));
    let tests = tests.collect();
    let asks_more = !options.more.predict.is_empty()
        || options.more.cluster.is_some()
        || options.more.frailty.is_some()
        || options.more.profile;
    if asks_more {
        warnings.push(format!(
            "with `{column}` as draws there are no predictions, robust or likelihood-ratio intervals and no frailty: leave it out for those"
        ));
    }
    Ok(CompareDocument {
        schema: "sealspan.compare.v1",
        unit,
        confidence: options.confidence,
        tests,
        drawn_ages: None,
        mode_test: None,
        regression: fitted
            .ok()
            .map(|found| told(&asked, &found, names, column, words, options)),
        regression_reason: reason,
        regression_rows: None,
        proportional_hazards: None,
        proportional_hazards_reason: Some(format!(
            "not worked out with the many levels of `{column}`"
        )),
        frailty: None,
        life_ratios: vec![],
        pairwise: None,
        predictions: vec![],
        warnings,
        cautions: crate::cautions::always(),
    })
}

fn spread_test<E: ToString>(
    by: &str,
    column: &str,
    fitted: &Result<RandomFactor, E>,
    stated: bool,
) -> TestResult {
    let none = |reason: String| TestResult {
        name: "no_spread_between_levels",
        statistic: None,
        df: None,
        p_value: None,
        reason: Some(reason),
    };
    match fitted {
        Ok(_) if by == column && stated => none(
            "the spread between levels is stated with --penalty, not estimated: leave it out for a test".to_owned(),
        ),
        Ok(found) if by == column => {
            let test = &found.spread.test;
            TestResult {
                name: test.name,
                statistic: Some(test.statistic),
                df: Some(test.df),
                p_value: Some(test.p_value),
                reason: None,
            }
        }
        Ok(_) => none(format!(
            "with the many levels of `{column}` as draws, see the coefficients of `{by}`"
        )),
        Err(why) => none(why.to_string()),
    }
}

fn told(
    asked: &Asked,
    found: &RandomFactor,
    names: Vec<String>,
    column: &str,
    words: String,
    options: &CompareOptions,
) -> RegressionResult {
    let fit = &found.regression;
    let level = options.confidence;
    let effect = |(at, c): (usize, sealspan_life::regression::Coefficient)| EffectResult {
        own: CoefficientResult::from(c),
        unit: asked.plan.units.get(at).cloned().unwrap_or_default(),
        robust: None,
        reason: None,
    };
    let (sigma, sigma_reason, sigmas) = result::sigmas(&asked.plan, fit, level);
    RegressionResult {
        family: fit.family.name(),
        coefficients: fit
            .coefficients(level)
            .into_iter()
            .enumerate()
            .map(effect)
            .collect(),
        at_typical: asked.typical.effects(&asked.plan, fit, level),
        sigma,
        sigma_reason,
        sigmas,
        log_likelihood: fit.log_likelihood,
        bounds: "wald",
        penalised: Some(format!("penalised: {words}")),
        random: Some(random(found, names, column, options)),
        robust: None,
        collinearity: None,
        stresses: vec![],
        prior: None,
    }
}

fn random(
    found: &RandomFactor,
    names: Vec<String>,
    column: &str,
    options: &CompareOptions,
) -> RandomFactorResult {
    let z = normal_quantile(0.5 + 0.5 * options.confidence);
    let stated = options.more.penalty.is_some();
    let one = |(level, d): (String, &DrawnLevel)| RandomLevel {
        level,
        seals: d.seals,
        failures: d.failures,
        life_ratio: d.shift.exp(),
        lower: (d.shift - z * d.std_error).exp(),
        upper: (d.shift + z * d.std_error).exp(),
    };
    let mut all: Vec<RandomLevel> = names.into_iter().zip(&found.levels).map(one).collect();
    all.sort_by(|a, b| {
        a.life_ratio
            .total_cmp(&b.life_ratio)
            .then(a.level.cmp(&b.level))
    });
    let s = &found.spread;
    RandomFactorResult {
        column: column.to_owned(),
        spread: s.tau,
        lower: (!stated).then_some(s.lower),
        upper: s.upper.filter(|_| !stated),
        reason: if stated {
            Some("stated with --penalty, so it has no interval")
        } else {
            s.why_no_upper()
        },
        levels: all,
    }
}
