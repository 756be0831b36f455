//! Generalised gamma law in Prentice's form: ln T = μ + σU, U log-gamma with parameter q (Prentice 1974;
//! Lawless 2003, section 5.3): density of U |q| a^a exp(a(qu − e^{qu}))/Γ(a) with a = 1/q² (from memory). q = 0 is the
//! lognormal law, q = 1 the Weibull, q = σ the gamma. The mean is infinite where σq is −1 or less. θ = (μ, ln σ, q).

use crate::law::{
    Age, AtLimit, Dimension, Edge, HazardShape, LN_SIGMA, LOCATION, Law, Limit, Link, Parameter,
    Prior, standardised,
};
use crate::laws::limits::late_entries;
use crate::laws::powers::{oldest_admitted, pareto, power, youngest_admitted};
use crate::quantity::Quantity;
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// Largest |q| fitted: the law is then all but the power law below an oldest age, or its mirror in ln t.
const FAR: f64 = 8.0;

/// Values of q at which location and scale are fitted before q is: at each they have one maximum, since the log-gamma
/// density is log-concave (Burridge 1981, "Empirical Bayes analysis of survival time data", JRSS B 43; from memory).
const LOOKS: [f64; 25] = [
    -8.0, -6.5, -5.2, -4.2, -3.4, -2.7, -2.1, -1.6, -1.2, -0.9, -0.6, -0.3, 0.0, 0.3, 0.6, 0.9,
    1.2, 1.6, 2.1, 2.7, 3.4, 4.2, 5.2, 6.5, 8.0,
];

/// The generalised gamma law.
pub struct GeneralisedGamma;

impl Law<3> for GeneralisedGamma {
    const NAME: &'static str = "generalised_gamma";
    const TITLE: &'static str = "generalised gamma";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "mu",
            meaning: "location of ln life",
            link: Link::Identity,
            dimension: Dimension::LnTime,
        },
        Parameter {
            name: "sigma",
            meaning: "scale of ln life",
            link: Link::Log,
            dimension: Dimension::None,
        },
        Parameter {
            name: "q",
            meaning: "0 is the lognormal law, 1 the Weibull, q = sigma the gamma",
            link: Link::Identity,
            dimension: Dimension::None,
        },
    ];
    const COSTLY: bool = true;
    const REFITTED: bool = false;
    const LN_SCALE: bool = true;
    const EDGES: &'static [Edge] = &[
        Edge::Held { at: 2, value: FAR },
        Edge::Held { at: 2, value: -FAR },
    ];
    const SCANNED: Option<(usize, &'static [f64])> = Some((2, &LOOKS));
    const PRIORS: [Prior; 3] = [LOCATION, LN_SIGMA, Prior { mean: 0.5, sd: 1.5 }];

    fn report<S: Scalar>(theta: [S; 3], index: usize) -> S {
        let [mu, ln_sigma, q] = theta;
        match index {
            0 => mu,
            1 => ln_sigma,
            _ => q,
        }
    }

    fn ln_density<S: Scalar>(theta: [S; 3], age: Age) -> S {
        standardised(theta, age.ln).0.ln_log_gamma_density(theta[2]) - theta[1] - age.ln
    }

    fn ln_survival<S: Scalar>(theta: [S; 3], age: Age) -> S {
        standardised(theta, age.ln)
            .0
            .ln_log_gamma_survival(theta[2])
    }

    fn ln_cdf<S: Scalar>(theta: [S; 3], age: Age) -> S {
        standardised(theta, age.ln).0.ln_log_gamma_cdf(theta[2])
    }

    fn ln_age_at<S: Scalar>([mu, ln_sigma, q]: [S; 3], ln_share: S) -> S {
        mu + ln_sigma.exp() * ln_share.log_gamma_at_ln_survival(q)
    }

    fn ln_mean<S: Scalar>([mu, ln_sigma, q]: [S; 3]) -> S {
        // ln E e^{σU} = ln Γ(a + σ/q) − ln Γ(a) − (σ/q) ln a with a = 1/q², written so that q → 0 is smooth:
        // σ² k(σq) − ½ ln(1 + σq) + R(q²/(1 + σq)) − R(q²), k(r) = ((1 + r) ln(1 + r) − r)/r².
        let sigma = ln_sigma.exp();
        let r = sigma * q;
        if r.value() <= -1.0 {
            return S::constant(f64::INFINITY);
        }
        let square = q * q;
        mu + sigma * sigma * r.entropy_excess() - r.ln_1p() * 0.5
            + (square / (r + 1.0)).stirling_remainder()
            - square.stirling_remainder()
    }

    fn hazard_shape([_, ln_sigma, q]: [f64; 3]) -> HazardShape {
        // In Stacy's form, density ∝ t^{d−1} exp(−(t/s)^p): p = q/σ, d = 1/(qσ); Glaser 1980.
        let sigma = ln_sigma.exp();
        if q <= 0.0 {
            return HazardShape::RisingThenFalling;
        }
        match (q * sigma < 1.0, q >= sigma) {
            (true, true) => HazardShape::Rising,
            (true, false) => HazardShape::RisingThenFalling,
            (false, true) if q * sigma > 1.0 && q > sigma => HazardShape::FallingThenRising,
            (false, true) if q == sigma => hazard_at_gamma(sigma),
            (false, true) => HazardShape::Rising,
            (false, false) => HazardShape::Falling,
        }
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        let own = [pareto(terms), power(terms)];
        own.into_iter()
            .flatten()
            .chain(late_entries(terms))
            .collect()
    }

    fn end_at_limit(quantity: Quantity, terms: &Terms, cut: f64, side: f64) -> Option<AtLimit> {
        let value = match quantity {
            Quantity::Parameter(0) if side < 0.0 => youngest_admitted(terms, cut)?,
            Quantity::Parameter(0) => oldest_admitted(terms, cut)?,
            _ => return None,
        };
        Some(AtLimit {
            value,
            farthest: value.is_infinite(),
        })
    }

    fn starts(terms: &Terms) -> Vec<[f64; 3]> {
        let spread = terms.ln_spread().clamp(0.05, 5.0);
        let mean = terms.ln_mean_exponential();
        let close = terms.close_together();
        let close = close.map(|(mean, spread)| [mean, spread.ln(), 0.2]);
        let usual = [
            [mean - 0.37, spread.ln(), 0.2],
            [mean, (spread * 0.78).ln(), 1.0],
            [mean - 0.6, spread.ln(), -0.7],
        ];
        close.into_iter().chain(usual).collect()
    }

    fn edge([_, ln_sigma, q]: [f64; 3], _: &Terms) -> Option<&'static str> {
        (q.abs() > FAR || ln_sigma.abs() > 8.0).then_some(
            "the third parameter runs off: the failures do not say where the law bends; a two-parameter family fits as well",
        )
    }
}

/// The gamma law with q = σ ≥ 1: shape 1/σ² at most 1.
fn hazard_at_gamma(sigma: f64) -> HazardShape {
    if sigma > 1.0 {
        HazardShape::Falling
    } else {
        HazardShape::Constant
    }
}
