//! Likelihood regions that reach the edge of a family go on along it. Ages: NIST/SEMATECH e-Handbook 8.4.1.3
//! (10 failures, 10 running at 500).

use crate::support::{close, fitted};
use crate::tolerances::PROFILE;
use sealspan_life::bounds::{Method, at_depths, bounds};
use sealspan_life::few::{Ended, exponential_mean_bounds};
use sealspan_life::fit::Fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::laws;
use sealspan_life::posterior::Posterior;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::{Observation, Sample};

const AGES: [f64; 10] = [
    54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0,
];

/// The ages less `start`.
fn shifted(start: f64) -> Sample {
    let mut rows: Vec<_> = AGES
        .iter()
        .map(|t| Observation::exact(t - start, 0.0, 1.0).unwrap())
        .collect();
    rows.push(Observation::right(500.0 - start, 0.0, 10.0).unwrap());
    Sample::new(rows)
}

fn law(name: &str, sample: &Sample) -> Fit {
    fitted(laws::by_name(name).unwrap(), sample)
}

/// With the failure-free time held at g the law is the plain Weibull of age less g: the region's ends are the
/// extremes over g, 0 among them, or go farther where the path runs towards the first failure.
#[test]
fn three_parameter_ends_are_the_extremes_over_failure_free_times() {
    let whole = law("three_parameter_weibull", &shifted(0.0));
    let z = normal_quantile(0.95);
    let asked = [
        Quantity::Quantile(0.1),
        Quantity::Quantile(0.5),
        Quantity::Mean,
        Quantity::Survival(200.0),
    ];
    let at = |quantity, g: f64| match quantity {
        Quantity::Survival(t) => (Quantity::Survival(t - g), 0.0),
        other => (other, g),
    };
    for quantity in asked {
        let (mut lower, mut upper) = (f64::INFINITY, f64::NEG_INFINITY);
        // Nearer the first failure the likelihood climbs again, without limit: no part of the region.
        for k in 0..=4600 {
            let g = 0.01 * f64::from(k);
            let held = law("weibull", &shifted(g));
            let left = z * z - 2.0 * (whole.log_likelihood - held.log_likelihood);
            if left > 0.0 {
                let (own, later) = at(quantity, g);
                let b = at_depths(&held, own, left.sqrt(), left.sqrt());
                lower = lower.min(b.lower.unwrap() + later);
                upper = upper.max(b.upper.unwrap() + later);
            }
        }
        let b = bounds(&whole, quantity, Method::Profile, 0.9);
        // An end towards the first failure is open.
        let got_lower = b.lower.unwrap_or(0.0);
        let got_upper = b.upper.unwrap_or(f64::INFINITY);
        assert!(
            got_lower <= lower * (1.0 + 1e-6),
            "{quantity:?} {lower} {b:?}"
        );
        assert!(
            got_upper >= upper * (1.0 - 1e-6),
            "{quantity:?} {upper} {b:?}"
        );
    }
}

#[test]
fn a_failure_free_time_may_be_nought_and_all_seals_weak() {
    let free = law("three_parameter_weibull", &shifted(0.0));
    let b = bounds(&free, Quantity::Parameter(2), Method::Profile, 0.9);
    assert_eq!(b.lower, Some(0.0));
    let weak = law("weak_fraction_weibull", &shifted(0.0));
    let b = bounds(&weak, Quantity::Parameter(2), Method::Profile, 0.9);
    assert_eq!(b.upper, Some(1.0));
    // Scale and B10 then take in the plain Weibull's own ends, at what depth is left.
    let plain = law("weibull", &shifted(0.0));
    let gain = 2.0 * (weak.log_likelihood - plain.log_likelihood);
    let left = (normal_quantile(0.95).powi(2) - gain).sqrt();
    let own = at_depths(&plain, Quantity::Parameter(1), left, left);
    let b = bounds(&weak, Quantity::Parameter(1), Method::Profile, 0.9);
    close(b.upper.unwrap() / own.upper.unwrap(), 1.0, PROFILE, "scale");
}

/// As q grows the generalised gamma becomes the power law S(t) = 1 − (t/s)^d below s, which these data do not
/// exclude; the least mean life lies there. The family stops at q = 8, a little short of it.
#[test]
fn the_least_mean_of_the_generalised_gamma_is_the_power_laws() {
    let fit = law("generalised_gamma", &shifted(0.0));
    let top = fit.log_likelihood - 0.5 * normal_quantile(0.95).powi(2);
    let mut least = f64::INFINITY;
    for i in 0..2000 {
        let s = 500.0 + 0.2 * f64::from(i);
        for j in 1..2000 {
            let d = 0.002 * f64::from(j);
            let failed = |t: f64| d.ln() - s.ln() + (d - 1.0) * (t / s).ln();
            let running = 10.0 * (-(500.0f64 / s).powf(d)).ln_1p();
            if AGES.map(failed).iter().sum::<f64>() + running > top {
                least = least.min(s * d / (d + 1.0));
            }
        }
    }
    let b = bounds(&fit, Quantity::Mean, Method::Profile, 0.9);
    close(b.lower.unwrap() / least, 1.0, 3e-3, "mean");
    assert_eq!(b.upper, None, "for q < -1 the mean has no limit");
}

