//! Speed of the simulator and the planner: `cargo bench --workspace --bench care`.
#![allow(clippy::unwrap_used)]

use divan::Bencher;
use divan::counter::ItemsCount;
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::plan::{Planner, Request};
use sealspan_care::policy::{CarePolicy, Policy};
use sealspan_care::seal::Seal;
use sealspan_care::simulate::{play, simulate};
use sealspan_care::terms::{Handling, Terms};
use sealspan_care::weigh::{Weighing, weigh};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

fn main() {
    divan::main();
}

const PRICES: Prices = Prices {
    planned_cost: 300.0,
    failure_cost: 3000.0,
    planned_hours: 8.0,
    failure_hours: 24.0,
    downtime_cost: 60.0,
    discount_rate: 0.0,
};

const HANDLING: Handling = Handling {
    inspection_cost: 20.0,
    turn_cost: 2.0,
    opening_hours: 1.0,
    undetected_cost: 0.0,
    spare_wait_hours: 0.0,
};

/// An invented door gasket that shows its wear before it leaks.
fn gasket() -> Seal {
    let defect = Life::weibull(2.0, 300.0).unwrap();
    let delay = Life::weibull(2.0, 90.0).unwrap();
    Seal {
        detection: 0.9,
        ..Seal::two_stage(defect, delay)
    }
}

/// Seals played a second: Weibull lives replaced at an age.
#[divan::bench(args = [10_000_000])]
fn seals_replaced_at_an_age(bencher: Bencher, count: usize) {
    let life = Life::weibull(2.5, 400.0).unwrap();
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    bencher
        .counter(ItemsCount::new(count))
        .bench(|| simulate(&life, Policy::ReplaceAtAge(200.0), &costs, count, 1).unwrap());
}

/// Seals played a second: two stages, looked at every 50 days.
#[divan::bench(args = [1_000_000])]
fn seals_inspected(bencher: Bencher, count: usize) {
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let terms = Terms::new(&costs, &HANDLING).unwrap();
    let (seal, policy) = (gasket(), CarePolicy::inspect_every(50.0));
    bencher
        .counter(ItemsCount::new(count))
        .bench(|| play(&seal, &policy, &terms, count, 1).unwrap());
}

/// Policies of the calendar weighed over 200 lives drawn about an invented gasket on an uneven ring.
#[divan::bench]
fn policies_weighed(bencher: Bencher) {
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let of = |i: u64| {
        let mut stream = Stream::new(7, i);
        let mut near = |x: f64| x * (0.1 * stream.normal()).exp();
        let onset = Life::weibull(near(2.0), near(300.0)).unwrap();
        let delay = Life::weibull(near(2.0), near(90.0)).unwrap();
        Seal {
            detection: 0.9,
            handling_damage: 0.005,
            ..Seal::two_stage(onset, delay)
        }
        .with_severities(&[1.5, 1.0, 1.0, 1.0])
        .unwrap()
    };
    let draws: Vec<Seal> = (0..200).map(of).collect();
    let centre = gasket().with_severities(&[1.5, 1.0, 1.0, 1.0]).unwrap();
    bencher.bench(|| {
        weigh(&Weighing {
            seal: &centre,
            draws: &draws,
            costs: &costs,
            handling: HANDLING,
            request: Request::default(),
            calendar: Calendar::Months,
            shortest: None,
            today: &[],
            counted: None,
            watched: Some(1e5),
            confidence: 0.9,
            price_range: 0.25,
        })
        .unwrap()
    });
}

/// The best plan of inspections and a replacement age, and with turns of an uneven ring.
#[divan::bench(args = [false, true])]
fn best_plan(bencher: Bencher, ring: bool) {
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let seal = if ring {
        gasket().with_severities(&[1.5, 1.0, 1.0, 1.0]).unwrap()
    } else {
        gasket()
    };
    bencher.bench(|| {
        let planner = Planner::new(&seal, &costs, &HANDLING, Request::default()).unwrap();
        planner.best().unwrap()
    });
}
