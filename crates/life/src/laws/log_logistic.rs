//! Log-logistic law: S(t) = 1 / (1 + (t/median)^shape). θ = (ln median, ln σ) with σ = 1/shape. The mean is infinite
//! for a shape of 1 or less.

use crate::law::{
    Age, Dimension, HazardShape, LN_SIGMA, LOCATION, Law, Limit, Link, Parameter, Prior,
    standardised,
};
use crate::laws::limits::late_entries;
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// The log-logistic law.
pub struct LogLogistic;

impl Law<2> for LogLogistic {
    const NAME: &'static str = "loglogistic";
    const TITLE: &'static str = "log-logistic";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "shape",
            meaning: "above 1 the failure rate rises to a peak and falls; to 1 it only falls",
            link: Link::Log,
            dimension: Dimension::None,
        },
        Parameter {
            name: "scale",
            meaning: "median life",
            link: Link::Log,
            dimension: Dimension::Time,
        },
    ];
    const LN_SCALE: bool = true;
    const STANDARD: bool = true;
    const ONE_MAXIMUM: bool = true;
    const PRIORS: [Prior; 2] = [LOCATION, LN_SIGMA];

    fn report<S: Scalar>([mu, ln_sigma]: [S; 2], index: usize) -> S {
        if index == 0 { -ln_sigma } else { mu }
    }

    fn ln_density_of_z<S: Scalar>(z: S) -> S {
        z - z.ln_1p_exp() * 2.0
    }

    fn ln_survival_of_z<S: Scalar>(z: S) -> S {
        -z.ln_1p_exp()
    }

    fn ln_cdf<S: Scalar>(theta: [S; 2], age: Age) -> S {
        -(-standardised(theta, age.ln).0).ln_1p_exp()
    }

    fn ln_age_at<S: Scalar>([mu, ln_sigma]: [S; 2], ln_share: S) -> S {
        mu + ln_sigma.exp() * (-ln_share).ln_exp_m1()
    }

    fn ln_mean<S: Scalar>([mu, ln_sigma]: [S; 2]) -> S {
        let sigma = ln_sigma.exp();
        if sigma.value() >= 1.0 {
            return S::constant(f64::INFINITY);
        }
        mu + (sigma + 1.0).ln_gamma() + (-sigma + 1.0).ln_gamma()
    }

    fn index<S: Scalar>(theta: [S; 2], age: Age) -> S {
        standardised(theta, age.ln).0
    }

    fn survival_at_index(index: f64) -> f64 {
        1.0 / (1.0 + index.exp())
    }

    fn hazard_shape([_, ln_sigma]: [f64; 2]) -> HazardShape {
        if ln_sigma < 0.0 {
            HazardShape::RisingThenFalling
        } else {
            HazardShape::Falling
        }
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        late_entries(terms)
    }

    fn starts(terms: &Terms) -> Vec<[f64; 2]> {
        // Standard deviation of a standard logistic: π/√3.
        let sigma = terms.ln_spread() * 3f64.sqrt() / std::f64::consts::PI;
        let usual = [
            terms.ln_mean_exponential() - 0.37,
            sigma.clamp(0.03, 5.0).ln(),
        ];
        let close = terms.close_together();
        let close = close.map(|(mean, _)| [mean, sigma.ln()]);
        close.into_iter().chain([usual]).collect()
    }
}
