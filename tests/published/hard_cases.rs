//! Degenerate and extreme inputs with known answers: what exists is found, what does not is refused
//! with the reason.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::ESTIMATE;
use sealspan_life::few::lower_bounds;
use sealspan_life::fit::{Fit, NoFit, fit};
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_records::observation::NotAnObservation;
use sealspan_records::{Observation, Sample};
use serde_json::Value;

fn case(name: &str) -> Value {
    let cases = read("hard-cases");
    let found = cases["cases"]
        .as_array()
        .unwrap()
        .iter()
        .find(|c| c["name"] == name);
    found.unwrap_or_else(|| panic!("no case {name}")).clone()
}

fn age(value: &Value) -> Option<f64> {
    match value {
        Value::String(word) => Some(word.parse().unwrap()),
        value => value.as_f64(),
    }
}

fn observation(row: &Value) -> Result<Observation, NotAnObservation> {
    let (lower, upper) = (age(&row[1]).unwrap_or(0.0), age(&row[2]));
    let (count, entry) = (row[3].as_f64().unwrap(), row[4].as_f64().unwrap());
    match row[0].as_str().unwrap() {
        "E" => Observation::exact(lower, entry, count),
        "R" => Observation::right(lower, entry, count),
        "L" => Observation::interval(0.0, upper.unwrap(), entry, count),
        "I" => Observation::interval(lower, upper.unwrap(), entry, count),
        kind => panic!("kind {kind}"),
    }
}

fn sample(case: &Value) -> Result<Sample, NotAnObservation> {
    let rows: Result<Vec<_>, _> = case["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(observation)
        .collect();
    rows.map(Sample::new)
}

fn weibull(sample: &Sample) -> Result<Fit, NoFit> {
    fit(by_name("weibull").unwrap(), sample)
}

fn refusal(name: &str) -> NoFit {
    let case = case(name);
    assert!(
        case["verdict"] == "none" || case["verdict"] == "ridge",
        "{name}"
    );
    weibull(&sample(&case).unwrap())
        .err()
        .unwrap_or_else(|| panic!("{name}: fitted what has no maximum"))
}

fn compare(checks: &mut Check, name: &str, wanted: &Value, fit: &Fit) {
    let quantity = |q| (fit.estimate(q), fit.scaled_error(q));
    let ((shape, shape_error), (scale, scale_error)) = (
        quantity(Quantity::Parameter(0)),
        quantity(Quantity::Parameter(1)),
    );
    for (key, ours) in [
        ("weibull_shape", shape),
        ("weibull_scale", scale),
        ("loglik", fit.log_likelihood),
        ("se_ln_shape", shape_error),
        ("se_ln_scale", scale_error),
    ] {
        if let Some(value) = wanted[key].as_f64() {
            checks.value(&format!("{name} {key}"), ours, value, ESTIMATE);
        }
    }
}

#[test]
fn every_case_that_has_a_maximum_is_fitted() {
    let mut checks = Check::new("hard cases");
    let mut cases = 0;
    for case in read("hard-cases")["cases"].as_array().unwrap() {
        if case["verdict"] == "exists" {
            let name = case["name"].as_str().unwrap();
            let fit = weibull(&sample(case).unwrap()).unwrap_or_else(|e| panic!("{name}: {e}"));
            compare(&mut checks, name, case, &fit);
            cases += 1;
        }
    }
    assert_eq!(cases, 6);
    checks.finish(28);
}

#[test]
fn no_failures_leave_a_lower_bound_only() {
    assert_eq!(refusal("all censored"), NoFit::NoFailures { total: 5.0 });
    let case = case("all censored");
    let bound = lower_bounds(&sample(&case).unwrap(), 1.0, 0.95)
        .unwrap()
        .mean();
    let mut checks = Check::new("all censored");
    checks.value(
        "lower bound",
        bound,
        number(&case, "exponential_mean_lower95"),
        ESTIMATE,
    );
    checks.finish(1);
}

#[test]
fn one_failure_age_with_nothing_older_has_no_shape() {
    assert_eq!(refusal("one failure n1"), NoFit::InfiniteShape);
    assert_eq!(refusal("all ties"), NoFit::InfiniteShape);
    // The exponential law has no shape and does exist.
    let case = case("one failure n1");
    let fit = fit(by_name("exponential").unwrap(), &sample(&case).unwrap()).unwrap();
    let mut checks = Check::new("one failure, exponential");
    checks.value(
        "mean",
        fit.estimate(Quantity::Mean),
        number(&case, "exponential_mean"),
        ESTIMATE,
    );
    checks.value(
        "loglik",
        fit.log_likelihood,
        number(&case, "exponential_loglik"),
        ESTIMATE,
    );
    checks.finish(2);
}

#[test]
fn one_look_fixes_one_number_only() {
    assert_eq!(refusal("one inspection"), NoFit::Ridge);
    let case = case("one inspection");
    let fit = fit(by_name("exponential").unwrap(), &sample(&case).unwrap()).unwrap();
    let mut checks = Check::new("one look, exponential");
    checks.value(
        "mean",
        fit.estimate(Quantity::Mean),
        number(&case, "exponential_mean"),
        ESTIMATE,
    );
    checks.value(
        "loglik",
        fit.log_likelihood,
        number(&case, "sup_loglik"),
        ESTIMATE,
    );
    checks.finish(2);
}

#[test]
fn impossible_rows_are_no_observations() {
    let error = |name: &str| {
        let case = case(name);
        assert_eq!(case["verdict"], "invalid", "{name}");
        sample(&case).expect_err(name)
    };
    assert_eq!(error("zero time"), NotAnObservation::FailureAtZero);
    assert_eq!(
        error("entry ge exit"),
        NotAnObservation::EntryAfterEnd {
            entry: 100.0,
            last: 100.0
        }
    );
    assert_eq!(
        error("reversed interval"),
        NotAnObservation::Reversed {
            lower: 200.0,
            upper: 100.0
        }
    );
    assert_eq!(
        error("negative time"),
        NotAnObservation::Negative {
            what: "time",
            value: -5.0
        }
    );
    assert!(matches!(
        error("nan time"),
        NotAnObservation::NotFinite { what: "time", .. }
    ));
    let empty = sample(&case("empty")).unwrap();
    assert_eq!(weibull(&empty).err(), Some(NoFit::Empty));
}

/// A failure at age 0, given as "before the first look at 1" as the error asks.
#[test]
fn a_failure_at_zero_fits_once_it_is_an_interval() {
    let case = case("zero time");
    let rows = case["rows"].as_array().unwrap().iter().map(|row| {
        observation(row).or_else(|_| Observation::interval(0.0, 1.0, 0.0, row[3].as_f64().unwrap()))
    });
    let sample = Sample::new(rows.collect::<Result<_, _>>().unwrap());
    let mut checks = Check::new("zero time as an interval");
    compare(
        &mut checks,
        "zero time",
        &case["as_left_censored_at_1"],
        &weibull(&sample).unwrap(),
    );
    checks.finish(5);
}
