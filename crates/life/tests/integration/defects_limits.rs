//! The defect model where a formula, a sum or a symmetry gives the answer by itself: likelihoods, fits at an edge, ends of
//! intervals, and draws.

use sealspan_life::defects::simulate::{LookPlan, simulate};
use sealspan_life::defects::{
    DELAY_SPREAD, DefectDraws, DefectFit, DefectQuantity, Model, PARAMETERS, SHARPEST, StageLaw,
    Theta, fit,
};
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::random::Stream;
use sealspan_records::history::{Ended, History};

const WEIBULLS: Model = Model {
    defect: StageLaw::Weibull,
    delay: StageLaw::Weibull,
    detection: None,
};
const CONSTANT: Model = Model {
    defect: StageLaw::Exponential,
    delay: StageLaw::Exponential,
    detection: Some(0.6),
};
const PLAN: LookPlan = LookPlan {
    every: 60.0,
    jitter: 20.0,
    skipped: 0.0,
    until: (300.0, 800.0),
    entry: 0.0,
    detection: 0.6,
};
const MEAN: DefectQuantity = DefectQuantity::Delay(Quantity::Mean);

fn seal(looks: &[f64], ended: Ended, count: f64) -> History {
    History::new(0.0, looks.to_vec(), ended, count).unwrap()
}

/// Invented seals: defects at a constant rate after 500 on average, and delays of a Weibull law of this shape about 100.
fn fleet(shape: f64, plan: &LookPlan, seals: usize, seed: u64) -> Vec<History> {
    let (defect, delay) = (
        Life::exponential(500.0).unwrap(),
        Life::weibull(shape, 100.0).unwrap(),
    );
    let mut stream = Stream::new(seed, 0);
    (0..seals)
        .map(|_| simulate(&defect, &delay, plan, &mut stream).unwrap())
        .collect()
}

/// Three alike in one row, and in three.
#[test]
fn a_count_is_so_many_seals() {
    let theta: Theta = [6.0, -0.5, 4.6, -0.4, 0.4];
    for ended in [
        Ended::Failed(200.0),
        Ended::FailedBetween(120.0, 200.0),
        Ended::Found(200.0),
        Ended::Running(200.0),
    ] {
        let (merged, one) = (
            seal(&[60.0, 120.0], ended, 3.0),
            seal(&[60.0, 120.0], ended, 1.0),
        );
        let rows = vec![one.clone(), one.clone(), one];
        let value = |list: &[History]| WEIBULLS.log_likelihood(&theta, list);
        let all = |list: &[History]| WEIBULLS.log_likelihood_derivatives(&theta, list);
        let (a, b) = (value(std::slice::from_ref(&merged)), value(&rows));
        assert!((a - b).abs() < 1e-9, "{ended:?}: {a} {b}");
        let (a, b) = (all(&[merged]), all(&rows));
        assert!((a.value - b.value).abs() < 1e-9);
        for (a, b) in a.gradient.iter().zip(&b.gradient) {
            assert!((a - b).abs() < 1e-9, "{ended:?}: {a} {b}");
        }
    }
}

/// A seal that has just been fitted tells nothing.
#[test]
fn a_seal_sound_at_age_0_adds_nothing() {
    let theta: Theta = [6.0, -0.5, 4.6, -0.4, 0.4];
    let (failed, new) = (
        seal(&[60.0], Ended::Failed(200.0), 1.0),
        seal(&[], Ended::Running(0.0), 4.0),
    );
    let with = [failed.clone(), new.clone()];
    assert_eq!(WEIBULLS.log_likelihood(&theta, &[new]), 0.0);
    let without = WEIBULLS.log_likelihood_derivatives(&theta, &[failed]);
    let with = WEIBULLS.log_likelihood_derivatives(&theta, &with);
    assert_eq!(with.value, without.value);
    assert_eq!(with.gradient, without.gradient);
    assert_eq!(with.hessian, without.hessian);
}

