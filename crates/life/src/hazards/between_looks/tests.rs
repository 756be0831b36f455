//! A cluster's part against the integral over its frailty by plain sums.
#![allow(clippy::unwrap_used)]
use super::*;
use crate::hazards::data::{WatchedLife, WithLooks};
use crate::hazards::weibull_terms::WeibullTerms;
use crate::maximise::LogLikelihood;
use sealspan_records::Observation;

/// Failures between two looks: how many, and the cumulative hazards there.
type Between = (f64, f64, f64);

/// ln ∫ g(u) u^D e^(−uH) Π (e^(−uA) − e^(−uB))ᶜ du, with the mean and variance of u, g the gamma law of mean 1 and
/// variance θ: the trapezoid rule in ln u, far out and in small steps.
fn plain(failed: f64, hazard: f64, looks: &[Between], theta: f64) -> (f64, f64, f64) {
    let nu = 1.0 / theta;
    let step = 1e-3;
    let ln = |v: f64| {
        let u = v.exp();
        let own = nu * nu.ln() - ln_gamma(nu) + nu * v - nu * u;
        let seen = looks
            .iter()
            .map(|(c, a, b)| c * ((-u * a).exp() - (-u * b).exp()).ln());
        own + failed * v - u * hazard + seen.sum::<f64>()
    };
    let nodes = || (-20_000..5_000).map(|i| step * f64::from(i));
    let top = nodes().map(ln).fold(f64::NEG_INFINITY, f64::max);
    let [mut whole, mut first, mut second] = [0.0; 3];
    for v in nodes() {
        let w = (ln(v) - top).exp();
        if w > 0.0 {
            let u = v.exp();
            whole += w;
            first += w * u;
            second += w * u * u;
        }
    }
    let mean = first / whole;
    (
        top + (whole * step).ln(),
        mean,
        second / whole - mean * mean,
    )
}

#[test]
fn a_part_is_the_integral_over_the_frailty() {
    let none = (DVector::zeros(2), DMatrix::zeros(2, 2));
    let cases: [(f64, f64, &[Between]); 10] = [
        (0.0, 0.0, &[(1.0, 0.2, 0.5)]),
        (3.0, 2.0, &[(2.0, 0.1, 0.3), (1.0, 0.0, 0.7)]),
        (40.0, 31.0, &[(5.0, 0.4, 0.45)]),
        (1.0, 0.5, &[(200.0, 0.3, 0.9)]),
        (6.0, 5.9, &[(1.0, 0.9, 1.1)]),
        (0.0, 4.0, &[(30.0, 0.5, 0.5001)]),
        (0.0, 0.0, &[(1e5, 0.0, 8.5)]),
        (2.0, 3.0, &[(5e4, 0.0, 0.9), (1e3, 0.2, 7.0)]),
        (20.0, 45.0, &[(1.0, 0.5, 1.0)]),
        (40.0, 8.0, &[(1.0, 0.05, 0.1)]),
    ];
    for (failed, hazard, list) in cases {
        let at = |h: f64| At::new(if h > 0.0 { 1.0 } else { 0.0 }, h.ln());
        let looks: Vec<Looks> = list
            .iter()
            .map(|(count, a, b)| Looks {
                count: *count,
                row: 0,
                first: at(*a),
                last: at(*b),
            })
            .collect();
        let rows = [DVector::from_element(1, 1.0)];
        let cluster = Cluster {
            failed,
            hazard: (hazard, &none.0, &none.1),
            looks: &looks,
            rows: &rows,
        };
        for theta in [5e-4, 0.05, 0.5, 2.0] {
            let found = cluster.part(theta, false);
            let (value, mean, variance) = plain(failed, hazard, list, theta);
            let case = format!("{failed} {hazard} {theta}");
            assert!(
                (found.value - value).abs() < 1e-7 * (1.0 + value.abs()),
                "{case}: {} {value}",
                found.value
            );
            assert!(
                (found.mean / mean - 1.0).abs() < 1e-7,
                "{case}: {} {mean}",
                found.mean
            );
            assert!((found.variance / variance - 1.0).abs() < 1e-6, "{case}");
        }
    }
}

/// By Γ(ν + 1) = ν Γ(ν) and its derivatives, where the constant comes from a series.
#[test]
fn the_constant_follows_the_recurrence_of_the_gamma_function() {
    for nu in [1001.0_f64, 1500.0, 4000.0] {
        let (here, next) = (constant(nu), constant(nu + 1.0));
        let more = nu.recip().ln_1p();
        assert!((next[0] - here[0] - ((nu + 1.0) * more - 1.0)).abs() < 1e-14);
        assert!((next[1] - here[1] - (more - nu.recip())).abs() < 1e-17);
        let square = 1.0 / (nu * nu * (nu + 1.0));
        assert!((next[2] - here[2] - square).abs() < 1e-17, "{nu}");
    }
}

/// A cluster of exact ages, failures between two looks, a life still running and one that entered late, and one of
/// late entries alone: the likelihood of Weibull lives written out, the first by plain sums over its frailty.
#[test]
fn clusters_of_all_kinds_have_the_likelihood_written_out() {
    let lives = [
        (Observation::exact(50.0, 0.0, 1.0), 0),
        (Observation::exact(80.0, 0.0, 2.0), 0),
        (Observation::right(120.0, 30.0, 1.0), 0),
        (Observation::interval(30.0, 70.0, 0.0, 1.0), 0),
        (Observation::exact(60.0, 20.0, 1.0), 1),
        (Observation::right(90.0, 40.0, 1.0), 1),
    ];
    let lives = lives.map(|(observation, cluster)| WatchedLife {
        observation: observation.unwrap(),
        design: cluster,
        stratum: 0,
        cluster,
    });
    let design = [vec![0.0], vec![1.0]];
    let data = WithLooks::new(&["x".to_owned()], &design, &lives).unwrap();
    let (sigma, theta) = (0.5_f64, 0.6_f64);
    let hazard = |t: f64| (t / 100.0).powi(2);
    let ln_density = |t: f64| hazard(t).ln() - (sigma * t).ln();
    let (by_looks, ..) = plain(
        3.0,
        hazard(50.0) + 2.0 * hazard(80.0) + hazard(120.0),
        &[(1.0, hazard(30.0), hazard(70.0))],
        theta,
    );
    let first = by_looks
        + ln_density(50.0)
        + 2.0 * ln_density(80.0)
        + (theta * hazard(30.0)).ln_1p() / theta;
    let entries = hazard(20.0) + hazard(40.0);
    let exits = hazard(60.0) + hazard(90.0);
    let second = ln_density(60.0) + (theta * entries).ln_1p() / theta
        - (1.0 / theta + 1.0) * (theta * exits).ln_1p();
    let x = [100f64.ln(), 0.0, sigma.ln(), theta.ln()];
    let found = WeibullTerms::new(&data.0).value(&x);
    assert!(
        (found - first - second).abs() < 1e-7,
        "{found} {first} {second}"
    );
}
