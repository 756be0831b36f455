//! Degradation paths: likelihoods against densities of scipy, planted truths found again, and the coverage
//! of the prediction intervals, seeded.

use crate::support::close::Check;
use crate::support::expected::{number, numbers, read};
use crate::support::tolerances::{ESTIMATE, SEARCHED};
use sealspan_life::degradation::choose::{KINDS, Kind, Model, choose};
use sealspan_life::degradation::mixed::{NoPath, fit, fit_among};
use sealspan_life::degradation::mixed_fit::{Structure, Sums, ln_likelihood};
use sealspan_life::degradation::unusual::stand_out;
use sealspan_life::degradation::{Limit, Scale, wear};
use sealspan_numeric::random::Stream;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::chi_square_survival;
use serde_json::Value;

fn paths(case: &Value) -> Vec<Vec<(f64, f64)>> {
    let path = |seal: &Value| {
        let points = seal.as_array().unwrap().iter();
        points
            .map(|p| (p[0].as_f64().unwrap(), p[1].as_f64().unwrap()))
            .collect()
    };
    let seals = case["seals"].as_array().unwrap();
    seals.iter().map(path).collect()
}

const FALLING: Limit = Limit {
    value: 3.5,
    rising: false,
};

#[test]
fn the_likelihood_is_the_multivariate_normal_density() {
    let case = read("degradation-paths");
    let theta = numbers(&case["density"], "at");
    let (noise, d00, d01, d11) = (theta[2], theta[3], theta[4], theta[5]);
    let l1 = d00.sqrt() / noise;
    let l2 = d01 / (noise * noise) / l1;
    let l3 = (d11 / (noise * noise) - l2 * l2).sqrt();
    let sums: Vec<Sums> = paths(&case)
        .iter()
        .map(|p| Sums::of(p.iter().copied()))
        .collect();
    let ours = ln_likelihood(&sums, [theta[0], theta[1], noise.ln()], [l1, l2, l3], false);
    let mut checks = Check::new("path likelihood");
    checks.value("density", ours, number(&case["density"], "value"), ESTIMATE);
    checks.finish(1);
}

#[test]
fn estimates_and_predictions_agree_with_an_independent_computation() {
    let case = read("degradation-paths");
    let paths = paths(&case);
    let model = fit_among(&paths, Scale::Plain, &[Structure::Correlated]).unwrap();
    let want = &case["fit"];
    let mut checks = Check::new("degradation paths");
    let mut some = |what: &str, ours: &[f64], want: &[f64]| {
        for (a, b) in ours.iter().zip(want) {
            checks.value(what, *a, *b, SEARCHED);
        }
    };
    some(
        "mean",
        &[model.mean.x, model.mean.y],
        &numbers(want, "mean"),
    );
    some(
        "among",
        &[model.among.m11, model.among.m12, model.among.m22],
        &numbers(want, "among"),
    );
    let c = model.mean_covariance;
    some(
        "covariance",
        &[c.m11, c.m12, c.m22],
        &numbers(want, "mean_covariance"),
    );
    some("noise", &[model.noise], &[number(want, "noise")]);
    some("full", &[model.log_likelihood], &[number(want, "full")]);
    some(
        "restricted",
        &[model.restricted],
        &[number(want, "restricted")],
    );
    let own = model.own(&paths[4]);
    some(
        "own",
        &[own.mean.x, own.mean.y],
        &numbers(&case["own"], "mean"),
    );
    let c = own.covariance;
    some(
        "own covariance",
        &[c.m11, c.m12, c.m22],
        &numbers(&case["own"], "covariance"),
    );
    let model = model.spreads_known();
    let (new, old) = (
        model.new_seal(FALLING).unwrap(),
        model.of_seal(&paths[4], FALLING).unwrap(),
    );
    for row in case["past_limit"].as_array().unwrap() {
        let age = number(row, "age");
        // A tail of 1e-249 magnifies the search's own error past use.
        for (what, ours) in [("new", new.by(age)), ("own", old.by(age))] {
            let want = number(row, what);
            if want > 1e-8 {
                some(what, &[ours], &[want]);
            }
        }
    }
    checks.finish(20);
}

