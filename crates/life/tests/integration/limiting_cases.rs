//! Ends of what can be asked, and answers that a limiting case, a mirror image or a formula gives by itself.

use nalgebra::DMatrix;
use sealspan_life::ageing::arrhenius::{Stretch, equivalent_temperature, kelvin};
use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::line::{Method, Point, fit as arrhenius};
use sealspan_life::ageing::reach::{At, Limit, NoReach, Reach, Reading, reach};
use sealspan_life::bounds::{Method::Profile, bounds};
use sealspan_life::compare::{by_law, factor_names};
use sealspan_life::competing::incidence::cumulative_incidence;
use sealspan_life::competing::life::CompetingLife;
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_life::demonstration::{failing_shown, seals_for_failing};
use sealspan_life::edge::beside;
use sealspan_life::few::{lower_bounds, scale_bounds};
use sealspan_life::fit::fit;
use sealspan_life::law::Edge;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::special::{chi_square_quantile, ln_normal_survival, student_quantile};
use sealspan_records::observation::{Observation, Sample};
use std::f64::consts::{LN_2, PI};

fn exact(ages: &[f64]) -> Sample {
    let rows = ages.iter().map(|t| Observation::exact(*t, 0.0, 1.0));
    Sample::new(rows.map(Result::unwrap).collect())
}

/// Without an energy above 0 no temperature ages as fast as a duty; nor is there one without time.
#[test]
fn no_temperature_stands_for_a_duty_without_an_energy_or_time() {
    let day = |hours: f64| {
        [(22.0, 25.0), (2.0, 121.0)].map(|(share, celsius)| Stretch {
            hours: hours * share,
            celsius,
        })
    };
    assert!(equivalent_temperature(&day(1.0), 80.0).is_some());
    for energy in [-80.0, 0.0] {
        assert_eq!(equivalent_temperature(&day(1.0), energy), None, "{energy}");
    }
    assert_eq!(equivalent_temperature(&day(0.0), 80.0), None);
}

fn oven(celsius: f64, hours: f64) -> Point {
    Point {
        celsius,
        reach: Reach::At(At {
            ln_hours: hours.ln(),
            std_error: None,
            freedom: 0.0,
            interval: None,
        }),
    }
}

/// Three ovens leave one degree of freedom, where Student's t is the Cauchy law: its quantile is a tangent.
#[test]
fn the_slopes_interval_has_both_ends_as_far_off() {
    let line = arrhenius(
        &[oven(80.0, 900.0), oven(100.0, 280.0), oven(120.0, 90.0)],
        false,
    )
    .unwrap();
    for level in [0.5, 0.8, 0.9_f64] {
        let half = (0.5 * PI * level).tan() * line.slope_error().unwrap();
        let (low, high) = line.slope_interval(level).unwrap();
        assert!(((line.slope - low) / half - 1.0).abs() < 1e-6, "{level}");
        assert!(((high - line.slope) / half - 1.0).abs() < 1e-6, "{level}");
    }
}

