//! Predictions of a gamma process against sums written out here.

#![allow(clippy::unwrap_used)]

use super::*;
use statrs::function::gamma::ln_gamma;

/// Shape 2 per unit of age and rate 1.5 as known, with these first values.
fn known(starts: &[f64]) -> Wear {
    Wear {
        shape: 2.0,
        rate: 1.5,
        ln_errors: (0.0, 0.0),
        ln_mean_error: 0.0,
        given_first: 0.0,
        new_value: starts.iter().sum::<f64>() / starts.len() as f64,
        starts: starts.to_vec(),
        open: vec![(1.0, [2.0, 1.5])],
        increments: 6,
    }
}

/// Chance that wear of whole shape `k` and rate 1.5 is beyond `left`: fewer than `k` events of a Poisson law.
fn beyond(k: i32, left: f64) -> f64 {
    let events = 1.5 * left;
    let mut term = (-events).exp();
    let mut sum = 0.0;
    for i in 0..k {
        sum += term;
        term *= events / f64::from(i + 1);
    }
    sum
}

fn near(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() < tolerance, "{a} instead of {b}");
}

#[test]
fn a_new_seal_starts_from_each_first_value() {
    let rising = Limit {
        value: 6.0,
        rising: true,
    };
    let wanted = (beyond(6, 6.0) + beyond(6, 5.5) + beyond(6, 4.0)) / 3.0;
    near(
        known(&[2.0, 0.0, 0.5]).new_seal(rising).by(3.0),
        wanted,
        1e-12,
    );
    let falling = Limit {
        value: 4.0,
        rising: false,
    };
    let down = known(&[8.0, 10.0, 9.5]).new_seal(falling).by(3.0);
    near(down, wanted, 1e-12);
}

#[test]
fn of_many_first_values_every_third_is_followed() {
    let limit = Limit {
        value: 40.0,
        rising: true,
    };
    // 25 values in no order: at most twelve are followed, so every third of the sorted ones.
    let starts: Vec<f64> = (0..25).map(|i| f64::from(i * 7 % 25)).collect();
    let wanted = (0..25)
        .step_by(3)
        .map(|s| beyond(40, 40.0 - f64::from(s)))
        .sum::<f64>()
        / 9.0;
    near(known(&starts).new_seal(limit).by(20.0), wanted, 1e-12);
}

#[test]
fn a_seal_goes_on_from_its_last_value() {
    let limit = Limit {
        value: 6.0,
        rising: true,
    };
    let wear = known(&[0.0]);
    let crossing = wear.of_seal(&[(1.0, 1.0), (4.0, 2.0)], limit).unwrap();
    near(crossing.by(4.0 + 3.0), beyond(6, 4.0), 1e-12);
    near(crossing.by(4.0 + 1.5), beyond(3, 4.0), 1e-12);
    assert_eq!(crossing.by(3.9), 0.0);
    assert_eq!(wear.of_seal(&[], limit), None);
}

