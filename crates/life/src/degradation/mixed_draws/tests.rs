//! The draws against the posterior by dense matrices and by quadrature.
#![allow(clippy::unwrap_used)]

use super::*;
use sealspan_numeric::special::beta_share;

/// Invented seals that differ in level and rate, measured three to six times at uneven ages.
fn paths() -> Vec<Vec<(f64, f64)>> {
    let mut stream = Stream::new(7, 0);
    (0..12)
        .map(|i| {
            let (level, rate) = (2.0 + 0.3 * stream.normal(), -1.0 + 0.4 * stream.normal());
            let looks = 3 + i % 4;
            let mut point = |j: usize| {
                let t = (j as f64 + 0.3 + 0.05 * i as f64) / 6.0;
                (t, level + rate * t + 0.1 * stream.normal())
            };
            (0..looks).map(&mut point).collect()
        })
        .collect()
}

/// ln |V| + ln |Σ XᵀV⁻¹X|, the residual square about the line of least squares, that line and its covariance, each from
/// whole matrices with V = `noise`² I + Z D Zᵀ.
fn dense(
    paths: &[Vec<(f64, f64)>],
    among: &Matrix2<f64>,
    noise: f64,
) -> (f64, f64, Vector2<f64>, Matrix2<f64>) {
    let mut ln_det = 0.0;
    let (mut information, mut pull, mut square) = (Matrix2::zeros(), Vector2::zeros(), 0.0);
    for path in paths {
        let n = path.len();
        let z = DMatrix::from_fn(n, 2, |i, j| if j == 0 { 1.0 } else { path[i].0 });
        let d = DMatrix::from_fn(2, 2, |i, j| among[(i, j)]);
        let v = &z * d * z.transpose() + DMatrix::identity(n, n) * (noise * noise);
        let y = DVector::from_fn(n, |i, _| path[i].1);
        ln_det += v.determinant().ln();
        let v = v.try_inverse().unwrap();
        let (a, b) = (z.transpose() * &v * &z, z.transpose() * &v * &y);
        information += Matrix2::from_fn(|i, j| a[(i, j)]);
        pull += Vector2::new(b[0], b[1]);
        square += (y.transpose() * &v * &y)[0];
    }
    let covariance = information.try_inverse().unwrap();
    let line = covariance * pull;
    let left = square - line.dot(&pull);
    (
        ln_det + information.determinant().ln(),
        left,
        line,
        covariance,
    )
}

/// Variances of level and rate of a line through the mean seal's measurements.
fn floor(paths: &[Vec<(f64, f64)>]) -> [f64; 2] {
    let mean = |power: i32| {
        let sum = |p: &Vec<(f64, f64)>| p.iter().map(|(t, _)| t.powi(power)).sum::<f64>();
        paths.iter().map(sum).sum::<f64>() / paths.len() as f64
    };
    let line = Matrix2::new(mean(0), mean(1), mean(1), mean(2));
    let variance = line.try_inverse().unwrap();
    [variance[(0, 0)], variance[(1, 1)]]
}

fn sums(paths: &[Vec<(f64, f64)>]) -> Vec<Sums> {
    paths.iter().map(|p| Sums::of(p.iter().copied())).collect()
}

/// The farthest that shares lie from those of a flat law.
fn farthest(mut shares: Vec<f64>) -> f64 {
    shares.sort_by(f64::total_cmp);
    let n = shares.len() as f64;
    let off = shares.iter().enumerate().map(|(i, u)| {
        let (below, above) = (i as f64 / n, (i as f64 + 1.0) / n);
        (u - below).max(above - u)
    });
    off.fold(0.0, f64::max)
}

