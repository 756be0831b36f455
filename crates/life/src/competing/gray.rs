//! Do groups fail by a mode in equal shares, with all modes at work? Gray's test (Gray 1988, Annals of Statistics
//! 16:1141; written down from memory, and held against values of an independent implementation).
//!
//! The log-rank test of one mode censors the others, and so compares how fast the mode would come were it
//! alone. This one compares what is seen: the share that fails by the mode. They part where the other modes
//! differ between the groups. It needs no independence of the modes.
//!
//! In group k let Y be the seals at risk, S the product-limit curve of all modes, F the incidence of the mode,
//! h = Y/S(t−), and R = h (1 − F(t−)): as many as would be at risk had those that ended by another mode stayed.
//! The scores are U = Σ (d − D R/ΣR) with d and D the failures by the mode in the group and in all. Their
//! covariance is that of the martingales of both kinds of failure, the incidence F₀ held equal, dF₀ = D/Σh.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the groups, whose number made every vector and matrix here"
)]

use super::between_looks::stretches;
use super::rows::ByMode;
use crate::compare::Test;
use crate::imputation::{FromCurve, completed};
use crate::log_rank::ages::{AtAge, ages};
use crate::log_rank::{Drawn, NoTest, Scores, averaged};
use nalgebra::{DMatrix, DVector};
use sealspan_records::observation::Sample;

/// Groups beyond which the covariance of the scores is not worked out: it takes their third power.
const MOST_GROUPS: usize = 60;

/// Name in outputs.
pub const NAME: &str = "gray";

/// Gray's test of equal cumulative incidence of `mode` in all groups; each stratum holds the lives of every
/// group, which may be none.
///
/// # Errors
/// [`NoTest`], with the reason.
///
/// ```
/// use sealspan_life::competing::gray::gray;
/// use sealspan_life::competing::rows::{ByMode, ModeRow};
/// use sealspan_records::observation::Observation;
/// let group = |ends: &[(f64, usize)]| -> Result<ByMode, Box<dyn std::error::Error>> {
///     let row = |(t, mode): &(f64, usize)| {
///         Observation::exact(*t, 0.0, 1.0).map(|observation| ModeRow { observation, mode: Some(*mode) })
///     };
///     let rows: Result<Vec<_>, _> = ends.iter().map(row).collect();
///     Ok(ByMode::new(rows?, 2)?)
/// };
/// let early = group(&[(1.0, 0), (2.0, 0), (3.0, 0), (4.0, 0), (5.0, 1)])?;
/// let late = group(&[(6.0, 1), (7.0, 1), (8.0, 1), (9.0, 1), (10.0, 0)])?;
/// assert!(gray(&[vec![early, late]], 0)?.p_value < 0.05);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn gray(strata: &[Vec<ByMode>], mode: usize) -> Result<Test, NoTest> {
    gray_scores(strata, mode)?.test(NAME)
}

/// The scores of [`gray`] with their covariance.
///
/// # Errors
/// [`NoTest`]: failures known only between two looks, none by the mode, too many groups, or a group that had
/// died out before others of it came under watch.
pub(crate) fn gray_scores(strata: &[Vec<ByMode>], mode: usize) -> Result<Scores, NoTest> {
    let mut sums = Scores::zero(width(strata)?);
    for groups in strata {
        let split: Vec<[Sample; 2]> = groups.iter().map(|g| split(g, mode)).collect();
        add(&mut sums, &split)?;
    }
    failed(sums)
}

