//! Weibull with a fraction of weak seals: a share π can fail in this way and does so by a Weibull law, the rest never
//! does (limited failure population, Meeker 1987, "Limited failure population life tests", Technometrics 29):
//! S(t) = 1 − π + π exp(−(t/η)^β). The mean is infinite, and the age by which a share of π or more has failed not a
//! number. θ = (ln η, ln σ, logit π) with σ = 1/β.

use crate::law::{
    Age, Dimension, Edge, HazardShape, LN_SIGMA, LOCATION, LOGIT, Law, Limit, Link, Parameter,
    Prior, standardised,
};
use crate::laws::limits::{late_entries, weak_at_one_age};
use crate::laws::weibull;
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// The Weibull law of a weak fraction.
pub struct WeakFraction;

impl Law<3> for WeakFraction {
    const NAME: &'static str = "weak_fraction_weibull";
    const TITLE: &'static str = "Weibull with a weak fraction";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "shape",
            meaning: "shape of the weak seals' life",
            link: Link::Log,
            dimension: Dimension::None,
        },
        Parameter {
            name: "scale",
            meaning: "characteristic life of the weak seals",
            link: Link::Log,
            dimension: Dimension::Time,
        },
        Parameter {
            name: "weak_share",
            meaning: "share of seals that can fail in this way",
            link: Link::Logit,
            dimension: Dimension::None,
        },
    ];
    const EDGES: &'static [Edge] = &[Edge::Simpler {
        law: "weibull",
        parameter: 2,
        end: f64::INFINITY,
    }];
    const PRIORS: [Prior; 3] = [LOCATION, LN_SIGMA, LOGIT];

    fn report<S: Scalar>([mu, ln_sigma, logit]: [S; 3], index: usize) -> S {
        match index {
            0 => -ln_sigma,
            1 => mu,
            _ => logit,
        }
    }

    fn ln_density<S: Scalar>(theta: [S; 3], age: Age) -> S {
        let z = standardised(theta, age.ln).0;
        z - z.exp() - theta[1] - age.ln - (-theta[2]).ln_1p_exp()
    }

    fn ln_survival<S: Scalar>(theta: [S; 3], age: Age) -> S {
        let alive = (-theta[2].ln_1p_exp())
            .ln_add_exp(-(-theta[2]).ln_1p_exp() - standardised(theta, age.ln).0.exp());
        if alive.value() > -std::f64::consts::LN_2 {
            Self::ln_cdf(theta, age).ln_1m_exp()
        } else {
            alive
        }
    }

    fn ln_cdf<S: Scalar>(theta: [S; 3], age: Age) -> S {
        weibull::ln_failed(standardised(theta, age.ln).0) - (-theta[2]).ln_1p_exp()
    }

    fn ln_between<S: Scalar>(theta: [S; 3], lower: Option<Age>, upper: Age) -> S {
        let [mu, ln_sigma, logit] = theta;
        weibull::Weibull::ln_between([mu, ln_sigma], lower, upper) - (-logit).ln_1p_exp()
    }

    fn ln_age_at<S: Scalar>([mu, ln_sigma, logit]: [S; 3], ln_share: S) -> S {
        // Share failed among the weak.
        let failed = ln_share.ln_1m_exp() + (-logit).ln_1p_exp();
        if failed.value() >= 0.0 {
            return S::constant(f64::NAN);
        }
        mu + ln_sigma.exp() * (-failed.ln_1m_exp()).ln()
    }

    fn ln_mean<S: Scalar>(_: [S; 3]) -> S {
        S::constant(f64::INFINITY)
    }

    fn hazard_shape([_, ln_sigma, _]: [f64; 3]) -> HazardShape {
        if ln_sigma < 0.0 {
            HazardShape::RisingThenFalling
        } else {
            HazardShape::Falling
        }
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        let one_age = weak_at_one_age(terms);
        one_age.into_iter().chain(late_entries(terms)).collect()
    }

    fn starts(terms: &Terms) -> Vec<[f64; 3]> {
        let failed = (terms.extent.failures / terms.extent.total).clamp(0.01, 0.95);
        // The failures' own middle and spread, with all the weak failed or half of them.
        let [mu, ln_sigma] = weibull::start(terms);
        let middle = terms
            .ln_failure_halves(0.5)
            .map_or(mu, |(a, b)| 0.5 * (a + b));
        [failed, 0.5 * (1.0 + failed)]
            .into_iter()
            .map(|share| [middle + 0.3, ln_sigma, share.ln() - (-share).ln_1p()])
            .collect()
    }

    fn edge([_, _, logit]: [f64; 3], _: &Terms) -> Option<&'static str> {
        if logit > 8.0 {
            Some("all seals are weak: the plain Weibull fits as well")
        } else {
            (logit < -12.0)
                .then_some("the weak share goes to 0 while their life grows: watch longer to tell")
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use sealspan_records::{Observation, Sample};

    /// π = 0.3, Weibull shape 2 and characteristic life 100, by hand.
    #[test]
    fn a_third_fails_and_the_rest_never() {
        let theta = [100f64.ln(), 0.5f64.ln(), (0.3f64 / 0.7).ln()];
        for t in [1e-6, 40.0, 100.0, 250.0, 5000.0] {
            let weak = (-(t / 100.0f64).powi(2)).exp();
            let want = (0.3 * (-(t / 100.0f64).powi(2)).exp_m1()).ln_1p();
            let got = WeakFraction::ln_survival(theta, Age::new(t));
            assert!((got / want - 1.0).abs() < 1e-9, "{t}: {got}");
            let density: f64 = 0.3 * 2.0 * t / 1e4 * weak;
            let got = WeakFraction::ln_density(theta, Age::new(t));
            assert!(
                (got - (-(t / 100.0f64).powi(2) + (0.6 * t / 1e4).ln())).abs() < 1e-9,
                "{density}"
            );
        }
        let age = WeakFraction::ln_age_at(theta, 0.85f64.ln()).exp();
        assert!((age - 100.0 * 2f64.ln().sqrt()).abs() < 1e-9, "{age}");
        assert!(WeakFraction::ln_age_at(theta, 0.6f64.ln()).is_nan());
    }

    /// While few have failed twice the age multiplies the failures by 2^β: β is what is reported, as its ln.
    #[test]
    fn the_reported_shape_is_that_of_early_failures() {
        for ln_sigma in [-0.7, 0.0, 0.4] {
            let theta = [100f64.ln(), ln_sigma, 0.3];
            let failed = |t: f64| -WeakFraction::ln_survival(theta, Age::new(t)).exp_m1();
            let slope = (failed(2e-3) / failed(1e-3)).log2();
            let reported: f64 = WeakFraction::report(theta, 0);
            assert!((reported.exp() / slope - 1.0).abs() < 1e-3, "{ln_sigma}");
        }
    }

    /// The rate of failure, density over survival, of 1,200 ages: it only falls for shapes of 1 and less, and rises and
    /// then falls above.
    #[test]
    fn the_rate_goes_the_way_that_is_said() {
        for (shape, want) in [
            (0.5, HazardShape::Falling),
            (1.0, HazardShape::Falling),
            (2.0, HazardShape::RisingThenFalling),
        ] {
            let theta = [0.0, -f64::ln(shape), 0.3];
            let rates = (-1000..200).map(|i| {
                let age = Age::from_ln(0.005 * f64::from(i));
                let (density, alive): (f64, f64) = (
                    WeakFraction::ln_density(theta, age),
                    WeakFraction::ln_survival(theta, age),
                );
                density - alive
            });
            let rates: Vec<f64> = rates.collect();
            let mut ways: Vec<bool> = rates.windows(2).map(|w| w[1] > w[0]).collect();
            ways.dedup();
            let said = match want {
                HazardShape::Falling => vec![false],
                _ => vec![true, false],
            };
            assert_eq!(ways, said, "{shape}");
            assert_eq!(WeakFraction::hazard_shape(theta), want, "{shape}");
        }
    }

    /// Shares of e^−8 sound ones, and of e^−12 weak ones, are the ends: a plain Weibull law fitted by itself as well, and
    /// a life that only longer watching would tell.
    #[test]
    fn a_share_of_all_or_none_is_no_estimate() {
        let terms = Terms::new(&sealspan_records::Sample::new(vec![]));
        let said = |logit: f64| WeakFraction::edge([0.0, 0.0, logit], &terms).unwrap_or("");
        assert!(said(8.1).contains("all seals are weak"));
        assert!(said(-12.1).contains("watch longer"));
        for logit in [-11.9, 0.0, 7.9] {
            assert_eq!(said(logit), "", "{logit}");
        }
    }

    /// A search begins where the failures lie: with all the weak failed, and with half of the others weak as well.
    #[test]
    fn searches_begin_at_the_share_and_in_the_middle_of_the_failures() {
        use sealspan_records::observation::{Observation, Sample};
        let ages = [96.0, 97.0, 97.5, 98.0, 99.0, 100.0];
        let mut rows: Vec<Observation> = ages
            .iter()
            .map(|t| Observation::exact(*t, 0.0, 2.0).unwrap())
            .collect();
        rows.push(Observation::right(100.0, 0.0, 36.0).unwrap());
        let starts = WeakFraction::starts(&Terms::new(&Sample::new(rows)));
        let middle = ages.iter().map(|t: &f64| t.ln()).sum::<f64>() / 6.0;
        assert_eq!(starts.len(), 2);
        for ([mu, _, logit], share) in starts.into_iter().zip([0.25, 0.625]) {
            assert!((mu - middle - 0.3).abs() < 1e-12, "{mu}");
            assert!((1.0 / (1.0 + (-logit).exp()) - share).abs() < 1e-12);
        }
    }

    /// The search begins at the middle of the failures, with all the weak failed, or half of the others weak too.
    #[test]
    fn starts_lie_at_the_failures_middle() {
        let failed = [50.0, 100.0, 200.0, 400.0];
        let failed = failed.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let running = Observation::right(600.0, 0.0, 12.0).unwrap();
        let rows = failed.into_iter().chain([running]).collect();
        let found = WeakFraction::starts(&Terms::new(&Sample::new(rows)));
        // ln of 50, 100, 200 and 400 has the mean ln 141.4 and the standard deviation √1.25 ln 2.
        let spread = 1.25f64.sqrt() * 2f64.ln();
        let ln_sigma = (spread * 6f64.sqrt() / std::f64::consts::PI).ln();
        for (start, share) in found.iter().zip([0.25f64, 0.625]) {
            let want = [
                20_000f64.ln() * 0.5 + 0.3,
                ln_sigma,
                (share / (1.0 - share)).ln(),
            ];
            assert!(start.iter().zip(want).all(|(a, b)| (a - b).abs() < 1e-9));
        }
        assert_eq!(found.len(), 2);
    }
}
