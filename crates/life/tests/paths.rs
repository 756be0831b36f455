//! Measured paths of seals against the same written out another way: whole matrices, other parameters, other units.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use nalgebra::{DMatrix, DVector};
use sealspan_life::degradation::mixed::fit_among;
use sealspan_life::degradation::mixed_fit::{Structure, Sums, ln_likelihood};
use sealspan_life::degradation::{Limit, Scale, wear};
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::ln_gamma;

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

/// The likelihood of all values given each seal's first, from whole covariance matrices at the estimates; of values, so
/// less Σ ln y on the scale of logarithms.
#[test]
fn values_after_the_first_have_a_normal_density_given_it() {
    let mut stream = Stream::new(17, 0);
    let paths: Vec<Vec<(f64, f64)>> = (0..8)
        .map(|_| {
            let (level, rate) = (1.5 + 0.2 * stream.normal(), -0.3 + 0.05 * stream.normal());
            [0.2, 1.0, 2.1, 3.0]
                .map(|t| (t, (level + rate * t + 0.05 * stream.normal()).exp()))
                .to_vec()
        })
        .collect();
    for scale in [Scale::Plain, Scale::Log] {
        let model = fit_among(&paths, scale, &[Structure::Independent]).unwrap();
        let to = |y: f64| if scale == Scale::Log { y.ln() } else { y };
        let density = |part: &[(f64, f64)]| {
            let n = part.len();
            let z = DMatrix::from_fn(n, 2, |i, j| if j == 0 { 1.0 } else { part[i].0 });
            let among = DMatrix::from_fn(2, 2, |i, j| model.among[(i, j)]);
            let v =
                &z * among * z.transpose() + DMatrix::identity(n, n) * (model.noise * model.noise);
            let off = DVector::from_fn(n, |i, _| {
                to(part[i].1) - model.mean[0] - model.mean[1] * part[i].0
            });
            let square = (off.transpose() * v.clone().try_inverse().unwrap() * &off)[0];
            let ln: f64 = part.iter().map(|p| p.1.ln()).sum();
            let jacobian = if scale == Scale::Log { ln } else { 0.0 };
            -0.5 * (n as f64 * std::f64::consts::TAU.ln() + v.determinant().ln() + square)
                - jacobian
        };
        let want: f64 = paths.iter().map(|p| density(p) - density(&p[..1])).sum();
        let found = model.given_first;
        assert!(
            (found - want).abs() < 1e-6 * want.abs(),
            "{scale:?}: {found} {want}"
        );
    }
}

#[test]
fn new_seals_start_where_first_values_point_back_to() {
    // Invented: 30 worn in 12, so 2.5 a unit of age.
    let paths = [
        vec![(1.0, 4.0), (2.0, 6.0), (4.0, 12.0), (7.0, 19.0)],
        vec![(2.0, 4.0), (3.0, 7.0), (5.0, 11.0), (8.0, 19.0)],
    ];
    let limit = Limit {
        value: 50.0,
        rising: true,
    };
    let found = wear::fit(&paths, limit).unwrap();
    assert!((found.shape / found.rate - 2.5).abs() < 1e-6);
    assert!(
        (found.new_value - 0.5 * (1.5 - 1.0)).abs() < 1e-5,
        "{found:?}"
    );
}
