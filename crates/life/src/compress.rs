//! Compression of many weighted ages into few that give the same sums.
//!
//! A log-likelihood term is a smooth function of ln t, so within a narrow bin of ln t a Gauss rule for
//! the bin's own weights (four nodes, exact for polynomials of degree 7) gives the same sum to the last
//! digits: with bins of 1/64 the remainder is below 1e-15 relative for shapes up to 10 (Gautschi 2004,
//! "Orthogonal Polynomials", discretised Stieltjes procedure and Golub–Welsch). One million ages become
//! a few thousand, and every fit, bound and simulation after that costs as little as on a small sample.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use crate::law::Age;
use crate::terms::Point;
use nalgebra::{Matrix4, SymmetricEigen};
use rayon::prelude::*;

/// Points up to which nothing is compressed.
const FEW: usize = 20_000;
/// Bins per unit of ln t.
const FINENESS: f64 = 64.0;
/// Nodes a bin.
const NODES: usize = 4;
/// More bins than this and the ages are too spread out for compression to pay.
const MOST_BINS: usize = 1 << 17;

/// Weighted ages with the same sums Σ w g(ln t) for smooth g; as given when they are few.
#[must_use]
pub(crate) fn compress(points: Vec<Point>) -> Vec<Point> {
    compress_to(points, FEW, FINENESS)
}

/// The same for more points than `few`, with so many bins a unit of ln t: wider bins where less is asked. As given
/// where nothing is gained.
pub(crate) fn compress_to(points: Vec<Point>, few: usize, fineness: f64) -> Vec<Point> {
    if points.len() <= few {
        return points;
    }
    let (low, high) = points
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| {
            (low.min(p.age.ln), high.max(p.age.ln))
        });
    let bins = ((high - low) * fineness) as usize + 1;
    if bins > MOST_BINS.min(points.len()) {
        return points;
    }
    let bin = |p: &Point| (((p.age.ln - low) * fineness) as usize).min(bins - 1);
    let (order, ends) = by_bin(&points, bins, bin);
    let starts = std::iter::once(0).chain(ends.iter().copied());
    let slices: Vec<&[(f64, f64)]> = starts
        .zip(&ends)
        .filter_map(|(start, &end)| order.get(start..end))
        .collect();
    let parts: Vec<Vec<Point>> = slices
        .par_iter()
        .enumerate()
        .map(|(i, slice)| gauss(slice, low + (i as f64 + 0.5) / fineness, fineness))
        .collect();
    parts.into_iter().flatten().collect()
}

/// (ln t, weight) ordered by bin, and where each bin ends.
fn by_bin(
    points: &[Point],
    bins: usize,
    bin: impl Fn(&Point) -> usize,
) -> (Vec<(f64, f64)>, Vec<usize>) {
    let mut next = vec![0usize; bins + 1];
    for p in points {
        if let Some(n) = next.get_mut(bin(p) + 1) {
            *n += 1;
        }
    }
    let mut sum = 0;
    for n in &mut next {
        sum += *n;
        *n = sum;
    }
    let mut order = vec![(0.0, 0.0); points.len()];
    for p in points {
        if let Some(slot) = next.get_mut(bin(p)) {
            if let Some(place) = order.get_mut(*slot) {
                *place = (p.age.ln, p.weight);
            }
            *slot += 1;
        }
    }
    next.pop();
    (order, next)
}

