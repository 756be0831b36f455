//! One family fitted to one group.

use super::doubts::{NORMAL_FAILURES, doubts, few_draws, priors};
use super::{
    AtShare, AtTime, Beside, FamilyFit, FitOptions, GoodnessResult, Kept, ParameterFit, Remaining,
    ResidualRow,
};
use crate::number as words;
use crate::wire::Number;
use sealspan_life::bounds::{Method, at_depths, bounds};
use sealspan_life::family::Family;
use sealspan_life::few::lower_bounds;
use sealspan_life::fit::{Fit, Model, NoFit, fit_terms};
use sealspan_life::goodness::goodness;
use sealspan_life::intervals::{Intervals, refitted_unasked, simultaneous_depth, usual_method};
use sealspan_life::posterior::Posterior;
use sealspan_life::quantity::Quantity;
use sealspan_life::refits::Refits;
use sealspan_life::resample::Pattern;
use sealspan_life::residuals::residuals;
use sealspan_life::terms::Terms;
use sealspan_records::Sample;
use std::sync::Arc;

const OPEN: &str = "open on this side: the data set no limit, or the likelihood runs to the edge of the family first";
const NEVER: &str = "not finite under this law: fewer seals ever fail, or the mean is infinite";
const BELOW_ZERO: &str = "below age 0: the normal law does not suit";
const NO_DIGITS: &str = "so small here that no interval can be worked out";
const TOO_MANY: &str =
    "too many seals to refit for a p-value; compare the line with the curve without a family";
const RUNS_OFF: &str = "too many refits of this law run off for a p-value unless --bounds asks for them; compare the line with the curve without a family";
const NOT_MAIN: &str = "a p-value is worked out for the main family only";
const POSTERIOR_ONLY: &str = "median of the posterior; the likelihood alone has no maximum";
const NO_FIT: &str = "there is no estimate to test";
const CHI_SQUARE: &str = "with the shape known and few failures the ends are chi-square bounds, on the safe side (NIST/SEMATECH e-Handbook 8.4.5.1)";
const LEFT_OUT: &str = "the estimate is where the likelihood peaks, and an interval of the posterior leaves it out: a narrow peak that holds little of the posterior; trust the interval, not the estimate";
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
    match fit_terms(Model { family, stated }, terms) {
        Ok(fit) => fitted(fit, sample, options, refit),
        Err(why) => {
            let mut out = unfitted(family, &why, stated.map(|s| s.1), sample, options);
            if options.bounds == Some(Method::Posterior) && stated.is_none() {
                from_posterior(&mut out, family, terms, options);
            }
            out
        }
    }
}

/// Medians and intervals of the posterior where the likelihood alone has no maximum.
fn from_posterior(
    out: &mut FamilyFit,
    family: &'static dyn Family,
    terms: &Terms,
    options: &FitOptions,
) {
    let base = family.starts(terms).into_iter().next().unwrap_or_default();
    let free: Vec<usize> = (0..family.dimension()).collect();
    let Ok(posterior) = Posterior::new(family, terms, &base, &free, options.seed) else {
        return;
    };
    let side = 0.5 * (1.0 - options.confidence);
    let number = |quantity: Quantity| {
        let ends = posterior.quantiles(quantity, &[side, 0.5, 1.0 - side]);
        let at = |i: usize| ends.get(i).copied().flatten();
        Number {
            estimate: at(1),
            lower: at(0),
            upper: at(2),
            reason: Some(POSTERIOR_ONLY.to_owned()),
        }
    };
    for (i, parameter) in out.parameters.iter_mut().enumerate() {
        parameter.number = number(Quantity::Parameter(i));
    }
    for q in &mut out.quantiles {
        q.number = number(Quantity::Quantile(q.p));
    }
    for s in &mut out.survival {
        s.number = number(Quantity::Survival(s.time));
    }
    out.mean_life = number(Quantity::Mean);
    out.bounds = Some(Method::Posterior);
    out.bounds_reason = None;
    out.effective_draws = posterior.effective_draws;
    out.priors = Some(priors(family));
    out.warnings.extend(few_draws(posterior.effective_draws));
    out.warnings.push(format!(
        "{POSTERIOR_ONLY}: what the data leave open the priors decide"
    ));
}

