//! Every bound is there: each way to an interval, for each law and each quantity, on samples of few and many seals, gives
//! an end or one of the reasons that the statistics allow, never a search that broke off.

use crate::support::{fitted, fitting};
use sealspan_life::bounds::{Bounds, Method, NoEnd, bounds};
use sealspan_life::family::Family;
use sealspan_life::fit::{Fit, fit};
use sealspan_life::intervals::Intervals;
use sealspan_life::laws;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample};

/// Parameters around a life of 100 of a law that samples are drawn from.
fn truth(family: &dyn Family) -> &'static [f64] {
    match family.name() {
        "exponential" => &[4.6],
        "normal" => &[4.6, -1.3],
        "generalised_gamma" => &[4.6, -0.7, 0.5],
        "three_parameter_weibull" => &[4.3, -0.8, -0.4],
        "weak_fraction_weibull" => &[4.0, -0.9, 1.4],
        "weibull_mixture" => &[3.4, -0.9, 1.6, -1.5, -0.6],
        _ => &[4.6, -0.7],
    }
}

/// So many lives of the law, watched to the age `end`.
fn drawn(family: &dyn Family, seals: u64, end: f64, seed: u64) -> Sample {
    let rows = (0..seals).filter_map(|i| {
        let mut stream = Stream::new(seed, i);
        let age = family.ln_age_at(truth(family), stream.uniform().ln()).exp();
        if age < end {
            Observation::exact(age, 0.0, 1.0).ok()
        } else {
            Observation::right(end, 0.0, 1.0).ok()
        }
    });
    Sample::new(rows.collect())
}

/// Parameters, ages, shares, mean life and time left.
fn quantities(family: &dyn Family) -> Vec<Quantity> {
    let mut out: Vec<Quantity> = (0..family.reported().len())
        .map(Quantity::Parameter)
        .collect();
    out.extend([0.01, 0.1, 0.5, 0.9].map(Quantity::Quantile));
    out.extend([30.0, 100.0, 250.0].map(Quantity::Survival));
    out.push(Quantity::Mean);
    out.extend([0.1, 0.5].map(|p| Quantity::Remaining { age: 60.0, p }));
    out
}

/// Each end is there and on its own side, or lacks for a reason of the statistics.
fn sound(what: &str, fit: &Fit, quantity: Quantity, b: &Bounds) {
    for (end, why) in [(b.lower, b.no_lower), (b.upper, b.no_upper)] {
        assert_eq!(end.is_none(), why.is_some(), "{what}: {b:?}");
        let known = !matches!(
            why,
            Some(NoEnd::NotFound | NoEnd::Stated | NoEnd::BeyondDraws)
        );
        assert!(known, "{what}: {b:?}");
    }
    if let (Some(lower), Some(upper)) = (b.lower, b.upper) {
        assert!(lower <= upper, "{what}: {b:?}");
    }
    // What is infinite for the fitted law has a lower end at most.
    if quantity == Quantity::Mean && fit.estimate(quantity).is_infinite() {
        assert!(
            matches!(b.no_upper, Some(NoEnd::Infinite | NoEnd::NoLimit)),
            "{what}: {b:?}"
        );
    }
}

/// The likelihood's and the normal approximation's, two-sided and, at 95 and 98 %, also as one-sided bounds.
#[test]
fn every_law_has_every_bound_or_a_reason() {
    for family in laws::all() {
        let mut samples = vec![("all kinds".to_owned(), fitting(family, 1.0))];
        for (seals, end) in [(100, 400.0), (40, 200.0), (20, 400.0), (20, 110.0)] {
            for seed in 1..4 {
                let name = format!("{seals} to {end}, seed {seed}");
                samples.push((name, drawn(family, seals, end, seed)));
            }
        }
        let mut fits = 0;
        for (name, sample) in samples {
            // A law that has no estimate says so, and has no bounds.
            let Ok(fit) = fit(family, &sample) else {
                continue;
            };
            fits += 1;
            for method in [Method::Profile, Method::Wald] {
                for level in [0.9, 0.95, 0.98] {
                    for quantity in quantities(family) {
                        let what =
                            format!("{} {name} {method:?} {level} {quantity:?}", family.name());
                        let b = Intervals::new(&fit, &sample, method, level, 7)
                            .of(quantity)
                            .bounds;
                        sound(&what, &fit, quantity, &b);
                    }
                }
            }
        }
        assert!(fits >= 6, "{}: {fits} fits", family.name());
    }
}

