#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use crate::product_limit;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::{Observation, Seen};

/// Invented lives (Weibull, shape 1.8, scale 900), each looked at on days of its own among `days`
/// until found failed or until the last look.
fn looked_at(seals: usize, days: usize, seed: u64) -> Sample {
    let mut stream = Stream::new(seed, 0);
    let rows = (0..seals).map(|_| {
        let life = 900.0 * stream.exponential().powf(1.0 / 1.8);
        let gap = 1 + stream.below(days / 4);
        let looks = 1 + stream.below(6);
        let first = 1 + stream.below(gap);
        let day = |k: usize| ((first + k * gap) as f64 * 2000.0 / days as f64).min(2000.0);
        let before = (0..looks).map(day).take_while(|d| *d < life).last();
        match (0..looks).map(day).find(|d| *d >= life) {
            Some(found) => Observation::interval(before.unwrap_or(0.0), found, 0.0, 1.0),
            None => Observation::right(before.unwrap_or(0.0), 0.0, 1.0),
        }
        .unwrap()
    });
    Sample::new(rows.collect())
}

fn survival_after(curve: &IntervalCurve, t: f64) -> f64 {
    let before = curve.masses.iter().rfind(|m| m.upper <= t);
    before.map_or(1.0, |m| m.survival)
}

/// Log-likelihood of a sample under a curve, straight from its definition.
fn log_likelihood(sample: &Sample, curve: &IntervalCurve) -> f64 {
    let share = |from: f64, to: f64| -> f64 {
        let within = curve
            .masses
            .iter()
            .filter(|m| m.lower >= from && m.upper <= to);
        within.map(|m| m.share).sum()
    };
    let rows = sample.rows().iter();
    rows.map(|o| {
        let inside = match o.seen() {
            Seen::Exact(t) => share(t, t),
            Seen::Right(t) => share(t, f64::INFINITY),
            Seen::Interval(a, b) => share(a, b),
        };
        o.count() * (inside / share(o.entry(), f64::INFINITY)).ln()
    })
    .sum()
}

#[test]
fn without_intervals_it_is_the_product_limit_curve() {
    let mut stream = Stream::new(3, 0);
    for late in [false, true] {
        let rows = (0..150).map(|i| {
            let t = 20.0 + (100.0 * stream.exponential()).round();
            // Many enter late, but enough are watched from new for the curve not to reach 0 early.
            let entry = if late && i % 3 == 0 {
                (0.6 * t).floor()
            } else {
                0.0
            };
            if stream.uniform() < 0.3 {
                Observation::right(t, entry, 1.0).unwrap()
            } else {
                Observation::exact(t, entry, 1.0).unwrap()
            }
        });
        let sample = Sample::new(rows.collect());
        let ours = curve(&sample, 0.9).unwrap();
        assert!(ours.violation <= 1e-10, "{}", ours.violation);
        for step in product_limit::curve(&sample, 0.9).unwrap().steps {
            let mass = ours.masses.iter().find(|m| m.upper == step.time).unwrap();
            assert!(
                (mass.survival - step.survival).abs() < 1e-9,
                "{mass:?} {step:?}"
            );
            let (a, b) = (mass.std_error, step.std_error);
            if let (Some(a), Some(b)) = (a, b) {
                assert!((a / b - 1.0).abs() < 1e-6, "{mass:?} {step:?}");
            }
        }
    }
}

/// The same lives with about `share` of them watched only from a later age.
fn entered_late(sample: &Sample, share: f64, seed: u64) -> Sample {
    let mut stream = Stream::new(seed, 1);
    let rows = sample.rows().iter().map(|o| {
        let (lower, upper) = match o.seen() {
            Seen::Interval(a, b) => (a, b),
            Seen::Exact(t) => (t, t),
            Seen::Right(t) => (t, f64::INFINITY),
        };
        let late = stream.uniform() < share;
        let entry = if late { (0.5 * lower).floor() } else { 0.0 };
        Observation::interval(lower, upper, entry, 1.0).unwrap()
    });
    Sample::new(rows.collect())
}

/// Self-consistency alone, carried on for long from equal masses, reaches the same likelihood and never
/// more.
#[test]
fn self_consistency_reaches_no_higher() {
    for seed in 0..20 {
        for late in [0.0, 0.3] {
            let sample = entered_late(&looked_at(60, 40, seed), late, seed);
            let ours = curve(&sample, 0.9).unwrap();
            let what = format!("seed {seed}, late {late}: {}", ours.log_likelihood);
            assert!(ours.violation <= 1e-10, "{what}, {}", ours.violation);
            let direct = log_likelihood(&sample, &ours);
            assert!(
                (direct - ours.log_likelihood).abs() < 1e-9 * direct.abs(),
                "{what}"
            );
            let (ends, observed) = cells::cells(&sample);
            let problem = Problem::new(observed, ends.len()).unwrap();
            let mut mass = vec![1.0 / ends.len() as f64; ends.len()];
            for _ in 0..20_000 {
                mass = problem.self_consistent(&mass, &problem.slopes(&mass));
            }
            let slow = problem.log_likelihood(&mass);
            assert!(slow <= ours.log_likelihood + 1e-9, "{what}, {slow}");
            assert!(slow >= ours.log_likelihood - 1e-2, "{what}, {slow}");
        }
    }
}

