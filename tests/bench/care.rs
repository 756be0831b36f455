//! Speed of the simulator and the planner: `cargo bench --workspace --bench care`.
#![allow(clippy::unwrap_used)]

mod gasket;

use divan::Bencher;
use divan::counter::ItemsCount;
use gasket::{HANDLING, PRICES, gasket, on_an_uneven_ring};
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::Costs;
use sealspan_care::plan::{Planner, Request};
use sealspan_care::policy::{CarePolicy, Policy};
use sealspan_care::seal::Seal;
use sealspan_care::simulate::{play, simulate};
use sealspan_care::terms::Terms;
use sealspan_care::weigh::{Weighing, weigh};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

fn main() {
    divan::main();
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
    let centre = on_an_uneven_ring();
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
    let seal = if ring { on_an_uneven_ring() } else { gasket() };
    bencher.bench(|| {
        let planner = Planner::new(&seal, &costs, &HANDLING, Request::default()).unwrap();
        planner.best().unwrap()
    });
}
