//! Exponential law: S(t) = exp(−t/m). θ = (ln m).

use crate::law::{Age, Dimension, HazardShape, LOCATION, Law, Link, Parameter, Prior};
use crate::laws::weibull::ln_failed;
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// The exponential law: a constant failure rate, no ageing.
pub struct Exponential;

impl Law<1> for Exponential {
    const NAME: &'static str = "exponential";
    const TITLE: &'static str = "exponential";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "rate",
            meaning: "failures per unit of time, the same at every age",
            link: Link::Log,
            dimension: Dimension::PerTime,
        },
        Parameter {
            name: "mean",
            meaning: "mean life",
            link: Link::Log,
            dimension: Dimension::Time,
        },
    ];

    const ONE_MAXIMUM: bool = true;
    const PRIORS: [Prior; 1] = [LOCATION];

    fn report<S: Scalar>([mu]: [S; 1], index: usize) -> S {
        if index == 0 { -mu } else { mu }
    }

    fn ln_density<S: Scalar>([mu]: [S; 1], age: Age) -> S {
        -(-(mu - age.ln)).exp() - mu
    }

    fn ln_survival<S: Scalar>([mu]: [S; 1], age: Age) -> S {
        -(-(mu - age.ln)).exp()
    }

    fn ln_cdf<S: Scalar>([mu]: [S; 1], age: Age) -> S {
        ln_failed(-(mu - age.ln))
    }

    fn ln_age_at<S: Scalar>([mu]: [S; 1], ln_share: S) -> S {
        mu + (-ln_share).ln()
    }

    fn ln_ratio_after<S: Scalar>([mu]: [S; 1], now: Age, more: f64) -> S {
        ((mu - now.ln).exp() * more).ln_1p()
    }

    fn ln_mean<S: Scalar>([mu]: [S; 1]) -> S {
        mu
    }

    fn index<S: Scalar>([mu]: [S; 1], age: Age) -> S {
        -(mu - age.ln)
    }

    fn hazard_shape(_: [f64; 1]) -> HazardShape {
        HazardShape::Constant
    }

    fn starts(terms: &Terms) -> Vec<[f64; 1]> {
        vec![[terms.ln_mean_exponential()]]
    }
}
