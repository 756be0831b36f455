//! Many lives that the data leave possible: parameters drawn from the fit's asymptotic normal law.

use crate::fit::Fit;
use crate::life::Life;
use nalgebra::DVector;
use sealspan_numeric::random::Stream;

/// `count` lives with θ drawn from the normal law of the estimate (mean θ̂, covariance the inverse
/// observed information, on the unbounded scale). The same seed gives the same lives. Stated parameters
/// stay as stated. None at all where the covariance is not positive definite.
///
/// The normal law is an approximation that runs narrow with few failures; the fit's warnings say when.
///
/// ```
/// use sealspan_life::{draws::lives, fit::fit, laws::by_name};
/// use sealspan_records::{Observation, Sample};
/// let ages = [150.0, 190.0, 240.0, 250.0, 310.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
/// let fit = fit(by_name("weibull").unwrap(), &Sample::new(ages.into())).unwrap();
/// let drawn = lives(&fit, 1_000, 1);
/// let below = drawn.iter().filter(|l| l.survival(240.0) < fit.life().survival(240.0));
/// assert!((400..600).contains(&below.count()));
/// ```
#[must_use]
pub fn lives(fit: &Fit, count: usize, seed: u64) -> Vec<Life> {
    let n = fit.free.len();
    let free = &fit.free;
    let Some(root) = fit.free_covariance().cholesky().map(|c| c.l()) else {
        return vec![];
    };
    (0..count)
        .map(|i| {
            let mut stream = Stream::new(seed, i as u64);
            let normal = DVector::from_fn(n, |_, _| stream.normal());
            let off = &root * normal;
            let mut theta = fit.theta.clone();
            for (at, step) in free.iter().zip(off.iter()) {
                if let Some(slot) = theta.get_mut(*at) {
                    *slot += step;
                }
            }
            Life::new(fit.family, theta)
        })
        .collect()
}
