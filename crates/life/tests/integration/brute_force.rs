//! Answers held against sums and products written out by hand, and against counts of draws.

use sealspan_life::fit::{NoFit, fit};
use sealspan_life::goodness::statistics;
use sealspan_life::laws::by_name;
use sealspan_life::log_rank::{Weighting, drawn};
use sealspan_life::recurrence;
use sealspan_life::sectors::severity::interval;
use sealspan_life::sectors::shares::shares;
use sealspan_life::terms::Terms;
use sealspan_life::turnbull::curve;
use sealspan_records::observation::{Observation, Sample};

/// Where every failure may lie at one age no law of two parameters ends: its shape runs off.
#[test]
fn failures_that_may_all_lie_at_one_age_fix_no_shape() {
    let sample = |ends: &[(f64, f64)]| {
        let rows = ends
            .iter()
            .map(|(a, b)| Observation::interval(*a, *b, 0.0, 1.0).unwrap());
        Sample::new(rows.collect())
    };
    let of = |ends: &[(f64, f64)]| fit(by_name("weibull").unwrap(), &sample(ends));
    // All hold what lies between 20 and 30; the last two meet at 20 alone.
    for together in [
        &[(10.0, 30.0), (20.0, 45.0), (5.0, 60.0)][..],
        &[(10.0, 20.0), (20.0, 45.0)],
    ] {
        assert!(
            matches!(of(together), Err(NoFit::InfiniteShape)),
            "{together:?}"
        );
    }
    assert!(of(&[(10.0, 30.0), (35.0, 45.0), (5.0, 60.0)]).is_ok());
}

/// A door's chance of standing out of line by the urn of Pólya: each failure falls into a sector with its count so far
/// and a half over all counts and halves; in line it is one of so many.
#[test]
fn a_door_is_out_of_line_by_the_odds_of_an_urn() {
    for counts in [
        vec![1, 0],
        vec![2, 0],
        vec![7, 1, 0],
        vec![1, 1, 1, 2],
        vec![0, 9, 2, 0, 1],
    ] {
        let k = counts.len() as f64;
        let (mut odds, mut before) = (1.0, 0.0);
        for count in &counts {
            for own in 0..*count {
                odds *= (f64::from(own) + 0.5) / (before + 0.5 * k) * k;
                before += 1.0;
            }
        }
        let (part, doors) = shares(std::slice::from_ref(&counts));
        let out = doors[0].out_of_line;
        let found = out / (1.0 - out) * (1.0 - part) / part;
        assert!(
            (found / odds - 1.0).abs() < 1e-6,
            "{counts:?} {found} {odds}"
        );
    }
}

/// Of draws in order a tenth lies below the lower end of the middle 80 %, and a tenth above the upper.
#[test]
fn drawn_intervals_leave_their_tails() {
    let values: Vec<f64> = (0..1000).rev().map(f64::from).collect();
    for level in [0.5, 0.8, 0.9] {
        let (low, high) = interval(values.clone(), level).unwrap();
        let tail = 500.0 * (1.0 - level);
        let below = values.iter().filter(|v| **v < low).count() as f64;
        let above = values.iter().filter(|v| **v > high).count() as f64;
        assert!(
            (below - tail).abs() < 1.5 && (above - tail).abs() < 1.5,
            "{level}"
        );
    }
}

/// A history that no drawn one is as far off as: it is the only one of them all.
#[test]
fn the_furthest_history_has_the_least_p_value() {
    let mut times: Vec<f64> = (1..=40).map(|i| 1e-3 * f64::from(i)).collect();
    times.extend((0..40).map(|i| 990.0 + 0.2 * f64::from(i)));
    let one = recurrence::system::History::new(0.0, 1000.0, times).unwrap();
    let found = recurrence::power_law::power_law(&[one])
        .unwrap()
        .goodness(3)
        .unwrap();
    let least = 1.0 / (found.draws as f64 + 1.0);
    assert!((found.p_value - least).abs() < 1e-12, "{found:?}");
}

