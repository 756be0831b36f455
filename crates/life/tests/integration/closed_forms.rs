//! Answers held against closed forms, sums over grids and the same question in other coordinates.

use nalgebra::DMatrix;
use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::line::{Method as LineMethod, Point, fit as arrhenius};
use sealspan_life::ageing::reach::{At, Limit as AgeingLimit, Reach, Reading, reach};
use sealspan_life::batches::{Exposed, limit, watch};
use sealspan_life::bounds::Method;
use sealspan_life::fit::fit;
use sealspan_life::goodness::statistics;
use sealspan_life::hazards::{
    self, Prepared, Ties, TimeScale, WatchedLife, WithLooks, weibull_frailty,
};
use sealspan_life::imputation::rubin::combine;
use sealspan_life::intervals::Intervals;
use sealspan_life::law::HazardShape;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_life::regression::{Cell, regress};
use sealspan_life::sectors::severity::{Shape, draws, interval};
use sealspan_life::sectors::shares::PRIOR;
use sealspan_life::terms::Terms;
use sealspan_numeric::special::{chi_square_quantile, student_quantile};
use sealspan_records::observation::{Observation, Sample};
use std::sync::Arc;

fn exact(ages: &[f64]) -> Vec<Observation> {
    let rows = ages.iter().map(|t| Observation::exact(*t, 0.0, 1.0));
    rows.map(Result::unwrap).collect()
}

/// The last seal seen was sound: both statistics are sums over a fine grid of the shares failed, up to where it was seen.
#[test]
fn goodness_ends_where_the_last_sound_seal_was_seen() {
    let mut rows = exact(&[12.0, 40.0, 55.0, 130.0]);
    rows.push(Observation::right(70.0, 0.0, 1.0).unwrap());
    rows.push(Observation::right(150.0, 0.0, 1.0).unwrap());
    let terms = Terms::new(&Sample::new(rows));
    let mean: f64 = 80.0;
    let got = statistics(by_name("exponential").unwrap(), &[mean.ln()], &terms).unwrap();
    // Product limit: 5/6, 4/6, 3/6, then one of two.
    let steps = [
        (12.0, 5.0 / 6.0),
        (40.0, 4.0 / 6.0),
        (55.0, 0.5),
        (130.0, 0.25),
    ];
    let share = |t: f64| -(-t / mean).exp_m1();
    let n = 400_000;
    let end = share(150.0);
    let (mut middle, mut tails) = (0.0, 0.0);
    for i in 0..n {
        let u = end * (f64::from(i) + 0.5) / f64::from(n);
        let alive = steps.iter().rev().find(|s| share(s.0) <= u);
        let off = (1.0 - alive.map_or(1.0, |s| s.1) - u).powi(2);
        middle += off;
        tails += off / (u * (1.0 - u));
    }
    let by = 6.0 * end / f64::from(n);
    assert!((got.cramer_von_mises - middle * by).abs() < 1e-5, "{got:?}");
    assert!((got.anderson_darling - tails * by).abs() < 1e-4, "{got:?}");
}

/// Charts over four years: as many false alarms a year as asked for, nearly, and an error that is the binomial one of
/// charts that alarm or not.
#[test]
fn false_alarms_of_several_years() {
    let found = limit(&[4.0; 40], 4.0, 0.5, 2.0, 2000, 3);
    assert!(
        (0.3..0.55).contains(&found.false_alarms_per_year),
        "{found:?}"
    );
    let chance = found.false_alarms_per_year * 4.0 / 40.0;
    let want = (40.0 * chance * (1.0 - chance) / found.runs as f64).sqrt() / 4.0;
    assert!(
        (found.std_error / want - 1.0).abs() < 0.1,
        "{found:?} {want}"
    );
}

/// Lives without memory that entered late, one of them failed between two looks: expected is the time watched over the
/// mean, and for that one the mean of an exponential law between its two ages.
#[test]
fn what_a_chart_expects_of_late_entries_and_looks() {
    let law = vec![100f64.ln()];
    let seal = |fitted: f64, entry: f64, end: (f64, f64), failed: bool| Exposed {
        level: 0,
        fitted,
        entry,
        end,
        failed,
        law: law.clone(),
    };
    let seals = [
        seal(0.0, 30.0, (80.0, 80.0), true),
        seal(10.0, 20.0, (60.0, 140.0), true),
        seal(50.0, 0.0, (190.0, 190.0), false),
    ];
    let family = by_name("exponential").unwrap();
    let courses = watch(family, 1, &seals, 2.0, 5.0);
    let width: f64 = 0.8;
    let between = 0.6 + 1.0 - width / width.exp_m1();
    let last = courses[0].points.last().unwrap();
    assert!(
        (last.expected - (0.5 + between - 0.2 + 1.9)).abs() < 1e-12,
        "{last:?}"
    );
    let first = courses[0].points[0];
    // On day 80: 50 days, 50 days and 30 days watched.
    assert!(
        (first.expected - (0.5 + 0.5 + 0.3)).abs() < 1e-12,
        "{first:?}"
    );
}

