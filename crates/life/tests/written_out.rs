//! Answers held against the same question written out another way: other parameters, plain sums, finer grids.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use nalgebra::DMatrix;
use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::line::{Point, fit as arrhenius};
use sealspan_life::ageing::reach::{At, Limit as AgeingLimit, Reach, Reading};
use sealspan_life::bounds::Method;
use sealspan_life::defects::simulate::{LookPlan, simulate};
use sealspan_life::defects::{self, DETECTION, Model, StageLaw};
use sealspan_life::degradation::mixed::fit_among;
use sealspan_life::degradation::mixed_fit::{Structure, Sums, ln_likelihood};
use sealspan_life::degradation::{Limit, Scale, wear};
use sealspan_life::demonstration::share_interval;
use sealspan_life::few::{lower_bounds, scale_bounds};
use sealspan_life::fit::fit;
use sealspan_life::imputation;
use sealspan_life::intervals::usual_method;
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::recurrence;
use sealspan_life::recurrence::hungry::Count;
use sealspan_life::recurrence::ratios::{Apart, Spread};
use sealspan_life::regression::blurs_of;
use sealspan_life::residuals::residuals_at;
use sealspan_life::sectors::severity::{Shape, draws};
use sealspan_life::sectors::shares::shares;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::ln_gamma;
use sealspan_records::history::{Ended, History};
use sealspan_records::observation::{Observation, Sample};

/// Second derivatives of a function by differences, to the fourth power of the steps.
fn hessian(f: &dyn Fn(&[f64]) -> f64, x: &[f64], steps: &[f64]) -> DMatrix<f64> {
    let n = x.len();
    DMatrix::from_fn(n, n, |i, j| {
        let at = |a: f64, b: f64| {
            let mut there = x.to_vec();
            there[i] += a * steps[i];
            there[j] += b * steps[j];
            f(&there)
        };
        let of = |h: f64| {
            let cross = at(h, h) - at(h, -h) - at(-h, h) + at(-h, -h);
            cross / (4.0 * h * h * steps[i] * steps[j])
        };
        (4.0 * of(0.5) - of(1.0)) / 3.0
    })
}

#[test]
fn errors_of_spreads_are_those_with_the_spreads_as_parameters() {
    let mut stream = Stream::new(11, 0);
    let paths: Vec<Vec<(f64, f64)>> = (0..14)
        .map(|_| {
            let (a, b) = (stream.normal(), stream.normal());
            let (level, rate) = (2.0 + 0.3 * a, -0.8 + 0.15 * a + 0.3 * b);
            let point = |t: f64| (t, level + rate * t);
            let times = [0.0, 0.7, 1.5, 2.2, 3.0].map(point);
            let noisy = times.map(|(t, y)| (t, y + 0.1 * stream.normal()));
            noisy.to_vec()
        })
        .collect();
    let model = fit_among(&paths, Scale::Plain, &[Structure::Correlated]).unwrap();
    let sums: Vec<Sums> = paths.iter().map(|p| Sums::of(p.iter().copied())).collect();
    // Level, rate, ln of the three standard deviations, and the correlation by its inverse hyperbolic tangent.
    let value = |x: &[f64]| {
        let (sigma, level, rate, r) = (x[2].exp(), x[3].exp(), x[4].exp(), x[5].tanh());
        let root = [level, r * rate, rate * (1.0 - r * r).sqrt()].map(|v| v / sigma);
        ln_likelihood(&sums, [x[0], x[1], x[2]], root, true)
    };
    let (level, rate) = (model.among[(0, 0)].sqrt(), model.among[(1, 1)].sqrt());
    let r = model.among[(0, 1)] / (level * rate);
    let ln = [model.noise.ln(), level.ln(), rate.ln()];
    let x = [model.mean[0], model.mean[1], ln[0], ln[1], ln[2], r.atanh()];
    let steps = [0.02, 0.02, 0.02, 0.05, 0.05, 0.05];
    let covariance = (-hessian(&value, &x, &steps)).try_inverse().unwrap();
    let error = |i: usize| covariance[(i, i)].sqrt();
    let found = [
        model.ln_noise_error,
        model.ln_among_errors[0],
        model.ln_among_errors[1],
    ];
    for (i, found) in found.into_iter().enumerate() {
        let (found, want) = (found.unwrap(), error(i + 2));
        assert!((found / want - 1.0).abs() < 1e-3, "{i}: {found} {want}");
    }
}

