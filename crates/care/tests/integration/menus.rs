//! Weighing held against every policy of the menu worked out in every world, by the evaluator alone.

use sealspan_care::calendar::Calendar;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::evaluate::Prepared;
use sealspan_care::plan::{Limits, Request};
use sealspan_care::seal::Seal;
use sealspan_care::terms::{Handling, Terms};
use sealspan_care::weigh::{
    Candidate, MenuRates, RatesQuestion, Weighed, Weighing, menu_rates, weigh,
};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

const HANDLING: Handling = Handling {
    inspection_cost: 4.0,
    turn_cost: 2.0,
    opening_hours: 0.0,
    undetected_cost: 0.0,
    spare_wait_hours: 0.0,
};
const MONTH: f64 = 365.25 / 12.0;

fn costs(failure_cost: f64) -> Costs {
    let prices = Prices {
        planned_cost: 100.0,
        failure_cost,
        ..Prices::default()
    };
    Costs::new(prices, Clock::Days).unwrap()
}

fn weibull(shape: f64, scale: f64) -> Life {
    Life::weibull(shape, scale).unwrap()
}

fn asked(
    seal: &Seal,
    draws: &[Seal],
    failure: f64,
    limits: Limits,
    shortest: Option<f64>,
) -> Weighed {
    weigh(&Weighing {
        seal,
        draws,
        costs: &costs(failure),
        handling: HANDLING,
        request: Request {
            limits,
            ..Request::default()
        },
        calendar: Calendar::Months,
        shortest,
        today: &[],
        counted: None,
        watched: Some(20_000.0),
        confidence: 0.9,
        price_range: 0.25,
    })
    .unwrap()
}

fn menu(seal: &Seal, draws: &[Seal], failure: f64) -> MenuRates {
    let terms = Terms::new(&costs(failure), &HANDLING).unwrap();
    menu_rates(&RatesQuestion {
        seal,
        draws,
        places: &[],
        terms: &terms,
        request: Request::default(),
        clock: Clock::Days,
        calendar: Calendar::Months,
        today: &[],
        counted: None,
    })
    .unwrap()
}

/// Sixty-four worlds so far apart that what is best in one costs much more than the plan on average.
#[test]
fn regret_and_chances_are_those_of_every_policy_in_every_world() {
    let seal = Seal::one_stage(weibull(2.5, 400.0));
    let draws: Vec<Seal> = (0..64)
        .map(|i| {
            let mut stream = Stream::new(7, i);
            let mut near = |x: f64, by: f64| x * (by * stream.normal()).exp();
            Seal::one_stage(weibull(near(2.5, 0.25), near(400.0, 0.5)))
        })
        .collect();
    let terms = Terms::new(&costs(2000.0), &HANDLING).unwrap();
    let policies: Vec<Candidate> = menu(&seal, &draws, 2000.0)
        .policies
        .iter()
        .map(|p| p.policy)
        .collect();
    let outcomes: Vec<Vec<_>> = draws
        .iter()
        .map(|seal| {
            let model = Prepared::new(seal).unwrap();
            let of = |p: &Candidate| model.evaluate(&p.policy(1), &terms).unwrap();
            policies.iter().map(of).collect()
        })
        .collect();
    let worlds = outcomes.len() as f64;
    let mean = |i: usize| outcomes.iter().map(|w| w[i].cost_rate).sum::<f64>() / worlds;
    let least = |of: &dyn Fn(usize) -> f64| {
        let all = 0..policies.len();
        all.min_by(|a, b| of(*a).total_cmp(&of(*b))).unwrap()
    };
    let chosen = least(&mean);
    let best: Vec<usize> = outcomes
        .iter()
        .map(|w| least(&|i| w[i].cost_rate))
        .collect();
    let regret = outcomes.iter().zip(&best);
    let regret = regret
        .map(|(w, b)| w[chosen].cost_rate - w[*b].cost_rate)
        .sum::<f64>()
        / worlds;
    let found = asked(&seal, &draws, 2000.0, Limits::default(), None);
    assert_eq!(found.plan, policies[chosen]);
    assert!(
        (found.regret.mean / regret - 1.0).abs() < 0.01,
        "{:?} {regret}",
        found.regret
    );
    // Whatever is best in one of so few worlds has chance enough to be listed.
    let chances: f64 = found.options.iter().map(|o| o.chance_best).sum();
    assert!((chances - 1.0).abs() < 1e-9 && found.options.len() > 3);
    // A limit that the plan keeps on average, in some worlds and not in others.
    let failed = |i: usize| outcomes.iter().map(|w| w[i].failed).sum::<f64>() / worlds;
    let most = 0.7 * failed(chosen);
    let limits = Limits {
        most_failure_probability: Some(most),
        ..Limits::default()
    };
    let limited = asked(&seal, &draws, 2000.0, limits, None);
    let within: Vec<usize> = (0..policies.len()).filter(|i| failed(*i) <= most).collect();
    let want = within
        .into_iter()
        .min_by(|a, b| mean(*a).total_cmp(&mean(*b)))
        .unwrap();
    assert_eq!(limited.plan, policies[want]);
    let keeping = outcomes.iter().filter(|w| w[want].failed <= most).count() as f64 / worlds;
    assert!((limited.chance_of_keeping_limits.unwrap() - keeping).abs() < 1e-9);
    assert!(keeping > 0.1 && keeping < 0.9);
}

/// Ages go as far as three lives of both stages together, and no two that go with monthly looks are nearly alike.
#[test]
fn menus_reach_three_lives() {
    let seal = Seal::two_stage(weibull(2.0, 300.0), weibull(2.0, 200.0));
    let life = weibull(2.0, 300.0).mean() + weibull(2.0, 200.0).mean();
    let all = menu(&seal, &vec![seal.clone(); 20], 2000.0).policies;
    let ages = |looks: Option<f64>| -> Vec<f64> {
        let own = all.iter().filter(|p| p.policy.inspect_every == looks);
        own.filter_map(|p| p.policy.replace_at).collect()
    };
    let oldest = ages(None).into_iter().fold(0.0, f64::max);
    assert!(
        oldest <= 3.0 * life && oldest > 2.5 * life,
        "{oldest} {life}"
    );
    let monthly = ages(Some(MONTH));
    assert!(monthly.last().unwrap() > &(2.8 * life), "{monthly:?}");
    assert!(
        monthly.windows(2).all(|w| w[1] > 1.04 * w[0]),
        "{monthly:?}"
    );
}

/// A step that is just the least that a site can do is on the menu, for looks and for replacements.
#[test]
fn the_least_step_is_on_the_menu() {
    let seal = Seal::one_stage(weibull(4.0, 210.0));
    let same = vec![seal.clone(); 20];
    let found = asked(&seal, &same, 1e8, Limits::default(), Some(MONTH));
    assert!(
        (found.plan.replace_at.unwrap() - MONTH).abs() < 1e-9,
        "{:?}",
        found.plan
    );
    let seal = Seal {
        detection: 1.0,
        ..Seal::two_stage(weibull(1.0, 500.0), weibull(3.0, 80.0))
    };
    let same = vec![seal.clone(); 20];
    let found = asked(&seal, &same, 1e8, Limits::default(), Some(MONTH));
    assert!(
        (found.plan.inspect_every.unwrap() - MONTH).abs() < 1e-9,
        "{:?}",
        found.plan
    );
}
