//! The one log-likelihood, for every law and every kind of observation.

use crate::law::Law;
use crate::terms::Terms;
use sealspan_numeric::jet::{Jet, Scalar};
use sealspan_numeric::sum::fixed_order;

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
        L::ln_between(theta, s.lower, s.upper) * s.weight
    })
}