/// Densities without bound at both ends, of shape 1/4, against a sum in which u = s⁴, counted from the nearer end, takes the
/// bound away.
#[test]
fn densities_without_bound_are_summed_to_their_ends() {
    let (shape, defect, delay, t) = (0.25_f64, 500.0_f64, 100.0_f64, 200.0_f64);
    let blind = Model {
        detection: Some(0.0),
        ..WEIBULLS
    };
    let theta = blind.pinned([defect.ln(), -shape.ln(), delay.ln(), -shape.ln(), 0.0]);
    let survival = |x: f64, scale: f64| (-(x / scale).powf(shape)).exp();
    // Density times du/ds at x = s⁴.
    let density =
        |s: f64, scale: f64| 4.0 * shape * scale.powf(-shape) * survival(s.powi(4), scale);
    let plain = |x: f64, scale: f64| density(x.powf(0.25), scale) / (4.0 * x.powf(0.75));
    let sum = |f: &dyn Fn(f64) -> f64| {
        let (steps, reach) = (40_000, (0.5 * t).powf(0.25));
        let width = reach / f64::from(steps);
        let at = |i| f(width * (f64::from(i) + 0.5));
        (0..steps).map(at).sum::<f64>() * width
    };
    let failed = sum(&|s| density(s, defect) * plain(t - s.powi(4), delay))
        + sum(&|s| density(s, delay) * plain(t - s.powi(4), defect));
    let gone_on = sum(&|s| density(s, defect) * survival(t - s.powi(4), delay))
        + sum(&|s| 4.0 * s.powi(3) * survival(s.powi(4), delay) * plain(t - s.powi(4), defect));
    for (ended, want) in [
        (Ended::Failed(t), failed),
        (Ended::Running(t), survival(t, defect) + gone_on),
    ] {
        let list = [seal(&[], ended, 1.0)];
        let ln = blind.log_likelihood(&theta, &list);
        let jet = blind.log_likelihood_derivatives(&theta, &list).value;
        for ln in [ln, jet] {
            assert!(
                (ln - want.ln()).abs() < 1e-8,
                "{ended:?}: {ln} {}",
                want.ln()
            );
        }
    }
}

/// Fall of the log-likelihood from the maximum with the delay's μ held, over the defect's μ.
fn fall_with(fit: &DefectFit, delay_mu: f64) -> f64 {
    let at = |mu: f64| {
        let mut theta = fit.theta;
        (theta[0], theta[2]) = (mu, delay_mu);
        fit.model.log_likelihood(&theta, &fit.histories)
    };
    let (mut low, mut high) = (fit.theta[0] - 2.0, fit.theta[0] + 2.0);
    for _ in 0..40 {
        let (a, b) = (low + 0.382 * (high - low), low + 0.618 * (high - low));
        if at(a) < at(b) { low = a } else { high = b }
    }
    fit.log_likelihood - at(0.5 * (low + high))
}

/// The ends of the mean delay's interval, each with its depth checked by a search of its own.
fn assert_deep(fit: &DefectFit) {
    let spread = fit.lives().unwrap().1.mean() / fit.theta[2].exp();
    let (level, bounds) = (0.8, fit.bounds(MEAN, 0.8));
    let (lower, upper) = (bounds.lower.unwrap(), bounds.upper.unwrap());
    assert!(lower < fit.estimate(MEAN).unwrap() && fit.estimate(MEAN).unwrap() < upper);
    for end in [lower, upper] {
        let fall = fall_with(fit, (end / spread).ln());
        let depth = 0.5 * fit.depth(level).powi(2);
        assert!((fall - depth).abs() < 1e-4, "{end}: {fall} {depth}");
    }
}

