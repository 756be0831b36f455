//! Where a law, an interval or a maximum ends: edges of families, ends that are not there, peaks that are set aside.

use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::reach::{Limit, Reach, Reading, reach};
use sealspan_life::bounds::{Method, NoEnd, bounds};
use sealspan_life::fit::{Fit, fit};
use sealspan_life::intervals::Intervals;
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::posterior::Posterior;
use sealspan_life::quantity::Quantity;
use sealspan_life::regression::{
    AddedColumn, Design, Line, Penalty, Score, fit_design, random_factor,
};
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::student_quantile;
use sealspan_records::observation::{Observation, Sample};
use std::sync::Arc;

fn exact(t: f64) -> Observation {
    Observation::exact(t, 0.0, 1.0).unwrap()
}

fn right(t: f64) -> Observation {
    Observation::right(t, 0.0, 1.0).unwrap()
}

fn fitted(name: &str, sample: &Sample) -> Fit {
    fit(laws::by_name(name).unwrap(), sample).unwrap()
}

/// Even quantiles of a law, one a seal.
fn quantiles(life: &Life, n: usize) -> Vec<Observation> {
    (0..n)
        .map(|i| exact(life.quantile((i as f64 + 0.5) / n as f64)))
        .collect()
}

/// Seals that fail within hours or days of each other among sixty are a higher peak of a mixture, by a part so narrow
/// that it is a few ages only, or more than ten times as narrow as the other: it is set aside, and how much higher it
/// lies is kept. Its height here is that of the two parts written out, near the close ages' own mean and spread.
#[test]
fn a_peak_on_few_close_failures_is_set_aside_and_said() {
    let life = Life::weibull(2.0, 500.0).unwrap();
    for (close, from, step, shape) in [(8, 300.0, 0.25, 450.0), (12, 700.0, 4.0, 70.0)] {
        let mut rows = quantiles(&life, 60);
        rows.extend((0..close).map(|i| exact(from + step * f64::from(i))));
        let sample = Sample::new(rows);
        let found = fitted("weibull_mixture", &sample);
        let higher = found.set_aside.expect("a peak that was set aside");
        let part = |t: f64, shape: f64, scale: f64| {
            let z = t / scale;
            shape / scale * z.powf(shape - 1.0) * (-z.powf(shape)).exp()
        };
        let share = f64::from(close) / (60.0 + f64::from(close));
        let middle = from + 0.6 * step * f64::from(close);
        let of = |t: f64| (1.0 - share) * part(t, 2.0, 500.0) + share * part(t, shape, middle);
        let ages = sample.rows().iter().map(|o| o.last());
        let by_hand = ages.map(|t| of(t).ln()).sum::<f64>() - found.log_likelihood;
        assert!(
            by_hand > 5.0 && higher >= by_hand && higher < by_hand + 3.0,
            "{higher} {by_hand}"
        );
    }
}

/// Eight invented seals whose likelihood under a failure-free time has a peak inside, and is higher still without one:
/// refused. The profile over the failure-free time, by plain Weibull fits of the ages less that time, has the peak.
#[test]
fn a_local_peak_below_the_edge_is_refused() {
    let failed = [60.2, 72.3, 109.0, 127.2, 130.0];
    let running = [35.1, 50.4, 72.9];
    let sample = |free: f64| {
        let later = |t: &f64| *t > free;
        let a = failed.iter().map(|t| exact(t - free));
        let b = running.iter().copied().filter(|t| later(t));
        Sample::new(a.chain(b.map(|t| right(t - free))).collect())
    };
    let family = laws::by_name("three_parameter_weibull").unwrap();
    let why = fit(family, &sample(0.0)).err().expect("no fit").to_string();
    assert!(why.contains("higher still at its edge"), "{why}");
    let profile: Vec<f64> = (0..240)
        .map(|i| fitted("weibull", &sample(0.25 * f64::from(i))).log_likelihood)
        .collect();
    let peaks: Vec<f64> = profile
        .windows(3)
        .filter(|w| w[1] > w[0] && w[1] > w[2])
        .map(|w| w[1])
        .collect();
    assert!(peaks.len() == 1 && peaks[0] < profile[0], "{peaks:?}");
    // Towards the first failure it grows without limit, which is no estimate either.
    assert!(profile.last().unwrap() > &profile[0]);
}

