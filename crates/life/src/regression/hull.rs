//! Whether a point lies among those seen: its distance to their convex hull.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use nalgebra::{DMatrix, DVector};

/// Distance from `point` to the convex hull of `seen`, each coordinate in shares of the range seen in it; 0 inside.
/// By the nearest-point algorithm of Wolfe 1976 (Mathematical Programming 11: 128-149; from memory), which ends after finitely many steps.
#[must_use]
pub fn distance_to_hull(seen: &[Vec<f64>], point: &[f64]) -> f64 {
    let scaled = around(seen, point);
    let nearest = scaled
        .iter()
        .min_by(|a, b| a.norm_squared().total_cmp(&b.norm_squared()));
    let Some(first) = nearest else {
        return f64::INFINITY;
    };
    let mut corners = vec![(first.clone(), 1.0)];
    let mut here = first.clone();
    for _ in 0..1000 {
        let length = here.norm_squared();
        if length <= TINY {
            return 0.0;
        }
        let towards = scaled
            .iter()
            .min_by(|a, b| here.dot(a).total_cmp(&here.dot(b)));
        let Some(next) = towards.filter(|p| here.dot(p) < length - TINY) else {
            break;
        };
        corners.push((next.clone(), 0.0));
        here = nearest_of(&mut corners);
    }
    here.norm()
}

/// Squares below this are rounding.
const TINY: f64 = 1e-20;

/// The points as seen from `point`, each coordinate over its range.
fn around(seen: &[Vec<f64>], point: &[f64]) -> Vec<DVector<f64>> {
    let at = |p: &[f64], i: usize| p.get(i).copied().unwrap_or(0.0);
    let range = |i: usize| {
        let all = seen.iter().map(|p| at(p, i));
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
            (l.min(x), h.max(x))
        });
        if high > low { high - low } else { 1.0 }
    };
    let ranges: Vec<f64> = (0..point.len()).map(range).collect();
    let mut out: Vec<DVector<f64>> = seen
        .iter()
        .map(|p| {
            let off = ranges.iter().enumerate();
            DVector::from_iterator(
                point.len(),
                off.map(|(i, range)| (at(p, i) - at(point, i)) / range),
            )
        })
        .collect();
    out.sort_by(|a, b| {
        let order = a.iter().zip(b.iter()).map(|(x, y)| x.total_cmp(y));
        order.fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then)
    });
    out.dedup();
    out
}

/// Nearest point to the origin of the corners' hull; drops corners that it does not need.
fn nearest_of(corners: &mut Vec<(DVector<f64>, f64)>) -> DVector<f64> {
    for _ in 0..100 {
        let wanted = affine(corners);
        if wanted.iter().all(|w| *w > 1e-12) {
            for (corner, w) in corners.iter_mut().zip(&wanted) {
                corner.1 = *w;
            }
            break;
        }
        // As far towards the affine minimum as the weights stay above 0.
        let reach = corners
            .iter()
            .zip(&wanted)
            .filter(|(_, w)| **w <= 1e-12)
            .map(|((_, old), w)| old / (old - w))
            .filter(|r| r.is_finite())
            .fold(1.0, f64::min);
        for (corner, w) in corners.iter_mut().zip(&wanted) {
            corner.1 += reach * (w - corner.1);
        }
        let before = corners.len();
        corners.retain(|(_, w)| *w > 1e-12);
        if corners.len() == before {
            break;
        }
    }
    let size = corners.first().map_or(0, |(p, _)| p.len());
    let total: f64 = corners.iter().map(|(_, w)| w).sum();
    let sum = corners
        .iter()
        .fold(DVector::zeros(size), |sum, (p, w)| sum + p * *w);
    sum / total
}

