//! Standard errors of the interval curve from the information of its masses.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::NoErrors;
use super::problem::{Groups, Problem};
use nalgebra::DMatrix;
use rayon::prelude::*;

/// Most masses that are free at once for the standard errors: the work grows with the cube of their number.
const FREE: usize = 600;
/// Most windows that the masses are taken in when there are more.
const WINDOWS: usize = 12;
/// Mass below this has left its cell for the standard errors.
const CARRIES: f64 = 1e-9;

/// Standard errors of the survival after each cell.
pub(super) struct Errors {
    pub after: Vec<Option<f64>>,
    /// Windows that the masses were freed in, when not all were at once.
    pub windows: Option<usize>,
}

/// Standard errors from the inverse information of the masses held to sum to one.
pub(super) fn survival_errors(problem: &Problem, mass: &[f64]) -> Result<Errors, NoErrors> {
    in_windows(problem, mass, FREE)
}

/// The same with at most about `most` free masses at once. With more masses the curve is taken window by window: the
/// masses of a window and of a margin on both sides are free, those farther off are taken together in runs, the masses
/// of a run in proportion. Neighbours trade mass where looks overlap, far ones hardly do. With more masses than the
/// windows can free a window's own are taken in runs too, which loses nothing where they are exact ages.
pub(super) fn in_windows(problem: &Problem, mass: &[f64], most: usize) -> Result<Errors, NoErrors> {
    let active: Vec<usize> = (0..problem.cells)
        .filter(|j| mass.get(*j).is_some_and(|m| *m > CARRIES))
        .collect();
    let masses = active.len();
    if masses < 2 {
        return Err(NoErrors::OneMass);
    }
    let width = match masses <= most {
        true => masses,
        false => (most / 3).max(masses.div_ceil(WINDOWS)).max(1),
    };
    let starts: Vec<usize> = (0..masses).step_by(width).collect();
    let windows: Vec<Vec<Option<f64>>> = starts
        .par_iter()
        .map(|from| {
            let to = (from + width).min(masses);
            let ends = ends(masses, *from, to, most);
            let groups = Groups::ending(mass, &active, &ends);
            let first = if *from == 0 { 0 } else { cell(&active, *from) };
            let last = if to == masses {
                problem.cells
            } else {
                cell(&active, to)
            };
            window(problem, mass, &groups, first..last)
        })
        .collect::<Result<_, _>>()?;
    Ok(Errors {
        after: windows.concat(),
        windows: (starts.len() > 1).then_some(starts.len()),
    })
}

fn cell(active: &[usize], at: usize) -> usize {
    active.get(at).copied().unwrap_or(0)
}

/// Where the groups end that leave the masses `from..to` and a margin free.
fn ends(masses: usize, from: usize, to: usize, most: usize) -> Vec<usize> {
    let margin = most / 4;
    let (low, high) = (from.saturating_sub(margin), (to + margin).min(masses));
    let far = (most / 12).max(1);
    let free = most.saturating_sub(2 * far).max(1);
    let mut out = vec![];
    for (first, last, groups) in [(0, low, far), (low, high, free), (high, masses, far)] {
        let length = (last - first).div_ceil(groups).max(1);
        out.extend(
            (first..last)
                .step_by(length)
                .map(|s| (s + length).min(last)),
        );
    }
    out
}

/// Standard errors after the cells of a window.
fn window(
    problem: &Problem,
    mass: &[f64],
    groups: &Groups,
    cells: std::ops::Range<usize>,
) -> Result<Vec<Option<f64>>, NoErrors> {
    // With the last mass as one minus the others: J = I over differences to the last.
    let full = problem.inside(mass, groups) - problem.watched(mass, groups);
    let last = groups.count - 1;
    let reduced = DMatrix::from_fn(last, last, |i, j| {
        full[(i, j)] - full[(i, last)] - full[(last, j)] + full[(last, last)]
    });
    let covariance = reduced.cholesky().ok_or(NoErrors::Singular)?.inverse();
    let whole = sums(&covariance);
    let after = cells.map(|cell| {
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
    Ok(after.collect())
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
