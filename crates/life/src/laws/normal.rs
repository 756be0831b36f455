//! Normal law: T is normal with mean m and standard deviation s, S(t) = Φ((m − t)/s). θ = (ln m, ln(s/m)), so that life
//! scales as with every other law. The law gives ages below 0 a chance, Φ(−m/s): it suits narrow wear-out only. An age
//! by which no more than that share has failed is not a number.

use crate::law::{Age, Dimension, HazardShape, LOCATION, Law, Limit, Link, Parameter, Prior};
use crate::laws::limits::{MEAN_NOUGHT, mean_nought};
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;
use sealspan_numeric::special::{LN_SQRT_TWO_PI, ln_normal_survival};

/// The normal law.
pub struct Normal;

/// (t/m − 1)/(s/m).
fn z<S: Scalar>([ln_mean, ln_ratio]: [S; 2], ln_t: f64) -> S {
    ((-(ln_mean - ln_t)).exp() - 1.0) * (-ln_ratio).exp()
}

impl Law<2> for Normal {
    const NAME: &'static str = "normal";
    const TITLE: &'static str = "normal";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "mean",
            meaning: "mean life",
            link: Link::Log,
            dimension: Dimension::Time,
        },
        Parameter {
            name: "sigma",
            meaning: "standard deviation of life",
            link: Link::Log,
            dimension: Dimension::Time,
        },
    ];
    const PRIORS: [Prior; 2] = [
        LOCATION,
        Prior {
            mean: -1.5,
            sd: 1.0,
        },
    ];

    fn report<S: Scalar>([ln_mean, ln_ratio]: [S; 2], index: usize) -> S {
        if index == 0 {
            ln_mean
        } else {
            ln_mean + ln_ratio
        }
    }

    fn ln_density<S: Scalar>(theta: [S; 2], age: Age) -> S {
        let z = z(theta, age.ln);
        z * z * -0.5 - LN_SQRT_TWO_PI - theta[0] - theta[1]
    }

    fn ln_survival<S: Scalar>(theta: [S; 2], age: Age) -> S {
        z(theta, age.ln).ln_normal_survival()
    }

    fn ln_cdf<S: Scalar>(theta: [S; 2], age: Age) -> S {
        (-z(theta, age.ln)).ln_normal_survival()
    }

    fn ln_age_at<S: Scalar>([ln_mean, ln_ratio]: [S; 2], ln_share: S) -> S {
        ln_mean + (ln_ratio.exp() * ln_share.normal_at_ln_survival()).ln_1p()
    }

    fn ln_mean<S: Scalar>([ln_mean, _]: [S; 2]) -> S {
        ln_mean
    }

    fn index<S: Scalar>(theta: [S; 2], age: Age) -> S {
        z(theta, age.ln)
    }

    fn survival_at_index(index: f64) -> f64 {
        ln_normal_survival(index).exp()
    }

    fn hazard_shape(_: [f64; 2]) -> HazardShape {
        HazardShape::Rising
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        mean_nought(terms)
    }

    fn edge([_, ln_ratio]: [f64; 2], _: &Terms) -> Option<&'static str> {
        (ln_ratio > 12.0).then_some(MEAN_NOUGHT)
    }

    fn starts(terms: &Terms) -> Vec<[f64; 2]> {
        let usual = [
            terms.ln_mean_exponential().min(terms.extent.oldest.ln()),
            terms.ln_spread().clamp(0.05, 1.0).ln(),
        ];
        let close = terms.close_together();
        let close = close.map(|(mean, spread)| [mean, spread.ln()]);
        close.into_iter().chain([usual]).collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_records::{Observation, Sample};

    /// A spread of very many mean lives is an end of the range.
    #[test]
    fn the_end_of_the_range_is_known() {
        let one = Observation::exact(40.0, 0.0, 1.0).unwrap();
        let terms = Terms::new(&Sample::new(vec![one]));
        assert!(Normal::edge([4.0, 12.1], &terms).is_some());
        assert!(Normal::edge([4.0, 11.9], &terms).is_none());
    }
}
