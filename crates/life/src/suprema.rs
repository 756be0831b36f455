//! How far a Brownian bridge, plain or standardised, strays over a stretch of its time: the laws of the
//! suprema that simultaneous bands of a survival curve rest on. Computed, not taken from printed tables.
//!
//! ```
//! use sealspan_life::suprema::{bridge_critical, bridge_within};
//! // Over all of 0 to 1 it is Kolmogorov's law: 1 − 2 Σ (−1)^(k−1) e^(−2k²x²), 1.3581 at 95 % (any table).
//! assert!((bridge_critical(0.0, 1.0, 0.95).unwrap() - 1.3581).abs() < 1e-4);
//! let x = 1.2_f64;
//! let tail: f64 = (1..9).map(|k| 2.0 * (-1.0_f64).powi(k - 1) * (-2.0 * f64::from(k * k) * x * x).exp()).sum();
//! assert!((bridge_within(0.0, 1.0, x) - (1.0 - tail)).abs() < 1e-8);
//! ```

use nalgebra::Complex;
use sealspan_numeric::quadrature::LEGENDRE;
use sealspan_numeric::roots::{bracket_from, bracketed};
use sealspan_numeric::special::normal_quantile;
use std::f64::consts::{PI, SQRT_2};

/// Points of the contour of the Laplace inversion; about 0.6 digits each, at most what doubles hold.
const CONTOUR: u32 = 24;
/// Exponent from which the points that follow on the contour add nothing.
const NEGLIGIBLE: f64 = -40.0;
/// Standard deviations beyond which a normal law is nothing to double precision.
const FAR: f64 = 10.0;
/// A strip this narrow, over √time, holds a Brownian motion with a chance below e^(−700).
const NARROW: f64 = 0.04;
/// A standardised bridge strays so far with no chance that doubles can hold.
const SURE: f64 = 40.0;
/// Below this time the standardised bridge has no room to turn back.
const SHORT: f64 = 1e-8;
/// Pieces of 20 points each that an integral is cut into.
const PIECES: u32 = 6;
/// Tolerance of a critical value, in standard deviations.
const TOLERANCE: f64 = 1e-10;

/// P(|B(u)| ≤ k for all u in \[a, b\]) of the Brownian bridge B, for 0 ≤ a ≤ b ≤ 1 (0 for k ≤ 0).
///
/// Given B(a) = x, the chance of ending at B(b) = y without leaving (−k, k) is a sum over mirror images
/// of x (the reflection principle); over y it is integrated in closed form, over x by quadrature.
///
/// ```
/// use sealspan_life::suprema::bridge_within;
/// // Over the whole bridge: Kolmogorov's law, 1 − 2 e^(−2k²) + 2 e^(−8k²) − …
/// let k = 1.3_f64;
/// let kolmogorov = 1.0 - 2.0 * (-2.0 * k * k).exp() + 2.0 * (-8.0 * k * k).exp();
/// assert!((bridge_within(0.0, 1.0, k) - kolmogorov).abs() < 1e-10);
/// ```
#[must_use]
pub fn bridge_within(a: f64, b: f64, k: f64) -> f64 {
    let (span, left) = (b - a, 1.0 - b);
    if k <= NARROW * span.max(0.0).sqrt() {
        return 0.0;
    }
    if span <= 0.0 {
        return central(k / (a * left).sqrt());
    }
    // ∫ over y in (−k, k) of the law of the rest of the bridge times that of a step from c to y.
    let rest = |c: f64| {
        let variance = left + span;
        let (mean, sd) = (c * left / variance, (left * span / variance).sqrt());
        let inside = central((k - mean) / sd) + central((k + mean) / sd);
        0.5 * inside * density(c, variance)
    };
    let images = 1 + (FAR * span.sqrt() / (4.0 * k)).ceil() as i32;
    let kept = |x: f64| {
        let one = |m: i32| {
            let shift = 4.0 * f64::from(m) * k;
            rest(x + shift) - rest(2.0 * k - x + shift)
        };
        (-images..=images).map(one).sum::<f64>()
    };
    let whole = (2.0 * PI).sqrt();
    if a <= 0.0 {
        return whole * kept(0.0);
    }
    // Close to k the chance of staying inside drops over a width of √span: a piece of its own.
    let end = k.min(FAR * a.sqrt());
    let edge = (k - FAR * span.sqrt()).max(0.0).min(end);
    let chance = |x: f64| density(x, a) * kept(x);
    2.0 * whole * (gauss(chance, 0.0, edge) + gauss(chance, edge, end))
}

