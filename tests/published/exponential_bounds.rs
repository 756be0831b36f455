//! Lower bounds of a mean life from few failures, NIST/SEMATECH e-Handbook 8.4.5.1.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::ESTIMATE;
use sealspan_life::few::lower_bounds;
use sealspan_records::{Observation, Sample};

#[test]
fn time_truncated_lower_bounds() {
    let case = read("exponential-bounds");
    let total = number(&case, "total_time");
    let mut checks = Check::new("exponential-bounds");
    for wanted in case["bounds"].as_array().unwrap() {
        let (failures, confidence) = (number(wanted, "failures"), number(wanted, "confidence"));
        // The failures at age 50, the rest of the time on one seal that still runs.
        let sample = Sample::new(vec![
            Observation::exact(50.0, 0.0, failures).unwrap(),
            Observation::right(total - 50.0 * failures, 0.0, 1.0).unwrap(),
        ]);
        let bound = lower_bounds(&sample, 1.0, confidence).map(|b| b.mean());
        let what = format!("{failures} failures at {confidence}");
        checks.some(&what, bound, number(wanted, "lower"), ESTIMATE);
    }
    checks.finish(36);
}

/// Shapes are taken as known through time to the power of the shape.
#[test]
fn a_known_shape_is_the_exponential_bound_in_transformed_time() {
    let ages = [40.0, 90.0, 130.0];
    let shape = 2.5;
    let sample = |power: f64| {
        let mut rows = vec![Observation::exact(70f64.powf(power), 0.0, 1.0).unwrap()];
        rows.extend(ages.map(|t: f64| Observation::right(t.powf(power), 0.0, 3.0).unwrap()));
        Sample::new(rows)
    };
    let direct = lower_bounds(&sample(1.0), shape, 0.9).unwrap().scale;
    let transformed = lower_bounds(&sample(shape), 1.0, 0.9)
        .unwrap()
        .scale
        .powf(1.0 / shape);
    assert!(
        (direct / transformed - 1.0).abs() < 1e-13,
        "{direct} {transformed}"
    );
}
