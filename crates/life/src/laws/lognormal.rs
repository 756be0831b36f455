//! Lognormal law: ln T is normal with mean μ and standard deviation σ, S(t) = Φ((μ − ln t)/σ). θ = (μ, ln σ).

use crate::law::{
    Age, Dimension, HazardShape, LN_SIGMA, LOCATION, Law, Limit, Link, Parameter, Prior,
    standardised,
};
use crate::laws::limits::late_entries;
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;
use sealspan_numeric::special::{LN_SQRT_TWO_PI, ln_normal_survival};

/// The lognormal law.
pub struct Lognormal;

impl Law<2> for Lognormal {
    const NAME: &'static str = "lognormal";
    const TITLE: &'static str = "lognormal";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "mu",
            meaning: "mean of ln life; its exponential is the median life",
            link: Link::Identity,
            dimension: Dimension::LnTime,
        },
        Parameter {
            name: "sigma",
            meaning: "standard deviation of ln life",
            link: Link::Log,
            dimension: Dimension::None,
        },
    ];

    const LN_SCALE: bool = true;
    const STANDARD: bool = true;
    const ONE_MAXIMUM: bool = true;
    const PRIORS: [Prior; 2] = [LOCATION, LN_SIGMA];

    fn report<S: Scalar>([mu, ln_sigma]: [S; 2], index: usize) -> S {
        if index == 0 { mu } else { ln_sigma }
    }

    fn ln_density_of_z<S: Scalar>(z: S) -> S {
        z * z * -0.5 - LN_SQRT_TWO_PI
    }

    fn ln_survival_of_z<S: Scalar>(z: S) -> S {
        z.ln_normal_survival()
    }

    fn ln_cdf<S: Scalar>(theta: [S; 2], age: Age) -> S {
        (-standardised(theta, age.ln).0).ln_normal_survival()
    }

    fn ln_age_at<S: Scalar>([mu, ln_sigma]: [S; 2], ln_share: S) -> S {
        mu + ln_sigma.exp() * ln_share.normal_at_ln_survival()
    }

    fn ln_mean<S: Scalar>([mu, ln_sigma]: [S; 2]) -> S {
        mu + (ln_sigma * 2.0).exp() * 0.5
    }

    fn index<S: Scalar>(theta: [S; 2], age: Age) -> S {
        standardised(theta, age.ln).0
    }

    fn survival_at_index(index: f64) -> f64 {
        ln_normal_survival(index).exp()
    }

    fn hazard_shape(_: [f64; 2]) -> HazardShape {
        HazardShape::RisingThenFalling
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        late_entries(terms)
    }

    fn starts(terms: &Terms) -> Vec<[f64; 2]> {
        // Median of the exponential with the same data, and the failures' spread.
        let usual = [
            terms.ln_mean_exponential() - 0.37,
            terms.ln_spread().clamp(0.05, 5.0).ln(),
        ];
        let close = terms.close_together();
        let close = close.map(|(mean, spread)| [mean, spread.ln()]);
        close.into_iter().chain([usual]).collect()
    }
}
