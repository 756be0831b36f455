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
