//! Do groups differ, and by what life ratio?

mod asked;
mod options;
mod plan;
mod predict;
mod prior;
mod result;
mod seals;
mod stress;
pub mod term;

pub use options::{CompareOptions, Concentration, More};
pub use plan::Plan;
pub use predict::{PredictedLife, PredictionResult};
pub use prior::{EnergyEstimate, PriorResult};
pub use result::{EffectResult, LevelSigma, RegressionResult, RobustInterval, RobustNote};
pub use stress::{Curvature, Energy, StressResult};
pub use term::{BOLTZMANN_EV, KJ_PER_MOL};

use super::{GroupKey, separated};
use asked::{Asked, clusters, ratios};
use sealspan_life::compare::{Test, Weighting, by_law, factor_names, log_rank};
use sealspan_life::regression::{Coefficient, fit_design};
use sealspan_records::observation::Sample;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

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
    /// Proportional hazards; not computed.
    pub proportional_hazards: Option<()>,
    /// Why not.
    pub proportional_hazards_reason: &'static str,
    /// Pairwise life ratios.
    pub life_ratios: Vec<LifeRatio>,
    /// Life under stated conditions.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub predictions: Vec<PredictionResult>,
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
    /// Lower end allowing for like seals within a cluster.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub robust_lower: Option<f64>,
    /// Upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub robust_upper: Option<f64>,
    /// p-value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub robust_p_value: Option<f64>,
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

pub(super) fn value<'a>(key: &'a GroupKey, column: &str) -> &'a str {
    key.0
        .iter()
        .find(|(c, _)| c == column)
        .map_or("", |(_, v)| v)
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
    let (groups, mut warnings) = seals::complete(groups, options);
    if groups.is_empty() {
        return Err(warnings.join("; "));
    }
    let mut asked = Asked::new(unit, &groups, options)?;
    warnings.append(&mut asked.plan.remarks);
    warnings.extend(asked.doubts(&groups, options));
    let fitting = fit_design(options.family, &asked.design)
        .map_err(|why| separated::reason(&groups, options, &asked.plan, &asked.design, &why));
    let robust = fitting
        .as_ref()
        .ok()
        .and_then(|fitting| asked.robust(&fitting.regression, &groups, options));
    if fitting.is_ok() {
        warnings.extend(clusters(robust.as_ref(), options));
    }
    let tests = options
        .by
        .as_ref()
        .map(|by| tests(&merged(&groups, by), by, options))
        .unwrap_or_default();
    let life_ratios = match (&options.by, &fitting) {
        (Some(by), Ok(fitting)) => ratios(
            fitting,
            robust.as_ref(),
            by,
            &levels(&groups, by, &options.base)?,
            options,
        ),
        _ => vec![],
    };
    if life_ratios.len() > 1 {
        warnings.push(format!(
            "{} pairs are compared and each p-value is for its pair alone; the tests above speak for all groups together",
            life_ratios.len()
        ));
    }
    let predictions = match &fitting {
        Ok(fitting) => predict::predictions(
            &asked.plan,
            &asked.design,
            fitting,
            robust.as_ref(),
            options,
        )?,
        Err(_) => vec![],
    };
    Ok(CompareDocument {
        schema: "sealspan.compare.v1",
        unit,
        confidence: options.confidence,
        tests,
        regression_reason: fitting.as_ref().err().cloned(),
        regression: fitting
            .ok()
            .map(|fitting| asked.result(&fitting, robust.as_ref(), options)),
        proportional_hazards: None,
        proportional_hazards_reason: "not computed: the accelerated life regression is the model here",
        life_ratios,
        predictions,
        warnings,
    })
}

fn tests(groups: &[(String, Sample)], by: &str, options: &CompareOptions) -> Vec<TestResult> {
    let samples: Vec<Sample> = groups.iter().map(|(_, s)| s.clone()).collect();
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
    let kinds = [
        (Weighting::LogRank, "log_rank"),
        (Weighting::Peto, "peto"),
        (Weighting::Gehan, "gehan"),
    ];
    let mut out: Vec<TestResult> = kinds
        .into_iter()
        .map(|(kind, name)| {
            log_rank(&samples, kind).map_or_else(
                || {
                    let failed = samples.iter().any(|s| s.tally().failures() > 0.0);
                    let why = if failed {
                        "needs exact or right-censored ages in groups under watch at the same ages; see the likelihood tests"
                    } else {
                        "no seal failed: nothing to compare"
                    };
                    none(name, why.to_owned())
                },
                found,
            )
        })
        .collect();
    let levels: Vec<String> = groups.iter().map(|(level, _)| level.clone()).collect();
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
