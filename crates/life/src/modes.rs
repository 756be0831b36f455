//! The modes of a posterior, where sampling begins.

use crate::fit::{NoFit, Problem};
use crate::importance::Mode;
use crate::maximise::{Maximum, maximise};
use crate::posterior::WithPrior;
use nalgebra::DVector;

/// A mode lower than the highest by more than this in ln density is not begun from: its weight is below 1e-5 unless it
/// is a hundred times as wide.
const LOW: f64 = 12.0;
/// Two modes closer than this in every parameter are one.
const SAME: f64 = 0.05;

/// Where sampling begins: every mode that is not too low, or the priors where a density has none (its integral can be
/// finite all the same).
pub(crate) fn modes(
    target: &WithPrior<Problem<'_>>,
    start: Vec<f64>,
    means: Vec<f64>,
) -> Result<Vec<Mode>, NoFit> {
    let problem = &target.problem;
    let starts = problem.family.starts(problem.terms).into_iter();
    let starts = starts.map(|theta| problem.pick(&theta));
    let mut found: Vec<Maximum> = vec![];
    for from in [start, means.clone()].into_iter().chain(starts) {
        let Ok(mut mode) = maximise(target, &from) else {
            continue;
        };
        let theta = problem.place(&mode.x);
        let ordered = problem.family.in_order(&theta);
        if ordered != theta {
            // The same law with its parts named the other way round, unless the priors make it another mode.
            let again = maximise(target, &problem.pick(&ordered));
            let kept = again.ok().filter(|m| {
                let theta = problem.place(&m.x);
                problem.family.in_order(&theta) == theta
            });
            match kept {
                Some(other) => mode = other,
                None => continue,
            }
        }
        let near = |other: &Maximum| {
            other
                .x
                .iter()
                .zip(&mode.x)
                .all(|(a, b)| (a - b).abs() < SAME)
        };
        if !found.iter().any(near) {
            found.push(mode);
        }
    }
    let top = found
        .iter()
        .map(|m| m.value)
        .fold(f64::NEG_INFINITY, f64::max);
    found.retain(|m| m.value > top - LOW);
    let mode = |m: Maximum| Some((DVector::from_vec(m.x), m.covariance.cholesky()?));
    let mut out: Vec<Mode> = found.into_iter().filter_map(mode).collect();
    if out.is_empty() {
        let shape = target.prior_covariance().cholesky().ok_or(NoFit::Ridge)?;
        out.push((DVector::from_vec(means), shape));
    }
    Ok(out)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::law::Prior;
    use crate::laws::by_name;
    use crate::terms::Terms;
    use sealspan_records::{Observation, Sample};

    /// Searches from several places that end at one place are one mode.
    #[test]
    fn one_place_is_one_mode() {
        let ages = [0.2, 0.5, 0.6, 0.9, 1.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let terms = Terms::new(&Sample::new(ages.into()));
        let family = by_name("weibull").unwrap();
        let target = WithPrior {
            problem: Problem {
                family,
                terms: &terms,
                base: vec![0.0; 2],
                free: vec![0, 1],
            },
            priors: family.priors().to_vec(),
        };
        let found = modes(&target, vec![-0.3, -0.5], vec![0.4, 0.1]).unwrap();
        assert_eq!(found.len(), 1);
    }

    /// Where all run on the likelihood rises for ever, and a prior as wide as numbers go has next to no say: sampling
    /// begins from the priors themselves.
    #[test]
    fn a_density_without_a_mode_is_begun_from_its_priors() {
        let rows = vec![Observation::right(1.0, 0.0, 5.0).unwrap()];
        let terms = Terms::new(&Sample::new(rows));
        let family = by_name("exponential").unwrap();
        let prior = Prior {
            mean: 0.5,
            sd: 1e100,
        };
        let target = WithPrior {
            problem: Problem {
                family,
                terms: &terms,
                base: vec![0.0],
                free: vec![0],
            },
            priors: vec![prior],
        };
        let found = modes(&target, vec![0.0], vec![0.5]).unwrap();
        assert_eq!(found.len(), 1);
        let (at, shape) = &found[0];
        assert_eq!(at.as_slice(), [0.5]);
        assert!((shape.l()[(0, 0)] / 1e100 - 1.0).abs() < 1e-12);
    }
}
