//! Residuals of a fit, seal by seal (Cox & Snell 1968; Therneau, Grambsch & Fleming 1990 for the deviance form).

use crate::family::Family;
use crate::fit::Fit;
use sealspan_records::observation::{Observation, Sample, Seen};

/// One seal's residuals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// The observation.
    pub observation: Observation,
    /// Cumulative hazard lived through while watched, r = ln S(entry) − ln S(end): exponential with mean 1 (censored
    /// where the seal is) when the law holds.
    pub cox_snell: f64,
    /// The same made roughly symmetric about 0: large and positive for a seal that failed too early, large and negative
    /// for one that lasted too long. With M = 1 − r of a failure and −r of another seal, sign(M) √(−2(M + ln r)) of a
    /// failure and −√(2r) of another.
    pub deviance: f64,
}

/// Residuals of every row, in their order, of one of its seals whatever its count. A failure known only between two
/// ages is taken where half of that stretch's probability lies.
///
/// ```
/// use sealspan_life::{fit::fit, laws::by_name, residuals::residuals};
/// use sealspan_records::{Observation, Sample};
/// let sample = Sample::new(vec![
///     Observation::exact(10.0, 0.0, 1.0).unwrap(),
///     Observation::exact(40.0, 0.0, 1.0).unwrap(),
///     Observation::right(150.0, 0.0, 1.0).unwrap(),
/// ]);
/// // Two failures in 200 units of time: the mean is 100, and t/100 the hazard lived through.
/// let found = residuals(&fit(by_name("exponential").unwrap(), &sample).unwrap(), &sample);
/// for (residual, hazard) in found.iter().zip([0.1, 0.4, 1.5]) {
///     assert!((residual.cox_snell - hazard).abs() < 1e-9);
/// }
/// // One that goes on has −√(2 × its hazard).
/// assert!((found[2].deviance + 3.0_f64.sqrt()).abs() < 1e-9);
/// ```
#[must_use]
pub fn residuals(fit: &Fit, sample: &Sample) -> Vec<Residual> {
    residuals_at(fit.family, &fit.theta, sample)
}

/// The same for a law at θ, as a regression gives it for each design row.
///
/// ```
/// use sealspan_life::{laws::by_name, residuals::residuals_at};
/// use sealspan_records::{Observation, Sample};
/// let sample = Sample::new(vec![Observation::exact(250.0, 50.0, 1.0).unwrap()]);
/// let found = residuals_at(by_name("exponential").unwrap(), &[100.0_f64.ln()], &sample);
/// assert!((found[0].cox_snell - 2.0).abs() < 1e-12 && found[0].deviance < 0.0);
/// ```
#[must_use]
pub fn residuals_at(family: &dyn Family, theta: &[f64], sample: &Sample) -> Vec<Residual> {
    let hazard = |t: f64| -family.ln_survival(theta, t);
    sample
        .rows()
        .iter()
        .map(|o| {
            let lived = match o.seen() {
                Seen::Exact(t) | Seen::Right(t) => hazard(t),
                Seen::Interval(a, b) => {
                    let (alive, later) = ((-hazard(a)).exp(), (-hazard(b)).exp());
                    -(0.5 * (alive + later)).ln()
                }
            };
            let cox_snell = (lived - hazard(o.entry())).max(0.0);
            let failed = f64::from(u8::from(o.ended()));
            let martingale = failed - cox_snell;
            let inner = if failed > 0.0 {
                martingale + cox_snell.max(f64::MIN_POSITIVE).ln()
            } else {
                martingale
            };
            Residual {
                observation: *o,
                cox_snell,
                deviance: (-2.0 * inner).max(0.0).sqrt().copysign(martingale),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::fit;
    use crate::laws::by_name;
    use sealspan_records::observation::NotAnObservation;

    /// At the maximum of an exponential the residuals sum to the number of failures.
    #[test]
    fn sum_to_the_failures() -> Result<(), NotAnObservation> {
        let sample = Sample::new(vec![
            Observation::exact(10.0, 0.0, 1.0)?,
            Observation::exact(45.0, 5.0, 1.0)?,
            Observation::right(80.0, 0.0, 1.0)?,
        ]);
        let exponential = by_name("exponential").unwrap_or(crate::laws::all()[0]);
        let Ok(fit) = fit(exponential, &sample) else {
            return Err(NotAnObservation::BadCount(0.0));
        };
        let all = residuals(&fit, &sample);
        let sum: f64 = all.iter().map(|r| r.cox_snell).sum();
        assert!((sum - 2.0).abs() < 1e-9, "{sum}");
        // Early failure: positive; long survival: negative.
        assert!(all.first().is_some_and(|r| r.deviance > 0.0));
        assert!(all.last().is_some_and(|r| r.deviance < 0.0));
        Ok(())
    }
}
