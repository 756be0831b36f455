//! Estimates, standard errors and intervals held against what they are by definition: numerical derivatives of the
//! estimate or of the likelihood, integrals written out, and samples so large that no approximation is left.

use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::reach::{At, Limit, Reach, Reading, reach};
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::competing::incidence::cumulative_incidence;
use sealspan_life::competing::life::CompetingLife;
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_life::fit::fit;
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::log_rank::{Weighting, drawn, scores};
use sealspan_life::quantity::Quantity;
use sealspan_life::recurrence::log_linear::log_linear;
use sealspan_life::recurrence::mean_cumulative::{differences, mean_cumulative};
use sealspan_life::recurrence::power_law::power_law;
use sealspan_life::recurrence::system::History;
use sealspan_life::recurrence::trend::lewis_robinson;
use sealspan_life::regression::{Cell, regress};
use sealspan_life::terms::Terms;
use sealspan_life::warning::Warning;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::{Observation, Sample};

/// Invented: three positions watched to different ages, most replacements late.
fn systems() -> Vec<History> {
    vec![
        History::new(0.0, 900.0, vec![210.0, 480.0, 640.0, 810.0, 870.0]).unwrap(),
        History::new(100.0, 1300.0, vec![590.0, 900.0, 1040.0, 1190.0, 1260.0]).unwrap(),
        History::new(0.0, 500.0, vec![330.0]).unwrap(),
    ]
}

/// Times since the start of each watch, and the lengths of the watches.
fn times_and_ends(systems: &[History]) -> (Vec<f64>, Vec<f64>) {
    let times = systems
        .iter()
        .flat_map(|s| s.events().iter().map(|t| t - s.from()));
    let ends = systems.iter().map(|s| s.to() - s.from());
    (times.collect(), ends.collect())
}

/// To the fourth power of the step.
fn second_difference(f: impl Fn(f64) -> f64, x: f64, h: f64) -> f64 {
    let plain = |h: f64| (f(x + h) - 2.0 * f(x) + f(x - h)) / (h * h);
    (4.0 * plain(0.5 * h) - plain(h)) / 3.0
}

#[test]
fn a_log_linear_intensity_has_the_height_and_the_curvature_of_its_likelihood() {
    // Also where the rate hardly moves: its mean time is a thousandth off the middle.
    let even = History::new(0.0, 1000.0, vec![100.0, 300.0, 500.0, 700.0, 905.0]).unwrap();
    for systems in [systems(), vec![even]] {
        let (times, ends) = times_and_ends(&systems);
        let n = times.len() as f64;
        // Σ ln rate − ∫ rate at the intercept that fits best, n/∫ exp(g t).
        let value = |g: f64| {
            let whole: f64 = ends.iter().map(|end| (g * end).exp_m1() / g).sum();
            n * (n / whole).ln() + g * times.iter().sum::<f64>() - n
        };
        let law = log_linear(&systems).unwrap();
        assert!((law.log_likelihood - value(law.slope)).abs() < 1e-9);
        let curvature = second_difference(value, law.slope, 0.05 * law.slope_error);
        assert!((law.slope_error * (-curvature).sqrt() - 1.0).abs() < 1e-4);
        let h = 1e-3 * law.slope_error;
        let slope = (value(law.slope + h) - value(law.slope - h)) / (2.0 * h);
        assert!(slope.abs() * law.slope_error < 1e-5, "not the maximum");
        // As many events are expected as there were.
        let expected: f64 = ends
            .iter()
            .map(|end| law.intercept.exp() * (law.slope * end).exp_m1() / law.slope)
            .sum();
        assert!((expected - n).abs() < 1e-9);
    }
}