/// Integral of a function no rougher than a normal density of a tenth of the stretch's width.
fn gauss(f: impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    let half = 0.5 * (to - from) / f64::from(PIECES);
    let piece = |i: u32| {
        let middle = from + half * f64::from(2 * i + 1);
        let nodes = LEGENDRE.iter().map(|(x, w)| w * f(middle + half * x));
        half * nodes.sum::<f64>()
    };
    (0..PIECES).map(piece).sum()
}

/// P(|B(u)| ≤ c √(u(1 − u)) for all u in \[a, b\]) of the Brownian bridge B, for 0 < a ≤ b < 1 (0 for
/// c ≤ 0).
///
/// In the time ½ ln(u/(1 − u)) the standardised bridge is the stationary Ornstein–Uhlenbeck process with
/// covariance e^(−|τ|). The chance that it stays within ±c for a time D has the Laplace transform
/// (P(|Z| ≤ c) − 2cφ(c) M(s/2 + 1, 3/2, c²/2) / M(s/2, 1/2, c²/2)) / s, with M Kummer's function (from the
/// backward equation, solved here); it is inverted on Talbot's contour with the fixed rule of Abate &
/// Valkó (2004, from memory).
///
/// ```
/// use sealspan_life::suprema::{standardised_bridge_within, standardised_critical};
/// // At a single point the standardised bridge is a standard normal.
/// assert!((standardised_bridge_within(0.3, 0.3, 1.959_963_985) - 0.95).abs() < 1e-8);
/// assert!((standardised_critical(0.3, 0.3, 0.95).unwrap() - 1.959_963_985).abs() < 1e-6);
/// // Over a stretch the one undoes the other.
/// let c = standardised_critical(0.1, 0.9, 0.9).unwrap();
/// assert!((standardised_bridge_within(0.1, 0.9, c) - 0.9).abs() < 1e-8);
/// ```
#[must_use]
pub fn standardised_bridge_within(a: f64, b: f64, c: f64) -> f64 {
    let time = 0.5 * ((b / a).ln() + ((1.0 - a) / (1.0 - b)).ln());
    if c <= 0.0 {
        0.0
    } else if c > SURE {
        1.0
    } else if time < SHORT {
        short_stay(time, c)
    } else {
        stay(time, c)
    }
}

/// The chance to stay within ±c for a short time: the first terms of its transform for large s,
/// where the even solution's logarithmic slope at c is √s + c/2; the rest is of the order of time^(3/2).
fn short_stay(time: f64, c: f64) -> f64 {
    let time = time.max(0.0);
    let leaving = density(c, 1.0) * (4.0 * (time / PI).sqrt() + c * time);
    (central(c) - leaving).max(0.0)
}

/// The chance to stay within ±c for a time, by inversion of its transform.
fn stay(time: f64, c: f64) -> f64 {
    let marginal = central(c);
    let transform = |s: Complex<f64>| {
        let leaving = kummer_ratio(s, 0.5 * c * c).inv() * (2.0 * c * density(c, 1.0));
        (Complex::from(marginal) - leaving) / s
    };
    let points = f64::from(CONTOUR);
    let reach = 0.4 * points / time;
    let start = Complex::from(reach);
    let mut sum = 0.5 * (transform(start) * (start * time).exp()).re;
    for i in 1..CONTOUR {
        let angle = PI * f64::from(i) / points;
        let cot = angle.tan().recip();
        let s = Complex::new(cot, 1.0) * (reach * angle);
        if s.re * time < NEGLIGIBLE {
            break;
        }
        let slope = Complex::new(1.0, angle + (angle * cot - 1.0) * cot);
        sum += ((s * time).exp() * transform(s) * slope).re;
    }
    sum * reach / points
}

