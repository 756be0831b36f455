//! How much assets (or other clusters) differ in what was not recorded: gamma frailty.

use super::compare::{Keyed, value};
use super::hazards::{HazardCoefficient, coefficients, prepared, with_looks};
use crate::number;
use sealspan_life::compare::Test;
use sealspan_life::hazards::{
    Shared, Ties, WeibullFrailty, WithLooks, fit, frailty, weibull_frailty,
};
use sealspan_records::NONE;
use serde::Serialize;
use std::collections::BTreeMap;

/// Both fits ([`weibull_frailty`], [`frailty`]).
#[derive(Debug, Clone, Serialize)]
pub struct FrailtyResult {
    /// Column whose levels are the clusters.
    pub column: String,
    /// Clusters.
    pub clusters: Option<usize>,
    /// Why they are not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clusters_reason: Option<String>,
    /// Weibull lives with gamma frailty.
    pub weibull: Option<WeibullFrailtyResult>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weibull_reason: Option<String>,
    /// Proportional hazards with gamma frailty, the baseline rate open.
    pub proportional_hazards: Option<HazardsFrailtyResult>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proportional_hazards_reason: Option<String>,
}

/// The variance between clusters, and whether there is any.
#[derive(Debug, Clone, Serialize)]
pub struct Variance {
    /// θ: the variance of a frailty with mean 1.
    pub estimate: f64,
    /// Lower end of its profile-likelihood interval.
    pub lower: f64,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why there is no upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// Likelihood-ratio statistic of θ = 0.
    pub statistic: f64,
    /// Its p-value: even mixture of chi-squares with 0 and 1 degree of freedom (Self & Liang 1987).
    pub p_value: f64,
}

/// Weibull lives.
#[derive(Debug, Clone, Serialize)]
pub struct WeibullFrailtyResult {
    /// On ln life, for a cluster of frailty 1.
    pub coefficients: Vec<super::compare::CoefficientResult>,
    /// On the log failure rate, −b/σ.
    pub hazard_coefficients: Vec<HazardCoefficient>,
    /// σ, the scale of ln life within a cluster: 1/shape.
    pub sigma: f64,
    /// Its standard error.
    pub sigma_std_error: f64,
    /// Between clusters.
    pub theta: Variance,
    /// Log-likelihood.
    pub log_likelihood: f64,
    /// Each cluster's failure rate over that of a middling one, fastest first.
    pub levels: Vec<FrailtyLevel>,
    /// How many of them stand out: their interval leaves 1 out.
    pub standing_out: usize,
    /// Why there are none, or what their intervals are.
    pub levels_reason: String,
    /// What delayed entry takes for granted, where there is any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assumption: Option<&'static str>,
}

/// A cluster, drawn towards the middle.
#[derive(Debug, Clone, Serialize)]
pub struct FrailtyLevel {
    /// Its name.
    pub level: String,
    /// Its seals.
    pub seals: f64,
    /// Its failures.
    pub failures: f64,
    /// Failure rate over that of a cluster of frailty 1, the columns of the regression held constant: posterior mean.
    pub rate_ratio: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Life over that of a cluster of frailty 1, at the mean rate ratio: its power of −σ.
    pub life_ratio: f64,
    /// True when the interval leaves 1 out.
    pub stands_out: bool,
}

/// An open baseline rate.
#[derive(Debug, Clone, Serialize)]
pub struct HazardsFrailtyResult {
    /// On the log failure rate; errors take θ as known.
    pub coefficients: Vec<HazardCoefficient>,
    /// Why they are missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Between clusters.
    pub theta: Variance,
    /// Integrated log-likelihood, on the scale of the partial likelihood.
    pub log_likelihood: f64,
}

fn variance(theta: f64, (lower, upper): (f64, Option<f64>), test: &Test) -> Variance {
    Variance {
        estimate: theta,
        lower,
        upper,
        reason: upper
            .is_none()
            .then_some("the likelihood stays high however much the clusters differ"),
        statistic: test.statistic,
        p_value: test.p_value,
    }
}