#[test]
fn a_power_law_has_the_height_and_the_curvature_of_its_likelihood() {
    let (times, ends) = times_and_ends(&systems());
    let n = times.len() as f64;
    // Σ ln rate − ∫ rate with the rate a b t^(b−1).
    let value = |a: f64, b: f64| {
        let ln_times: f64 = times.iter().map(|t| t.ln()).sum();
        let whole: f64 = ends.iter().map(|end| a * end.powf(b)).sum();
        n * (a * b).ln() + (b - 1.0) * ln_times - whole
    };
    let law = power_law(&systems()).unwrap();
    let at = |ln_a: f64, b: f64| value(ln_a.exp(), b);
    let (ln_a, b) = (law.factor.ln(), law.growth);
    assert!((law.log_likelihood - at(ln_a, b)).abs() < 1e-9);
    let aa = -second_difference(|x| at(x, b), ln_a, 4e-3);
    let bb = -second_difference(|x| at(ln_a, x), b, 4e-3);
    // Along both at once: what is left is twice the mixed derivative.
    let ab = 0.5 * (-second_difference(|x| at(ln_a + x, b + x), 0.0, 4e-3) - aa - bb);
    let determinant = aa * bb - ab * ab;
    let want = [bb / determinant, -ab / determinant, aa / determinant];
    let [[c, d], [e, f]] = law.covariance;
    for (found, want) in [c, d, f].into_iter().zip(want) {
        assert!((found / want - 1.0).abs() < 1e-3, "{found} {want}");
    }
    assert_eq!(d, e);
    // ln scale = −ln a / b, whose error follows from that covariance.
    let slope = (-1.0 / b, ln_a / (b * b));
    let variance = slope.0 * slope.0 * c + 2.0 * slope.0 * slope.1 * d + slope.1 * slope.1 * f;
    assert!((law.ln_scale_error() / variance.sqrt() - 1.0).abs() < 1e-9);
    // By the scale one event is expected, and the intensity is the slope of the expected number.
    assert!((law.factor * law.scale().powf(b) - 1.0).abs() < 1e-12);
    let expected = |t: f64| law.factor * t.powf(b);
    let rate = (expected(700.1) - expected(699.9)) / 0.2;
    assert!((law.intensity(700.0) / rate - 1.0).abs() < 1e-6);
}

#[test]
fn means_are_compared_at_every_step_up_to_the_end_itself() {
    let group = |events: Vec<f64>| mean_cumulative(&[History::new(0.0, 500.0, events).unwrap()]);
    let (first, second) = (group(vec![100.0, 400.0]), group(vec![200.0, 450.0]));
    let found: Vec<(f64, f64)> = differences(&first, &second, 400.0)
        .iter()
        .map(|d| (d.time, d.difference))
        .collect();
    assert_eq!(found, [(100.0, 1.0), (200.0, 0.0), (400.0, 1.0)]);
}

/// Invented: tensile strength of three specimens a look.
fn looks() -> Vec<Reading> {
    let values = [
        (24.0, [11.9, 12.3, 12.1]),
        (72.0, [10.2, 10.9, 10.4]),
        (168.0, [8.8, 8.1, 8.5]),
        (504.0, [6.0, 6.6, 6.1]),
    ];
    let each = |(hours, of): (f64, [f64; 3])| of.map(|value| Reading { hours, value });
    values.into_iter().flat_map(each).collect()
}

const LIMIT: Limit = Limit {
    value: 7.5,
    rising: false,
    start: None,
    end: None,
};

fn reached(readings: &[Reading], curve: Curve) -> At {
    match reach(readings, curve, &LIMIT, 0.9).unwrap().reach {
        Reach::At(at) => at,
        other => panic!("{other:?}"),
    }
}

/// Slope of ln time to the limit in each value read.
fn slopes(curve: Curve) -> Vec<f64> {
    let plain = looks();
    let moved = |i: usize, by: f64| {
        let mut readings = plain.clone();
        readings[i].value += by;
        reached(&readings, curve).ln_hours
    };
    (0..plain.len())
        .map(|i| (moved(i, 1e-5) - moved(i, -1e-5)) / 2e-5)
        .collect()
}