#[test]
fn what_wear_leaves_open_is_the_likelihood_over_a_flat_prior() {
    let mut stream = Stream::new(3, 0);
    let mut path = || {
        let mut y = 0.0;
        let mut out = vec![(0.0, 0.0)];
        for i in 1..7 {
            // Gamma increments of shape 3: sums of three exponentials.
            y += 0.2 * (stream.exponential() + stream.exponential() + stream.exponential());
            out.push((f64::from(i), y));
        }
        out
    };
    let paths: Vec<_> = (0..8).map(|_| path()).collect();
    let limit = Limit {
        value: 10.0,
        rising: true,
    };
    let found = wear::fit(&paths, limit).unwrap();
    let steps: Vec<f64> = paths
        .iter()
        .flat_map(|p| p.windows(2).map(|w| w[1].1 - w[0].1))
        .collect();
    let n = steps.len() as f64;
    let (sum, ln_sum) = steps
        .iter()
        .fold((0.0, 0.0), |(s, l), x| (s + x, l + x.ln()));
    let value = |a: f64, b: f64| {
        let shape = a.exp();
        n * (shape * b - ln_gamma(shape)) + (shape - 1.0) * ln_sum - b.exp() * sum
    };
    let (ca, cb) = (found.shape.ln(), found.rate.ln());
    // The errors are those of the likelihood's curvature; the mean rate of wear is the shape over the rate.
    let at = |x: &[f64]| value(x[0], x[1]);
    let covariance = (-hessian(&at, &[ca, cb], &[0.02, 0.02]))
        .try_inverse()
        .unwrap();
    let of_mean = covariance[(0, 0)] + covariance[(1, 1)] - 2.0 * covariance[(0, 1)];
    assert!((found.ln_errors.0 / covariance[(0, 0)].sqrt() - 1.0).abs() < 1e-3);
    assert!((found.ln_mean_error / of_mean.sqrt() - 1.0).abs() < 1e-2);
    let (wa, wb) = found.ln_errors;
    let top = value(ca, cb);
    let (mut total, mut moments) = (0.0, [0.0; 5]);
    for i in -120..=120 {
        for j in -120..=120 {
            let (a, b) = (0.05 * wa * f64::from(i), 0.05 * wb * f64::from(j));
            let weight = (value(ca + a, cb + b) - top).exp();
            total += weight;
            for (m, x) in moments.iter_mut().zip([a, b, a * a, a * b, b * b]) {
                *m += weight * x;
            }
        }
    }
    let [a, b, aa, ab, bb] = moments.map(|m| m / total);
    let mean = |f: &dyn Fn(f64, f64) -> f64| {
        let all = found.open.iter();
        all.map(|(w, [shape, rate])| w * f(shape.ln() - ca, rate.ln() - cb))
            .sum::<f64>()
    };
    let [fa, fb] = [mean(&|a, _| a), mean(&|_, b| b)];
    assert!((fa - a).abs() < 0.02 * wa && (fb - b).abs() < 0.02 * wb);
    let second = [
        (mean(&|a, _| a * a) - fa * fa, aa - a * a),
        (mean(&|a, b| a * b) - fa * fb, ab - a * b),
        (mean(&|_, b| b * b) - fb * fb, bb - b * b),
    ];
    for (found, want) in second {
        assert!((found / want - 1.0).abs() < 0.02, "{found} {want}");
    }
}