/// M(s/2, 1/2, x) / M(s/2 + 1, 3/2, x) by its continued fraction (DLMF 13.5.1, from memory; the series is
/// the check in the tests). The series itself loses all digits for large s.
fn kummer_ratio(s: Complex<f64>, x: f64) -> Complex<f64> {
    let a = s * 0.5;
    let terms = 30 + (2.0 * (a.norm() * x).sqrt() + 4.0 * x).ceil() as u32;
    let mut tail = Complex::from(1.0);
    for n in (0..terms).rev().map(f64::from) {
        // Terms 2n + 2, then 2n + 1.
        let even = (a + (n + 1.0)) / ((2.0 * n + 1.5) * (2.0 * n + 2.5));
        tail = even * x / tail + 1.0;
        let odd = (a - (n + 0.5)) / ((2.0 * n + 0.5) * (2.0 * n + 1.5));
        tail = odd * x / tail + 1.0;
    }
    tail
}

/// The k with [`bridge_within`]`(a, b, k) = level`. `None` unless 0 ≤ a ≤ b ≤ 1 with some variance
/// between them, and `level` lies between 0 and 1 (and not within rounding of 1).
#[must_use]
pub fn bridge_critical(a: f64, b: f64, level: f64) -> Option<f64> {
    if !(0.0 <= a && a <= b && b <= 1.0) {
        return None;
    }
    let widest = 0.5f64.max(a).min(b);
    let sd = (widest * (1.0 - widest)).sqrt();
    if sd <= 0.0 {
        return None;
    }
    solve(|k| bridge_within(a, b, k), sd, level)
}

/// The c with [`standardised_bridge_within`]`(a, b, c) = level`. `None` unless 0 < a ≤ b < 1 and `level`
/// lies between 0 and 1 (and not within rounding of 1).
#[must_use]
pub fn standardised_critical(a: f64, b: f64, level: f64) -> Option<f64> {
    if !(0.0 < a && a <= b && b < 1.0) {
        return None;
    }
    solve(|c| standardised_bridge_within(a, b, c), 1.0, level)
}

/// The supremum's quantile is at least that of one point, whose standard deviation is `sd`.
fn solve(within: impl Fn(f64) -> f64, sd: f64, level: f64) -> Option<f64> {
    if !(0.0 < level && level < 1.0) {
        return None;
    }
    let one_point = sd * normal_quantile(0.5 + 0.5 * level);
    let off = |x: f64| within(x) - level;
    let (low, high) = bracket_from(off, 0.5 * one_point, 0.5 * sd, 6)?;
    bracketed(off, low, high, TOLERANCE * sd)
}

/// P(|Z| ≤ z) of a standard normal Z, with the sign of z.
fn central(z: f64) -> f64 {
    libm::erf(z / SQRT_2)
}