#[test]
fn the_error_of_a_time_between_two_looks_is_carried_from_their_specimens() {
    for curve in [Curve::BetweenLnTime, Curve::BetweenTime] {
        let at = reached(&looks(), curve);
        // Scatter of the specimens about the means of all looks, 4 · (3 − 1) degrees of freedom.
        let scatter: f64 = looks()
            .chunks(3)
            .map(|of| {
                let mean = of.iter().map(|r| r.value).sum::<f64>() / 3.0;
                of.iter().map(|r| (r.value - mean).powi(2)).sum::<f64>()
            })
            .sum();
        let squares: f64 = slopes(curve).iter().map(|s| s * s).sum();
        let error = (scatter / 8.0 * squares).sqrt();
        assert_eq!(at.freedom, 8.0);
        assert!((at.std_error.unwrap() / error - 1.0).abs() < 1e-6);
        // Student's t, 0.95, 8 degrees of freedom: 1.859548 (tables; from memory).
        let (low, high) = at.interval.unwrap();
        assert!(((at.ln_hours - low) / error - 1.859548).abs() < 1e-5);
        assert!(((high - at.ln_hours) / error - 1.859548).abs() < 1e-5);
    }
}

#[test]
fn the_error_of_a_time_on_a_line_is_carried_from_the_residuals() {
    let oven = reach(&looks(), Curve::LnTime, &LIMIT, 0.9).unwrap();
    let (at, line) = (reached(&looks(), Curve::LnTime), oven.line.unwrap());
    let on = |x: f64| line.level + line.slope * (x - line.centre);
    assert!((on(at.ln_hours) - LIMIT.value).abs() < 1e-12);
    let left: f64 = looks()
        .iter()
        .map(|r| (r.value - on(r.hours.ln())).powi(2))
        .sum();
    let squares: f64 = slopes(Curve::LnTime).iter().map(|s| s * s).sum();
    let error = (left / 10.0 * squares).sqrt();
    assert!((at.std_error.unwrap() / error - 1.0).abs() < 1e-6);
    // At an end the line is off the limit by t times its own error there; t of 0.95 with 10 degrees of
    // freedom: 1.812461 (tables; from memory).
    let (low, high) = at.interval.unwrap();
    assert!(low < at.ln_hours && at.ln_hours < high);
    for x in [low, high] {
        let own = left / 10.0 * (1.0 / 12.0 + (x - line.centre).powi(2) / line.spread);
        let off = (on(x) - LIMIT.value).abs() / own.sqrt();
        assert!((off - 1.812461).abs() < 1e-5, "{off}");
    }
}

#[test]
fn of_many_seals_the_share_failed_by_a_mode_has_the_plain_interval() {
    // 40,000 seals, a tenth failing by each of two modes at each of three ages: all ages are known.
    let row = |t: f64, mode, count| ModeRow {
        observation: match mode {
            Some(_) => Observation::exact(t, 0.0, count).unwrap(),
            None => Observation::right(t, 0.0, count).unwrap(),
        },
        mode,
    };
    let mut rows = vec![row(400.0, None, 16_000.0)];
    for t in [100.0, 200.0, 300.0] {
        rows.extend([row(t, Some(0), 4000.0), row(t, Some(1), 4000.0)]);
    }
    let found = cumulative_incidence(&ByMode::new(rows, 2).unwrap(), 0.9).unwrap();
    for (step, share) in found.modes[0].iter().zip([0.1, 0.2, 0.3]) {
        assert!((step.incidence - share).abs() < 1e-12);
        // Nobody leaves before 300, so that it is a binomial share; 1.644854 of normal tables.
        let error = (share * (1.0 - share) / 40_000.0_f64).sqrt();
        assert!((step.std_error / error - 1.0).abs() < 1e-9);
        let (low, high) = (step.lower.unwrap(), step.upper.unwrap());
        assert!(((share - low) / (1.644854 * error) - 1.0).abs() < 0.02);
        assert!(((high - share) / (1.644854 * error) - 1.0).abs() < 0.02);
    }
}

