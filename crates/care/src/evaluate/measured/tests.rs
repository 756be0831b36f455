#![allow(clippy::unwrap_used)]

use super::*;
use crate::policy::Looks;
use sealspan_life::degradation::{Limit, Scale};
use sealspan_numeric::special::normal_survival;

fn phi(z: f64) -> f64 {
    normal_survival(-z)
}

/// A property that falls to its limit from this distance at this speed, with variances of both and an error.
fn seal(distance: f64, speed: f64, among: (f64, f64), noise: f64) -> Seal {
    let limit = Limit {
        value: 10.0,
        rising: false,
    };
    let among = (among.0, 0.0, among.1);
    let mean = (10.0 + distance, -speed);
    Seal::measured(Paths::new(limit, Scale::Plain, mean, among, noise).unwrap())
}

fn looks(every: f64, replace_at: f64) -> CarePolicy {
    CarePolicy {
        looks: Looks::Every(every),
        replace_at: Some(replace_at),
        ..CarePolicy::run_to_failure()
    }
}

fn figures(seal: &Seal, policy: &CarePolicy) -> Result<Outcome> {
    crate::evaluate::evaluate(seal, policy, &Terms::default())
}

/// One look, and how it reads: distance and error are normal, so a reading within the limit has the chance of their sum,
/// less those that are past it already. Errors from a hundredth of the seals' spread to fifty times it.
#[test]
fn one_look_finds_what_two_normal_laws_say() {
    let (at, within, spread) = (600.0, 3.0, 0.5_f64.hypot(0.006));
    for noise in [0.005, 0.02, 0.1, 0.5, 3.0, 25.0] {
        let seal = seal(10.0, 0.01, (0.25, 1e-10), noise);
        let policy = CarePolicy {
            replace_within: Some(within),
            ..looks(at, 1.5 * at)
        };
        let got = figures(&seal, &policy).unwrap();
        // Four from the limit, eight spreads.
        let mean = 4.0;
        let density = |d: f64| {
            let z = (d - mean) / spread;
            (-0.5 * z * z).exp() / (spread * TAU.sqrt())
        };
        let n = 60_000;
        let width = 12.0 / f64::from(n);
        let sum: f64 = (0..n)
            .map(|i| (f64::from(i) + 0.5) * width)
            .map(|d| density(d) * phi((within - d) / noise))
            .sum();
        let want = sum * width;
        assert!((got.found - want).abs() < 1e-8, "{noise}: {got:?} {want}");
        let sound = phi(mean / spread);
        assert!((got.inspections_per_cycle - sound).abs() < 1e-8, "{noise}");
    }
}

/// Opportunities are neither counted nor refused where there are none, or none is taken.
#[test]
fn opportunities_are_refused_only_where_they_are_taken() {
    let plain = seal(10.0, 0.01, (0.25, 1e-6), 0.2);
    let policy = looks(300.0, 900.0);
    let met = Seal {
        opportunity_rate: 0.01,
        ..plain.clone()
    };
    let taking = CarePolicy {
        opportunity_from: Some(200.0),
        ..policy.clone()
    };
    let alone = figures(&plain, &policy).unwrap();
    assert_eq!(figures(&met, &policy).unwrap(), alone);
    assert_eq!(figures(&plain, &taking).unwrap(), alone);
    let error = figures(&met, &taking).unwrap_err();
    assert!(error.to_string().contains("Opportunities"), "{error}");
}

/// Seals that do not move, a tenth damaged at each of 299 openings: their service is a geometric sum.
#[test]
fn damage_is_followed_to_the_last_seal() {
    let still = Seal {
        handling_damage: 0.1,
        ..seal(10.0, 0.0, (0.01, 0.0), 0.5)
    };
    let got = figures(&still, &looks(1.0, 300.0)).unwrap();
    let want = (1.0 - 0.9_f64.powi(300)) / 0.1;
    assert!((got.mean_service / want - 1.0).abs() < 1e-9, "{got:?}");
    assert!((got.damaged - (1.0 - 0.9_f64.powi(299))).abs() < 1e-9);
}

/// A line of more panels than are ever worked through is refused at once, and so is one of no number of them.
#[test]
fn lines_of_too_many_panels_are_refused() {
    let seal = seal(10.0, 0.01, (0.25, 1e-6), 0.2);
    let policy = CarePolicy::replace_at(900.0);
    let run = Run::new(&seal, paths(&seal).unwrap(), &policy, false).unwrap();
    let length = |panels: f64| {
        let mut sum = 0.0;
        let done = run.line((2.0, 5.0), 3.0 / panels, |_, weight| sum += weight);
        done.map(|()| sum)
    };
    assert!((length(3999.5).unwrap() - 3.0).abs() < 1e-9);
    assert!(length(4001.0).is_err());
    assert!(length(f64::NAN).is_err());
}

