//! One family fitted to one group.

#![expect(
    clippy::indexing_slicing,
    reason = "the covariance has a row for every reported parameter"
)]

use super::doubts::{
    Asked, LEFT_OUT_SHARE, NORMAL_FAILURES, doubts, few_draws, one_sided, poor_fit,
};
use super::ends::{Ends, OUT_OF_RANGE};
use super::few::TRUSTED_FAILURES;
use super::numbers::Numbers;
use super::posterior::{Alone, said, speak};
use super::unfitted::unfitted;
use super::values::parameter_unit;
use super::withheld::withhold;
use super::{
    AtShare, AtTime, Beside, Detail, FamilyFit, FitOptions, GoodnessResult, Kept, ParameterFit,
    Remaining, ResidualRow,
};
use crate::number as words;
use sealspan_life::bounds::{Method, at_depths, bounds};
use sealspan_life::family::Family;
use sealspan_life::fit::{Fit, Model, fit_terms};
use sealspan_life::goodness::goodness;
use sealspan_life::intervals::{
    Instead, Intervals, refitted_unasked, simultaneous_depth, usual_method,
};
use sealspan_life::quantity::Quantity;
use sealspan_life::refits::Refits;
use sealspan_life::residuals::residuals;
use sealspan_life::terms::Terms;
use sealspan_life::warning::Warning;
use sealspan_records::Sample;
use std::sync::Arc;

const TOO_MANY: &str =
    "too many failures to refit for a p-value; compare the line with the curve without a family";
const RUNS_OFF: &str = "fewer than half of the samples drawn from this law have an estimate of their own: no p-value; compare the line with the curve without a family";
const NOT_MAIN: &str = "a p-value is worked out for the main family only";
const CHI_SQUARE: &str = "with the shape known and few failures the ends are chi-square bounds, on the safe side (NIST/SEMATECH e-Handbook 8.4.5.1)";
const MEDIANS_BESIDE: &str = "medians of the posterior; std_error and covariance belong to the values of greatest likelihood beside them";
const LEFT_OUT: &str = "an interval of the posterior leaves out where the likelihood peaks: the prior decides there, or the peak is narrow and holds little of the posterior";
const FEW_SEALS: &str =
    "too few seals for the correction: it needs two more than there are parameters";
const UNREACHED: &str = "at this confidence fewer than one draw lies beyond each end: the ends rest on the shape of the draws' law, which so few do not check, and the simulation's error there is not known";
/// Refits for the tests of fit where the intervals need none.
const TESTING: usize = 300;

pub(super) fn family(
    family: &'static dyn Family,
    sample: &Sample,
    terms: &Arc<Terms>,
    options: &FitOptions,
    refit: bool,
) -> FamilyFit {
    let stated = options
        .shape
        .filter(|_| family.name() == "weibull")
        .map(|s| ("shape", s));
    let posterior = options.bounds == Some(Method::Posterior) && stated.is_none();
    let mut alone = posterior.then_some(Alone::NoMaximum);
    let mut out = match fit_terms(Model { family, stated }, terms) {
        Ok(fit) => {
            let few = fit.free.len() > 1 && terms.extent.failures < TRUSTED_FAILURES;
            alone = (posterior && few).then_some(Alone::FewFailures);
            fitted(fit, sample, options, refit)
        }
        Err(why) => unfitted(family, &why, stated.map(|s| s.1), sample, options),
    };
    if let Some(why) = alone {
        speak(&mut out, why, family, terms, options);
    }
    out
}

