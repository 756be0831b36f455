//! A family without an estimate: bounds where they exist (no failures, shape known), and the reason.

use super::values::parameter_unit;
use super::{AtShare, AtTime, Ends, FamilyFit, FitOptions, ParameterFit, Remaining};
use crate::wire::Number;
use sealspan_life::bounds::NoEnd;
use sealspan_life::family::Family;
use sealspan_life::few::lower_bounds;
use sealspan_life::fit::NoFit;
use sealspan_life::law::Parameter;
use sealspan_records::Sample;

pub(super) const NO_FIT: &str = "there is no estimate to test";
const NO_INTERVAL: &str = "there is no estimate to put an interval round";
const STATED: &str = "stated, not estimated: no interval";

/// What is said of the family.
pub(super) fn unfitted(
    family: &'static dyn Family,
    why: &NoFit,
    shape: Option<f64>,
    sample: &Sample,
    options: &FitOptions,
) -> FamilyFit {
    let shape = shape.or((family.name() == "exponential").then_some(1.0));
    let bound = matches!(why, NoFit::NoFailures { .. })
        .then(|| lower_bounds(sample, shape?, 0.5 + 0.5 * options.confidence))
        .flatten();
    let reason = why.to_string();
    let only = |lower: Option<f64>, upper: Option<f64>| {
        let bounded = lower.is_some() || upper.is_some();
        let missing = |end: Option<f64>| (bounded && end.is_none()).then_some(NoEnd::NoLimit);
        let number = Number {
            estimate: None,
            lower,
            upper,
            reason: Some(reason.clone()),
        };
        let ends = Ends {
            no_lower: missing(lower),
            no_upper: missing(upper),
        };
        (number, ends)
    };
    let stated = || {
        let number = Number {
            estimate: shape,
            reason: Some(STATED.to_owned()),
            ..Number::default()
        };
        let ends = Ends {
            no_lower: Some(NoEnd::Stated),
            no_upper: Some(NoEnd::Stated),
        };
        (number, ends)
    };
    let parameter = |p: &Parameter| {
        let name = p.name;
        let (number, ends) = match (name, &bound) {
            ("shape", _) if shape.is_some() => stated(),
            ("scale" | "mean", Some(b)) => only(Some(b.scale), None),
            ("rate", Some(b)) => only(Some(0.0), Some(1.0 / b.scale)),
            _ => only(None, None),
        };
        ParameterFit {
            name,
            unit: parameter_unit(p.dimension, options.unit),
            std_error: None,
            std_error_reason: None,
            number,
            ends,
        }
    };
    let share = |p: &f64| {
        let (number, ends) = only(bound.map(|b| b.quantile(*p)), None);
        AtShare {
            p: *p,
            number,
            ends,
        }
    };
    let time = |t: &f64| {
        let (number, ends) = only(bound.map(|b| b.survival(*t)), bound.map(|_| 1.0));
        AtTime {
            time: *t,
            number,
            ends,
            band_lower: None,
            band_upper: None,
            band_reason: Some("there is no estimate to put a band about".to_owned()),
        }
    };
    let left = |age: f64, p: f64| {
        let (number, ends) = only(bound.map(|b| b.remaining(age, p)), None);
        Remaining {
            age,
            p,
            number,
            ends,
        }
    };
    let (mean_life, mean_life_ends) = only(bound.map(|b| b.mean()), None);
    FamilyFit {
        family: family.name(),
        converged: false,
        free_shape: false,
        withheld: false,
        reason: Some(reason.clone()),
        parameters: family.reported().iter().map(parameter).collect(),
        covariance: None,
        covariance_reason: None,
        log_likelihood: None,
        aic: None,
        aicc: None,
        aicc_reason: None,
        bic: None,
        mean_life,
        mean_life_ends,
        quantiles: options.quantiles.iter().map(share).collect(),
        survival: options.at.iter().map(time).collect(),
        remaining: options
            .ages_now
            .iter()
            .flat_map(|age| options.quantiles.iter().map(|p| left(*age, *p)))
            .collect(),
        estimates: None,
        greatest_likelihood: vec![],
        bounds: None,
        one_sided: None,
        bounds_reason: Some(NO_INTERVAL),
        simulation_error: None,
        simulation_error_reason: None,
        effective_draws: None,
        priors: None,
        prior_parameters: vec![],
        goodness: None,
        goodness_reason: Some(NO_FIT),
        poor_fit: None,
        bias_reduced_shape: None,
        profile_beside: vec![],
        residuals: vec![],
        warnings: vec![],
        fit: None,
    }
}
