//! What a plan is the best of: every policy of its kinds worked out one by one, whatever the goal and the clock.

use crate::gasket::{HANDLING, PRICES};
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::evaluate::{Prepared, evaluate};
use sealspan_care::plan::{Choice, Limits, MeasuredQuestion, Planner, Request, best_measured};
use sealspan_care::policy::{CarePolicy, Looks, Turn};
use sealspan_care::replacement::Goal;
use sealspan_care::seal::{Paths, Seal};
use sealspan_care::terms::{Event, Handling, Terms};
use sealspan_care::weigh::{Input, Weighed, Weighing, weigh};
use sealspan_life::degradation::{Limit, Scale};
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

fn handling(inspection_cost: f64) -> Handling {
    Handling {
        inspection_cost,
        ..HANDLING
    }
}

/// Turns every 60 days and an age of 480 are given, looks are free: the plan is the cheapest of no look, a look at each
/// first, second, third or fourth turn, and two, three or four looks a turn.
#[test]
fn free_looks_go_with_stated_turns() {
    let mut chosen = vec![];
    for (delay, inspection_cost) in [(150.0, 20.0), (300.0, 200.0), (500.0, 300.0), (40.0, 2.0)] {
        let seal = Seal {
            detection: 0.9,
            handling_damage: 0.001,
            ..Seal::two_stage(
                Life::weibull(2.0, 300.0).unwrap(),
                Life::weibull(2.0, delay).unwrap(),
            )
        };
        let seal = seal.with_severities(&[1.5, 1.0, 1.0, 1.0]).unwrap();
        let prices = Prices {
            downtime_cost: 5.0,
            failure_cost: 4000.0,
            ..PRICES
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let handling = Handling {
            opening_hours: 0.1,
            ..handling(inspection_cost)
        };
        let request = Request {
            turn: Choice::At(60.0),
            replace: Choice::At(480.0),
            ..Request::default()
        };
        let planner = Planner::new(&seal, &costs, &handling, request).unwrap();
        let plan = planner.best().unwrap();
        let looks = [1.0, 2.0, 3.0, 4.0]
            .into_iter()
            .flat_map(|n| [60.0 * n, 60.0 / n])
            .map(Looks::Every);
        let terms = Terms::new(&costs, &handling).unwrap();
        let model = Prepared::new(&seal).unwrap();
        let (least, best) = looks
            .chain([Looks::Never])
            .map(|looks| {
                let policy = CarePolicy {
                    looks: looks.clone(),
                    turn: Some(Turn { every: 60.0, by: 1 }),
                    replace_at: Some(480.0),
                    ..CarePolicy::run_to_failure()
                };
                (model.evaluate(&policy, &terms).unwrap().cost_rate, looks)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap();
        assert!(
            (plan.outcome.cost_rate / least - 1.0).abs() < 1e-9,
            "{} instead of {least} with {best:?}",
            plan.outcome.cost_rate
        );
        chosen.push(best);
    }
    // The four cases are unlike each other, so that each kind is told apart.
    let rarer = |l: &Looks| matches!(l, Looks::Every(e) if *e > 61.0);
    let oftener = |l: &Looks| matches!(l, Looks::Every(e) if *e < 59.0);
    assert!(
        chosen.iter().any(rarer) && chosen.iter().any(oftener),
        "{chosen:?}"
    );
}

fn ask(
    law: &dyn Fn(f64) -> Life,
    clock: Clock,
    goal: Goal,
    limits: Limits,
) -> Result<Weighed, String> {
    let draws: Vec<Seal> = (0..30)
        .map(|i| Seal::one_stage(law(0.9 + 0.2 * f64::from(i) / 29.0)))
        .collect();
    let answer = weigh(&Weighing {
        seal: &Seal::one_stage(law(1.0)),
        draws: &draws,
        costs: &Costs::new(PRICES, clock).unwrap(),
        handling: handling(20.0),
        request: Request {
            inspect: Choice::Never,
            goal,
            limits,
            ..Request::default()
        },
        calendar: Calendar::Months,
        shortest: None,
        today: &[],
        counted: None,
        watched: Some(30_000.0),
        confidence: 0.9,
        price_range: 0.25,
    });
    answer.map_err(|e| e.to_string())
}

/// With time up as the goal, measures are shares of time down, and no age on the menu is down less on average.
#[test]
fn the_plan_of_least_time_down() {
    let law = |stretch: f64| Life::weibull(3.0, 300.0 * stretch).unwrap();
    let weighed = ask(&law, Clock::Days, Goal::Availability, Limits::default()).unwrap();
    let terms = Terms::new(&Costs::new(PRICES, Clock::Days).unwrap(), &handling(20.0)).unwrap();
    let down = |policy: &CarePolicy| {
        let of = |i: u32| {
            let seal = Seal::one_stage(law(0.9 + 0.2 * f64::from(i) / 29.0));
            1.0 - evaluate(&seal, policy, &terms).unwrap().availability
        };
        (0..30).map(of).sum::<f64>() / 30.0
    };
    let plan = down(&weighed.plan.policy(1));
    assert!((weighed.then.mean / plan - 1.0).abs() < 1e-5);
    assert!((weighed.availability - (1.0 - plan)).abs() < 1e-7);
    let month = 365.25 / 12.0;
    for months in 1..24 {
        let age = CarePolicy {
            replace_at: Some(f64::from(months) * month),
            ..CarePolicy::run_to_failure()
        };
        assert!(down(&age) >= plan * (1.0 - 1e-6), "{months} months");
    }
}

/// A lognormal life's inputs are its median e^μ and 1/σ; moved to an end of their range, the plan costs what the moved
/// law says.
#[test]
fn a_lognormal_life_is_moved_by_its_median_and_its_spread() {
    let law = |stretch: f64| Life::lognormal((300.0 * stretch).ln(), 0.4).unwrap();
    let weighed = ask(&law, Clock::Days, Goal::Cost, Limits::default()).unwrap();
    let of = |input: Input| weighed.swings.iter().find(|s| s.input == input).unwrap();
    let (life, shape) = (of(Input::Life), of(Input::LifeShape));
    assert!((life.value - 300.0).abs() < 1e-9 && (shape.value - 2.5).abs() < 1e-12);
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let terms = Terms::new(&costs, &handling(20.0)).unwrap();
    let cost = |median: f64, spread: f64| {
        let seal = Seal::one_stage(Life::lognormal(median.ln(), spread).unwrap());
        let plan = weighed.plan.policy(1);
        evaluate(&seal, &plan, &terms).unwrap().cost_rate
    };
    for (got, want) in [
        (life.plan_at_low, cost(life.low, 0.4)),
        (life.plan_at_high, cost(life.high, 0.4)),
        (shape.plan_at_low, cost(300.0, 1.0 / shape.low)),
        (shape.plan_at_high, cost(300.0, 1.0 / shape.high)),
    ] {
        assert!((got / want - 1.0).abs() < 1e-4, "{got} instead of {want}");
    }
}

/// Watching more is counted in seal-months on clocks that have months: of hours 24 times as many make one.
#[test]
fn more_watching_is_told_in_months_where_the_clock_has_them() {
    let months = |clock: Clock| {
        let law = |stretch: f64| Life::weibull(2.0, 300.0 * stretch.powi(8)).unwrap();
        let more = ask(&law, clock, Goal::Cost, Limits::default()).unwrap();
        more.more_watching
            .and_then(|m| m.seal_time.filter(|t| *t > 0.0).zip(m.seal_months))
    };
    let (time, seal_months) = months(Clock::Days).expect("days have months");
    assert!(
        (time / seal_months - 365.25 / 12.0).abs() < 1e-9,
        "{time} {seal_months}"
    );
    let (time, seal_months) = months(Clock::Hours).expect("hours have months");
    assert!((time / seal_months - 24.0 * 365.25 / 12.0).abs() < 1e-9);
    assert_eq!(months(Clock::Cycles), None);
}

/// A limit that nothing keeps is refused with how near the nearest policy comes, of each limit asked.
#[test]
fn limits_that_nothing_keeps_are_told_one_by_one() {
    let law = |stretch: f64| Life::weibull(3.0, 300.0 * stretch).unwrap();
    let refused = |most: Option<f64>, least: Option<f64>| {
        let limits = Limits {
            most_failure_probability: most,
            least_availability: least,
        };
        ask(&law, Clock::Days, Goal::Cost, limits).unwrap_err()
    };
    let up = refused(None, Some(0.99999));
    assert!(
        up.contains("up where at least 0.99999") && !up.contains("fail where"),
        "{up}"
    );
    let fail = refused(Some(1e-9), None);
    assert!(
        fail.contains("fail where at most") && !fail.contains("of the time is up"),
        "{fail}"
    );
    // A failure chance that the nearest policy keeps is not among what is missed.
    let kept = refused(Some(0.9), Some(0.99999));
    assert!(
        kept.contains("of the time is up") && !kept.contains("fail where"),
        "{kept}"
    );
}

/// A measured seal with time up as the goal: no look, limit and age of a small menu is down less.
#[test]
fn a_measured_plan_of_least_time_down() {
    let limit = Limit {
        value: 10.0,
        rising: false,
    };
    let paths = Paths::new(limit, Scale::Plain, (20.0, -0.01), (0.04, 0.0, 1e-5), 0.1).unwrap();
    let seal = Seal::measured(paths);
    let event = |money: f64, down: f64| Event { money, down };
    let terms = Terms {
        planned: event(100.0, 0.2),
        found: event(100.0, 0.2),
        failed: event(2000.0, 8.0),
        opening: event(0.0, 0.01),
        look: 1.0,
        ..Terms::default()
    };
    let ages = vec![400.0, 600.0, 800.0, 1200.0];
    let ask = |goal: Goal, replace_at: Option<f64>| {
        let question = MeasuredQuestion {
            steps: vec![60.0, 120.0],
            ages: ages.clone(),
            replace_at,
            limit: Some(12.5),
            resolution: 0.0,
            goal,
            limits: Limits::default(),
        };
        best_measured(&seal, &terms, &question).unwrap()
    };
    let down = |step: f64, age: f64| {
        let policy = CarePolicy {
            looks: Looks::Every(step),
            replace_within: Some(2.5),
            replace_at: Some(age),
            ..CarePolicy::run_to_failure()
        };
        1.0 - evaluate(&seal, &policy, &terms).unwrap().availability
    };
    let plan = ask(Goal::Availability, None);
    let found = 1.0 - plan.plan.outcome.availability;
    for step in [60.0, 120.0] {
        for age in &ages {
            assert!(down(step, *age) >= found * (1.0 - 1e-6), "{step} {age}");
        }
    }
    // A stated age is kept, whatever a shorter one would come to.
    let stated = ask(Goal::Availability, Some(1200.0)).plan;
    assert_eq!(stated.policy.replace_at, Some(1200.0));
    let least = down(60.0, 1200.0).min(down(120.0, 1200.0));
    assert!(((1.0 - stated.outcome.availability) / least - 1.0).abs() < 1e-6);
}