#[test]
fn ends_of_a_scale_leave_tails_of_a_count_of_failures() {
    // With a known shape failures come as a Poisson process in Σ tᵝ/ηᵝ: as few as seen, or as many, with half of
    // what the level leaves. Invented ages.
    let ages = [120.0, 340.0, 410.0, 520.0];
    let rows = ages.iter().map(|t| Observation::exact(*t, 0.0, 1.0));
    let more = [Observation::right(600.0, 0.0, 5.0)];
    let sample = Sample::new(rows.chain(more).map(Result::unwrap).collect());
    for (shape, level) in [(1.0, 0.9), (2.2, 0.8), (0.7, 0.95)] {
        let (lower, upper) = scale_bounds(&sample, shape, level).unwrap();
        let time = |t: f64| t.powf(shape);
        let whole = ages.iter().map(|t| time(*t)).sum::<f64>() + 5.0 * time(600.0);
        let at_most = |most: i32, mean: f64| {
            let term = |k: i32| (1..=k).fold((-mean).exp(), |p, i| p * mean / f64::from(i));
            (0..=most).map(term).sum::<f64>()
        };
        let tail = 0.5 - 0.5 * level;
        let few = at_most(4, whole / time(lower));
        let many = 1.0 - at_most(3, whole / time(upper));
        assert!((few - tail).abs() < 1e-9, "{shape}: {few} {tail}");
        assert!((many - tail).abs() < 1e-9, "{shape}: {many} {tail}");
    }
}

#[test]
fn an_ovens_own_error_moves_the_slope_as_the_oven_does() {
    // Invented ovens.
    let ovens = [
        (80.0, 9.1, 0.05),
        (95.0, 8.3, 0.12),
        (110.0, 7.2, 0.07),
        (130.0, 6.1, 0.2),
    ];
    for weighted in [false, true] {
        let line = |moved: Option<usize>| {
            let points: Vec<Point> = ovens
                .iter()
                .enumerate()
                .map(|(i, (celsius, ln_hours, error))| Point {
                    celsius: *celsius,
                    reach: Reach::At(At {
                        ln_hours: ln_hours + if moved == Some(i) { *error } else { 0.0 },
                        std_error: Some(*error),
                        freedom: 6.0,
                        interval: None,
                    }),
                })
                .collect();
            arrhenius(&points, weighted).unwrap()
        };
        let plain = line(None);
        // The slope is linear in each oven's time.
        let moves = (0..ovens.len()).map(|i| (line(Some(i)).slope - plain.slope).powi(2));
        let want = moves.sum::<f64>().sqrt();
        let found = plain.own_slope_error.unwrap();
        assert!(
            (found / want - 1.0).abs() < 1e-9,
            "{weighted}: {found} {want}"
        );
        // Residuals over their errors, weighed or not, are orthogonal to a constant and to 1/T.
        let x = |celsius: f64| 1.0 / (celsius + 273.15);
        for power in 0..2 {
            let pull = ovens.iter().map(|(celsius, y, error)| {
                let weight = if weighted { 1.0 / (error * error) } else { 1.0 };
                weight * x(*celsius).powi(power) * (y - plain.at(*celsius, 0.9).ln_hours)
            });
            assert!(pull.sum::<f64>().abs() < 1e-8);
        }
        // The residual is that of an average oven: weights scaled so that their inverses have mean 1.
        let inverse = |error: f64| if weighted { error * error } else { 1.0 };
        let mean = ovens.iter().map(|o| inverse(o.2)).sum::<f64>() / 4.0;
        let squares = ovens.iter().map(|(celsius, y, error)| {
            let off = y - plain.at(*celsius, 0.9).ln_hours;
            mean / inverse(*error) * off * off
        });
        let residual = (squares.sum::<f64>() / 2.0).sqrt();
        assert!((plain.residual.unwrap() / residual - 1.0).abs() < 1e-6);
    }
}