#[test]
fn gamma_wear_agrees_with_an_independent_computation() {
    let case = read("degradation-paths");
    let case = &case["wear"];
    let paths = paths(case);
    let wear = wear::fit(&paths, FALLING).unwrap();
    let mut checks = Check::new("gamma wear");
    checks.value("shape", wear.shape, number(case, "shape"), SEARCHED);
    checks.value("rate", wear.rate, number(case, "rate"), SEARCHED);
    checks.value(
        "likelihood",
        wear.given_first,
        number(case, "log_likelihood"),
        SEARCHED,
    );
    let known = wear.parameters_known();
    let crossing = known.of_seal(&paths[0], FALLING).unwrap();
    let last = paths[0].last().unwrap().0;
    for row in case["past_limit"].as_array().unwrap() {
        let ours = crossing.by(last + number(row, "after"));
        checks.value("chance", ours, number(row, "chance"), SEARCHED);
    }
    checks.finish(6);
}

/// Thickness of a fleet: straight wear, seals that differ, a gauge that errs; each seal looked at every 60 days.
fn fleet(seed: u64, seals: usize, looks: usize) -> (Vec<Vec<(f64, f64)>>, Vec<f64>) {
    let (mut paths, mut truth) = (vec![], vec![]);
    for i in 0..seals {
        let mut draw = Stream::new(seed, i as u64);
        let level = 7.5 + 0.2 * draw.normal();
        let rate = -(0.008 + 0.0015 * draw.normal());
        let count = 3 + draw.below(looks);
        let point = |k: usize, noise: f64| {
            let age = 60.0 * k as f64;
            (age, level + rate * age + 0.1 * noise)
        };
        paths.push((0..count).map(|k| point(k, draw.normal())).collect());
        truth.push((3.5 - level) / rate);
    }
    (paths, truth)
}

#[test]
fn planted_paths_are_found_again() {
    let (paths, _) = fleet(11, 400, 5);
    let model = fit(&paths, Scale::Plain).unwrap();
    let near = |ours: f64, truth: f64, error: f64| {
        assert!(
            (ours - truth).abs() < 4.0 * error,
            "{ours} against {truth} ({error})"
        );
    };
    near(model.mean.x, 7.5, model.mean_covariance.m11.sqrt());
    near(model.mean.y, -0.008, model.mean_covariance.m22.sqrt());
    near(
        model.noise.ln(),
        0.1_f64.ln(),
        model.ln_noise_error.unwrap(),
    );
    let [level, rate] = model.ln_among_errors;
    near(0.5 * model.among.m11.ln(), 0.2_f64.ln(), level.unwrap());
    near(0.5 * model.among.m22.ln(), 0.0015_f64.ln(), rate.unwrap());
}

/// 200 fleets of 15 seals: the 90 % prediction interval of each seal's own age at the limit must hold the true age in
/// 90 % of the cases, less what the unknown variances cost.
#[test]
fn prediction_intervals_cover() {
    let (mut held, mut asked) = (0.0, 0.0);
    for seed in 0..200 {
        let (paths, truth) = fleet(1000 + seed, 15, 4);
        let model = fit(&paths, Scale::Plain).unwrap();
        for (path, truth) in paths.iter().zip(truth) {
            let crossing = model.of_seal(path, FALLING).unwrap();
            let lower = crossing.age_at(0.05).unwrap();
            let upper = crossing.age_at(0.95).unwrap_or(f64::INFINITY);
            held += f64::from(u8::from(lower <= truth && truth <= upper));
            asked += 1.0;
        }
    }
    let share = held / asked;
    println!("coverage of 90 % prediction intervals, 15 seals: {share:.4} of {asked}");
    assert!((0.87..0.92).contains(&share), "{share}");
}

/// Gamma deviate by inversion of the tail.
fn gamma(draw: &mut Stream, shape: f64, rate: f64) -> f64 {
    let tail = draw.uniform();
    let miss = |ln_x: f64| chi_square_survival(2.0 * ln_x.exp(), 2.0 * shape) - tail;
    bracketed(miss, -200.0, 10.0, 1e-13).unwrap().exp() / rate
}