/// Normal density with mean 0.
fn density(x: f64, variance: f64) -> f64 {
    (-0.5 * x * x / variance).exp() / (2.0 * PI * variance).sqrt()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use nalgebra::{DMatrix, DVector};

    #[test]
    fn kummer_ratio_agrees_with_the_series() {
        let series = |a: Complex<f64>, b: f64, x: f64| {
            let mut term = Complex::from(1.0);
            let mut sum = term;
            for n in (0..200).map(f64::from) {
                term *= (a + n) / (b + n) * (x / (n + 1.0));
                sum += term;
            }
            sum
        };
        for s in [(0.3, 0.0), (6.0, 0.0), (2.0, 9.0), (-1.5, 4.0)] {
            let s = Complex::new(s.0, s.1);
            for x in [0.02, 1.0, 5.0] {
                let wanted = series(s * 0.5, 0.5, x) / series(s * 0.5 + 1.0, 1.5, x);
                let ours = kummer_ratio(s, x);
                assert!((ours - wanted).norm() < 1e-12 * wanted.norm(), "{s} {x}");
            }
        }
    }

    /// The chance of staying within ±c for a time, by another way: the equation −g'' + (z²/4 − 1/2) g = λg
    /// with g(±c) = 0 in a cosine basis, and a sum over its eigenfunctions.
    fn by_eigenfunctions(time: f64, c: f64) -> f64 {
        const BASIS: usize = 40;
        let wave = |i: usize, z: f64| (PI * (i as f64 + 0.5) * z / c).cos() / c.sqrt();
        let over = |f: &dyn Fn(f64) -> f64| {
            let pieces = (0..10).map(|p| 0.1 * c * f64::from(p));
            2.0 * pieces
                .map(|from| gauss(f, from, from + 0.1 * c))
                .sum::<f64>()
        };
        let matrix = DMatrix::from_fn(BASIS, BASIS, |i, j| {
            let well = over(&|z| wave(i, z) * wave(j, z) * (0.25 * z * z - 0.5));
            well + if i == j {
                (PI * (i as f64 + 0.5) / c).powi(2)
            } else {
                0.0
            }
        });
        let start = DVector::from_fn(BASIS, |i, _| over(&|z| wave(i, z) * density(z, 1.0).sqrt()));
        let eigen = matrix.symmetric_eigen();
        let weights = eigen.eigenvectors.transpose() * start;
        let terms = weights.iter().zip(eigen.eigenvalues.iter());
        terms.map(|(w, l)| w * w * (-l * time).exp()).sum()
    }

    #[test]
    fn standardised_bridge_agrees_with_its_eigenfunctions() {
        for (a, b) in [(0.1, 0.6), (0.02, 0.9), (0.3, 0.4)] {
            let time: f64 = 0.5 * f64::ln(b * (1.0 - a) / (a * (1.0 - b)));
            for c in [1.0, 2.0, 3.0] {
                let (ours, wanted) = (
                    standardised_bridge_within(a, b, c),
                    by_eigenfunctions(time, c),
                );
                assert!((ours - wanted).abs() < 1e-8, "{a} {b} {c}: {ours} {wanted}");
            }
        }
    }

    #[test]
    fn bridge_tends_to_kolmogorovs_law() {
        let kolmogorov = |k: f64| {
            let term = |j: i32| {
                let sign = if j % 2 == 0 { 1.0 } else { -1.0 };
                sign * (-2.0 * f64::from(j * j) * k * k).exp()
            };
            (-60..=60).map(term).sum::<f64>()
        };
        for k in [0.3, 0.6, 1.0, 1.6] {
            assert!(
                (bridge_within(0.0, 1.0, k) - kolmogorov(k)).abs() < 1e-12,
                "{k}"
            );
            // Near its ends the bridge has no room to leave, so nothing is lost there.
            assert!(
                (bridge_within(1e-4, 1.0 - 1e-4, k) - kolmogorov(k)).abs() < 1e-9,
                "{k}"
            );
        }
    }

    #[test]
    fn a_stretch_turned_round_is_as_likely() {
        for (a, b) in [(0.05, 0.3), (0.2, 0.9), (0.4, 0.4001)] {
            for k in [0.2, 0.5, 1.1] {
                let (one, other) = (bridge_within(a, b, k), bridge_within(1.0 - b, 1.0 - a, k));
                assert!((one - other).abs() < 1e-9, "{a} {b} {k}: {one} {other}");
            }
        }
    }

    #[test]
    fn a_short_stay_agrees_with_the_inversion() {
        for c in [0.5, 1.5, 3.0] {
            for time in [1e-7, 1e-6] {
                let off = short_stay(time, c) - stay(time, c);
                assert!(
                    off.abs() < 2.0 * f64::powf(time, 1.5) + 1e-11,
                    "{c} {time}: {off:e}"
                );
            }
        }
    }

    #[test]
    fn strips_out_of_reach_are_sure_or_impossible() {
        for (strip, chance) in [(-1.0, 0.0), (0.0, 0.0), (1e-300, 0.0), (1e300, 1.0)] {
            assert!((bridge_within(0.2, 0.7, strip) - chance).abs() < 1e-12);
            assert!((standardised_bridge_within(0.2, 0.7, strip) - chance).abs() < 1e-12);
        }
    }

    #[test]
    fn a_short_stretch_tends_to_one_point() {
        let z = normal_quantile(0.975);
        for (a, b) in [(0.3, 0.3), (0.3, 0.3 + 1e-9)] {
            let k = bridge_critical(a, b, 0.95).unwrap();
            assert!((k / (z * f64::sqrt(0.21)) - 1.0).abs() < 1e-4, "{k}");
            let c = standardised_critical(a, b, 0.95).unwrap();
            assert!((c / z - 1.0).abs() < 1e-4, "{c}");
        }
    }

    #[test]
    fn critical_values_are_roots_and_grow_with_the_stretch_and_the_level() {
        for level in [0.1, 0.5, 0.9, 0.99, 0.9999] {
            let mut before = (0.0, 0.0);
            for half in [0.0, 0.001, 0.1, 0.4, 0.49, 0.499_999] {
                let (a, b) = (0.5 - half, 0.5 + half);
                let k = bridge_critical(a, b, level).unwrap();
                let c = standardised_critical(a, b, level).unwrap();
                assert!(
                    (bridge_within(a, b, k) - level).abs() < 1e-8,
                    "{level} {half}"
                );
                let within = standardised_bridge_within(a, b, c);
                assert!((within - level).abs() < 1e-8, "{level} {half}");
                // Near its ends the plain bridge has no room to stray, so k stops growing.
                let more = if half > 0.45 { -1e-9 } else { 0.0 };
                assert!(k - before.0 > more && c > before.1, "{level} {half}");
                before = (k, c);
            }
        }
        assert!(bridge_critical(0.0, 0.0, 0.9).is_none());
        assert!(bridge_critical(0.2, f64::NAN, 0.9).is_none());
        assert!(bridge_critical(0.2, 0.1, 0.9).is_none());
        assert!(standardised_critical(0.0, 0.5, 0.9).is_none());
        assert!(standardised_critical(0.1, 0.5, 1.0).is_none());
        assert!(standardised_critical(f64::NAN, 0.5, 0.9).is_none());
    }

    /// Over a short stretch h a path near the edge strays by √(2h/π) on the mean: so much of the density on either side
    /// is lost, but for terms of h.
    #[test]
    fn a_short_stretch_loses_what_stands_near_the_edge() {
        for (a, k) in [(0.4, 0.5), (0.7, 0.3), (0.2, 0.4)] {
            let variance = a * (1.0 - a);
            for span in [1e-8, 1e-7, 1e-6] {
                let lost = 2.0 * density(k, variance) * (2.0 * span / PI).sqrt();
                let want = central(k / variance.sqrt()) - lost;
                let got = bridge_within(a, a + span, k);
                assert!((got - want).abs() < 5.0 * span, "{a} {span}: {got} {want}");
            }
        }
    }

    /// A stretch that begins late, where the bridge has little room left.
    #[test]
    fn a_late_stretch_has_a_critical_value() {
        for (a, b) in [(0.8, 0.9), (0.65, 0.7), (0.95, 0.99)] {
            let k = bridge_critical(a, b, 0.95).unwrap();
            assert!((bridge_within(a, b, k) - 0.95).abs() < 1e-8, "{a} {b} {k}");
        }
    }

    #[test]
    fn a_stretch_that_ends_before_it_begins_has_no_critical_value() {
        assert!(standardised_critical(0.4, 0.6, 0.9).is_some());
        assert_eq!(standardised_critical(0.6, 0.4, 0.9), None);
        assert_eq!(bridge_critical(0.6, 0.4, 0.9), None);
    }
}
