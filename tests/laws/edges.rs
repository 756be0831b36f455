//! Likelihood regions that reach the edge of a family go on along it. Ages: NIST/SEMATECH e-Handbook 8.4.1.3
//! (10 failures, 10 running at 500).

use crate::support::{close, fitted};
use crate::tolerances::PROFILE;
use sealspan_life::bounds::{Method, NoEnd, at_depths, bounds};
use sealspan_life::edge::outdone;
use sealspan_life::few::{Ended, exponential_mean_bounds};
use sealspan_life::fit::Fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::laws;
use sealspan_life::posterior::Posterior;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::roots::bracketed;
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
        Quantity::Remaining { age: 20.0, p: 0.3 },
    ];
    let at = |quantity, g: f64| match quantity {
        Quantity::Survival(t) => (Quantity::Survival(t - g), 0.0),
        // No seal fails before g: at a younger age what is left is the age at g and on from there.
        Quantity::Remaining { age, p } if age <= g => (Quantity::Quantile(p), g - age),
        Quantity::Remaining { age, p } => (Quantity::Remaining { age: age - g, p }, 0.0),
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
        assert!(
            b.lower.unwrap() <= lower * (1.0 + 1e-6),
            "{quantity:?} {lower} {b:?}"
        );
        assert!(
            b.upper.unwrap() >= upper * (1.0 - 1e-6),
            "{quantity:?} {upper} {b:?}"
        );
    }
}

/// Towards the first failure, at 54, the likelihood of the best shape grows without limit once it is below 1. Held at
/// 1 there, every failure-free time up to 54 is admitted, and the ends are the extremes over all of them.
#[test]
fn three_parameter_ends_hold_the_shape_at_one_on_the_way_to_the_first_failure() {
    let whole = law("three_parameter_weibull", &shifted(0.0));
    let (z, centre) = (
        normal_quantile(0.95),
        whole.estimate(Quantity::Parameter(2)),
    );
    // The longest failure-free time whose best shape is still 1.
    let shape = |g: f64| law("weibull", &shifted(g)).estimate(Quantity::Parameter(0));
    let last = bracketed(|g| shape(g) - 1.0, centre, 53.9, 1e-9).unwrap() - 1e-8;
    let asked = [
        (Quantity::Quantile(0.5), 1.0),
        (Quantity::Mean, 1.0),
        (Quantity::Parameter(1), 0.0),
    ];
    for (quantity, later) in asked {
        let (mut lower, mut upper) = (f64::INFINITY, f64::NEG_INFINITY);
        let close_to = (1..40).map(|k| 54.0 - 0.1 * 0.5f64.powi(k));
        let grid = (0..540).map(|k| 0.1 * f64::from(k));
        for g in grid.chain(close_to).chain([last]) {
            let mut held = law("weibull", &shifted(g));
            let own = match quantity {
                _ if g <= centre || held.estimate(Quantity::Parameter(0)) >= 1.0 => quantity,
                Quantity::Parameter(_) => {
                    held = law("exponential", &shifted(g));
                    Quantity::Mean
                }
                _ => {
                    held = law("exponential", &shifted(g));
                    quantity
                }
            };
            let left = z * z - 2.0 * (whole.log_likelihood - held.log_likelihood);
            let b = at_depths(&held, own, left.sqrt(), left.sqrt());
            lower = lower.min(b.lower.unwrap() + later * g);
            upper = upper.max(b.upper.unwrap() + later * g);
        }
        let b = bounds(&whole, quantity, Method::Profile, 0.9);
        close(b.lower.unwrap() / lower, 1.0, 1e-3, "lower");
        close(b.upper.unwrap() / upper, 1.0, 1e-3, "upper");
    }
    let b = bounds(&whole, Quantity::Parameter(2), Method::Profile, 0.9);
    assert_eq!(b.lower, Some(0.0));
    close(b.upper.unwrap(), 54.0, 1e-12, "the first failure");
    // Nor does the normal approximation pass the first failure.
    let b = bounds(&whole, Quantity::Parameter(2), Method::Wald, 0.9);
    assert_eq!(b.upper, Some(54.0));
}

