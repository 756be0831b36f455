//! Times of the library's large sums, without files: `cargo bench --workspace --bench speed`.
//! Invented lives: Weibull, shape 1.8, scale 1000, censored uniformly over 0 to 2000.
#![allow(clippy::unwrap_used)]

use divan::Bencher;
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::product_limit;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::random::Stream;
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