/// With an oven that never got there the line's errors are those of the same likelihood along 1/T itself, whose centre is
/// nought.
#[test]
fn a_censored_line_is_as_sure_whatever_its_centre() {
    let at = |celsius: f64, ln_hours: f64| Point {
        celsius,
        reach: Reach::At(At {
            ln_hours,
            std_error: None,
            freedom: 0.0,
            interval: None,
        }),
    };
    let mut points = vec![
        at(150.0, 5.1),
        at(135.0, 6.2),
        at(120.0, 7.0),
        at(110.0, 7.9),
    ];
    let line = arrhenius(&points, false).unwrap();
    assert_eq!(line.method, LineMethod::LeastSquares);
    points.push(Point {
        celsius: 95.0,
        reach: Reach::After(15000.0),
    });
    let line = arrhenius(&points, false).unwrap();
    assert_eq!(line.method, LineMethod::Censored);
    let x = |celsius: f64| 1000.0 / (celsius + 273.15);
    let cells: Vec<Cell> = points
        .iter()
        .map(|p| {
            let seen = match p.reach {
                Reach::At(at) => Observation::exact(at.ln_hours.exp(), 0.0, 1.0),
                _ => Observation::right(15000.0, 0.0, 1.0),
            };
            Cell {
                row: vec![1.0, x(p.celsius)],
                terms: Arc::new(Terms::new(&Sample::new(vec![seen.unwrap()]))),
            }
        })
        .collect();
    let names = ["level".to_owned(), "slope".to_owned()];
    let plain = regress(by_name("lognormal").unwrap(), &names, &cells).unwrap();
    for celsius in [60.0, 100.0, 140.0] {
        let c = &plain.covariance;
        let x = x(celsius);
        let variance = c[(0, 0)] + 2.0 * c[(0, 1)] * x + c[(1, 1)] * x * x;
        // Four ovens of two degrees of freedom.
        let half = student_quantile(0.95, 2.0) * (2.0 * variance).sqrt();
        let (low, high) = line.at(celsius, 0.9).confidence.unwrap();
        assert!(
            (0.5 * (high - low) / half - 1.0).abs() < 1e-3,
            "{celsius}: {half}"
        );
        let middle = plain.x[0] + plain.x[1] * x;
        assert!((0.5 * (high + low) - middle).abs() < 1e-4);
    }
}

#[test]
fn an_oven_that_crosses_its_limit_back_is_said_to() {
    let limit = AgeingLimit {
        value: 50.0,
        rising: false,
        start: None,
        end: None,
    };
    for (values, back) in [
        ([100.0, 60.0, 40.0, 55.0, 30.0], true),
        ([100.0, 60.0, 40.0, 35.0, 30.0], false),
    ] {
        let readings: Vec<Reading> = values
            .iter()
            .enumerate()
            .map(|(i, value)| Reading {
                hours: 10.0 * i as f64,
                value: *value,
            })
            .collect();
        let oven = reach(&readings, Curve::BetweenTime, &limit, 0.9).unwrap();
        assert_eq!(oven.crosses_back, back);
    }
}

fn lives(ages: &[f64], kinds: usize) -> Vec<WatchedLife> {
    ages.iter()
        .enumerate()
        .map(|(i, age)| WatchedLife {
            observation: Observation::exact(*age, 0.0, 1.0).unwrap(),
            design: i % kinds,
            stratum: 0,
            cluster: i % 3,
        })
        .collect()
}

