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

/// Of twelve failures between looks an age by which a share fails is judged at its own ends too; of eight it is not.
#[test]
fn ages_of_some_failures_between_looks_are_judged_where_they_lie() {
    for (failures, judged_there) in [(12, true), (8, false)] {
        let looks = TWELVE.iter().take(failures);
        let looks = looks.map(|t| Observation::interval(t - 10.0, t + 10.0, 0.0, 1.0));
        let sample = Sample::new(looks.map(Result::unwrap).collect());
        let fit = fitted("weibull", &sample);
        let found = Intervals::new(&fit, &sample, Method::Calibrated, 0.9, 1);
        let (own, refits) = (&found.own.fit, found.refits().unwrap());
        let share = Quantity::Quantile(0.1);
        let asked = found.own.asked(share);
        let first = calibrate(refits, asked, true).unwrap().depths(0.9);
        let judge = Judge {
            fit: own,
            pattern: found.pattern.as_ref().unwrap(),
            refits: refits.drawn,
            seed: 1,
            with_quantiles: true,
            level: 0.9,
        };
        let lower = judge.depths(asked, first.lower, -1.0).unwrap().lower;
        let upper = judge.depths(asked, first.upper, 1.0).unwrap().upper;
        let bounds_at =
            |lower: f64, upper: f64| found.own.bounds(share, ends(own, asked, lower, upper));
        let (there, plain) = (bounds_at(lower, upper), bounds_at(first.lower, first.upper));
        assert_ne!(there, plain);
        let want = if judged_there { there } else { plain };
        assert_eq!(found.of(share).bounds, want, "{failures}");
    }
}

/// Of more failures each end of a survival is judged at the age at which the fitted law has that survival: by hand
/// scale · (−ln S)^(1/shape).
#[test]
fn ends_of_a_survival_are_judged_at_the_age_that_has_them() {
    let sample = lives(&TWELVE, 2.0);
    let fit = fitted("weibull", &sample);
    let found = Intervals::new(&fit, &sample, Method::Calibrated, 0.9, 1);
    let (own, refits) = (&found.own.fit, found.refits().unwrap());
    let depths = |quantity| calibrate(refits, quantity, false).unwrap().depths(0.9);
    let asked = found.own.asked(Quantity::Survival(90.0));
    let first = depths(asked);
    let plain = ends(own, asked, first.lower, first.upper);
    let [shape, scale] = [0, 1].map(|i| own.estimate(Quantity::Parameter(i)));
    let there = |survival: Option<f64>| {
        let age = scale * (-survival.unwrap().ln()).powf(1.0 / shape);
        depths(Quantity::Survival(age))
    };
    // The index by which survival is judged grows as survival falls.
    let (lower, upper) = (there(plain.upper).lower, there(plain.lower).upper);
    assert!((lower - first.lower).abs() > 1e-6 && (upper - first.upper).abs() > 1e-6);
    let want = found
        .own
        .bounds(Quantity::Survival(90.0), ends(own, asked, lower, upper));
    let got = found.of(Quantity::Survival(90.0)).bounds;
    let near = |a: Option<f64>, b: Option<f64>| (a.unwrap() - b.unwrap()).abs() < 1e-6;
    assert!(
        near(got.lower, want.lower) && near(got.upper, want.upper),
        "{got:?} {want:?}"
    );
}

