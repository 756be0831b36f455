#![allow(clippy::unwrap_used)]

use super::*;
use crate::competing::incidence::cumulative_incidence;
use crate::competing::rows::ModeRow;
use crate::turnbull;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Observation;

fn row(seen: Observation, mode: Option<usize>) -> ModeRow {
    ModeRow {
        observation: seen,
        mode,
    }
}

/// Invented lives under `modes` modes (Weibull, shapes from 1.2 up), each looked at at ages of its own until found
/// failed or until the last look; some are watched from a later age only.
fn looked_at(seals: usize, modes: usize, late: f64, seed: u64) -> ByMode {
    let mut stream = Stream::new(seed, 0);
    let mut rows = vec![];
    while rows.len() < seals {
        let lives = (0..modes).map(|m| {
            let (shape, scale) = (1.2 + 0.7 * m as f64, 500.0 + 150.0 * m as f64);
            scale * stream.exponential().powf(1.0 / shape)
        });
        let lives: Vec<f64> = lives.collect();
        let (mode, life) = lives
            .iter()
            .copied()
            .enumerate()
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap();
        let gap = 20.0 * (1 + stream.below(8)) as f64;
        let looks = 1 + stream.below(6);
        let entry = if stream.uniform() < late { gap } else { 0.0 };
        if life <= entry {
            continue;
        }
        let look = |k: usize| entry + gap * (k + 1) as f64;
        let before = (0..looks).map(look).take_while(|a| *a < life).last();
        let before = before.unwrap_or(entry);
        let next = (0..looks).map(look).find(|a| *a >= life);
        rows.push(match next {
            Some(next) => row(
                Observation::interval(before, next, entry, 1.0).unwrap(),
                Some(mode),
            ),
            None => row(Observation::right(before, entry, 1.0).unwrap(), None),
        });
    }
    ByMode::new(rows, modes).unwrap()
}

fn incidence(found: &LooksIncidence, mode: usize, age: f64) -> f64 {
    let steps = found.modes[mode].iter();
    steps
        .rev()
        .find(|s| s.upper <= age)
        .map_or(0.0, |s| s.incidence)
}

#[test]
fn one_mode_is_the_interval_curve() {
    for late in [0.0, 0.3] {
        let lives = looked_at(150, 1, late, 3);
        let ours = looks_incidence(&lives, 0.9, 1).unwrap();
        let curve = turnbull::curve(&lives.all(), 0.9).unwrap();
        assert!((ours.log_likelihood - curve.log_likelihood).abs() < 1e-7);
        assert!(ours.modes[0].len() > 5);
        for m in curve.masses.iter().filter(|m| m.upper.is_finite()) {
            let own = incidence(&ours, 0, m.upper);
            assert!(
                (own + m.survival - 1.0).abs() < 1e-5,
                "{late} {} {own} {}",
                m.upper,
                m.survival
            );
        }
    }
}

#[test]
fn exact_ages_give_aalen_and_johansen() {
    let mut stream = Stream::new(8, 0);
    let mut rows = vec![];
    for i in 0..120 {
        let age = 5.0 + (60.0 * stream.exponential()).round();
        let entry = if i % 4 == 0 { 4.0 } else { 0.0 };
        rows.push(match i % 3 {
            0 => row(Observation::right(age, entry, 1.0).unwrap(), None),
            m => row(Observation::exact(age, entry, 1.0).unwrap(), Some(m - 1)),
        });
    }
    let lives = ByMode::new(rows, 2).unwrap();
    let ours = looks_incidence(&lives, 0.9, 1).unwrap();
    let theirs = cumulative_incidence(&lives, 0.9).unwrap();
    for mode in 0..2 {
        let steps = &theirs.modes[mode];
        assert!(steps.len() > 10);
        for s in steps {
            let own = incidence(&ours, mode, s.time);
            assert!((own - s.incidence).abs() < 1e-7, "{own} {}", s.incidence);
        }
        // Seals drawn anew scatter as Greenwood's formula says, but for 400 resamples.
        let middle = &steps[steps.len() / 2];
        let same = ours.modes[mode].iter().find(|s| s.upper == middle.time);
        let ratio = same.unwrap().std_error.unwrap() / middle.std_error;
        assert!((ratio - 1.0).abs() < 0.15, "{ratio}");
    }
}

/// Three modes among overlapping looks: the maximum's own conditions hold, the shares add up, and no long run of
/// self-consistency steps gets higher.
#[test]
fn overlapping_looks_meet_the_conditions() {
    for late in [0.0, 0.25] {
        let lives = looked_at(400, 3, late, 11);
        let ours = looks_incidence(&lives, 0.9, 1).unwrap();
        assert!(ours.violation <= 1e-9, "{}", ours.violation);
        let failed: f64 = ours.modes.iter().flatten().map(|s| s.share).sum();
        assert!((failed + ours.beyond - 1.0).abs() < 1e-9);
        let cells = cells(&rows(&lives), 3);
        let problem = Problem::new(cells.told, cells.count).unwrap();
        let mut mass = vec![1.0 / cells.count as f64; cells.count];
        for _ in 0..5_000 {
            mass = problem.self_consistent(&mass, &problem.slopes(&mass));
        }
        let slow = problem.log_likelihood(&mass);
        assert!(slow <= ours.log_likelihood + 1e-9, "{slow}");
        assert!(slow >= ours.log_likelihood - 1e-2, "{slow}");
    }
}

