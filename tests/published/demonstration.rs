//! Seals that show a reliability by a count of failures, and exact intervals of a share.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::ESTIMATE;
use sealspan_life::demonstration::{seals_for_longer_test, seals_needed, share_interval};
use sealspan_life::few::{Ended, exponential_mean_bounds};

#[test]
fn seals_and_shares() {
    let case = read("binomial-demonstration");
    let mut checks = Check::new("binomial-demonstration");
    for row in case["seals_needed"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let seals = seals_needed(at("reliability"), at("confidence"), at("failures") as u64);
        assert_eq!(seals, Some(at("seals") as u64), "{row}");
    }
    for row in case["share_intervals"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let (lower, upper) =
            share_interval(at("failures") as u64, at("seals") as u64, at("level")).unwrap();
        let ours = if row["end"] == "lower" { lower } else { upper };
        checks.value(&row.to_string(), ours, at("value"), ESTIMATE);
    }
    for row in case["longer_test"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let ours = seals_for_longer_test(
            at("reliability"),
            at("confidence"),
            at("shape"),
            at("ratio"),
        );
        checks.value(&row.to_string(), ours, at("seals"), ESTIMATE);
    }
    checks.finish(30);
}

#[test]
fn upper_bounds_and_tests_ended_by_a_failure() {
    let case = read("exponential-upper-bounds");
    let mut checks = Check::new("exponential-upper-bounds");
    for row in case["bounds"].as_array().unwrap() {
        let (failures, level) = (number(row, "failures"), number(row, "confidence"));
        let ended = if row["kind"] == "upper" {
            Ended::AtTime
        } else {
            Ended::AtFailure
        };
        let (lower, upper) = exponential_mean_bounds(1000.0, failures, level, ended);
        let ours = if row["kind"] == "upper" { upper } else { lower };
        checks.some(&row.to_string(), ours, number(row, "value"), ESTIMATE);
    }
    checks.finish(60);
    assert_eq!(
        exponential_mean_bounds(10.0, 0.0, 0.9, Ended::AtTime).1,
        None
    );
}
