//! Likelihood of inspection histories under the two-stage model: against quadrature of 30 digits, and the
//! closed forms of exponential stages. Source and generator stand in the expected file.

use crate::support::close::Check;
use crate::support::expected::{number, numbers, read};
use crate::support::tolerances::QUADRATURE;
use sealspan_life::defects::{DefectQuantity, Model, StageLaw, scaled, unscale};
use sealspan_records::history::{Ended, History};
use serde_json::Value;

fn law(stage: &Value) -> (StageLaw, [f64; 2]) {
    let law = StageLaw::by_name(stage["family"].as_str().unwrap()).unwrap();
    let [a, b] = numbers(stage, "numbers")[..] else {
        panic!("two parameters: {stage}")
    };
    if law == StageLaw::Lognormal {
        (law, [a, b.ln()])
    } else {
        (law, [b.ln(), -a.ln()])
    }
}

fn history(case: &Value) -> History {
    let ages = numbers(case, "ages");
    let (first, last) = (ages[0], ages[ages.len() - 1]);
    let ended = match case["ended"].as_str().unwrap() {
        "failed" => Ended::Failed(last),
        "between" => Ended::FailedBetween(first, last),
        "found" => Ended::Found(last),
        _ => Ended::Running(last),
    };
    History::new(number(case, "entry"), numbers(case, "looks"), ended, 1.0).unwrap()
}

#[test]
fn histories_against_quadrature() {
    let case = read("defect-likelihood");
    let mut checks = Check::new("defect-likelihood");
    for row in case["histories"].as_array().unwrap() {
        let ((defect, u), (delay, h)) = (law(&row["defect"]), law(&row["delay"]));
        let r = number(row, "detection");
        let model = Model {
            defect,
            delay,
            detection: Some(r),
        };
        let theta = model.pinned([u[0], u[1], h[0], h[1], 0.0]);
        let list = [history(row)];
        let name = row["name"].as_str().unwrap();
        let plain = model.log_likelihood(&theta, &list);
        checks.value(name, plain, number(row, "value"), QUADRATURE);
        let with = model.log_likelihood_derivatives(&theta, &list);
        checks.value(name, with.value, number(row, "value"), QUADRATURE);
    }
    checks.finish(140);
}

#[test]
fn exponential_stages_have_closed_forms() {
    let case = read("defect-likelihood");
    let mut checks = Check::new("defect-likelihood, exponential");
    let model = Model {
        defect: StageLaw::Exponential,
        delay: StageLaw::Exponential,
        detection: Some(0.0),
    };
    for row in case["exponential"].as_array().unwrap() {
        let (u, h) = (
            -number(row, "defect_rate").ln(),
            -number(row, "delay_rate").ln(),
        );
        let theta = model.pinned([u, 0.0, h, 0.0, 0.0]);
        let age = number(row, "age");
        // Looks that never find change nothing.
        for (ended, key) in [
            (Ended::Failed(age), "ln_density"),
            (Ended::Running(age), "ln_survival"),
        ] {
            let list = [History::new(0.0, vec![0.3 * age, 0.6 * age], ended, 1.0).unwrap()];
            let ours = model.log_likelihood(&theta, &list);
            checks.value(key, ours, number(row, key), QUADRATURE);
        }
    }
    checks.finish(6);
}

#[test]
fn share_of_defects_missed_by_regular_looks() {
    let case = read("missed-defects");
    let mut checks = Check::new("missed-defects");
    for row in case["rows"].as_array().unwrap() {
        let exponential = row["law"] == "exponential";
        let (delay, mu, ln_sigma) = if exponential {
            (StageLaw::Exponential, -number(row, "rate").ln(), 0.0)
        } else {
            let shape = number(row, "shape");
            (StageLaw::Weibull, number(row, "scale").ln(), -shape.ln())
        };
        let model = Model {
            defect: StageLaw::Exponential,
            delay,
            detection: Some(number(row, "detection")),
        };
        let theta = model.pinned([6.0, 0.0, mu, ln_sigma, 0.0]);
        let every = number(row, "every");
        let quantity = DefectQuantity::Caught { every };
        let x = scaled(&model, &theta, quantity).unwrap().value;
        let caught = unscale(&model, quantity, x).unwrap();
        checks.value(
            &row.to_string(),
            1.0 - caught,
            number(row, "missed"),
            QUADRATURE,
        );
    }
    checks.finish(29);
}
