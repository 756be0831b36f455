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

#[cfg(test)]
mod tests {
    use super::matched;

    /// Variances that differ from the mean by rounding alone, on either side of it: Poisson, P(k) = e^(−m) m^k / k!.
    #[test]
    fn a_variance_equal_to_the_mean_but_for_rounding_is_a_poisson_counts() {
        let mean = 3.5_f64;
        for variance in [mean * (1.0 - 1e-12), mean, mean * (1.0 + 1e-12)] {
            let counts = matched(mean, variance);
            let mut want = (-mean).exp();
            for k in 0..20 {
                let got = counts.probability(k);
                assert!((got - want).abs() < 1e-8, "{variance} {k}: {got} {want}");
                want *= mean / (k + 1) as f64;
            }
        }
    }
}