#[test]
fn ages_known_less_well_tell_less() {
    let groups = |width: f64| -> Vec<Sample> {
        let sample = |shift: f64| {
            let seal = |i: i32| {
                let age = 100.0 + shift + 7.0 * f64::from(i);
                let low = (age / width).floor() * width;
                Observation::interval(low, low + width, 0.0, 1.0).unwrap()
            };
            Sample::new((0..30).map(seal).collect())
        };
        vec![sample(0.0), sample(31.0)]
    };
    let exact = |shift: f64| {
        let seal = |i: i32| Observation::exact(100.0 + shift + 7.0 * f64::from(i), 0.0, 1.0);
        Sample::new((0..30).map(|i| seal(i).unwrap()).collect())
    };
    let plain = scores(&[vec![exact(0.0), exact(31.0)]], Weighting::LogRank).unwrap();
    let of = |width: f64| {
        let all = drawn(&[groups(width)], &[Weighting::LogRank], 400, 3).unwrap();
        (all[0].scores.variance[(0, 0)], all[0].share)
    };
    let (near, near_share) = of(0.01);
    assert!((near / plain.variance[(0, 0)] - 1.0).abs() < 1e-6 && near_share < 1e-6);
    let (mut before, mut share_before) = (near, near_share);
    for width in [60.0, 120.0] {
        let (variance, share) = of(width);
        assert!(variance < before && share > share_before, "{width}");
        // What is left of the variance of complete ages is what the share says.
        assert!((variance / plain.variance[(0, 0)] - (1.0 - share)).abs() < 0.1);
        (before, share_before) = (variance, share);
    }
}

#[test]
fn a_share_reached_only_together_has_its_age() {
    // Each mode fails six seals in ten at most, both together 84 in a hundred.
    let mode = |scale: f64| {
        let text = format!("weak_fraction_weibull:shape=2,scale={scale},weak_share=0.6");
        Life::parse(&text).unwrap()
    };
    let life = CompetingLife::new(vec![mode(100.0), mode(300.0)]).unwrap();
    for p in [0.1, 0.5, 0.59, 0.61, 0.7, 0.83] {
        let age = life.quantile(p);
        assert!((life.failed(age) - p).abs() < 1e-9, "{p}: {age}");
    }
    assert_eq!(life.quantile(0.85), f64::INFINITY);
}

#[test]
fn ends_of_one_free_parameter_lie_where_the_likelihood_has_fallen() {
    let failed = [120.0, 340.0, 390.0, 610.0, 930.0];
    let mut rows: Vec<Observation> = failed
        .iter()
        .map(|t| Observation::exact(*t, 0.0, 1.0).unwrap())
        .collect();
    rows.push(Observation::right(1000.0, 0.0, 7.0).unwrap());
    let fit = fit(laws::by_name("exponential").unwrap(), &Sample::new(rows)).unwrap();
    let time = failed.iter().sum::<f64>() + 7000.0;
    let value = |mean: f64| -5.0 * mean.ln() - time / mean;
    let at = |quantity| bounds(&fit, quantity, Method::Profile, 0.9);
    let mean = at(Quantity::Parameter(1));
    for end in [mean.lower.unwrap(), mean.upper.unwrap()] {
        let fall = 2.0 * (value(time / 5.0) - value(end));
        // The square of 1.644854, of normal tables.
        assert!((fall - 2.705_543).abs() < 1e-5, "{end}: {fall}");
    }
    // Every other quantity goes with the mean.
    let survival = at(Quantity::Survival(500.0));
    for (of, mean) in [(survival.lower, mean.lower), (survival.upper, mean.upper)] {
        let want = (-500.0 / mean.unwrap()).exp();
        assert!((of.unwrap() / want - 1.0).abs() < 1e-9);
    }
}

#[test]
fn no_interval_where_the_slope_is_not_told_from_none() {
    let values = [(24.0, 9.0), (72.0, 5.0), (168.0, 9.5), (504.0, 6.0)];
    let readings = values.map(|(hours, value)| Reading { hours, value });
    let at = reached(&readings, Curve::LnTime);
    assert!(at.std_error.is_some() && at.interval.is_none());
}