/// Gauss rule of a bin's weights about its centre; the points themselves when they are few.
fn gauss(slice: &[(f64, f64)], centre: f64, fineness: f64) -> Vec<Point> {
    if slice.len() <= NODES {
        return slice
            .iter()
            .map(|(ln, weight)| node(*ln, *weight))
            .collect();
    }
    // Three-term recurrence coefficients of the discrete weights, on x = (ln t − centre) · 2 · fineness.
    let scale = 2.0 * fineness;
    let total: f64 = slice.iter().map(|(_, w)| w).sum();
    let (mut alpha, mut beta) = ([0.0; NODES], [0.0; NODES]);
    let mut norm_before = 1.0;
    let mut order = NODES;
    for k in 0..NODES {
        let (mut norm, mut first) = (0.0, 0.0);
        for &(ln, w) in slice {
            let x = (ln - centre) * scale;
            let p = monic(x, k, &alpha, &beta);
            norm += w * p * p;
            first += w * x * p * p;
        }
        if k > 0 {
            let ratio = norm / norm_before;
            if ratio < 1e-13 {
                order = k;
                break;
            }
            beta[k] = ratio;
        }
        alpha[k] = first / norm;
        norm_before = norm;
    }
    let mut jacobi = Matrix4::<f64>::zeros();
    for k in 0..order {
        jacobi[(k, k)] = alpha[k];
        if k > 0 {
            jacobi[(k, k - 1)] = beta[k].sqrt();
            jacobi[(k - 1, k)] = beta[k].sqrt();
        }
    }
    let eigen = SymmetricEigen::new(jacobi);
    (0..NODES)
        .map(|i| {
            (
                eigen.eigenvalues[i],
                eigen.eigenvectors[(0, i)].powi(2) * total,
            )
        })
        .filter(|(_, w)| *w > 0.0)
        .map(|(x, w)| node(centre + x / scale, w))
        .collect()
}

/// Value at `x` of the monic orthogonal polynomial of degree `k`.
fn monic(x: f64, k: usize, alpha: &[f64; NODES], beta: &[f64; NODES]) -> f64 {
    let (mut before, mut here) = (0.0, 1.0);
    for (a, b) in alpha.iter().zip(beta).take(k) {
        let next = (x - a) * here - b * before;
        before = here;
        here = next;
    }
    here
}

fn node(ln: f64, weight: f64) -> Point {
    Point {
        age: Age::from_ln(ln),
        weight,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sealspan_numeric::random::Stream;

    #[test]
    fn keeps_every_smooth_sum() {
        let mut stream = Stream::new(3, 0);
        let points: Vec<Point> = (0..60_000)
            .map(|_| Point {
                age: Age::new(1000.0 * stream.exponential().powf(0.55)),
                weight: 1.0,
            })
            .collect();
        let few = compress(points.clone());
        assert!(few.len() < 6_000, "{}", few.len());
        for g in [
            |x: f64| (2.3 * (x - 6.9)).exp(),
            |x: f64| (6.0 * (x - 7.0)).exp(),
            |x: f64| x * x,
        ] {
            let sum = |points: &[Point]| points.iter().map(|p| p.weight * g(p.age.ln)).sum::<f64>();
            let (full, short) = (sum(&points), sum(&few));
            assert!((short / full - 1.0).abs() < 2e-13, "{full} {short}");
        }
    }

    #[test]
    fn a_bin_of_two_distinct_ages_stays_exact() {
        let points: Vec<Point> = (0..30_000)
            .map(|i| Point {
                age: Age::new(if i % 3 == 0 { 100.0 } else { 100.5 }),
                weight: 1.0,
            })
            .collect();
        let few = compress(points);
        assert!((few.iter().map(|p| p.weight).sum::<f64>() - 30_000.0).abs() < 1e-8);
        let square: f64 = few.iter().map(|p| p.weight * p.age.t * p.age.t).sum();
        let want = 10_000.0 * 100.0f64.powi(2) + 20_000.0 * 100.5f64.powi(2);
        assert!((square / want - 1.0).abs() < 1e-13);
    }

    /// Ages of thousandths, of units and of thousands: the logarithm's sign has no part in it.
    #[test]
    fn sums_are_kept_in_any_unit() {
        for unit in [1e-6, 1e-3, 1.0, 1e3] {
            let mut stream = Stream::new(5, 0);
            let points: Vec<Point> = (0..30_000)
                .map(|_| Point {
                    age: Age::new(unit * stream.exponential().powf(0.55)),
                    weight: 1.0,
                })
                .collect();
            let few = compress(points.clone());
            assert!(few.len() < 6_000, "{}", few.len());
            for shape in [0.7, 2.3, 6.0] {
                let sum = |points: &[Point]| {
                    let one = |p: &Point| p.weight * (p.age.t / unit).powf(shape);
                    points.iter().map(one).sum::<f64>()
                };
                let off = sum(&few) / sum(&points) - 1.0;
                assert!(off.abs() < 2e-13, "{unit} {shape}: {off}");
            }
        }
    }
}