#[test]
fn many_late_entries_among_looks_meet_the_conditions() {
    for share in [0.3, 0.8] {
        let sample = entered_late(&looked_at(5_000, 500, 9), share, 9);
        let ours = curve(&sample, 0.9).unwrap();
        assert!(ours.violation <= 1e-10, "{share}: {}", ours.violation);
        let direct = log_likelihood(&sample, &ours);
        assert!((direct - ours.log_likelihood).abs() < 1e-9 * direct.abs());
    }
}

/// The only seal watched from new fails before the others enter: the curve has reached 0 by then, as the
/// product-limit curve does.
#[test]
fn a_curve_that_reaches_0_before_the_late_entries_ends_there() {
    let rows = [(3.0, 0.0), (7.0, 5.0), (8.0, 5.0), (9.0, 4.0)]
        .map(|(t, entry)| Observation::exact(t, entry, 1.0).unwrap());
    let ours = curve(&Sample::new(rows.to_vec()), 0.9).unwrap();
    assert!(ours.violation < 1e-9, "{}", ours.violation);
    assert!(survival_after(&ours, 3.0) < 1e-8);
    let others = 3.0 * (1.0_f64 / 3.0).ln();
    assert!(
        (ours.log_likelihood - others).abs() < 1e-7,
        "{}",
        ours.log_likelihood
    );
}

#[test]
fn many_looks_meet_the_conditions_and_follow_the_law() {
    let sample = looked_at(20_000, 1_000, 5);
    let ours = curve(&sample, 0.9).unwrap();
    assert!(ours.violation <= 1e-10, "{}", ours.violation);
    for t in [400.0, 800.0, 1200.0] {
        let law = (-(t / 900.0_f64).powf(1.8)).exp();
        assert!((survival_after(&ours, t) - law).abs() < 0.03);
    }
}

/// Four looks that overlap in a chain: half the mass in the first overlap, half in the last, by symmetry
/// and because the middle overlap serves no look that the others do not.
#[test]
fn a_chain_of_looks_leaves_the_middle_empty() {
    let looks = [(0.0, 2.0), (1.0, 4.0), (3.0, 6.0), (5.0, 8.0)];
    let rows = looks.map(|(a, b)| Observation::interval(a, b, 0.0, 1.0).unwrap());
    let masses = curve(&Sample::new(rows.to_vec()), 0.9).unwrap().masses;
    let found: Vec<_> = masses.iter().map(|m| (m.lower, m.upper)).collect();
    assert_eq!(found, [(1.0, 2.0), (5.0, 6.0)]);
    assert!((masses[0].share - 0.5).abs() < 1e-12);
}

#[test]
fn the_reason_for_no_errors_is_stated() {
    let one = Sample::new(vec![Observation::interval(1.0, 2.0, 0.0, 5.0).unwrap()]);
    assert_eq!(curve(&one, 0.9).unwrap().no_errors, Some(NoErrors::OneMass));
}

/// More masses than are free at once: the standard errors of exact ages stay Greenwood's.
#[test]
fn many_masses_have_standard_errors_in_windows() {
    for (ages, windows) in [(900, 5), (5_000, 12)] {
        let rows = (1..=ages).map(|t| Observation::exact(f64::from(t), 0.0, 1.0).unwrap());
        let sample = Sample::new(rows.collect());
        let many = curve(&sample, 0.9).unwrap();
        assert_eq!((many.no_errors, many.windows), (None, Some(windows)));
        let plain = product_limit::curve(&sample, 0.9).unwrap();
        // At the very first and last a run of a few is not told apart.
        let inner = |m: &Mass| (0.01..0.99).contains(&m.survival);
        let both = many.masses.iter().zip(&plain.steps);
        for (ours, theirs) in both.filter(|b| inner(b.0)).step_by(37) {
            let ratio = ours.std_error.unwrap() / theirs.std_error.unwrap();
            assert!((ratio - 1.0).abs() < 0.05, "{} {ratio}", theirs.time);
        }
    }
}

