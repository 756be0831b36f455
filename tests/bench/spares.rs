//! Speed of stocks under a budget and of the monthly forecast: `cargo bench --workspace --bench spares`.
#![allow(clippy::unwrap_used)]

mod months;

use divan::Bencher;
use months::Year;
use sealspan_care::spares::budget::{Part, within};
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
    let year = Year::of(seals);
    bencher.bench(|| year.answer());
}
