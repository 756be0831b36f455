//! Checks of the Arrhenius line: is it bent, and does the activation energy change with temperature?
//!
//! ```
//! use sealspan_life::ageing::bend::{curvature, local_energies};
//! use sealspan_life::ageing::{arrhenius::kelvin, line::Point, reach::{At, Reach}};
//! let oven = |celsius: f64, ln_hours: f64| Point {
//!     celsius,
//!     reach: Reach::At(At { ln_hours, std_error: None, freedom: 0.0, interval: None }),
//! };
//! // Times on the line ln t = 10000/T − 20: an energy of 10000 R between any two ovens.
//! let line = [60.0, 80.0, 100.0].map(|c| oven(c, 10_000.0 / kelvin(c) - 20.0));
//! let energies = local_energies(&line);
//! assert!(energies.len() == 2 && energies.iter().all(|e| (e.kilojoules - 83.144_626).abs() < 1e-6));
//! // A parabola through five ovens, but for a hair: 2·10⁶ K² is found again, beyond doubt.
//! let bent = [50.0, 65.0, 80.0, 95.0, 110.0].map(|c| {
//!     let inverse = 1.0 / kelvin(c);
//!     oven(c, 2e6 * inverse * inverse + 1e-9 * (c - 80.0).abs())
//! });
//! let found = curvature(&bent).unwrap();
//! assert!((found.coefficient / 2e6 - 1.0).abs() < 1e-3 && found.p_value < 0.001);
//! assert!((found.ln_hours_at(80.0) - 2e6 / kelvin(80.0).powi(2)).abs() < 1e-6);
//! ```

use super::arrhenius::{GAS_CONSTANT, kelvin};
use super::least_squares::{Parabola, parabola};
use super::line::Point;
use super::reach::Reach;
use sealspan_numeric::special::student_two_sided;

/// A test of the line against a parabola in 1/T: ln hours = a + b/T + c/T² by least squares, every oven that reached
/// the limit alike, and c against its standard error by Student's law (textbook formulas, from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// c, the coefficient of (1/T)², K².
    pub coefficient: f64,
    /// Two-sided p-value of its being 0.
    pub p_value: f64,
    /// Degrees of freedom: ovens less three.
    pub freedom: f64,
    curve: Parabola,
}

/// Thousandths of 1/K, so that squares keep their digits.
const THOUSANDTHS: f64 = 1e3;

impl Bend {
    /// ln hours that the parabola would give at a temperature in °C: a check on the line, no estimate.
    #[must_use]
    pub fn ln_hours_at(&self, celsius: f64) -> f64 {
        self.curve.at(THOUSANDTHS / kelvin(celsius))
    }
}

/// Tests the ovens that reached the limit within the test for a bend; `None` with fewer than four, or fewer than three
/// temperatures among them.
#[must_use]
pub fn curvature(points: &[Point]) -> Option<Bend> {
    let rows: Vec<(f64, f64, f64)> = points
        .iter()
        .filter_map(|p| match p.reach {
            Reach::At(at) => Some((THOUSANDTHS * p.x(), at.ln_hours, 1.0)),
            _ => None,
        })
        .collect();
    let curve = parabola(&rows)?;
    Some(Bend {
        coefficient: THOUSANDTHS * THOUSANDTHS * curve.bend,
        p_value: student_two_sided(curve.bend / curve.error, curve.freedom),
        freedom: curve.freedom,
        curve,
    })
}

/// The activation energy between two neighbouring ovens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalEnergy {
    /// Cooler oven, °C.
    pub from: f64,
    /// Hotter oven, °C.
    pub to: f64,
    /// kJ/mol.
    pub kilojoules: f64,
}

/// Activation energies between neighbours that reached the limit within the test, coolest pair first:
/// R (ln t₁ − ln t₂) / (1/T₁ − 1/T₂). Between two points at one temperature it is infinite or not a number.
#[must_use]
pub fn local_energies(points: &[Point]) -> Vec<LocalEnergy> {
    let mut times: Vec<(f64, f64, f64)> = points
        .iter()
        .filter_map(|p| match p.reach {
            Reach::At(at) => Some((p.celsius, p.x(), at.ln_hours)),
            _ => None,
        })
        .collect();
    times.sort_by(|a, b| a.0.total_cmp(&b.0));
    times
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] => Some(LocalEnergy {
                from: a.0,
                to: b.0,
                kilojoules: (a.2 - b.2) / (a.1 - b.1) * GAS_CONSTANT / 1000.0,
            }),
            _ => None,
        })
        .collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::reach::At;
    use super::*;
    use nalgebra::{DMatrix, DVector};

    fn oven(celsius: f64, ln_hours: f64) -> Point {
        Point {
            celsius,
            reach: Reach::At(At {
                ln_hours,
                std_error: None,
                freedom: 0.0,
                interval: None,
            }),
        }
    }

    /// Ovens on one activation energy have it between all neighbours (R = 8.314462618 J/(mol K), CODATA 2018).
    #[test]
    fn neighbours_on_one_line_share_its_energy() {
        let joules = 92_000.0;
        let at = |celsius: f64| oven(celsius, joules / 8.314462618 / (celsius + 273.15) - 20.0);
        let mut points: Vec<Point> = [150.0, 120.0, 135.0].map(at).to_vec();
        points.push(Point {
            celsius: 100.0,
            reach: Reach::After(5000.0),
        });
        let found = local_energies(&points);
        assert_eq!(found.len(), 2);
        for (own, (from, to)) in found.iter().zip([(120.0, 135.0), (135.0, 150.0)]) {
            assert_eq!((own.from, own.to), (from, to));
            assert!((own.kilojoules - 92.0).abs() < 1e-6);
        }
        assert!(curvature(&points).is_none());
    }

    /// The parabola in 1/T by the normal equations, its coefficient over its standard error on Student's law.
    #[test]
    fn a_bend_is_that_of_the_normal_equations() {
        let seen = [
            (90.0, 9.1),
            (105.0, 7.8),
            (120.0, 6.9),
            (135.0, 5.4),
            (150.0, 4.6),
            (165.0, 3.1),
        ];
        let points: Vec<Point> = seen.iter().map(|(c, y)| oven(*c, *y)).collect();
        let found = curvature(&points).unwrap();
        // About 2.5 thousandths of 1/K, so that the equations keep their digits.
        let x = |c: f64| 1e3 / (c + 273.15) - 2.5;
        let rows = DMatrix::from_fn(6, 3, |i, j| x(seen[i].0).powi(j as i32));
        let y = DVector::from_fn(6, |i, _| seen[i].1);
        let inverse = (rows.transpose() * &rows).try_inverse().unwrap();
        let b = &inverse * rows.transpose() * &y;
        let left = (&y - &rows * &b).norm_squared();
        let error = (left / 3.0 * inverse[(2, 2)]).sqrt();
        assert!((found.coefficient / (1e6 * b[2]) - 1.0).abs() < 1e-6);
        assert_eq!(found.freedom, 3.0);
        let p = student_two_sided(b[2] / error, 3.0);
        assert!((found.p_value / p - 1.0).abs() < 1e-6 && p < 0.999);
        let at = |c: f64| b[0] + b[1] * x(c) + b[2] * x(c) * x(c);
        for celsius in [80.0, 127.0] {
            assert!((found.ln_hours_at(celsius) - at(celsius)).abs() < 1e-6);
        }
    }
}
