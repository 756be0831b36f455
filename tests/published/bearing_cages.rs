//! Bearing cages: 1703 units, 6 failures. The fit with its bounds, and the failures to come.

use crate::support::close::Check;
use crate::support::data;
use crate::support::expected::{number, numbers, read};
use crate::support::tolerances::{
    ESTIMATE, POLICY_STEP, PROFILE, SEARCHED, TWELVE_DIGITS, printed,
};
use sealspan_care::forecast::{Outlook, Running};
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::draws::lives;
use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;

#[test]
fn fit_and_forecast() {
    let case = read("bearing-cages");
    let mut checks = Check::new("bearing cages");
    let sample = data::all("bearing-cages");
    let fit = fit(by_name("weibull").unwrap(), &sample).unwrap();
    let shape = fit.estimate(Quantity::Parameter(0));
    let scale = fit.estimate(Quantity::Parameter(1));
    checks.value("shape", shape, number(&case, "shape"), TWELVE_DIGITS);
    checks.value("scale", scale, number(&case, "scale"), TWELVE_DIGITS);
    checks.value(
        "log-likelihood",
        fit.log_likelihood,
        number(&case, "log_likelihood"),
        TWELVE_DIGITS,
    );
    let b10 = Quantity::Quantile(0.1);
    checks.value("B10", fit.estimate(b10), number(&case, "b10"), ESTIMATE);
    let known = &case["remembered"];
    checks.value(
        "remembered shape",
        shape,
        number(known, "shape"),
        printed(number(known, "shape"), 3),
    );
    checks.value(
        "remembered scale",
        scale,
        number(known, "scale"),
        printed(number(known, "scale"), 0),
    );
    for (method, key, tolerance) in [
        (Method::Wald, "b10_wald_95", SEARCHED),
        (Method::Profile, "b10_profile_95", PROFILE),
    ] {
        let ends = bounds(&fit, b10, method, 0.95);
        let [low, high] = numbers(&case, key)[..] else {
            panic!("{key}")
        };
        checks.some(key, ends.lower, low, tolerance);
        checks.some(key, ends.upper, high, tolerance);
    }
    let running: Vec<Running> = case["running"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| Running {
            age: r[0].as_f64().unwrap(),
            count: r[1].as_u64().unwrap() as usize,
        })
        .collect();
    let draws = lives(&fit, 4000, 1);
    for row in case["forecast"].as_array().unwrap() {
        let got = Outlook {
            running: &running,
            life: &fit.life(),
            draws: &draws,
            horizon: number(row, "horizon"),
            periods: 1,
            confidence: 0.9,
            oldest_seen: Some(2050.0),
            with_renewals: false,
        }
        .forecast()
        .unwrap();
        checks.value(
            "expected",
            got.expected,
            number(row, "expected"),
            POLICY_STEP,
        );
        assert_eq!(got.plug_in.lower as f64, number(row, "lower"));
        assert_eq!(got.plug_in.upper as f64, number(row, "upper"));
        // Two runs of 4000 draws: the upper ends differ by their Monte-Carlo error of about a twentieth.
        let ratio = got.upper as f64 / number(row, "predictive_upper");
        assert!((ratio - 1.0).abs() < 0.15, "{ratio}");
        assert!((got.lower as f64 - number(row, "predictive_lower")).abs() <= 1.0);
    }
    checks.finish(12);
}