/// Each weight is the posterior over the proposal, each line that of least squares, and the proposals have a t law.
#[test]
fn weights_are_posterior_over_proposal() {
    let paths = paths();
    let seals = sums(&paths);
    let [low_level, low_rate] = floor(&paths);
    for structure in [Structure::Independent, Structure::Correlated] {
        let problem = Problem {
            seals: &seals,
            structure,
            restricted: true,
        };
        let maximum = problem.solve([2.0, -1.0, -2.0]).unwrap();
        let free = structure.parameters() - 2;
        let centre = DVector::from_fn(free, |i, _| maximum.x[i + 2]);
        let covariance = DMatrix::from_fn(free, free, |i, j| maximum.covariance[(i + 2, j + 2)]);
        let precision = covariance.try_inverse().unwrap();
        let found = weighted(&problem, &maximum);
        assert_eq!(found.len(), DRAWS);
        assert!((found.iter().map(|d| d.weight).sum::<f64>() - 1.0).abs() < 1e-12);
        // What the weight has beside posterior over proposal, for each sign that the columns of L may have had.
        let (mut constants, mut distances) = (vec![], vec![]);
        for draw in &found {
            let (whole, left, line, variance) = dense(&paths, &draw.among, draw.noise);
            assert!((draw.mean - line).norm() < 1e-9 * line.norm());
            assert!((draw.mean_covariance - variance).norm() < 1e-9 * variance.norm());
            let own = draw.among / (draw.noise * draw.noise);
            let l1 = own[(0, 0)].sqrt();
            let l2 = own[(0, 1)] / l1;
            let l3 = (own[(1, 1)] - l2 * l2).max(0.0).sqrt();
            let prior = -0.5 * ((l1 * l1 + low_level).ln() + (l3 * l3 + low_rate).ln());
            let posterior = -0.5 * (whole + left) + prior + 2.0 * draw.noise.ln();
            let off = [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)].map(|(a, b)| {
                let root = match structure {
                    Structure::Correlated => vec![a * l1, a * l2, b * l3],
                    _ => vec![a * l1, b * l3],
                };
                let x = DVector::from_iterator(free, [draw.noise.ln()].into_iter().chain(root));
                let off = x - &centre;
                (off.transpose() * &precision * off)[0]
            });
            distances.push(off);
            constants.push(off.map(|distance| {
                let t = -0.5 * (4.0 + free as f64) * (1.0 + distance / 4.0).ln();
                draw.weight.ln() - (posterior - t)
            }));
        }
        // As drawn, most lie on the maximum's side of 0, which is the first.
        let mut firsts: Vec<f64> = constants.iter().map(|c| c[0]).collect();
        firsts.sort_by(f64::total_cmp);
        let constant = firsts[DRAWS / 2];
        let mut shares = vec![];
        for (of_signs, off) in constants.iter().zip(&distances) {
            let near = of_signs.iter().zip(off);
            let near =
                near.min_by(|a, b| (a.0 - constant).abs().total_cmp(&(b.0 - constant).abs()));
            let (found, distance) = near.unwrap();
            assert!(
                (found - constant).abs() < 1e-6,
                "{structure:?}: {of_signs:?} {constant}"
            );
            shares.push(beta_share(
                0.5 * free as f64,
                2.0,
                distance / (distance + 4.0),
            ));
        }
        // Kolmogorov's limit at 1 %, 1.63/√n (from memory).
        let off = farthest(shares);
        assert!(off < 1.63 / (DRAWS as f64).sqrt(), "{structure:?}: {off}");
    }
}

