//! Leukaemia maintenance trial, Miller (1997): product-limit curves of both arms.

use crate::support::close::Check;
use crate::support::data;
use crate::support::expected::{number, read};
use crate::support::tolerances::{ARITHMETIC, ESTIMATE};
use sealspan_life::product_limit::curve;

const NAME: &str = "leukaemia-maintenance";

#[test]
fn product_limit_curves_with_greenwood_errors_and_log_log_bounds() {
    let case = read(NAME);
    let mut checks = Check::new(NAME);
    for (arm, sample) in data::by(NAME, "group") {
        let steps = curve(&sample, 0.95).unwrap().steps;
        let wanted = case["product_limit"][&arm].as_array().expect("arm");
        assert_eq!(steps.len(), wanted.len(), "{arm}");
        for (step, wanted) in steps.iter().zip(wanted) {
            let what = |key: &str| format!("{arm} {} {key}", step.time);
            assert_eq!(step.time, number(wanted, "time"), "{arm}");
            assert_eq!(
                step.at_risk,
                number(wanted, "at_risk"),
                "{arm} {}",
                step.time
            );
            assert_eq!(step.failed, number(wanted, "failed"), "{arm} {}", step.time);
            checks.value(
                &what("survival"),
                step.survival,
                number(wanted, "survival"),
                ARITHMETIC,
            );
            checks.value(
                &what("hazard"),
                step.hazard,
                number(wanted, "hazard"),
                ARITHMETIC,
            );
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
    // 16 steps of five values, less the three that do not exist where the second curve ends at 0.
    checks.finish(77);
}