/// By refits and by the posterior, of laws that are not refitted without being asked: a mixture and the generalised gamma.
#[test]
fn laws_that_are_not_refitted_unasked_have_every_bound_all_the_same() {
    for name in ["generalised_gamma", "weibull_mixture"] {
        let family = laws::by_name(name).unwrap();
        let sample = drawn(family, 100, 400.0, 2);
        let fit = fitted(family, &sample);
        for method in [Method::Calibrated, Method::Bootstrap, Method::Posterior] {
            let intervals = Intervals::new(&fit, &sample, method, 0.9, 7);
            assert_eq!(
                (intervals.method, intervals.instead),
                (method, None),
                "{name}"
            );
            for quantity in quantities(family) {
                let interval = intervals.of(quantity);
                let what = format!("{name} {method:?} {quantity:?}");
                let b = interval.bounds;
                sound(&what, &fit, quantity, &b);
                assert_eq!(interval.instead, None, "{what}");
                let (lower, upper) = (b.lower.expect(&what), b.upper.expect(&what));
                assert!(lower < upper, "{what}: {b:?}");
            }
        }
    }
}

/// Ball bearings (Lieblein & Zelen 1956): held below 2.3, the shape of the first part has no peak of the likelihood any
/// more but those at which the other part closes in on a few bearings.
#[test]
fn a_part_that_closes_in_is_the_reason_of_a_mixtures_missing_ends() {
    let ages = [
        17.88, 28.92, 33.0, 41.52, 42.12, 45.6, 48.48, 51.84, 51.96, 54.12, 55.56, 67.8, 68.64,
        68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.4,
    ];
    let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    let fit = fitted(
        laws::by_name("weibull_mixture").unwrap(),
        &Sample::new(rows.to_vec()),
    );
    let b = bounds(&fit, Quantity::Parameter(1), Method::Profile, 0.9);
    assert_eq!(
        (b.no_lower, b.no_upper),
        (Some(NoEnd::ClosesIn), Some(NoEnd::ClosesIn))
    );
}

/// Where every law that the likelihood admits leaves more seals alive, no age is given for the share, nor a mean life.
#[test]
fn an_age_that_no_admitted_law_reaches_is_infinite() {
    let family = laws::by_name("weak_fraction_weibull").unwrap();
    let sample = drawn(family, 100, 400.0, 2);
    let fit = fitted(family, &sample);
    let least = bounds(&fit, Quantity::Survival(1e6), Method::Profile, 0.9);
    assert!(least.lower.unwrap() > 0.12, "{least:?}");
    for quantity in [Quantity::Quantile(0.9), Quantity::Mean] {
        for method in [Method::Profile, Method::Wald, Method::Calibrated] {
            let b = Intervals::new(&fit, &sample, method, 0.9, 7)
                .of(quantity)
                .bounds;
            assert_eq!(
                (b.no_lower, b.no_upper),
                (Some(NoEnd::Infinite), Some(NoEnd::Infinite)),
                "{quantity:?} {method:?}"
            );
        }
    }
    // A share lower it is reached by some of them: a lower end.
    let b = bounds(&fit, Quantity::Quantile(0.84), Method::Profile, 0.9);
    assert!(
        b.lower.unwrap() > 60.0 && b.no_upper == Some(NoEnd::NoLimit),
        "{b:?}"
    );
}

/// An infinite mean of the log-logistic law has a lower end where the likelihood admits shapes above 1: there the mean is
/// scale · (π/shape) / sin(π/shape), and the least of it over the admitted laws is found by a grid.
#[test]
fn an_infinite_mean_has_a_lower_end_where_finite_ones_are_admitted() {
    let ages = [8.0, 15.0, 22.0, 40.0, 65.0, 110.0, 240.0, 700.0, 2000.0];
    let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    let sample = Sample::new(rows.to_vec());
    let fit = fitted(laws::by_name("loglogistic").unwrap(), &sample);
    assert!(fit.estimate(Quantity::Mean).is_infinite());
    let b = bounds(&fit, Quantity::Mean, Method::Profile, 0.9);
    assert_eq!(b.no_upper, Some(NoEnd::NoLimit), "{b:?}");
    let cut = fit.log_likelihood - 0.5 * 1.6448536269514722f64.powi(2);
    let mut least = f64::INFINITY;
    for i in 0..=600 {
        for j in 0..=600 {
            let theta = [
                2.5 + 3.5 * f64::from(i) / 600.0,
                -1.2 + 1.2 * f64::from(j) / 600.0,
            ];
            if fit.family.log_likelihood(&theta, &fit.terms) >= cut {
                let turn = std::f64::consts::PI * theta[1].exp();
                least = least.min(theta[0].exp() * turn / turn.sin());
            }
        }
    }
    let lower = b.lower.unwrap();
    assert!((lower / least - 1.0).abs() < 0.02, "{lower} {least}");
    // By any other method it is the likelihood's, and is told to be.
    let calibrated = Intervals::new(&fit, &sample, Method::Calibrated, 0.9, 1).of(Quantity::Mean);
    assert_eq!((calibrated.bounds, calibrated.method), (b, Method::Profile));
}