/// All entered late and survival falls nearly as a power of age from each entry on: the likelihood of that law
/// (Pareto's, its power n/Σ ln(t/entry)) is 1.2 below the lognormal's. So σ has no upper end at 90 %, where 1.35 are
/// admitted, and has one at 80 %, where 0.82 are.
#[test]
fn a_parameter_runs_off_where_the_limiting_law_is_admitted() {
    let mut stream = Stream::new(8, 5);
    let rows: Vec<Observation> = (0..12)
        .map(|i| {
            let entry = 10.0 + 15.0 * f64::from(i * 7 % 11);
            let hazard = (entry / 100.0f64).powf(0.4) + stream.exponential();
            Observation::exact(100.0 * hazard.powf(2.5), entry, 1.0).unwrap()
        })
        .collect();
    let n = rows.len() as f64;
    let logs: f64 = rows.iter().map(|o| (o.last() / o.entry()).ln()).sum();
    let ages: f64 = rows.iter().map(|o| o.last().ln()).sum();
    let pareto = n * (n / logs).ln() - n - ages;
    let fit = fitted("lognormal", &Sample::new(rows));
    let gap = fit.log_likelihood - pareto;
    assert!((gap - 1.2).abs() < 0.01, "{gap}");
    let sigma = |level: f64| bounds(&fit, Quantity::Parameter(1), Method::Profile, level);
    assert_eq!(sigma(0.9).no_upper, Some(NoEnd::NoLimit));
    assert!(sigma(0.8).upper.is_some());
}

/// Shares about one, close to it and farther off.
fn near(least: f64) -> impl Iterator<Item = f64> {
    let off = [0.0003, 0.002, 0.01, 0.03, 0.07, 0.12, 0.2, 0.3, 0.4];
    off.into_iter()
        .flat_map(|off| [1.0 - off, 1.0 + off])
        .map(move |by| least * by)
}

/// An age by which a share fails has an upper end U while the share of weak seals is admitted to be no smaller, and
/// there so few fail by U as the interval of survival at U admits; beyond that it has none.
#[test]
fn ages_of_weak_seals_end_where_the_share_of_weak_seals_does() {
    let weak = Life::weibull(2.0, 100.0).unwrap();
    for (seals, of_them, end) in [(40, 20, 150.0), (30, 9, 120.0)] {
        let mut rows: Vec<Observation> = quantiles(&weak, of_them)
            .into_iter()
            .map(|o| if o.last() < end { o } else { right(end) })
            .collect();
        rows.extend((of_them..seals).map(|_| right(end)));
        let fit = fitted("weak_fraction_weibull", &Sample::new(rows));
        let of = |quantity| bounds(&fit, quantity, Method::Profile, 0.9);
        let least = of(Quantity::Parameter(2)).lower.unwrap();
        let (mut finite, mut without) = (0, 0);
        for share in near(least) {
            let age = of(Quantity::Quantile(share));
            match age.upper {
                Some(upper) => {
                    assert!(share < least, "{share} {least}");
                    let alive = of(Quantity::Survival(upper)).upper.unwrap();
                    assert!((alive - (1.0 - share)).abs() < 1e-4, "{share}: {alive}");
                    finite += 1;
                }
                None => {
                    assert!(share >= least, "{share} {least}: {:?}", age.no_upper);
                    without += 1;
                }
            }
        }
        assert!(finite >= 8 && without >= 8, "{finite} {without}");
    }
}

/// Fieller's set is an interval only where the slope is told from 0: of a line whose slope is 2.2 standard errors, with
/// 3 degrees of freedom, at 80 % (t = 1.64) and not at 90 % (2.35), though the limit lies within the looks.
#[test]
fn a_slope_not_told_from_nought_gives_no_interval() {
    let values = [12.787, 9.426, 10.0, 10.574, 7.213];
    let looks: Vec<Reading> = (0..)
        .zip(values)
        .map(|(i, value)| Reading {
            hours: 10.0 * f64::from(i).exp(),
            value,
        })
        .collect();
    let limit = Limit {
        value: 8.1,
        rising: false,
        start: None,
        end: None,
    };
    for level in [0.8, 0.9] {
        let oven = reach(&looks, Curve::LnTime, &limit, level).unwrap();
        let line = oven.line.unwrap();
        let told = line.slope.abs() * (line.spread / line.variance.unwrap()).sqrt();
        assert!((told - 2.2).abs() < 0.01, "{told}");
        let Reach::At(at) = oven.reach else {
            panic!("{:?}", oven.reach)
        };
        let needed = student_quantile(0.5 + 0.5 * level, line.freedom);
        assert_eq!(at.interval.is_some(), told > needed, "{level}");
    }
}

