//! Laws that every life family must obey; no family is excused.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use sealspan_life::bounds::{Method, bounds};
use sealspan_life::family::Family;
use sealspan_life::fit::{Model, fit, fit_terms};
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_life::terms::Terms;
use sealspan_numeric::quadrature::integrate;
use sealspan_records::observation::{Observation, Sample};
use std::sync::Arc;

/// Derivatives against central differences, relative.
const DIFFERENCES: f64 = 1e-6;
/// Plain arithmetic.
const ARITHMETIC: f64 = 1e-12;
/// Estimates of the same data written differently.
const ESTIMATES: f64 = 1e-8;

/// Every kind of observation, with entries and counts; times are multiplied by `unit`.
fn sample(unit: f64) -> Sample {
    let t = |x: f64| x * unit;
    Sample::new(vec![
        Observation::exact(t(40.0), 0.0, 1.0).unwrap(),
        Observation::exact(t(90.0), t(10.0), 2.0).unwrap(),
        Observation::exact(t(130.0), 0.0, 3.0).unwrap(),
        Observation::right(t(150.0), 0.0, 4.0).unwrap(),
        Observation::right(t(200.0), t(60.0), 2.0).unwrap(),
        Observation::interval(0.0, t(70.0), 0.0, 2.0).unwrap(),
        Observation::interval(t(80.0), t(120.0), t(20.0), 3.0).unwrap(),
        Observation::interval(t(180.0), t(260.0), 0.0, 1.0).unwrap(),
    ])
}

/// θ of a life about as long as the sample's, for any number of parameters.
fn theta(family: &dyn Family) -> Vec<f64> {
    [4.8, -0.6]
        .iter()
        .copied()
        .take(family.dimension())
        .collect()
}

fn close(got: f64, want: f64, tolerance: f64, what: &str) {
    let size = want.abs().max(1.0);
    assert!(
        (got - want).abs() <= tolerance * size,
        "{what}: {got} against {want}"
    );
}

#[test]
fn derivatives_of_the_likelihood_agree_with_differences() {
    let terms = Terms::new(&sample(1.0));
    for family in laws::all() {
        let at = theta(family);
        let d = family.log_likelihood_derivatives(&at, &terms);
        close(
            d.value,
            family.log_likelihood(&at, &terms),
            ARITHMETIC,
            family.name(),
        );
        let h = 1e-5;
        for i in 0..at.len() {
            let moved = |step: f64| {
                let mut x = at.clone();
                x[i] += step;
                family.log_likelihood_derivatives(&x, &terms)
            };
            let (up, down) = (moved(h), moved(-h));
            close(
                (up.value - down.value) / (2.0 * h),
                d.gradient[i],
                DIFFERENCES,
                family.name(),
            );
            for j in 0..at.len() {
                let second = (up.gradient[j] - down.gradient[j]) / (2.0 * h);
                close(second, d.hessian[i][j], DIFFERENCES, family.name());
            }
        }
    }
}

#[test]
fn quantiles_invert_survival_in_both_tails_and_density_integrates() {
    for family in laws::all() {
        let life = Life::new(family, theta(family));
        for p in [1e-12, 1e-6, 0.01, 0.5, 0.99, 1.0 - 1e-9] {
            close(
                (life.failed(life.quantile(p)) / p).ln(),
                0.0,
                1e-9,
                family.name(),
            );
        }
        let (a, b) = (life.quantile(0.001), life.quantile(0.9));
        let area = integrate(|t| life.density(t), a, b, 1e-12).value;
        close(
            area,
            life.survival(a) - life.survival(b),
            1e-10,
            family.name(),
        );
        let mean = integrate(|t| life.survival(t), 0.0, life.quantile(1.0 - 1e-13), 1e-10).value;
        close(mean / life.mean(), 1.0, 1e-6, family.name());
        assert!(
            life.survival(10.0) > life.survival(11.0),
            "{}",
            family.name()
        );
    }
}

