//! The masses of greatest likelihood: Newton's method over the cells that carry mass, with masses held
//! at or above zero (Wang 2007, J. R. Stat. Soc. B 69:185-198; from memory), between self-consistency
//! steps.

use super::problem::{Groups, Kind, Problem, normalised};
use super::quadratic;
use nalgebra::{DMatrix, DVector};

/// Newton's method is used up to this many cells with mass.
const DENSE: usize = 1000;
/// Most rounds of self-consistency and Newton steps.
const MOST_ROUNDS: usize = 500;
/// Self-consistency steps in each round.
const FEW: usize = 3;
/// Self-consistency steps where no Newton step can be taken.
const MANY: usize = 40;
/// The conditions of the maximum are met when none is violated by more than this per seal.
const MET: f64 = 1e-10;
/// Rounds after which the worst violation must have halved at least once; where late entries leave a
/// maximum only in the limit of an empty tail, rounding keeps the conditions from being met.
const PATIENCE: usize = 30;
/// A smaller mass is none.
const NONE: f64 = 1e-14;
/// Mass at which a cell is taken in for self-consistency steps, which never move a mass off zero.
const ADMITTED: f64 = 1e-4;
/// Share of the gain promised by the slope that a step must bring.
const ENOUGH: f64 = 1e-4;
/// Most halvings of a step.
const HALVINGS: usize = 40;

/// Masses that meet the conditions of the maximum, or those that came nearest.
pub(crate) fn solve<K: Kind>(problem: &Problem<K>) -> Vec<f64> {
    let mut mass = start(problem);
    let mut best = (f64::INFINITY, mass.clone());
    let mut halved = (f64::INFINITY, 0);
    for round in 0..MOST_ROUNDS {
        mass = self_consistent(problem, mass, FEW);
        let slopes = problem.slopes(&mass);
        let violation = problem.violation(&mass, &slopes);
        if violation < best.0 {
            best = (violation, mass.clone());
        }
        if violation <= 0.5 * halved.0 {
            halved = (violation, round);
        }
        if violation <= MET || round - halved.1 > PATIENCE {
            break;
        }
        let wanted = wanted(problem, &mass, &slopes);
        mass = match newton(problem, &mass, &slopes, &wanted) {
            Some(next) => next,
            None => {
                for j in wanted {
                    if let Some(m) = mass.get_mut(j) {
                        *m = ADMITTED;
                    }
                }
                self_consistent(problem, normalised(mass), MANY)
            }
        };
    }
    best.1
}

fn self_consistent<K: Kind>(problem: &Problem<K>, mut mass: Vec<f64>, steps: usize) -> Vec<f64> {
    for _ in 0..steps {
        mass = problem.self_consistent(&mass, &problem.slopes(&mass));
    }
    mass
}

/// Equal masses on few cells that together leave no observation without.
fn start<K: Kind>(problem: &Problem<K>) -> Vec<f64> {
    let mut mass = vec![0.0; problem.cells];
    for j in problem.stabbing() {
        if let Some(m) = mass.get_mut(j) {
            *m = 1.0;
        }
    }
    normalised(mass)
}

/// Between every two neighbours that carry mass, the empty cell that wants mass most.
fn wanted<K: Kind>(problem: &Problem<K>, mass: &[f64], slopes: &[f64]) -> Vec<usize> {
    let enough = MET * problem.total;
    let mut out = vec![];
    let mut best: Option<(usize, f64)> = None;
    for (j, (m, s)) in mass.iter().zip(slopes).enumerate() {
        if *m > 0.0 {
            out.extend(best.take().map(|b| b.0));
        } else if *s > best.map_or(enough, |b| b.1) {
            best = Some((j, *s));
        }
    }
    out.extend(best.map(|b| b.0));
    out
}

/// A Newton step over the cells with mass and the wanted ones; `None` when it cannot be taken.
fn newton<K: Kind>(
    problem: &Problem<K>,
    mass: &[f64],
    slopes: &[f64],
    wanted: &[usize],
) -> Option<Vec<f64>> {
    let carries = |j: &usize| mass.get(*j).is_some_and(|m| *m > 0.0);
    let active: Vec<usize> = (0..problem.cells)
        .filter(|j| carries(j) || wanted.binary_search(j).is_ok())
        .collect();
    if active.len() > DENSE {
        return None;
    }
    let pick = |from: &[f64]| {
        let picked = active.iter().map(|j| from.get(*j).copied().unwrap_or(0.0));
        DVector::from_iterator(active.len(), picked)
    };
    let (now, slope) = (pick(mass), pick(slopes));
    let curvature = curvature(problem, mass, &active);
    let step = quadratic::best(&curvature, &slope, &now) - &now;
    let gain = slope.dot(&step);
    let before = problem.log_likelihood(mass);
    let slack = 1e-13 * before.abs();
    let mut reach = 1.0;
    for _ in 0..HALVINGS {
        let mut next = mass.to_vec();
        for (j, (m, s)) in active.iter().zip(now.iter().zip(step.iter())) {
            let moved = m + reach * s;
            if let Some(slot) = next.get_mut(*j) {
                *slot = if moved < NONE { 0.0 } else { moved };
            }
        }
        let next = normalised(next);
        if problem.log_likelihood(&next) >= before + ENOUGH * reach * gain - slack {
            return Some(next);
        }
        reach *= 0.5;
    }
    None
}

/// Minus the second derivatives of the log-likelihood. A late entry bends it the other way; where that
/// leaves no maximum, its part is left out: the step then climbs a lower bound of the likelihood.
fn curvature<K: Kind>(problem: &Problem<K>, mass: &[f64], active: &[usize]) -> DMatrix<f64> {
    let groups = Groups::single(problem.cells, active);
    let inside = problem.inside(mass, &groups);
    if problem.late() <= 0.0 {
        return inside;
    }
    // The direction that multiplies all masses is flat: held by bending it as without late entries.
    let whole = (&inside - problem.watched(mass, &groups)).add_scalar(problem.late());
    if whole.clone().cholesky().is_some() {
        whole
    } else {
        inside
    }
}