#[test]
fn a_gamma_process_is_recognised_and_covers() {
    let (mut held, mut asked) = (0.0, 0.0);
    for seed in 0..60 {
        let mut paths = vec![];
        let mut truth = vec![];
        for i in 0..12 {
            let mut draw = Stream::new(500 + seed, i);
            let (mut value, mut age, mut path) = (8.0, 0.0, vec![(0.0, 8.0)]);
            while value > 3.5 {
                age += 10.0;
                value -= gamma(&mut draw, 0.02 * 10.0, 2.5);
                // Looked at every 40 days for 200 days; the rest is the future.
                if age <= 200.0 && age % 40.0 == 0.0 {
                    path.push((age, value));
                }
            }
            paths.push(path);
            truth.push(age);
        }
        let choice = choose(&paths, FALLING, &KINDS.map(|k| k.0)).unwrap();
        let Model::Wear(wear) = choice.model else {
            continue;
        };
        for (path, truth) in paths.iter().zip(truth) {
            let crossing = wear.of_seal(path, FALLING).unwrap();
            let (lower, upper) = (
                crossing.age_at(0.05).unwrap(),
                crossing.age_at(0.95).unwrap(),
            );
            // The truth is known to the ten days in which the limit was passed.
            held += f64::from(u8::from(lower <= truth && truth - 10.0 <= upper));
            asked += 1.0;
        }
    }
    println!("gamma: {asked} intervals, coverage {:.4}", held / asked);
    assert!(
        asked >= 12.0 * 54.0,
        "the gamma process was chosen in {asked} / 720"
    );
    assert!((0.85..0.95).contains(&(held / asked)), "{}", held / asked);
}

#[test]
fn the_scale_on_which_paths_are_straight_is_chosen() {
    let (straight, _) = fleet(5, 40, 6);
    let curved: Vec<Vec<(f64, f64)>> = straight
        .iter()
        .map(|p| {
            p.iter()
                .map(|(t, y)| (*t, (0.4 * (y - 4.0)).exp()))
                .collect()
        })
        .collect();
    let kinds = KINDS.map(|k| k.0);
    assert_eq!(
        choose(&straight, FALLING, &kinds).unwrap().kind,
        Kind::Linear
    );
    let limit = Limit {
        value: 0.9,
        rising: false,
    };
    assert_eq!(
        choose(&curved, limit, &kinds).unwrap().kind,
        Kind::LogLinear
    );
}

#[test]
fn an_unusual_seal_is_named_and_few_others() {
    let (mut paths, _) = fleet(21, 60, 5);
    paths[17] = paths[17].iter().map(|(t, y)| (*t, y - 0.009 * t)).collect();
    let choice = choose(&paths, FALLING, &[Kind::Linear]).unwrap();
    let p: Vec<Option<f64>> = paths
        .iter()
        .map(|path| choice.model.p_value(path, FALLING))
        .collect();
    let named = stand_out(&p);
    assert!(named.contains(&17) && named.len() <= 3, "{named:?}");
}

#[test]
fn what_cannot_be_fitted_says_why() {
    let two = vec![vec![(0.0, 7.0), (10.0, 6.0)], vec![(0.0, 7.1)]];
    assert_eq!(fit(&two, Scale::Plain), Err(NoPath::TooFew(1)));
    let line: Vec<(f64, f64)> = (0..4).map(|k| (f64::from(k), 7.0 - f64::from(k))).collect();
    let exact = vec![line.clone(), line.clone(), line];
    assert_eq!(fit(&exact, Scale::Plain), Err(NoPath::NoError));
    let below = vec![vec![(0.0, 1.0), (1.0, 0.5), (2.0, -0.1)]; 3];
    assert_eq!(fit(&below, Scale::Log), Err(NoPath::NotPositive));
    let backward = vec![
        vec![
            (0.0, 7.0),
            (1.0, 6.5),
            (2.0, 6.6),
            (3.0, 6.0),
            (4.0, 5.0),
            (5.0, 4.9)
        ];
        2
    ];
    assert!(matches!(
        wear::fit(&backward, FALLING),
        Err(wear::NoWear::Backward {
            backward: 2,
            all: 10
        })
    ));
}
