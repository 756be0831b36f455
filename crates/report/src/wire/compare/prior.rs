//! Knowledge of the activation energy from elsewhere (lab ageing) in a regression of field data.

use super::options::CompareOptions;
use super::plan::Plan;
use super::result::EffectResult;
use super::term::{ACTIVATION, KJ_PER_MOL};
use sealspan_life::family::Family;
use sealspan_life::regression::{Design, Penalty, fit_design};
use serde::Serialize;

/// A stated activation energy and what it does to the estimate.
#[derive(Debug, Clone, Serialize)]
pub struct PriorResult {
    /// Its mean, eV.
    pub mean_ev: f64,
    /// Its standard deviation, eV.
    pub sd_ev: f64,
    /// The mean in kJ/mol.
    pub mean_kj_per_mol: f64,
    /// The estimate with it, eV.
    pub with: EnergyEstimate,
    /// The estimate from these records alone, eV.
    pub without: EnergyEstimate,
    /// How many standard errors the two sources lie apart: (estimate without it - mean) over the root of the sum of the
    /// squares of its standard error and of the standard deviation; `None` where these records tell no energy.
    pub disagreement: Option<f64>,
}

/// An estimate, eV, or why there is none.
#[derive(Debug, Clone, Default, Serialize)]
pub struct EnergyEstimate {
    /// Estimate.
    pub estimate: Option<f64>,
    /// Standard error.
    pub std_error: Option<f64>,
    /// Lower end.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why it is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// The penalty of a stated activation energy.
pub fn penalty(plan: &Plan, options: &CompareOptions) -> Result<Option<Penalty>, String> {
    let Some((mean, sd)) = options.more.prior else {
        return Ok(None);
    };
    if !(sd > 0.0 && mean.is_finite() && sd.is_finite()) {
        return Err("--prior-activation-energy needs a mean and a standard deviation above zero, in eV: 0.85,0.10".into());
    }
    let at = plan.at(ACTIVATION).ok_or(
        "--prior-activation-energy needs a temperature column: name it under --arrhenius or --eyring",
    )?;
    Ok(Some(Penalty { at, mean, sd }))
}

/// The estimate with what was stated, and without.
pub fn told(
    prior: &Penalty,
    design: &Design,
    family: &'static dyn Family,
    effects: &[EffectResult],
    confidence: f64,
) -> PriorResult {
    let with = effects
        .get(prior.at)
        .map_or_else(EnergyEstimate::default, |e| EnergyEstimate {
            estimate: Some(e.own.estimate),
            std_error: Some(e.own.std_error),
            lower: Some(e.own.lower),
            upper: Some(e.own.upper),
            reason: None,
        });
    let mut alone = design.clone();
    alone.penalties.retain(|p| p.at != prior.at);
    let without = match fit_design(family, &alone) {
        Ok(fitting) => {
            let all = fitting.regression.coefficients(confidence);
            all.into_iter()
                .nth(prior.at)
                .map_or_else(EnergyEstimate::default, |c| EnergyEstimate {
                    estimate: Some(c.estimate),
                    std_error: Some(c.std_error),
                    lower: Some(c.lower),
                    upper: Some(c.upper),
                    reason: None,
                })
        }
        Err(why) => EnergyEstimate {
            reason: Some(format!("these records alone do not tell it: {why}")),
            ..EnergyEstimate::default()
        },
    };
    let disagreement = without.estimate.zip(without.std_error);
    PriorResult {
        mean_ev: prior.mean,
        sd_ev: prior.sd,
        mean_kj_per_mol: prior.mean * KJ_PER_MOL,
        with,
        disagreement: disagreement.map(|(e, s)| (e - prior.mean) / s.hypot(prior.sd)),
        without,
    }
}
