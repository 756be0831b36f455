//! Plans in other money and on other clocks are the same plans; ages and steps that no seal reaches are no advice.

use sealspan_care::costs::{Costs, Prices};
use sealspan_care::plan::{Choice, Planner, Request};
use sealspan_care::policy::{CarePolicy, Looks};
use sealspan_care::replacement::Goal;
use sealspan_care::seal::Seal;
use sealspan_care::terms::Handling;
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

/// Invented prices, every sum of money so many times as great.
fn prices(money: f64) -> (Prices, Handling) {
    let prices = Prices {
        planned_cost: 80.0 * money,
        failure_cost: 1500.0 * money,
        planned_hours: 2.0,
        failure_hours: 30.0,
        downtime_cost: 60.0 * money,
        discount_rate: 0.0,
    };
    let handling = Handling {
        inspection_cost: 15.0 * money,
        turn_cost: 5.0 * money,
        opening_hours: 0.5,
        ..Handling::default()
    };
    (prices, handling)
}

fn planner(seal: &Seal, money: f64, request: Request) -> Planner {
    let (prices, handling) = prices(money);
    let costs = Costs::new(prices, Clock::Days).unwrap();
    Planner::new(seal, &costs, &handling, request).unwrap()
}

fn ring() -> Seal {
    let seal = Seal {
        handling_damage: 0.001,
        ..Seal::one_stage(Life::weibull(3.0, 200.0).unwrap())
    };
    seal.with_severities(&[2.0, 1.0, 1.0, 1.0]).unwrap()
}

fn two_stage() -> Seal {
    Seal {
        detection: 0.85,
        handling_damage: 0.01,
        ..Seal::two_stage(
            Life::weibull(2.0, 300.0).unwrap(),
            Life::weibull(2.0, 150.0).unwrap(),
        )
    }
}

const UNITS: [f64; 4] = [1e-7, 1e-3, 1e3, 1e7];

#[test]
fn turns_are_the_same_in_any_money() {
    let request = Request {
        replace: Choice::Never,
        turn: Choice::Free,
        ..Request::default()
    };
    let plain = planner(&ring(), 1.0, request).turn().unwrap();
    let (every, price) = (plain.every.unwrap(), plain.pays_up_to_turn_cost.unwrap());
    for money in UNITS {
        let other = planner(&ring(), money, request).turn().unwrap();
        let off = other.every.unwrap() / every - 1.0;
        assert!(off.abs() < 1e-4, "{money}: {off}");
        let off = other.pays_up_to_turn_cost.unwrap() / (price * money) - 1.0;
        assert!(off.abs() < 1e-3, "{money}: {off}");
    }
}