/// Shares and means of the steps against the posterior on a grid of L, σ integrated in closed form.
#[test]
fn steps_reach_the_posterior() {
    let paths = paths();
    let seals = sums(&paths);
    let problem = Problem {
        seals: &seals,
        structure: Structure::Independent,
        restricted: true,
    };
    let n: f64 = seals.iter().map(|s| s.n).sum();
    let [low_level, low_rate] = floor(&paths);
    // Given L, σ² has an inverse gamma law: σ^(4−n) exp(−left/2σ²) on ln σ.
    let mut grid = vec![];
    for i in 0..40 {
        for j in 0..40 {
            let (l1, l3) = (0.25 * (f64::from(i) + 0.5), 0.4 * (f64::from(j) + 0.5));
            let among = Matrix2::new(l1 * l1, 0.0, 0.0, l3 * l3);
            let (whole, left, _, _) = dense(&paths, &among, 1.0);
            let prior = -0.5 * ((l1 * l1 + low_level).ln() + (l3 * l3 + low_rate).ln());
            let value = -0.5 * whole - 0.5 * (n - 4.0) * left.ln() + prior;
            grid.push((value, l1, l3, left / (n - 6.0)));
        }
    }
    let top = grid.iter().map(|g| g.0).fold(f64::NEG_INFINITY, f64::max);
    grid.iter_mut().for_each(|g| g.0 = (g.0 - top).exp());
    let total: f64 = grid.iter().map(|g| g.0).sum();
    let found = stepped(&problem, &[2.0, -1.0, -2.0, 2.0, 3.0]);
    assert_eq!(found.len(), DRAWS);
    assert!((found.iter().map(|d| d.weight).sum::<f64>() - 1.0).abs() < 1e-12);
    for (i, cuts) in [[2.0, 2.8, 4.0], [3.0, 4.2, 6.0]].into_iter().enumerate() {
        let size = |d: &Draw| d.among[(i, i)].sqrt() / d.noise;
        for cut in cuts {
            let below = grid.iter().filter(|g| [g.1, g.2][i] < cut);
            let want = below.map(|g| g.0).sum::<f64>() / total;
            let got = found.iter().filter(|d| size(d) < cut).count() as f64 / DRAWS as f64;
            // Three standard errors of draws worth half as many independent ones.
            let error = 3.0 * (want * (1.0 - want) / (0.5 * DRAWS as f64)).sqrt();
            assert!(
                (got - want).abs() < error.max(0.02),
                "{i} {cut}: {got} {want}"
            );
        }
    }
    let want = grid.iter().map(|g| g.0 * g.3).sum::<f64>() / total;
    let got = found.iter().map(|d| d.noise * d.noise).sum::<f64>() / DRAWS as f64;
    assert!((got / want - 1.0).abs() < 0.08, "{got} {want}");
}

/// Draws by importance are kept where they are worth 60 equal ones; fewer give way to steps, which weigh alike.
#[test]
fn steps_take_the_place_of_draws_worth_few() {
    let paths = paths();
    let mut kept = vec![];
    let cases =
        [4, 5, 6, 12].map(|n| [Structure::Independent, Structure::Correlated].map(|s| (n, s)));
    for (seals, structure) in cases.into_iter().flatten() {
        let seals = sums(&paths[..seals]);
        let problem = Problem {
            seals: &seals,
            structure,
            restricted: true,
        };
        // Few seals may leave the richer structure without a maximum.
        let Ok(maximum) = problem.solve([2.0, -1.0, -2.0]) else {
            continue;
        };
        let by_importance = weighted(&problem, &maximum);
        let worth = by_importance.iter().map(|d| d.weight.powi(2)).sum::<f64>();
        kept.push(1.0 / worth >= 60.0);
        let found = draws(&problem, &maximum);
        assert_eq!(found.len(), DRAWS);
        if 1.0 / worth >= 60.0 {
            assert_eq!(found, by_importance);
        } else {
            assert!(found.iter().all(|d| (d.weight * 200.0 - 1.0).abs() < 1e-12));
        }
    }
    assert!(kept.contains(&true) && kept.contains(&false), "{kept:?}");
}

/// Where the maximum has no covariance to draw from, steps tell what it leaves open.
#[test]
fn a_maximum_without_covariance_has_draws_too() {
    let seals = sums(&paths());
    let problem = Problem {
        seals: &seals,
        structure: Structure::Independent,
        restricted: true,
    };
    let mut maximum = problem.solve([2.0, -1.0, -2.0]).unwrap();
    maximum.covariance.fill(0.0);
    assert!(weighted(&problem, &maximum).is_empty());
    let found = draws(&problem, &maximum);
    assert_eq!(found.len(), DRAWS);
    assert!(found.windows(2).any(|w| w[0].noise != w[1].noise));
}