/// Where the likelihood grows without limit its posterior is still proper.
#[test]
fn a_likelihood_without_a_maximum_has_a_posterior() {
    let rows = [10.0, 12.0, 17.0, 30.0, 70.0, 150.0, 310.0, 700.0];
    let rows = rows.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    let sample = Sample::new(rows.to_vec());
    let family = laws::by_name("three_parameter_weibull").unwrap();
    assert!(sealspan_life::fit::fit(family, &sample).is_err());
    let terms = sealspan_life::terms::Terms::new(&sample);
    let base = family.starts(&terms).remove(0);
    let b10 = |seed: u64| {
        let posterior = Posterior::new(family, &terms, &base, &[0, 1, 2], seed).unwrap();
        assert!(posterior.effective_draws.unwrap() > 1000.0);
        let ends = posterior.quantiles(Quantity::Quantile(0.1), &[0.05, 0.5, 0.95]);
        ends.into_iter().map(Option::unwrap).collect::<Vec<f64>>()
    };
    let (one, two) = (b10(1), b10(2));
    for (a, b) in one.iter().zip(&two) {
        close(a / b, 1.0, 0.12, &format!("{one:?} {two:?}"));
    }
    // Half the draws have the tenth seal failing near the first failure, at 10.
    assert!(one[0] < 8.0 && (9.0..12.0).contains(&one[1]) && one[2] < 40.0);
}

/// Ages at three values only, many seals running: the Pareto law at q → −∞ is far likelier than the inner peak.
#[test]
fn a_local_peak_below_the_edge_is_refused() {
    let rows = [(10.0, 1000.0), (20.0, 2000.0), (30.0, 1500.0)];
    let mut rows: Vec<_> = rows
        .iter()
        .map(|(t, n)| Observation::exact(*t, 0.0, *n).unwrap())
        .collect();
    rows.push(Observation::right(40.0, 0.0, 3000.0).unwrap());
    let family = laws::by_name("generalised_gamma").unwrap();
    let refused = sealspan_life::fit::fit(family, &Sample::new(rows));
    assert!(matches!(refused, Err(sealspan_life::fit::NoFit::Edge(_))));
}

/// One failure in 1900 days: 2T/χ²(0.95; 4) and 2T/χ²(0.05; 2), NIST/SEMATECH e-Handbook 8.4.5.1.
#[test]
fn one_failure_under_a_known_shape_is_bounded_by_chi_square() {
    let sample = Sample::new(vec![
        Observation::exact(100.0, 0.0, 1.0).unwrap(),
        Observation::right(200.0, 0.0, 9.0).unwrap(),
    ]);
    let fit = law("exponential", &sample);
    let intervals = Intervals::new(&fit, &sample, Method::Calibrated, 0.9, 1);
    assert!(intervals.by_chi_square());
    let b = intervals.of(Quantity::Mean).bounds;
    let (lower, upper) = exponential_mean_bounds(1900.0, 1.0, 0.95, Ended::AtTime);
    close(b.lower.unwrap() / lower.unwrap(), 1.0, 1e-12, "lower");
    close(b.upper.unwrap() / upper.unwrap(), 1.0, 1e-12, "upper");
    let survival = intervals.of(Quantity::Survival(200.0)).bounds;
    let at = |mean: f64| (-200.0 / mean).exp();
    close(
        survival.lower.unwrap(),
        at(lower.unwrap()),
        1e-12,
        "survival",
    );
    close(
        survival.upper.unwrap(),
        at(upper.unwrap()),
        1e-12,
        "survival",
    );
}

/// Without failures a mixture has no start of its own; its priors give one.
#[test]
fn a_posterior_needs_no_start() {
    let sample = Sample::new(vec![Observation::right(100.0, 0.0, 8.0).unwrap()]);
    let family = laws::by_name("weibull_mixture").unwrap();
    let terms = sealspan_life::terms::Terms::new(&sample);
    let free: Vec<usize> = (0..family.dimension()).collect();
    let posterior = Posterior::new(family, &terms, &[], &free, 1).unwrap();
    let b10 = posterior.quantiles(Quantity::Quantile(0.1), &[0.5]);
    assert!(b10[0].unwrap() > 20.0, "{b10:?}");
}
