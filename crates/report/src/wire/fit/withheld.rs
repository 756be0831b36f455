//! A fit that is not to be used: its numbers are taken out, the reason stands in their place.

use super::few::TRUSTED_FAILURES;
use super::{Ends, FamilyFit};
use crate::wire::Number;

/// Why the numbers of a withheld fit are not given.
pub(super) fn reason() -> String {
    format!(
        "not shown: fewer than {TRUSTED_FAILURES:.0} failures fix no shape by themselves; see the lower bounds for shapes taken as known, or ask for --shape (a stated Weibull shape) or --bounds posterior"
    )
}

/// Takes out every number that rests on the estimate. The fit itself is kept for what needs a law of some kind.
pub(super) fn withhold(out: &mut FamilyFit) {
    let why = reason();
    let blank = |number: &mut Number, ends: &mut Ends| {
        *number = Number {
            reason: Some(why.clone()),
            ..Number::default()
        };
        *ends = Ends::default();
    };
    for p in &mut out.parameters {
        blank(&mut p.number, &mut p.ends);
        p.std_error = None;
        p.std_error_reason = None;
    }
    for q in &mut out.quantiles {
        blank(&mut q.number, &mut q.ends);
    }
    for s in &mut out.survival {
        blank(&mut s.number, &mut s.ends);
        (s.band_lower, s.band_upper) = (None, None);
        s.band_reason = Some(why.clone());
    }
    for r in &mut out.remaining {
        blank(&mut r.number, &mut r.ends);
    }
    blank(&mut out.mean_life, &mut out.mean_life_ends);
    (out.covariance, out.covariance_reason) = (None, None);
    out.log_likelihood = None;
    (out.aic, out.aicc, out.bic) = (None, None, None);
    out.aicc_reason = None;
    (out.bounds, out.one_sided, out.bounds_reason) = (None, None, None);
    (out.simulation_error, out.simulation_error_reason) = (None, None);
    (out.estimates, out.effective_draws) = (None, None);
    out.greatest_likelihood.clear();
    (out.goodness, out.poor_fit) = (None, None);
    out.goodness_reason = Some("too few failures to test a fit by");
    out.bias_reduced_shape = None;
    out.profile_beside.clear();
    out.residuals.clear();
    out.reason = Some(why);
}
