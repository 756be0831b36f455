//! Medians and intervals of the posterior where the likelihood alone has no maximum, or too few failures for one.

use super::doubts::{few_draws, one_sided};
use super::ends::Ends;
use super::{FamilyFit, FitOptions, priors};
use crate::wire::Number;
use sealspan_life::bounds::{Bounds, Method, NoEnd};
use sealspan_life::family::Family;
use sealspan_life::posterior::Posterior;
use sealspan_life::quantity::Quantity;
use sealspan_life::terms::Terms;
use sealspan_life::warning::Warning;

/// What the estimates of a posterior are.
pub(super) const MEDIANS: &str = "medians of the posterior";

/// Why the posterior speaks alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Alone {
    /// The likelihood has no maximum.
    NoMaximum,
    /// Fewer than five failures.
    FewFailures,
}

impl Alone {
    fn words(self) -> &'static str {
        match self {
            Self::NoMaximum => "median of the posterior; the likelihood alone has no maximum",
            Self::FewFailures => {
                "median of the posterior; fewer than 5 failures fix no shape by themselves"
            }
        }
    }
}

/// Puts medians and intervals of the posterior, all parameters free, in place of what `out` says.
pub(super) fn speak(
    out: &mut FamilyFit,
    why: Alone,
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
        let missing = |end: Option<f64>| end.is_none().then_some(NoEnd::NoLimit);
        let ends = Ends::of(&Bounds {
            lower: at(0),
            upper: at(2),
            no_lower: missing(at(0)),
            no_upper: missing(at(2)),
        });
        let number = Number {
            estimate: at(1),
            lower: at(0),
            upper: at(2),
            reason: Some(ends.reason().map_or_else(
                || why.words().to_owned(),
                |missing| format!("{}; {missing}", why.words()),
            )),
        };
        (number, ends)
    };
    for (i, parameter) in out.parameters.iter_mut().enumerate() {
        (parameter.number, parameter.ends) = number(Quantity::Parameter(i));
        parameter.std_error = None;
        parameter.std_error_reason = Some("a median of the posterior has its interval only");
    }
    for q in &mut out.quantiles {
        (q.number, q.ends) = number(Quantity::Quantile(q.p));
    }
    for s in &mut out.survival {
        (s.number, s.ends) = number(Quantity::Survival(s.time));
        (s.band_lower, s.band_upper) = (None, None);
        s.band_reason = Some("a posterior has no band here".to_owned());
    }
    for r in &mut out.remaining {
        (r.number, r.ends) = number(Quantity::Remaining { age: r.age, p: r.p });
    }
    (out.mean_life, out.mean_life_ends) = number(Quantity::Mean);
    out.bounds = Some(Method::Posterior);
    out.one_sided = Some(one_sided(
        Method::Posterior,
        terms.extent.failures,
        options.confidence,
        false,
        (0.0, 2),
    ));
    out.estimates = Some(MEDIANS);
    out.bounds_reason = None;
    out.withheld = false;
    if why == Alone::FewFailures {
        out.reason = Some(
            "the likelihood's own estimate is left out: fewer than 5 failures fix no shape by themselves"
                .to_owned(),
        );
        // What was said of the likelihood's own estimate, which is not the one shown.
        out.warnings.clear();
        out.profile_beside.clear();
        out.bias_reduced_shape = None;
        (out.goodness, out.poor_fit) = (None, None);
        out.goodness_reason = Some("too few failures to test a fit by");
        if terms.extent.failures == terms.extent.total {
            out.warnings.push(Warning::NothingRunning.message());
        }
    }
    out.effective_draws = posterior.effective_draws;
    out.warnings.extend(few_draws(posterior.effective_draws));
    out.warnings.push(match why {
        Alone::NoMaximum => "the estimates are medians of the posterior: the likelihood alone has no maximum".to_owned(),
        Alone::FewFailures => "the estimates are medians of the posterior: fewer than 5 failures fix no shape by themselves, the prior of the shape does the rest".to_owned(),
    });
    said(out, family, terms, options, &posterior);
}

/// States the priors and how strongly they decide.
pub(super) fn said(
    out: &mut FamilyFit,
    family: &'static dyn Family,
    terms: &Terms,
    options: &FitOptions,
    posterior: &Posterior,
) {
    let mut list = priors::of(family, terms.extent.oldest, options.unit, Some(posterior));
    let stated = |name: &str| {
        let own = out.parameters.iter().find(|p| p.name == name);
        own.is_some_and(|p| p.ends.no_lower == Some(NoEnd::Stated))
    };
    list.retain(|p| !stated(p.name));
    out.priors = Some(priors::sentence(&list));
    out.warnings.extend(priors::strength(&list));
    out.prior_parameters = list;
}
