//! Do groups differ, and by what life ratio?

use super::frailty::{FrailtyResult, shared_frailty};
use super::hazards::{LnLife, ProportionalHazards, proportional_hazards};
use super::log_rank::rank_tests;
use super::pairwise::{Pairwise, pairwise};
use super::{GroupKey, separated};
use sealspan_life::compare::{Test, by_law, factor_names};
use sealspan_life::family::Family;
use sealspan_life::regression::{Cell, Coefficient, Regression, regress};
use sealspan_life::terms::Terms;
use sealspan_records::observation::Sample;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Boltzmann's constant, eV/K (2019 SI, exact to the digits given).
pub const BOLTZMANN_EV: f64 = 8.617_333_262e-5;
/// 0 °C in kelvin.
const ZERO_CELSIUS: f64 = 273.15;
/// More effects than this are a column of names, not of causes.
const MOST_EFFECTS: f64 = 200.0;
/// Failures per fitted effect under which the answer is doubted (Peduzzi et al. 1995).
const FAILURES_PER_EFFECT: f64 = 10.0;

/// What is compared.
#[derive(Clone)]
pub struct CompareOptions {
    /// The factor compared, if any.
    pub by: Option<String>,
    /// Factors held constant.
    pub given: Vec<String>,
    /// Columns that act as numbers.
    pub number: Vec<String>,
    /// A temperature column in °C.
    pub arrhenius: Option<String>,
    /// A stress column: life falls as a power of it.
    pub inverse_power: Option<String>,
    /// Levels to compare with, instead of the first.
    pub base: Vec<(String, String)>,
    /// The law.
    pub family: &'static dyn Family,
    /// Two-sided confidence.
    pub confidence: f64,
    /// Column whose levels are clusters of like seals: errors that allow for it.
    pub cluster: Option<String>,
    /// Column whose levels share a frailty.
    pub frailty: Option<String>,
}

impl CompareOptions {
    /// Every column the groups must be told apart by.
    #[must_use]
    pub fn columns(&self) -> Vec<String> {
        let all = self.by.iter().chain(&self.given).chain(&self.number);
        let mut out: Vec<String> = vec![];
        let stresses = self.arrhenius.iter().chain(&self.inverse_power);
        let alike = self.cluster.iter().chain(&self.frailty);
        for column in all.chain(stresses).chain(alike) {
            if !out.contains(column) {
                out.push(column.clone());
            }
        }
        out
    }
}

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct CompareDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Unit of ages.
    pub unit: &'static str,
    /// Two-sided confidence.
    pub confidence: f64,
    /// Tests of no difference.
    pub tests: Vec<TestResult>,
    /// Accelerated life regression.
    pub regression: Option<RegressionResult>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub regression_reason: Option<String>,
    /// The cross-check by proportional hazards.
    pub proportional_hazards: Option<ProportionalHazards>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proportional_hazards_reason: Option<String>,
    /// How much clusters differ, where asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frailty: Option<FrailtyResult>,
    /// Pairwise life ratios.
    pub life_ratios: Vec<LifeRatio>,
    /// The same pairs with their number allowed for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pairwise: Option<Pairwise>,
    /// Doubts, with what to do.
    pub warnings: Vec<String>,
}

/// A test.
#[derive(Debug, Clone, Serialize)]
pub struct TestResult {
    /// Name.
    pub name: &'static str,
    /// Chi-square statistic.
    pub statistic: Option<f64>,
    /// Degrees of freedom.
    pub df: Option<f64>,
    /// p-value.
    pub p_value: Option<f64>,
    /// Why there is no result.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// The regression.
#[derive(Debug, Clone, Serialize)]
pub struct RegressionResult {
    /// Law.
    pub family: &'static str,
    /// Coefficients on ln life.
    pub coefficients: Vec<CoefficientResult>,
    /// Scale of ln life.
    pub sigma: Option<Sigma>,
    /// Log-likelihood, densities per unit of time.
    pub log_likelihood: f64,
}

/// A coefficient.
#[derive(Debug, Clone, Serialize)]
pub struct CoefficientResult {
    /// Name.
    pub name: String,
    /// Estimate.
    pub estimate: f64,
    /// Standard error.
    pub std_error: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// p-value of being 0.
    pub p_value: f64,
}

/// σ of ln life.
#[derive(Debug, Clone, Serialize)]
pub struct Sigma {
    /// Estimate.
    pub estimate: f64,
    /// Standard error.
    pub std_error: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// How many times as long one group lasts as another.
#[derive(Debug, Clone, Serialize)]
pub struct LifeRatio {
    /// This group's life ...
    pub of: String,
    /// ... over this one's.
    pub to: String,
    /// Ratio.
    pub estimate: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// p-value of a ratio of 1, for this pair alone.
    pub p_value: f64,
}

impl From<Coefficient> for CoefficientResult {
    fn from(c: Coefficient) -> Self {
        let Coefficient {
            name,
            estimate,
            std_error,
            lower,
            upper,
            p_value,
        } = c;
        Self {
            name,
            estimate,
            std_error,
            lower,
            upper,
            p_value,
        }
    }
}

/// A group as asked for: its key over [`CompareOptions::columns`], and its seals.
pub type Keyed = (GroupKey, Sample);

/// A design: names of its columns and a row for each group.
struct Design {
    names: Vec<String>,
    rows: Vec<Vec<f64>>,
}

pub(super) fn value<'a>(key: &'a GroupKey, column: &str) -> &'a str {
    key.0
        .iter()
        .find(|(c, _)| c == column)
        .map_or("", |(_, v)| v)
}