/// Whatever ages are drawn between looks, the groups together expect as many failures as they had, in every stratum.
#[test]
fn groups_expect_together_what_was_seen() {
    let group = |looks: &[(f64, f64)], running: f64| {
        let rows = looks
            .iter()
            .map(|(a, b)| Observation::interval(*a, *b, 0.0, 1.0).unwrap());
        let more = [Observation::right(running, 0.0, 2.0).unwrap()];
        Sample::new(rows.chain(more).collect())
    };
    let strata = [
        vec![
            group(&[(10.0, 30.0), (20.0, 45.0), (40.0, 60.0)], 80.0),
            group(&[(5.0, 20.0), (15.0, 35.0)], 70.0),
        ],
        vec![
            group(&[(110.0, 130.0), (100.0, 145.0)], 180.0),
            group(&[(90.0, 120.0), (115.0, 135.0), (130.0, 160.0)], 140.0),
        ],
    ];
    let one = &drawn(&strata, &[Weighting::LogRank], 8, 3).unwrap()[0];
    let sum = |of: &[f64]| of.iter().sum::<f64>();
    assert!(
        (sum(&one.scores.observed) - 10.0).abs() < 1e-9,
        "{:?}",
        one.scores
    );
    assert!(
        (sum(&one.scores.expected) - 10.0).abs() < 1e-9,
        "{:?}",
        one.scores
    );
    for (i, seen) in one.scores.observed.iter().enumerate() {
        let off = seen - one.scores.expected[i];
        assert!(
            (one.scores.score[i] - off).abs() < 1e-9,
            "{i} {:?}",
            one.scores
        );
    }
}

/// Seals that entered late count from their entry on: both statistics by sums over a fine grid, the product limit by
/// hand.
#[test]
fn goodness_counts_late_entries_from_their_entry_on() {
    let rows = [
        (12.0, 0.0, true),
        (30.0, 20.0, true),
        (55.0, 10.0, true),
        (70.0, 35.0, false),
        (90.0, 0.0, true),
        (130.0, 60.0, true),
    ];
    let observed = rows.map(|(t, entry, failed)| {
        if failed {
            Observation::exact(t, entry, 1.0).unwrap()
        } else {
            Observation::right(t, entry, 1.0).unwrap()
        }
    });
    let terms = Terms::new(&Sample::new(observed.to_vec()));
    let mean: f64 = 75.0;
    let got = statistics(by_name("exponential").unwrap(), &[mean.ln()], &terms).unwrap();
    let mut alive = 1.0;
    let mut steps = vec![];
    for t in [12.0, 30.0, 55.0, 90.0, 130.0] {
        let at_risk = rows.iter().filter(|r| r.1 < t && r.0 >= t).count() as f64;
        alive *= 1.0 - 1.0 / at_risk;
        steps.push((t, alive));
    }
    let share = |t: f64| -(-t / mean).exp_m1();
    let n = 400_000;
    let (mut middle, mut tails) = (0.0, 0.0);
    for i in 0..n {
        let u = (f64::from(i) + 0.5) / f64::from(n);
        let step = steps.iter().rev().find(|s| share(s.0) <= u);
        let off = (1.0 - step.map_or(1.0, |s| s.1) - u).powi(2);
        middle += off;
        tails += off / (u * (1.0 - u));
    }
    let count = 6.0 / f64::from(n);
    let (middle, tails) = (middle * count, tails * count);
    assert!(
        (got.cramer_von_mises / middle - 1.0).abs() < 1e-3,
        "{got:?} {middle}"
    );
    assert!(
        (got.anderson_darling / tails - 1.0).abs() < 1e-3,
        "{got:?} {tails}"
    );
}

/// A seal that entered at 5 says nothing of failures before: what failed by 10 may have done so before 5, and the
/// likeliest curve puts it there. Without the entry it could lie anywhere up to 10.
#[test]
fn no_step_of_a_curve_goes_across_an_entry() {
    let failed = Observation::interval(0.0, 10.0, 0.0, 1.0).unwrap();
    let sound = Observation::right(12.0, 0.0, 1.0).unwrap();
    let late = Observation::right(20.0, 5.0, 1.0).unwrap();
    let found = curve(&Sample::new(vec![failed, sound, late]), 0.9).unwrap();
    let first = found.masses.first().unwrap();
    assert_eq!((first.lower, first.upper), (0.0, 5.0), "{found:?}");
    assert!((first.share - 0.5).abs() < 1e-6, "{found:?}");
}