#[test]
fn drawn_shapes_scatter_by_their_error() {
    let shape = Shape {
        estimate: 2.4,
        ln_error: 0.3,
    };
    let all = draws(&[4, 2, 7], shape, 4000, 9);
    let ln = || all.iter().map(|d| (d.shape / 2.4).ln() / 0.3);
    let n = all.len() as f64;
    let mean = ln().sum::<f64>() / n;
    let square = ln().map(|z| z * z).sum::<f64>() / n;
    // Standard normal: errors 1/√n and √(2/n).
    assert!(mean.abs() < 4.0 / n.sqrt(), "{mean}");
    assert!((square - 1.0).abs() < 4.0 * (2.0 / n).sqrt(), "{square}");
}

#[test]
fn the_part_of_doors_out_of_line_is_their_mean_chance() {
    let doors: [Vec<u32>; 4] = [
        vec![3, 3, 2, 4],
        vec![12, 0, 1, 0],
        vec![2, 1, 1, 2],
        vec![0, 5, 1, 0],
    ];
    let (part, found) = shares(&doors);
    // Half a door out of line and half a door in line are added.
    let whole: f64 = found.iter().map(|d| d.out_of_line).sum();
    assert!((part - (whole + 0.5) / 5.0).abs() < 1e-9, "{part} {whole}");
    for (counts, door) in doors.iter().zip(&found) {
        // Ordered counts out of line by Pólya's urn with half a ball of each sector, in line at ¼ each.
        let (mut urn, mut n) = (1.0, 0.0);
        for count in counts {
            for i in 0..*count {
                urn *= (f64::from(i) + 0.5) / (n + 2.0);
                n += 1.0;
            }
        }
        let (out, even) = (part * urn, (1.0 - part) * 0.25_f64.powf(n));
        let want = out / (out + even);
        assert!((door.out_of_line - want).abs() < 1e-9);
    }
}

#[test]
fn blurs_do_not_hang_on_the_units_of_the_columns() {
    let plain = [[1.0, 0.5, 0.2], [0.5, 1.0, -0.3], [0.2, -0.3, 1.0]];
    let size = [3.0, 0.2, 40.0];
    let covariance = DMatrix::from_fn(3, 3, |i, j| plain[i][j] * size[i] * size[j]);
    let terms = [vec![0], vec![1], vec![2]];
    let found = blurs_of(&covariance, &terms).unwrap();
    let correlation = DMatrix::from_fn(3, 3, |i, j| plain[i][j]);
    let information = correlation.try_inverse().unwrap();
    for (i, blur) in found.terms.iter().enumerate() {
        // The interval beside the others over that with the others known: √(Rᵢᵢ R⁻¹ᵢᵢ).
        let want = information[(i, i)].sqrt();
        assert!((blur.width / want - 1.0).abs() < 1e-12);
    }
}

#[test]
fn failures_between_looks_are_counted() {
    let rows = [
        Observation::exact(100.0, 0.0, 3.0),
        Observation::interval(100.0, 200.0, 0.0, 2.0),
        Observation::interval(0.0, 50.0, 0.0, 1.5),
        Observation::right(400.0, 0.0, 9.0),
    ]
    .map(Result::unwrap);
    assert!((imputation::between_looks(&rows) - 3.5).abs() < 1e-12);
}

