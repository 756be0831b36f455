//! Answers held against the same question written out another way: other parameters, plain sums, finer grids.

use nalgebra::{DMatrix, DVector};
use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::line::{Point, fit as arrhenius};
use sealspan_life::ageing::reach::{At, Limit as AgeingLimit, Reach, Reading};
use sealspan_life::bounds::Method;
use sealspan_life::defects::simulate::{LookPlan, simulate};
use sealspan_life::defects::{self, DETECTION, Model, StageLaw};
use sealspan_life::demonstration::share_interval;
use sealspan_life::few::{lower_bounds, scale_bounds};
use sealspan_life::fit::fit;
use sealspan_life::hazards::{self, Prepared, Ties, WatchedLife};
use sealspan_life::imputation;
use sealspan_life::intervals::usual_method;
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::recurrence;
use sealspan_life::recurrence::hungry::Count;
use sealspan_life::recurrence::ratios::{Apart, Spread};
use sealspan_life::regression::{Cell, Clustered, blurs_of, regress};
use sealspan_life::residuals::residuals_at;
use sealspan_life::sectors::severity::{Shape, draws, severity};
use sealspan_life::sectors::shares::shares;
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::ln_gamma;
use sealspan_records::history::{Ended, History};
use sealspan_records::observation::{Observation, Sample};
use std::sync::Arc;

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
    // As the last table of tests/coverage/table.md has it of the generalised gamma law.
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
    for (from, to) in [(500.0, 100.0), (f64::NAN, 100.0), (100.0, f64::INFINITY)] {
        assert!(recurrence::system::History::new(from, to, vec![]).is_err());
    }
    assert!(severity(&[0.5, 0.5], 2.0).is_some() && severity(&[1.0, 0.0], 2.0).is_none());
    assert!(severity(&[0.5, 0.5], f64::INFINITY).is_none());
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

/// The covariance by cluster from scores by differences of the likelihood: G/(G − 1) C Σ s sᵀ C.
#[test]
fn robust_errors_are_those_of_scores_by_differences() {
    let ages = [40.0, 100.0, 160.0, 500.0, 220.0, 90.0, 310.0];
    let clusters = ["a", "a", "b", "c", "b", "d", "d"];
    let sample = |t: f64| Terms::new(&Sample::new(vec![Observation::exact(t, 0.0, 1.0).unwrap()]));
    let law = laws::by_name("weibull").unwrap();
    let cells: Vec<Cell> = ages
        .iter()
        .map(|t| Cell {
            row: vec![1.0],
            terms: Arc::new(sample(*t)),
        })
        .collect();
    let found = regress(law, &["intercept".to_owned()], &cells).unwrap();
    let row = vec![(0, 1.0)];
    let parts: Vec<Clustered<'_>> = clusters
        .iter()
        .zip(&ages)
        .map(|(cluster, t)| Clustered {
            cluster,
            row: &row,
            offset: 0.0,
            stratum: 0,
            terms: sample(*t),
        })
        .collect();
    let robust = found.robust(&parts).unwrap();
    let mut middle = DMatrix::zeros(2, 2);
    for name in ["a", "b", "c", "d"] {
        let value = |x: &[f64]| {
            let own = clusters.iter().zip(&ages).filter(|(c, _)| **c == name);
            own.map(|(_, t)| law.log_likelihood(x, &sample(*t)))
                .sum::<f64>()
        };
        let score = DVector::from_fn(2, |i, _| {
            let moved = |by: f64| {
                let mut x = found.x.clone();
                x[i] += by;
                value(&x)
            };
            (moved(1e-5) - moved(-1e-5)) / 2e-5
        });
        middle += &score * score.transpose();
    }
    let want = &found.covariance * middle * &found.covariance * (4.0 / 3.0);
    for i in 0..2 {
        for j in 0..2 {
            let size = (want[(i, i)] * want[(j, j)]).sqrt();
            let off = robust.covariance[(i, j)] - want[(i, j)];
            assert!(off.abs() < 1e-6 * size, "{i} {j}: {off}");
        }
    }
}

#[test]
fn intervals_of_ratios_lie_evenly_about_the_estimate() {
    let life = |t: f64, design: usize| WatchedLife {
        observation: Observation::exact(t, 0.0, 1.0).unwrap(),
        design,
        stratum: 0,
        cluster: 0,
    };
    let ages = [4.0, 9.0, 13.0, 20.0, 31.0, 33.0, 40.0, 52.0];
    let lives: Vec<WatchedLife> = (0..8).map(|i| life(ages[i], i % 2)).collect();
    let data = Prepared::new(&["b".into()], &[vec![0.0], vec![1.0]], &lives).unwrap();
    let found = hazards::fit(data, Ties::Efron).unwrap();
    let errors = DMatrix::from_element(1, 1, 0.09);
    let effect = &found.effects(&errors, 0.9)[0];
    // 0.3 times the 95 % point of the normal law.
    let off = 0.3 * 1.644_853_626_951_472_7;
    assert!(
        (effect.upper - effect.estimate - off).abs() < 1e-9,
        "{effect:?}"
    );
    assert!(
        (effect.estimate - effect.lower - off).abs() < 1e-9,
        "{effect:?}"
    );
}