/// No step of a hundred is cheaper than the one advised, also where an opening's own money decides, and where a planned
/// replacement costs as much as a failure, so that no end of service is cheap.
#[test]
fn no_other_turn_is_cheaper_where_openings_are_dear() {
    for (opening_hours, planned_cost) in [
        (0.0, 80.0),
        (0.2, 80.0),
        (1.0, 80.0),
        (3.0, 80.0),
        (0.0, 1500.0),
        (0.2, 1500.0),
    ] {
        let (prices, handling) = prices(1.0);
        let prices = Prices {
            planned_cost,
            ..prices
        };
        let handling = Handling {
            opening_hours,
            turn_cost: 1.0,
            ..handling
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let request = Request {
            replace: Choice::Never,
            turn: Choice::Free,
            ..Request::default()
        };
        let planner = Planner::new(&ring(), &costs, &handling, request).unwrap();
        let found = planner.turn().unwrap().cost_rate;
        for i in 0..100 {
            let step = 2.0 * 1.06_f64.powi(i);
            let rate = planner.evaluate(&CarePolicy::turn_every(step)).unwrap();
            assert!(
                rate.cost_rate > found * (1.0 - 1e-5),
                "{opening_hours} {planned_cost} {step}: {} {found}",
                rate.cost_rate
            );
        }
    }
}

/// Where turns cost next to nothing the oftener the better: no longer step is cheaper.
#[test]
fn the_cheapest_turns_are_often() {
    let seal = Seal {
        handling_damage: 0.0,
        ..ring()
    };
    let handling = Handling {
        inspection_cost: 0.01,
        turn_cost: 0.01,
        ..Handling::default()
    };
    let costs = Costs::new(prices(1.0).0, Clock::Days).unwrap();
    let request = Request {
        replace: Choice::Never,
        turn: Choice::Free,
        ..Request::default()
    };
    let planner = Planner::new(&seal, &costs, &handling, request).unwrap();
    let found = planner.turn().unwrap().cost_rate;
    for i in 0..60 {
        let step = 1.1_f64.powi(i);
        let rate = planner.evaluate(&CarePolicy::turn_every(step)).unwrap();
        assert!(rate.cost_rate > found * (1.0 - 1e-5), "{step}");
    }
}

/// The same ring on clocks of years, months and hours, with money and hours to match, openings dear.
#[test]
fn turns_are_the_same_on_any_clock() {
    let request = Request {
        replace: Choice::Never,
        turn: Choice::Free,
        ..Request::default()
    };
    let every = |unit: f64| {
        let seal = Seal {
            handling_damage: 0.001,
            ..Seal::one_stage(Life::weibull(3.0, 200.0 * unit).unwrap())
        };
        let seal = seal.with_severities(&[2.0, 1.0, 1.0, 1.0]).unwrap();
        let (plain, plain_handling) = prices(1.0);
        let prices = Prices {
            planned_hours: plain.planned_hours * unit,
            failure_hours: plain.failure_hours * unit,
            downtime_cost: plain.downtime_cost / unit,
            ..plain
        };
        let handling = Handling {
            inspection_cost: 250.0,
            opening_hours: plain_handling.opening_hours * unit,
            ..plain_handling
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let planner = Planner::new(&seal, &costs, &handling, request).unwrap();
        planner.turn().unwrap().every.map(|step| step / unit)
    };
    let days = every(1.0).unwrap();
    for unit in [1.0 / 365.25, 1.0 / 30.0, 24.0] {
        let off = every(unit).unwrap() / days - 1.0;
        assert!(off.abs() < 1e-6, "{unit}: {off}");
    }
}

/// For availability it is the hours that count, whatever an opening or the end of a seal costs.
#[test]
fn turns_for_availability_do_not_mind_money() {
    let request = Request {
        replace: Choice::Never,
        turn: Choice::Free,
        goal: Goal::Availability,
        ..Request::default()
    };
    let step = |inspection_cost: f64, planned_cost: f64| {
        let (prices, handling) = prices(1.0);
        let prices = Prices {
            planned_cost,
            ..prices
        };
        let handling = Handling {
            inspection_cost,
            turn_cost: inspection_cost,
            ..handling
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let planner = Planner::new(&ring(), &costs, &handling, request).unwrap();
        planner.turn().unwrap().every.unwrap()
    };
    let cheap = step(0.0, 80.0);
    for dear in [step(1e4, 80.0), step(1e4, 1e4)] {
        assert!((dear / cheap - 1.0).abs() < 1e-6, "{cheap} {dear}");
    }
}

/// Step and age together, moved until neither gains.
#[test]
fn looks_and_age_are_the_same_in_any_money() {
    let request = Request::default();
    let plain = planner(&two_stage(), 1.0, request).best().unwrap();
    let step = |policy: &CarePolicy| match policy.looks {
        Looks::Every(step) => step,
        _ => panic!("an even step"),
    };
    let (every, age) = (step(&plain.policy), plain.policy.replace_at.unwrap());
    for money in UNITS {
        let other = planner(&two_stage(), money, request).best().unwrap();
        let off = step(&other.policy) / every - 1.0;
        assert!(off.abs() < 1e-3, "{money}: {off}");
        let off = other.policy.replace_at.unwrap() / age - 1.0;
        assert!(off.abs() < 1e-3, "{money}: {off}");
    }
    // No step about the plan's is cheaper, its age kept or moved alike.
    let own = planner(&two_stage(), 1.0, request);
    for factor in [0.9, 0.95, 0.98, 1.02, 1.05, 1.1] {
        for age in [age, age * factor] {
            let policy = CarePolicy {
                looks: Looks::Every(every * factor),
                replace_at: Some(age),
                ..plain.policy.clone()
            };
            let rate = own.evaluate(&policy).unwrap().cost_rate;
            assert!(
                rate > plain.outcome.cost_rate * (1.0 - 1e-6),
                "{factor} {age}: {rate} {}",
                plain.outcome.cost_rate
            );
        }
    }
}

/// Of lives without memory no opportunity and no age is worth taking.
#[test]
fn lives_without_memory_take_no_opportunity() {
    let seal = Seal::one_stage(Life::exponential(100.0).unwrap());
    for between in [5.0, 50.0, 500.0] {
        let answer = planner(&seal, 1.0, Request::default())
            .opportunities(between)
            .unwrap();
        assert_eq!((answer.from_age, answer.replace_at), (None, None));
        assert_eq!(answer.saving, 0.0);
        let given = Request {
            replace: Choice::At(80.0),
            ..Request::default()
        };
        let answer = planner(&seal, 1.0, given).opportunities(between).unwrap();
        assert_eq!(answer.replace_at, Some(80.0));
    }
}

/// A look dearer than a failure: none is worth it, and no step is advised that no seal lives to.
#[test]
fn looks_dearer_than_failures_are_not_advised() {
    let seal = Seal::two_stage(
        Life::weibull(4.0, 300.0).unwrap(),
        Life::weibull(4.0, 100.0).unwrap(),
    );
    let (prices, handling) = prices(1.0);
    let handling = Handling {
        inspection_cost: 1e5,
        ..handling
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let request = Request {
        replace: Choice::Never,
        ..Request::default()
    };
    let planner = Planner::new(&seal, &costs, &handling, request).unwrap();
    assert_eq!(planner.inspect().unwrap().every, None);
}

/// Defects come early and at a constant rate, but seals last ten times as long with them: an age pays, and none of a
/// hundred is cheaper.
#[test]
fn an_age_is_looked_for_as_late_as_seals_last() {
    let seal = Seal::two_stage(
        Life::exponential(10.0).unwrap(),
        Life::weibull(4.0, 200.0).unwrap(),
    );
    let request = Request {
        inspect: Choice::Never,
        turn: Choice::Never,
        ..Request::default()
    };
    let planner = planner(&seal, 1.0, request);
    let plan = planner.best().unwrap();
    let age = plan.policy.replace_at.expect("an age pays");
    for i in 1..=100 {
        let tried = 3.0 * f64::from(i);
        let policy = CarePolicy {
            replace_at: Some(tried),
            ..CarePolicy::run_to_failure()
        };
        let rate = planner.evaluate(&policy).unwrap().cost_rate;
        assert!(
            rate > plan.outcome.cost_rate * (1.0 - 1e-6),
            "{tried} against {age}"
        );
    }
}

/// Looks that cost nothing and find little: the age lies between two of them where that is best, and no other of a hundred
/// about it is cheaper.
#[test]
fn no_age_between_the_looks_about_a_plan_is_cheaper() {
    let (prices, handling) = prices(1.0);
    let handling = Handling {
        inspection_cost: 0.0,
        opening_hours: 0.0,
        ..handling
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let seal = Seal {
        handling_damage: 0.0,
        detection: 0.1,
        ..two_stage()
    };
    let mut after = 0;
    for step in [17.0, 20.0, 23.0] {
        let request = Request {
            inspect: Choice::At(step),
            turn: Choice::Never,
            ..Request::default()
        };
        let planner = Planner::new(&seal, &costs, &handling, request).unwrap();
        let plan = planner.best().unwrap();
        let age = plan.policy.replace_at.expect("an age pays");
        let nearest = (age / step).round() * step;
        after += usize::from(age > nearest);
        for i in -49..=50 {
            let other = CarePolicy {
                replace_at: Some(nearest + f64::from(i) * step / 50.0),
                ..plan.policy.clone()
            };
            let rate = planner.evaluate(&other).unwrap().cost_rate;
            assert!(
                rate > plan.outcome.cost_rate * (1.0 - 1e-6),
                "{step} {age} {i}: {rate} {}",
                plan.outcome.cost_rate
            );
        }
    }
    assert!(after > 0);
}