fn parse(key: &GroupKey, column: &str) -> Result<f64, String> {
    let text = value(key, column);
    text.trim().parse::<f64>().ok().filter(|x| x.is_finite()).ok_or_else(|| {
        format!("column `{column}` holds `{text}` where a number is needed; name it under --by or --given instead, or correct the cell")
    })
}

/// Levels of a factor in order, its base first.
fn levels(
    groups: &[Keyed],
    column: &str,
    base: &[(String, String)],
) -> Result<Vec<String>, String> {
    let all: BTreeSet<&str> = groups.iter().map(|(key, _)| value(key, column)).collect();
    let mut out: Vec<String> = all.into_iter().map(str::to_owned).collect();
    if let Some((_, level)) = base.iter().find(|(c, _)| c == column) {
        let at = out.iter().position(|l| l == level).ok_or_else(|| {
            format!(
                "--base {column}={level}: there is no such level; there are {}",
                out.join(", ")
            )
        })?;
        let level = out.remove(at);
        out.insert(0, level);
    }
    Ok(out)
}

fn design(groups: &[Keyed], options: &CompareOptions) -> Result<Design, String> {
    let mut names = vec!["intercept".to_owned()];
    let mut rows: Vec<Vec<f64>> = vec![vec![1.0]; groups.len()];
    for column in options.by.iter().chain(&options.given) {
        let levels = levels(groups, column, &options.base)?;
        names.extend(factor_names(column, &levels).into_iter().skip(1));
        for ((key, _), row) in groups.iter().zip(&mut rows) {
            let own = value(key, column);
            row.extend(levels.iter().skip(1).map(|l| f64::from(u8::from(l == own))));
        }
    }
    let mut add = |name: String, column: &str, f: &dyn Fn(f64) -> Option<f64>| {
        names.push(name);
        for ((key, _), row) in groups.iter().zip(&mut rows) {
            let x = parse(key, column)?;
            row.push(f(x).ok_or_else(|| {
                format!("column `{column}` holds {x}, which is out of range here")
            })?);
        }
        Ok::<(), String>(())
    };
    for column in &options.number {
        add(column.clone(), column, &Some)?;
    }
    if let Some(column) = &options.arrhenius {
        add("activation_energy_ev".to_owned(), column, &|c| {
            (c > -ZERO_CELSIUS).then(|| 1.0 / (BOLTZMANN_EV * (c + ZERO_CELSIUS)))
        })?;
    }
    if let Some(column) = &options.inverse_power {
        add(format!("{column}_exponent"), column, &|s| {
            (s > 0.0).then(|| -s.ln())
        })?;
    }
    Ok(Design { names, rows })
}

/// Groups merged over everything but the compared factor.
fn merged(groups: &[Keyed], by: &str) -> Vec<(String, Sample)> {
    let mut out: BTreeMap<String, Vec<_>> = BTreeMap::new();
    for (key, sample) in groups {
        out.entry(value(key, by).to_owned())
            .or_default()
            .extend_from_slice(sample.rows());
    }
    out.into_iter()
        .map(|(level, rows)| (level, Sample::new(rows)))
        .collect()
}