/// Age by which a share `p` of seals with `left` to wear is past the limit, by halving.
fn age(left: f64, p: f64) -> f64 {
    let (mut low, mut high) = (0.0, 100.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        let past = chi_square_survival(2.0 * 1.5 * left, 2.0 * 2.0 * middle);
        if past < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

#[test]
fn an_interval_holds_what_the_first_values_leave_open() {
    let limit = Limit {
        value: 10.0,
        rising: true,
    };
    let wear = known(&[0.0, 1.0, 2.0, 5.0]);
    // Mean 2, standard deviation √(14/3), so its error √(14/12); three places stand for a normal law.
    let step = (3.0 * 14.0 / 12.0_f64).sqrt();
    let logs = [-1.0, 0.0, 1.0].map(|s| age(10.0 - 2.0 - s * step, 0.1).ln());
    let mean = (logs[0] + 4.0 * logs[1] + logs[2]) / 6.0;
    let square = (logs[0].powi(2) + 4.0 * logs[1].powi(2) + logs[2].powi(2)) / 6.0;
    let spread = (square - mean * mean).sqrt();
    // Student's 95 % point with 6 − 2 degrees of freedom, from any table.
    let ends = wear.share_interval(limit, 0.1, 0.9);
    near(ends[0].unwrap(), (mean - 2.131_847 * spread).exp(), 1e-5);
    near(ends[1].unwrap(), (mean + 2.131_847 * spread).exp(), 1e-5);
}

#[test]
fn one_first_value_and_known_parameters_leave_nothing_open() {
    let limit = Limit {
        value: 6.0,
        rising: true,
    };
    let ends = known(&[1.0]).share_interval(limit, 0.25, 0.9);
    near(ends[0].unwrap(), age(5.0, 0.25), 1e-6);
    near(ends[1].unwrap(), age(5.0, 0.25), 1e-6);
}

#[test]
fn wear_of_shape_one_has_the_p_value_of_an_exponential_law() {
    let limit = Limit {
        value: 99.0,
        rising: true,
    };
    let wear = known(&[0.0]);
    let p = |by: f64| wear.p_value(&[(2.0, 1.0), (2.2, 1.1), (2.5, 1.0 + by)], limit);
    near(p(0.1).unwrap(), 2.0 * (1.0 - (-0.15_f64).exp()), 1e-12);
    near(p(3.0).unwrap(), 2.0 * (-4.5_f64).exp(), 1e-12);
    near(p(2.0_f64.ln() / 1.5).unwrap(), 1.0, 1e-12);
    assert_eq!(wear.p_value(&[(2.0, 1.0)], limit), None);
    assert_eq!(wear.p_value(&[], limit), None);
    let falling = Limit {
        value: 0.0,
        rising: false,
    };
    near(
        wear.p_value(&[(0.0, 9.0), (0.5, 6.0)], falling).unwrap(),
        2.0 * (-4.5_f64).exp(),
        1e-12,
    );
}

#[test]
fn what_the_fit_leaves_open_is_the_posterior_of_a_fine_grid() {
    // Invented: ten increments of half a unit of age to three.
    let increments = [
        (0.5, 0.4),
        (1.0, 1.1),
        (1.0, 0.7),
        (2.0, 1.6),
        (1.5, 1.9),
        (3.0, 2.4),
        (1.0, 0.9),
        (0.5, 0.7),
        (2.5, 1.8),
        (1.0, 1.3),
    ];
    let paths: Vec<Vec<(f64, f64)>> = increments
        .iter()
        .map(|(span, wear)| vec![(0.0, 0.0), (*span, *wear)])
        .collect();
    let limit = Limit {
        value: 5.0,
        rising: true,
    };
    let wear = fit(&paths, limit).unwrap();
    let ln_likelihood = |shape: f64, rate: f64| -> f64 {
        let one = |(span, wear): &(f64, f64)| {
            let own = shape * span;
            own * rate.ln() - ln_gamma(own) + (own - 1.0) * wear.ln() - rate * wear
        };
        increments.iter().map(one).sum()
    };
    let best = ln_likelihood(wear.shape, wear.rate);
    near(best, wear.given_first, 1e-9);
    // A grid over five standard errors of both logarithms.
    let (mut total, mut logs, mut squares, mut chance) = (0.0, [0.0; 2], [0.0; 2], 0.0);
    for i in -100..=100 {
        for j in -100..=100 {
            let x = [
                wear.shape.ln() + 0.05 * f64::from(i) * wear.ln_errors.0,
                wear.rate.ln() + 0.05 * f64::from(j) * wear.ln_errors.1,
            ];
            let weight = (ln_likelihood(x[0].exp(), x[1].exp()) - best).exp();
            total += weight;
            for k in 0..2 {
                logs[k] += weight * x[k];
                squares[k] += weight * x[k] * x[k];
            }
            if weight > 1e-9 {
                let past = chi_square_survival(2.0 * x[1].exp() * 5.0, 2.0 * x[0].exp() * 4.0);
                chance += weight * past;
            }
        }
    }
    near(wear.open.iter().map(|o| o.0).sum(), 1.0, 1e-12);
    for k in 0..2 {
        let mean = logs[k] / total;
        let variance = squares[k] / total - mean * mean;
        let moment = |power: i32| {
            let each = wear.open.iter();
            each.map(|(w, x)| w * (x[k].ln() - mean).powi(power))
                .sum::<f64>()
        };
        near(moment(1), 0.0, 0.02 * variance.sqrt());
        near(moment(2), variance, 0.03 * variance);
    }
    near(wear.new_seal(limit).by(4.0), chance / total, 2e-3);
}
