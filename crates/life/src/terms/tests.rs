//! What is known of where failures lie, put together and in other units.
#![allow(clippy::unwrap_used)]
use super::*;
use sealspan_records::observation::Observation;

/// Invented seals of every kind: (lower, upper) with an upper end of 0 for one still running, and equal ends for an age.
fn rows(seals: &[(f64, f64, f64)], factor: f64) -> Vec<Observation> {
    let one = |(lower, upper, count): &(f64, f64, f64)| {
        let (lower, upper) = (lower * factor, upper * factor);
        if upper == 0.0 {
            Observation::right(lower, 0.0, *count)
        } else if lower == upper {
            Observation::exact(upper, 0.0, *count)
        } else {
            Observation::interval(lower, upper, 0.0, *count)
        }
    };
    seals.iter().map(|s| one(s).unwrap()).collect()
}

const EARLY: [(f64, f64, f64); 4] = [
    (12.0, 12.0, 1.0),
    (0.0, 8.0, 1.0),
    (40.0, 0.0, 3.0),
    (5.0, 30.0, 2.0),
];
const LATE: [(f64, f64, f64); 5] = [
    (64.0, 64.0, 2.0),
    (16.0, 16.0, 1.0),
    (90.0, 0.0, 1.0),
    (50.0, 128.0, 1.0),
    (0.0, 4.0, 1.0),
];

fn extent_of(rows: Vec<Observation>) -> Extent {
    Terms::new(&Sample::new(rows)).extent
}

#[test]
fn samples_taken_together_are_the_sample_of_both() {
    let both: Vec<Observation> = [rows(&EARLY, 1.0), rows(&LATE, 1.0)].concat();
    let mut sum = extent_of(rows(&EARLY, 1.0));
    sum.include(&extent_of(rows(&LATE, 1.0)));
    assert_eq!(sum, extent_of(both));
    // By hand: what failed between two looks, the oldest seen sound, the least end of an interval.
    assert_eq!(
        (sum.between, sum.oldest_sound, sum.smallest_upper),
        (3.0, 90.0, 4.0)
    );
    assert_eq!((sum.exact, sum.exact_range), (4.0, (12.0, 64.0)));
    assert_eq!(
        (sum.total, sum.failures, sum.oldest, sum.youngest),
        (13.0, 9.0, 128.0, 4.0)
    );
}

#[test]
fn another_unit_scales_every_age_and_no_count() {
    for factor in [0.25, 8.0] {
        let here = extent_of(rows(&LATE, 1.0)).scaled(factor);
        assert_eq!(here, extent_of(rows(&LATE, factor)), "{factor}");
    }
}

#[test]
fn seals_added_one_by_one_are_the_sample() {
    let single: Vec<(f64, f64, f64)> = [&EARLY[..], &LATE]
        .concat()
        .into_iter()
        .map(|(a, b, _)| (a, b, 1.0))
        .collect();
    let mut terms = Terms::new(&Sample::new(vec![]));
    for (lower, upper, _) in &single {
        if *upper == 0.0 {
            terms.add_right(*lower);
        } else if lower == upper {
            terms.add_exact(Age::new(*upper));
        } else {
            terms.add_interval(*lower, *upper);
        }
    }
    assert_eq!(terms.extent, extent_of(rows(&single, 1.0)));
    // One more, failed before its first look: none of those between two looks.
    let between = terms.extent.between;
    terms.add_interval(0.0, 9.0);
    assert_eq!(terms.extent.between, between);
    terms.add_interval(3.0, 9.0);
    assert_eq!(terms.extent.between, between + 1.0);
}

/// Only stretches with both ends alike are one.
#[test]
fn stretches_that_share_one_end_stay_apart() {
    let mut terms = Terms::new(&Sample::new(vec![]));
    for (lower, upper) in [(0.0, 20.0), (10.0, 20.0), (0.0, 30.0), (10.0, 20.0)] {
        terms.add_interval(lower, upper);
    }
    terms.merge_alike_intervals();
    let ends = |s: &Stretch| (s.lower.map_or(0.0, |a| a.t), s.upper.t, s.weight);
    let mut found: Vec<(f64, f64, f64)> = terms.interval.iter().map(ends).collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let want = [(0.0, 20.0, 1.0), (0.0, 30.0, 1.0), (10.0, 20.0, 2.0)];
    assert_eq!(found, want);
}