/// The bootstrap's ends are the estimate less its error times the studentised refits' quantiles, between the two nearest
/// of which the share's place among n + 1 lies; and fewer than a hundred of them say nothing.
#[test]
fn ends_of_the_bootstrap_lie_between_refits_in_order() {
    let sample = lives(&TWELVE, 1.0);
    let fit = fitted("weibull", &sample);
    let mut found = Intervals::new(&fit, &sample, Method::Bootstrap, 0.9, 1);
    let median = Quantity::Quantile(0.5);
    let (own, refits) = (&found.own.fit, found.refits().unwrap());
    let asked = found.own.asked(median);
    let (centre, error) = (own.estimate(asked).ln(), own.scaled_error(asked));
    let each = refits.estimates(asked).into_iter();
    let mut t: Vec<f64> = each.map(|(value, own)| (value - centre) / own).collect();
    t.sort_by(f64::total_cmp);
    let n = t.len();
    let at = |share: f64| {
        let below = (1..n)
            .rfind(|i| *i as f64 <= share * (n as f64 + 1.0))
            .unwrap();
        let part = share * (n as f64 + 1.0) - below as f64;
        assert!(part > 0.01 && part < 0.99, "{part}");
        (1.0 - part) * t[below - 1] + part * t[below]
    };
    let bounds = found.of(median).bounds;
    let unit = found.own.unit.age;
    for (got, share) in [(bounds.lower, 0.95), (bounds.upper, 0.05)] {
        let want = unit * (centre - at(share) * error).exp();
        assert!((got.unwrap() / want - 1.0).abs() < 1e-12, "{got:?} {want}");
    }
    if let Some(refits) = found.refits.as_mut() {
        refits.list.truncate(99);
    }
    let few = found
        .refits()
        .and_then(|refits| found.studentised(refits, asked));
    assert_eq!(few, None);
}

/// Chains of draws that agree on the lower end and not on the upper: the error told is that of the upper one.
#[test]
fn the_error_told_is_that_of_the_worse_end() {
    let sample = lives(&TWELVE, 1.0);
    let fit = fitted("exponential", &sample);
    // Six of the highest eighty, in one chain of four.
    let value = |(chain, i): (i32, i32)| {
        let high = chain == 0 && i >= 14;
        f64::from(i) + 0.1 * f64::from(chain) + if high { 100.0 } else { 1.0 }
    };
    let means = (0..4).flat_map(|chain| (0..20).map(move |i| (chain, i)));
    let means: Vec<f64> = means.map(value).collect();
    let posterior = Posterior::of_means(&means, &[20, 40, 60, 80], 1e6);
    let [lower, upper] = [0.05, 0.95].map(|p| posterior.error(Quantity::Mean, p).unwrap());
    assert!(upper > 2.0 * lower, "{lower} {upper}");
    let mut found = Intervals::new(&fit, &sample, Method::Profile, 0.9, 1);
    found.method = Method::Posterior;
    found.posterior = Some(posterior);
    assert_eq!(found.of(Quantity::Mean).simulation_error, Some(upper));
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

/// 2,000 refits below ten failures, 1,000 up to sixty and 300 above; 300 too of a law with a third parameter, and of one
/// whose tails are dear with more than 150 ages.
#[test]
fn so_many_refits_calibrate() {
    let many_ages = || {
        let running = (0..160).map(|i| Observation::right(20.0 + f64::from(i), 0.0, 1.0));
        let failed = TWELVE.map(|t| Observation::exact(t, 0.0, 1.0));
        Sample::new(
            failed
                .into_iter()
                .chain(running)
                .map(Result::unwrap)
                .collect(),
        )
    };
    for (name, sample, refits) in [
        ("weibull", lives(&TWELVE[..6], 1.0), 2_000),
        ("weibull", lives(&TWELVE, 1.0), 1_000),
        ("weibull", lives(&TWELVE, 5.0), 1_000),
        ("weibull", lives(&TWELVE, 6.0), 300),
        ("weibull", many_ages(), 1_000),
        ("gamma", lives(&TWELVE, 1.0), 1_000),
        ("gamma", many_ages(), 300),
        ("generalised_gamma", lives(&TWELVE, 1.0), 300),
    ] {
        assert_eq!(calibrating(&fitted(name, &sample)), refits, "{name}");
    }
}

/// A simulation's error is told where its draws reach the ends, and that they do not where there is one to tell.
#[test]
fn draws_that_do_not_reach_the_ends_are_said() {
    let plain = Interval::plain(Bounds::default(), Method::Calibrated);
    for (error, draws, told, beyond) in [
        (Some(0.003), 1e3, Some(0.003), false),
        (Some(0.003), 3.0, None, true),
        (None, 1e3, None, false),
        (None, 3.0, None, false),
    ] {
        let found = plain.simulated(error, draws, 0.9);
        assert_eq!((found.simulation_error, found.beyond_draws), (told, beyond));
    }
}