/// Fits both, with the columns of the regression.
#[must_use]
pub(crate) fn shared_frailty(
    groups: &[Keyed],
    names: &[String],
    rows: &[Vec<f64>],
    column: &str,
    confidence: f64,
) -> FrailtyResult {
    let looked = with_looks(groups, names, rows, column);
    let clusters = looked
        .as_ref()
        .map(WithLooks::clusters)
        .map_err(Clone::clone);
    let weibull = looked.and_then(|d| weibull(&d, groups, column, confidence));
    let data = prepared(groups, names, rows, Some(column));
    let open = data.map_err(|why| match why.contains("between two looks") {
        true => format!("{why}; the Weibull lives need none"),
        false => why,
    });
    let open = open.and_then(|d| {
        let fit = fit(d, Ties::Efron).map_err(|why| why.to_string())?;
        let found = frailty(&fit, confidence).map_err(|why| why.to_string())?;
        let (coefficients, reason) = match found.effects {
            Ok(effects) => (coefficients(effects, None), None),
            Err(why) => (vec![], Some(why)),
        };
        Ok(HazardsFrailtyResult {
            coefficients,
            reason,
            theta: variance(found.theta, found.interval, &found.test),
            log_likelihood: found.log_likelihood,
        })
    });
    FrailtyResult {
        column: column.to_owned(),
        clusters_reason: clusters.as_ref().err().cloned(),
        clusters: clusters.ok(),
        weibull_reason: weibull.as_ref().err().cloned(),
        weibull: weibull.ok(),
        proportional_hazards_reason: open.as_ref().err().cloned(),
        proportional_hazards: open.ok(),
    }
}

fn weibull(
    data: &WithLooks,
    groups: &[Keyed],
    column: &str,
    confidence: f64,
) -> Result<WeibullFrailtyResult, String> {
    let found = weibull_frailty(data, confidence).map_err(|why| why.to_string())?;
    let at = found.names.len();
    let sigma = found.x.get(at).copied().unwrap_or(0.0).exp();
    let error = found.covariance.get((at, at)).map_or(0.0, |v| v.sqrt());
    let (levels, levels_reason) = levels(&found, groups, column, sigma, confidence);
    Ok(WeibullFrailtyResult {
        standing_out: levels.iter().filter(|l| l.stands_out).count(),
        levels,
        levels_reason,
        coefficients: found.effects(confidence).into_iter().map(Into::into).collect(),
        hazard_coefficients: coefficients(found.hazard_effects(confidence), None),
        sigma,
        sigma_std_error: sigma * error,
        theta: variance(found.theta, found.interval, &found.test),
        log_likelihood: found.log_likelihood,
        assumption: data.delayed().then_some(
            "seals already in place when watching began are taken as survivors of their cluster, their dates of fitting as given",
        ),
    })
}

/// The clusters in the order in which the fit numbers them: name, seals, failures.
fn clusters(groups: &[Keyed], column: &str) -> Vec<(String, f64, f64)> {
    let mut out: Vec<(String, f64, f64)> = vec![];
    let mut known: BTreeMap<&str, usize> = BTreeMap::new();
    for (key, sample) in groups {
        let word = value(key, column);
        for life in sample.rows() {
            // Seals of no known cluster are no cluster together.
            let at = match word {
                NONE => out.len(),
                word => *known.entry(word).or_insert(out.len()),
            };
            if at == out.len() {
                out.push((word.to_owned(), 0.0, 0.0));
            }
            if let Some(own) = out.get_mut(at) {
                own.1 += life.count();
                own.2 += if life.ended() { life.count() } else { 0.0 };
            }
        }
    }
    out
}

fn levels(
    found: &WeibullFrailty,
    groups: &[Keyed],
    column: &str,
    sigma: f64,
    confidence: f64,
) -> (Vec<FrailtyLevel>, String) {
    if found.theta <= 0.0 {
        let why = "the likeliest difference between them is none, so none stands out";
        return (vec![], why.to_owned());
    }
    let one = |((level, seals, failures), shared): ((String, f64, f64), &Shared)| {
        let (lower, upper) = shared.interval(confidence);
        FrailtyLevel {
            level,
            seals,
            failures,
            rate_ratio: shared.mean,
            lower,
            upper,
            life_ratio: shared.mean.powf(-sigma),
            stands_out: lower > 1.0 || upper < 1.0,
        }
    };
    let all = clusters(groups, column);
    let mut out: Vec<FrailtyLevel> = all.into_iter().zip(&found.shared).map(one).collect();
    out.sort_by(|a, b| {
        b.rate_ratio
            .total_cmp(&a.rate_ratio)
            .then(a.level.cmp(&b.level))
    });
    let words = format!(
        "drawn towards the middle, the more the fewer failures they have; {} intervals each by itself, the spread between them and the law taken as known",
        number::level(confidence)
    );
    (out, words)
}

impl From<sealspan_life::hazards::Effect> for super::compare::CoefficientResult {
    fn from(e: sealspan_life::hazards::Effect) -> Self {
        Self {
            name: e.name,
            estimate: e.estimate,
            std_error: e.std_error,
            lower: e.lower,
            upper: e.upper,
            p_value: e.p_value,
        }
    }
}
