//! The cumulative hazard without a family (Nelson 1972, Aalen 1978): Σ d/n over the failure ages, for
//! exact and right-censored lives with delayed entry.

use crate::product_limit;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::Sample;

/// The cumulative hazard just after a failure age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Failure age.
    pub time: f64,
    /// Seals under watch just before it.
    pub at_risk: f64,
    /// Failures at it.
    pub failed: f64,
    /// Cumulative hazard by it, H = Σ d/n (a pure number: expected failures in one place kept filled).
    pub hazard: f64,
    /// Standard error of the cumulative hazard, √(Σ d/n²).
    pub std_error: f64,
    /// Lower end of the pointwise interval on the log scale, H exp(−z·se/H).
    pub lower: f64,
    /// Upper end, H exp(z·se/H).
    pub upper: f64,
}

/// A step curve of cumulative hazard.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CumulativeHazard {
    /// Steps in order of age.
    pub steps: Vec<Step>,
}

/// Cumulative hazard with pointwise intervals at two-sided confidence `level`, between 0 and 1.
/// `None` when the sample holds intervals, as for the product-limit curve.
///
/// Formulas: Klein & Moeschberger, Survival Analysis, section 4.2 (from memory).
///
/// ```
/// use sealspan_life::nelson_aalen::cumulative_hazard;
/// use sealspan_records::observation::{Observation, Sample};
/// let sample = Sample::new(vec![
///     Observation::exact(10.0, 0.0, 1.0)?,
///     Observation::right(15.0, 0.0, 2.0)?,
///     Observation::exact(20.0, 0.0, 1.0)?,
/// ]);
/// let curve = cumulative_hazard(&sample, 0.9).unwrap();
/// assert_eq!((curve.hazard(9.0), curve.hazard(10.0), curve.hazard(30.0)), (0.0, 0.25, 1.25));
/// assert!((curve.steps[1].std_error - (1.0f64 / 16.0 + 1.0).sqrt()).abs() < 1e-15);
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
#[must_use]
pub fn cumulative_hazard(sample: &Sample, level: f64) -> Option<CumulativeHazard> {
    let z = normal_quantile(0.5 + 0.5 * level);
    let mut variance = 0.0;
    let steps = product_limit::curve(sample, level)?.steps;
    let steps = steps.iter().map(|s| {
        variance += s.failed / (s.at_risk * s.at_risk);
        let std_error = f64::sqrt(variance);
        let half = z * std_error / s.hazard;
        Step {
            time: s.time,
            at_risk: s.at_risk,
            failed: s.failed,
            hazard: s.hazard,
            std_error,
            lower: s.hazard * (-half).exp(),
            upper: s.hazard * half.exp(),
        }
    });
    Some(CumulativeHazard {
        steps: steps.collect(),
    })
}

impl CumulativeHazard {
    /// Cumulative hazard by age `t`, failures at it counted; 0 before the first, and after the last step what it was
    /// there.
    #[must_use]
    pub fn hazard(&self, t: f64) -> f64 {
        let at = self.steps.partition_point(|s| s.time <= t);
        at.checked_sub(1)
            .and_then(|i| self.steps.get(i))
            .map_or(0.0, |s| s.hazard)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_records::observation::Observation;

    #[test]
    fn counts_and_delayed_entry_by_hand() {
        // Four watched from new; three more from age 6, so not at risk at 5; the one censored at 9 is
        // at risk when two fail at 9.
        let sample = Sample::new(vec![
            Observation::exact(5.0, 0.0, 1.0).unwrap(),
            Observation::exact(9.0, 0.0, 2.0).unwrap(),
            Observation::right(9.0, 0.0, 1.0).unwrap(),
            Observation::exact(12.0, 6.0, 3.0).unwrap(),
        ]);
        let curve = cumulative_hazard(&sample, 0.95).unwrap();
        let at_risk: Vec<f64> = curve.steps.iter().map(|s| s.at_risk).collect();
        assert_eq!(at_risk, [4.0, 6.0, 3.0]);
        let at = [4.0, 5.0, 11.0, 12.0].map(|t| curve.hazard(t));
        let by_hand = [
            0.0,
            1.0 / 4.0,
            1.0 / 4.0 + 2.0 / 6.0,
            1.0 / 4.0 + 2.0 / 6.0 + 1.0,
        ];
        assert!(at.iter().zip(by_hand).all(|(a, b)| (a - b).abs() < 1e-15));
        let last = curve.steps[2];
        assert!((last.hazard - (1.0 / 4.0 + 2.0 / 6.0 + 1.0)).abs() < 1e-15);
        let variance = 1.0 / 16.0 + 2.0 / 36.0 + 3.0 / 9.0;
        assert!((last.std_error.powi(2) - variance).abs() < 1e-15);
        assert!(((last.lower * last.upper).sqrt() / last.hazard - 1.0).abs() < 1e-14);
        let z = (last.upper / last.hazard).ln() * last.hazard / last.std_error;
        assert!((z - 1.959_963_984_540_054).abs() < 1e-12);
    }

    #[test]
    fn intervals_have_no_such_curve_and_no_failures_give_no_step() {
        let between = Observation::interval(3.0, 8.0, 0.0, 1.0).unwrap();
        assert!(cumulative_hazard(&Sample::new(vec![between]), 0.9).is_none());
        let running = Observation::right(8.0, 0.0, 1.0).unwrap();
        let curve = cumulative_hazard(&Sample::new(vec![running]), 0.9).unwrap();
        assert!(curve.steps.is_empty());
        assert_eq!(curve.hazard(8.0), 0.0);
    }
}
