//! Long tails: closing a cycle by the fate of one gap agrees with walking it look by look, and ages that hardly a seal
//! reaches are not advised.

use sealspan_care::costs::{Costs, Prices};
use sealspan_care::evaluate::Prepared;
use sealspan_care::plan::{Planner, Request};
use sealspan_care::policy::{CarePolicy, Looks};
use sealspan_care::seal::Seal;
use sealspan_care::terms::{Event, Handling, Terms};
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

fn terms() -> Terms {
    let event = |money: f64, down: f64| Event { money, down };
    Terms {
        planned: event(300.0, 0.3),
        failed: event(3000.0, 1.0),
        found: event(300.0, 0.3),
        damaged: event(300.0, 0.3),
        opening: event(10.0, 0.05),
        look: 20.0,
        ..Terms::default()
    }
}

/// A replacement age that no seal reaches keeps the tail from being closed: both give the same figures.
#[test]
fn closed_and_walked_tails_agree() {
    let laws = [
        Life::lognormal(5.7, 0.9).unwrap(),
        Life::parse("loglogistic:shape=6,scale=300").unwrap(),
        Life::weibull(0.8, 300.0).unwrap(),
    ];
    for law in laws {
        for (detection, delay) in [
            (0.9, Life::weibull(2.0, 90.0).unwrap()),
            (0.4, Life::lognormal(4.0, 0.7).unwrap()),
        ] {
            let seal = Seal {
                detection,
                ..Seal::two_stage(law.clone(), delay)
            };
            let model = Prepared::new(&seal).unwrap();
            let policy = CarePolicy::inspect_every(60.0);
            let closed = model.evaluate(&policy, &terms()).unwrap();
            let walked = CarePolicy {
                replace_at: Some(model.oldest().min(59_000.0 * 60.0)),
                ..policy
            };
            let walked = model.evaluate(&walked, &terms()).unwrap();
            for (a, b) in [
                (closed.cost_rate, walked.cost_rate),
                (closed.mean_service, walked.mean_service),
                (closed.inspections_per_cycle, walked.inspections_per_cycle),
                (closed.found, walked.found),
                (closed.failed, walked.failed),
            ] {
                assert!((a / b - 1.0).abs() < 2e-8, "{seal:?}: {a} against {b}");
            }
        }
    }
}

/// Looks at stated ages, evenly from the last one on, meet the same ends as even looks from the first.
#[test]
fn a_schedule_that_ends_evenly_is_closed_too() {
    let seal = Seal {
        detection: 0.8,
        ..Seal::two_stage(
            Life::lognormal(5.7, 0.9).unwrap(),
            Life::weibull(2.0, 90.0).unwrap(),
        )
    };
    let model = Prepared::new(&seal).unwrap();
    let even = CarePolicy::inspect_every(60.0);
    let stated = CarePolicy {
        looks: Looks::At((1..=10).map(|m| 60.0 * f64::from(m)).collect()),
        ..even.clone()
    };
    let a = model.evaluate(&even, &terms()).unwrap();
    let b = model.evaluate(&stated, &terms()).unwrap();
    assert!((a.cost_rate / b.cost_rate - 1.0).abs() < 1e-9);
}

/// A falling hazard late in life makes some late age the least by a hair; it is not advised.
#[test]
fn no_age_that_hardly_a_seal_reaches() {
    let prices = Prices {
        planned_cost: 300.0,
        failure_cost: 3000.0,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let seal = Seal::two_stage(
        Life::parse("loglogistic:shape=2.5,scale=300").unwrap(),
        Life::weibull(2.0, 90.0).unwrap(),
    );
    let handling = Handling {
        inspection_cost: 20.0,
        ..Handling::default()
    };
    let plan = Planner::new(&seal, &costs, &handling, Request::default())
        .unwrap()
        .best()
        .unwrap();
    assert!(plan.policy.looks.after(0.0).is_some());
    assert!(
        plan.policy.replace_at.is_none_or(|age| age < 5_000.0),
        "{plan:?}"
    );
}
