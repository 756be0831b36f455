//! The interval curve (Turnbull 1976): the survival of greatest likelihood for any mix of exact, right-,
//! left- and interval-censored lives with delayed entry. Mass inside a stretch has no place within it.

pub(crate) mod cells;
mod errors;
pub(crate) mod problem;
mod quadratic;
pub(crate) mod solve;
#[cfg(test)]
mod tests;

use errors::survival_errors;
use problem::Problem;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::Sample;
use thiserror::Error;

/// Mass in the stretch (lower, upper] (a single age when they are equal).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mass {
    /// Lower end.
    pub lower: f64,
    /// Upper end; infinite for the mass that outlives all looks.
    pub upper: f64,
    /// Share failing in it.
    pub share: f64,
    /// Share surviving it.
    pub survival: f64,
    /// Standard error of that survival from the information of the masses; `None` where the curve is 0,
    /// and everywhere when [`IntervalCurve::no_errors`] says why.
    pub std_error: Option<f64>,
    /// Lower end of the pointwise interval on the log(−log) scale.
    pub lower_bound: Option<f64>,
    /// Upper end.
    pub upper_bound: Option<f64>,
}

/// The interval curve.
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalCurve {
    /// Stretches that carry mass, in order.
    pub masses: Vec<Mass>,
    /// Log-likelihood: Σ ln of the mass each observation can lie in.
    pub log_likelihood: f64,
    /// Largest violation of the likelihood's own conditions per seal (0 at the maximum).
    pub violation: f64,
    /// Why no stretch has a standard error; `None` when they have.
    pub no_errors: Option<NoErrors>,
    /// In how many windows the stretches are freed for the standard errors, those far from each taken together in runs;
    /// `None` where all are free at once.
    pub windows: Option<usize>,
}

/// Why an interval curve has no standard errors.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoErrors {
    /// All failures lie in one stretch, which fixes the curve.
    #[error("only one stretch carries mass: the curve has one step and no error by this method")]
    OneMass,
    /// The looks do not fix every mass by itself.
    #[error("the looks do not fix every mass: some can be moved without loss of likelihood")]
    Singular,
}

/// Turnbull's curve with pointwise intervals at two-sided confidence `level`. `None` for no seals.
///
/// ```
/// use sealspan_life::turnbull::curve;
/// use sealspan_records::observation::{Observation, Sample};
/// // Four of ten seals found failed at the look at 100 days, three more at 200.
/// let sample = Sample::new(vec![
///     Observation::interval(0.0, 100.0, 0.0, 4.0)?,
///     Observation::interval(100.0, 200.0, 0.0, 3.0)?,
///     Observation::right(200.0, 0.0, 3.0)?,
/// ]);
/// let masses = curve(&sample, 0.9).unwrap().masses;
/// assert!((masses[1].survival - 0.3).abs() < 1e-12);
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
#[must_use]
pub fn curve(sample: &Sample, level: f64) -> Option<IntervalCurve> {
    let (ends, observed) = cells::cells(sample);
    let problem = Problem::new(observed, ends.len())?;
    let mass = solve::solve(&problem);
    let (errors, windows, no_errors) = match survival_errors(&problem, &mass) {
        Ok(found) => (found.after, found.windows, None),
        Err(why) => (vec![None; ends.len()], None, Some(why)),
    };
    let z = normal_quantile(0.5 + 0.5 * level);
    let mut masses = vec![];
    let mut gone = 0.0;
    for (((lower, upper), share), error) in ends.iter().zip(&mass).zip(errors) {
        if *share <= 0.0 {
            continue;
        }
        gone += share;
        let survival = if upper.is_finite() {
            (1.0 - gone).max(0.0)
        } else {
            0.0
        };
        let survival = if survival < 1e-12 { 0.0 } else { survival };
        let std_error = error.filter(|_| survival > 0.0);
        let bounds = std_error.map(|e| log_log(survival, e, z));
        masses.push(Mass {
            lower: *lower,
            upper: *upper,
            share: *share,
            survival,
            std_error,
            lower_bound: bounds.map(|b| b.0),
            upper_bound: bounds.map(|b| b.1),
        });
    }
    let slopes = problem.slopes(&mass);
    Some(IntervalCurve {
        masses,
        log_likelihood: problem.log_likelihood(&mass),
        violation: problem.violation(&mass, &slopes),
        no_errors,
        windows,
    })
}

fn log_log(survival: f64, error: f64, z: f64) -> (f64, f64) {
    let ln = survival.ln();
    let half = z * error / (survival * -ln);
    ((ln * half.exp()).exp(), (ln * (-half).exp()).exp())
}
