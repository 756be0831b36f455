//! Every way to an interval, for every law: it holds the estimate, repeats itself, and does not depend on the
//! number of threads.

use crate::support::{fitted, fitting, quantities};
use sealspan_life::bounds::Method;
use sealspan_life::intervals::{Intervals, usual_method};
use sealspan_life::laws;
use sealspan_life::quantity::Quantity;
use sealspan_records::{Observation, Sample};

const METHODS: [Method; 5] = [
    Method::Calibrated,
    Method::Profile,
    Method::Wald,
    Method::Bootstrap,
    Method::Posterior,
];

#[test]
fn every_law_has_every_interval() {
    for family in laws::all() {
        let sample = fitting(family, 1.0);
        let fit = fitted(family, &sample);
        // Laws that are not refitted without being asked, which takes long on this sample: `every_bound` has them.
        let refits = family.refitted();
        for method in METHODS {
            if !refits && matches!(method, Method::Calibrated | Method::Bootstrap) {
                continue;
            }
            let intervals = Intervals::new(&fit, &sample, method, 0.9, 7);
            assert_eq!(
                intervals.method,
                method,
                "{}: {:?}",
                family.name(),
                intervals.instead
            );
            for quantity in quantities(&fit) {
                let b = intervals.of(quantity).bounds;
                let what = format!("{} {method:?} {quantity:?}: {b:?}", family.name());
                let (lower, upper) = (b.lower.expect(&what), b.upper.expect(&what));
                assert!(lower < upper, "{what}");
                // Bias is moved: the estimate may lie near an end, not far outside.
                let (estimate, width) = (fit.estimate(quantity), upper - lower);
                assert!(
                    lower - width < estimate && estimate < upper + width,
                    "{what}"
                );
            }
        }
    }
}

#[test]
fn order_and_counts_of_rows_change_no_interval() {
    let family = laws::by_name("lognormal").unwrap();
    let sample = fitting(family, 1.0);
    let mut rows: Vec<_> = sample
        .rows()
        .iter()
        .flat_map(|o| std::iter::repeat_n(o.with_count(1.0).unwrap(), o.count() as usize))
        .collect();
    rows.reverse();
    let other = Sample::new(rows);
    for method in METHODS {
        let ends = |sample: &Sample| {
            let fit = fitted(family, sample);
            let b = Intervals::new(&fit, sample, method, 0.9, 3).of(Quantity::Quantile(0.1));
            (b.bounds.lower.unwrap(), b.bounds.upper.unwrap())
        };
        let (a, b) = (ends(&sample), ends(&other));
        assert!(
            (a.0 / b.0 - 1.0).abs() < 1e-9 && (a.1 / b.1 - 1.0).abs() < 1e-9,
            "{method:?}: {a:?} {b:?}"
        );
    }
}

#[test]
fn the_same_seed_gives_the_same_interval_for_any_number_of_threads() {
    let family = laws::by_name("weibull").unwrap();
    let sample = fitting(family, 1.0);
    let run = |threads: usize, method: Method, seed: u64| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            let fit = fitted(family, &sample);
            Intervals::new(&fit, &sample, method, 0.9, seed).of(Quantity::Quantile(0.1))
        })
    };
    for method in METHODS {
        assert_eq!(run(1, method, 3), run(3, method, 3), "{method:?}");
    }
    assert_ne!(run(1, Method::Bootstrap, 3), run(1, Method::Bootstrap, 4));
}

/// Five failures among a hundred thousand seals still running are few all the same, and the running seals may come one
/// by one or counted.
#[test]
fn a_few_failures_among_many_running_seals_are_calibrated() {
    let family = laws::by_name("weibull").unwrap();
    let failed = [30.0, 80.0, 140.0, 300.0, 420.0];
    let failed = failed.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    let end = |i: u32| 10.0 + 0.5 * f64::from(i % 1000);
    let one_by_one = (0..100_000).map(|i| Observation::right(end(i), 0.0, 1.0).unwrap());
    let counted = (0..1000).map(|i| Observation::right(end(i), 0.0, 100.0).unwrap());
    let ends = |sample: &Sample| {
        let fit = fitted(family, sample);
        assert_eq!(usual_method(&fit), Method::Calibrated);
        let intervals = Intervals::new(&fit, sample, Method::Calibrated, 0.9, 5);
        assert_eq!(
            (intervals.method, intervals.instead),
            (Method::Calibrated, None)
        );
        intervals.of(Quantity::Parameter(0))
    };
    let listed = ends(&Sample::new(failed.into_iter().chain(one_by_one).collect()));
    let grouped = ends(&Sample::new(failed.into_iter().chain(counted).collect()));
    assert_eq!(listed, grouped);
    let b = listed.bounds;
    assert!(b.lower.unwrap() < 1.0 && b.upper.unwrap() > 1.0, "{b:?}");
}