/// Delays all alike: the spread is held at its edge, the rest is at the maximum, and detection, which is stated, is at no
/// edge.
#[test]
fn delays_alike_are_fitted_at_their_edge_alone() {
    let model = Model {
        delay: StageLaw::Weibull,
        ..CONSTANT
    };
    let found = fit(model, fleet(80.0, &PLAN, 40, 1)).unwrap();
    assert_eq!(
        (found.detection_at_edge, found.delay_at_edge),
        (false, true)
    );
    assert_eq!(found.model, model);
    assert_eq!(found.theta[DELAY_SPREAD], SHARPEST);
    let d = model.log_likelihood_derivatives(&found.theta, &found.histories);
    assert!(
        d.gradient[0].abs() < 1e-3 && d.gradient[2].abs() < 1e-3,
        "{:?}",
        d.gradient
    );
    for i in 0..PARAMETERS {
        assert_eq!(found.covariance[(i, i)] > 0.0, [0, 2].contains(&i), "{i}");
    }
    assert_deep(&found);
}

/// Two constant rates and detection stated: no edge, bounds at their depth, and none of what is stated.
#[test]
fn constant_rates_have_bounds_at_their_depth_and_none_of_what_is_stated() {
    let found = fit(CONSTANT, fleet(1.0, &PLAN, 40, 2)).unwrap();
    assert!(!found.at_edge());
    assert_deep(&found);
    let stated = found.bounds(DefectQuantity::Detection, 0.9);
    assert_eq!((stated.lower, stated.upper), (None, None));
}

/// Looks that miss nothing, detection free and a delay without a spread: detection alone can be at an edge.
#[test]
fn perfect_looks_are_fitted_at_their_edge_alone() {
    let free = Model {
        detection: None,
        ..CONSTANT
    };
    let plan = LookPlan {
        detection: 1.0,
        ..PLAN
    };
    let found = fit(free, fleet(1.0, &plan, 60, 3)).unwrap();
    assert_eq!(
        (found.detection_at_edge, found.delay_at_edge),
        (true, false)
    );
    assert_eq!(found.detection(), 1.0);
}

/// Ages in another unit, a thousandth as long: the same draws, a thousand times as many units.
#[test]
fn draws_keep_to_no_unit() {
    let times = |by: f64| {
        let list = fleet(1.0, &PLAN, 12, 4).into_iter().map(|h| {
            let looks = h.looks().iter().map(|a| a * by).collect();
            let ended = match h.ended() {
                Ended::Failed(t) => Ended::Failed(by * t),
                Ended::Found(t) => Ended::Found(by * t),
                Ended::Running(t) => Ended::Running(by * t),
                Ended::FailedBetween(a, b) => Ended::FailedBetween(by * a, by * b),
            };
            History::new(0.0, looks, ended, 1.0).unwrap()
        });
        DefectDraws::few(&fit(CONSTANT, list.collect()).unwrap(), 300, 1).unwrap()
    };
    let (days, short) = (times(1.0), times(1000.0));
    let shares = [0.05, 0.5, 0.95];
    let (a, b) = (
        days.quantiles(MEAN, &shares),
        short.quantiles(MEAN, &shares),
    );
    for (a, b) in a.into_iter().zip(b) {
        let ratio = b.unwrap() / a.unwrap();
        assert!((ratio / 1000.0 - 1.0).abs() < 0.01, "{ratio}");
    }
}

