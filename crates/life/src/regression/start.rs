//! Where to begin: least squares of ln age on the design, with the law's own start for all seals together.

use super::line::{Line, location};
use super::problem::Problem;
use crate::terms::{Extent, Terms};
use nalgebra::{DMatrix, DVector};

/// Points to climb from, best guess first.
pub(super) fn starts(problem: &Problem) -> Vec<Vec<f64>> {
    let together = together(&problem.lines);
    let line = Squares::of(problem);
    let mut out = vec![];
    for theta in problem.family.starts(&together) {
        let (location, others) = theta.split_first().unwrap_or((&0.0, &[]));
        if let Some(line) = &line {
            let mut x = line.coefficients.clone();
            if let Some(slot) = x.first_mut() {
                *slot += location - line.centre;
            }
            let narrower = if problem.family.has_ln_scale() {
                line.narrower.ln()
            } else {
                0.0
            };
            x.extend(others_of(problem, others, narrower));
            out.push(x);
        }
        let mut x = vec![0.0; problem.columns];
        if let Some(slot) = x.first_mut() {
            *slot = *location;
        }
        x.extend(others_of(problem, others, 0.0));
        out.push(x);
    }
    out.extend(by_cell(problem));
    out
}

/// The law's other parameters, once a stratum; the first one, ln σ, shifted.
fn others_of(problem: &Problem, others: &[f64], shift: f64) -> Vec<f64> {
    let one = others.iter().enumerate();
    let one: Vec<f64> = one
        .map(|(k, value)| if k == 0 { value + shift } else { *value })
        .collect();
    (0..problem.strata).flat_map(|_| one.clone()).collect()
}

/// Lines above which their own starts say nothing: a seal or two each.
const FEW_LINES: usize = 1000;

/// The failure-weighted mean of the cells' own starts, without effects.
fn by_cell(problem: &Problem) -> Option<Vec<f64>> {
    if problem.lines.len() > FEW_LINES {
        return None;
    }
    let with = || {
        problem
            .lines
            .iter()
            .filter(|l| l.terms.extent.failures > 0.0)
    };
    let failures: f64 = with().map(|l| l.terms.extent.failures).sum();
    let mut theta = vec![0.0; problem.shared + 1];
    for line in with() {
        let share = line.terms.extent.failures / failures;
        let first = problem.family.starts(&line.terms).into_iter().next();
        for (slot, value) in theta.iter_mut().zip(first.unwrap_or_default()) {
            *slot += share * value;
        }
    }
    let (location, others) = theta.split_first()?;
    let mut x = vec![0.0; problem.columns];
    *x.first_mut()? = *location;
    x.extend(others_of(problem, others, 0.0));
    Some(x)
}

/// All lines' observations as one sample's.
fn together(lines: &[Line]) -> Terms {
    let mut all = Terms {
        density: vec![],
        survival: vec![],
        interval: vec![],
        extent: Extent::nothing(),
    };
    for line in lines {
        all.density.extend_from_slice(&line.terms.density);
        all.survival.extend_from_slice(&line.terms.survival);
        all.interval.extend_from_slice(&line.terms.interval);
        all.extent.include(&line.terms.extent);
    }
    all
}

/// Weighted least squares of the failures' ln age.
struct Squares {
    coefficients: Vec<f64>,
    /// Mean of ln age.
    centre: f64,
    /// Spread about the line over spread about the mean.
    narrower: f64,
}

impl Squares {
    fn of(problem: &Problem) -> Option<Self> {
        let n = problem.columns;
        let mut matrix = DMatrix::<f64>::zeros(n, n);
        let mut right = DVector::<f64>::zeros(n);
        let (mut weight, mut sum) = (0.0, 0.0);
        let lines: Vec<(&Line, [f64; 3])> = problem
            .lines
            .iter()
            .map(|l| (l, moments(l)))
            .filter(|(_, [w, ..])| *w > 0.0)
            .collect();
        for (line, [w, first, _]) in &lines {
            weight += w;
            sum += first;
            for (i, a) in &line.row {
                right[*i] += a * first;
                for (j, b) in &line.row {
                    matrix[(*i, *j)] += w * a * b;
                }
            }
        }
        let ridge = 1e-6 * weight.max(1.0);
        let shifted = matrix + DMatrix::identity(n, n) * ridge;
        let coefficients: Vec<f64> = shifted.cholesky()?.solve(&right).iter().copied().collect();
        let centre = sum / weight;
        let (mut about_line, mut about_mean) = (0.0, 0.0);
        for (line, [w, first, second]) in &lines {
            let about = |m: f64| second - 2.0 * m * first + m * m * w;
            about_line += about(location(&line.row, &coefficients));
            about_mean += about(centre);
        }
        let ratio = (about_line / about_mean).sqrt();
        Some(Self {
            coefficients,
            centre,
            narrower: if ratio.is_finite() {
                ratio.clamp(0.05, 1.0)
            } else {
                1.0
            },
        })
    }
}

/// Weight, sum and sum of squares of the failures' ln age less the offset, intervals taken at their middle.
fn moments(line: &Line) -> [f64; 3] {
    let mut out = [0.0; 3];
    let mut add = |weight: f64, ln: f64| {
        let y = ln - line.offset;
        out[0] += weight;
        out[1] += weight * y;
        out[2] += weight * y * y;
    };
    for p in &line.terms.density {
        add(p.weight, p.age.ln);
    }
    for s in &line.terms.interval {
        add(
            s.weight,
            (0.5 * (s.lower.map_or(0.0, |a| a.t) + s.upper.t)).ln(),
        );
    }
    out
}
