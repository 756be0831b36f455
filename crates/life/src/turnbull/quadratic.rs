//! The maximum of a concave quadratic over masses at or above zero.

#![expect(
    clippy::indexing_slicing,
    reason = "positions among the unknowns, which all vectors here have"
)]

use nalgebra::{DMatrix, DVector};

/// A pivot below this share of its diagonal element counts as none.
const SINGULAR: f64 = 1e-13;

/// The x ≥ 0 near which slopeᵀ(x − start) − ½ (x − start)ᵀ curvature (x − start) is largest, by freeing
/// and fixing masses at zero (Lawson & Hanson 1974; from memory), from the feasible `start`. Never worse
/// than `start`; exact up to rounding when the curvature is not singular.
pub(super) fn best(
    curvature: &DMatrix<f64>,
    slope: &DVector<f64>,
    start: &DVector<f64>,
) -> DVector<f64> {
    let right = slope + curvature * start;
    let value = |x: &DVector<f64>| right.dot(x) - 0.5 * x.dot(&(curvature * x));
    let size = start.len();
    let small = 1e-12 * right.amax();
    let mut free: Vec<usize> = (0..size).collect();
    let mut x = start.clone();
    for _ in 0..3 * size + 10 {
        let Some(z) = stationary(curvature, &right, &x, &free) else {
            break;
        };
        if z.iter().all(|v| *v >= 0.0) {
            x = z;
            let left = &right - curvature * &x;
            let fixed = (0..size).filter(|i| free.binary_search(i).is_err());
            match fixed.max_by(|a, b| left[*a].total_cmp(&left[*b])) {
                Some(i) if left[i] > small => free.insert(free.partition_point(|f| *f < i), i),
                _ => break,
            }
            continue;
        }
        // As far as the first mass to reach zero, or all the way with every negative mass at zero.
        let reach = free
            .iter()
            .filter(|i| z[**i] < 0.0)
            .map(|i| x[*i] / (x[*i] - z[*i]))
            .fold(1.0, f64::min);
        let short = (&x + (&z - &x) * reach).map(|v| v.max(0.0));
        let cut = z.map(|v| v.max(0.0));
        if value(&cut) > value(&short) {
            free.retain(|i| z[*i] > 0.0);
            x = cut;
        } else {
            let first = |i: usize| z[i] < 0.0 && x[i] / (x[i] - z[i]) <= reach;
            let leaving: Vec<usize> = free.iter().copied().filter(|i| first(*i)).collect();
            x = short;
            for i in &leaving {
                x[*i] = 0.0;
            }
            free.retain(|i| leaving.binary_search(i).is_err());
        }
    }
    x
}

