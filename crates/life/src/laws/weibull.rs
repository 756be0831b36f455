//! Weibull law: S(t) = exp(−(t/η)^β). θ = (ln η, ln σ) with σ = 1/β.

use crate::law::{
    Age, Dimension, HazardShape, LN_SIGMA, LOCATION, Law, Limit, Link, Parameter, Prior,
    standardised,
};
use crate::laws::limits::late_entries;
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// ln of a cumulative hazard below which it is nothing beside any share asked for, and would soon underflow.
const UNDERFLOW: f64 = -600.0;

/// The two-parameter Weibull law (IEC 61649).
pub struct Weibull;

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

    const LN_SCALE: bool = true;
    const STANDARD: bool = true;
    const ONE_MAXIMUM: bool = true;
    const PRIORS: [Prior; 2] = [LOCATION, LN_SIGMA];

    fn report<S: Scalar>([mu, ln_sigma]: [S; 2], index: usize) -> S {
        if index == 0 { -ln_sigma } else { mu }
    }

    fn ln_density_of_z<S: Scalar>(z: S) -> S {
        z - z.exp()
    }

    fn ln_survival_of_z<S: Scalar>(z: S) -> S {
        -z.exp()
    }

    fn ln_cdf<S: Scalar>(theta: [S; 2], age: Age) -> S {
        ln_failed(standardised(theta, age.ln).0)
    }

    fn ln_age_at<S: Scalar>([mu, ln_sigma]: [S; 2], ln_share: S) -> S {
        mu + ln_sigma.exp() * (-ln_share).ln()
    }

    fn ln_ratio_after<S: Scalar>(theta: [S; 2], now: Age, more: f64) -> S {
        // (H(now) + more)/H(now) to the power σ; the first H is nothing beside the second where it underflows.
        let ln_hazard = standardised(theta, now.ln).0;
        let growth = if ln_hazard.value() < UNDERFLOW {
            S::constant(more.ln()) - ln_hazard
        } else {
            (S::constant(more) / ln_hazard.exp()).ln_1p()
        };
        theta[1].exp() * growth
    }

    fn ln_mean<S: Scalar>([mu, ln_sigma]: [S; 2]) -> S {
        mu + (ln_sigma.exp() + 1.0).ln_gamma()
    }

    fn index<S: Scalar>(theta: [S; 2], age: Age) -> S {
        standardised(theta, age.ln).0
    }

    fn hazard_shape([_, ln_sigma]: [f64; 2]) -> HazardShape {
        hazard_of_shape(-ln_sigma)
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        late_entries(terms)
    }

    fn starts(terms: &Terms) -> Vec<[f64; 2]> {
        starts(terms)
    }
}

/// ln(1 − exp(−eᶻ)); z itself where eᶻ is too small to matter.
pub(super) fn ln_failed<S: Scalar>(z: S) -> S {
    if z.value() < -40.0 {
        z
    } else {
        (-z.exp()).ln_1m_exp()
    }
}

/// How a Weibull hazard moves, from ln of its shape.
pub(super) fn hazard_of_shape(ln_shape: f64) -> HazardShape {
    if ln_shape > 0.0 {
        HazardShape::Rising
    } else if ln_shape < 0.0 {
        HazardShape::Falling
    } else {
        HazardShape::Constant
    }
}

/// The usual start, and one for failures close together.
pub(super) fn starts(terms: &Terms) -> Vec<[f64; 2]> {
    let close = terms.close_together();
    let close = close.map(|(mean, spread)| [mean + 0.45 * spread, (spread * SPREAD).ln()]);
    close.into_iter().chain([start(terms)]).collect()
}

/// σ over the standard deviation of ln life: that of a standard smallest extreme value is π/√6.
pub(super) const SPREAD: f64 = 0.779_696_801_233_675_9;

/// The exponential's answer, with a shape from the spread of ln life among the failures (standard
/// deviation of a standard smallest extreme value: π/√6).
pub(super) fn start(terms: &Terms) -> [f64; 2] {
    let sigma = terms.ln_spread() * 6f64.sqrt() / std::f64::consts::PI;
    [terms.ln_mean_exponential(), sigma.clamp(0.02, 5.0).ln()]
}
