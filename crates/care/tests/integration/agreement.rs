//! The evaluator and the simulator agree, and the evaluator's answers make sense at the edges.

use sealspan_care::costs::{Costs, Prices};
use sealspan_care::policy::Policy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::simulate::simulate;
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

const PRICES: Prices = Prices {
    planned_cost: 120.0,
    failure_cost: 400.0,
    planned_hours: 6.0,
    failure_hours: 40.0,
    downtime_cost: 15.0,
    discount_rate: 0.08,
};

fn costs() -> Costs {
    Costs::new(PRICES, Clock::Days).unwrap()
}

fn lives() -> Vec<Life> {
    vec![
        Life::weibull(2.5, 400.0).unwrap(),
        Life::weibull(0.8, 300.0).unwrap(),
        Life::exponential(250.0).unwrap(),
        Life::lognormal(5.5, 0.6).unwrap(),
    ]
}

/// Within four standard errors for each life and policy; seeds fixed.
#[test]
fn simulator_and_evaluator_agree() {
    for (i, life) in lives().iter().enumerate() {
        let evaluator = Evaluator::new(life, &costs(), Goal::Cost).unwrap();
        for (j, age) in [60.0, 200.0, 900.0].into_iter().enumerate() {
            let seed = (10 * i + j) as u64;
            let seen = simulate(life, Policy::ReplaceAtAge(age), &costs(), 200_000, seed).unwrap();
            let z = (seen.cost_rate - evaluator.cost_rate(age)) / seen.std_error;
            assert!(z.abs() < 4.0, "{life:?} replaced at {age}: z = {z}");
            let failed = evaluator.ladder().at(age).failed;
            let spread = (failed * (1.0 - failed) / 200_000.0).sqrt();
            assert!((seen.failed - failed).abs() <= 4.0 * spread);
        }
        let seen = simulate(life, Policy::RunToFailure, &costs(), 200_000, 77 + i as u64).unwrap();
        let run = evaluator.run_to_failure().cost_rate;
        assert!((seen.cost_rate - run).abs() < 4.0 * seen.std_error);
    }
}

/// The standard error shrinks as one over the root of the number of seals, and the seed decides all.
#[test]
fn standard_error_and_seed() {
    let life = Life::weibull(2.0, 100.0).unwrap();
    let run = |n, seed| simulate(&life, Policy::ReplaceAtAge(80.0), &costs(), n, seed).unwrap();
    let ratio = run(10_000, 5).std_error / run(160_000, 5).std_error;
    assert!((ratio - 4.0).abs() < 0.2, "{ratio}");
    assert_eq!(run(10_000, 5), run(10_000, 5));
    assert_ne!(run(10_000, 5), run(10_000, 6));
    assert!(simulate(&life, Policy::RunToFailure, &costs(), 5, 1).is_err());
}

/// Present value of an exponential life in closed form, hours down included; then as a check of the
/// whole formula the present value times the rate tends to the cost rate as the rate tends to zero.
#[test]
fn present_value() {
    let life = Life::exponential(250.0).unwrap();
    let evaluator = Evaluator::new(&life, &costs(), Goal::Cost).unwrap();
    let delta = 0.08 / 365.25;
    let failed = 1.0 / (1.0 + delta * 250.0);
    let down: f64 = delta * 40.0 / 24.0;
    let want = 1000.0 * failed / (1.0 - failed * (-down).exp());
    let got = evaluator.run_to_failure().present_value.unwrap();
    assert!((got / want - 1.0).abs() < 1e-10, "{got} against {want}");
    let patient = Prices {
        discount_rate: 1e-7,
        ..PRICES
    };
    let costs = Costs::new(patient, Clock::Days).unwrap();
    let life = Life::weibull(2.5, 400.0).unwrap();
    let best = Evaluator::new(&life, &costs, Goal::Cost)
        .unwrap()
        .best()
        .unwrap();
    let yearly = best.present_value.unwrap() * 1e-7 / 365.25;
    assert!((yearly / best.cost_rate - 1.0).abs() < 1e-6);
}