/// Weights, adding to 1, of the point of the corners' affine span that is nearest to the origin.
fn affine(corners: &[(DVector<f64>, f64)]) -> Vec<f64> {
    let n = corners.len();
    let mut matrix = DMatrix::zeros(n + 1, n + 1);
    for (i, (a, _)) in corners.iter().enumerate() {
        for (j, (b, _)) in corners.iter().enumerate() {
            matrix[(i, j)] = a.dot(b);
        }
        matrix[(i, n)] = 1.0;
        matrix[(n, i)] = 1.0;
    }
    let mut right = DVector::zeros(n + 1);
    right[n] = 1.0;
    matrix.lu().solve(&right).map_or_else(
        || corners.iter().map(|(_, w)| *w).collect(),
        |solution| solution.iter().take(n).copied().collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::distance_to_hull;

    #[test]
    fn inside_on_the_edge_and_outside() {
        let triangle = [
            vec![0.0, 0.0],
            vec![2.0, 0.0],
            vec![0.0, 2.0],
            vec![0.4, 0.4],
        ];
        for inside in [[0.5, 0.5], [1.0, 1.0], [0.0, 1.3], [2.0, 0.0]] {
            assert!(distance_to_hull(&triangle, &inside) < 1e-9, "{inside:?}");
        }
        // (2, 2) is a box corner of what was seen, half the diagonal of the unit square away.
        let off = distance_to_hull(&triangle, &[2.0, 2.0]);
        assert!((off - 0.5f64.sqrt()).abs() < 1e-9, "{off}");
        assert!((distance_to_hull(&triangle, &[3.0, 0.0]) - 0.5).abs() < 1e-9);
        assert!(distance_to_hull(&[], &[1.0]).is_infinite());
    }

    #[test]
    fn a_cloud_holds_its_means() {
        let mut stream = sealspan_numeric::random::Stream::new(5, 0);
        let cloud: Vec<Vec<f64>> = (0..300)
            .map(|_| (0..4).map(|_| stream.normal()).collect())
            .collect();
        let mean = |take: usize| -> Vec<f64> {
            (0..4)
                .map(|i| cloud.iter().take(take).map(|p| p[i]).sum::<f64>() / take as f64)
                .collect()
        };
        for take in [1, 2, 5, 40, 300] {
            assert!(distance_to_hull(&cloud, &mean(take)) < 1e-7, "{take}");
        }
        assert!(distance_to_hull(&cloud, &[9.0, 0.0, 0.0, 0.0]) > 0.5);
    }

    /// The nearest point of a hull lies on a face of at most as many corners as there are coordinates: the least over all
    /// such faces that the foot of the perpendicular falls into.
    #[test]
    fn nearest_points_lie_on_a_face() {
        use nalgebra::{DMatrix, DVector};
        let foot = |corners: &[DVector<f64>]| -> Option<f64> {
            let (first, others) = corners.split_first()?;
            if others.is_empty() {
                return Some(first.norm());
            }
            let sides: Vec<DVector<f64>> = others.iter().map(|c| c - first).collect();
            let sides = DMatrix::from_columns(&sides);
            let square = sides.transpose() * &sides;
            let by = square.try_inverse()? * sides.transpose() * -first;
            let inside = by.iter().all(|w| *w >= 0.0) && by.sum() <= 1.0;
            inside.then(|| (first + sides * by).norm())
        };
        for seed in 0..40 {
            let mut stream = sealspan_numeric::random::Stream::new(17, seed);
            let cloud: Vec<Vec<f64>> = (0..9)
                .map(|_| (0..3).map(|i| stream.normal() * 10f64.powi(i)).collect())
                .collect();
            let point = [2.5, -10.0, 250.0];
            let range = |i: usize| {
                let all = cloud.iter().map(|p| p[i]);
                all.clone().fold(f64::NEG_INFINITY, f64::max) - all.fold(f64::INFINITY, f64::min)
            };
            let seen: Vec<DVector<f64>> = cloud
                .iter()
                .map(|p| DVector::from_fn(3, |i, _| (p[i] - point[i]) / range(i)))
                .collect();
            let mut least = f64::INFINITY;
            for mask in 1_u32..1 << seen.len() {
                if mask.count_ones() > 3 {
                    continue;
                }
                let corners: Vec<DVector<f64>> = (0..seen.len())
                    .filter(|i| mask >> i & 1 == 1)
                    .map(|i| seen[i].clone())
                    .collect();
                least = foot(&corners).map_or(least, |d| least.min(d));
            }
            let found = distance_to_hull(&cloud, &point);
            assert!((found - least).abs() < 1e-9, "{seed}: {found} {least}");
        }
    }
}
