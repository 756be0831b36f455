//! The product-limit curve (Kaplan & Meier 1958) for exact and right-censored lives with delayed entry.
//!
//! ```
//! use sealspan_life::product_limit::{at_risk, curve};
//! use sealspan_records::{Observation, Sample};
//! let ages = [1.0, 2.0, 3.0, 4.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
//! let sample = Sample::new(ages.into());
//! // Half of four are left after the second.
//! assert!((curve(&sample, 0.9).unwrap().survival(2.5) - 0.5).abs() < 1e-12);
//! assert_eq!(at_risk(&sample, &[1.0, 3.0]), [4.0, 2.0]);
//! ```

use rayon::prelude::*;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::{Sample, Seen};

/// The curve just after a failure age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Failure age.
    pub time: f64,
    /// Seals under watch just before it.
    pub at_risk: f64,
    /// Failures at it.
    pub failed: f64,
    /// Share surviving it, S.
    pub survival: f64,
    /// Cumulative hazard by it (Nelson–Aalen).
    pub hazard: f64,
    /// Greenwood's standard error of the survival; `None` once the curve has reached 0.
    pub std_error: Option<f64>,
    /// Lower end of the pointwise interval on the log(−log) scale; `None` where S is 0 or 1.
    pub lower: Option<f64>,
    /// Upper end; `None` as the lower.
    pub upper: Option<f64>,
}

/// A step curve of survival.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    /// Steps in order of age.
    pub steps: Vec<Step>,
}

/// Ages as sortable bits: the order of positive floats is that of their bit patterns. The last bit says
/// censored, so failures come before censorings at the same age.
fn key(t: f64, censored: bool) -> u64 {
    (t.to_bits() << 1) | u64::from(censored)
}

fn age(key: u64) -> f64 {
    f64::from_bits(key >> 1)
}

/// Product-limit curve with pointwise intervals at two-sided confidence `level`.
/// `None` when the sample holds intervals (use Turnbull's curve).
///
/// S = Π (1 − d/n) over the failure ages, with d failed of n under watch, who entered before the age and left at it or
/// later; its standard error is S√G with Greenwood's sum G = Σ d/(n(n − d)), its interval S^exp(±z√G/ln S) on the
/// log(−log) scale, the hazard Σ d/n (Klein & Moeschberger, Survival Analysis, chapter 4; from memory).
///
/// ```
/// use sealspan_life::product_limit::curve;
/// use sealspan_records::observation::{Observation, Sample};
/// let sample = Sample::new(vec![
///     Observation::exact(10.0, 0.0, 1.0)?,
///     Observation::right(15.0, 0.0, 2.0)?,
///     Observation::exact(20.0, 0.0, 1.0)?,
/// ]);
/// let steps = curve(&sample, 0.9).unwrap().steps;
/// assert_eq!((steps[0].survival, steps[1].survival), (0.75, 0.0));
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
#[must_use]
pub fn curve(sample: &Sample, level: f64) -> Option<Curve> {
    let rows = sample.rows();
    let mut exits = Vec::with_capacity(rows.len());
    let mut entries: Vec<(u64, f64)> = vec![];
    for o in rows {
        match o.seen() {
            Seen::Exact(t) => exits.push((key(t, false), o.count())),
            Seen::Right(t) => exits.push((key(t, true), o.count())),
            Seen::Interval(..) => return None,
        }
        if o.entry() > 0.0 {
            entries.push((key(o.entry(), true), o.count()));
        }
    }
    exits.par_sort_unstable_by_key(|e| e.0);
    entries.par_sort_unstable_by_key(|e| e.0);
    let late: f64 = entries.iter().map(|e| e.1).sum();
    let total: f64 = exits.iter().map(|e| e.1).sum();
    let mut steps = walk(&exits, &entries, total - late);
    let z = normal_quantile(0.5 + 0.5 * level);
    steps
        .par_chunks_mut(4096)
        .for_each(|chunk| chunk.iter_mut().for_each(|s| band(s, z)));
    Some(Curve { steps })
}

/// Steps with `std_error` holding the Greenwood sum, for [`band`] to finish.
fn walk(exits: &[(u64, f64)], entries: &[(u64, f64)], from_new: f64) -> Vec<Step> {
    let mut steps = Vec::with_capacity(exits.len());
    let (mut at_risk, mut survival, mut hazard, mut greenwood) = (from_new, 1.0, 0.0, 0.0);
    let mut entering = entries.iter().peekable();
    let mut exits = exits.iter().peekable();
    while let Some(&&(first, _)) = exits.peek() {
        let time = age(first);
        // Entry at exactly this age is not yet under watch just before it.
        while let Some(e) = entering.next_if(|e| age(e.0) < time) {
            at_risk += e.1;
        }
        let (mut failed, mut censored) = (0.0, 0.0);
        while let Some(e) = exits.next_if(|e| age(e.0) == time) {
            if e.0 & 1 == 0 {
                failed += e.1
            } else {
                censored += e.1
            }
        }
        if failed > 0.0 {
            survival *= (at_risk - failed).max(0.0) / at_risk;
            hazard += failed / at_risk;
            greenwood += failed / (at_risk * (at_risk - failed).max(0.0));
            steps.push(Step {
                time,
                at_risk,
                failed,
                survival,
                hazard,
                std_error: Some(greenwood),
                lower: None,
                upper: None,
            });
        }
        at_risk -= failed + censored;
    }
    steps
}

/// Greenwood's standard error and the interval on the log(−log) scale.
fn band(step: &mut Step, z: f64) {
    let greenwood = step.std_error.unwrap_or(f64::NAN);
    if step.survival <= 0.0 || !greenwood.is_finite() {
        step.std_error = None;
        return;
    }
    let root = greenwood.sqrt();
    step.std_error = Some(step.survival * root);
    let ln = step.survival.ln();
    if ln < 0.0 {
        let half = z * root / -ln;
        step.lower = Some((ln * half.exp()).exp());
        step.upper = Some((ln * (-half).exp()).exp());
    }
}

impl Curve {
    /// Share surviving age `t`, failures at it counted; 1 before the first, and after the last step what it was there.
    #[must_use]
    pub fn survival(&self, t: f64) -> f64 {
        let at = self.steps.partition_point(|s| s.time <= t);
        at.checked_sub(1)
            .and_then(|i| self.steps.get(i))
            .map_or(1.0, |s| s.survival)
    }
}

/// Seals under watch just before each of `times`: those who entered before it, or from new, and of whom anything is
/// known at it or later (a failure between two looks counts up to its upper end).
#[must_use]
pub fn at_risk(sample: &Sample, times: &[f64]) -> Vec<f64> {
    let watched = |t: f64| {
        let rows = sample
            .rows()
            .iter()
            .filter(|o| o.last() >= t && (o.entry() < t || o.entry() == 0.0));
        rows.map(sealspan_records::observation::Observation::count)
            .sum()
    };
    times.iter().map(|t| watched(*t)).collect()
}
