//! How much assets (or other clusters) differ in what was not recorded: gamma frailty.

use super::compare::Keyed;
use super::hazards::{HazardCoefficient, coefficients, prepared};
use sealspan_life::compare::Test;
use sealspan_life::hazards::{Ties, fit, frailty, weibull_frailty};
use serde::Serialize;

/// Both fits.
#[derive(Debug, Clone, Serialize)]
pub struct FrailtyResult {
    /// Column whose levels are the clusters.
    pub column: String,
    /// Clusters.
    pub clusters: Option<usize>,
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
    /// Spread of ln life within a cluster.
    pub sigma: f64,
    /// Its standard error.
    pub sigma_std_error: f64,
    /// Between clusters.
    pub theta: Variance,
    /// Log-likelihood.
    pub log_likelihood: f64,
    /// What delayed entry takes for granted, where there is any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assumption: Option<&'static str>,
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
pub fn shared_frailty(
    groups: &[Keyed],
    names: &[String],
    rows: &[Vec<f64>],
    column: &str,
    confidence: f64,
) -> FrailtyResult {
    let data = prepared(groups, names, rows, Some(column));
    let clusters = data.as_ref().ok().map(|d| d.clusters());
    let weibull = data.clone().and_then(|d| weibull(&d, confidence));
    let open = data.and_then(|d| {
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
        clusters,
        weibull_reason: weibull.as_ref().err().cloned(),
        weibull: weibull.ok(),
        proportional_hazards_reason: open.as_ref().err().cloned(),
        proportional_hazards: open.ok(),
    }
}

fn weibull(
    data: &sealspan_life::hazards::Prepared,
    confidence: f64,
) -> Result<WeibullFrailtyResult, String> {
    let found = weibull_frailty(data, confidence).map_err(|why| why.to_string())?;
    let at = found.names.len();
    let sigma = found.x.get(at).copied().unwrap_or(0.0).exp();
    let error = found.covariance.get((at, at)).map_or(0.0, |v| v.sqrt());
    Ok(WeibullFrailtyResult {
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
