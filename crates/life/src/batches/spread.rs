//! How far levels lie apart, from the likelihood profiled over their spread.

use crate::compare::Test;
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::{chi_square_quantile, chi_square_survival};

/// Ends of the search for τ, in ln life.
pub(crate) const LEAST: f64 = 1e-3;
pub(crate) const MOST: f64 = 3.0;
/// Gain of log-likelihood below which there is no spread.
const GAIN: f64 = 1e-6;

/// How far levels lie apart.
#[derive(Debug, Clone)]
pub struct Spread {
    /// Standard deviation τ of ln life between levels: the likeliest, sought between 0.001 and 3; 0 where none is
    /// likelier than no spread.
    pub tau: f64,
    /// Lower end of its profile-likelihood interval (χ² with one degree of freedom); 0 where that holds no spread. Of a
    /// τ stated from outside the data both ends are that τ.
    pub lower: f64,
    /// Upper end; `None` where the likelihood does not fall again up to 3.
    pub upper: Option<f64>,
    /// Likelihood-ratio test of τ = 0: an even mixture of chi-squares with 0 and 1 degree of freedom (Self & Liang
    /// 1987); p is 1 where τ is 0.
    pub test: Test,
}

impl Spread {
    /// τ with its interval and test. `profile` gives the largest log-likelihood at ln τ, `null` the one without spread;
    /// ln τ is found to within `close`.
    pub(crate) fn by_profile(
        profile: impl Fn(f64) -> f64,
        null: f64,
        confidence: f64,
        close: f64,
    ) -> Self {
        let (q, less) = minimise_bracketed(|q| -profile(q), LEAST.ln(), MOST.ln(), close);
        let tau = if -less > null + GAIN { q.exp() } else { 0.0 };
        let best = (-less).max(null);
        let floor = best - 0.5 * chi_square_quantile(confidence, 1.0);
        let over = |q: f64| profile(q) - floor;
        let lower = if tau <= 0.0 || null >= floor {
            0.0
        } else {
            bracketed(over, LEAST.ln(), q, 1e-2).map_or(0.0, f64::exp)
        };
        let from = if tau > 0.0 { q } else { LEAST.ln() };
        let statistic = 2.0 * (best - null);
        Self {
            tau,
            lower,
            upper: bracketed(over, from, MOST.ln(), 1e-2).map(f64::exp),
            test: Test {
                name: "no_spread_between_levels",
                statistic,
                df: 1.0,
                p_value: if tau > 0.0 {
                    0.5 * chi_square_survival(statistic, 1.0)
                } else {
                    1.0
                },
            },
        }
    }

    /// A τ stated from outside the data, with the log-likelihood at it and without it; it has no interval.
    pub(crate) fn stated(tau: f64, value: f64, null: f64) -> Self {
        let statistic = (2.0 * (value - null)).max(0.0);
        Self {
            tau,
            lower: tau,
            upper: Some(tau),
            test: Test {
                name: "no_spread_between_levels",
                statistic,
                df: 1.0,
                p_value: 0.5 * chi_square_survival(statistic, 1.0),
            },
        }
    }

    /// Why there is no upper end; `None` where there is one.
    ///
    /// ```
    /// use sealspan_life::regression::{Cell, Design, random_factor};
    /// use sealspan_life::{laws::by_name, terms::Terms};
    /// use sealspan_records::{Observation, Sample};
    /// let cell = |factor: f64| {
    ///     let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(factor * t, 0.0, 1.0).unwrap());
    ///     Cell { row: vec![1.0], terms: Terms::new(&Sample::new(ages.into())).into() }
    /// };
    /// let design = Design::of_cells(&["intercept".to_owned()], &[cell(1.0), cell(2.0)]);
    /// let law = by_name("exponential").unwrap();
    /// let found = random_factor(law, &design, &[0, 1], 2, 0.9, Some(0.5)).unwrap();
    /// assert_eq!((found.spread.tau, found.spread.why_no_upper()), (0.5, None));
    /// // Each level's shift δ balances its lives against its pull to 0: 4(mean/(m e^δ) − 1) = δ/τ².
    /// for (level, mean) in found.levels.iter().zip([100.0, 200.0]) {
    ///     let own = found.regression.x[0] + level.shift;
    ///     assert!((4.0 * (mean / own.exp() - 1.0) - level.shift / 0.25).abs() < 1e-4);
    /// }
    /// ```
    #[must_use]
    pub fn why_no_upper(&self) -> Option<&'static str> {
        self.upper
            .is_none()
            .then_some("the likelihood stays high however far the levels lie apart")
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A profile that is a parabola of ln τ about 0.3: the ends lie where it has fallen by half of 2.705543 (chi-square
    /// tables, 90 %, one degree of freedom); none below where the likelihood without spread is admitted.
    #[test]
    fn ends_lie_where_the_profile_has_fallen() {
        let profile = |q: f64| 10.0 - 2.0 * (q - 0.3f64.ln()).powi(2);
        let off = (0.5f64 * 2.705543 / 2.0).sqrt();
        for (null, lower) in [(5.0, 0.3 * (-off).exp()), (9.5, 0.0)] {
            let found = Spread::by_profile(profile, null, 0.9, 1e-4);
            assert!((found.tau / 0.3 - 1.0).abs() < 1e-3);
            assert!((found.lower - lower).abs() < 0.01 * 0.3, "{}", found.lower);
            assert!((found.upper.unwrap() / (0.3 * off.exp()) - 1.0).abs() < 0.02);
            assert!((found.test.statistic - 2.0 * (10.0 - null)).abs() < 1e-3);
        }
        // No higher with spread than without: none, from 0 up to where the profile has fallen.
        let found = Spread::by_profile(|q| 10.0 - q.exp(), 10.0, 0.9, 1e-4);
        assert_eq!(
            (found.tau, found.lower, found.test.p_value),
            (0.0, 0.0, 1.0)
        );
        assert!((found.upper.unwrap() / 1.352771 - 1.0).abs() < 0.02);
    }

    /// A stated spread is tested all the same: half a chi-square tail, 5 % at 2.705543.
    #[test]
    fn a_stated_spread_is_tested() {
        let found = Spread::stated(0.2, 10.0 + 0.5 * 2.705543, 10.0);
        assert!((found.test.p_value - 0.05).abs() < 1e-6, "{found:?}");
        assert_eq!((found.lower, found.upper), (0.2, Some(0.2)));
        assert_eq!(Spread::stated(0.2, 9.0, 10.0).test.statistic, 0.0);
    }

    /// A likelihood that hardly falls shows no spread; where it never falls again the missing end has its reason.
    #[test]
    fn a_flat_likelihood_shows_no_spread_and_no_end() {
        let found = Spread::by_profile(|q| 10.0 - 0.5 * (2.0 * q).exp(), 10.0, 0.9, 1e-4);
        assert_eq!((found.tau, found.lower), (0.0, 0.0));
        assert!(found.upper.is_some() && found.why_no_upper().is_none());
        let found = Spread::by_profile(|q| 10.0 + 0.1 * q, 5.0, 0.9, 1e-4);
        assert_eq!(found.upper, None);
        assert!(found.why_no_upper().is_some());
    }
}
