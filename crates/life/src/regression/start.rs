//! Where to begin: least squares of ln age on the design, with the law's own start for all seals together.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::line::{Line, location};
use super::problem::Problem;
use crate::fit::{Model, fit_terms};
use crate::law::Age;
use crate::terms::{Extent, Point, Stretch, Terms};
use nalgebra::{DMatrix, DVector};
use std::sync::Arc;

/// Points to climb from, best guess first: the law's starts for all seals with the effects of least squares taken
/// off their ages; with `search`, its own best fit to those before them.
pub(super) fn starts(problem: &Problem, search: bool) -> Vec<Vec<f64>> {
    let mut out = vec![];
    if let Some(line) = Squares::of(problem) {
        let aligned = Arc::new(line.aligned(&problem.lines));
        let found = search.then(|| fit_terms(Model::free(problem.family), &aligned));
        let found = found.and_then(Result::ok).map(|fit| fit.theta);
        for theta in found.into_iter().chain(problem.family.starts(&aligned)) {
            let (location, others) = theta.split_first().unwrap_or((&0.0, &[]));
            let mut x = line.coefficients.clone();
            if let Some(slot) = x.first_mut() {
                *slot += location - line.centre;
            }
            x.extend(others_of(problem, others));
            out.push(x);
        }
    }
    out.extend(by_cell(problem));
    if out.is_empty() {
        out.push(vec![0.0; problem.size()]);
    }
    out
}

/// The law's other parameters, once a stratum.
fn others_of(problem: &Problem, others: &[f64]) -> Vec<f64> {
    (0..problem.strata).flat_map(|_| others.to_vec()).collect()
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
    x.extend(others_of(problem, others));
    Some(x)
}

/// Weighted least squares of the failures' ln age.
struct Squares {
    coefficients: Vec<f64>,
    /// Mean of ln age.
    centre: f64,
}

impl Squares {
    fn of(problem: &Problem) -> Option<Self> {
        let n = problem.columns;
        let mut matrix = DMatrix::<f64>::zeros(n, n);
        let mut right = DVector::<f64>::zeros(n);
        let (mut weight, mut sum) = (0.0, 0.0);
        let lines: Vec<(&Line, [f64; 2])> = problem
            .lines
            .iter()
            .map(|l| (l, moments(l)))
            .filter(|(_, [w, ..])| *w > 0.0)
            .collect();
        for (line, [w, first]) in &lines {
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
        Some(Self {
            coefficients,
            centre,
        })
    }

    /// All lines' observations as one sample's, each age shifted by what the line says of its row.
    fn aligned(&self, lines: &[Line]) -> Terms {
        let mut all = Terms {
            density: vec![],
            survival: vec![],
            interval: vec![],
            extent: Extent::nothing(),
        };
        for line in lines {
            let shift = line.offset + location(&line.row, &self.coefficients) - self.centre;
            let moved = |age: Age| Age::from_ln(age.ln - shift);
            let point = |p: &Point| Point {
                age: moved(p.age),
                ..*p
            };
            let terms = &line.terms;
            all.density.extend(terms.density.iter().map(point));
            all.survival.extend(terms.survival.iter().map(point));
            all.interval.extend(terms.interval.iter().map(|s| Stretch {
                lower: s.lower.map(moved),
                upper: moved(s.upper),
                ..*s
            }));
            all.extent.include(&terms.extent.scaled((-shift).exp()));
        }
        all
    }
}

/// Weight and sum of the failures' ln age less the offset, intervals taken at their middle.
fn moments(line: &Line) -> [f64; 2] {
    let mut out = [0.0; 2];
    let mut add = |weight: f64, ln: f64| {
        let y = ln - line.offset;
        out[0] += weight;
        out[1] += weight * y;
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

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::laws::by_name;
    use sealspan_records::{Observation, Sample};

    /// Twelve hundred rows of one or two seals, at ages or between looks, with ln age = offset + 6 + 0.4 x ± 0.3: the
    /// first start is the law's own for the lives without effects, set on the plane of least squares, which is that one
    /// (the errors of either sign are as many at every x).
    #[test]
    fn the_first_start_lies_on_the_plane_of_least_squares() {
        let family = by_name("lognormal").unwrap();
        for looks in [false, true] {
            let seen = |ln: f64, count: f64| {
                let t = ln.exp();
                let seal = if looks {
                    Observation::interval(0.9 * t, 1.1 * t, 0.0, count)
                } else {
                    Observation::exact(t, 0.0, count)
                };
                seal.unwrap()
            };
            let (mut lines, mut bare) = (vec![], vec![]);
            for i in 0..1200_u32 {
                let pair = i / 2;
                let x = f64::from(pair % 3);
                let offset = 0.1 * f64::from(pair % 5) + 0.15 * x;
                let count = f64::from(1 + pair % 2);
                let off = if i % 2 == 0 { 0.3 } else { -0.3 };
                let own = (x != 0.0).then_some((1, x));
                let seal = seen(offset + 6.0 + 0.4 * x + off, count);
                lines.push(Line {
                    row: std::iter::once((0, 1.0)).chain(own).collect(),
                    offset,
                    stratum: 0,
                    terms: Arc::new(Terms::new(&Sample::new(vec![seal]))),
                });
                bare.push(seen(off, count));
            }
            let problem = Problem {
                family,
                lines,
                columns: 2,
                shared: 1,
                strata: 1,
                penalties: vec![],
            };
            let law = family.starts(&Terms::new(&Sample::new(bare)));
            let found = starts(&problem, false);
            assert_eq!(found.len(), law.len());
            for (got, own) in found.iter().zip(&law) {
                for (a, b) in got.iter().zip([6.0 + own[0], 0.4, own[1]]) {
                    assert!((a - b).abs() < 1e-4, "{looks}: {got:?} {own:?}");
                }
            }
            // Seals are counted, not rows.
            assert!((crate::maximise::LogLikelihood::weight(&problem) - 1800.0).abs() < 1e-9);
        }
    }
}