#[test]
fn the_time_left_is_the_age_at_which_so_many_of_the_running_have_failed() {
    let ages = [
        41.0, 95.0, 130.0, 155.0, 170.0, 210.0, 240.0, 262.0, 330.0, 410.0,
    ];
    let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    let sample = Sample::new(rows.to_vec());
    let mut seen = 0;
    for family in laws::all() {
        let Ok(fit) = fit(family, &sample) else {
            continue;
        };
        for (age, p) in [(1.0, 0.3), (50.0, 0.1), (300.0, 0.5)] {
            let asked = Quantity::Remaining { age, p };
            let left = family.unscale(asked, family.quantity(&fit.theta, asked).value);
            let ln_alive = |t: f64| family.ln_survival(&fit.theta, t);
            let off = ln_alive(age + left) - ln_alive(age) - (-p).ln_1p();
            assert!(off.abs() < 1e-8, "{}: {age} {p} {left}", family.name());
        }
        seen += 1;
    }
    assert!(seen >= 7, "{seen}");
}

#[test]
fn a_mixture_is_the_sum_of_its_parts_as_reported() {
    let stated = [
        ("share_1", 0.3),
        ("shape_1", 1.4),
        ("scale_1", 120.0),
        ("shape_2", 4.0),
        ("scale_2", 700.0),
    ];
    let life = Life::named("weibull_mixture", &stated).unwrap();
    for ((name, value), (found, own)) in stated.iter().zip(life.parameters()) {
        assert!(
            *name == found && (own / value - 1.0).abs() < 1e-12,
            "{found}: {own}"
        );
    }
    let part = |t: f64, shape: f64, scale: f64| (-(t / scale).powf(shape)).exp();
    for t in [1.0_f64, 60.0, 200.0, 650.0, 1100.0] {
        let want = 0.3 * part(t, 1.4, 120.0) + 0.7 * part(t, 4.0, 700.0);
        assert!((life.survival(t) / want - 1.0).abs() < 1e-10, "{t}");
    }
    let fit = fit(
        laws::by_name("weibull_mixture").unwrap(),
        &Sample::new(
            (0..400)
                .map(|i| Observation::exact(life.quantile((f64::from(i) + 0.5) / 400.0), 0.0, 1.0))
                .map(Result::unwrap)
                .collect(),
        ),
    )
    .unwrap();
    // Of even quantiles the estimate is near the law itself.
    for ((name, value), (_, own)) in stated.iter().zip(fit.life().parameters()) {
        assert!((own / value).ln().abs() < 0.1, "{name}: {own}");
    }
}

/// The Lewis–Robinson test of one system is Laplace's over the coefficient of variation of the gaps (Lawless & Thiagarajah
/// 1996; from memory).
#[test]
fn one_systems_renewal_test_is_laplaces_over_the_variation_of_gaps() {
    let times = [90.0, 260.0, 310.0, 480.0, 530.0, 560.0];
    let one = [History::new(0.0, 600.0, times.to_vec()).unwrap()];
    // The stretch before the first event is no whole gap: what was in place then may have been old.
    let gaps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
    let mean = gaps.iter().sum::<f64>() / 5.0;
    let square: f64 = gaps.iter().map(|g| (g - mean).powi(2)).sum();
    // Σ(t − T/2)/(T √(n/12)).
    let laplace: f64 = times.iter().map(|t| t - 300.0).sum::<f64>() / (600.0 * 0.5f64.sqrt());
    let want = laplace * mean / (square / 4.0).sqrt();
    let got = lewis_robinson(&one).unwrap();
    assert!(
        (got.statistic / want - 1.0).abs() < 1e-12,
        "{} {want}",
        got.statistic
    );
    assert!(got.rising && want > 0.0);
}