/// With ovens that did not reach the limit level and slope hang together: the interval at any temperature is that of
/// the curvature of the normal likelihood written out, enlarged by m/(m − 2) as the line says.
#[test]
fn a_censored_lines_interval_is_that_of_its_likelihoods_curvature() {
    let seen = [
        (150.0, 96.0),
        (135.0, 310.0),
        (120.0, 780.0),
        (105.0, 2100.0),
        (95.0, 5200.0),
    ];
    let held = [(100.0, 4200.0), (85.0, 9000.0)];
    let mut points: Vec<Point> = seen.iter().map(|(c, h)| oven(*c, *h)).collect();
    points.extend(held.map(|(celsius, hours)| Point {
        celsius,
        reach: Reach::After(hours),
    }));
    let line = arrhenius(&points, false).unwrap();
    assert_eq!(line.method, Method::Censored);
    let (m, slope_unit) = (seen.len() as f64, 1e4);
    let sigma = line.residual.unwrap() / (m / (m - 2.0)).sqrt();
    // Level, slope in units of 10⁴ K, ln of the standard deviation.
    let here = [line.level, line.slope / slope_unit, sigma.ln()];
    let z = |x: &[f64; 3], celsius: f64, hours: f64| {
        let off = 1.0 / kelvin(celsius) - line.centre;
        (hours.ln() - x[0] - x[1] * slope_unit * off) / x[2].exp()
    };
    let value = |x: [f64; 3]| -> f64 {
        let exact = seen.map(|(c, h)| -0.5 * z(&x, c, h).powi(2) - x[2]);
        let beyond = held.map(|(c, h)| ln_normal_survival(z(&x, c, h)));
        exact.iter().chain(&beyond).sum()
    };
    let step = 1e-3;
    let information = DMatrix::from_fn(3, 3, |i, j| {
        let at = |a: f64, b: f64| {
            let mut x = here;
            x[i] += a * step;
            x[j] += b * step;
            value(x)
        };
        -(at(1.0, 1.0) - at(1.0, -1.0) - at(-1.0, 1.0) + at(-1.0, -1.0)) / (4.0 * step * step)
    });
    let covariance = information.try_inverse().unwrap() * (m / (m - 2.0));
    let t = student_quantile(0.95, m - 2.0);
    for celsius in [40.0, 90.0, 120.0] {
        let off = slope_unit * (1.0 / kelvin(celsius) - line.centre);
        let row = DMatrix::from_row_slice(1, 3, &[1.0, off, 0.0]);
        let half = t * (&row * &covariance * row.transpose())[(0, 0)].sqrt();
        let at = line.at(celsius, 0.9);
        let (low, high) = at.confidence.unwrap();
        for found in [at.ln_hours - low, high - at.ln_hours] {
            assert!(
                (found / half - 1.0).abs() < 1e-3,
                "{celsius}: {found} {half}"
            );
        }
    }
}

/// A falling property is a rising one seen in a mirror, where a mean stands on the limit too.
#[test]
fn a_mean_on_the_limit_is_past_it_from_either_side() {
    let looks = [(1.0, 10.0), (10.0, 14.0), (10.0, 16.0), (100.0, 20.0)];
    for curve in [Curve::BetweenLnTime, Curve::BetweenTime] {
        for limit in [15.0, 20.0] {
            let of = |side: f64| {
                let readings = looks.map(|(hours, value)| Reading {
                    hours,
                    value: side * value,
                });
                let limit = Limit {
                    value: side * limit,
                    rising: side > 0.0,
                    start: None,
                    end: None,
                };
                reach(&readings, curve, &limit, 0.9).unwrap()
            };
            let (rising, falling) = (of(1.0), of(-1.0));
            assert_eq!(rising.reach, falling.reach, "{curve:?} {limit}");
            let want: f64 = if limit == 15.0 { 10.0 } else { 100.0 };
            assert!(
                matches!(rising.reach, Reach::At(at) if (at.ln_hours - want.ln()).abs() < 1e-12)
            );
        }
    }
}

/// A property that stands still goes to no limit, on either side.
#[test]
fn a_property_that_stands_still_does_not_move_towards_the_limit() {
    let readings = [1.0, 10.0, 100.0, 1000.0].map(|hours| Reading { hours, value: 10.0 });
    for (value, rising) in [(30.0, true), (5.0, false)] {
        let limit = Limit {
            value,
            rising,
            start: None,
            end: None,
        };
        let found = reach(&readings, Curve::LnTime, &limit, 0.9);
        assert_eq!(found, Err(NoReach::WrongWay), "{rising}");
    }
}

/// Chances and confidences lie between 0 and 1, ends left out.
#[test]
fn trials_ask_for_chances_between_nought_and_one() {
    assert!(seals_for_failing(0.1, 0.9, 1).is_some());
    for wrong in [-0.1, 0.0, 1.0, 1.2] {
        assert_eq!(seals_for_failing(wrong, 0.9, 1), None, "{wrong}");
        assert_eq!(seals_for_failing(0.1, wrong, 1), None, "{wrong}");
        assert_eq!(failing_shown(20, wrong, 0), None, "{wrong}");
    }
    // Where all seals may fail, or there are none, nothing is shown.
    for (seals, failures) in [(0, 0), (5, 5), (5, 6)] {
        assert_eq!(failing_shown(seals, 0.9, failures), None, "{seals}");
    }
}