/// All are looked at on the same days: the shares are plain proportions.
#[test]
fn common_looks_give_proportions() {
    let between = |a: f64, b: f64, n: f64| Observation::interval(a, b, 0.0, n).unwrap();
    let lives = ByMode::new(
        vec![
            row(between(0.0, 50.0, 4.0), Some(0)),
            row(between(50.0, 90.0, 6.0), Some(0)),
            row(between(0.0, 50.0, 3.0), Some(1)),
            row(between(50.0, 90.0, 2.0), Some(1)),
            row(Observation::right(90.0, 0.0, 25.0).unwrap(), None),
        ],
        2,
    )
    .unwrap();
    let found = looks_incidence(&lives, 0.9, 7).unwrap();
    for (mode, age, want) in [
        (0, 50.0, 0.1),
        (0, 90.0, 0.25),
        (1, 50.0, 0.075),
        (1, 90.0, 0.125),
    ] {
        assert!((incidence(&found, mode, age) - want).abs() < 1e-9);
    }
    // The binomial's standard error, but for the resamples.
    let last = found.modes[0][1];
    let binomial = (0.25_f64 * 0.75 / 40.0).sqrt();
    assert!((last.std_error.unwrap() / binomial - 1.0).abs() < 0.12);
    assert!(last.lower_bound.unwrap() < 0.25 && last.upper_bound.unwrap() > 0.25);
    assert!(found.simulation_error.unwrap() < 0.01);
    // An end z errors out moves by z times the error's own: φ(z) z, 0.169645 at 90 % and 0.214338 at 50 %.
    let other = looks_incidence(&lives, 0.5, 7).unwrap();
    let ratio = found.simulation_error.unwrap() / other.simulation_error.unwrap();
    assert!((ratio - 0.169_645 / 0.214_338).abs() < 1e-4, "{ratio}");
}

#[test]
fn the_order_of_the_records_changes_nothing() {
    let lives = looked_at(80, 2, 0.2, 5);
    let mut turned = lives.rows().to_vec();
    turned.reverse();
    let turned = ByMode::new(turned, 2).unwrap();
    assert_eq!(
        looks_incidence(&lives, 0.9, 4).unwrap(),
        looks_incidence(&turned, 0.9, 4).unwrap()
    );
}

#[test]
fn without_failures_there_is_none() {
    let lives = ByMode::new(
        vec![row(Observation::right(9.0, 0.0, 3.0).unwrap(), None)],
        2,
    );
    let none = looks_incidence(&lives.unwrap(), 0.9, 1);
    assert_eq!(none.unwrap_err(), NoIncidence::Nothing);
}

/// The ends of a share lie where ln(−ln share) is z errors away, its error by the slope of that scale at the share,
/// taken here as a difference.
#[test]
fn ends_of_a_share_lie_on_the_scale_of_log_log() {
    let scale = |s: f64| (-s.ln()).ln();
    for (share, error, z) in [(0.3, 0.05, 1.645), (0.85, 0.1, 1.0), (0.02, 0.01, 2.0)] {
        let slope = (scale(share + 1e-6) - scale(share - 1e-6)) / 2e-6;
        let (lower, upper) = log_log(share, error, z).unwrap();
        assert!(lower < share && share < upper, "{lower} {upper}");
        for end in [lower, upper] {
            let off = (scale(end) - scale(share)).abs();
            assert!(
                (off - z * error * slope.abs()).abs() < 1e-6,
                "{share}: {off}"
            );
        }
    }
    assert_eq!(log_log(1.0, 0.1, 1.0), None);
    assert_eq!(log_log(0.4, 0.0, 1.0), None);
}

/// On the scale of ln(−ln F) a standard error e of F is e/(F |ln F|): the ends are F to the powers e^(±z e/(F |ln F|)).
#[test]
fn ends_are_powers_of_the_share() {
    for (share, error, z) in [(0.25, 0.05, 1.6), (0.9, 0.02, 2.5), (0.01, 0.004, 1.0)] {
        let (lower, upper) = log_log(share, error, z).unwrap();
        let scaled = |f: f64| (-f.ln()).ln();
        let half = z * error / (share * f64::ln(1.0 / share));
        assert!((scaled(lower) - scaled(share) - half).abs() < 1e-12);
        assert!((scaled(share) - scaled(upper) - half).abs() < 1e-12);
        assert!((lower - share.powf(half.exp())).abs() < 1e-12);
    }
    assert_eq!(log_log(0.25, 0.0, 1.6), None);
    assert_eq!(log_log(1.0, 0.1, 1.6), None);
}
