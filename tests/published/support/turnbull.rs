//! Masses and log-likelihood of the interval curve.

use super::close::Check;
use super::expected::number;
use super::tolerances::TURNBULL;
use sealspan_life::turnbull::curve;
use sealspan_records::Sample;
use serde_json::Value;

/// Share of a curve's mass too small to tell from none.
const NO_MASS: f64 = 1e-9;

/// Checks one group's curve against `loglik` and `masses`.
pub fn check(checks: &mut Check, group: &str, sample: &Sample, wanted: &Value) {
    let curve = curve(sample, 0.95).expect("curve");
    let masses: Vec<_> = curve.masses.iter().filter(|m| m.share > NO_MASS).collect();
    let expected = wanted["masses"].as_array().unwrap();
    assert_eq!(masses.len(), expected.len(), "{group}: {masses:?}");
    assert!(
        curve.violation < 1e-9,
        "{group}: violation {}",
        curve.violation
    );
    checks.value(
        &format!("{group} loglik"),
        curve.log_likelihood,
        number(wanted, "loglik"),
        TURNBULL,
    );
    for (ours, theirs) in masses.iter().zip(expected) {
        let what = format!("{group} ({}, {}]", ours.lower, ours.upper);
        assert_eq!(ours.lower, number(theirs, "lower"), "{what}");
        assert_eq!(
            ours.upper,
            theirs["upper"].as_f64().unwrap_or(f64::INFINITY),
            "{what}"
        );
        checks.value(&what, ours.share, number(theirs, "share"), TURNBULL);
    }
}
