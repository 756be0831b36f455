//! Rayleigh's test of uniform directions: strong against one hard side, blind to two opposite ones.
//!
//! Three approximations to the p-value are in use and differ with few directions, so each has its name.
//!
//! ```
//! use sealspan_life::sectors::rayleigh::rayleigh;
//! use std::f64::consts::PI;
//! // Opposite directions cancel; ten alike have a mean length of 1 and z = n.
//! assert!(rayleigh(&[(0.0, 1.0), (PI, 1.0)]).unwrap().z < 1e-12);
//! let alike = rayleigh(&[(1.0, 10.0)]).unwrap();
//! assert!((alike.z - 10.0).abs() < 1e-9 && (alike.direction - 1.0).abs() < 1e-9);
//! assert!((alike.p_limit - (-10.0_f64).exp()).abs() < 1e-12);
//! ```

use std::f64::consts::TAU;

/// Resultant of some directions and its p-values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rayleigh {
    /// Directions.
    pub n: f64,
    /// Mean resultant length, 0 to 1.
    pub length: f64,
    /// n times its square.
    pub z: f64,
    /// Mean direction, radians from 0 to 2π.
    pub direction: f64,
    /// exp(−z): the limit for many directions (Mardia 1972; from memory).
    pub p_limit: f64,
    /// The limit with its series to 1/n² (Mardia 1972; from memory, checked against stored values).
    pub p_series: f64,
    /// exp(√(1 + 4n + 4(n² − R²)) − (1 + 2n)) (Zar's text; checked against stored values).
    pub p_root: f64,
}

/// Tests directions in radians, each with a count. `None` without any.
#[must_use]
pub fn rayleigh(directions: &[(f64, f64)]) -> Option<Rayleigh> {
    let (mut n, mut x, mut y) = (0.0, 0.0, 0.0);
    for (angle, count) in directions {
        n += count;
        x += count * angle.cos();
        y += count * angle.sin();
    }
    if n <= 0.0 {
        return None;
    }
    let resultant = x.hypot(y).min(n);
    let length = resultant / n;
    let z = n * length * length;
    let limit = (-z).exp();
    let first = (2.0 * z - z * z) / (4.0 * n);
    let second = z * (24.0 - z * (132.0 - z * (76.0 - 9.0 * z))) / (288.0 * n * n);
    let root = (1.0 + 4.0 * n + 4.0 * (n * n - resultant * resultant)).sqrt();
    Some(Rayleigh {
        n,
        length,
        z,
        direction: y.atan2(x).rem_euclid(TAU),
        p_limit: limit,
        p_series: (limit * (1.0 + first - second)).clamp(0.0, 1.0),
        p_root: (root - (1.0 + 2.0 * n)).exp().min(1.0),
    })
}

/// Tests counts by sector: each failure stands at the middle of its sector, sector 1 first from 0.
///
/// ```
/// use sealspan_life::sectors::rayleigh::by_sector;
/// assert!(by_sector(&[3, 3, 3, 3]).unwrap().length < 1e-12);
/// let one = by_sector(&[0, 5, 0, 0]).unwrap();
/// assert!((one.length - 1.0).abs() < 1e-12 && (one.p_limit - (-5.0_f64).exp()).abs() < 1e-12);
/// ```
#[must_use]
pub fn by_sector(counts: &[u32]) -> Option<Rayleigh> {
    let k = counts.len() as f64;
    let middles = counts
        .iter()
        .zip(0..)
        .map(|(c, j)| ((f64::from(j) + 0.5) * TAU / k, f64::from(*c)));
    rayleigh(&middles.collect::<Vec<_>>())
}