/// Curves through a known start, for a property that falls and one that rises: the time at which a change drawn from
/// the curve itself reaches the limit.
#[test]
fn curves_from_a_start_reach_the_limit_where_they_do() {
    let hours = [4.0, 16.0, 64.0, 144.0, 400.0];
    for (start, sign) in [(100.0, -1.0), (20.0, 1.0)] {
        let limit = Limit {
            value: start + sign * 20.0,
            rising: sign > 0.0,
            start: Some(start),
            end: Some(start + sign * 50.0),
        };
        // 2√t; 50(1 − exp(−√t/20)); 50/(1 + 30/t).
        let power = |t: f64| 2.0 * t.sqrt();
        let stretched = |t: f64| 50.0 * (1.0 - (-t.sqrt() / 20.0).exp());
        let logistic = |t: f64| 50.0 / (1.0 + 30.0 / t);
        let at = [100.0, (20.0 * (5.0f64 / 3.0).ln()).powi(2), 20.0];
        let curves: [(Curve, &dyn Fn(f64) -> f64); 3] = [
            (Curve::Power, &power),
            (Curve::Exponential, &stretched),
            (Curve::Logistic, &logistic),
        ];
        for ((curve, of), want) in curves.into_iter().zip(at) {
            let readings = hours.map(|hours| Reading {
                hours,
                value: start + sign * of(hours),
            });
            let Reach::At(found) = reach(&readings, curve, &limit, 0.9).unwrap().reach else {
                panic!("{curve:?}")
            };
            assert!(
                (found.ln_hours - want.ln()).abs() < 1e-9,
                "{curve:?} {sign}"
            );
        }
    }
}

/// The test of fit of a power law by histories drawn here: given their number the (t/T)^b are evenly spread, and b is
/// estimated anew without bias, (n − 1)/Σ ln(T/t).
#[test]
fn the_fit_of_a_power_law_is_judged_by_drawn_histories() {
    let times = [40.0, 300.0, 330.0, 350.0, 420.0, 900.0];
    let one = History::new(0.0, 1000.0, times.to_vec()).unwrap();
    let found = power_law(&[one]).unwrap().goodness(5).unwrap();
    let statistic = |shares: &[f64]| {
        let n = shares.len() as f64;
        let growth = (n - 1.0) / shares.iter().map(|u| -u.ln()).sum::<f64>();
        let each = (1..).zip(shares).map(|(i, u)| {
            let middle = (2.0 * f64::from(i) - 1.0) / (2.0 * n);
            (u.powf(growth) - middle).powi(2)
        });
        1.0 / (12.0 * n) + each.sum::<f64>()
    };
    let seen = statistic(&times.map(|t| t / 1000.0));
    assert!((found.cramer_von_mises / seen - 1.0).abs() < 1e-9);
    let draws = 20_000;
    let beyond = (0..draws)
        .filter(|i| {
            let mut stream = Stream::new(99, *i);
            let mut shares = [0.0; 6].map(|_: f64| stream.uniform());
            shares.sort_by(f64::total_cmp);
            statistic(&shares) >= seen
        })
        .count();
    let p = beyond as f64 / draws as f64;
    let error = (p * (1.0 - p) * (1.0 / 1999.0 + 1.0 / 20_000.0)).sqrt();
    assert!(
        (found.p_value - p).abs() < 4.0 * error,
        "{} {p}",
        found.p_value
    );
    assert!(p > 0.02 && p < 0.6, "{p}");
}

