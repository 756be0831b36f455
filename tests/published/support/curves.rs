//! Product-limit curves and cumulative hazards of right-censored lives.

use super::close::Check;
use super::expected::{fraction, number};
use super::tolerances::{ARITHMETIC, ESTIMATE};
use sealspan_life::nelson_aalen::cumulative_hazard;
use sealspan_life::product_limit;
use sealspan_records::Sample;
use serde_json::Value;

/// Every step of the product-limit curve, with Greenwood's error and the log(−log) bounds at 95 %.
pub fn product_limit(checks: &mut Check, group: &str, sample: &Sample, wanted: &Value) {
    let steps = product_limit::curve(sample, 0.95).unwrap().steps;
    let wanted = wanted.as_array().expect("steps");
    assert_eq!(steps.len(), wanted.len(), "{group}");
    for (step, wanted) in steps.iter().zip(wanted) {
        let what = |key: &str| format!("{group} {} {key}", step.time);
        for (key, ours) in [
            ("time", step.time),
            ("at_risk", step.at_risk),
            ("failed", step.failed),
        ] {
            assert_eq!(ours, number(wanted, key), "{}", what(key));
        }
        let survival = if wanted["survival_exact"].is_string() {
            fraction(wanted, "survival_exact")
        } else {
            number(wanted, "survival")
        };
        checks.value(&what("survival"), step.survival, survival, ARITHMETIC);
        let hazard = number(wanted, "hazard");
        checks.value(&what("hazard"), step.hazard, hazard, ARITHMETIC);
        for (key, ours) in [
            ("std_error", step.std_error),
            ("lower", step.lower),
            ("upper", step.upper),
        ] {
            match wanted[key].as_f64() {
                Some(value) => checks.some(&what(key), ours, value, ESTIMATE),
                None => assert_eq!(ours, None, "{}", what(key)),
            }
        }
    }
}

/// Every step of the cumulative hazard: the sums as fractions, the standard error and the bounds at 95 %.
pub fn hazard(checks: &mut Check, group: &str, sample: &Sample, wanted: &Value) {
    let steps = cumulative_hazard(sample, 0.95).unwrap().steps;
    let wanted = wanted.as_array().expect("steps");
    assert_eq!(steps.len(), wanted.len(), "{group}");
    for (step, wanted) in steps.iter().zip(wanted) {
        let what = |key: &str| format!("{group} {} {key}", step.time);
        assert_eq!(step.time, number(wanted, "time"), "{group}");
        for (key, ours, wanted) in [
            ("hazard", step.hazard, fraction(wanted, "hazard_exact")),
            (
                "variance",
                step.std_error.powi(2),
                fraction(wanted, "variance_exact"),
            ),
            ("std_error", step.std_error, number(wanted, "std_error")),
            ("lower", step.lower, number(wanted, "lower")),
            ("upper", step.upper, number(wanted, "upper")),
        ] {
            checks.value(&what(key), ours, wanted, ARITHMETIC);
        }
    }
}