/// Before the estimated failure-free time all seals survive, without a standard error; a shorter time, which the data
/// admit, leaves fewer.
#[test]
fn survival_within_the_failure_free_time_is_not_sure() {
    let sample = shifted(0.0);
    let whole = law("three_parameter_weibull", &sample);
    let (z, age) = (normal_quantile(0.95), 20.0);
    assert!(whole.estimate(Quantity::Parameter(2)) > age);
    assert_eq!(whole.estimate(Quantity::Survival(age)), 1.0);
    let mut least = 1.0;
    for k in 0..1990 {
        let g = 0.01 * f64::from(k);
        let held = law("weibull", &shifted(g));
        let left = z * z - 2.0 * (whole.log_likelihood - held.log_likelihood);
        let b = at_depths(&held, Quantity::Survival(age - g), left.sqrt(), left.sqrt());
        least = b.lower.unwrap().min(least);
    }
    for method in [
        Method::Profile,
        Method::Wald,
        Method::Bootstrap,
        Method::Calibrated,
        Method::Posterior,
    ] {
        let interval = Intervals::new(&whole, &sample, method, 0.9, 1).of(Quantity::Survival(age));
        let b = interval.bounds;
        assert_eq!(b.upper, Some(1.0), "{method:?}");
        if method == Method::Posterior {
            assert!(b.lower.unwrap() > 0.9 && b.lower.unwrap() < 0.999, "{b:?}");
        } else {
            close(1.0 - b.lower.unwrap(), 1.0 - least, 1e-5, "lower");
        }
    }
}

/// 20 of 50 seals failed, all long ago: half of all never fail by the estimate, but the weak share is not known to be
/// below a half.
#[test]
fn an_age_never_reached_has_a_lower_end() {
    let life = sealspan_life::life::Life::weibull(2.0, 100.0).unwrap();
    let mut rows: Vec<_> = (0..20)
        .map(|i| life.quantile((f64::from(i) + 0.5) / 20.0))
        .map(|t| Observation::exact(t, 0.0, 1.0).unwrap())
        .collect();
    rows.push(Observation::right(300.0, 0.0, 30.0).unwrap());
    let fit = law("weak_fraction_weibull", &Sample::new(rows));
    let median = Quantity::Quantile(0.5);
    assert_eq!(fit.finite_estimate(median), None);
    let b = bounds(&fit, median, Method::Profile, 0.9);
    assert_eq!((b.upper, b.no_upper), (None, Some(NoEnd::NoLimit)));
    let age = b.lower.unwrap();
    assert!(age > 100.0, "{age}");
    let there = bounds(&fit, Quantity::Survival(age), Method::Profile, 0.9);
    close(there.lower.unwrap(), 0.5, 1e-6, "survival there");
    // A share that the region's least weak share does not reach has no limit either, though the estimate has.
    let b = bounds(&fit, Quantity::Quantile(0.38), Method::Profile, 0.9);
    assert!(b.lower.unwrap() < fit.estimate(Quantity::Quantile(0.38)));
    assert_eq!((b.upper, b.no_upper), (None, Some(NoEnd::NoLimit)));
}

/// The age by which few have failed lies below 0 under a wide normal law: its interval begins at 0, and ends.
#[test]
fn an_age_below_zero_has_an_upper_end() {
    let ages = [1.0, 2.0, 3.0, 40.0, 90.0, 140.0, 200.0];
    let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    let sample = Sample::new(rows.to_vec());
    let fit = law("normal", &sample);
    let early = Quantity::Quantile(0.05);
    assert!(fit.estimate(early).is_nan());
    assert_eq!(fit.finite_estimate(early), None);
    let b = bounds(&fit, early, Method::Profile, 0.99);
    assert_eq!(b.lower, Some(0.0));
    let there = bounds(
        &fit,
        Quantity::Survival(b.upper.unwrap()),
        Method::Profile,
        0.99,
    );
    close(there.upper.unwrap(), 0.95, 1e-6, "survival there");
    let posterior = Intervals::new(&fit, &sample, Method::Posterior, 0.99, 1).of(early);
    assert_eq!(posterior.bounds.lower, Some(0.0));
    assert!(posterior.bounds.upper.unwrap() < 60.0);
}

