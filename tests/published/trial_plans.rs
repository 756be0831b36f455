//! Trials planned ahead: seals, durations and failures allowed, wrong shapes, and telling two materials apart.

use crate::support::close::Check;
use crate::support::expected::{number, numbers, read};
use crate::support::tolerances::ESTIMATE;
use sealspan_care::trial::apart::Materials;
use sealspan_care::trial::show::{Claim, Plan};
use sealspan_life::demonstration::seals_for_longer_test;
use sealspan_life::few::lower_bounds;
use sealspan_records::observation::{Observation, Sample};

/// The life to show; results scale with it.
const LIFE: f64 = 365.0;

fn claim(reliability: f64, shape: f64) -> Claim {
    Claim::new(LIFE, reliability, shape).unwrap()
}

#[test]
fn seals_durations_and_failures() {
    let case = read("trial-plans");
    let mut checks = Check::new("trial-plans");
    for row in case["zero_failures"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let (r, c, b, m) = (
            at("reliability"),
            at("confidence"),
            at("shape"),
            at("ratio"),
        );
        let what = row.to_string();
        checks.value(
            &what,
            seals_for_longer_test(r, c, b, m),
            at("exact"),
            ESTIMATE,
        );
        let seals = claim(r, b).seals(m * LIFE, c, 0).unwrap();
        assert_eq!(seals, at("seals") as u64, "{what}");
    }
    for row in case["with_failures"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let (seals, failures) = (at("seals") as u64, at("failures") as u64);
        let claim = claim(at("reliability"), 2.5);
        let ours = claim.seals(LIFE, at("confidence"), failures).unwrap();
        assert_eq!(ours, seals, "{row}");
        let allowed = |n| claim.failures_allowed(n, LIFE, at("confidence")).unwrap();
        assert_eq!(allowed(seals), Some(failures), "{row}");
        assert_eq!(allowed(seals - 1), failures.checked_sub(1), "{row}");
    }
    for row in case["durations"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let claim = claim(at("reliability"), at("shape"));
        let ours = claim.duration(at("seals") as u64, at("confidence"), at("failures") as u64);
        checks.value(
            &row.to_string(),
            ours.unwrap() / LIFE,
            at("ratio"),
            ESTIMATE,
        );
    }
    let wrong = &case["wrong_shape"];
    let plan = Plan {
        seals: number(wrong, "seals") as u64,
        duration: number(wrong, "ratio") * LIFE,
        failures_allowed: 0,
    };
    let planned = claim(number(wrong, "reliability"), number(wrong, "assumed"));
    assert!(planned.confidence(&plan) > 0.9);
    let true_one = planned.with_shape(number(wrong, "shape"));
    checks.value(
        "wrong shape",
        true_one.confidence(&plan),
        number(wrong, "confidence"),
        ESTIMATE,
    );
    checks.finish(260);
}

#[test]
fn lower_bounds_with_known_shape() {
    let case = &read("trial-plans")["known_shape"];
    let times = numbers(case, "times");
    let mut checks = Check::new("trial-plans, known shape");
    for row in case["rows"].as_array().unwrap() {
        let failures = number(row, "failures") as usize;
        let seen = |(i, t): (usize, &f64)| {
            if i < failures {
                Observation::exact(*t, 0.0, 1.0)
            } else {
                Observation::right(*t, 0.0, 1.0)
            }
        };
        let rows = times.iter().enumerate().map(|x| seen(x).unwrap()).collect();
        let bound = lower_bounds(
            &Sample::new(rows),
            number(row, "shape"),
            number(row, "confidence"),
        )
        .unwrap();
        checks.value(
            &format!("scale {row}"),
            bound.scale,
            number(row, "scale"),
            ESTIMATE,
        );
        checks.value(
            &format!("b10 {row}"),
            bound.quantile(0.1),
            number(row, "b10"),
            ESTIMATE,
        );
    }
    checks.finish(54);
}

#[test]
fn variance_of_a_ln_ratio_of_lives() {
    let case = read("trial-plans");
    let mut checks = Check::new("trial-plans, ln ratio of lives");
    for row in case["ln_ratio_variance"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let ours = Materials::new(at("ratio"), at("shape"), Some(at("time"))).unwrap();
        checks.value(&row.to_string(), ours.variance(), at("variance"), ESTIMATE);
    }
    checks.finish(18);
    // Run to failure: 2/β² whatever the ratio.
    let complete = Materials::new(1.7, 2.0, None).unwrap();
    assert!((complete.variance() - 0.5).abs() < 1e-12);
}
