//! Plotting positions: adjusted ranks with suspensions and median ranks, as IEC 61649 describes them (from memory), and
//! steps of the curve without a law. The straight line through ranks stands in [`crate::rank_regression`].

use crate::product_limit;
use crate::turnbull;
use sealspan_records::observation::{Sample, Seen};
use statrs::distribution::{Beta, ContinuousCDF};

/// A failure with its rank among failures and suspensions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranked {
    /// Failure age.
    pub time: f64,
    /// Adjusted rank (mean order number).
    pub rank: f64,
    /// Median rank after Benard: (rank − 0.3) / (n + 0.4).
    pub benard: f64,
    /// Median rank: median of the beta law with parameters rank and n + 1 − rank.
    pub median: f64,
}

/// Adjusted ranks of exact failures among suspensions (IEC 61649; each suspension lets later failures
/// share its place: the step grows to (n + 1 − rank before) / (1 + seals left)). Failures come before
/// suspensions at the same age; n is the number of seals. `None` with intervals, delayed entries, counts that are not
/// whole, or rows of over a million seals.
///
/// ```
/// use sealspan_life::ranks::adjusted_ranks;
/// use sealspan_records::{Observation, Sample};
/// let seals = vec![
///     Observation::exact(10.0, 0.0, 1.0).unwrap(),
///     Observation::right(20.0, 0.0, 1.0).unwrap(),
///     Observation::exact(30.0, 0.0, 1.0).unwrap(),
/// ];
/// let ranks = adjusted_ranks(&Sample::new(seals)).unwrap();
/// assert_eq!(ranks.iter().map(|r| r.rank).collect::<Vec<_>>(), [1.0, 2.5]);
/// ```
#[must_use]
pub fn adjusted_ranks(sample: &Sample) -> Option<Vec<Ranked>> {
    let mut seals = vec![];
    for o in sample.rows() {
        let (t, failed) = match o.seen() {
            Seen::Exact(t) => (t, true),
            Seen::Right(t) => (t, false),
            Seen::Interval(..) => return None,
        };
        if o.entry() > 0.0 || o.count().fract() != 0.0 || o.count() > 1e6 {
            return None;
        }
        seals.extend(std::iter::repeat_n((t, failed), o.count() as usize));
    }
    seals.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let n = seals.len() as f64;
    let mut rank = 0.0;
    let mut out = vec![];
    for (i, (time, failed)) in seals.iter().enumerate() {
        if *failed {
            let left = n - i as f64;
            rank += (n + 1.0 - rank) / (1.0 + left);
            let median = Beta::new(rank, n + 1.0 - rank).ok()?.inverse_cdf(0.5);
            out.push(Ranked {
                time: *time,
                rank,
                benard: (rank - 0.3) / (n + 0.4),
                median,
            });
        }
    }
    Some(out)
}

/// Which residuals a straight line through the plotting positions makes small.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regress {
    /// The transformed rank on ln age.
    RankOnAge,
    /// ln age on the transformed rank.
    AgeOnRank,
}

/// A point of a probability plot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plotted {
    /// Age, or the lower end of the stretch in which the failures lie.
    pub from: f64,
    /// Age, or the upper end of that stretch.
    pub time: f64,
    /// Share failed: the middle of the empirical curve's step, 1 − (S before + S after)/2.
    pub failed: f64,
}

/// Plotting positions for any kind of data: the middle of each step of the product-limit or Turnbull curve (Meeker &
/// Escobar 1998, section 6.4; from memory), in order of age; of Turnbull's curve without what fails beyond the last
/// look. Empty where nothing failed.
///
/// ```
/// use sealspan_life::ranks::plotted;
/// use sealspan_records::{Observation, Sample};
/// let ages = [10.0, 20.0, 30.0, 40.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
/// // Without suspensions: (i − 0.5)/n.
/// let points = plotted(&Sample::new(ages.into()));
/// assert_eq!(points.len(), 4);
/// for (point, failed) in points.iter().zip([0.125, 0.375, 0.625, 0.875]) {
///     assert!((point.failed - failed).abs() < 1e-12 && point.from == point.time);
/// }
/// ```
#[must_use]
pub fn plotted(sample: &Sample) -> Vec<Plotted> {
    let mut before = 1.0;
    let mut middle = |from: f64, time: f64, survival: f64| {
        let failed = 1.0 - 0.5 * (before + survival);
        before = survival;
        Plotted { from, time, failed }
    };
    match product_limit::curve(sample, 0.9) {
        Some(curve) => curve
            .steps
            .iter()
            .map(|s| middle(s.time, s.time, s.survival))
            .collect(),
        None => turnbull::curve(sample, 0.9)
            .map(|curve| {
                let finite = curve.masses.iter().filter(|m| m.upper.is_finite());
                finite
                    .map(|m| middle(m.lower, m.upper, m.survival))
                    .collect()
            })
            .unwrap_or_default(),
    }
}