/// The same over `copies` drawings of the ages known only to lie between two looks, from the likeliest shares by
/// mode of all groups of a stratum together; put together as [`crate::log_rank::drawn`] does.
///
/// # Errors
/// [`NoTest`]: none failed by the mode, too many groups, or a group that had died out before others came under watch.
///
/// ```
/// use sealspan_life::competing::gray::{NAME, gray, gray_drawn};
/// use sealspan_life::competing::rows::{ByMode, ModeRow};
/// use sealspan_records::Observation;
/// let group = |ends: [(f64, usize); 3]| {
///     let row = |(t, mode)| ModeRow {
///         observation: Observation::exact(t, 0.0, 1.0).unwrap(),
///         mode: Some(mode),
///     };
///     ByMode::new(ends.map(row).into(), 2).unwrap()
/// };
/// let strata = [vec![group([(1.0, 0), (2.0, 1), (5.0, 0)]), group([(3.0, 1), (4.0, 0), (6.0, 1)])]];
/// // With exact ages there is nothing to draw: the test is that without drawing.
/// let drawn = gray_drawn(&strata, 0, 2, 1).unwrap();
/// assert!(drawn.share.abs() < 1e-12);
/// let (ours, plain) = (drawn.scores.test(NAME).unwrap(), gray(&strata, 0).unwrap());
/// assert!((ours.statistic - plain.statistic).abs() < 1e-9);
/// ```
pub fn gray_drawn(
    strata: &[Vec<ByMode>],
    mode: usize,
    copies: usize,
    seed: u64,
) -> Result<Drawn, NoTest> {
    let k = width(strata)?;
    let copies = copies.max(2);
    let splits: Vec<Vec<[Sample; 2]>> = strata
        .iter()
        .map(|groups| groups.iter().map(|g| split(g, mode)).collect())
        .collect();
    let masses: Vec<_> = splits.iter().map(|groups| stretches(groups)).collect();
    let mut sum = Scores::zero(k);
    let mut squares = DMatrix::zeros(k, k);
    for copy in 0..copies {
        let mut own = Scores::zero(k);
        for (at, (groups, masses)) in splits.iter().zip(&masses).enumerate() {
            let index = 2 * (copy * splits.len() + at) as u64;
            let mut from = [0, 1].map(|kind: usize| {
                FromCurve::of_masses(masses[kind].clone(), seed, index + kind as u64)
            });
            let whole: Vec<[Sample; 2]> = groups.iter().map(|g| complete(g, &mut from)).collect();
            add(&mut own, &whole)?;
        }
        squares += &own.score * own.score.transpose();
        sum.take(own);
    }
    let mut drawn = averaged((sum, squares), copies);
    drawn.scores = failed(drawn.scores)?;
    Ok(drawn)
}

fn width(strata: &[Vec<ByMode>]) -> Result<usize, NoTest> {
    let k = strata.iter().map(Vec::len).max().unwrap_or(0);
    if k > MOST_GROUPS {
        return Err(NoTest::TooMany(MOST_GROUPS));
    }
    Ok(k)
}

fn failed(sums: Scores) -> Result<Scores, NoTest> {
    if sums.observed.iter().sum::<f64>() > 0.0 {
        Ok(sums)
    } else {
        Err(NoTest::NoFailures)
    }
}

/// Lives that ended by the mode, and all others.
fn split(lives: &ByMode, mode: usize) -> [Sample; 2] {
    let of = |own: bool| {
        let rows = lives.rows().iter();
        let rows = rows.filter(|r| (r.mode == Some(mode)) == own);
        // In one order: drawn ages must not hang on how the rows were listed.
        Sample::new(rows.map(|r| r.observation).collect()).in_order()
    };
    [of(true), of(false)]
}

/// Ages between two looks drawn, each kind's from its own masses.
fn complete(group: &[Sample; 2], from: &mut [FromCurve; 2]) -> [Sample; 2] {
    let mut one = |kind: usize| {
        let mut rows = vec![];
        for o in group[kind].rows() {
            completed(o, &mut |a, b| from[kind].draw(a, b), &mut rows);
        }
        Sample::new(rows)
    };
    [one(0), one(1)]
}

/// Adds a stratum.
fn add(scores: &mut Scores, groups: &[[Sample; 2]]) -> Result<(), NoTest> {
    // Those that end by the mode stand before the others, group by group.
    let kinds = groups.iter().map(|g| &g[0]);
    let all: Vec<Sample> = kinds.chain(groups.iter().map(|g| &g[1])).cloned().collect();
    let mut run = Run::new(groups.len());
    for at in ages(&all).ok_or(NoTest::Interval)? {
        run.pass(&At::new(&at, groups.len()), scores)?;
    }
    let k = groups.len();
    scores
        .variance
        .view_mut((0, 0), (k, k))
        .zip_apply(&run.finished(), |v, own| *v += own);
    Ok(())
}

/// At one age, by group: at risk, and failed by the mode and by others.
struct At {
    at_risk: DVector<f64>,
    own: DVector<f64>,
    others: DVector<f64>,
}

impl At {
    fn new(at: &AtAge, k: usize) -> Self {
        Self {
            at_risk: DVector::from_fn(k, |i, _| at.at_risk[i] + at.at_risk[k + i]),
            own: DVector::from_fn(k, |i, _| at.failed[i]),
            others: DVector::from_fn(k, |i, _| at.failed[k + i]),
        }
    }
}