/// Five failures at one age say nothing against a shape however large; the prior of the shape does.
#[test]
fn failures_at_one_age_have_a_posterior() {
    let family = laws::by_name("weibull").unwrap();
    for running in [0.0, 2.0] {
        let mut rows = vec![Observation::exact(100.0, 0.0, 5.0).unwrap()];
        if running > 0.0 {
            rows.push(Observation::right(90.0, 0.0, running).unwrap());
        }
        let sample = Sample::new(rows);
        let terms = sealspan_life::terms::Terms::new(&sample);
        let base = family.starts(&terms).remove(0);
        let posterior = Posterior::new(family, &terms, &base, &[0, 1], 1).unwrap();
        let scale = posterior.quantiles(Quantity::Parameter(1), &[0.05, 0.5, 0.95]);
        let [low, middle, high] = [0, 1, 2].map(|i| scale[i].unwrap());
        assert!(
            low < middle && middle < high && (95.0..106.0).contains(&middle),
            "{scale:?}"
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
    assert_eq!(
        (b.upper, b.no_upper),
        (None, Some(NoEnd::NoLimit)),
        "for q < -1 the mean has no limit"
    );
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
    assert_eq!(intervals.method, Method::ChiSquare);
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

/// As q runs to infinity the generalised gamma becomes a power law up to an oldest age u, and its location goes to
/// ln u: the location's upper end is the largest ln u whose best power law is within the cut, found here by brute force.
#[test]
fn a_location_ends_where_its_limit_law_does() {
    let fit = law("generalised_gamma", &shifted(0.0));
    let z = normal_quantile(0.95);
    let ln_ages = AGES.map(f64::ln);
    let running = 500f64.ln();
    let best = |u: f64| {
        let value = |d: f64| {
            let failed: f64 = ln_ages.iter().map(|x| d.ln() - d * (u - x) - x).sum();
            failed + 10.0 * (-(-d * (u - running)).exp_m1()).ln()
        };
        (1..=4000)
            .map(|k| value(0.001 * f64::from(k)))
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let cut = fit.log_likelihood - 0.5 * z * z;
    let want = bracketed(|u| best(u) - cut, 6.9, 7.5, 1e-9).unwrap();
    let upper = bounds(&fit, Quantity::Parameter(0), Method::Profile, 0.9).upper;
    assert!((upper.unwrap() - want).abs() < 1e-5, "{upper:?} {want}");
}

/// Lives that entered late (entry, age, failed or running), invented: they admit a gamma law whose shape goes to 0.
const LATE: [(f64, f64, bool); 15] = [
    (96.7, 140.5, true),
    (96.5, 121.3, true),
    (673.6, 683.3, true),
    (606.2, 624.1, true),
    (428.3, 429.4, true),
    (53.5, 264.9, true),
    (728.2, 1037.8, true),
    (238.4, 416.6, true),
    (33.4, 71.0, false),
    (380.5, 560.3, false),
    (267.4, 519.0, false),
    (177.1, 205.0, false),
    (345.2, 526.7, false),
    (323.0, 591.1, false),
    (68.9, 323.0, false),
];

/// The region goes on to shape 0, where shape, mean, ages and survival run off and the scale has an end: the greatest
/// scale over all shapes, looked for shape by shape.
#[test]
fn a_gamma_law_of_late_entries_ends_at_shape_nought() {
    let rows = LATE.map(|(entry, age, failed)| match failed {
        true => Observation::exact(age, entry, 1.0).unwrap(),
        false => Observation::right(age, entry, 1.0).unwrap(),
    });
    let sample = Sample::new(rows.to_vec());
    let fit = law("gamma", &sample);
    let at = |quantity| bounds(&fit, quantity, Method::Profile, 0.9);
    for quantity in [
        Quantity::Parameter(0),
        Quantity::Mean,
        Quantity::Quantile(0.1),
        Quantity::Survival(100.0),
    ] {
        let ends = at(quantity);
        assert_eq!(ends.lower, Some(0.0), "{quantity:?}");
        assert!(ends.upper > Some(fit.estimate(quantity)), "{quantity:?}");
    }
    let z = normal_quantile(0.95);
    let left = |ln_scale: f64, ln_shape: f64| {
        let theta = [ln_scale + ln_shape, ln_shape];
        fit.family.log_likelihood(&theta, &fit.terms) - (fit.log_likelihood - 0.5 * z * z)
    };
    let greatest = |ln_shape: f64| {
        // The likeliest scale of that shape lies between; none is likely enough where the shape is far off.
        let mut looks = (0..=200).map(|i| 2.0 + 0.04 * f64::from(i));
        let inside = looks.rfind(|s| left(*s, ln_shape) > 0.0)?;
        bracketed(|s| left(s, ln_shape), inside, inside + 0.04, 1e-10)
    };
    let shapes = (0..60).map(|i| 2.0 - 0.25 * f64::from(i));
    let by_shape = shapes.filter_map(greatest).fold(f64::MIN, f64::max);
    let upper = at(Quantity::Parameter(1)).upper.unwrap().ln();
    assert!((upper - by_shape).abs() < 1e-4, "{upper} {by_shape}");
}

/// Lives of shape 3 leave the exponential law behind, and not the Weibull.
#[test]
fn a_law_far_behind_its_extension_is_told() {
    let age = |i: i32| 100.0 * (-(1.0 - (f64::from(i) + 0.5) / 60.0f64).ln()).powf(1.0 / 3.0);
    let rows = (0..60).map(|i| Observation::exact(age(i), 0.0, 1.0).unwrap());
    let sample = Sample::new(rows.collect());
    let told = outdone(&law("exponential", &sample)).expect("beaten");
    assert_eq!(told.family.name(), "weibull");
    assert!(told.gain > 20.0);
    assert!(outdone(&law("weibull", &sample)).is_none());
}