/// Half of four failures, two of them at age 1, where ln is 0: the two against the mean of the others.
#[test]
fn the_earlier_and_the_later_failures_have_their_own_means() {
    let terms = |rows: Vec<Observation>| Terms::new(&Sample::new(rows));
    let one = std::f64::consts::E;
    let exact = [
        (1.0, 1.0, 2.0),
        (one, one, 1.0),
        (one * one, one * one, 1.0),
    ];
    let (early, late) = terms(rows(&exact, 1.0)).ln_failure_halves(0.5).unwrap();
    assert!(early.abs() < 1e-12 && (late - 1.5).abs() < 1e-12);
    // A look that finds one, then five at a second one: both sides hold some.
    let looks = [(0.0, 2.0, 1.0), (1.0, 3.0, 3.0), (40.0, 0.0, 30.0)];
    let (early, late) = terms(rows(&looks, 1.0)).ln_failure_halves(0.2).unwrap();
    assert!(early.abs() < 1e-12 && (late - 2f64.ln()).abs() < 1e-12);
    // All at one age, or one alone: no others.
    for seals in [[(10.0, 10.0, 6.0)], [(10.0, 10.0, 1.0)], [(4.0, 6.0, 2.0)]] {
        assert_eq!(terms(rows(&seals, 1.0)).ln_failure_halves(0.5), None);
    }
}

/// Mean and deviation of ln age written out, with counts, beyond an age, and of looks by their middle.
#[test]
fn ln_moments_are_the_mean_and_the_deviation() {
    let check = |seals: &[(f64, f64, f64)], beyond: f64, logs: &[(f64, f64)]| {
        let terms = Terms::new(&Sample::new(rows(seals, 1.0)));
        let n: f64 = logs.iter().map(|l| l.1).sum();
        let mean = logs.iter().map(|(x, w)| w * x).sum::<f64>() / n;
        let square = logs
            .iter()
            .map(|(x, w)| w * (x - mean).powi(2))
            .sum::<f64>()
            / n;
        let (got, spread) = terms.ln_moments(beyond).unwrap();
        assert!((got - mean).abs() < 1e-12, "{got} {mean}");
        assert!((spread - square.sqrt()).abs() < 1e-12, "{spread} {square}");
    };
    let exact = [(10.0, 10.0, 3.0), (20.0, 20.0, 1.0), (30.0, 0.0, 4.0)];
    let ln = f64::ln;
    check(&exact, 0.0, &[(ln(10.0), 3.0), (ln(20.0), 1.0)]);
    check(&exact, 5.0, &[(ln(5.0), 3.0), (ln(15.0), 1.0)]);
    let looks = [(0.0, 0.2, 1.0), (0.2, 0.4, 1.0)];
    check(&looks, 0.0, &[(ln(0.1), 1.0), (ln(0.3), 1.0)]);
    let both = [(0.0, 0.2, 5.0), (0.2, 0.4, 2.0), (0.7, 0.7, 3.0)];
    check(
        &both,
        0.0,
        &[(ln(0.1), 5.0), (ln(0.3), 2.0), (ln(0.7), 3.0)],
    );
}

/// 3 failures in 2 · 80 + 10 − 30 + 4 · 500 watched: an interval counts to its middle, a late entry from there on.
#[test]
fn the_mean_of_a_constant_rate_is_time_over_failures() {
    let mut seals = rows(
        &[(80.0, 80.0, 1.0), (5.0, 15.0, 1.0), (500.0, 0.0, 4.0)],
        1.0,
    );
    seals.push(Observation::exact(80.0, 30.0, 1.0).unwrap());
    let found = Terms::new(&Sample::new(seals)).ln_mean_exponential();
    assert!((found - (2_140.0_f64 / 3.0).ln()).abs() < 1e-12, "{found}");
}
