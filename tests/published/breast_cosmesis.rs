//! Breast cosmesis, Finkelstein & Wolfe (1985), with the printed interval curve of Fay & Shaw (2010),
//! J. Stat. Softw. 36(2), section 4.1: 94 lives known only between two visits.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::{ESTIMATE, TURNBULL, printed};
use crate::support::{data, fits, regression, turnbull};
use sealspan_life::compare::by_law;
use sealspan_life::laws::by_name;
use sealspan_life::turnbull::{Mass, curve};
use sealspan_numeric::special::normal_survival;
use sealspan_records::Sample;
use sealspan_records::observation::Seen;

const NAME: &str = "breast-cosmesis";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 258);
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

/// Score tests between the treatments from the interval curve of all lives together, as Fay & Shaw (2010), section 4.2,
/// have them: what the curve says of survival at both ends of every life, not a test that is offered.
#[test]
fn score_tests_from_the_curve() {
    let case = read(NAME);
    let together = curve(&data::all(NAME), 0.95).unwrap();
    let groups = data::by(NAME, "group");
    let mut checks = Check::new("breast-cosmesis score tests");
    for (name, wanted) in case["score_tests"].as_object().unwrap() {
        let scored = |sample: &Sample| -> Vec<f64> {
            let lives = sample.rows().iter().flat_map(|o| {
                let score = score(name, &together.masses, o.seen());
                std::iter::repeat_n(score, o.count() as usize)
            });
            lives.collect()
        };
        let (first, second) = (scored(&groups[0].1), scored(&groups[1].1));
        let sum: f64 = second.iter().sum();
        let (n1, n2) = (first.len() as f64, second.len() as f64);
        let n = n1 + n2;
        let all = || first.iter().chain(&second);
        let mean = all().sum::<f64>() / n;
        let squares: f64 = all().map(|c| (c - mean).powi(2)).sum();
        // The variance over all ways to deal the lives to the groups.
        let z = (sum - n2 * mean) / (n1 * n2 / (n * (n - 1.0)) * squares).sqrt();
        let p = 2.0 * normal_survival(z.abs());
        for (key, ours, decimals) in [("score", sum, 6), ("z", z, 4), ("p_value", p, 6)] {
            let what = format!("{name} {key}");
            checks.value(&what, ours, number(wanted, key), TURNBULL);
            let value = number(&wanted["printed"], key);
            // 0.03022 is printed to five decimals.
            let decimals = if value == 0.03022 { 5 } else { decimals };
            checks.value(&what, ours.abs(), value, printed(value, decimals));
        }
    }
    checks.finish(18);
}

/// The score of one life in (L, R]: (h(S(L)) − h(S(R))) / (S(L) − S(R)) with h of the test.
fn score(test: &str, masses: &[Mass], seen: Seen) -> f64 {
    let (lower, upper) = match seen {
        Seen::Exact(t) => (t, t),
        Seen::Right(t) => (t, f64::INFINITY),
        Seen::Interval(lower, upper) => (lower, upper),
    };
    let survival = |age: f64| 1.0 - failed(masses, age);
    let (before, after) = (survival(lower), survival(upper));
    let weighed = |age: f64, share: f64| match test {
        // All have failed: x ln x and its kind tend to 0.
        _ if share < 1e-12 => 0.0,
        "log_rank_finkelstein" => share * share.ln(),
        "log_rank_sun" => -share * hazard(masses, age),
        "wilcoxon_mann_whitney" => share * (share - 1.0),
        other => panic!("{other}: this check does not know the test"),
    };
    (weighed(lower, before) - weighed(upper, after)) / (before - after)
}

/// Share of mass that ends by an age.
fn failed(masses: &[Mass], age: f64) -> f64 {
    let ended = masses.iter().filter(|m| m.upper <= age);
    ended.map(|m| m.share).sum()
}

/// Cumulative hazard by an age: each mass over the share that survived until it.
fn hazard(masses: &[Mass], age: f64) -> f64 {
    let mut surviving = 1.0;
    let mut sum = 0.0;
    for mass in masses.iter().filter(|m| m.upper <= age) {
        sum += mass.share / surviving;
        surviving -= mass.share;
    }
    sum
}
