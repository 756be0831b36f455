//! The object-safe face of a law: what fits, bounds, plots and decisions work with.

use crate::law::{Age, HazardShape, Law, Link, Parameter};
use crate::likelihood;
use crate::quantity::{Derivatives, Quantity};
use crate::terms::Terms;
use sealspan_numeric::jet::{Jet, Scalar};
use std::marker::PhantomData;

/// A life family with its parameters θ on an unbounded scale. Slices shorter than
/// [`Family::dimension`] are read as if filled with zeros.
pub trait Family: Send + Sync {
    /// Name in commands and outputs.
    fn name(&self) -> &'static str;
    /// Name in sentences.
    fn title(&self) -> &'static str;
    /// Number of free parameters.
    fn dimension(&self) -> usize;
    /// Parameters as reported.
    fn reported(&self) -> &'static [Parameter];
    /// Log-likelihood.
    fn log_likelihood(&self, theta: &[f64], terms: &Terms) -> f64;
    /// Log-likelihood with derivatives.
    fn log_likelihood_derivatives(&self, theta: &[f64], terms: &Terms) -> Derivatives;
    /// A quantity on the scale of its intervals (ln for times and positive parameters, the law's own
    /// index for survival), with derivatives.
    fn quantity(&self, theta: &[f64], quantity: Quantity) -> Derivatives;
    /// Back from that scale to the quantity.
    fn unscale(&self, quantity: Quantity, scaled: f64) -> f64;
    /// ln survival at age `t`.
    fn ln_survival(&self, theta: &[f64], t: f64) -> f64;
    /// ln density at age `t` > 0.
    fn ln_density(&self, theta: &[f64], t: f64) -> f64;
    /// How the hazard moves with age.
    fn hazard_shape(&self, theta: &[f64]) -> HazardShape;
    /// A point to begin a fit from.
    fn start(&self, terms: &Terms) -> Vec<f64>;
    /// Index in θ of what a fixed value of reported parameter `index` pins down, and the value there.
    fn pin(&self, index: usize, value: f64) -> Option<(usize, f64)>;
}

/// The face of law `L`.
pub struct Of<L, const N: usize>(PhantomData<L>);

impl<L, const N: usize> Of<L, N> {
    /// The only value of the type.
    #[must_use]
    pub const fn new() -> Self {
        Self(PhantomData)
    }
}

impl<L, const N: usize> Default for Of<L, N> {
    fn default() -> Self {
        Self::new()
    }
}

fn array<const N: usize>(theta: &[f64]) -> [f64; N] {
    std::array::from_fn(|i| theta.get(i).copied().unwrap_or(0.0))
}

impl<const N: usize> From<Jet<N>> for Derivatives {
    fn from(jet: Jet<N>) -> Self {
        Self {
            value: jet.value,
            gradient: jet.gradient.to_vec(),
            hessian: jet.hessian.iter().map(|row| row.to_vec()).collect(),
        }
    }
}

/// The quantity on its interval scale.
fn scaled<const N: usize, L: Law<N>, S: Scalar>(theta: [S; N], quantity: Quantity) -> S {
    match quantity {
        Quantity::Parameter(i) => {
            let value = L::report(theta, i);
            match L::REPORTED.get(i).map(|p| p.link) {
                Some(Link::Log) => value.ln(),
                _ => value,
            }
        }
        Quantity::Quantile(p) => L::ln_quantile(theta, p),
        Quantity::Survival(t) => L::index(theta, Age::new(t)),
        Quantity::Mean => L::ln_mean(theta),
    }
}

impl<const N: usize, L: Law<N>> Family for Of<L, N> {
    fn name(&self) -> &'static str {
        L::NAME
    }
    fn title(&self) -> &'static str {
        L::TITLE
    }
    fn dimension(&self) -> usize {
        N
    }
    fn reported(&self) -> &'static [Parameter] {
        L::REPORTED
    }
    fn log_likelihood(&self, theta: &[f64], terms: &Terms) -> f64 {
        likelihood::value::<N, L>(array(theta), terms)
    }
    fn log_likelihood_derivatives(&self, theta: &[f64], terms: &Terms) -> Derivatives {
        likelihood::jet::<N, L>(array(theta), terms).into()
    }
    fn quantity(&self, theta: &[f64], quantity: Quantity) -> Derivatives {
        scaled::<N, L, Jet<N>>(Jet::variables(array(theta)), quantity).into()
    }
    fn unscale(&self, quantity: Quantity, scaled: f64) -> f64 {
        match quantity {
            Quantity::Parameter(i) => match L::REPORTED.get(i).map(|p| p.link) {
                Some(Link::Log) => scaled.exp(),
                _ => scaled,
            },
            Quantity::Quantile(_) | Quantity::Mean => scaled.exp(),
            Quantity::Survival(_) => L::survival_at_index(scaled),
        }
    }
    fn ln_survival(&self, theta: &[f64], t: f64) -> f64 {
        if t <= 0.0 {
            0.0
        } else {
            L::ln_survival(array(theta), Age::new(t))
        }
    }
    fn ln_density(&self, theta: &[f64], t: f64) -> f64 {
        L::ln_density(array(theta), Age::new(t))
    }
    fn hazard_shape(&self, theta: &[f64]) -> HazardShape {
        L::hazard_shape(array(theta))
    }
    fn start(&self, terms: &Terms) -> Vec<f64> {
        L::start(terms).to_vec()
    }
    fn pin(&self, index: usize, value: f64) -> Option<(usize, f64)> {
        // A reported parameter is pinned through the one θ it depends on, by Newton on its scale.
        let target = match L::REPORTED.get(index)?.link {
            Link::Log if value > 0.0 => value.ln(),
            Link::Log => return None,
            Link::Identity => value,
        };
        let mut theta = [0.0; N];
        let mut jet = scaled::<N, L, Jet<N>>(Jet::variables(theta), Quantity::Parameter(index));
        let at = jet.gradient.iter().position(|g| *g != 0.0)?;
        if jet.gradient.iter().filter(|g| **g != 0.0).count() != 1 {
            return None;
        }
        for _ in 0..50 {
            let step = (target - jet.value) / jet.gradient.get(at)?;
            *theta.get_mut(at)? += step;
            jet = scaled::<N, L, Jet<N>>(Jet::variables(theta), Quantity::Parameter(index));
            if step.abs() <= 1e-15 * (1.0 + step.abs()) {
                break;
            }
        }
        Some((at, *theta.get(at)?))
    }
}