/// Means and standard deviations of ln mean age of defects and ln mean delay, over draws and over a grid of the posterior
/// with the priors that are stated: normal about ln of the oldest age, standard deviation 3.
#[test]
fn draws_have_the_moments_of_the_posterior_on_a_grid() {
    let list = fleet(1.0, &PLAN, 16, 5);
    let oldest = list.iter().map(|h| h.ended().last()).fold(0.0, f64::max);
    let found = fit(CONSTANT, list).unwrap();
    let sd = |i: usize| found.covariance[(i, i)].sqrt();
    let mut sums = [0.0; 5];
    for i in -12..=16 {
        for j in -12..=16 {
            let mut theta = found.theta;
            theta[0] += 0.4 * f64::from(i) * sd(0);
            theta[2] += 0.4 * f64::from(j) * sd(2);
            let z = |mu: f64| (mu - oldest.ln()) / 3.0;
            let prior = -0.5 * (z(theta[0]).powi(2) + z(theta[2]).powi(2));
            let ln = CONSTANT.log_likelihood(&theta, &found.histories) + prior;
            let weight = (ln - found.log_likelihood).exp();
            let (a, b) = (theta[0], theta[2]);
            for (sum, x) in sums.iter_mut().zip([1.0, a, a * a, b, b * b]) {
                *sum += weight * x;
            }
        }
    }
    let [all, a, aa, b, bb] = sums;
    let draws = DefectDraws::few(&found, 2000, 1).unwrap();
    assert!(draws.effective > 1000.0, "{}", draws.effective);
    let list = draws.draws(2000);
    let defects: Vec<f64> = list.iter().map(|d| d.defect.mean().ln()).collect();
    let delays: Vec<f64> = list.iter().map(|d| d.delay.mean().ln()).collect();
    for (drawn, mean, square) in [(defects, a / all, aa / all), (delays, b / all, bb / all)] {
        let sd = (square - mean * mean).sqrt();
        let n = drawn.len() as f64;
        let m = drawn.iter().sum::<f64>() / n;
        let s = (drawn.iter().map(|x| (x - m).powi(2)).sum::<f64>() / n).sqrt();
        // The mean of a thousand draws strays by 0.03 standard deviations, their standard deviation by 0.02 or a little more.
        assert!((m - mean).abs() < 0.12 * sd, "{m} {mean} {sd}");
        assert!((s / sd - 1.0).abs() < 0.12, "{s} {sd}");
    }
}

/// Some of the draws are every so manieth of all, each with what is stated.
#[test]
fn some_draws_are_evenly_taken_from_all() {
    let found = fit(CONSTANT, fleet(1.0, &PLAN, 16, 5)).unwrap();
    let draws = DefectDraws::few(&found, 60, 1).unwrap();
    let means = |count| -> Vec<f64> {
        let list = draws.draws(count);
        assert!(list.iter().all(|d| (d.detection - 0.6).abs() < 1e-12));
        list.iter().map(|d| d.delay.mean()).collect()
    };
    let all = means(60);
    assert_eq!(all.len(), 60);
    assert_eq!(means(1000), all);
    assert_eq!(means(0), [0.0; 0]);
    for count in [1, 7, 10, 40] {
        let every: Vec<f64> = all
            .iter()
            .step_by(60 / count)
            .take(count)
            .copied()
            .collect();
        assert_eq!(every.len(), count);
        assert_eq!(means(count), every);
    }
}

/// Detection's interval runs to 1 where looks that miss nothing lose less than its depth, and stops below, at its depth, where
/// they lose more.
#[test]
fn detection_runs_to_1_where_perfect_looks_are_within_the_depth() {
    let free = Model {
        detection: None,
        ..CONSTANT
    };
    let found = fit(free, fleet(1.5, &PLAN, 25, 8)).unwrap();
    assert!(!found.at_edge());
    let perfect = Model {
        detection: Some(1.0),
        ..free
    };
    let perfect = fit(perfect, found.histories.to_vec()).unwrap();
    let fall = found.log_likelihood - perfect.log_likelihood;
    let mut sides = vec![];
    for level in [0.5, 0.8, 0.9] {
        let depth = 0.5 * found.depth(level).powi(2);
        let upper = found.bounds(DefectQuantity::Detection, level).upper;
        sides.push(depth > fall);
        if depth > fall {
            assert_eq!(upper, Some(1.0), "{level}");
            continue;
        }
        assert!(upper.is_some_and(|upper| upper < 1.0), "{level}: {upper:?}");
        let held = Model {
            detection: upper,
            ..free
        };
        let held = fit(held, found.histories.to_vec()).unwrap();
        let lost = found.log_likelihood - held.log_likelihood;
        assert!((lost - depth).abs() < 1e-5, "{level}: {lost} {depth}");
    }
    assert_eq!(sides, [false, true, true], "both sides are to be tried");
    // No other quantity ends at 1.
    let upper = found.bounds(MEAN, 0.9).upper;
    assert!(upper.is_none_or(|upper| upper > 100.0), "{upper:?}");
}
