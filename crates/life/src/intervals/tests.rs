//! Which intervals are made how.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::fit::fit;
use crate::laws::by_name;
use sealspan_records::Observation;

/// Complete lives, each of so many seals.
fn lives(ages: &[f64], each: f64) -> Sample {
    let exact = ages.iter().map(|t| Observation::exact(*t, 0.0, each));
    Sample::new(exact.map(Result::unwrap).collect())
}

fn fitted(name: &str, sample: &Sample) -> Fit {
    fit(by_name(name).unwrap(), sample).unwrap()
}

const TWELVE: [f64; 12] = [
    31.0, 64.0, 72.0, 95.0, 110.0, 118.0, 140.0, 155.0, 171.0, 205.0, 240.0, 310.0,
];

/// A law whose tails are dear is refitted of fewer failures than one whose tails are cheap.
#[test]
fn dear_laws_are_refitted_of_fewer_failures() {
    for (name, failures, refitted) in [
        ("weibull", 2_400.0, true),
        ("weibull", 9_600.0, false),
        ("gamma", 120.0, true),
        ("gamma", 2_400.0, false),
    ] {
        let fit = fitted(name, &lives(&TWELVE, failures / 12.0));
        assert_eq!(refitted_unasked(&fit), refitted, "{name} {failures}");
    }
}

/// Asked for by the likelihood, the interval of a few failures is that of the likelihood and not of chi-squares:
/// n (m/μ − 1 − ln(m/μ)) is half the square of 1.645 at both ends.
#[test]
fn a_method_asked_for_is_used_of_few_failures_too() {
    let sample = lives(&[20.0, 60.0, 100.0, 220.0], 1.0);
    let fit = fitted("exponential", &sample);
    let found = Intervals::new(&fit, &sample, Method::Profile, 0.9, 1);
    assert_eq!(found.method, Method::Profile);
    let bounds = found.of(Quantity::Mean).bounds;
    for end in [bounds.lower.unwrap(), bounds.upper.unwrap()] {
        let ratio = 100.0 / end;
        let fallen = 4.0 * (ratio - 1.0 - ratio.ln());
        assert!((fallen - 0.5 * 1.644_853_627_f64.powi(2)).abs() < 1e-6);
    }
}

/// Of more failures than are drawn anew the bootstrap says that it is not used, and gives the likelihood's interval.
#[test]
fn too_many_failures_fall_back_on_the_likelihood() {
    let sample = lives(&TWELVE, 4_000.0);
    let fit = fitted("exponential", &sample);
    let found = Intervals::new(&fit, &sample, Method::Bootstrap, 0.9, 1);
    assert_eq!(found.method, Method::Profile);
    assert!(
        found
            .instead
            .is_some_and(|why| why.starts_with("too many failures"))
    );
    let plain = Intervals::new(&fit, &sample, Method::Profile, 0.9, 1);
    assert_eq!(found.of(Quantity::Mean), plain.of(Quantity::Mean));
}

/// Of twelve failures at exact ages each end of a survival is judged on samples drawn where the survival lies at that
/// end, and an age by which a share fails on those drawn from the fit; of twenty neither is judged at its ends so.
#[test]
fn ends_of_a_survival_of_few_failures_are_judged_where_they_lie() {
    for (repeats, judged_there) in [(1.0, true), (2.0, false)] {
        let sample = lives(&TWELVE, repeats);
        let fit = fitted("weibull", &sample);
        let found = Intervals::new(&fit, &sample, Method::Calibrated, 0.9, 1);
        let (own, refits) = (&found.own.fit, found.refits().unwrap());
        let bounds_at = |quantity, lower: f64, upper: f64| {
            let ends = ends(own, found.own.asked(quantity), lower, upper);
            found.own.bounds(quantity, ends)
        };
        let drawn_from_fit = |quantity| {
            let own_quantity = found.own.asked(quantity);
            calibrate(refits, own_quantity, false).unwrap().depths(0.9)
        };
        let share = Quantity::Quantile(0.1);
        let first = drawn_from_fit(share);
        assert_eq!(
            found.of(share).bounds,
            bounds_at(share, first.lower, first.upper)
        );
        let survival = Quantity::Survival(90.0);
        let first = drawn_from_fit(survival);
        let judge = Judge {
            fit: own,
            pattern: found.pattern.as_ref().unwrap(),
            refits: refits.drawn,
            seed: 1,
            with_quantiles: false,
            level: 0.9,
        };
        let asked = found.own.asked(survival);
        let lower = judge.depths(asked, first.lower, -1.0).unwrap().lower;
        let upper = judge.depths(asked, first.upper, 1.0).unwrap().upper;
        let there = bounds_at(survival, lower, upper);
        assert_eq!(found.of(survival).bounds == there, judged_there);
    }
}

/// Few failures known only between looks are refitted as often as few of known age.
#[test]
fn looks_alone_are_refitted_as_few_failures_are() {
    let looks = [
        (20.0, 50.0),
        (40.0, 70.0),
        (60.0, 95.0),
        (80.0, 130.0),
        (120.0, 180.0),
    ];
    let looks = looks.map(|(a, b)| Observation::interval(a, b, 0.0, 1.0).unwrap());
    let by_looks = fitted("weibull", &Sample::new(looks.to_vec()));
    let by_age = fitted("weibull", &lives(&TWELVE[..5], 1.0));
    assert_eq!(calibrating(&by_looks), calibrating(&by_age));
}
