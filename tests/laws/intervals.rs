//! Confidence bounds of every quantity of every law.

use crate::support::{close, fitted, fitting, mixed, quantities};
use crate::tolerances::{ESTIMATE, PROFILE};
use sealspan_life::bounds::{Bounds, Method, bounds};
use sealspan_life::fit::{Fit, Model, fit, fit_terms};
use sealspan_life::law::Dimension;
use sealspan_life::laws;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::special::chi_square_quantile;
use std::sync::Arc;

const METHODS: [Method; 2] = [Method::Profile, Method::Wald];

fn ends(b: Bounds, what: &str) -> (f64, f64) {
    (b.lower.expect(what), b.upper.expect(what))
}

#[test]
fn bounds_hold_the_estimate_and_widen_with_the_level() {
    for family in laws::all() {
        let fit = fitted(family, &fitting(family, 1.0));
        for quantity in quantities(&fit) {
            for method in METHODS {
                let what = format!("{} {quantity:?} {method:?}", family.name());
                let mut inside = (fit.estimate(quantity), fit.estimate(quantity));
                for level in [0.5, 0.8, 0.9, 0.95, 0.99] {
                    let (lower, upper) = ends(bounds(&fit, quantity, method, level), &what);
                    // No failure-free time lies beyond the first failure, however sure one wants to be.
                    let e = &fit.terms.extent;
                    let first = e.exact_range.0.min(e.smallest_upper);
                    let at_first = quantity == Quantity::Parameter(2) && upper == first;
                    assert!(
                        lower < inside.0 && (inside.1 < upper || at_first),
                        "{what} {level}: {lower} {upper}"
                    );
                    inside = (lower, upper);
                }
            }
        }
    }
}

/// What multiplies a quantity when times are multiplied by `unit`.
fn factor(fit: &Fit, quantity: Quantity, unit: f64) -> Option<f64> {
    match quantity {
        Quantity::Quantile(_) | Quantity::Mean | Quantity::Remaining { .. } => Some(unit),
        Quantity::Survival(_) => Some(1.0),
        Quantity::Parameter(i) => match fit.family.reported()[i].dimension {
            Dimension::None => Some(1.0),
            Dimension::Time => Some(unit),
            Dimension::PerTime => Some(1.0 / unit),
            Dimension::LnTime => None,
        },
    }
}

#[test]
fn bounds_do_not_depend_on_the_unit_of_time() {
    let unit = 24.0;
    for family in laws::all() {
        let (days, hours) = (
            fitted(family, &fitting(family, 1.0)),
            fitted(family, &fitting(family, unit)),
        );
        for quantity in quantities(&days) {
            let moved = match quantity {
                Quantity::Survival(t) => Quantity::Survival(t * unit),
                Quantity::Remaining { age, p } => Quantity::Remaining { age: age * unit, p },
                other => other,
            };
            for method in METHODS {
                let what = format!("{} {quantity:?} {method:?}", family.name());
                let a = ends(bounds(&days, quantity, method, 0.9), &what);
                let b = ends(bounds(&hours, moved, method, 0.9), &what);
                for (a, b) in [(a.0, b.0), (a.1, b.1)] {
                    match factor(&days, quantity, unit) {
                        Some(factor) => close(b / (a * factor), 1.0, PROFILE, &what),
                        None => close(b, a + unit.ln(), PROFILE, &what),
                    }
                }
            }
        }
    }
}

/// With the parameter held at its bound, the best likelihood is the stated depth below the maximum.
#[test]
fn a_profile_bound_of_a_parameter_lies_at_the_depth_of_its_level() {
    let level = 0.9;
    for family in laws::all() {
        let free = fitted(family, &fitting(family, 1.0));
        for (i, parameter) in family.reported().iter().enumerate() {
            let what = format!("{} {}", family.name(), parameter.name);
            let (lower, upper) = ends(
                bounds(&free, Quantity::Parameter(i), Method::Profile, level),
                &what,
            );
            let reported = family.pin(i, lower).is_some();
            for end in [lower, upper].into_iter().filter(|_| reported) {
                let model = Model {
                    family,
                    stated: Some((parameter.name, end)),
                };
                let held = if family.dimension() == 1 {
                    let (at, x) = family.pin(i, end).unwrap();
                    assert_eq!(at, 0);
                    family.log_likelihood(&[x], &free.terms)
                } else {
                    fit_terms(model, &Arc::clone(&free.terms))
                        .unwrap()
                        .log_likelihood
                };
                let depth = 2.0 * (free.log_likelihood - held);
                close(depth, chi_square_quantile(level, 1.0), PROFILE, &what);
            }
        }
    }
}

#[test]
fn a_stated_parameter_has_no_bounds_and_no_variance() {
    let terms = fit(laws::by_name("weibull").unwrap(), &mixed(1.0))
        .unwrap()
        .terms;
    let family = laws::by_name("weibull").unwrap();
    let fit = fit_terms(
        Model {
            family,
            stated: Some(("shape", 2.0)),
        },
        &terms,
    )
    .unwrap();
    close(fit.estimate(Quantity::Parameter(0)), 2.0, ESTIMATE, "shape");
    for method in METHODS {
        let shape = bounds(&fit, Quantity::Parameter(0), method, 0.9);
        assert_eq!((shape.lower, shape.upper), (None, None));
        let (lower, upper) = ends(bounds(&fit, Quantity::Parameter(1), method, 0.9), "scale");
        assert!(
            lower < fit.estimate(Quantity::Parameter(1))
                && fit.estimate(Quantity::Parameter(1)) < upper
        );
    }
    assert_eq!(fit.free_parameters(), 1.0);
}