/// Risk sets hang on the order of ages only. Of complete lives the share failed before the i-th is (i − 1)/n, so the test
/// along it is that along ages put at 1, 2, …; and no unit of time changes the test along ages.
#[test]
fn drift_along_the_share_failed_is_drift_along_ranks() {
    let ages = [
        3.0, 7.0, 8.0, 15.0, 16.0, 40.0, 41.0, 90.0, 95.0, 300.0, 310.0, 900.0,
    ];
    let ranks: Vec<f64> = (1..=12).map(f64::from).collect();
    let design = [vec![0.3], vec![1.0], vec![-0.8], vec![0.1], vec![1.7]];
    let test = |ages: &[f64], scale: TimeScale| {
        let data = Prepared::new(&["x".to_owned()], &design, &lives(ages, 5)).unwrap();
        assert_eq!(data.clusters(), 3);
        let fit = hazards::fit(data, Ties::Efron).unwrap();
        let found = fit.proportionality(scale).unwrap();
        (found.columns[0].test.statistic, found.columns[0].direction)
    };
    let (want, towards) = test(&ranks, TimeScale::Age);
    let (got, direction) = test(&ages, TimeScale::ShareFailed);
    assert!((got / want - 1.0).abs() < 1e-9, "{got} {want}");
    assert_eq!(direction, towards);
    let tiny: Vec<f64> = ages.iter().map(|t| 1e-7 * t).collect();
    let (a, b) = (test(&ages, TimeScale::Age), test(&tiny, TimeScale::Age));
    assert!((a.0 / b.0 - 1.0).abs() < 1e-6, "{a:?} {b:?}");
}

/// Clusters with late entries: the likelihood is a gamma integral over the frailty among those still sound at entry, in
/// closed form for each cluster.
#[test]
fn a_weibull_frailty_with_late_entries_has_its_closed_likelihood() {
    let rows = [
        (0usize, 20.0, 120.0, true),
        (0, 0.0, 90.0, true),
        (0, 40.0, 100.0, true),
        (1, 60.0, 400.0, false),
        (1, 0.0, 350.0, true),
        (1, 10.0, 420.0, false),
        (2, 30.0, 200.0, true),
        (2, 0.0, 60.0, true),
        (3, 50.0, 500.0, false),
        (3, 0.0, 480.0, true),
    ];
    let design = [vec![0.0], vec![1.0]];
    let lives: Vec<WatchedLife> = rows
        .iter()
        .enumerate()
        .map(|(i, (cluster, entry, exit, failed))| WatchedLife {
            observation: if *failed {
                Observation::exact(*exit, *entry, 1.0).unwrap()
            } else {
                Observation::right(*exit, *entry, 1.0).unwrap()
            },
            design: i % 2,
            stratum: 0,
            cluster: *cluster,
        })
        .collect();
    let data = WithLooks::new(&["x".to_owned()], &design, &lives).unwrap();
    assert_eq!(data.clusters(), 4);
    let fit = weibull_frailty(&data, 0.9).unwrap();
    assert!(fit.theta > 0.05, "{fit:?}");
    let likelihood = |x: &[f64], theta: f64| {
        let shape = 1.0 / x[2].exp();
        let hazard = |i: usize, t: f64| (t / (x[0] + x[1] * design[i % 2][0]).exp()).powf(shape);
        let mut sum = 0.0;
        for cluster in 0..4 {
            let (mut exits, mut entries, mut failed, mut ln) = (0.0, 0.0, 0.0, 0.0);
            for (i, row) in rows.iter().enumerate().filter(|(_, r)| r.0 == cluster) {
                entries += hazard(i, row.1);
                exits += hazard(i, row.2);
                if row.3 {
                    ln += (shape / row.2 * hazard(i, row.2) * (1.0 + theta * failed)).ln();
                    failed += 1.0;
                }
            }
            // Given those sound at entry.
            sum += ln - (1.0 / theta + failed) * (1.0 + theta * exits).ln();
            sum += (1.0 + theta * entries).ln() / theta;
        }
        sum
    };
    let top = likelihood(&fit.x, fit.theta);
    assert!((fit.log_likelihood - top).abs() < 1e-8, "{fit:?} {top}");
    for j in 0..3 {
        for step in [-0.01, 0.01] {
            let mut x = fit.x.clone();
            x[j] += step;
            assert!(likelihood(&x, fit.theta) < top);
        }
    }
    assert!(
        likelihood(&fit.x, 0.98 * fit.theta) < top && likelihood(&fit.x, 1.02 * fit.theta) < top
    );
}