fn fitted(fit: Fit, sample: &Sample, options: &FitOptions, refit: bool) -> FamilyFit {
    let usual = || {
        if refit {
            usual_method(&fit)
        } else {
            Method::Profile
        }
    };
    let method = options.bounds.unwrap_or_else(usual);
    let level = options.confidence;
    let mut numbers = Numbers::new(&fit, sample, method, options);
    let covariance = fit.reported_covariance();
    let whole = options.detail == Detail::Whole;
    let withheld = fit.free.len() > 1 && fit.terms.extent.failures < TRUSTED_FAILURES;
    let parameters: Vec<ParameterFit> = fit
        .family
        .reported()
        .iter()
        .filter(|_| whole)
        .enumerate()
        .map(|(i, p)| {
            let (number, ends) = numbers.number(Quantity::Parameter(i), p.name);
            let error = Some(covariance[(i, i)].max(0.0).sqrt()).filter(|e| e.is_finite());
            ParameterFit {
                name: p.name,
                unit: parameter_unit(p.dimension, options.unit),
                std_error: error,
                std_error_reason: error.is_none().then_some(OUT_OF_RANGE),
                number,
                ends,
            }
        })
        .collect();
    let quantiles: Vec<AtShare> = options
        .quantiles
        .iter()
        .map(|p| {
            let name = format!("{} failed by", words::level(*p));
            let (number, ends) = match whole || !withheld {
                true => numbers.number(Quantity::Quantile(*p), &name),
                false => Default::default(),
            };
            AtShare {
                p: *p,
                number,
                ends,
            }
        })
        .collect();
    let depth = simultaneous_depth(fit.free.len(), level);
    let survival: Vec<AtTime> = options
        .at
        .iter()
        .map(|t| {
            let quantity = Quantity::Survival(*t);
            let band = at_depths(&fit, quantity, depth, depth);
            let name = format!("share surviving {}", words::tidy(*t));
            let (number, ends) = numbers.number(quantity, &name);
            // What holds at all ages holds at this one: never narrower than a calibrated interval.
            let widest = |band: Option<f64>, own: Option<f64>, of: fn(f64, f64) -> f64| {
                band.map(|b| own.map_or(b, |o| of(b, o)))
            };
            AtTime {
                time: *t,
                band_lower: widest(band.lower, number.lower, f64::min),
                band_upper: widest(band.upper, number.upper, f64::max),
                number,
                ends,
                band_reason: Ends::of(&band).reason(),
            }
        })
        .collect();
    let mut remaining = vec![];
    for age in &options.ages_now {
        for p in &options.quantiles {
            let name = format!(
                "{} of those aged {} fail within",
                words::level(*p),
                words::tidy(*age)
            );
            let (number, ends) = numbers.number(Quantity::Remaining { age: *age, p: *p }, &name);
            remaining.push(Remaining {
                age: *age,
                p: *p,
                number,
                ends,
            });
        }
    }
    let (mean_life, mean_life_ends) = match whole {
        true => numbers.number(Quantity::Mean, "mean life"),
        false => Default::default(),
    };
    let goodness = tested(
        &fit,
        sample,
        numbers.intervals.refits(),
        options.seed,
        refit,
    );
    let used = numbers.intervals.method;
    let lost = numbers
        .intervals
        .refits()
        .map_or(0.0, Refits::without_estimate);
    // A shape that is not shown is not spoken of either.
    let shown = |w: &&Warning| !withheld || !matches!(w, Warning::EarlyFailures { .. });
    let mut warnings: Vec<String> = fit
        .warnings
        .iter()
        .filter(shown)
        .map(Warning::message)
        .collect();
    if !withheld {
        warnings.extend(interval_doubts(&fit, &numbers, options));
        let own = goodness
            .as_ref()
            .filter(|_| numbers.intervals.refits().is_none());
        warnings.extend(left_out(
            "the refits behind the test of fit",
            own.map_or(0.0, |g| g.without_estimate),
        ));
    }
    if numbers.left_out {
        warnings.push(LEFT_OUT.to_owned());
    }
    let written = covariance.iter().all(|v| v.is_finite());
    let effective_draws = numbers.intervals.effective_draws();
    let posterior = numbers.intervals.take_posterior();
    let mut out = FamilyFit {
        family: fit.family.name(),
        converged: true,
        free_shape: fit.free.len() > 1,
        withheld,
        reason: None,
        parameters,
        covariance_reason: (!written).then_some(OUT_OF_RANGE),
        covariance: written.then(|| {
            let rows = covariance.row_iter();
            rows.map(|r| r.iter().copied().collect()).collect()
        }),
        log_likelihood: Some(fit.log_likelihood),
        aic: Some(fit.aic()),
        aicc: fit.aicc(),
        aicc_reason: fit.aicc().is_none().then_some(FEW_SEALS),
        bic: Some(fit.bic()),
        mean_life,
        mean_life_ends,
        quantiles,
        survival,
        remaining,
        estimates: Some(match used {
            Method::Posterior => MEDIANS_BESIDE,
            _ => "values of greatest likelihood",
        }),
        greatest_likelihood: numbers.peaks,
        bounds: Some(used),
        one_sided: Some(one_sided(
            used,
            fit.terms.extent.failures,
            level,
            numbers.beyond_draws || numbers.instead.contains(&Instead::BeyondRefits),
            (lost, fit.free.len()),
        )),
        bounds_reason: numbers.intervals.instead,
        simulation_error: (numbers.simulation_error > 0.0).then_some(numbers.simulation_error),
        simulation_error_reason: numbers.beyond_draws.then_some(UNREACHED),
        effective_draws,
        priors: None,
        prior_parameters: vec![],
        goodness_reason: goodness.is_none().then(|| untested(&fit, refit)),
        poor_fit: goodness.and_then(|g| poor_fit(&fit, &g)),
        goodness,
        bias_reduced_shape: bias_reduced_shape(&fit, &numbers.intervals),
        profile_beside: beside(&fit, used, options),
        residuals: if options.residuals {
            residual_rows(&fit, sample)
        } else {
            vec![]
        },
        warnings,
        fit: None,
    };
    if withheld {
        withhold(&mut out);
    }
    // With few failures the posterior speaks alone, and says this itself.
    if let Some(posterior) = posterior.filter(|_| !withheld) {
        said(&mut out, fit.family, &fit.terms, options, &posterior);
    }
    out.fit = Some(Kept(fit));
    out
}

