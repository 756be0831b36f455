//! Measured paths of seals against the same written out another way: whole matrices, other parameters, other units.

use nalgebra::{DMatrix, DVector};
use sealspan_life::degradation::choose::{Kind, choose};
use sealspan_life::degradation::mixed::{NoPath, fit_among};
use sealspan_life::degradation::mixed_fit::{STRUCTURES, Structure, Sums, ln_likelihood};
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

/// Seals that differ in level and rate, all measured at the same ages.
fn balanced(seals: usize, seed: u64) -> Vec<Vec<(f64, f64)>> {
    let mut stream = Stream::new(seed, 0);
    (0..seals)
        .map(|_| {
            let (level, rate) = (6.0 + 0.4 * stream.normal(), -0.9 + 0.25 * stream.normal());
            let times = [0.5, 1.0, 2.0, 3.0, 4.5];
            times
                .map(|t| (t, level + rate * t + 0.15 * stream.normal()))
                .to_vec()
        })
        .collect()
}

/// Where seals differ in level and rate without hanging together, or in one of them alone: the same errors with the
/// standard deviations themselves as parameters.
#[test]
fn errors_of_independent_spreads_are_those_with_the_spreads_as_parameters() {
    let paths = balanced(14, 23);
    let sums: Vec<Sums> = paths.iter().map(|p| Sums::of(p.iter().copied())).collect();
    for structure in [Structure::Independent, Structure::Rate, Structure::Level] {
        let model = fit_among(&paths, Scale::Plain, &[structure]).unwrap();
        let differs = [0, 1].map(|i| model.among[(i, i)] > 0.0);
        let spreads = (0..2).filter(|i| differs[*i]);
        let ln: Vec<f64> = spreads.map(|i| 0.5 * model.among[(i, i)].ln()).collect();
        let value = |x: &[f64]| {
            let mut own = x[3..].iter().map(|ln| (ln - x[2]).exp());
            let [level, rate] = differs.map(|d| if d { own.next().unwrap() } else { 0.0 });
            ln_likelihood(&sums, [x[0], x[1], x[2]], [level, 0.0, rate], true)
        };
        let mut x = vec![model.mean[0], model.mean[1], model.noise.ln()];
        x.extend(&ln);
        let steps = [0.02, 0.02, 0.02, 0.05, 0.05];
        let covariance = (-hessian(&value, &x, &steps)).try_inverse().unwrap();
        let found: Vec<f64> = model.ln_among_errors.into_iter().flatten().collect();
        assert_eq!(found.len(), ln.len(), "{structure:?}");
        for (i, found) in found.iter().enumerate() {
            let want = covariance[(i + 3, i + 3)].sqrt();
            assert!(
                (found / want - 1.0).abs() < 2e-3,
                "{structure:?} {i}: {found} {want}"
            );
        }
    }
}

/// Seals all measured alike have the mean of their own lines, whatever the spreads are, with the covariance
/// (D + σ²(ZᵀZ)⁻¹)/n: so every draw's mean, spreads and error hang together.
#[test]
fn draws_of_seals_measured_alike_hang_together() {
    let paths = balanced(9, 31);
    let z = DMatrix::from_fn(5, 2, |i, j| if j == 0 { 1.0 } else { paths[0][i].0 });
    let lines = (z.transpose() * &z).try_inverse().unwrap();
    let mean = paths.iter().fold(DVector::zeros(2), |sum, p| {
        let y = DVector::from_fn(5, |i, _| p[i].1);
        sum + &lines * z.transpose() * y / 9.0
    });
    for structure in [Structure::Independent, Structure::Rate, Structure::Level] {
        let model = fit_among(&paths, Scale::Plain, &[structure]).unwrap();
        assert_eq!(model.draws.len(), 200, "{structure:?}");
        for draw in &model.draws {
            // Differences that have no maximum above 0, or were not asked for, are let in.
            assert!(draw.among[(0, 0)] > 0.0 && draw.among[(1, 1)] > 0.0);
            for i in 0..2 {
                let off = draw.mean[i] / mean[i] - 1.0;
                assert!(off.abs() < 1e-8, "{structure:?} {i}: {off}");
                for j in 0..2 {
                    let own = draw.among[(i, j)] + draw.noise * draw.noise * lines[(i, j)];
                    let off = draw.mean_covariance[(i, j)] - own / 9.0;
                    assert!(
                        off.abs() < 1e-8 * draw.mean_covariance[(i, i)].abs().max(own),
                        "{structure:?} {i} {j}: {off}"
                    );
                }
            }
        }
    }
}

