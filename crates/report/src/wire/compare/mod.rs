//! Do groups differ, and by what life ratio?

mod answer;
mod asked;
mod collinear;
mod many;
mod options;
mod plan;
mod predict;
mod prior;
mod result;
mod scatter;
mod seals;
mod shown;
mod stress;
mod temperature;
pub mod term;
mod typical;
mod unit;
mod wrong_cell;

pub use answer::{Compared, Fitted, compare, compared};
pub use collinear::{BlurredColumn, Collinearity};
pub use many::{RandomFactorResult, RandomLevel};
pub use options::{CompareOptions, Concentration, More};
pub use plan::Plan;
pub use predict::{PredictedLife, PredictionResult};
pub use prior::{EnergyEstimate, PriorResult};
pub use result::{EffectResult, LevelSigma, RegressionResult, RobustInterval, RobustNote};
pub use scatter::Scatter;
pub(crate) use stress::curvature;
pub use stress::{Curvature, Energy, StressResult};
pub use term::{BOLTZMANN_EV, KJ_PER_MOL};
pub use typical::TypicalEffect;
pub use unit::unit_of;
pub use wrong_cell::{WrongCell, wrong_cell};

use super::GroupKey;
use super::drawn_ages::DrawnAges;
use super::frailty::FrailtyResult;
use super::hazards::{LnLife, ProportionalHazards};
use super::log_rank::rank_tests;
use super::mode_tests::ModeTest;
use super::pairwise::{Pairwise, pairwise};
use crate::number;
use asked::Asked;
use sealspan_life::compare::{Test, by_law, factor_names};
use sealspan_life::regression::{Coefficient, Regression};
use sealspan_records::RowsHeld;
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
    /// How failures between two looks came into those that need exact ages.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_ages: Option<DrawnAges>,
    /// Whether equal shares fail by the mode of the question, the others at work too.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mode_test: Option<ModeTest>,
    /// Accelerated life regression.
    pub regression: Option<RegressionResult>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub regression_reason: Option<String>,
    /// The rows of the file whose seals stand in its way, where a column is at fault.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub regression_rows: Option<RowsHeld>,
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
    /// Life under stated conditions.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub predictions: Vec<PredictionResult>,
    /// Doubts, with what to do.
    pub warnings: Vec<String>,
    /// What to mind before acting.
    pub cautions: Vec<String>,
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

/// A coefficient on ln life, in its own unit ([`EffectResult::unit`]).
#[derive(Debug, Clone, Serialize)]
pub struct CoefficientResult {
    /// Name.
    pub name: String,
    /// Estimate.
    pub estimate: f64,
    /// Standard error.
    pub std_error: f64,
    /// Lower end of the interval, of the kind that [`RegressionResult::bounds`] names.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Two-sided p-value of being 0, by the normal approximation.
    pub p_value: f64,
}

/// σ, the scale of ln life: 1/shape of a Weibull law, the standard deviation of ln life of a lognormal one.
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

pub(crate) fn value<'a>(key: &'a GroupKey, column: &str) -> &'a str {
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

fn pairs(
    groups: &[Keyed],
    by: &str,
    fit: &Regression,
    options: &CompareOptions,
) -> Result<Option<Pairwise>, String> {
    let levels = levels(groups, by, &options.base)?;
    let level = options.confidence;
    let mut all = pairwise(&fit.names, &fit.x, &fit.covariance, by, &levels, level);
    if let Some(all) = &mut all {
        all.test_pairs(groups, by, options.family);
    }
    Ok(all)
}

/// Effects on ln life as the cross-check sees them: those of columns in products at typical conditions.
fn ln_life(told: &RegressionResult, fit: Option<&Regression>, asked: &Asked, level: f64) -> LnLife {
    let effect = |(at, e): (usize, &EffectResult)| {
        let c = &e.own;
        let own = [c.estimate, c.lower, c.upper];
        let effect = match fit {
            Some(fit) if asked.typical.hangs(at) => {
                let weights = asked.typical.weights(at);
                let c = fit.contrast("", &weights, &vec![0.0; weights.len()], level);
                [c.estimate, c.lower, c.upper]
            }
            _ => own,
        };
        (c.name.clone(), effect)
    };
    LnLife {
        family: told.family,
        sigma: told.sigma.as_ref().map(|s| s.estimate),
        effects: told.coefficients.iter().enumerate().map(effect).collect(),
    }
}

fn tests(
    groups: &[Keyed],
    by: &str,
    options: &CompareOptions,
) -> (Vec<TestResult>, Option<DrawnAges>) {
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
        let why = format!("`{by}` has one level only: nothing to compare");
        return (vec![none("log_rank", why)], None);
    }
    let (mut out, drawn) = rank_tests(groups, by, &options.given, options.more.seed);
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
            let why = match whole.iter().find(|(_, s)| s.tally().failures() <= 0.0) {
                Some((level, sample)) => format!(
                    "none of the {} with {by} = `{level}` failed, so they have no life of their own to set against the others'",
                    number::counted(sample.tally().total(), "seal")
                ),
                None => why.to_string(),
            };
            out.push(none("common_shape", why.clone()));
            out.push(none("common_life", why));
        }
    }
    (out, drawn)
}
