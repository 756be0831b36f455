#![allow(clippy::unwrap_used)]

use super::*;
use crate::laws::by_name;
use sealspan_records::observation::Observation;

/// Over spreads left open a level's interval has the variance within each and that between them (law of total
/// variance); a level without lives has the spread's own.
#[test]
fn intervals_over_open_spreads_have_both_variances() {
    let rows = (1..=9).map(|i| Observation::exact(f64::from(30 * i), 0.0, 1.0).unwrap());
    let lived = Terms::new(&Sample::new(rows.collect()));
    let problem = Problem {
        family: by_name("exponential").unwrap(),
        cells: vec![vec![(0, lived)], vec![]],
    };
    // The law's mean is 400, that of the level's lives 150.
    let laws = vec![vec![400f64.ln()]];
    let open = [(0.1, 0.25), (0.5, 0.75)];
    let found = ratios(&problem, &[], &laws, &open, 0.9);
    let z = normal_quantile(0.95);
    let check = |level: &LevelRatio, each: [(f64, f64); 2]| {
        let mean: f64 = open.iter().zip(each).map(|((_, w), (m, _))| w * m).sum();
        let total = open.iter().zip(each).map(|((_, w), (m, sd))| {
            let off = m - mean;
            w * sd * sd + w * off * off
        });
        let sd = total.sum::<f64>().sqrt();
        // The trapezoid rule knows the spread of a normal law to some 1e-7.
        assert!((level.ratio.ln() - mean).abs() < 1e-6);
        assert!((level.lower.ln() - (mean - z * sd)).abs() < 1e-6);
        assert!((level.upper.ln() - (mean + z * sd)).abs() < 1e-6);
    };
    check(&found[1], open.map(|(tau, _)| (0.0, tau)));
    // Nine lives of 1350 together under a mean of 400 e^δ: the posterior of δ by a fine sum.
    let shift = |tau: f64| {
        let at = |k: i32| 1e-3 * f64::from(k);
        let weight =
            |d: f64| (-9.0 * d - 1350.0 / 400.0 * (-d).exp() - 0.5 * (d / tau).powi(2)).exp();
        let sum = |of: &dyn Fn(f64) -> f64| -> f64 {
            (-4000..4000).map(at).map(|d| weight(d) * of(d)).sum()
        };
        let mean = sum(&|d| d) / sum(&|_| 1.0);
        let square = sum(&|d| (d - mean).powi(2)) / sum(&|_| 1.0);
        (mean, square.sqrt())
    };
    check(&found[0], open.map(|(tau, _)| shift(tau)));
}

fn failed(ages: &[f64], count: f64) -> Terms {
    let rows = ages.iter().map(|t| Observation::exact(*t, 0.0, count));
    Terms::new(&Sample::new(rows.map(Result::unwrap).collect()))
}

/// Slopes and bends of the marginal log-likelihood of levels that live in two strata, in one, and in neither, against
/// differences: of the values, and of the slopes.
#[test]
fn marginals_over_strata_have_the_slopes_of_their_values() {
    let problem = Problem {
        family: by_name("weibull").unwrap(),
        cells: vec![
            vec![
                (0, failed(&[60.0, 110.0, 150.0], 2.0)),
                (1, failed(&[300.0, 420.0], 1.0)),
            ],
            vec![(1, failed(&[150.0, 500.0, 640.0], 1.0))],
            vec![(0, failed(&[90.0, 210.0], 3.0))],
            vec![],
        ],
    };
    let (x, tau) = ([5.0, -0.6, 6.1, -0.3], 0.4);
    let here = problem.all(&x, tau);
    assert!((here.value - problem.held(&x, tau)).abs() < 1e-9);
    let step = 1e-3;
    for i in 0..4 {
        let moved = |by: f64| {
            let mut there = x;
            there[i] += by;
            there
        };
        let (up, down) = (moved(step), moved(-step));
        let slope = (problem.held(&up, tau) - problem.held(&down, tau)) / (2.0 * step);
        let off = (here.gradient[i] - slope).abs();
        assert!(off < 1e-4 * (1.0 + slope.abs()), "{i}: {off} {slope}");
        let (up, down) = (problem.all(&up, tau), problem.all(&down, tau));
        for j in 0..4 {
            let bend = (up.gradient[j] - down.gradient[j]) / (2.0 * step);
            let off = (here.hessian[i][j] - bend).abs();
            assert!(off < 1e-3 * (1.0 + bend.abs()), "{i} {j}: {off} {bend}");
        }
    }
}

/// From however far off: where the laws end nothing slopes, and the value told is that there.
#[test]
fn laws_are_found_from_afar_with_their_likelihood() {
    let problem = Problem {
        family: by_name("exponential").unwrap(),
        cells: vec![vec![(0, failed(&[50.0, 150.0], 5e7))]],
    };
    let tau = 0.002;
    for far in [-4.0, 0.3] {
        let (x, value) = problem.solve(tau, &[100f64.ln() + far]);
        assert!((x[0] - 100f64.ln()).abs() < 1e-3, "{far}: {x:?}");
        let there = problem.held(&x, tau);
        assert!((value - there).abs() < 1e-2, "{far}: {value} {there}");
    }
}

