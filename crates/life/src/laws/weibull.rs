//! Weibull law: S(t) = exp(−(t/η)^β). θ = (ln η, ln σ) with σ = 1/β.

use crate::law::{Age, Dimension, HazardShape, Law, Link, Parameter};
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// The two-parameter Weibull law (IEC 61649).
pub struct Weibull;

fn z<S: Scalar>([mu, ln_sigma]: [S; 2], ln_t: f64) -> S {
    (-(mu - ln_t)) * (-ln_sigma).exp()
}

impl Law<2> for Weibull {
    const NAME: &'static str = "weibull";
    const TITLE: &'static str = "Weibull";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "shape",
            meaning: "above 1: wears out with age; 1: fails at random; below 1: early failures",
            link: Link::Log,
            dimension: Dimension::None,
        },
        Parameter {
            name: "scale",
            meaning: "characteristic life, by which 63.2 % have failed",
            link: Link::Log,
            dimension: Dimension::Time,
        },
    ];

    fn report<S: Scalar>([mu, ln_sigma]: [S; 2], index: usize) -> S {
        if index == 0 {
            (-ln_sigma).exp()
        } else {
            mu.exp()
        }
    }

    fn ln_density<S: Scalar>(theta: [S; 2], age: Age) -> S {
        let z = z(theta, age.ln);
        z - z.exp() - theta[1] - age.ln
    }

    fn ln_survival<S: Scalar>(theta: [S; 2], age: Age) -> S {
        -z(theta, age.ln).exp()
    }

    fn ln_quantile<S: Scalar>([mu, ln_sigma]: [S; 2], p: f64) -> S {
        mu + ln_sigma.exp() * (-(-p).ln_1p()).ln()
    }

    fn ln_mean<S: Scalar>([mu, ln_sigma]: [S; 2]) -> S {
        mu + (ln_sigma.exp() + 1.0).ln_gamma()
    }

    fn index<S: Scalar>(theta: [S; 2], age: Age) -> S {
        z(theta, age.ln)
    }

    fn hazard_shape([_, ln_sigma]: [f64; 2]) -> HazardShape {
        if ln_sigma < 0.0 {
            HazardShape::Rising
        } else if ln_sigma > 0.0 {
            HazardShape::Falling
        } else {
            HazardShape::Constant
        }
    }

    fn start(terms: &Terms) -> [f64; 2] {
        // The exponential's answer, with a shape from the spread of ln life among the failures
        // (sd of a standard smallest extreme value: π/√6).
        let sigma = terms.ln_spread() * 6f64.sqrt() / std::f64::consts::PI;
        [terms.ln_mean_exponential(), sigma.clamp(0.02, 5.0).ln()]
    }
}
