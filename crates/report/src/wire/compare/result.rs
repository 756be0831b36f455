//! The regression as told to the outside: coefficients with units and both kinds of interval.

use super::collinear::Collinearity;
use super::many::RandomFactorResult;
use super::options::CompareOptions;
use super::plan::Plan;
use super::prior::PriorResult;
use super::stress::StressResult;
use super::typical::TypicalEffect;
use super::{CoefficientResult, Sigma};
use sealspan_life::regression::{Fitting, Regression, Robust};
use serde::Serialize;

/// The regression.
#[derive(Debug, Clone, Serialize)]
pub struct RegressionResult {
    /// Law.
    pub family: &'static str,
    /// Coefficients on ln life.
    pub coefficients: Vec<EffectResult>,
    /// Effects that hang on another column, where that stands at a typical value: their coefficients hold at its 0.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub at_typical: Vec<TypicalEffect>,
    /// Scale of ln life.
    pub sigma: Option<Sigma>,
    /// Why there is none, or more than one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_reason: Option<String>,
    /// Scale of ln life by level, where levels have their own.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sigmas: Vec<LevelSigma>,
    /// Log-likelihood, densities per unit of time, without penalties.
    pub log_likelihood: f64,
    /// How the intervals are made: `wald` (normal approximation) or `profile` (likelihood ratio).
    pub bounds: &'static str,
    /// What the estimates are held to beside the data, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub penalised: Option<String>,
    /// A factor whose levels are draws from one normal, where one has too many to be told apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub random: Option<RandomFactorResult>,
    /// What the robust intervals rest on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub robust: Option<RobustNote>,
    /// How far its columns go together; absent with fewer than two.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub collinearity: Option<Collinearity>,
    /// Stress terms.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stresses: Vec<StressResult>,
    /// The stated activation energy, and the estimate with it and without.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub prior: Option<PriorResult>,
}

/// A coefficient with its unit.
#[derive(Debug, Clone, Serialize)]
pub struct EffectResult {
    /// Name, estimate, error, interval, p-value.
    #[serde(flatten)]
    pub own: CoefficientResult,
    /// Unit.
    pub unit: String,
    /// The same allowing for like seals within a cluster.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub robust: Option<RobustInterval>,
    /// What the interval lacks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A robust error with its interval, Student's t of one degree of freedom less than clusters
/// ([`Robust`]).
#[derive(Debug, Clone, Copy, Serialize)]
pub struct RobustInterval {
    /// Standard error.
    pub std_error: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// p-value of being 0.
    pub p_value: f64,
}

/// What robust intervals rest on.
#[derive(Debug, Clone, Serialize)]
pub struct RobustNote {
    /// Column whose values are the clusters.
    pub cluster: String,
    /// How many.
    pub clusters: usize,
    /// The correction for few of them.
    pub small_sample: &'static str,
}

/// σ of one level.
#[derive(Debug, Clone, Serialize)]
pub struct LevelSigma {
    /// The level.
    pub level: String,
    /// Its σ.
    #[serde(flatten)]
    pub sigma: Sigma,
}

/// The robust interval of a linear combination of the unknowns.
pub fn robust_interval(
    robust: &Robust,
    weights: &[f64],
    estimate: f64,
    level: f64,
) -> RobustInterval {
    let std_error = robust.error(weights);
    let half = robust.critical(level) * std_error;
    RobustInterval {
        std_error,
        lower: estimate - half,
        upper: estimate + half,
        p_value: robust.p_value(estimate / std_error),
    }
}

/// The coefficients.
pub fn effects(
    plan: &Plan,
    fitting: &Fitting,
    robust: Option<&Robust>,
    options: &CompareOptions,
) -> Vec<EffectResult> {
    let fit = &fitting.regression;
    let level = options.confidence;
    let effect = |(at, c): (usize, sealspan_life::regression::Coefficient)| {
        let weights = fit.unit(at);
        let robust = robust.map(|r| robust_interval(r, &weights, c.estimate, level));
        let mut own = CoefficientResult::from(c);
        let mut reason = None;
        if options.more.profile {
            let [lower, upper] = fitting.profile(&weights, level);
            own.lower = lower.unwrap_or(own.lower);
            own.upper = upper.unwrap_or(own.upper);
            if lower.is_none() || upper.is_none() {
                reason = Some(
                    "the likelihood sets no end on one side; that of the normal approximation stands there".to_owned(),
                );
            }
        }
        EffectResult {
            own,
            unit: plan.units.get(at).cloned().unwrap_or_default(),
            robust,
            reason,
        }
    };
    fit.coefficients(level)
        .into_iter()
        .enumerate()
        .map(effect)
        .collect()
}

/// σ in common, why not, and σ by level.
pub fn sigmas(
    plan: &Plan,
    fit: &Regression,
    level: f64,
) -> (Option<Sigma>, Option<String>, Vec<LevelSigma>) {
    let of = |stratum: usize| {
        fit.sigma_of(stratum, level)
            .map(|(estimate, std_error, lower, upper)| Sigma {
                estimate,
                std_error,
                lower,
                upper,
            })
    };
    if !fit.family.has_ln_scale() {
        let why = format!(
            "the {} law has no scale of ln life of its own",
            fit.family.name()
        );
        return (None, Some(why), vec![]);
    }
    let Some((column, levels)) = &plan.strata else {
        return (of(0), None, vec![]);
    };
    let each = levels.iter().enumerate().filter_map(|(at, level)| {
        Some(LevelSigma {
            level: level.clone(),
            sigma: of(at)?,
        })
    });
    let why = format!("each level of {column} has its own");
    (None, Some(why), each.collect())
}
