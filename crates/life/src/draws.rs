//! Many lives that the data leave possible: parameters drawn from the fit's asymptotic normal law.

use crate::fit::Fit;
use crate::life::Life;
use nalgebra::DVector;
use sealspan_numeric::random::Stream;

/// `count` lives with θ drawn from the normal law of the estimate (mean θ̂, covariance the inverse
/// observed information, on the unbounded scale). The same seed gives the same lives. Stated parameters
/// stay as stated.
///
/// The normal law is an approximation that runs narrow with few failures; the fit's warnings say when.
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