/// Numbers of one fit, with the largest simulation error met.
struct Numbers<'a> {
    fit: &'a Fit,
    intervals: Intervals<'a>,
    simulation_error: f64,
    fallen_back: bool,
}

impl Numbers<'_> {
    fn number(&mut self, quantity: Quantity) -> Number {
        let estimate = self.fit.estimate(quantity);
        if !estimate.is_finite() {
            let below_zero = self.fit.family.name() == "normal";
            return Number {
                reason: Some(if below_zero { BELOW_ZERO } else { NEVER }.to_owned()),
                ..Number::default()
            };
        }
        let interval = self.intervals.of(quantity);
        let b = interval.bounds;
        self.simulation_error = self
            .simulation_error
            .max(interval.simulation_error.unwrap_or(0.0));
        if interval.method != self.intervals.method {
            self.fallen_back = true;
        }
        let error = self.fit.scaled_error(quantity);
        let known = error <= 0.0 && self.fit.free.len() < self.fit.theta.len();
        let reason = match (b.lower, b.upper) {
            (Some(_), Some(_)) => None,
            _ if error <= 0.0 && !known => Some(NO_DIGITS.to_owned()),
            _ if known => Some("stated, not estimated: no interval".to_owned()),
            _ => Some(OPEN.to_owned()),
        };
        Number {
            estimate: Some(estimate),
            lower: b.lower.filter(|x| x.is_finite()),
            upper: b.upper.filter(|x| x.is_finite()),
            reason,
        }
    }
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
    let mut numbers = Numbers {
        intervals: Intervals::new(&fit, sample, method, level, options.seed),
        fit: &fit,
        simulation_error: 0.0,
        fallen_back: false,
    };
    let covariance = fit.reported_covariance();
    let parameters: Vec<ParameterFit> = fit
        .family
        .reported()
        .iter()
        .enumerate()
        .map(|(i, p)| ParameterFit {
            name: p.name,
            std_error: Some(covariance[(i, i)].max(0.0).sqrt()),
            number: numbers.number(Quantity::Parameter(i)),
        })
        .collect();
    let quantiles = options
        .quantiles
        .iter()
        .map(|p| AtShare {
            p: *p,
            number: numbers.number(Quantity::Quantile(*p)),
        })
        .collect();
    let depth = simultaneous_depth(fit.free.len(), level);
    let survival = options
        .at
        .iter()
        .map(|t| {
            let quantity = Quantity::Survival(*t);
            let band = at_depths(&fit, quantity, depth, depth);
            AtTime {
                time: *t,
                number: numbers.number(quantity),
                band_lower: band.lower,
                band_upper: band.upper,
                band_reason: (band.lower.is_none() || band.upper.is_none()).then_some(OPEN),
            }
        })
        .collect();
    let mut remaining = vec![];
    for age in &options.ages_now {
        for p in &options.quantiles {
            remaining.push(Remaining {
                age: *age,
                p: *p,
                number: numbers.number(Quantity::Remaining { age: *age, p: *p }),
            });
        }
    }
    let mean_life = numbers.number(Quantity::Mean);
    let goodness = tested(
        &fit,
        sample,
        numbers.intervals.refits(),
        options.seed,
        refit,
    );
    let used = numbers.intervals.method;
    let mut warnings: Vec<String> = fit
        .warnings
        .iter()
        .map(sealspan_life::warning::Warning::message)
        .collect();
    warnings.extend(doubts(&fit, used, options));
    if numbers.fallen_back {
        warnings.push(
            "some of these intervals are plain profile likelihood: too few refits have an estimate there".to_owned(),
        );
    }
    if numbers.intervals.by_chi_square() {
        warnings.push(CHI_SQUARE.to_owned());
    }
    let without = numbers
        .intervals
        .refits()
        .map_or(0.0, Refits::without_estimate);
    if without > 0.02 {
        warnings.push(format!(
            "{} of the refits had no estimate and are left out, which bends what rests on them",
            words::percent(without)
        ));
    }
    let outside = parameters
        .iter()
        .any(|p| p.number.leaves_out_its_estimate());
    if used == Method::Posterior && outside {
        warnings.push(LEFT_OUT.to_owned());
    }
    warnings.extend(few_draws(numbers.intervals.effective_draws()));
    FamilyFit {
        family: fit.family.name(),
        converged: true,
        free_shape: fit.free.len() > 1,
        reason: None,
        parameters,
        covariance: Some(
            covariance
                .row_iter()
                .map(|r| r.iter().copied().collect())
                .collect(),
        ),
        log_likelihood: Some(fit.log_likelihood),
        aic: Some(fit.aic()),
        aicc: fit.aicc(),
        bic: Some(fit.bic()),
        mean_life,
        quantiles,
        survival,
        remaining,
        bounds: Some(used),
        bounds_reason: numbers.intervals.instead,
        simulation_error: (numbers.simulation_error > 0.0).then_some(numbers.simulation_error),
        effective_draws: numbers.intervals.effective_draws(),
        priors: (used == Method::Posterior).then(|| priors(fit.family)),
        goodness_reason: goodness.is_none().then(|| untested(&fit, refit)),
        goodness,
        bias_reduced_shape: bias_reduced_shape(&fit, &numbers.intervals),
        profile_beside: beside(&fit, used, options),
        residuals: if options.residuals {
            residual_rows(&fit, sample)
        } else {
            vec![]
        },
        warnings,
        fit: Some(Kept(fit)),
    }
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
            own = Refits::new(fit, &Pattern::of(sample)?, TESTING, seed)?;
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
    })
}