/// Compares the groups.
///
/// # Errors
/// In words, when a column does not hold what the question needs.
pub fn compare(
    unit: &'static str,
    groups: &[Keyed],
    options: &CompareOptions,
) -> Result<CompareDocument, String> {
    let design = design(groups, options)?;
    let effects = design.names.len() as f64 - 1.0;
    if effects > MOST_EFFECTS {
        return Err(format!(
            "the columns asked for make {effects:.0} effects, more than {MOST_EFFECTS:.0} that can be told apart; choose coarser columns"
        ));
    }
    let failures: f64 = groups.iter().map(|(_, s)| s.tally().failures()).sum();
    let mut warnings = vec![];
    if effects > 0.0 && failures > 0.0 && failures < FAILURES_PER_EFFECT * effects {
        warnings.push(format!(
            "{failures:.0} failures for {effects:.0} effect(s): fewer than 10 each, so the effects are indicative (Peduzzi et al. 1995)"
        ));
    }
    let cells: Vec<Cell> = groups
        .iter()
        .zip(&design.rows)
        .map(|((_, sample), row)| Cell {
            row: row.clone(),
            terms: Arc::new(Terms::new(sample)),
        })
        .collect();
    let regression = regress(options.family, &design.names, &cells).map_err(|why| {
        if failures <= 0.0 {
            return why.to_string();
        }
        let factors: Vec<&String> = options.by.iter().chain(&options.given).collect();
        separated::level_without_failures(groups, &factors)
            .or_else(|| separated::determined_column(&design.names, &design.rows))
            .unwrap_or_else(|| why.to_string())
    });
    let tests = options
        .by
        .as_ref()
        .map(|by| tests(groups, by, options))
        .unwrap_or_default();
    let life_ratios = match (&options.by, &regression) {
        (Some(by), Ok(fit)) => ratios(
            fit,
            by,
            &levels(groups, by, &options.base)?,
            options.confidence,
        ),
        _ => vec![],
    };
    if life_ratios.len() > 1 {
        warnings.push(format!(
            "{} pairs are compared: each interval is for its pair alone, and the p-value for all of them is Holm's (1979)",
            life_ratios.len()
        ));
    }
    let pairwise = match (&options.by, &regression) {
        (Some(by), Ok(fit)) => {
            let levels = levels(groups, by, &options.base)?;
            let (names, level) = (&fit.names, options.confidence);
            let mut all = pairwise(names, &fit.x, &fit.covariance, by, &levels, level);
            if let Some(all) = &mut all {
                all.test_pairs(groups, by, options.family);
            }
            all
        }
        _ => None,
    };
    let regression_reason = regression.as_ref().err().cloned();
    let regression = regression.ok().map(|fit| result(&fit, options.confidence));
    let hazards = proportional_hazards(
        groups,
        &design.names,
        &design.rows,
        options.cluster.as_deref(),
        options.confidence,
        regression.as_ref().map(ln_life).as_ref(),
    );
    let frailty = options.frailty.as_ref().map(|column| {
        shared_frailty(
            groups,
            &design.names,
            &design.rows,
            column,
            options.confidence,
        )
    });
    Ok(CompareDocument {
        schema: "sealspan.compare.v1",
        unit,
        confidence: options.confidence,
        tests,
        regression_reason,
        regression,
        proportional_hazards_reason: hazards.as_ref().err().cloned(),
        proportional_hazards: hazards.ok(),
        frailty,
        life_ratios,
        pairwise,
        warnings,
    })
}

fn ln_life(fit: &RegressionResult) -> LnLife {
    let effect = |c: &CoefficientResult| (c.name.clone(), [c.estimate, c.lower, c.upper]);
    LnLife {
        family: fit.family,
        sigma: fit.sigma.as_ref().map(|s| s.estimate),
        effects: fit.coefficients.iter().map(effect).collect(),
    }
}

fn result(fit: &Regression, confidence: f64) -> RegressionResult {
    RegressionResult {
        family: fit.family.name(),
        coefficients: fit
            .coefficients(confidence)
            .into_iter()
            .map(Into::into)
            .collect(),
        sigma: fit
            .sigma(confidence)
            .map(|(estimate, std_error, lower, upper)| Sigma {
                estimate,
                std_error,
                lower,
                upper,
            }),
        log_likelihood: fit.log_likelihood,
    }
}

fn tests(groups: &[Keyed], by: &str, options: &CompareOptions) -> Vec<TestResult> {
    let whole = merged(groups, by);
    let samples: Vec<Sample> = whole.iter().map(|(_, s)| s.clone()).collect();
    let found = |t: Test| TestResult {
        name: t.name,
        statistic: Some(t.statistic),
        df: Some(t.df),
        p_value: Some(t.p_value),
        reason: None,
    };
    let none = |name, reason: String| TestResult {
        name,
        statistic: None,
        df: None,
        p_value: None,
        reason: Some(reason),
    };
    if samples.len() < 2 {
        return vec![none(
            "log_rank",
            format!("`{by}` has one level only: nothing to compare"),
        )];
    }
    let mut out = rank_tests(groups, by, &options.given);
    let levels: Vec<String> = whole.iter().map(|(level, _)| level.clone()).collect();
    match by_law(options.family, &factor_names(by, &levels), &samples) {
        Ok(law) => {
            out.push(law.common_shape.map_or_else(
                || none("common_shape", "a group has too few failures for a shape of its own, or the law has no shape".to_owned()),
                found,
            ));
            out.push(found(law.common_life));
        }
        Err(why) => {
            out.push(none("common_shape", why.to_string()));
            out.push(none("common_life", why.to_string()));
        }
    }
    out
}

/// Life ratios of every pair of levels, later over earlier.
fn ratios(fit: &Regression, by: &str, levels: &[String], confidence: f64) -> Vec<LifeRatio> {
    let row = |level: &str| -> Vec<f64> {
        let name = format!("{by}={level}");
        fit.names
            .iter()
            .map(|n| f64::from(u8::from(*n == name)))
            .collect()
    };
    let mut out = vec![];
    for (i, to) in levels.iter().enumerate() {
        for of in levels.iter().skip(i + 1) {
            let c = fit.contrast("", &row(of), &row(to), confidence);
            out.push(LifeRatio {
                of: of.clone(),
                to: to.clone(),
                estimate: c.estimate.exp(),
                lower: c.lower.exp(),
                upper: c.upper.exp(),
                p_value: c.p_value,
            });
        }
    }
    out
}