#[test]
fn a_drawn_ratio_has_its_posterior() {
    let spread = Spread {
        mean: 0.9,
        shape: Some(5.0),
        apart: Some(Apart {
            share: 0.1,
            mean: 8.0,
        }),
    };
    for (seen, expected) in [(5.0, 1.2), (9.0, 2.0), (1.0, 3.0), (4.0, 1.6)] {
        let drawn = spread.draw(Count { seen, expected }, 0.9).unwrap();
        // Prior density times the chance of the count, on a fine grid.
        let density = |x: f64| {
            let many =
                (5.0 * (5.0_f64 / 0.9).ln() - ln_gamma(5.0) + 4.0 * x.ln() - 5.0 / 0.9 * x).exp();
            let far = (-x / 8.0).exp() / 8.0;
            (0.9 * many + 0.1 * far) * (seen * x.ln() - expected * x).exp()
        };
        let step = 2e-3;
        let cells = || (0..20_000).map(|i| (f64::from(i) + 0.5) * step);
        let whole: f64 = cells().map(density).sum();
        let mean = cells().map(|x| x * density(x)).sum::<f64>() / whole;
        assert!((drawn.estimate / mean - 1.0).abs() < 1e-4);
        for (end, want) in [(drawn.lower, 0.05), (drawn.upper, 0.95)] {
            // Whole cells, and a part of the last.
            let below = cells().map(|x| {
                let part = ((end - x) / step + 0.5).clamp(0.0, 1.0);
                part * density(x)
            });
            let below = below.sum::<f64>() / whole;
            assert!((below - want).abs() < 1e-4, "{seen} {expected}: {below}");
        }
    }
}

#[test]
fn few_failures_are_calibrated_unless_the_law_measured_no_better() {
    // As stated of the generalised gamma law and the mixture in tests/coverage.
    let life = Life::weibull(2.0, 500.0).unwrap();
    let rows = (0..30).map(|i| {
        let t = life.quantile((f64::from(i) + 0.5) / 30.0);
        Observation::exact(t, 0.0, 1.0).unwrap()
    });
    let sample = Sample::new(rows.collect());
    let method = |law: &str| usual_method(&fit(laws::by_name(law).unwrap(), &sample).unwrap());
    assert_eq!(method("weibull"), Method::Calibrated);
    assert_eq!(method("lognormal"), Method::Calibrated);
    assert_eq!(method("generalised_gamma"), Method::Profile);
}

#[test]
fn the_same_laws_again_have_the_same_detection() {
    let (defect, delay) = (
        Life::weibull(2.6, 480.0).unwrap(),
        Life::weibull(1.8, 120.0).unwrap(),
    );
    let plan = LookPlan {
        every: 40.0,
        jitter: 10.0,
        skipped: 0.0,
        until: (400.0, 1200.0),
        entry: 0.0,
        detection: 0.7,
    };
    let mut stream = Stream::new(21, 0);
    let histories: Vec<_> = (0..200)
        .map(|_| simulate(&defect, &delay, &plan, &mut stream).unwrap())
        .collect();
    let model = Model {
        defect: StageLaw::Weibull,
        delay: StageLaw::Weibull,
        detection: None,
    };
    let own = defects::fit(model, histories).unwrap();
    let other = own.under(StageLaw::Weibull, StageLaw::Weibull).unwrap();
    let found = other.detection();
    // The same laws: the same maximum, whose logit of detection is the estimate's last number.
    let want = 1.0 / (1.0 + (-own.theta[DETECTION]).exp());
    assert!((found - want).abs() < 0.02, "{found} {want}");
    assert!(found > 0.4 && found < 0.95, "{found}");
}

#[test]
fn a_failure_between_looks_is_completed_by_as_many_ages_as_it_counts() {
    let completed = |count: f64| {
        let o = Observation::interval(100.0, 200.0, 20.0, count).unwrap();
        let (mut drawn, mut out) = (0.0, vec![]);
        let mut draw = |a: f64, b: f64| {
            drawn += 1.0;
            a + (b - a) * 0.3
        };
        imputation::completed(&o, &mut draw, &mut out);
        (drawn, out)
    };
    // Whole counts in whole seals, up to as many ages as are drawn for one row.
    for count in [1.0, 3.0, 7.0, 150.0] {
        let (_, rows) = completed(count);
        let whole: f64 = rows.iter().map(Observation::count).sum();
        assert!((whole - count).abs() < 1e-9);
        assert!(
            rows.iter()
                .all(|o| o.count() == o.count().round() && o.count() >= 1.0)
        );
        assert!(rows.iter().all(|o| o.entry() == 20.0 && o.last() == 130.0));
    }
    // Others in equal parts.
    let (drawn, rows) = completed(2.5);
    assert_eq!((drawn, rows.len()), (3.0, 3));
    assert!(rows.iter().all(|o| (o.count() - 2.5 / 3.0).abs() < 1e-12));
}