/// Why there is no p-value.
fn untested(fit: &Fit, refit: bool) -> &'static str {
    if !refit {
        NOT_MAIN
    } else if fit.family.refitted() {
        TOO_MANY
    } else {
        RUNS_OFF
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
        let name = format!("{} failed by", words::percent(*p));
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

/// No estimate: bounds where they exist (no failures, shape known), and the reason.
fn unfitted(
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
    let only = |lower: Option<f64>, upper: Option<f64>| Number {
        estimate: None,
        lower,
        upper,
        reason: Some(reason.clone()),
    };
    let parameter = |name: &'static str| {
        let number = match (name, &bound) {
            ("shape", _) if shape.is_some() => Number {
                estimate: shape,
                reason: Some("stated, not estimated: no interval".to_owned()),
                ..Number::default()
            },
            ("scale" | "mean", Some(b)) => only(Some(b.scale), None),
            ("rate", Some(b)) => only(None, Some(1.0 / b.scale)),
            _ => only(None, None),
        };
        ParameterFit {
            name,
            std_error: None,
            number,
        }
    };
    let share = |p: &f64| AtShare {
        p: *p,
        number: only(bound.map(|b| b.quantile(*p)), None),
    };
    let time = |t: &f64| AtTime {
        time: *t,
        number: only(bound.map(|b| b.survival(*t)), None),
        band_lower: None,
        band_upper: None,
        band_reason: Some(NO_FIT),
    };
    FamilyFit {
        family: family.name(),
        converged: false,
        free_shape: false,
        reason: Some(reason.clone()),
        parameters: family
            .reported()
            .iter()
            .map(|p| parameter(p.name))
            .collect(),
        covariance: None,
        log_likelihood: None,
        aic: None,
        aicc: None,
        bic: None,
        mean_life: only(bound.map(|b| b.mean()), None),
        quantiles: options.quantiles.iter().map(share).collect(),
        survival: options.at.iter().map(time).collect(),
        remaining: vec![],
        bounds: None,
        bounds_reason: Some(NO_FIT),
        simulation_error: None,
        effective_draws: None,
        priors: None,
        goodness: None,
        goodness_reason: Some(NO_FIT),
        bias_reduced_shape: None,
        profile_beside: vec![],
        residuals: vec![],
        warnings: vec![],
        fit: None,
    }
}