#[test]
fn never_replacing_says_why() {
    let ask = |life: Life, failure_cost: f64| {
        let prices = Prices {
            planned_cost: 1.0,
            failure_cost,
            ..Prices::default()
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        Evaluator::new(&life, &costs, Goal::Cost)
            .unwrap()
            .best()
            .unwrap()
    };
    let flat = ask(Life::exponential(100.0).unwrap(), 20.0);
    assert!(flat.age.is_none() && flat.reason.unwrap().contains("does not rise"));
    assert_eq!(flat.failure_probability, 1.0);
    let falling = ask(Life::weibull(0.7, 100.0).unwrap(), 20.0);
    assert!(falling.age.is_none() && falling.reason.unwrap().contains("does not rise"));
    assert!(falling.pays_from_ratio.is_none());
    let cheap = ask(Life::weibull(3.0, 100.0).unwrap(), 1.0);
    assert!(cheap.age.is_none() && cheap.reason.unwrap().contains("does not cost more"));
    // Shape 1.5 at ratio 2 has an optimum, which saves 0.16 % only.
    let hardly = ask(Life::weibull(1.5, 100.0).unwrap(), 2.0);
    assert!(
        hardly.age.is_some() && hardly.notes[0].contains("Hardly worth doing: it saves 0.16 %")
    );
    assert_eq!(hardly.flat_zone.unwrap().1, None);
}

#[test]
fn flat_zone_and_break_even() {
    let prices = Prices {
        planned_cost: 1.0,
        failure_cost: 10.0,
        ..Prices::default()
    };
    let life = Life::weibull(2.5, 400.0).unwrap();
    let ask = |failure_cost: f64| {
        let costs = Costs::new(
            Prices {
                failure_cost,
                ..prices
            },
            Clock::Days,
        )
        .unwrap();
        Evaluator::new(&life, &costs, Goal::Cost).unwrap()
    };
    let evaluator = ask(10.0);
    let best = evaluator.best().unwrap();
    let (low, high) = best.flat_zone.unwrap();
    for edge in [low, high.unwrap()] {
        assert!((evaluator.cost_rate(edge) / best.cost_rate - 1.02).abs() < 1e-9);
    }
    assert!(low < best.age.unwrap() && best.age.unwrap() < high.unwrap());
    // At the break-even ratio the saving is 1 %.
    let at_break_even = ask(best.pays_from_ratio.unwrap()).best().unwrap();
    assert!((at_break_even.saving - 0.01).abs() < 1e-9);
}

#[test]
fn given_age_is_judged() {
    let life = Life::weibull(2.5, 400.0).unwrap();
    let evaluator = Evaluator::new(&life, &costs(), Goal::Cost).unwrap();
    let best = evaluator.best().unwrap();
    let given = evaluator.given(350.0).unwrap();
    assert_eq!(given.age, Some(350.0));
    assert_eq!(given.flat_zone, best.flat_zone);
    assert!(given.cost_rate > best.cost_rate && given.notes[0].contains("best one"));
    assert!(evaluator.given(-3.0).unwrap_err().is_input());
}

/// The greatest availability, looked for directly; and the refusals.
#[test]
fn availability_goal() {
    let life = Life::weibull(2.5, 400.0).unwrap();
    let evaluator = Evaluator::new(&life, &costs(), Goal::Availability).unwrap();
    let best = evaluator.best().unwrap();
    for step in 1..400 {
        let other = evaluator.given(f64::from(step) * 3.0).unwrap();
        assert!(other.availability.unwrap() <= best.availability.unwrap() + 1e-12);
    }
    assert!(best.availability.unwrap() > evaluator.run_to_failure().availability.unwrap());
    let cycles = Costs::new(PRICES, Clock::Cycles).unwrap();
    let refused = Evaluator::new(&life, &cycles, Goal::Availability).unwrap_err();
    assert!(refused.is_no_answer());
    let by_cost = Evaluator::new(&life, &cycles, Goal::Cost)
        .unwrap()
        .best()
        .unwrap();
    assert!(by_cost.availability.is_none() && by_cost.left_out_reason.unwrap().contains("cycle"));
}

#[test]
fn free_or_unpriced_downtime_is_refused() {
    let life = Life::weibull(2.5, 400.0).unwrap();
    let best = |prices: Prices| {
        let costs = Costs::new(prices, Clock::Days).unwrap();
        Evaluator::new(&life, &costs, Goal::Cost).unwrap().best()
    };
    let free = Prices {
        failure_cost: 5.0,
        ..Prices::default()
    };
    assert!(best(free).unwrap_err().is_input());
    let long = Prices {
        planned_cost: 1.0,
        failure_cost: 50.0,
        planned_hours: 24_000.0,
        ..Prices::default()
    };
    assert!(best(long).unwrap_err().is_no_answer());
}
