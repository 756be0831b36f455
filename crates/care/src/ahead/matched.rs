//! A count of many seldom, nearly independent events by its mean and variance.

use crate::counts::Counts;

/// Terms below this share of the greatest are left out.
const LEAST: f64 = 1e-14;

/// Binomial when the variance is below the mean (seals that end at most once), negative binomial when above
/// (seals that share a fate), Poisson between.
#[must_use]
pub(crate) fn matched(mean: f64, variance: f64) -> Counts {
    if mean <= 0.0 {
        return Counts::zero();
    }
    if variance >= mean * (1.0 - 1e-9) {
        return Counts::negative_binomial(mean, variance, LEAST);
    }
    let trials = (mean * mean / (mean - variance.max(0.0)))
        .round()
        .max(mean.ceil())
        .max(1.0);
    if trials > 1e15 {
        return Counts::poisson(mean, LEAST);
    }
    Counts::binomial(trials as usize, mean / trials, LEAST)
}
