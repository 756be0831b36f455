//! Monoclonal gammopathy, Kyle et al. (2002): 1384 lives ended by progression or by death.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::{ESTIMATE, TEST};
use crate::support::{data, fits, modes};
use sealspan_life::competing::incidence::cumulative_incidence;
use sealspan_life::competing::life::CompetingLife;
use sealspan_life::fit::{Fit, fit};
use sealspan_life::laws::by_name;
use sealspan_records::{Question, ask};
use sealspan_report::wire::mode_tests::mode_tests;

const NAME: &str = "monoclonal-gammopathy";
const MODES: [&str; 2] = ["progression", "death"];

fn weibulls() -> Vec<Fit> {
    let samples = modes::lives(NAME, &MODES).split();
    let fits = samples.iter().map(|s| fit(by_name("weibull").unwrap(), s));
    fits.collect::<Result<_, _>>().unwrap()
}

#[test]
fn cumulative_incidence_with_errors_of_greenwoods_type() {
    let case = read(NAME);
    let lives = modes::lives(NAME, &MODES);
    let found = cumulative_incidence(&lives, 0.95).unwrap();
    let mut checks = Check::new("monoclonal-gammopathy incidence");
    for wanted in case["incidence"].as_array().unwrap() {
        let mode = MODES.iter().position(|m| wanted["mode"] == *m).unwrap();
        modes::compare(&mut checks, &lives, &found, mode, wanted);
    }
    checks.finish(40);
}

/// Do as many women as men progress, and die before it? Values of an implementation of Gray's test not ours.
#[test]
fn grays_test_between_the_sexes() {
    let wanted = &read(NAME)["gray_test_by_sex"];
    let records = data::records(NAME, "life.csv");
    let question = Question {
        by: vec!["sex".to_owned()],
        ..Question::default()
    };
    let mut checks = Check::new("monoclonal-gammopathy by sex");
    for test in mode_tests(&records, &question, 1).unwrap() {
        let (wanted, found) = (&wanted[&test.mode], &test.tests[0]);
        let statistic = found.statistic.unwrap();
        checks.value(&test.mode, statistic, number(wanted, "statistic"), TEST);
        let p_value = found.p_value.unwrap();
        checks.value(&test.mode, p_value, number(wanted, "p_value"), TEST);
    }
    checks.finish(4);
}

#[test]
fn the_reader_censors_other_modes_the_same_way() {
    let lives = modes::lives(NAME, &MODES);
    for (mode, word) in MODES.iter().enumerate() {
        let question = Question {
            mode: Some((*word).to_owned()),
            ..Question::default()
        };
        let answer = ask(&data::records(NAME, "life.csv"), &question).unwrap();
        let ours = lives.cause_specific(mode).reduce();
        assert_eq!(answer.groups[0].sample.reduce(), ours, "{word}");
    }
}

#[test]
fn cause_specific_weibull_fits_agree_with_50_digit_arithmetic() {
    let case = read(NAME);
    let lives = modes::lives(NAME, &MODES);
    let mut checks = Check::new("monoclonal-gammopathy Weibull by mode");
    for (mode, fit) in weibulls().iter().enumerate() {
        let wanted = &case["weibull"][MODES[mode]];
        let sample = lives.cause_specific(mode);
        fits::values(&mut checks, MODES[mode], fit, &sample, wanted);
    }
    checks.finish(60);
}

#[test]
fn the_life_of_both_modes_agrees_with_50_digit_arithmetic() {
    let wanted = &read(NAME)["together"];
    let fits = weibulls();
    let life = CompetingLife::new(fits.iter().map(Fit::life).collect()).unwrap();
    let mut checks = Check::new("monoclonal-gammopathy modes together");
    for row in wanted["survival"].as_array().unwrap() {
        let (age, value) = (number(row, "age"), number(row, "value"));
        checks.value(&format!("R({age})"), life.survival(age), value, ESTIMATE);
    }
    for row in wanted["quantile"].as_array().unwrap() {
        let (share, value) = (number(row, "share"), number(row, "value"));
        checks.value(
            &format!("quantile {share}"),
            life.quantile(share),
            value,
            ESTIMATE,
        );
    }
    checks.some("mean", life.mean(), number(wanted, "mean"), ESTIMATE);
    // Without one mode the life is the other's.
    for (mode, other) in [(0, 1), (1, 0)] {
        let (rest, other) = (life.without(mode).unwrap(), fits[other].life());
        let what = format!("without {}", MODES[mode]);
        checks.value(&what, rest.quantile(0.1), other.quantile(0.1), ESTIMATE);
        checks.some(&what, rest.mean(), other.mean(), ESTIMATE);
    }
    checks.finish(12);
}