/// Ages in hours and values in metres tell the same as years and millionths of a metre.
#[test]
fn paths_in_far_other_units_are_the_same_paths() {
    let paths = balanced(10, 41);
    let (age, value) = (8766.0, 1e-6);
    let other: Vec<Vec<(f64, f64)>> = paths
        .iter()
        .map(|p| p.iter().map(|(t, y)| (age * t, value * y)).collect())
        .collect();
    let [a, b] = [&paths, &other].map(|p| fit_among(p, Scale::Plain, &STRUCTURES).unwrap());
    assert_eq!(a.structure, b.structure);
    assert!((b.noise / (value * a.noise) - 1.0).abs() < 1e-5);
    let units = [value, value / age];
    for (i, own) in units.iter().enumerate() {
        assert!((b.mean[i] / (own * a.mean[i]) - 1.0).abs() < 1e-5);
        for (j, other) in units.iter().enumerate() {
            let size = (a.among[(i, i)] * a.among[(j, j)]).sqrt();
            let off = b.among[(i, j)] / (own * other) - a.among[(i, j)];
            assert!(off.abs() < 1e-4 * size, "{i} {j}: {off}");
        }
    }
}

/// Seals measured twice each show the error beside one common line: that of least squares, with its residual variance
/// over all measurements less two. Those on lines of their own to the last digit show none.
#[test]
fn seals_measured_twice_and_seals_on_lines() {
    let mut stream = Stream::new(13, 0);
    let twice: Vec<Vec<(f64, f64)>> = (0..7)
        .map(|i| {
            let from = 0.2 * f64::from(i);
            let mut point = |t: f64| (t, 5.0 - 0.7 * t + 0.2 * stream.normal());
            vec![point(from), point(from + 2.0)]
        })
        .collect();
    let model = fit_among(&twice, Scale::Plain, &[Structure::Alike]).unwrap();
    let all: Vec<(f64, f64)> = twice.concat();
    let n = all.len() as f64;
    let mean = |f: &dyn Fn(&(f64, f64)) -> f64| all.iter().map(f).sum::<f64>() / n;
    let (t, y) = (mean(&|p| p.0), mean(&|p| p.1));
    let rate = mean(&|p| (p.0 - t) * (p.1 - y)) / mean(&|p| (p.0 - t).powi(2));
    let left = n * mean(&|p| (p.1 - y - rate * (p.0 - t)).powi(2));
    assert!((model.mean[1] / rate - 1.0).abs() < 1e-6);
    assert!((model.mean[0] - (y - rate * t)).abs() < 1e-6);
    assert!((model.noise / (left / (n - 2.0)).sqrt() - 1.0).abs() < 1e-5);
    // Values of few digits, so that the sums are exact.
    let lines: Vec<Vec<(f64, f64)>> = [1.0, 2.0, 3.0, 5.0]
        .map(|rate| [0.0, 1.0, 2.0, 4.0].map(|t| (t, 1.0 + rate * t)).to_vec())
        .to_vec();
    assert_eq!(
        fit_among(&lines, Scale::Plain, &STRUCTURES),
        Err(NoPath::NoError)
    );
}