/// Where the quadratic is stationary in the free masses, the others at zero; near `x` where it has a
/// whole line of such points.
fn stationary(
    curvature: &DMatrix<f64>,
    right: &DVector<f64>,
    x: &DVector<f64>,
    free: &[usize],
) -> Option<DVector<f64>> {
    let n = free.len();
    let scale = DVector::from_iterator(n, free.iter().map(|i| curvature[(*i, *i)].sqrt()));
    let scaled = DMatrix::from_fn(n, n, |i, j| {
        curvature[(free[i], free[j])] / (scale[i] * scale[j])
    });
    let mut hold = 0.0;
    while hold < 1.0 {
        let mut held = scaled.clone();
        for i in 0..n {
            held[(i, i)] += hold;
        }
        let found = held
            .cholesky()
            .filter(|c| c.l_dirty().diagonal().iter().all(|d| d * d > SINGULAR));
        if let Some(factors) = found {
            let target = DVector::from_fn(n, |i, _| {
                right[free[i]] / scale[i] + hold * scale[i] * x[free[i]]
            });
            let solution = factors.solve(&target);
            let mut z = DVector::zeros(x.len());
            for (k, i) in free.iter().enumerate() {
                z[*i] = solution[k] / scale[k];
            }
            return z.iter().all(|v| v.is_finite()).then_some(z);
        }
        hold = if hold == 0.0 { 1e-10 } else { 100.0 * hold };
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use sealspan_numeric::random::Stream;

    /// The best of the quadratic over all faces on which some of three masses are 0.
    fn by_faces(curvature: &DMatrix<f64>, right: &DVector<f64>) -> (f64, DVector<f64>) {
        let value = |x: &DVector<f64>| right.dot(x) - 0.5 * x.dot(&(curvature * x));
        let mut top = (0.0, DVector::zeros(3));
        for face in 1..8 {
            let free: Vec<usize> = (0..3).filter(|i| face >> i & 1 == 1).collect();
            let own =
                DMatrix::from_fn(free.len(), free.len(), |i, j| curvature[(free[i], free[j])]);
            let target = DVector::from_fn(free.len(), |i, _| right[free[i]]);
            let mut x = DVector::zeros(3);
            for (k, z) in own
                .lu()
                .solve(&target)
                .iter()
                .flat_map(|z| z.iter().enumerate())
            {
                x[free[k]] = *z;
            }
            if x.iter().all(|v| *v >= 0.0) && value(&x) > top.0 {
                top = (value(&x), x);
            }
        }
        top
    }

    #[test]
    fn the_best_is_that_of_all_faces() {
        let mut stream = Stream::new(4, 0);
        let mut on_faces = [0; 4];
        for round in 0..300 {
            let root = DMatrix::from_fn(4, 3, |_, _| stream.normal());
            let curvature = root.transpose() * root;
            let start = DVector::from_fn(3, |i, _| {
                if i == round % 4 {
                    0.0
                } else {
                    stream.uniform()
                }
            });
            let slope = DVector::from_fn(3, |_, _| 2.0 * stream.normal());
            let right = &slope + &curvature * &start;
            let (_, want) = by_faces(&curvature, &right);
            let got = best(&curvature, &slope, &start);
            assert!((&got - &want).amax() < 1e-8, "{round} {got} {want}");
            on_faces[want.iter().filter(|v| **v > 0.0).count()] += 1;
        }
        assert!(on_faces.iter().skip(1).all(|n| *n > 20), "{on_faces:?}");
    }

    /// Masses that trade without loss, all seen at one look: of many maxima the start itself is the nearest.
    #[test]
    fn a_start_that_is_a_maximum_is_kept() {
        let mut stream = Stream::new(5, 0);
        for round in 0..60 {
            let seen = DVector::from_fn(3, |_, _| 0.2 + 3.0 * stream.uniform());
            let mut curvature = &seen * seen.transpose();
            // As rounding may leave it: next to no curvature across is none.
            for i in 0..3 {
                curvature[(i, i)] *= 1.0 + 2e-15 * stream.uniform();
            }
            let start = DVector::from_column_slice(&[0.2, 0.5, 0.3]);
            let kept = best(&curvature, &DVector::zeros(3), &start);
            assert!((&kept - &start).amax() < 1e-3, "{round} {seen} {kept}");
        }
    }

    /// Of ten masses: at the best no slope is left on those above zero, and none upwards on those at zero.
    #[test]
    fn many_masses_meet_the_conditions_of_the_maximum() {
        let mut stream = Stream::new(6, 0);
        for round in 0..200 {
            let root = DMatrix::from_fn(12, 10, |_, _| stream.normal() + 0.7);
            let curvature = root.transpose() * root;
            let start = DVector::from_fn(10, |i, _| {
                if (i + round) % 3 == 0 {
                    0.0
                } else {
                    stream.uniform()
                }
            });
            let slope = DVector::from_fn(10, |_, _| 6.0 * stream.normal());
            let found = best(&curvature, &slope, &start);
            let left = &slope - &curvature * (&found - &start);
            for (x, left) in found.iter().zip(left.iter()) {
                let off = if *x > 0.0 { left.abs() } else { *left };
                assert!(*x >= 0.0 && off < 1e-7, "{round}: {x} {left}");
            }
        }
    }
}
