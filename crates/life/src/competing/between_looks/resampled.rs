//! Standard errors of an incidence by seals drawn anew with replacement.

use super::cells::Row;
use super::{ByModeMasses, NoErrors, OwnMass, masses};
use rayon::prelude::*;
use sealspan_numeric::random::Stream;

/// Resamples with at most so many stretches, the first that holds; with more there are none.
const EFFORT: [(usize, usize); 3] = [(150, 400), (400, 200), (1000, 100)];
/// Most seals that are drawn anew.
const MOST_SEALS: f64 = 20_000.0;

/// Standard errors at each mode's stretches.
pub(super) struct Errors {
    modes: Vec<Vec<f64>>,
    pub resamples: usize,
}

impl Errors {
    pub fn of(&self, mode: usize, at: usize) -> Option<f64> {
        self.modes.get(mode)?.get(at).copied()
    }
}

/// The spread of every mode's incidence, at the ends of the stretches found, over resamples.
pub(super) fn errors(
    rows: &[Row],
    found: &ByModeMasses,
    stretches: usize,
    seed: u64,
) -> Result<Errors, NoErrors> {
    let enough = EFFORT.iter().find(|(most, _)| stretches <= *most);
    let resamples = enough.ok_or(NoErrors::TooManyStretches(stretches))?.1;
    let upto = running(rows);
    let total = upto.last().copied().unwrap_or(0.0);
    if total > MOST_SEALS {
        return Err(NoErrors::TooManySeals);
    }
    let drawn: Vec<Vec<Vec<f64>>> = (0..resamples as u64)
        .into_par_iter()
        .map(|i| {
            let anew = resample(rows, &upto, &mut Stream::new(seed, i));
            let refit = masses(&anew, found.modes.len());
            let own = found.modes.iter().enumerate();
            own.map(|(mode, steps)| {
                let other = refit.as_ref().and_then(|r| r.modes.get(mode));
                let other = other.map_or(&[][..], Vec::as_slice);
                steps.iter().map(|s| share(other, s.upper)).collect()
            })
            .collect()
        })
        .collect();
    let spread = |mode: usize, at: usize| {
        let values = || drawn.iter().filter_map(|d| d.get(mode)?.get(at).copied());
        let n = resamples as f64;
        let mean = values().sum::<f64>() / n;
        (values().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
    };
    let modes = found.modes.iter().enumerate();
    let modes = modes.map(|(mode, steps)| (0..steps.len()).map(|at| spread(mode, at)).collect());
    Ok(Errors {
        modes: modes.collect(),
        resamples,
    })
}

/// Share failed by an age.
fn share(steps: &[OwnMass], age: f64) -> f64 {
    let at = steps.partition_point(|s| s.upper <= age);
    let last = at.checked_sub(1).and_then(|i| steps.get(i));
    last.map_or(0.0, |s| s.incidence)
}

fn running(rows: &[Row]) -> Vec<f64> {
    let mut sum = 0.0;
    let upto = rows.iter().map(|r| {
        sum += r.weight;
        sum
    });
    upto.collect()
}

/// As many seals, drawn with replacement.
fn resample(rows: &[Row], upto: &[f64], stream: &mut Stream) -> Vec<Row> {
    let total = upto.last().copied().unwrap_or(0.0);
    let mut weights = vec![0.0; rows.len()];
    for _ in 0..total.round() as usize {
        let target = stream.uniform() * total;
        let at = upto.partition_point(|u| *u <= target);
        if let Some(weight) = weights.get_mut(at) {
            *weight += 1.0;
        }
    }
    let drawn = rows.iter().zip(weights).filter(|(_, w)| *w > 0.0);
    drawn.map(|(r, weight)| Row { weight, ..*r }).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::rows;
    use super::*;
    use crate::competing::rows::{ByMode, ModeRow};
    use sealspan_records::observation::{Observation, Seen};

    /// With exact ages a resample's incidence is the share of its seals that ended by the mode up to an age; the error is
    /// their spread about their own mean, over one less than the resamples.
    #[test]
    fn the_error_is_the_spread_of_the_shares_drawn() {
        let ends = [(1.0, 0), (2.0, 1), (3.0, 0), (4.0, 0), (5.0, 1), (6.0, 0)];
        let lived = ends.map(|(age, mode)| ModeRow {
            observation: Observation::exact(age, 0.0, 2.0).unwrap(),
            mode: Some(mode),
        });
        let rows = rows(&ByMode::new(lived.into(), 2).unwrap());
        let found = masses(&rows, 2).unwrap();
        let seed = 5;
        let errors = errors(&rows, &found, ends.len(), seed).unwrap();
        assert_eq!(errors.resamples, 400);
        let upto = running(&rows);
        let drawn: Vec<Vec<Row>> = (0..400)
            .map(|i| resample(&rows, &upto, &mut Stream::new(seed, i)))
            .collect();
        for (mode, steps) in found.modes.iter().enumerate() {
            assert_eq!(steps.len(), [4, 2][mode]);
            for (at, step) in steps.iter().enumerate() {
                let counted = |r: &&Row| {
                    let by = matches!(r.seen, Seen::Exact(age) if age <= step.upper);
                    by && r.mode == Some(mode)
                };
                let shares: Vec<f64> = drawn
                    .iter()
                    .map(|d| d.iter().filter(counted).map(|r| r.weight).sum::<f64>() / 12.0)
                    .collect();
                let mean = shares.iter().sum::<f64>() / 400.0;
                let squares = shares.iter().map(|s| (s - mean).powi(2)).sum::<f64>();
                let want = (squares / 399.0).sqrt();
                let got = errors.of(mode, at).unwrap();
                assert!((got / want - 1.0).abs() < 1e-6, "{mode} {at}: {got} {want}");
            }
        }
    }
}
