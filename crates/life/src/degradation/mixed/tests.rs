//! Mixed paths against densities and lines written out.
#![allow(clippy::unwrap_used)]
use super::*;
use nalgebra::DMatrix;

/// A spread of nothing has no logarithm, and so no error of one.
#[test]
fn a_spread_of_nothing_has_no_error() {
    let covariance = DMatrix::from_fn(4, 4, |i, j| if i == j { 0.04 } else { 0.01 });
    let of = |structure, l: f64| among_errors(&structure, &[0.0, 0.0, 0.0, l], &covariance);
    assert_eq!(of(Structure::Level, 0.0), [None, None]);
    assert_eq!(of(Structure::Rate, 0.0), [None, None]);
    let [level, rate] = of(Structure::Level, 0.5);
    // ln of the spread is ln σ + ln L, and ln L goes as L/0.5: 0.04 + 4 × 0.04 + 2 × 2 × 0.01.
    assert!(level.is_some_and(|e| (e - 0.24_f64.sqrt()).abs() < 1e-12) && rate.is_none());
}

/// Two looks a seal: the error to begin with is that of all points about their common line by least squares.
#[test]
fn two_looks_a_seal_begin_beside_the_common_line() {
    let paths = [
        [(0.0, 1.0), (1.0, 2.5)],
        [(0.0, 1.4), (2.0, 3.0)],
        [(1.0, 1.6), (3.0, 5.0)],
    ];
    let sums = paths.map(|p| Sums::of(p.into_iter()));
    let [level, rate, ln_noise] = start(&sums).unwrap();
    let points = paths.concat();
    let off = |level: f64, rate: f64| -> f64 {
        let each = points.iter().map(|(t, y)| (y - level - rate * t).powi(2));
        each.sum()
    };
    let least = off(level, rate);
    // No line near by is closer to the points.
    for (a, b) in [(1e-3, 0.0), (-1e-3, 0.0), (0.0, 1e-3), (0.0, -1e-3)] {
        assert!(off(level + a, rate + b) > least);
    }
    assert!(
        (ln_noise - 0.5 * (least / 6.0).ln()).abs() < 1e-9,
        "{ln_noise}"
    );
}

/// Values whose logarithms go straight have the log-likelihood of those logarithms, less the sum of them.
#[test]
fn a_likelihood_of_values_is_that_of_their_logarithms_less_their_sum() {
    let path = |rate: f64, error: f64| -> Vec<(f64, f64)> {
        let each = (0..5).map(|i| (i, 0.5 + rate * f64::from(i)));
        let each = each.map(|(i, y)| (f64::from(i), y + error * f64::from(i % 2)));
        each.collect()
    };
    let logs = [
        path(0.3, 0.1),
        path(0.5, -0.08),
        path(0.4, 0.05),
        path(0.6, -0.1),
    ];
    let of = |f: fn(f64) -> f64| -> Vec<Vec<(f64, f64)>> {
        let seals = logs.iter();
        let seals = seals.map(|p| p.iter().map(|(t, y)| (*t, f(*y))).collect());
        seals.collect()
    };
    let straight = fit(&of(|y| y), Scale::Plain).unwrap();
    let curved = fit(&of(f64::exp), Scale::Log).unwrap();
    let sum = |skip: usize| -> f64 {
        let each = logs.iter().flat_map(|p| p.iter().skip(skip));
        each.map(|p| p.1).sum()
    };
    for (got, want) in [
        (curved.log_likelihood, straight.log_likelihood - sum(0)),
        (curved.given_first, straight.given_first - sum(1)),
    ] {
        assert!((got - want).abs() < 1e-6, "{got} {want}");
    }
}

fn fitted(paths: &[Vec<(f64, f64)>], structure: Structure) -> Mixed {
    closed(paths, Scale::Plain, &[structure]).unwrap().model
}