/// Akaike's criterion of every model: twice its parameters less twice its log-likelihood; a limit without a logarithm
/// refuses the model of logarithms, and that one alone.
#[test]
fn models_of_paths_are_weighed_by_akaikes_criterion() {
    let paths: Vec<Vec<(f64, f64)>> = [0.8, 1.0, 1.3, 1.1_f64]
        .map(|rate| {
            let worn =
                [1.0, 1.9, 3.2, 4.0, 5.3_f64].map(|t| (t, 2.0 + rate * t + 0.1 * (5.0 * t).sin()));
            worn.to_vec()
        })
        .to_vec();
    let limit = Limit {
        value: 20.0,
        rising: true,
    };
    let kinds = [Kind::Linear, Kind::LogLinear, Kind::Gamma];
    let found = choose(&paths, limit, &kinds).unwrap();
    let mut least = (f64::INFINITY, None);
    for c in &found.candidates {
        let own = fit_parameters(&paths, c.kind);
        assert_eq!(c.parameters, own, "{c:?}");
        let aic = 2.0 * (own as f64 - c.log_likelihood.unwrap());
        assert!((c.aic.unwrap() - aic).abs() < 1e-9, "{c:?}");
        if aic < least.0 {
            least = (aic, Some(c.kind));
        }
    }
    assert_eq!(Some(found.kind), least.1);
    let falling = Limit {
        value: -1.0,
        rising: false,
    };
    let down: Vec<Vec<(f64, f64)>> = paths
        .iter()
        .map(|p| p.iter().map(|(t, y)| (*t, 12.0 - y)).collect())
        .collect();
    let found = choose(&down, falling, &kinds[..2]).unwrap();
    assert_eq!(found.kind, Kind::Linear);
    assert!(found.candidates[0].aic.is_some() && found.candidates[1].aic.is_none());
}

/// Parameters of a kind's model: those of the covariance of level and rate, two of the mean line and the error, or two
/// of wear.
fn fit_parameters(paths: &[Vec<(f64, f64)>], kind: Kind) -> usize {
    let scale = match kind {
        Kind::Linear => Scale::Plain,
        Kind::LogLinear => Scale::Log,
        Kind::Gamma => return 2,
    };
    3 + match fit_among(paths, scale, &STRUCTURES).unwrap().structure {
        Structure::Correlated => 3,
        Structure::Independent => 2,
        Structure::Rate | Structure::Level => 1,
        Structure::Alike => 0,
    }
}

/// What wear leaves open is as wide in every unit, however large or small the density is in it.
#[test]
fn what_wear_leaves_open_does_not_hang_on_the_unit() {
    let mut stream = Stream::new(3, 0);
    let paths: Vec<Vec<(f64, f64)>> = (0..6)
        .map(|_| {
            let mut y = 0.0;
            let ages = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];
            let worn = ages.map(|t| {
                y += 0.3 * (stream.exponential() + stream.exponential());
                (t, y)
            });
            worn.to_vec()
        })
        .collect();
    let of = |unit: f64| {
        let paths: Vec<Vec<(f64, f64)>> = paths
            .iter()
            .map(|p| p.iter().map(|(t, y)| (*t, unit * y)).collect())
            .collect();
        let limit = Limit {
            value: 20.0 * unit,
            rising: true,
        };
        wear::fit(&paths, limit).unwrap()
    };
    let plain = of(1.0);
    assert!(plain.open.len() > 10);
    for unit in [1e-9, 1e9] {
        let other = of(unit);
        assert_eq!(other.open.len(), plain.open.len(), "{unit}");
        for ((a, [shape, rate]), (b, [other_shape, other_rate])) in
            plain.open.iter().zip(&other.open)
        {
            assert!((a - b).abs() < 1e-4, "{unit}: {a} {b}");
            assert!((other_shape / shape - 1.0).abs() < 1e-4, "{unit}");
            assert!((other_rate * unit / rate - 1.0).abs() < 1e-4, "{unit}");
        }
    }
}