#[test]
fn histories_that_began_late_are_counted() {
    let seal = |entry: f64, count: f64| {
        let looks = vec![300.0, 400.0];
        History::new(entry, looks, Ended::Running(500.0), count).unwrap()
    };
    let counts = defects::Counts::of(&[seal(0.0, 3.0), seal(250.0, 2.0), seal(0.0, 1.0)]);
    assert!((counts.truncated - 2.0).abs() < 1e-12 && (counts.running - 6.0).abs() < 1e-12);
}

#[test]
fn bent_back_is_the_inverse_of_straightened() {
    for curve in [Curve::Power, Curve::Exponential, Curve::Logistic] {
        for (start, end) in [(100.0, 40.0), (5.0, 60.0)] {
            let value = start + 0.3 * (end - start);
            let straight = curve.straighten(value, start, end).unwrap();
            let back = curve.bend_back(straight, start, end, end > start);
            assert!((back / value - 1.0).abs() < 1e-12, "{curve:?} {start}");
        }
    }
}

#[test]
fn a_corrected_criterion_needs_seals_beyond_its_parameters() {
    // Two parameters: the correction is 12/(n − 3), which three seals do not have.
    let of = |n: i32| {
        let rows = (0..n).map(|i| Observation::exact(100.0 + 30.0 * f64::from(i * i), 0.0, 1.0));
        let sample = Sample::new(rows.collect::<Result<_, _>>().unwrap());
        let found = fit(laws::by_name("weibull").unwrap(), &sample).unwrap();
        (found.aicc(), found.aic())
    };
    assert_eq!(of(3).0, None);
    let (corrected, plain) = of(7);
    assert!((corrected.unwrap() - plain - 3.0).abs() < 1e-9);
}

#[test]
fn a_drawn_p_value_is_a_count_of_draws() {
    let times = vec![40.0, 300.0, 330.0, 350.0, 420.0, 900.0];
    let one = recurrence::system::History::new(0.0, 1000.0, times).unwrap();
    let found = recurrence::power_law::power_law(&[one]).unwrap();
    let found = found.goodness(5).unwrap();
    // The history seen counts as one of them.
    let count = found.p_value * (found.draws as f64 + 1.0);
    assert!((count - count.round()).abs() < 1e-9 && count >= 1.0 - 1e-9);
}

#[test]
fn what_makes_no_sense_is_refused() {
    let history = |events: Vec<f64>| recurrence::system::History::new(100.0, 500.0, events);
    assert!(history(vec![120.0, 480.0]).is_ok());
    assert!(history(vec![90.0, 480.0]).is_err());
    assert!(history(vec![120.0, 501.0]).is_err());
    assert!(share_interval(1, 20, 0.9).is_some());
    for level in [0.0, 1.0, -0.5, 1.5] {
        assert_eq!(share_interval(1, 20, level), None);
    }
}

#[test]
fn deviances_are_those_of_a_poisson_count() {
    // Exponential lives of mean 100: a hazard of t/100 lived through. Twice the gain of a mean as seen over that,
    // signed: 2 (h − 1 − ln h) of a failure, 2 h of a running seal.
    let seen = [
        Observation::exact(30.0, 0.0, 1.0),
        Observation::exact(400.0, 0.0, 1.0),
        Observation::right(250.0, 50.0, 1.0),
    ];
    let sample = Sample::new(seen.into_iter().collect::<Result<_, _>>().unwrap());
    let found = residuals_at(
        laws::by_name("exponential").unwrap(),
        &[100.0_f64.ln()],
        &sample,
    );
    let failed = |h: f64| (2.0 * (h - 1.0 - h.ln())).sqrt();
    for (residual, want) in found.iter().zip([failed(0.3), -failed(4.0), -2.0]) {
        assert!((residual.deviance - want).abs() < 1e-12, "{residual:?}");
    }
}

