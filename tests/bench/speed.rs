//! Times of the library's large sums, without files: `cargo bench --workspace --bench speed`.
#![allow(clippy::unwrap_used)]

mod lives;

use divan::Bencher;
use lives::{defect_fit, histories, levels_and_a_number, lives, looked_at, whole_days};
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::defects::DefectQuantity;
use sealspan_life::fit::fit;
use sealspan_life::hazards::{WatchedLife, WithLooks, weibull_frailty};
use sealspan_life::intervals::Intervals;
use sealspan_life::laws::by_name;
use sealspan_life::product_limit;
use sealspan_life::quantity::Quantity;
use sealspan_life::recurrence::ordinary::{self, Piece};
use sealspan_life::refits::Refits;
use sealspan_life::regression::{Design, Line, fit_design};
use sealspan_life::terms::Terms;
use sealspan_life::turnbull;
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample};
use std::sync::Arc;

fn main() {
    divan::main();
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

/// Maximum of the likelihood of each law, 2,000 right-censored lives.
#[divan::bench(args = [
    "weibull", "exponential", "lognormal", "loglogistic", "gamma", "normal", "generalised_gamma",
    "three_parameter_weibull", "weak_fraction_weibull", "weibull_mixture",
])]
fn each_law(bencher: Bencher, law: &str) {
    let sample = lives(2_000);
    bencher.bench(|| fit(by_name(law).unwrap(), &sample).map(|f| f.log_likelihood));
}

/// Rows in whole days to counts.
#[divan::bench(args = [1_000_000])]
fn reduction_to_counts(bencher: Bencher, count: usize) {
    let sample = whole_days(count);
    bencher.bench(|| sample.reduce());
}

/// Refits of a 200-row sample by the parametric bootstrap.
#[divan::bench(args = [10_000])]
fn refits_of_200_rows(bencher: Bencher, count: usize) {
    let sample = lives(200);
    let fit = fit(by_name("weibull").unwrap(), &sample).unwrap();
    bencher.bench(|| Refits::new(&fit, &sample, count, 1).unwrap().drawn);
}

/// Fit with calibrated intervals of both parameters and of the B10 life.
#[divan::bench(args = [("weibull", 20), ("weibull", 200), ("gamma", 60)])]
fn calibrated_bounds(bencher: Bencher, (law, count): (&str, usize)) {
    let sample = lives(count);
    let fit = fit(by_name(law).unwrap(), &sample).unwrap();
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

/// Weibull regression on a factor of 20 levels; with a number beside it, different for every seal, no two design
/// rows are equal and nothing can be gathered.
#[divan::bench(args = [10_000, 100_000])]
fn regression_on_20_levels_and_a_number(bencher: Bencher, count: usize) {
    let design = levels_and_a_number(&lives(count));
    let weibull = by_name("weibull").unwrap();
    bencher.bench(|| fit_design(weibull, &design).unwrap().regression.x);
}

/// The same without the number: 20 design rows.
#[divan::bench(args = [100_000])]
fn regression_on_20_levels(bencher: Bencher, count: usize) {
    let sample = lives(count);
    let weibull = by_name("weibull").unwrap();
    bencher.bench(|| {
        let lines = (0..20).map(|level| {
            let own = sample.rows().iter().skip(level).step_by(20).copied();
            Line {
                row: std::iter::once((0, 1.0))
                    .chain((level > 0).then_some((level, 1.0)))
                    .collect(),
                offset: 0.0,
                stratum: 0,
                terms: Arc::new(Terms::new(&Sample::new(own.collect()))),
            }
        });
        let design = Design {
            names: (0..20).map(|at| format!("column {at}")).collect(),
            lines: lines.collect(),
            strata: 1,
            penalties: vec![],
        };
        fit_design(weibull, &design).unwrap().regression.x
    });
}

/// Weibull lives with a frailty by asset, six seals on each, two groups; ages known, or between looks 60 days apart.
#[divan::bench(args = [(2_000, false), (2_000, true)])]
fn frailty_by_asset(bencher: Bencher, (assets, looks): (usize, bool)) {
    let mut stream = Stream::new(42, 3);
    let mut lives = vec![];
    for cluster in 0..assets {
        // A gamma of shape 2 as a sum of two exponentials, scaled to mean 1.
        let frailty = 0.5 * (stream.exponential() + stream.exponential());
        for seal in 0..6 {
            let life = 400.0 * (stream.exponential() / frailty).sqrt();
            let before = (life / 60.0).floor() * 60.0;
            let observation = match (life > 700.0, looks) {
                (true, _) => Observation::right(700.0, 0.0, 1.0),
                (false, true) => Observation::interval(before, before + 60.0, 0.0, 1.0),
                (false, false) => Observation::exact(life, 0.0, 1.0),
            };
            lives.push(WatchedLife {
                observation: observation.unwrap(),
                design: seal % 2,
                stratum: 0,
                cluster,
            });
        }
    }
    let design = [vec![0.0], vec![1.0]];
    let data = WithLooks::new(&["group".to_owned()], &design, &lives).unwrap();
    bencher.bench(|| weibull_frailty(&data, 0.9).unwrap().theta);
}

/// What an ordinary place uses: places with twenty seals each, lives in 60 cells.
#[divan::bench(args = [10_000])]
fn ordinary_places(bencher: Bencher, places: usize) {
    let pieces: Vec<Piece> = (0..20)
        .map(|i| Piece {
            placed: (i % 4 == 0).then_some(0.0),
            length: 90.0,
        })
        .collect();
    let ln_survival = |_: usize, age: f64| -(age / 600.0).powf(2.2);
    bencher.bench(|| {
        let each = (0..places).map(|_| ordinary::expected(&pieces, ln_survival, 30.0));
        each.sum::<f64>()
    });
}

/// Fit of the two-stage defect model.
#[divan::bench(args = [200, 2_000])]
fn defect_model(bencher: Bencher, count: usize) {
    let list = histories(count);
    bencher.bench(|| defect_fit(list.clone()));
}

/// Profile bounds of the mean delay.
#[divan::bench(args = [200, 2_000])]
fn defect_bounds(bencher: Bencher, count: usize) {
    let fit = defect_fit(histories(count));
    bencher.bench(|| fit.bounds(DefectQuantity::Delay(Quantity::Mean), 0.9));
}
