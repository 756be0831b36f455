//! Checks of the Arrhenius line: is it bent, and does the activation energy change with temperature?

use super::arrhenius::{GAS_CONSTANT, kelvin};
use super::least_squares::{Parabola, parabola};
use super::line::Point;
use super::reach::Reach;
use sealspan_numeric::special::student_two_sided;

/// A test of the line against a parabola in 1/T.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// Coefficient of (1/T)², K².
    pub coefficient: f64,
    /// Two-sided p-value of its being 0.
    pub p_value: f64,
    /// Degrees of freedom.
    pub freedom: f64,
    curve: Parabola,
}

/// Thousandths of 1/K, so that squares keep their digits.
const THOUSANDTHS: f64 = 1e3;

impl Bend {
    /// ln hours that the parabola would give at a temperature: a check on the line, no estimate.
    #[must_use]
    pub fn ln_hours_at(&self, celsius: f64) -> f64 {
        self.curve.at(THOUSANDTHS / kelvin(celsius))
    }
}

/// Tests the ovens that reached the limit for a bend; `None` with fewer than four.
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

/// Activation energies between neighbours that reached the limit, coolest pair first.
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