/// Every group up to an age. The weight that a failure in group r has in the scores is p + q C(∞), with p and q
/// known at its age and C(∞) only at the end, so their squares are summed apart.
struct Run {
    survival: DVector<f64>,
    incidence: DVector<f64>,
    /// Incidence were all groups alike.
    pooled: f64,
    /// C: column r is what the failures of group r still move in the scores.
    still: DMatrix<f64>,
    /// Σ w p pᵀ of all groups.
    variance: DMatrix<f64>,
    /// Σ w q p, a column a group.
    cross: DMatrix<f64>,
    /// Σ w q².
    square: DVector<f64>,
}

impl Run {
    fn new(k: usize) -> Self {
        Self {
            survival: DVector::from_element(k, 1.0),
            incidence: DVector::zeros(k),
            pooled: 0.0,
            still: DMatrix::zeros(k, k),
            variance: DMatrix::zeros(k, k),
            cross: DMatrix::zeros(k, k),
            square: DVector::zeros(k),
        }
    }

    fn pass(&mut self, at: &At, scores: &mut Scores) -> Result<(), NoTest> {
        let before = self.survival.clone();
        let k = before.len();
        if (0..k).any(|r| at.at_risk[r] > 0.0 && before[r] <= 0.0) || self.pooled >= 1.0 {
            return Err(NoTest::DiedOut);
        }
        let h = DVector::from_fn(k, |r, _| {
            if at.at_risk[r] > 0.0 {
                at.at_risk[r] / before[r]
            } else {
                0.0
            }
        });
        let (whole, died) = (h.sum(), at.own.sum());
        let waiting = h.zip_map(&self.incidence, |h, f| h * (1.0 - f));
        if died > 0.0 {
            for r in 0..k {
                let expected = died * waiting[r] / waiting.sum();
                scores.observed[r] += at.own[r];
                scores.expected[r] += expected;
                scores.score[r] += at.own[r] - expected;
            }
        }
        for r in (0..k).filter(|r| at.at_risk[*r] > 0.0) {
            let n = at.at_risk[r];
            self.incidence[r] += before[r] * at.own[r] / n;
            self.survival[r] *= ((n - at.own[r] - at.others[r]) / n).max(0.0);
        }
        let rate = died / (whole * (1.0 - self.pooled));
        self.pooled += died / whole;
        if died > 0.0 {
            let moved = DMatrix::from_diagonal(&h) - &h * h.transpose() / whole;
            self.still += &moved * rate;
            for r in (0..k).filter(|r| at.at_risk[*r] > 0.0) {
                let q = 1.0 - self.left(r).unwrap_or(0.0);
                // As many seals as the hypothesis has at risk in this group.
                let n = whole * before[r];
                let weight = alike(died, n) * before[r] * died / (whole * at.at_risk[r]);
                self.add(r, &moved.column(r).into_owned(), q, weight);
            }
        }
        for r in (0..k).filter(|r| at.others[*r] > 0.0) {
            if let Some(left) = self.left(r) {
                let (n, d) = (at.at_risk[r], at.others[r]);
                let weight = alike(d, n) * before[r] * before[r] * d / (n * n);
                self.add(r, &DVector::zeros(k), -left, weight);
            }
        }
        Ok(())
    }

    /// (1 − F₀)/S of a group; `None` where none survives.
    fn left(&self, r: usize) -> Option<f64> {
        (self.survival[r] > 0.0).then(|| (1.0 - self.pooled) / self.survival[r])
    }

    fn add(&mut self, r: usize, moved: &DVector<f64>, q: f64, weight: f64) {
        let p = moved - self.still.column(r) * q;
        self.variance += &p * p.transpose() * weight;
        self.cross
            .column_mut(r)
            .zip_apply(&p, |c, p| *c += weight * q * p);
        self.square[r] += weight * q * q;
    }

    fn finished(mut self) -> DMatrix<f64> {
        for r in 0..self.square.len() {
            let (c, cross) = (self.still.column(r), self.cross.column(r));
            self.variance += c * c.transpose() * self.square[r];
            self.variance += c * cross.transpose() + cross * c.transpose();
        }
        self.variance
    }
}

/// What failures at the same age among n leave of their variance: (n − d)/(n − 1).
fn alike(d: f64, n: f64) -> f64 {
    if d > 1.0 && n > 1.0 {
        ((n - d) / (n - 1.0)).max(0.0)
    } else {
        1.0
    }
}

#[cfg(test)]
mod tests;
