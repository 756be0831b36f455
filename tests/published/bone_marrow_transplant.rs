//! Bone-marrow transplants, Klein & Moeschberger (2003): product-limit curve, cumulative hazard and
//! simultaneous bands from 100 to 600 days.

use crate::support::close::Check;
use crate::support::expected::{number, numbers, read};
use crate::support::tolerances::{ARITHMETIC, BAND};
use crate::support::{curves, data};
use sealspan_life::bands::{Kind, Question, Scale, band};

const NAME: &str = "bone-marrow-transplant";

#[test]
fn curve_and_cumulative_hazard() {
    let case = read(NAME);
    let sample = data::all(NAME);
    let mut checks = Check::new(NAME);
    curves::product_limit(&mut checks, "all", &sample, &case["product_limit"]);
    curves::hazard(
        &mut checks,
        "all",
        &sample,
        &case["cumulative_hazard"]["all"],
    );
    checks.finish(230);
}

#[test]
fn bands_with_their_critical_values() {
    let case = read(NAME);
    let sample = data::all(NAME);
    let mut checks = Check::new("bone-marrow-transplant bands");
    for wanted in case["bands"].as_array().unwrap() {
        let steps = wanted["steps"].as_array().unwrap();
        for (kind, kind_name) in [
            (Kind::HallWellner, "hall_wellner"),
            (Kind::EqualPrecision, "equal_precision"),
        ] {
            for (scale, scale_name) in [(Scale::Linear, "linear"), (Scale::LogLog, "log_log")] {
                let question = Question {
                    kind,
                    scale,
                    from: number(wanted, "from"),
                    to: number(wanted, "to"),
                    level: number(wanted, "level"),
                };
                let found = band(&sample, question).unwrap();
                let what = |key: &str| format!("{kind_name} {scale_name} {} {key}", question.level);
                for (key, ours) in [("a_lower", found.a_lower), ("a_upper", found.a_upper)] {
                    checks.value(&what(key), ours, number(wanted, key), ARITHMETIC);
                }
                let critical = number(wanted, &format!("{kind_name}.critical"));
                checks.value(&what("critical"), found.critical, critical, BAND);
                // The first step is the band at 100 days, where nobody failed.
                assert_eq!(found.steps.len(), steps.len() + 1);
                assert_eq!(found.steps[0].time, question.from);
                for (ours, step) in found.steps[1..].iter().zip(steps) {
                    assert_eq!(ours.time, number(step, "time"));
                    let ends = numbers(step, &format!("{kind_name}.{scale_name}"));
                    checks.value(&what("lower"), ours.lower, ends[0], BAND);
                    checks.value(&what("upper"), ours.upper, ends[1], BAND);
                }
            }
        }
    }
    checks.finish(2 * 4 * (3 + 2 * 17));
}

/// Printed tables of equal precision rest on the approximation of Miller & Siegmund (1982), which is a
/// little below the true value: close to it, and not equal.
#[test]
fn equal_precision_is_near_the_approximation_of_miller_and_siegmund() {
    let sample = data::all(NAME);
    for wanted in read(NAME)["bands"].as_array().unwrap() {
        let question = Question {
            kind: Kind::EqualPrecision,
            scale: Scale::Linear,
            from: number(wanted, "from"),
            to: number(wanted, "to"),
            level: number(wanted, "level"),
        };
        let above = band(&sample, question).unwrap().critical
            - number(wanted, "equal_precision.miller_siegmund");
        assert!(0.004 < above && above < 0.01, "{above}");
    }
}
