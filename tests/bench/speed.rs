//! Times of the library's large sums, without files: `cargo bench --workspace --bench speed`.
//! Invented lives: Weibull, shape 1.8, scale 1000, censored uniformly over 0 to 2000 or looked at now and
//! then.
#![allow(clippy::unwrap_used)]

use divan::Bencher;
use divan::counter::ItemsCount;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::plan::{Planner, Request};
use sealspan_care::policy::{CarePolicy, Policy};
use sealspan_care::seal::Seal;
use sealspan_care::simulate::{play, simulate};
use sealspan_care::terms::{Handling, Terms};
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::fit::fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::product_limit;
use sealspan_life::quantity::Quantity;
use sealspan_life::refits::Refits;
use sealspan_life::resample::Pattern;
use sealspan_life::turnbull;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;
use sealspan_records::{Observation, Sample};

fn main() {
    divan::main();
}

/// Right-censored lives with ages that are all different.
fn lives(count: usize) -> Sample {
    let mut stream = Stream::new(42, 0);
    let rows = (0..count).map(|_| {
        let life = 1000.0 * stream.exponential().powf(1.0 / 1.8);
        let censored = 2000.0 * stream.uniform();
        if life <= censored {
            Observation::exact(life, 0.0, 1.0).unwrap()
        } else {
            Observation::right(censored, 0.0, 1.0).unwrap()
        }
    });
    Sample::new(rows.collect())
}

#[divan::bench(args = [1_000, 100_000, 1_000_000])]
fn product_limit_curve(bencher: Bencher, count: usize) {
    let sample = lives(count);
    bencher.bench(|| product_limit::curve(&sample, 0.9));
}

/// Weibull fit with profile bounds of both parameters and of the B10 life.
#[divan::bench(args = [1_000, 100_000, 1_000_000])]
fn weibull_with_profile_bounds(bencher: Bencher, count: usize) {
    let sample = lives(count);
    let weibull = by_name("weibull").unwrap();
    let asked = [
        Quantity::Parameter(0),
        Quantity::Parameter(1),
        Quantity::Quantile(0.1),
    ];
    bencher.bench(|| {
        let fit = fit(weibull, &sample).unwrap();
        asked.map(|quantity| bounds(&fit, quantity, Method::Profile, 0.9))
    });
}

/// Days of the looks: at most this many distinct ones.
const DAYS: usize = 2_000;

/// Invented seals looked at up to eight times, at a gap of 1 to 400 days of their own; `noticed` of the
/// failures are noticed on the day itself.
fn looked_at(count: usize, noticed: f64) -> Sample {
    let mut stream = Stream::new(42, 1);
    let rows = (0..count).map(|_| {
        let life = 1000.0 * stream.exponential().powf(1.0 / 1.8);
        let gap = 1 + stream.below(400);
        let first = 1 + stream.below(gap);
        let looks = 1 + stream.below(8);
        let days = (0..looks).map(|k| (first + k * gap).min(DAYS) as f64);
        let sound = days.clone().take_while(|d| *d < life).last().unwrap_or(0.0);
        match days.clone().find(|d| *d >= life) {
            Some(_) if stream.uniform() < noticed => Observation::exact(life.ceil(), 0.0, 1.0),
            Some(found) => Observation::interval(sound, found, 0.0, 1.0),
            None => Observation::right(sound, 0.0, 1.0),
        }
        .unwrap()
    });
    Sample::new(rows.collect())
}

/// Overlapping inspection intervals.
#[divan::bench(args = [1_000, 10_000, 100_000])]
fn turnbull_inspections(bencher: Bencher, count: usize) {
    let sample = looked_at(count, 0.0);
    bencher.bench(|| turnbull::curve(&sample, 0.9));
}

/// The same with one failure in ten seen on its day, so that almost every day carries mass.
#[divan::bench(args = [1_000, 10_000, 100_000])]
fn turnbull_inspections_and_exact_days(bencher: Bencher, count: usize) {
    let sample = looked_at(count, 0.1);
    bencher.bench(|| turnbull::curve(&sample, 0.9));
}

/// Refits of a 200-row sample by the parametric bootstrap.
#[divan::bench(args = [10_000])]
fn refits_of_200_rows(bencher: Bencher, count: usize) {
    let sample = lives(200);
    let fit = fit(by_name("weibull").unwrap(), &sample).unwrap();
    let pattern = Pattern::of(&sample).unwrap();
    bencher.bench(|| Refits::new(&fit, &pattern, count, 1).unwrap().drawn);
}

/// Fit with calibrated intervals of both parameters and of the B10 life.
#[divan::bench(args = [20, 200])]
fn calibrated_bounds(bencher: Bencher, count: usize) {
    let sample = lives(count);
    let fit = fit(by_name("weibull").unwrap(), &sample).unwrap();
    let asked = [
        Quantity::Parameter(0),
        Quantity::Parameter(1),
        Quantity::Quantile(0.1),
    ];
    bencher.bench(|| {
        let intervals = Intervals::new(&fit, &sample, Method::Calibrated, 0.9, 1);
        asked.map(|quantity| intervals.of(quantity).bounds)
    });
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
