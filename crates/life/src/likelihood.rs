//! The one log-likelihood, for every law and every kind of observation.

use crate::law::Law;
use crate::terms::{Point, Terms};
use sealspan_numeric::jet::{Jet, Scalar};
use sealspan_numeric::sum::fixed_order;
use std::ops::Add;

/// Log-likelihood over plain numbers.
pub(crate) fn value<const N: usize, L: Law<N>>(theta: [f64; N], terms: &Terms) -> f64 {
    if L::STANDARD {
        standard_value::<N, L>(theta, terms) + intervals::<N, L, f64>(theta, terms)
    } else {
        sum::<N, L, f64>(theta, terms)
    }
}

/// Log-likelihood with its first and second derivatives.
pub(crate) fn jet<const N: usize, L: Law<N>>(theta: [f64; N], terms: &Terms) -> Jet<N> {
    let variables = Jet::variables(theta);
    if L::STANDARD {
        standard_jet::<N, L>(theta, terms) + intervals::<N, L, Jet<N>>(variables, terms)
    } else {
        sum::<N, L, Jet<N>>(variables, terms)
    }
}

fn sum<const N: usize, L: Law<N>, S: Scalar + Send + Sync>(theta: [S; N], terms: &Terms) -> S {
    let zero = S::constant(0.0);
    fixed_order(&terms.density, zero, |p| {
        L::ln_density(theta, p.age) * p.weight
    }) + fixed_order(&terms.survival, zero, |p| {
        L::ln_survival(theta, p.age) * p.weight
    }) + intervals::<N, L, S>(theta, terms)
}

fn intervals<const N: usize, L: Law<N>, S: Scalar + Send + Sync>(
    theta: [S; N],
    terms: &Terms,
) -> S {
    fixed_order(&terms.interval, S::constant(0.0), |s| {
        L::ln_between(theta, s.lower, s.upper) * s.weight
    })
}

/// Location and ln σ of a standard law.
fn standard<const N: usize>(theta: [f64; N]) -> (f64, f64) {
    let at = |i: usize| theta.get(i).copied().unwrap_or(0.0);
    (at(0), at(1))
}

/// Density and survival terms of a law of z = (ln t − μ)/σ.
fn standard_value<const N: usize, L: Law<N>>(theta: [f64; N], terms: &Terms) -> f64 {
    let (mu, ln_sigma) = standard(theta);
    let per_sigma = (-ln_sigma).exp();
    let z = |p: &Point| (p.age.ln - mu) * per_sigma;
    fixed_order(&terms.density, 0.0, |p| {
        (L::ln_density_of_z(z(p)) - ln_sigma - p.age.ln) * p.weight
    }) + fixed_order(&terms.survival, 0.0, |p| {
        L::ln_survival_of_z(z(p)) * p.weight
    })
}

/// Weighted sums of f, f′, f′z, f″, f″z, f″z² over the terms f(z).
#[derive(Clone, Copy)]
struct Moments([f64; 6]);

impl Add for Moments {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let mut out = self.0;
        for (a, b) in out.iter_mut().zip(other.0) {
            *a += b;
        }
        Self(out)
    }
}

/// The same with derivatives in (μ, ln σ): z has slopes −1/σ and −z, so one derivative in z a term is enough.
fn standard_jet<const N: usize, L: Law<N>>(theta: [f64; N], terms: &Terms) -> Jet<N> {
    let (mu, ln_sigma) = standard(theta);
    let per_sigma = (-ln_sigma).exp();
    let moments = |p: &Point, f: fn(Jet<1>) -> Jet<1>, extra: f64| {
        let z = (p.age.ln - mu) * per_sigma;
        let [variable] = Jet::variables([z]);
        let Jet {
            value,
            gradient: [first],
            hessian: [[second]],
        } = f(variable);
        let w = p.weight;
        Moments([
            w * (value - extra),
            w * first,
            w * first * z,
            w * second,
            w * second * z,
            w * second * z * z,
        ])
    };
    let zero = Moments([0.0; 6]);
    let Moments([value, g, gz, h, hz, hzz]) = fixed_order(&terms.density, zero, |p| {
        moments(p, L::ln_density_of_z, ln_sigma + p.age.ln)
    }) + fixed_order(&terms.survival, zero, |p| {
        moments(p, L::ln_survival_of_z, 0.0)
    });
    let densities: f64 = terms.density.iter().map(|p| p.weight).sum();
    let gradient = [-g * per_sigma, -gz - densities];
    let mixed = (hz + g) * per_sigma;
    let hessian = [[h * per_sigma * per_sigma, mixed], [mixed, hzz + gz]];
    let mut out = Jet::constant(value);
    for ((slot, row), (own, bends)) in out
        .gradient
        .iter_mut()
        .zip(&mut out.hessian)
        .zip(gradient.iter().zip(hessian))
    {
        *slot = *own;
        for (entry, bend) in row.iter_mut().zip(bends) {
            *entry = bend;
        }
    }
    out
}
