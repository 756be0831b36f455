//! Channing House, Hyde (1980): 457 lives watched only from the age at entry, and the 5 impossible rows
//! of the set as shipped.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::{ARITHMETIC, ESTIMATE, SECOND_ROUTE, STOPPED_EARLY};
use crate::support::{data, fits, hazards, regression};
use sealspan_life::hazards::fit;
use sealspan_life::laws::by_name;
use sealspan_life::product_limit::curve;
use sealspan_records::{Question, ask};

const NAME: &str = "channing-house";

#[test]
fn fits_with_delayed_entry_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 141);
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

/// Proportional hazards of men against women with delayed entry (`generate/late_entry_hazards.py`, 30 digits), and as R
/// survival has them: its likelihoods, and its coefficients as far as its own search goes.
#[test]
fn proportional_hazards_with_delayed_entry() {
    let lives = hazards::lives(
        NAME,
        "group",
        |sex| f64::from(u8::from(sex == "Male")),
        None,
        false,
    );
    assert!(lives.delayed());
    let case = read(NAME);
    let mut checks = Check::new("channing-house proportional hazards");
    for (name, ties) in hazards::TIES {
        let ours = fit(lives.clone(), ties).unwrap();
        let wanted = &case["proportional_hazards"][name];
        let second = &case["proportional_hazards_r_survival"][name];
        for (key, value) in [
            ("coefficient", ours.estimates()[0]),
            ("std_error", ours.covariance()[(0, 0)].sqrt()),
            ("log_likelihood", ours.log_likelihood),
            ("log_likelihood_null", ours.log_likelihood_null),
        ] {
            let what = format!("{name} {key}");
            checks.value(&what, value, number(wanted, key), ESTIMATE);
            let route = match key {
                "coefficient" | "std_error" => STOPPED_EARLY,
                _ => SECOND_ROUTE,
            };
            checks.value(&what, value, number(second, key), route);
        }
    }
    checks.finish(16);
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
