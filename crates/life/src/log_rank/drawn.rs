//! The log-rank family where failures are known only to lie between two looks.
//!
//! Under the hypothesis of no difference all lives of a stratum follow one law, of which the interval curve
//! is the estimate without a family. Ages are drawn from it within their intervals, and the scores averaged:
//! an estimate of E(U | what was seen), whose variance is that of the scores of complete data less what the
//! drawing adds: V̄ − (1 − 1/m) B, with B the covariance of the scores between the m copies (Huang, Lee & Yu
//! 2008, from memory). Unlike a permutation it does not need the groups to be looked at alike.

use super::ages::ages;
use super::{MOST_GROUPS, NoTest, Scores, Weighting};
use crate::imputation::{FromCurve, completed};
use crate::turnbull::{IntervalCurve, curve};
use nalgebra::DMatrix;
use sealspan_records::observation::Sample;

/// Scores averaged over m copies with drawn ages, and what not knowing the ages costs them.
#[derive(Debug, Clone)]
pub struct Drawn {
    /// Mean scores, with the mean of the copies' covariances less (1 − 1/m) times that of the scores between them
    /// (Huang, Lee & Yu 2008, from memory).
    pub scores: Scores,
    /// Share of the variance of the scores, summed over groups, that not knowing the ages takes away.
    pub share: f64,
}

/// Scores of each weighting, in their order, over `copies` drawings, two at least, of failures known only to lie
/// between two looks; strata as in [`super::scores`]. Ages are drawn from the interval curve of all lives of the
/// stratum, under the hypothesis of no difference. Unlike a permutation it does not need the groups to be looked at
/// alike.
///
/// # Errors
/// [`NoTest`] without failures, or with too many groups.
///
/// ```
/// use sealspan_life::log_rank::{Weighting, drawn};
/// use sealspan_records::{Observation, Sample};
/// let group = |ages: [f64; 2]| Sample::new(ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap()).into());
/// let strata = [vec![group([1.0, 3.0]), group([2.0, 4.0])]];
/// // Exact ages are not drawn. Expected of the first group: 2/4 + 1/3 + 1/2 + 0 failures.
/// let found = &drawn(&strata, &[Weighting::LogRank], 2, 1).unwrap()[0];
/// assert!((found.scores.expected[0] - 4.0 / 3.0).abs() < 1e-12);
/// assert!((found.scores.score[0] - 2.0 / 3.0).abs() < 1e-12 && found.share.abs() < 1e-12);
/// ```
pub fn drawn(
    strata: &[Vec<Sample>],
    weightings: &[Weighting],
    copies: usize,
    seed: u64,
) -> Result<Vec<Drawn>, NoTest> {
    let k = strata.iter().map(Vec::len).max().unwrap_or(0);
    if k > MOST_GROUPS {
        return Err(NoTest::TooMany(MOST_GROUPS));
    }
    let copies = copies.max(2);
    let curves: Vec<Option<IntervalCurve>> = strata.iter().map(|s| together(s)).collect();
    let mut sums: Vec<(Scores, DMatrix<f64>)> = weightings
        .iter()
        .map(|_| (Scores::zero(k), DMatrix::zeros(k, k)))
        .collect();
    for copy in 0..copies {
        let each = one(strata, &curves, weightings, (k, seed, copy))?;
        for ((sum, squares), own) in sums.iter_mut().zip(each) {
            *squares += &own.score * own.score.transpose();
            sum.take(own);
        }
    }
    let out: Vec<Drawn> = sums.into_iter().map(|s| averaged(s, copies)).collect();
    let failed = |d: &Drawn| d.scores.observed.iter().sum::<f64>() > 0.0;
    if out.iter().all(failed) {
        Ok(out)
    } else {
        Err(NoTest::NoFailures)
    }
}

/// The interval curve of all groups of a stratum.
fn together(groups: &[Sample]) -> Option<IntervalCurve> {
    let rows = groups.iter().flat_map(|s| s.rows().iter().copied());
    curve(&Sample::new(rows.collect()), 0.9)
}

/// The scores of one completed copy.
fn one(
    strata: &[Vec<Sample>],
    curves: &[Option<IntervalCurve>],
    weightings: &[Weighting],
    (k, seed, copy): (usize, u64, usize),
) -> Result<Vec<Scores>, NoTest> {
    let mut out: Vec<Scores> = weightings.iter().map(|_| Scores::zero(k)).collect();
    for (at, (groups, curve)) in strata.iter().zip(curves).enumerate() {
        let Some(curve) = curve else { continue };
        let index = (copy * strata.len() + at) as u64;
        let mut from = FromCurve::new(curve, seed, index);
        let complete: Vec<Sample> = groups
            .iter()
            .map(|sample| {
                let mut rows = vec![];
                for o in sample.rows() {
                    completed(o, &mut |a, b| from.draw(a, b), &mut rows);
                }
                Sample::new(rows)
            })
            .collect();
        let ages = ages(&complete).ok_or(NoTest::Interval)?;
        for (scores, weighting) in out.iter_mut().zip(weightings) {
            scores.add_all(&ages, *weighting);
        }
    }
    Ok(out)
}

/// Mean scores of the copies, from their sums and the sum of their squares.
pub(crate) fn averaged((mut sum, squares): (Scores, DMatrix<f64>), copies: usize) -> Drawn {
    let m = copies as f64;
    sum.score /= m;
    sum.variance /= m;
    sum.observed.iter_mut().for_each(|x| *x /= m);
    sum.expected.iter_mut().for_each(|x| *x /= m);
    let between = (squares - &sum.score * sum.score.transpose() * m) / (m - 1.0);
    let lost = between * (1.0 - 1.0 / m);
    let whole = sum.variance.trace();
    let share = if whole > 0.0 {
        lost.trace() / whole
    } else {
        0.0
    };
    sum.variance -= lost;
    Drawn { scores: sum, share }
}
