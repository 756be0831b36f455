//! Breast cosmesis, Finkelstein & Wolfe (1985), with the printed interval curve of Fay & Shaw (2010),
//! J. Stat. Softw. 36(2), section 4.1: 94 lives known only between two visits.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::{ESTIMATE, printed};
use crate::support::{data, fits, regression, turnbull};
use sealspan_life::compare::by_law;
use sealspan_life::laws::by_name;
use sealspan_life::turnbull::curve;

const NAME: &str = "breast-cosmesis";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 231);
}

#[test]
fn turnbull_curves_agree_with_50_digit_arithmetic() {
    let case = read(NAME);
    let groups = data::by(NAME, "group");
    let mut checks = Check::new("breast-cosmesis interval curves");
    for wanted in case["turnbull"].as_array().unwrap() {
        let group = wanted["group"].as_str().unwrap();
        let sample = match group {
            "all" => data::all(NAME),
            _ => groups.iter().find(|g| g.0 == group).unwrap().1.clone(),
        };
        turnbull::check(&mut checks, group, &sample, wanted);
    }
    checks.finish(34);
}

/// The masses as Fay & Shaw print them, to four digits.
#[test]
fn fay_and_shaw_print_the_same_masses() {
    let case = read(NAME);
    let groups = data::by(NAME, "group");
    let mut checks = Check::new("breast-cosmesis as printed");
    for (key, value) in case["published"].as_object().unwrap() {
        // npmle.GROUP.(lower,upper]
        let (group, ends) = key
            .strip_prefix("npmle.")
            .and_then(|k| k.split_once('.'))
            .unwrap();
        let (lower, upper) = ends.trim_matches(['(', ']']).split_once(',').unwrap();
        let (lower, upper): (f64, f64) = (lower.parse().unwrap(), upper.parse().unwrap());
        let sample = &groups.iter().find(|g| g.0 == group).unwrap().1;
        let masses = curve(sample, 0.95).unwrap().masses;
        let mass = masses.iter().find(|m| m.lower == lower && m.upper == upper);
        let expected = number(value, "value");
        checks.some(key, mass.map(|m| m.share), expected, printed(expected, 4));
    }
    checks.finish(19);
}

#[test]
fn regression_on_treatment() {
    let case = read(NAME);
    let groups = data::by(NAME, "group");
    let mut checks = Check::new("breast-cosmesis regression");
    assert_eq!(
        (groups[0].0.as_str(), groups[1].0.as_str()),
        ("Rad", "RadChem")
    );
    for (family, wanted) in case["regression"].as_object().unwrap() {
        let family = by_name(family).unwrap();
        let cells = [
            (vec![1.0, 0.0], &groups[0].1),
            (vec![1.0, 1.0], &groups[1].1),
        ];
        let ours = regression::fitted(family, &["intercept", "RadChem"], &cells);
        let effect = &ours.coefficients(0.95)[1];
        for (key, value) in [
            ("b0", ours.x[0]),
            ("b_RadChem", effect.estimate),
            ("se_b_RadChem", effect.std_error),
            ("logsigma", ours.x[2]),
            ("loglik", ours.log_likelihood),
        ] {
            checks.value(
                &format!("{} {key}", family.name()),
                value,
                number(wanted, key),
                ESTIMATE,
            );
        }
        let samples = [groups[0].1.clone(), groups[1].1.clone()];
        let names = ["intercept".to_owned(), "RadChem".to_owned()];
        let test = by_law(family, &names, &samples).unwrap().common_life;
        assert_eq!(test.df, 1.0);
        checks.value(
            "likelihood ratio",
            test.statistic,
            number(wanted, "lrt_chi2_1df"),
            ESTIMATE,
        );
    }
    checks.finish(18);
}
