//! Leukaemia remission, Gehan (1965) and Freireich et al. (1963): 21 treated against 21 not.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::ESTIMATE;
use crate::support::{data, hazards, regression};
use sealspan_life::compare::by_law;
use sealspan_life::laws::by_name;
use sealspan_records::Sample;

const NAME: &str = "leukaemia-remission";

/// Control first: the base of the regression.
fn groups() -> [Sample; 2] {
    let groups = data::by(NAME, "group");
    let find = |name: &str| groups.iter().find(|g| g.0 == name).expect(name).1.clone();
    [find("control"), find("6-MP")]
}

#[test]
fn log_rank_family() {
    let case = read(NAME);
    let mut checks = Check::new("leukaemia-remission tests");
    hazards::family(&mut checks, &data::by(NAME, "group"), &case["tests"]);
    checks.finish(30);
}

#[test]
fn proportional_hazards_of_treatment() {
    let case = read(NAME);
    let treated = |word: &str| f64::from(u8::from(word == "6-MP"));
    let lives = hazards::lives(NAME, "group", treated, None, false);
    let mut checks = Check::new("leukaemia-remission proportional hazards");
    hazards::one_column(&mut checks, &lives, &case["proportional_hazards"]);
    checks.finish(50);
}

#[test]
fn regression_on_treatment() {
    let case = read(NAME);
    let [control, treated] = groups();
    let mut checks = Check::new("leukaemia-remission regression");
    for (family, wanted) in case["regression"].as_object().unwrap() {
        let family = by_name(family).unwrap();
        let cells = [(vec![1.0, 0.0], &control), (vec![1.0, 1.0], &treated)];
        let ours = regression::fitted(family, &["intercept", "6-MP"], &cells);
        regression::check(&mut checks, &ours, wanted, &["b0", "b_6MP"], &["lrt"]);
        let names = ["intercept".to_owned(), "6-MP".to_owned()];
        let test = by_law(family, &names, &[control.clone(), treated.clone()])
            .unwrap()
            .common_life;
        checks.value(
            "likelihood ratio",
            test.statistic,
            number(wanted, "lrt_vs_intercept"),
            ESTIMATE,
        );
    }
    checks.finish(50);
}