/// Doubts about the intervals, by how they were made.
fn interval_doubts(fit: &Fit, numbers: &Numbers, options: &FitOptions) -> Vec<String> {
    let intervals = &numbers.intervals;
    let asked = Asked {
        method: intervals.method,
        in_vain: intervals.instead.is_some(),
    };
    let mut out = doubts(fit, asked, options);
    for why in &numbers.instead {
        out.push(format!(
            "some of these intervals are plain profile likelihood: {}",
            why.words()
        ));
    }
    if intervals.method == Method::ChiSquare {
        out.push(CHI_SQUARE.to_owned());
    }
    out.extend(left_out(
        "the refits",
        intervals.refits().map_or(0.0, Refits::without_estimate),
    ));
    out.extend(few_draws(intervals.effective_draws()));
    out
}

/// A word on refits that had no estimate.
fn left_out(whose: &str, share: f64) -> Option<String> {
    (share > LEFT_OUT_SHARE).then(|| {
        format!(
            "{} of {whose} had no estimate and are left out, which bends what rests on them",
            words::percent(share)
        )
    })
}

/// The shape with its bias taken off, with fewer than 50 failures.
fn bias_reduced_shape(fit: &Fit, intervals: &Intervals) -> Option<f64> {
    let at = fit
        .family
        .reported()
        .iter()
        .position(|p| p.name == "shape")?;
    let few = fit.terms.extent.failures < NORMAL_FAILURES && fit.free.len() > 1;
    few.then(|| intervals.bias_reduced(Quantity::Parameter(at)))
        .flatten()
}

fn tested(
    fit: &Fit,
    sample: &Sample,
    made: Option<&Refits>,
    seed: u64,
    refit: bool,
) -> Option<GoodnessResult> {
    let own;
    let refits = match made {
        Some(refits) => refits,
        None if refit && refitted_unasked(fit) => {
            own = Refits::new(fit, sample, TESTING, seed)?;
            &own
        }
        None => return None,
    };
    let g = goodness(fit, refits)?;
    Some(GoodnessResult {
        anderson_darling: g.statistics.anderson_darling,
        cramer_von_mises: g.statistics.cramer_von_mises,
        p_value: g.p_value,
        p_value_cramer_von_mises: g.p_value_cramer_von_mises,
        p_value_error: g.p_value_error,
        refits: g.refits,
        without_estimate: refits.without_estimate(),
    })
}

/// Why there is no p-value.
fn untested(fit: &Fit, refit: bool) -> &'static str {
    if !refit {
        NOT_MAIN
    } else if refitted_unasked(fit) {
        RUNS_OFF
    } else {
        TOO_MANY
    }
}

/// Profile intervals beside normal approximations that few failures do not bear.
fn beside(fit: &Fit, used: Method, options: &FitOptions) -> Vec<Beside> {
    if used != Method::Wald || fit.terms.extent.failures >= NORMAL_FAILURES {
        return vec![];
    }
    let parameters = fit.family.reported().iter().enumerate();
    let parameters = parameters.map(|(i, p)| (p.name.to_owned(), Quantity::Parameter(i)));
    let quantiles = options.quantiles.iter();
    let quantiles = quantiles.map(|p| {
        let name = format!("{} failed by", words::level(*p));
        (name, Quantity::Quantile(*p))
    });
    parameters
        .chain(quantiles)
        .map(|(of, quantity)| {
            let b = bounds(fit, quantity, Method::Profile, options.confidence);
            Beside {
                of,
                lower: b.lower,
                upper: b.upper,
                ends: Ends::of(&b),
                reason: Ends::of(&b).reason(),
            }
        })
        .collect()
}

fn residual_rows(fit: &Fit, sample: &Sample) -> Vec<ResidualRow> {
    residuals(fit, sample)
        .into_iter()
        .map(|r| ResidualRow {
            time: r.observation.last(),
            failed: r.observation.ended(),
            cox_snell: r.cox_snell,
            deviance: r.deviance,
        })
        .collect()
}
