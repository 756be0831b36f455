//! Speed of stocks under a budget and of the monthly forecast: `cargo bench --workspace --bench spares`.
#![allow(clippy::unwrap_used)]

use divan::Bencher;
use sealspan_care::ahead::ending::Ending;
use sealspan_care::ahead::fleet::Fleet;
use sealspan_care::ahead::months::Ahead;
use sealspan_care::forecast::Running;
use sealspan_care::spares::budget::{Part, within};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;

fn main() {
    divan::main();
}

/// Parts times places under one budget: 10,000 parts at 50 places each, a budget that buys about two of each.
#[divan::bench(args = [500_000], sample_count = 3)]
fn stocks_under_a_budget(bencher: Bencher, places: usize) {
    let mut stream = Stream::new(1, 0);
    let parts: Vec<Part> = (0..places)
        .map(|_| Part {
            on_order: 2.0 * stream.uniform(),
            price: 10.0 + 200.0 * stream.uniform(),
            weight: 1.0,
        })
        .collect();
    let budget: f64 = parts.iter().map(|p| 2.0 * p.price).sum();
    bencher.bench(|| within(&parts, budget).unwrap());
}

/// A year by month of a million seals of distinct ages, 200 draws of the life.
#[divan::bench(args = [1_000_000], sample_count = 3)]
fn months_of_running_seals(bencher: Bencher, seals: usize) {
    let mut stream = Stream::new(2, 0);
    let running: Vec<Running> = (0..seals)
        .map(|_| Running {
            age: 1500.0 * stream.uniform(),
            count: 1,
        })
        .collect();
    let life = |scale: f64| Ending::new(&Life::weibull(2.0, scale).unwrap(), Some(900.0)).unwrap();
    let ending = life(700.0);
    let draws: Vec<Ending> = (0..200)
        .map(|_| life(700.0 * (0.03 * stream.normal()).exp()))
        .collect();
    bencher.bench(|| {
        let fleet = Fleet::of(&running);
        Ahead {
            ending: &ending,
            draws: &draws,
            fleet: &fleet,
            period: 30.4375,
            periods: 12,
            confidence: 0.9,
            batch_spread: 0.0,
            seed: 1,
        }
        .answer()
        .unwrap()
    });
}
