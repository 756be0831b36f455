//! Gamma law: density t^{k−1} e^{−t/s} / (s^k Γ(k)), mean ks. θ = (ln mean, ln k); ln T is log-gamma with q = 1/√k.

use crate::law::{
    Age, AtLimit, Dimension, HazardShape, LOCATION, Law, Limit, Link, Parameter, Prior,
};
use crate::laws::nought;
use crate::laws::weibull::hazard_of_shape;
use crate::quantity::Quantity;
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// The gamma law.
pub struct Gamma;

/// Standardised ln age, and q.
fn standard<S: Scalar>([ln_mean, ln_shape]: [S; 2], ln_t: f64) -> (S, S) {
    let half = ln_shape * 0.5;
    ((-(ln_mean - ln_t)) * half.exp(), (-half).exp())
}

impl Law<2> for Gamma {
    const NAME: &'static str = "gamma";
    const TITLE: &'static str = "gamma";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "shape",
            meaning: "above 1: wears out with age; 1: fails at random; below 1: early failures",
            link: Link::Log,
            dimension: Dimension::None,
        },
        Parameter {
            name: "scale",
            meaning: "mean life over shape",
            link: Link::Log,
            dimension: Dimension::Time,
        },
    ];
    const COSTLY: bool = true;
    const PRIORS: [Prior; 2] = [LOCATION, Prior { mean: 1.0, sd: 1.5 }];

    fn report<S: Scalar>([ln_mean, ln_shape]: [S; 2], index: usize) -> S {
        if index == 0 {
            ln_shape
        } else {
            ln_mean - ln_shape
        }
    }

    fn ln_density<S: Scalar>(theta: [S; 2], age: Age) -> S {
        let (w, q) = standard(theta, age.ln);
        w.ln_log_gamma_density(q) + theta[1] * 0.5 - age.ln
    }

    fn ln_survival<S: Scalar>(theta: [S; 2], age: Age) -> S {
        let (w, q) = standard(theta, age.ln);
        w.ln_log_gamma_survival(q)
    }

    fn ln_cdf<S: Scalar>(theta: [S; 2], age: Age) -> S {
        let (w, q) = standard(theta, age.ln);
        w.ln_log_gamma_cdf(q)
    }

    fn ln_age_at<S: Scalar>([ln_mean, ln_shape]: [S; 2], ln_share: S) -> S {
        let q = (ln_shape * -0.5).exp();
        ln_mean + q * ln_share.log_gamma_at_ln_survival(q)
    }

    fn ln_mean<S: Scalar>([ln_mean, _]: [S; 2]) -> S {
        ln_mean
    }

    fn hazard_shape([_, ln_shape]: [f64; 2]) -> HazardShape {
        hazard_of_shape(ln_shape)
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        nought::limits(terms)
    }

    fn end_at_limit(quantity: Quantity, terms: &Terms, cut: f64, side: f64) -> Option<AtLimit> {
        nought::end(quantity, terms, cut, side)
    }

    fn edge([_, ln_shape]: [f64; 2], _: &Terms) -> Option<&'static str> {
        (ln_shape < -12.0).then_some(
            "the shape goes to 0, where nearly all seals fail at once: this law has no estimate",
        )
    }

    fn starts(terms: &Terms) -> Vec<[f64; 2]> {
        // Variance of ln life: about 1/k.
        let usual = [
            terms.ln_mean_exponential(),
            -2.0 * terms.ln_spread().clamp(0.03, 3.0).ln(),
        ];
        let close = terms.close_together();
        let close = close.map(|(mean, spread)| [mean, -2.0 * spread.ln()]);
        close.into_iter().chain([usual]).collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_records::{Observation, Sample};

    /// A shape of next to nothing, where nearly all fail at once, is an end of the range.
    #[test]
    fn the_end_of_the_range_is_known() {
        let one = Observation::exact(40.0, 0.0, 1.0).unwrap();
        let terms = Terms::new(&Sample::new(vec![one]));
        assert!(Gamma::edge([4.0, -12.1], &terms).is_some());
        assert!(Gamma::edge([4.0, -11.9], &terms).is_none());
    }
}