/// A coefficient held near 0.02 of a number that is given in hundreds: the likelihood's slope there is what holds it
/// back, (b − mean)/sd², with the expected failures of an exponential law written out.
#[test]
fn a_held_coefficient_stands_where_the_likelihood_pulls_as_hard() {
    let mut stream = Stream::new(3, 1);
    let rows: Vec<(f64, Observation)> = (0..60)
        .map(|i| {
            let number = 100.0 * f64::from(i % 5);
            let mean = 200.0 * (0.004 * number).exp();
            (number, exact(mean * stream.exponential()))
        })
        .collect();
    let line = |(number, o): &(f64, Observation)| Line {
        row: vec![(0, 1.0), (1, *number)],
        offset: 0.0,
        stratum: 0,
        terms: Arc::new(Terms::new(&Sample::new(vec![*o]))),
    };
    let (mean, sd) = (0.02, 0.0008);
    let design = Design {
        names: vec!["intercept".to_owned(), "number".to_owned()],
        lines: rows.iter().map(line).collect(),
        strata: 1,
        penalties: vec![Penalty { at: 1, mean, sd }],
    };
    let found = fit_design(laws::by_name("exponential").unwrap(), &design).unwrap();
    let x = found.regression.x;
    let pull: f64 = rows
        .iter()
        .map(|(number, o)| number * (o.last() / (x[0] + x[1] * number).exp() - 1.0))
        .sum();
    let held = (x[1] - mean) / (sd * sd);
    assert!((pull / held - 1.0).abs() < 1e-6, "{pull} {held}");
    assert!(x[1] > 0.005 && x[1] < 0.019, "{}", x[1]);
    // The same with a random factor beside it whose levels lie next to nothing apart: a thousandth, the least that is
    // tried, so that the covariance moves by its square at most.
    let level_of: Vec<usize> = (0..rows.len()).map(|i| i / 12).collect();
    let family = laws::by_name("exponential").unwrap();
    let drawn = random_factor(family, &design, &level_of, 5, 0.9, Some(1e-6)).unwrap();
    let (drawn, found) = (
        drawn.regression,
        fit_design(family, &design).unwrap().regression,
    );
    for i in 0..2 {
        assert!(
            (drawn.x[i] / found.x[i] - 1.0).abs() < 1e-6,
            "{} {}",
            drawn.x[i],
            found.x[i]
        );
        for j in 0..2 {
            let (a, b) = (drawn.covariance[(i, j)], found.covariance[(i, j)]);
            assert!((a - b).abs() < 1e-6 * b.abs().max(1.0), "{i} {j}: {a} {b}");
        }
    }
    assert!((drawn.log_likelihood - found.log_likelihood).abs() < 1e-4);
}

/// The confidence of an end read from N draws has the error of a binomial share.
#[test]
fn the_error_of_a_bootstrap_end_is_that_of_a_share() {
    let sample = Sample::new(quantiles(&Life::weibull(2.0, 300.0).unwrap(), 40));
    let fit = fitted("weibull", &sample);
    for level in [0.9f64, 0.5] {
        let intervals = Intervals::new(&fit, &sample, Method::Bootstrap, level, 1);
        let found = intervals.of(Quantity::Quantile(0.5));
        assert_eq!(found.method, Method::Bootstrap);
        let side = 0.5 * (1.0 - level);
        let error = (side * (1.0 - side) / 4000.0).sqrt();
        assert!((found.simulation_error.unwrap() / error - 1.0).abs() < 1e-9);
    }
}

/// Draws of every parameter lie about the likeliest law.
#[track_caller]
fn posterior_lies_about(name: &str, sample: &Sample) {
    let fit = fitted(name, sample);
    let terms = Terms::new(sample);
    let posterior = Posterior::new(fit.family, &terms, &fit.theta, &fit.free, 1).unwrap();
    assert!(posterior.effective_draws.unwrap() > 300.0);
    for i in 0..fit.family.dimension() {
        let quantity = Quantity::Parameter(i);
        let ends = posterior.quantiles(quantity, &[0.025, 0.975]);
        let (low, high) = (ends[0].unwrap(), ends[1].unwrap());
        let own = fit.estimate(quantity);
        assert!(low < own && own < high, "{i}: {low} {own} {high}");
    }
}