#[test]
fn another_unit_of_time_moves_the_scale_only() {
    for family in laws::all() {
        let (days, hours) = (
            fit(family, &sample(1.0)).unwrap(),
            fit(family, &sample(24.0)).unwrap(),
        );
        close(
            hours.theta[0] - days.theta[0],
            24f64.ln(),
            ESTIMATES,
            family.name(),
        );
        let exact = 6.0;
        close(
            hours.log_likelihood,
            days.log_likelihood - exact * 24f64.ln(),
            ESTIMATES,
            family.name(),
        );
        let q = Quantity::Quantile(0.1);
        let (b, c) = (
            bounds(&days, q, Method::Profile, 0.9),
            bounds(&hours, q, Method::Profile, 0.9),
        );
        close(
            c.lower.unwrap() / b.lower.unwrap(),
            24.0,
            1e-6,
            family.name(),
        );
    }
}

#[test]
fn bounds_hold_the_estimate_and_widen() {
    for family in laws::all() {
        let fit = fit(family, &sample(1.0)).unwrap();
        for method in [Method::Profile, Method::Wald] {
            for q in [
                Quantity::Parameter(0),
                Quantity::Quantile(0.1),
                Quantity::Survival(100.0),
                Quantity::Mean,
            ] {
                let (narrow, wide) = (bounds(&fit, q, method, 0.8), bounds(&fit, q, method, 0.95));
                let estimate = fit.estimate(q);
                let ends = [
                    wide.lower,
                    narrow.lower,
                    Some(estimate),
                    narrow.upper,
                    wide.upper,
                ];
                let ends: Vec<f64> = ends.into_iter().map(Option::unwrap).collect();
                assert!(
                    ends.windows(2).all(|w| w[0] < w[1]),
                    "{} {q:?} {ends:?}",
                    family.name()
                );
            }
        }
    }
}

#[test]
fn counts_are_repetitions_and_a_narrow_interval_is_a_point() {
    let rows = sample(1.0);
    let apart: Vec<Observation> = rows
        .rows()
        .iter()
        .flat_map(|o| vec![o.with_count(1.0).unwrap(); o.count() as usize])
        .collect();
    for family in laws::all() {
        let (one, many) = (
            fit(family, &rows).unwrap(),
            fit(family, &Sample::new(apart.clone())).unwrap(),
        );
        close(many.theta[0], one.theta[0], ESTIMATES, family.name());
        let at = theta(family);
        let width = 1e-6;
        let narrow = Sample::new(vec![
            Observation::interval(100.0, 100.0 + width, 0.0, 1.0).unwrap(),
        ]);
        let point = Sample::new(vec![Observation::exact(100.0, 0.0, 1.0).unwrap()]);
        let probability = family.log_likelihood(&at, &Terms::new(&narrow));
        let density = family.log_likelihood(&at, &Terms::new(&point));
        close(probability - width.ln(), density, 1e-6, family.name());
    }
}

#[test]
fn a_late_entry_never_gives_a_probability_above_one() {
    for family in laws::all() {
        let late = Observation::interval(0.0, 70.0, 60.0, 1.0).unwrap();
        let terms = Terms::new(&Sample::new(vec![late]));
        assert!(
            family.log_likelihood(&theta(family), &terms) < 0.0,
            "{}",
            family.name()
        );
    }
}

#[test]
fn compression_changes_no_estimate() {
    let mut stream = sealspan_numeric::random::Stream::new(5, 0);
    let life = Life::weibull(1.8, 900.0).unwrap();
    let rows: Vec<Observation> = (0..50_000)
        .map(|_| {
            let (t, c) = (life.sample(stream.uniform()), 2000.0 * stream.uniform());
            if t <= c {
                Observation::exact(t, 0.0, 1.0)
            } else {
                Observation::right(c, 0.0, 1.0)
            }
            .unwrap()
        })
        .collect();
    let whole = Sample::new(rows.clone());
    // In parts below the limit nothing is compressed; their terms together are the whole sample's.
    let mut parts = Terms::new(&whole);
    assert!(parts.density.len() < 10_000);
    parts.density.clear();
    parts.survival.clear();
    for part in rows.chunks(10_000) {
        let terms = Terms::new(&Sample::new(part.to_vec()));
        parts.density.extend(terms.density);
        parts.survival.extend(terms.survival);
    }
    assert_eq!(parts.density.len() + parts.survival.len(), 50_000);
    for family in laws::all() {
        let short = fit(family, &whole).unwrap();
        let full = fit_terms(Model::free(family), &Arc::new(parts.clone())).unwrap();
        close(short.theta[0], full.theta[0], 1e-11, family.name());
        close(
            short.log_likelihood,
            full.log_likelihood,
            1e-12,
            family.name(),
        );
    }
}