/// The doubts that a fit raises by itself, each where it holds and not elsewhere.
#[test]
fn doubts_are_raised_where_they_hold() {
    let sample = |n: u32, running: f64| {
        let exact = (1..=n).map(|i| Observation::exact(100.0 + 9.0 * f64::from(i), 0.0, 1.0));
        let right = (running > 0.0).then(|| Observation::right(150.0, 0.0, running));
        Sample::new(exact.chain(right).map(Result::unwrap).collect())
    };
    let said = |n: u32, running: f64| {
        fit(laws::by_name("weibull").unwrap(), &sample(n, running))
            .unwrap()
            .warnings
    };
    let has = |warnings: &[Warning], wanted: &Warning| warnings.contains(wanted);
    for (n, running) in [(4, 0.0), (7, 3.0), (12, 0.0), (12, 2.0)] {
        let warnings = said(n, running);
        let failures = f64::from(n);
        assert_eq!(has(&warnings, &Warning::NothingRunning), running == 0.0);
        assert_eq!(
            has(&warnings, &Warning::VeryFewFailures { failures }),
            n < 5
        );
        let few = (5..10).contains(&n);
        assert_eq!(has(&warnings, &Warning::Indicative { failures }), few);
        let early = warnings
            .iter()
            .any(|w| matches!(w, Warning::EarlyFailures { .. }));
        assert!(!early, "{warnings:?}");
    }
    // Half of them in the first hours.
    let rows = (0..16).map(|i| Observation::exact(1.6f64.powi(i), 0.0, 1.0).unwrap());
    let early = fit(
        laws::by_name("weibull").unwrap(),
        &Sample::new(rows.collect()),
    )
    .unwrap();
    let shape = early.estimate(Quantity::Parameter(0));
    assert!(shape < 1.0 && has(&early.warnings, &Warning::EarlyFailures { shape }));
}

/// The spread of ln life of a regression on nothing is that of the plain fit, with the interval that is even in ln σ.
#[test]
fn the_spread_of_a_regression_on_nothing_is_that_of_the_fit() {
    let rows = (1..=25).map(|i| Observation::exact(40.0 * f64::from(i).sqrt(), 0.0, 1.0).unwrap());
    let sample = Sample::new(rows.collect());
    let family = laws::by_name("lognormal").unwrap();
    let plain = fit(family, &sample).unwrap();
    let cell = Cell {
        row: vec![1.0],
        terms: Terms::new(&sample).into(),
    };
    let found = regress(family, &["intercept".to_owned()], &[cell]).unwrap();
    let (sigma, error, low, high) = found.sigma(0.9).unwrap();
    let (own, own_error) = (plain.theta[1], plain.covariance[(1, 1)].sqrt());
    assert!((sigma.ln() - own).abs() < 1e-6);
    assert!((error / (own.exp() * own_error) - 1.0).abs() < 1e-4);
    // 1.644854 of normal tables.
    assert!((low.ln() - (own - 1.644854 * own_error)).abs() < 1e-5);
    assert!((high.ln() - (own + 1.644854 * own_error)).abs() < 1e-5);
}

/// Of several systems the renewal statistic is the sum of the times of the events before the last, against its mean and
/// variance over all orders of each system's gaps: by going through them all.
#[test]
fn several_systems_are_tested_over_all_orders_of_their_gaps() {
    let times = [
        vec![100.0, 130.0, 190.0, 270.0, 400.0],
        vec![50.0, 210.0, 250.0, 300.0],
    ];
    let systems = times.clone().map(|t| History::new(0.0, 450.0, t).unwrap());
    // Sum of the times of all events but the last, counted from the first.
    let sum = |gaps: &[f64]| -> f64 {
        let n = gaps.len();
        (0..n).map(|k| gaps[k] * (n - 1 - k) as f64).sum()
    };
    fn orders(left: &[f64], taken: &mut Vec<f64>, of: &mut dyn FnMut(&[f64])) {
        if left.is_empty() {
            of(taken);
        }
        for i in 0..left.len() {
            let mut rest = left.to_vec();
            taken.push(rest.remove(i));
            orders(&rest, taken, of);
            taken.pop();
        }
    }
    let (mut off, mut variance) = (0.0, 0.0);
    for times in &times {
        let gaps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
        let mut all = vec![];
        orders(&gaps, &mut vec![], &mut |order| all.push(sum(order)));
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        off += sum(&gaps) - mean;
        variance += all.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / all.len() as f64;
    }
    let want = off / variance.sqrt();
    let got = lewis_robinson(&systems).unwrap().statistic;
    assert!((got / want - 1.0).abs() < 1e-9, "{got} {want}");
}