#[test]
fn a_posterior_of_three_parameters_lies_about_the_fit() {
    let rows = quantiles(&Life::weibull(2.0, 300.0).unwrap(), 30);
    let later = rows.iter().map(|o| exact(o.last() + 200.0));
    posterior_lies_about("three_parameter_weibull", &Sample::new(later.collect()));
}

#[test]
fn a_posterior_of_a_mixture_keeps_the_order_of_the_parts() {
    let stated = [
        ("share_1", 0.4),
        ("shape_1", 2.0),
        ("scale_1", 100.0),
        ("shape_2", 5.0),
        ("scale_2", 900.0),
    ];
    let life = Life::named("weibull_mixture", &stated).unwrap();
    posterior_lies_about("weibull_mixture", &Sample::new(quantiles(&life, 50)));
}

/// A known shift of ln life is taken off what the regression finds, and a column that is added is told by the columns
/// there as least squares says. For a lognormal law of exact lives and r the partial correlation the score test with the
/// observed information is n r²/(1 − 2 r²), for a column that goes with life tells of σ as well; so does the correlation
/// of two columns, (ρ − 2 r s)/√((1 − 2 r²)(1 − 2 s²)).
#[test]
fn shifts_and_added_columns_are_those_of_least_squares() {
    let n = 24;
    let at = |i: usize| (i as f64 * 0.7).sin() + 0.1 * (i % 5) as f64;
    let other = |i: usize| (i % 3) as f64 + 0.5 * at(i);
    let third = |i: usize| (i as f64 * 1.9).cos() + 0.3 * (i % 3) as f64;
    let ln = |i: usize| 5.0 + 0.4 * at(i) + 0.2 * third(i) + 0.6 * (i as f64 * 2.3).sin();
    let design = |shift: f64| Design {
        names: vec!["intercept".to_owned(), "at".to_owned()],
        lines: (0..n)
            .map(|i| Line {
                row: vec![(0, 1.0), (1, at(i))],
                offset: shift,
                stratum: 0,
                terms: Arc::new(Terms::new(&Sample::new(vec![exact(ln(i).exp())]))),
            })
            .collect(),
        strata: 1,
        penalties: vec![],
    };
    let family = laws::by_name("lognormal").unwrap();
    let plain = fit_design(family, &design(0.0)).unwrap().regression;
    let moved = fit_design(family, &design(0.8)).unwrap().regression;
    assert!((moved.x[0] - plain.x[0] + 0.8).abs() < 1e-6);
    assert!((moved.x[1] - plain.x[1]).abs() < 1e-6);
    // What is left of a column beside the intercept and `at`.
    let left = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
        let mean = |f: &dyn Fn(usize) -> f64| (0..n).map(f).sum::<f64>() / n as f64;
        let (a, b) = (mean(&at), mean(of));
        let cross: f64 = (0..n).map(|i| (at(i) - a) * (of(i) - b)).sum();
        let square: f64 = (0..n).map(|i| (at(i) - a).powi(2)).sum();
        (0..n)
            .map(|i| of(i) - b - cross / square * (at(i) - a))
            .collect()
    };
    let dot = |x: &[f64], y: &[f64]| -> f64 { x.iter().zip(y).map(|(a, b)| a * b).sum() };
    let correlation = |x: &[f64], y: &[f64]| dot(x, y) / (dot(x, x) * dot(y, y)).sqrt();
    let lives = left(&ln);
    let columns: [Vec<(usize, f64)>; 2] = [
        (0..n).map(|i| (i, other(i))).collect(),
        (0..n).map(|i| (i, third(i))).collect(),
    ];
    let first = design(0.0);
    let added = AddedColumn::new(&plain, &first);
    let scores: Vec<Score> = columns.iter().map(|c| added.test(c)).collect();
    let rests = [left(&other), left(&third)];
    for (score, rest) in scores.iter().zip(&rests) {
        let r = correlation(rest, &lives);
        let want = n as f64 * r * r / (1.0 - 2.0 * r * r);
        assert!(
            (score.statistic / want - 1.0).abs() < 1e-4,
            "{score:?} {want}"
        );
        assert_eq!(score.direction > 0.0, r > 0.0);
    }
    let together = added.correlation((&columns[0], &scores[0]), (&columns[1], &scores[1]));
    let [r, s] = [0, 1].map(|i| correlation(&rests[i], &lives));
    let size = ((1.0 - 2.0 * r * r) * (1.0 - 2.0 * s * s)).sqrt();
    let want = (correlation(&rests[0], &rests[1]) - 2.0 * r * s) / size;
    assert!((together - want).abs() < 1e-4, "{together} {want}");
}
