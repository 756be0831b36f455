//! Fitting a design by maximum (penalised) likelihood.

use super::line::Design;
use super::problem::Problem;
use super::standard::Standard;
use super::{Regression, start};
use crate::family::Family;
use crate::fit::NoFit;
use crate::maximise::{Maximum, climb, maximise};
use nalgebra::{DMatrix, DVector};

/// A fitted regression with what further questions to its likelihood need.
pub struct Fitting {
    /// The fit.
    pub regression: Regression,
    pub(super) problem: Problem,
    pub(super) standard: Standard,
    pub(super) maximum: Maximum,
}

/// Fits a design.
///
/// # Errors
/// [`NoFit`] as for a single fit; a level without failures has no finite coefficient unless it is penalised, and
/// gives [`NoFit::NotReached`] or [`NoFit::Ridge`].
pub fn fit_design(family: &'static dyn Family, design: &Design) -> Result<Fitting, NoFit> {
    let total: f64 = design.lines.iter().map(|l| l.terms.extent.total).sum();
    let failures: f64 = design.lines.iter().map(|l| l.terms.extent.failures).sum();
    if total <= 0.0 {
        return Err(NoFit::Empty);
    }
    if failures <= 0.0 {
        return Err(NoFit::NoFailures { total });
    }
    let columns = design.names.len();
    let standard = Standard::of(columns, &design.lines);
    let problem = Problem {
        family,
        lines: design.lines.iter().map(|l| standard.line(l)).collect(),
        columns,
        shared: family.dimension().saturating_sub(1),
        strata: design.strata.max(1),
        penalties: design
            .penalties
            .iter()
            .map(|p| p.scaled(standard.spread(p.at)))
            .collect(),
    };
    let maximum = best(&problem)?;
    let back: DMatrix<f64> = standard.back(problem.size());
    let x = &back * DVector::from_column_slice(&maximum.x);
    let regression = Regression {
        family,
        names: design.names.clone(),
        x: x.iter().copied().collect(),
        covariance: &back * &maximum.covariance * back.transpose(),
        log_likelihood: maximum.value - problem.penalty(&maximum.x),
        strata: problem.strata,
    };
    Ok(Fitting {
        regression,
        problem,
        standard,
        maximum,
    })
}

/// The highest maximum that Newton's method reaches; a slower search where it reaches none. A law of ln T with a
/// concave log density has one maximum only, so the first will do.
fn best(problem: &Problem) -> Result<Maximum, NoFit> {
    let one = problem.shared == 0 || (problem.family.has_ln_scale() && problem.shared == 1);
    let starts = start::starts(problem, !one);
    let mut best: Option<Maximum> = None;
    for start in &starts {
        if let Ok(found) = climb(problem, start) {
            if best.as_ref().is_none_or(|b| found.value > b.value) {
                best = Some(found);
            }
            if one {
                break;
            }
        }
    }
    if let Some(best) = best {
        return Ok(best);
    }
    let last = starts.last().cloned().unwrap_or_default();
    maximise(problem, &last).map_err(|lost| lost.why)
}