#[test]
fn a_lower_bound_of_the_mean_is_that_of_the_law() {
    let sample = Sample::new(vec![Observation::right(100.0, 0.0, 5.0).unwrap()]);
    // Γ(1.5) = √π/2 and Γ(3) = 2.
    for (shape, factor) in [(2.0, std::f64::consts::PI.sqrt() / 2.0), (0.5, 2.0)] {
        let bound = lower_bounds(&sample, shape, 0.9).unwrap();
        assert!((bound.mean() / (bound.scale * factor) - 1.0).abs() < 1e-12);
    }
}

#[test]
fn looks_that_a_curve_cannot_use_are_counted() {
    let limit = AgeingLimit {
        value: 50.0,
        rising: false,
        start: Some(100.0),
        end: Some(20.0),
    };
    let readings = [
        (0.0, 100.0),
        (10.0, 101.0),
        (20.0, 80.0),
        (40.0, 60.0),
        (80.0, 15.0),
    ];
    let readings = readings.map(|(hours, value)| Reading { hours, value });
    // At time 0 nothing is asked; one lies above the start, one beyond the end.
    let (points, left_out) = Curve::Exponential.usable(&readings, &limit);
    assert_eq!((points.len(), left_out), (2, 2));
}

#[test]
fn what_spreads_leave_open_does_not_hang_on_the_units() {
    let mut stream = Stream::new(5, 0);
    let paths: Vec<Vec<(f64, f64)>> = (0..9)
        .map(|_| {
            let (level, rate) = (4.0 + 0.5 * stream.normal(), -1.0 + 0.2 * stream.normal());
            [0.0, 1.0, 2.0, 3.0]
                .map(|t| (t, level + rate * t + 0.1 * stream.normal()))
                .to_vec()
        })
        .collect();
    // Hundredths of a value and days of 24 hours.
    let other: Vec<Vec<(f64, f64)>> = paths
        .iter()
        .map(|p| p.iter().map(|(t, y)| (24.0 * t, 100.0 * y)).collect())
        .collect();
    let fitted = |paths: &[Vec<(f64, f64)>]| {
        fit_among(paths, Scale::Plain, &[Structure::Independent]).unwrap()
    };
    let (a, b) = (fitted(&paths), fitted(&other));
    assert_eq!(a.draws.len(), b.draws.len());
    let units = [100.0, 100.0 / 24.0];
    for (a, b) in a.draws.iter().zip(&b.draws) {
        assert!((a.weight - b.weight).abs() < 1e-6);
        assert!((b.noise / (100.0 * a.noise) - 1.0).abs() < 1e-6);
        for i in 0..2 {
            assert!((b.mean[i] / (units[i] * a.mean[i]) - 1.0).abs() < 1e-6);
            for j in 0..2 {
                let unit = units[i] * units[j];
                let off = b.mean_covariance[(i, j)] - unit * a.mean_covariance[(i, j)];
                let size = (b.mean_covariance[(i, i)] * b.mean_covariance[(j, j)]).sqrt();
                assert!(off.abs() < 1e-6 * size);
            }
        }
    }
    // The draws' own mean covariance is about that of the estimate.
    for i in 0..2 {
        let mean: f64 = a
            .draws
            .iter()
            .map(|d| d.weight * d.mean_covariance[(i, i)])
            .sum();
        let ratio = mean / a.mean_covariance[(i, i)];
        assert!((0.5..4.0).contains(&ratio), "{ratio}");
    }
}