/// Seals never seen sound bound no life, and failures between two looks have no chi-square ends.
#[test]
fn nothing_watched_and_failures_between_looks_have_no_bounds() {
    let of = |rows: Vec<Observation>| Sample::new(rows);
    let early = Observation::interval(0.0, 10.0, 0.0, 3.0).unwrap();
    let between = Observation::interval(20.0, 30.0, 0.0, 1.0).unwrap();
    let failed = Observation::exact(25.0, 0.0, 1.0).unwrap();
    let sound = Observation::right(40.0, 0.0, 2.0).unwrap();
    assert_eq!(lower_bounds(&of(vec![early]), 2.0, 0.9), None);
    assert!(scale_bounds(&of(vec![failed, sound]), 2.0, 0.9).is_some());
    for rows in [vec![between, failed], vec![between, sound], vec![sound]] {
        assert_eq!(scale_bounds(&of(rows.clone()), 2.0, 0.9), None, "{rows:?}");
    }
}

/// Akaike's criterion, estimates and the largest log-likelihood of exponential lives from their mean; of Weibull lives
/// from the density written out.
#[test]
fn criteria_and_estimates_are_those_of_the_density() {
    let ages = [20.0, 60.0, 100.0, 220.0, 310.0];
    let n = ages.len() as f64;
    let mean = ages.iter().sum::<f64>() / n;
    let plain = fit(by_name("exponential").unwrap(), &exact(&ages)).unwrap();
    assert!((plain.estimate(Quantity::Mean) / mean - 1.0).abs() < 1e-9);
    assert!((plain.estimate(Quantity::Quantile(0.5)) / (mean * LN_2) - 1.0).abs() < 1e-9);
    assert!((plain.aic() - (2.0 + 2.0 * n * (mean.ln() + 1.0))).abs() < 1e-9);
    let two = fit(by_name("weibull").unwrap(), &exact(&ages)).unwrap();
    let [shape, scale] = [0, 1].map(|i| two.estimate(Quantity::Parameter(i)));
    let density = |t: f64| {
        let z = (t / scale).powf(shape);
        (shape / t * z).ln() - z
    };
    let value: f64 = ages.iter().map(|t| density(*t)).sum();
    assert!(
        (two.aic() - (4.0 - 2.0 * value)).abs() < 1e-9,
        "{}",
        two.aic()
    );
}

/// Two groups under a law of three parameters: two of them may differ beside the location.
#[test]
fn shapes_apart_cost_a_degree_of_freedom_each() {
    let names = factor_names("material", &["nitrile".into(), "silicone".into()]);
    let groups = [
        exact(&[
            41.0, 77.0, 80.0, 122.0, 150.0, 170.0, 215.0, 260.0, 300.0, 420.0,
        ]),
        exact(&[
            60.0, 95.0, 190.0, 240.0, 260.0, 330.0, 400.0, 470.0, 640.0, 900.0,
        ]),
    ];
    let found = by_law(by_name("generalised_gamma").unwrap(), &names, &groups).unwrap();
    assert_eq!(found.common_life.df, 1.0);
    assert_eq!(found.common_shape.unwrap().df, 2.0);
}

/// All under watch fail by one mode before others come under watch: the share that fails by the other mode stays 0, and
/// has no interval.
#[test]
fn an_incidence_of_nought_has_no_interval() {
    let row = |age: f64, entry: f64, mode: usize| ModeRow {
        observation: Observation::exact(age, entry, 1.0).unwrap(),
        mode: Some(mode),
    };
    let lives = ByMode::new(vec![row(5.0, 0.0, 1), row(8.0, 6.0, 0)], 2).unwrap();
    let found = cumulative_incidence(&lives, 0.9).unwrap();
    let step = found.modes[0][0];
    assert_eq!((step.time, step.incidence), (8.0, 0.0));
    assert_eq!((step.lower, step.upper), (None, None), "{step:?}");
}

/// A tail so heavy that a mean barely exists has one still: (π/β)/sin(π/β) scales of a log-logistic law.
#[test]
fn a_mean_that_barely_exists_is_found() {
    for shape in [1.04, 1.1, 1.5] {
        let life = Life::named("loglogistic", &[("shape", shape), ("scale", 1.0)]).unwrap();
        let life = CompetingLife::new(vec![life]).unwrap();
        let want = PI / shape / (PI / shape).sin();
        let found = life.mean().expect("a mean");
        assert!((found / want - 1.0).abs() < 1e-9, "{shape}: {found} {want}");
    }
}