/// New seals all alike: long before the first fails nothing is worked out, and half have failed at the mean age.
#[test]
fn stretches_without_failures_cost_nothing() {
    let got = figures(&seal(10.0, 0.01, (0.0, 1e-6), 0.5), &looks(100.0, 1000.0)).unwrap();
    assert!((got.failed - 0.5).abs() < 1e-8, "{got:?}");
    assert!((got.preventive - 0.5).abs() < 1e-8, "{got:?}");
}

/// Seals all alike that fail between two looks, as many spreads of their law from the one as from the other: all of them do.
#[test]
fn seals_all_alike_fail_between_two_looks() {
    for before in [800.0, 900.0] {
        // Their variance is 1e-6 + (1e-6 age)²: distances from 1000 in spreads are the same at t and at 1e6/t.
        let policy = CarePolicy {
            looks: Looks::At(vec![before, 1e6 / before]),
            ..CarePolicy::replace_at(1400.0)
        };
        let got = figures(&seal(10.0, 0.01, (0.0, 0.0), 50.0), &policy).unwrap();
        assert!((got.failed - 1.0).abs() < 1e-8, "{got:?}");
        assert!((got.mean_service / 1000.0 - 1.0).abs() < 1e-5, "{got:?}");
        assert!((got.inspections_per_cycle - 1.0).abs() < 1e-8);
    }
}

/// Twenty mean lives on, where nearly all that ever fail have failed in the first few: the normal law of distances.
#[test]
fn early_failures_before_a_late_age_are_all_counted() {
    for age in [3000.0, 8000.0, 20_000.0] {
        let (new, rate) = (10.0 / 7.0, 0.01 / 3.0);
        let seal = seal(10.0, 0.01, (new * new, rate * rate), 1000.0);
        let got = figures(&seal, &CarePolicy::replace_at(age)).unwrap();
        let want = phi((0.01 * age - 10.0) / new.hypot(rate * age));
        assert!((got.failed - want).abs() < 1e-8, "{age}: {got:?} {want}");
        assert!((got.preventive - (1.0 - want)).abs() < 1e-8);
    }
}

/// Replaced at each look of rates alike to a few thousandths: failed by then is what the normal law of distances says.
#[test]
fn the_quick_way_follows_narrow_laws_between_late_looks() {
    for spread in [3e-5, 1e-4] {
        let seal = seal(10.0, 0.01, (0.0, spread * spread), 0.5);
        let policy = looks(100.0, 1200.0);
        let quick = rough(&seal, paths(&seal).unwrap(), &policy, &Terms::default()).unwrap();
        for cutoff in &quick {
            // A thousandth of the distance wide at least.
            let sd = 1e-3_f64.hypot(spread * cutoff.age);
            let want = phi((0.01 * cutoff.age - 10.0) / sd);
            let got = cutoff.outcome.failed;
            assert!((got - want).abs() < 1e-3, "{}: {got} {want}", cutoff.age);
        }
    }
}

/// Without looks an error of measurement far above the spread of new seals changes nothing.
#[test]
fn without_looks_no_error_of_measurement_matters() {
    for noise in [0.05, 1.0, 40.0] {
        let seal = seal(10.0, 0.01, (0.0025, 1e-6), noise);
        for age in [600.0, 1000.0, 2500.0] {
            let policy = CarePolicy::replace_at(age);
            let sd = 0.05_f64.hypot(1e-3 * age);
            let want = phi((0.01 * age - 10.0) / sd);
            let got = figures(&seal, &policy).unwrap();
            assert!((got.failed - want).abs() < 1e-8, "{noise} {age}: {got:?}");
            assert!((got.preventive - (1.0 - want)).abs() < 1e-8);
            let quick = rough(&seal, paths(&seal).unwrap(), &policy, &Terms::default()).unwrap();
            assert!((quick[0].outcome.failed - want).abs() < 1e-3);
        }
    }
}

/// Distances of a hundred, spread by five: none that outlasts is lost.
#[test]
fn wide_laws_of_those_that_outlast_are_whole() {
    for unit in [1.0, 1e3, 1e-3] {
        let seal = seal(100.0 * unit, 0.1 * unit, (25.0 * unit * unit, 0.0), unit);
        let got = figures(&seal, &CarePolicy::replace_at(500.0)).unwrap();
        assert!((got.failed + got.preventive - 1.0).abs() < 1e-8, "{got:?}");
        let want = phi(-50.0 / 5.0_f64.hypot(0.005));
        assert!((got.failed - want).abs() < 1e-8, "{got:?} {want}");
    }
}

/// Panels of a level are half as wide as those of the level before, in either measure.
#[test]
fn panels_halve_from_level_to_level() {
    for level in 0..FINEST {
        let (wide, narrow) = (Fineness::at(level), Fineness::at(level + 1));
        assert_eq!(narrow.spread, 0.5 * wide.spread);
        assert_eq!(narrow.error, 0.5 * wide.error);
    }
}