/// Twelve hundred times the same paths have the same line, though the noise is small beside the spread of all values.
#[test]
fn paths_repeated_have_the_same_line() {
    let path = |rate: f64, error: f64| -> Vec<(f64, f64)> {
        let at = |i: i32| {
            (
                f64::from(i),
                1.0 + rate * f64::from(i) + error * f64::from(i % 2),
            )
        };
        (0..6).map(at).collect()
    };
    let once = [path(1.0, 0.05), path(2.0, -0.05), path(3.0, 0.05)];
    let often: Vec<_> = once.iter().cycle().take(3600).cloned().collect();
    let (one, many) = (
        fitted(&once, Structure::Alike),
        fitted(&often, Structure::Alike),
    );
    assert!(
        (one.mean - many.mean).norm() < 1e-6,
        "{} {}",
        one.mean,
        many.mean
    );
    // σ² is what is left over by all values less 2.
    let ratio = (many.noise / one.noise).powi(2) * (21_600.0 - 2.0) / (1200.0 * 16.0);
    assert!((ratio - 1.0).abs() < 1e-6, "{ratio}");
}

/// Levels far apart and little noise: σ² is what is left over about own levels and one rate, by the values less the
/// levels and the rate.
#[test]
fn seals_at_levels_far_apart_are_fitted() {
    let levels = [1.0, 2.0, 9.0, 10.0];
    let signs = [1.0, -1.0, -1.0, 1.0, 1.0, -1.0];
    let paths = levels.map(|level| {
        let at = |(i, sign): (usize, &f64)| (i as f64, level + 0.01 * sign * (1.0 + 0.1 * level));
        signs.iter().enumerate().map(at).collect::<Vec<_>>()
    });
    let found = fitted(&paths, Structure::Level);
    let (mut tt, mut ty, mut yy) = (0.0, 0.0, 0.0);
    for path in &paths {
        let mean = |f: fn(&(f64, f64)) -> f64| path.iter().map(f).sum::<f64>() / 6.0;
        let (t, y) = (mean(|p| p.0), mean(|p| p.1));
        tt += path.iter().map(|p| (p.0 - t).powi(2)).sum::<f64>();
        ty += path.iter().map(|p| (p.0 - t) * (p.1 - y)).sum::<f64>();
        yy += path.iter().map(|p| (p.1 - y).powi(2)).sum::<f64>();
    }
    let want = (yy - ty * ty / tt) / (24.0 - 4.0 - 1.0);
    assert!(
        (found.noise.powi(2) / want - 1.0).abs() < 1e-5,
        "{} {want}",
        found.noise
    );
    assert!((found.mean.y - ty / tt).abs() < 1e-6);
}

/// A seal read three times at one age tells no rate of its own, and leaves the others theirs.
#[test]
fn readings_at_one_age_do_not_end_the_fit() {
    let path = |level: f64| vec![(0.0, level), (1.0, level - 0.9), (2.0, level - 2.1)];
    let paths = [
        path(7.0),
        path(7.2),
        path(6.9),
        vec![(1.0, 6.0), (1.0, 6.2), (1.0, 6.1)],
    ];
    let found = fitted(&paths, Structure::Alike);
    // The line of least squares through all.
    let all: Vec<&(f64, f64)> = paths.iter().flatten().collect();
    let mean = |f: fn(&(f64, f64)) -> f64| all.iter().map(|p| f(p)).sum::<f64>() / 12.0;
    let (t, y) = (mean(|p| p.0), mean(|p| p.1));
    let rate = (mean(|p| p.0 * p.1) - t * y) / (mean(|p| p.0 * p.0) - t * t);
    assert!((found.mean.y - rate).abs() < 1e-6, "{} {rate}", found.mean);
}

/// Values without trend whose own residuals spread as much as all values do: 2 about the seals' lines, and 2 in all.
#[test]
fn values_that_are_all_noise_are_fitted() {
    let path = |level: f64, sign: f64| {
        let signs = [1.0, -1.0, -1.0, 1.0].into_iter().enumerate();
        signs
            .map(|(i, s)| (i as f64, level + sign * s))
            .collect::<Vec<_>>()
    };
    let paths = [
        path(1.0, 1.0),
        path(-1.0, 1.0),
        path(1.0, -1.0),
        path(-1.0, -1.0),
    ];
    let found = fitted(&paths, Structure::Alike);
    assert!(
        (found.noise.powi(2) - 32.0 / 14.0).abs() < 1e-6,
        "{}",
        found.noise
    );
    assert!(found.mean.norm() < 1e-6);
}