/// Overlapping looks in windows: never wider than with all masses free, and hardly narrower.
#[test]
fn windows_of_overlapping_looks_lose_little() {
    let sample = looked_at(20_000, 1_200, 21);
    let (ends, observed) = cells::cells(&sample);
    let problem = Problem::new(observed, ends.len()).unwrap();
    let mass = solve::solve(&problem);
    let free = errors::in_windows(&problem, &mass, usize::MAX).unwrap();
    let active = mass.iter().filter(|m| **m > 1e-9).count();
    let parted = errors::in_windows(&problem, &mass, active * 2 / 3).unwrap();
    assert!(free.windows.is_none() && parted.windows.is_some());
    assert_eq!(parted.after.len(), problem.cells);
    let mut ratios = vec![];
    let mut gone = 0.0;
    for (j, m) in mass.iter().enumerate().filter(|(_, m)| **m > 1e-9) {
        gone += m;
        if (0.1..0.9).contains(&gone) {
            ratios.push(parted.after[j].unwrap() / free.after[j].unwrap());
        }
    }
    let mean = ratios.iter().sum::<f64>() / ratios.len() as f64;
    let least = ratios.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(ratios.len() > 20 && ratios.iter().all(|r| *r < 1.0 + 1e-9));
    assert!(mean > 0.999 && least > 0.995, "{mean} {least}");
}

/// Looks that all seals share give a binomial share of survivors, and the interval that is even on the scale of
/// ln(−ln S) (Kalbfleisch & Prentice 2002, section 1.4; from memory).
#[test]
fn shared_looks_give_a_binomial_share_and_its_interval() {
    let rows = vec![
        Observation::interval(0.0, 100.0, 0.0, 30.0).unwrap(),
        Observation::interval(100.0, 200.0, 0.0, 50.0).unwrap(),
        Observation::right(200.0, 0.0, 20.0).unwrap(),
    ];
    let found = curve(&Sample::new(rows), 0.9).unwrap();
    for (mass, survival) in found.masses.iter().zip([0.7f64, 0.2]) {
        let error = (survival * (1.0 - survival) / 100.0).sqrt();
        assert!((mass.std_error.unwrap() / error - 1.0).abs() < 1e-9);
        let scaled = |s: f64| (-s.ln()).ln();
        // 1.644854 of normal tables; d ln(−ln S)/dS = 1/(S ln S).
        let half = 1.644854 * error / (survival * survival.ln()).abs();
        let (low, high) = (mass.lower_bound.unwrap(), mass.upper_bound.unwrap());
        assert!(
            (scaled(low) - scaled(survival) - half).abs() < 1e-6,
            "{low}"
        );
        assert!(
            (scaled(survival) - scaled(high) - half).abs() < 1e-6,
            "{high}"
        );
    }
}

/// Exact ages, one seal each, with a dozen masses free at once: after a run the error is that of a binomial share; in
/// the middle of a run of two, whose halves are taken to be even, that of the sum of the shares before and half the run
/// (multinomial variances).
#[test]
fn errors_within_a_run_are_those_of_half_its_share() {
    let seals = 120;
    let rows = (1..=seals).map(|t| Observation::exact(f64::from(t), 0.0, 1.0).unwrap());
    let (ends, observed) = cells::cells(&Sample::new(rows.collect()));
    let problem = Problem::new(observed, ends.len()).unwrap();
    let mass = solve::solve(&problem);
    let found = errors::in_windows(&problem, &mass, 12).unwrap();
    assert!(found.windows.is_some());
    let n = f64::from(seals);
    let (mut gone, mut whole, mut halves) = (0.0, 0, 0);
    for (error, m) in found.after.iter().zip(&mass) {
        let before = gone;
        gone += m;
        if !(0.05..0.95).contains(&gone) {
            continue;
        }
        let error = error.unwrap();
        let after = (gone * (1.0 - gone) / n).sqrt();
        let run = 2.0 / n;
        let middle = before * (1.0 - before) + 0.25 * run * (1.0 - run) - before * run;
        let middle = (middle / n).sqrt();
        if (error / after - 1.0).abs() < 1e-6 {
            whole += 1;
        } else {
            assert!(
                (error / middle - 1.0).abs() < 1e-6,
                "{gone}: {error} {after} {middle}"
            );
            halves += 1;
        }
    }
    assert!(whole > 20 && halves > 20, "{whole} {halves}");
}

/// The last run of two ages: after its first half the survivors are half the run.
#[test]
fn the_error_within_the_last_run_is_that_of_half_its_share() {
    let seals = 121;
    let rows = (1..=seals).map(|t| Observation::exact(f64::from(t), 0.0, 1.0).unwrap());
    let (ends, observed) = cells::cells(&Sample::new(rows.collect()));
    let problem = Problem::new(observed, ends.len()).unwrap();
    let mass = solve::solve(&problem);
    let found = errors::in_windows(&problem, &mass, 12).unwrap();
    let n = f64::from(seals);
    let run = 2.0 / n;
    let want = 0.5 * (run * (1.0 - run) / n).sqrt();
    let [.., middle, end] = found.after.as_slice() else {
        panic!("{}", found.after.len());
    };
    assert!(
        (middle.unwrap() / want - 1.0).abs() < 1e-6,
        "{middle:?} {want}"
    );
    assert!(end.unwrap() < 1e-9);
}

#[test]
fn no_seals_have_no_curve() {
    assert!(curve(&Sample::new(vec![]), 0.9).is_none());
}
