//! The answers carry the key names that programs read.

use crate::lots::LOTS;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::forecast::{Outlook, Running};
use sealspan_care::policy::Policy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::simulate::simulate;
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;
use serde_json::Value;

fn has(value: &Value, keys: &[&str]) {
    for key in keys {
        assert!(value.get(key).is_some(), "no `{key}` in {value}");
    }
}

/// Nothing that is no number may slip in: JSON would show it as null.
fn no_null_but(value: &Value, allowed: &[&str]) {
    for (key, entry) in value.as_object().unwrap() {
        assert!(
            !entry.is_null() || allowed.contains(&key.as_str()),
            "null {key}"
        );
    }
}

fn evaluator(life: &Life) -> Evaluator {
    let prices = Prices {
        planned_cost: 100.0,
        failure_cost: 700.0,
        failure_hours: 5.0,
        planned_hours: 1.0,
        downtime_cost: 40.0,
        discount_rate: 0.05,
    };
    Evaluator::new(life, &Costs::new(prices, Clock::Days).unwrap(), Goal::Cost).unwrap()
}

#[test]
fn care_block() {
    let life = Life::weibull(2.2, 300.0).unwrap();
    let run = serde_json::to_value(evaluator(&life).run_to_failure()).unwrap();
    has(&run, &["cost_rate", "availability", "mean_life"]);
    let replace = serde_json::to_value(evaluator(&life).best().unwrap()).unwrap();
    let keys = [
        "age",
        "cost_rate",
        "flat_zone",
        "failure_probability",
        "availability",
        "mean_cycle",
        "present_value",
    ];
    has(&replace, &keys);
    no_null_but(&replace, &[]);
    assert_eq!(replace["flat_zone"].as_array().unwrap().len(), 2);
    let never = evaluator(&Life::exponential(300.0).unwrap())
        .best()
        .unwrap();
    let never = serde_json::to_value(never).unwrap();
    has(&never, &keys);
    assert!(never["age"].is_null() && never["reason"].is_string());
    let costs = Costs::new(
        Prices {
            failure_cost: 1.0,
            ..Prices::default()
        },
        Clock::Days,
    )
    .unwrap();
    let seen = simulate(&life, Policy::RunToFailure, &costs, 1000, 1).unwrap();
    has(
        &serde_json::to_value(seen).unwrap(),
        &["cost_rate", "std_error", "seals"],
    );
}

#[test]
fn stock_block() {
    let terms = StockTerms {
        demand_rate: 0.1,
        lead_time: 14.0,
        holding_cost: 0.1,
        shortage: Shortage::Backorder { cost_per_day: 9.0 },
        order_cost: 4.0,
        unit_price: Some(60.0),
        ..LOTS
    };
    let answer = serde_json::to_value(terms.answer().unwrap()).unwrap();
    has(&answer, &["levels", "best", "demand"]);
    let level = [
        "stock",
        "fill_rate",
        "ready_rate",
        "expected_backorders",
        "urgent_share",
        "expected_on_hand",
        "cost_rate",
    ];
    has(&answer["levels"][0], &level);
    no_null_but(&answer["levels"][0], &[]);
    has(&answer["best"], &level);
    has(
        &answer["best"],
        &["order_quantity", "scrap_rate", "scrap_rate_reason"],
    );
    no_null_but(&answer["best"], &["scrap_rate"]);
    has(&answer["demand"], &["mean", "variance", "pmf"]);
}

#[test]
fn forecast_block() {
    let forecast = Outlook {
        running: &[Running {
            age: 20.0,
            count: 9,
        }],
        life: &Life::weibull(2.2, 300.0).unwrap(),
        draws: &[],
        horizon: 90.0,
        periods: 3,
        confidence: 0.9,
        oldest_seen: None,
        with_renewals: true,
    }
    .forecast()
    .unwrap();
    let value = serde_json::to_value(forecast).unwrap();
    has(
        &value,
        &[
            "running",
            "expected",
            "lower",
            "upper",
            "pmf",
            "by_period",
            "renewals",
            "plug_in",
        ],
    );
    no_null_but(&value, &["predictive", "beyond_oldest"]);
    has(
        &value["by_period"][0],
        &["until", "expected", "lower", "upper"],
    );
    assert_eq!(value["by_period"].as_array().unwrap().len(), 3);
}

/// What cannot be forecast is refused, each by its name.
#[test]
fn forecasts_that_make_no_sense_are_refused() {
    let life = Life::weibull(2.2, 300.0).unwrap();
    let some = [Running {
        age: 20.0,
        count: 9,
    }];
    let asked = |running: &[Running], draws: usize, horizon, periods, confidence| {
        let draws = vec![life.clone(); draws];
        let outlook = Outlook {
            running,
            life: &life,
            draws: &draws,
            horizon,
            periods,
            confidence,
            oldest_seen: None,
            with_renewals: false,
        };
        outlook
            .forecast()
            .map(|_| ())
            .map_err(|why| why.to_string())
    };
    assert_eq!(asked(&some, 0, 90.0, 3, 0.9), Ok(()));
    let none = [Running {
        age: 20.0,
        count: 0,
    }];
    let young = [Running {
        age: -1.0,
        count: 9,
    }];
    for (refused, word) in [
        (asked(&some, 0, 0.0, 3, 0.9), "horizon"),
        (asked(&some, 0, 90.0, 3, 1.5), "confidence"),
        (asked(&young, 0, 90.0, 3, 0.9), "age of a running seal"),
        (asked(&none, 0, 90.0, 3, 0.9), "no seal is running"),
        (asked(&some, 0, 90.0, 0, 0.9), "periods"),
        (asked(&some, 10, 90.0, 3, 0.9), "draws"),
    ] {
        let why = refused.unwrap_err();
        assert!(why.contains(word), "{why}");
    }
}

/// Beyond twice the oldest age seen it is said that only the law speaks.
#[test]
fn a_horizon_far_beyond_the_records_is_noted() {
    let life = Life::weibull(2.2, 300.0).unwrap();
    let running = [Running {
        age: 20.0,
        count: 9,
    }];
    let noted = |horizon, oldest_seen| {
        let outlook = Outlook {
            running: &running,
            life: &life,
            draws: &[],
            horizon,
            periods: 1,
            confidence: 0.9,
            oldest_seen,
            with_renewals: false,
        };
        let notes = outlook.forecast().unwrap().notes;
        notes.iter().any(|n| n.contains("only the law speaks"))
    };
    assert!(noted(210.0, Some(100.0)));
    assert!(!noted(190.0, Some(100.0)) && !noted(210.0, None));
}
