//! Standard errors of the interval curve from the information of its masses.

use super::NoErrors;
use super::problem::{Groups, Problem};
use nalgebra::DMatrix;

/// Most masses that are free for the standard errors: the work grows with the cube of their number. With more, runs of
/// neighbours are taken together, the masses within each held in proportion. Exact ages lose nothing by that; where
/// looks overlap the standard errors come out too small, since neighbours trade mass (see the test).
const FREE: usize = 600;
/// Mass below this has left its cell for the standard errors.
const CARRIES: f64 = 1e-9;

/// Standard errors of the survival after each cell.
pub(super) struct Errors {
    pub after: Vec<Option<f64>>,
    /// Runs of cells taken together, when they are.
    pub runs: Option<usize>,
}

/// Standard errors from the inverse information of the masses held to sum to one.
pub(super) fn survival_errors(problem: &Problem, mass: &[f64]) -> Result<Errors, NoErrors> {
    of_runs(problem, mass, FREE)
}

/// The same with at most `most` free masses.
pub(super) fn of_runs(problem: &Problem, mass: &[f64], most: usize) -> Result<Errors, NoErrors> {
    let active: Vec<usize> = (0..problem.cells)
        .filter(|j| mass.get(*j).is_some_and(|m| *m > CARRIES))
        .collect();
    if active.len() < 2 {
        return Err(NoErrors::OneMass);
    }
    let groups = Groups::runs(mass, &active, most);
    // With the last mass as one minus the others: J = I over differences to the last.
    let full = problem.inside(mass, &groups) - problem.watched(mass, &groups);
    let last = groups.count - 1;
    let reduced = DMatrix::from_fn(last, last, |i, j| {
        full[(i, j)] - full[(i, last)] - full[(last, j)] + full[(last, last)]
    });
    let covariance = reduced.cholesky().ok_or(NoErrors::Singular)?.inverse();
    // Variance of the mass in the first k groups, and its covariance with the next.
    let whole = sums(&covariance);
    let after = (0..problem.cells).map(|cell| {
        let (group, share) = groups.place(cell + 1);
        let variance = if group < last {
            let (before, with) = whole.get(group).copied()?;
            before + 2.0 * share * with + share * share * covariance[(group, group)]
        } else {
            // The last group is what the others leave.
            let left = if group == last { 1.0 - share } else { 0.0 };
            left * left * whole.get(last)?.0
        };
        (variance >= 0.0).then(|| variance.sqrt())
    });
    Ok(Errors {
        after: after.collect(),
        runs: (groups.count < active.len()).then_some(groups.count),
    })
}

/// For k = 0, 1, …: the variance of the sum of the first k, and its covariance with the one after them.
fn sums(covariance: &DMatrix<f64>) -> Vec<(f64, f64)> {
    let size = covariance.nrows();
    let mut variance = 0.0;
    let mut out = Vec::with_capacity(size + 1);
    for k in 0..size {
        let with: f64 = (0..k).map(|h| covariance[(h, k)]).sum();
        out.push((variance, with));
        variance += covariance[(k, k)] + 2.0 * with;
    }
    out.push((variance, 0.0));
    out
}