/// The laws on the edges of a generalised gamma law hold q where the edge is, and are the likeliest that do.
#[test]
fn edges_of_a_power_hold_it_there_at_the_likeliest() {
    let sample = exact(&[
        41.0, 77.0, 80.0, 122.0, 150.0, 170.0, 215.0, 260.0, 300.0, 420.0,
    ]);
    let found = fit(by_name("generalised_gamma").unwrap(), &sample).unwrap();
    let edges = beside(&found);
    assert_eq!(edges.len(), 2);
    for at_edge in edges {
        let Edge::Held { at, value } = at_edge.edge else {
            panic!("a simpler law");
        };
        let theta = &at_edge.fit.theta;
        assert!((theta[at] - value).abs() < 1e-12, "{theta:?}");
        let height = |theta: &[f64]| found.family.log_likelihood(theta, &found.terms);
        let here = height(theta);
        assert!((at_edge.gain - 2.0 * (found.log_likelihood - here)).abs() < 1e-9);
        for i in (0..3).filter(|i| *i != at) {
            for step in [-0.02, 0.02] {
                let mut beside = theta.clone();
                beside[i] += step;
                assert!(height(&beside) < here, "{i} {step}");
            }
        }
    }
}

/// Parts of a mixture are unlike where one is more than ten times as narrow as the other, and not before.
#[test]
fn parts_of_a_mixture_are_unlike_from_ten_times_on() {
    let mixture = by_name("weibull_mixture").unwrap();
    for (first, second, unlike) in [
        (2.0, 2.0, false),
        (18.0, 2.0, false),
        (2.0, 18.0, false),
        (22.0, 2.0, true),
        (2.0, 22.0, true),
    ] {
        let stated = [(0, 0.4), (1, first), (2, 60.0), (3, second), (4, 300.0)];
        let theta = mixture.stated(&stated).unwrap();
        assert_eq!(mixture.unlike(&theta), unlike, "{first} {second}");
    }
}

/// Where the likelihood admits that every seal is weak, and lower shapes there than among laws with a share of weak ones,
/// the shape's lower end is that of the plain Weibull law at the same height: its profile written out, for ages that are
/// exact or still running.
#[test]
fn a_shape_ends_on_the_edge_where_all_are_weak() {
    for (failed, running, end, levels) in [
        (
            vec![52.0, 53.0, 74.0, 112.0, 115.0],
            6,
            130.0_f64,
            &[0.5, 0.9][..],
        ),
        (
            vec![25.0, 32.0, 44.0, 79.0, 98.0, 99.0, 125.0],
            3,
            150.0,
            &[0.9],
        ),
    ] {
        let mut rows = exact(&failed).rows().to_vec();
        rows.push(Observation::right(end, 0.0, f64::from(running)).unwrap());
        let weak = fit(
            by_name("weak_fraction_weibull").unwrap(),
            &Sample::new(rows),
        )
        .unwrap();
        let r = failed.len() as f64;
        let ln_sum: f64 = failed.iter().map(|t: &f64| t.ln()).sum();
        let profile = |shape: f64| {
            let sum: f64 = failed.iter().map(|t| t.powf(shape)).sum();
            let sum = sum + f64::from(running) * end.powf(shape);
            r * shape.ln() - r * (sum / r).ln() + (shape - 1.0) * ln_sum - r
        };
        for level in levels {
            let cut = weak.log_likelihood - 0.5 * chi_square_quantile(*level, 1.0);
            // The profile rises up to the likeliest shape, which is above 1 here.
            let (mut low, mut high) = (0.05, 1.0);
            while profile(high) < cut {
                high += 0.01;
            }
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if profile(middle) < cut {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            let found = bounds(&weak, Quantity::Parameter(0), Profile, *level);
            let found = found.lower.expect("a lower end");
            assert!((found / low - 1.0).abs() < 1e-6, "{level}: {found} {low}");
        }
    }
}