/// Two estimates of three copies: t = 4, for which the freedom is t (1 + 1/k) (1 + 1/r)²/2 (Li, Raghunathan & Rubin 1991,
/// from memory), and an F law with two degrees above has its tail in closed form.
#[test]
fn few_copies_of_two_estimates() {
    let within = DMatrix::from_diagonal_element(2, 2, 0.04);
    let each: Vec<_> = [[0.3, -0.2], [0.5, -0.3], [0.4, -0.05]]
        .iter()
        .map(|x| (x.to_vec(), within.clone()))
        .collect();
    let (statistic, p) = combine(&each).map(|c| c.wald().unwrap()).unwrap();
    let spread = |x: [f64; 3]| {
        let mean = x.iter().sum::<f64>() / 3.0;
        (
            mean,
            x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 2.0,
        )
    };
    let (a, b) = (spread([0.3, 0.5, 0.4]), spread([-0.2, -0.3, -0.05]));
    let r = (1.0 + 1.0 / 3.0) * (a.1 + b.1) / 2.0 / 0.04;
    let f = (a.0 * a.0 + b.0 * b.0) / 0.04 / (2.0 * (1.0 + r));
    let freedom = 0.5 * 4.0 * 1.5 * (1.0 + 1.0 / r).powi(2);
    let want = (1.0 + 2.0 * f / freedom).powf(-0.5 * freedom);
    assert!((statistic / (2.0 * f) - 1.0).abs() < 1e-9);
    assert!((p / want - 1.0).abs() < 1e-7, "{p} {want}");
}

/// Complete lives without memory: 2 n λ/λ̂ is chi-square with 2n degrees of freedom, and the studentised ends of ln λ are
/// its quantiles.
#[test]
fn studentised_ends_of_a_rate_are_chi_square() {
    let ages = [20.0, 35.0, 60.0, 90.0, 140.0, 180.0];
    let sample = Sample::new(exact(&ages));
    let fit = fit(by_name("exponential").unwrap(), &sample).unwrap();
    let intervals = Intervals::new(&fit, &sample, Method::Bootstrap, 0.8, 5);
    let found = intervals.of(Quantity::Parameter(0));
    let mean = ages.iter().sum::<f64>() / 6.0;
    let end = |share: f64| chi_square_quantile(share, 12.0) / (12.0 * mean);
    // Each end has its share to 0.5 %, of 4,000 refits; in the mean that is some 2 %.
    let (low, high) = (found.bounds.lower.unwrap(), found.bounds.upper.unwrap());
    assert!((low / end(0.1) - 1.0).abs() < 0.04, "{low} {}", end(0.1));
    assert!((high / end(0.9) - 1.0).abs() < 0.04, "{high} {}", end(0.9));
}

/// Shares of a door's failures are drawn from a Dirichlet law, whose parts have beta laws; ends are places in the order.
#[test]
fn drawn_shares_have_beta_laws() {
    let counts = [4u32, 0, 7];
    let shape = Shape {
        estimate: 2.0,
        ln_error: 0.0,
    };
    let all = draws(&counts, shape, 20_000, 8);
    let whole: f64 = counts.iter().map(|c| f64::from(*c) + PRIOR).sum();
    for (i, count) in counts.iter().enumerate() {
        let own: Vec<f64> = all
            .iter()
            .map(|d| d.severity[i].powi(2) / d.severity.iter().map(|w| w * w).sum::<f64>())
            .collect();
        let n = own.len() as f64;
        let mean = own.iter().sum::<f64>() / n;
        let variance = own.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / n;
        let want = (f64::from(*count) + PRIOR) / whole;
        let spread = want * (1.0 - want) / (whole + 1.0);
        assert!(
            (mean - want).abs() < 4.0 * (spread / n).sqrt(),
            "{i}: {mean} {want}"
        );
        // The variance is as sure as the fourth moment says.
        let fourth = own.iter().map(|p| (p - mean).powi(4)).sum::<f64>() / n;
        let sure = ((fourth / (spread * spread) - 1.0) / n).sqrt();
        assert!(
            (variance / spread - 1.0).abs() < 4.0 * sure,
            "{i}: {variance} {spread}"
        );
    }
    let values: Vec<f64> = (0..1000).map(f64::from).collect();
    let (low, high) = interval(values, 0.9).unwrap();
    assert!((low - 50.0).abs() <= 1.0 && (high - 950.0).abs() <= 1.0);
}

/// A mixture of a law with itself is that law; and hazards rise, stay or fall with the shape.
#[test]
fn laws_at_their_seams() {
    let mixture = by_name("weibull_mixture").unwrap();
    let (mu, ln_sigma) = (6.0, -0.7f64);
    let theta = [mu, ln_sigma, 0.0, ln_sigma, 0.4];
    for p in [0.01f64, 0.3, 0.9] {
        let found = mixture.quantity(&theta, Quantity::Quantile(p)).value;
        let want = mu + ln_sigma.exp() * (-(-p).ln_1p()).ln();
        assert!((found - want).abs() < 1e-8, "{p}: {found} {want}");
    }
    let shapes = [0.5, 1.0, 2.0].map(|shape| Life::weibull(shape, 100.0).unwrap().hazard_shape());
    assert_eq!(
        shapes,
        [
            HazardShape::Falling,
            HazardShape::Constant,
            HazardShape::Rising
        ]
    );
}