/// Spreads left open go to half as far again as the upper end, weighed by the likelihood of each: the levels' lives
/// summed over their shifts by a fine sum.
#[test]
fn open_spreads_are_weighed_by_their_likelihood() {
    let problem = Problem {
        family: by_name("exponential").unwrap(),
        cells: vec![
            vec![(0, failed(&[150.0], 9.0))],
            vec![(0, failed(&[80.0], 5.0))],
            vec![(0, failed(&[260.0], 4.0))],
        ],
    };
    let mean: f64 = 150.0;
    let spread = Spread {
        tau: 0.0,
        lower: 0.0,
        upper: Some(0.4),
        ..Spread::stated(0.1, 0.0, 0.0)
    };
    let found = problem.open(&[vec![mean.ln()]], &spread);
    assert_eq!(found.len(), GRID);
    let likelihood = |tau: f64| -> f64 {
        let level = |(n, age): (f64, f64)| -> f64 {
            let at = |k: i32| 1e-3 * tau * f64::from(k);
            let one = |d: f64| {
                let ln = -n * d - n * age / mean * (-d).exp();
                (ln - 0.5 * (d / tau).powi(2)).exp()
            };
            (-7000..7000).map(at).map(one).sum()
        };
        [(9.0, 150.0), (5.0, 80.0), (4.0, 260.0)]
            .map(level)
            .iter()
            .product()
    };
    let total: f64 = found.iter().map(|(tau, _)| likelihood(*tau)).sum();
    for (k, (tau, weight)) in found.iter().enumerate() {
        let want = 1.5 * 0.4 * (k as f64 + 0.5) / GRID as f64;
        assert!((tau - want).abs() < 1e-12, "{tau} {want}");
        let want = likelihood(*tau) / total;
        assert!((weight / want - 1.0).abs() < 1e-5, "{tau}: {weight} {want}");
    }
}

/// Few levels: the laws are fitted anew at every spread, so that it does not matter where they begin.
#[test]
fn the_spread_of_few_levels_does_not_hang_on_where_the_law_begins() {
    let means = [60.0, 90.0, 140.0, 200.0, 110.0];
    let problem = Problem {
        family: by_name("exponential").unwrap(),
        cells: means.map(|mean| vec![(0, failed(&[mean], 30.0))]).to_vec(),
    };
    let pooled: f64 = 120.0;
    let null = -150.0 * (pooled.ln() + 1.0);
    let from = |off: f64| problem.spread(&[pooled.ln() + off], null, 0.9);
    let (near, off) = (from(0.0), from(0.4));
    assert!(near.tau > 0.2 && near.test.statistic > 10.0, "{near:?}");
    assert!((off.tau / near.tau - 1.0).abs() < 0.02, "{near:?} {off:?}");
    assert!((off.test.statistic - near.test.statistic).abs() < 1e-2);
    assert!((off.lower / near.lower - 1.0).abs() < 0.02);
    assert!((off.upper.unwrap() / near.upper.unwrap() - 1.0).abs() < 0.02);
}

/// Five hundred levels, many failures in those that last long and one in each of the others: how much the latter say of the
/// middle hangs on the spread. Laws and spread are the likeliest of a grid over both.
#[test]
fn laws_of_many_levels_are_those_at_the_likeliest_spread() {
    let level = |i: i32| {
        let z = normal_quantile((f64::from(i / 2) + 0.5) / 250.0);
        let (mean, count) = if i % 2 == 0 {
            (200.0, 40.0)
        } else {
            (60.0, 1.0)
        };
        vec![(0, failed(&[mean * (0.4 * z).exp()], count))]
    };
    let problem = Problem {
        family: by_name("exponential").unwrap(),
        cells: (0..500).map(level).collect(),
    };
    let near = problem.near(&[100f64.ln()])[0];
    let grid = |from: f64, step: f64| (0..21).map(move |i| from + step * f64::from(i));
    let both = grid(60f64.ln(), 0.08).flat_map(|x| grid(0.2f64.ln(), 0.12).map(move |q| (x, q)));
    let height = |(x, q): &(f64, f64)| problem.held(&[*x], q.exp());
    let best = both.max_by(|a, b| height(a).total_cmp(&height(b))).unwrap();
    assert!((near - best.0).abs() < 0.06, "{near} {best:?}");
    // The greatest and least spread that are looked at would put it elsewhere.
    for tau in [LEAST, MOST] {
        let there = problem.solve(tau, &[near]).0[0];
        assert!((there - best.0).abs() > 0.1, "{tau}: {there} {best:?}");
    }
}

/// Levels of few failures and of millions, which live a tenth longer than the law says: the integral over the shift by a
/// fine sum about its peak.
#[test]
fn levels_of_any_size_have_their_integral() {
    for count in [40.0, 3000.0, 5e6] {
        let problem = Problem {
            family: by_name("exponential").unwrap(),
            cells: vec![vec![(0, failed(&[110.0], count))]],
        };
        let (x, tau) = ([100f64.ln()], 0.15);
        let height = |d: f64| problem.value(&problem.cells[0], &x, d) - 0.5 * (d / tau).powi(2);
        // The peak lies between no shift and the whole one; no bell is wider than this.
        let (centre, width) = (1.1f64.ln(), (1.0 / count).sqrt());
        let step = 0.01 * width;
        let all = (-1500..1500).map(|k| height(centre + step * f64::from(k)));
        let all: Vec<f64> = all.collect();
        let top = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = all.iter().map(|h| (h - top).exp()).sum();
        let scale = step / (tau * (2.0 * std::f64::consts::PI).sqrt());
        let want = top + (sum * scale).ln();
        let got = problem.held(&x, tau);
        assert!((got - want).abs() < 1e-5, "{count}: {got} {want}");
    }
}
