//! The curve without a family.

use super::{Empirical, Point};
use sealspan_life::{product_limit, turnbull};
use sealspan_records::Sample;

/// The curve without a family: product-limit where it applies, else Turnbull's.
#[must_use]
pub fn empirical(sample: &Sample, confidence: f64) -> Empirical {
    if let Some(curve) = product_limit::curve(sample, confidence) {
        let point = |s: &product_limit::Step| Point {
            time: s.time,
            from: None,
            survival: s.survival,
            std_error: s.std_error,
            lower: s.lower,
            upper: s.upper,
            reason: s.std_error.is_none().then_some("the curve has reached 0"),
        };
        return Empirical {
            method: "kaplan_meier",
            points: curve.steps.iter().map(point).collect(),
        };
    }
    let masses = turnbull::curve(sample, confidence)
        .map(|c| c.masses)
        .unwrap_or_default();
    let point = |m: &turnbull::Mass| {
        Point {
        time: m.upper,
        from: Some(m.lower),
        survival: m.survival,
        std_error: m.std_error,
        lower: m.lower_bound,
        upper: m.upper_bound,
        reason: m.std_error.is_none().then_some(
            "no standard error: the curve has reached 0, or the information is singular, or there are very many steps",
        ),
    }
    };
    let finite = masses.iter().filter(|m| m.upper.is_finite());
    Empirical {
        method: "turnbull",
        points: finite.map(point).collect(),
    }
}
