//! The one log-likelihood, for every law and every kind of observation.

use crate::law::{Age, Law};
use crate::terms::Terms;
use sealspan_numeric::jet::{Jet, Scalar};
use sealspan_numeric::sum::fixed_order;

/// ln(S(a) − S(b)), by differences on the side where the interval lies: the other side loses
/// everything in its tail.
pub fn ln_interval<const N: usize, L: Law<N>, S: Scalar>(
    theta: [S; N],
    lower: Option<Age>,
    upper: Age,
) -> S {
    let Some(lower) = lower else {
        return L::ln_cdf(theta, upper);
    };
    let (alive_lower, alive_upper) = (L::ln_survival(theta, lower), L::ln_survival(theta, upper));
    if alive_upper.value() > -std::f64::consts::LN_2 {
        let (dead_lower, dead_upper) = (L::ln_cdf(theta, lower), L::ln_cdf(theta, upper));
        dead_upper + (dead_lower - dead_upper).ln_1m_exp()
    } else {
        alive_lower + (alive_upper - alive_lower).ln_1m_exp()
    }
}

/// Log-likelihood over plain numbers.
pub fn value<const N: usize, L: Law<N>>(theta: [f64; N], terms: &Terms) -> f64 {
    sum::<N, L, f64>(theta, terms)
}

/// Log-likelihood with its first and second derivatives.
pub fn jet<const N: usize, L: Law<N>>(theta: [f64; N], terms: &Terms) -> Jet<N> {
    sum::<N, L, Jet<N>>(Jet::variables(theta), terms)
}

fn sum<const N: usize, L: Law<N>, S: Scalar + Send + Sync>(theta: [S; N], terms: &Terms) -> S {
    let zero = S::constant(0.0);
    fixed_order(&terms.density, zero, |p| {
        L::ln_density(theta, p.age) * p.weight
    }) + fixed_order(&terms.survival, zero, |p| {
        L::ln_survival(theta, p.age) * p.weight
    }) + fixed_order(&terms.interval, zero, |s| {
        ln_interval::<N, L, S>(theta, s.lower, s.upper) * s.weight
    })
}
