//! Exponential law: S(t) = exp(−t/m). θ = (ln m).

use crate::law::{Age, Dimension, HazardShape, Law, Link, Parameter};
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

    fn report<S: Scalar>([mu]: [S; 1], index: usize) -> S {
        if index == 0 { (-mu).exp() } else { mu.exp() }
    }

    fn ln_density<S: Scalar>([mu]: [S; 1], age: Age) -> S {
        -(-(mu - age.ln)).exp() - mu
    }

    fn ln_survival<S: Scalar>([mu]: [S; 1], age: Age) -> S {
        -(-(mu - age.ln)).exp()
    }

    fn ln_quantile<S: Scalar>([mu]: [S; 1], p: f64) -> S {
        mu + (-(-p).ln_1p()).ln()
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

    fn start(terms: &Terms) -> [f64; 1] {
        [terms.ln_mean_exponential()]
    }
}
