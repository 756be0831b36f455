//! Channing House, Hyde (1980): 457 lives watched only from the age at entry, and the 5 impossible rows
//! of the set as shipped.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::{ARITHMETIC, ESTIMATE};
use crate::support::{data, fits, regression};
use sealspan_life::laws::by_name;
use sealspan_life::product_limit::curve;
use sealspan_records::{Question, ask};

const NAME: &str = "channing-house";

#[test]
fn fits_with_delayed_entry_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 123);
}

#[test]
fn product_limit_curves_with_delayed_entry() {
    let case = read(NAME);
    let mut groups = data::by(NAME, "group");
    groups.push(("all".to_owned(), data::all(NAME)));
    let mut checks = Check::new("channing-house product limit");
    for (group, sample) in groups {
        let steps = curve(&sample, 0.95).unwrap().steps;
        // Each wanted row: time, at risk, failed, survival.
        let wanted = case["product_limit"][&group].as_array().expect("group");
        assert_eq!(steps.len(), wanted.len(), "{group}");
        for (step, row) in steps.iter().zip(wanted) {
            let wanted: Vec<f64> = row
                .as_array()
                .unwrap()
                .iter()
                .map(|v| v.as_f64().unwrap())
                .collect();
            assert_eq!(
                [step.time, step.at_risk, step.failed],
                wanted[..3],
                "{group}"
            );
            checks.value(
                &format!("{group} {}", step.time),
                step.survival,
                wanted[3],
                ARITHMETIC,
            );
        }
    }
    checks.finish(250);
}

#[test]
fn regression_on_sex_with_delayed_entry() {
    let wanted = &read(NAME)["regression"]["weibull"];
    let groups = data::by(NAME, "group");
    assert_eq!(
        (groups[0].0.as_str(), groups[1].0.as_str()),
        ("Female", "Male")
    );
    let cells = [
        (vec![1.0, 0.0], &groups[0].1),
        (vec![1.0, 1.0], &groups[1].1),
    ];
    let ours = regression::fitted(by_name("weibull").unwrap(), &["intercept", "Male"], &cells);
    let mut checks = Check::new("channing-house regression");
    for (i, name) in ["b0", "b_male", "logsigma"].into_iter().enumerate() {
        checks.value(name, ours.x[i], number(wanted, name), ESTIMATE);
        let error = ours.covariance[(i, i)].sqrt();
        checks.value(name, error, number(wanted, &format!("se_{name}")), ESTIMATE);
    }
    checks.value(
        "loglik",
        ours.log_likelihood,
        number(wanted, "loglik"),
        ESTIMATE,
    );
    checks.finish(7);
}

#[test]
fn the_set_as_shipped_has_its_impossible_rows_set_aside_by_name() {
    let records = data::records(NAME, "as_shipped.csv");
    let answer = ask(&records, &Question::default()).unwrap();
    assert_eq!(records.rows_read, 462);
    assert_eq!(answer.rows_used, 457);
    assert_eq!(answer.set_aside.len(), 5);
    assert_eq!(answer.groups[0].sample.reduce(), data::all(NAME).reduce());
}
