//! The object-safe face of a law: what fits, bounds, plots and decisions work with.
//!
//! ```
//! use sealspan_life::{law::HazardShape, laws::by_name, quantity::Quantity, terms::Terms};
//! use sealspan_records::{Observation, Sample};
//! let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} is not {b}");
//! let law = by_name("exponential").unwrap();
//! assert_eq!((law.name(), law.dimension(), law.reported()[0].name), ("exponential", 1, "rate"));
//! // θ is ln of the mean, so a rate of 0.01 is θ = ln 100.
//! let theta = law.stated(&[(0, 0.01)]).unwrap();
//! near(theta[0], 100.0_f64.ln());
//! assert_eq!(law.pin(0, 0.01).unwrap().0, 0);
//! near(law.ln_survival(&theta, 200.0), -2.0);
//! near(law.ln_density(&theta, 200.0), -2.0 - 100.0_f64.ln());
//! near(law.ln_age_at(&theta, -1.0), 100.0_f64.ln());
//! near(law.unscale(Quantity::Mean, law.quantity(&theta, Quantity::Mean).value), 100.0);
//! assert_eq!(law.hazard_shape(&theta), HazardShape::Constant);
//! // Four lives of mean 100: ℓ = −4 (ln 100 + 1) is greatest there, and bends by −4.
//! let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
//! let terms = Terms::new(&Sample::new(ages.into()));
//! near(law.log_likelihood(&theta, &terms), -4.0 * (100.0_f64.ln() + 1.0));
//! near(law.log_likelihood_derivatives(&theta, &terms).gradient[0], 0.0);
//! let mut out = [0.0; 3];
//! law.write_derivatives(&theta, &terms, &mut out);
//! near(out[2], -4.0);
//! assert!(law.starts(&terms).iter().all(|start| start.len() == 1));
//! assert_eq!((law.in_order(&theta), law.priors().len()), (theta.clone(), 1));
//! assert!(!law.has_ln_scale() && by_name("weibull").unwrap().has_ln_scale());
//! assert!(law.has_one_maximum() && !by_name("weibull_mixture").unwrap().has_one_maximum());
//! ```

use crate::law::{Age, AtLimit, Edge, HazardShape, Law, Limit, Parameter, Prior};
use crate::likelihood;
use crate::quantity::{Derivatives, Quantity};
use crate::terms::Terms;
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::jet::{Jet, Scalar};
use std::marker::PhantomData;

/// A life family with its parameters θ on an unbounded scale. Slices shorter than
/// [`Family::dimension`] are read as if filled with zeros, longer ones up to it. Formulas stand at the laws
/// ([`crate::laws`]), what is asked of them at [`Law`].
///
/// ```
/// use sealspan_life::{law::Edge, laws::by_name, quantity::Quantity, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
/// let terms = Terms::new(&Sample::new(ages.into()));
/// // An exponential law has one maximum, inside its range, and cheap tails.
/// let plain = by_name("exponential").unwrap();
/// let theta = [100.0_f64.ln()];
/// assert_eq!((plain.title(), plain.costly(), plain.refitted()), ("exponential", false, true));
/// assert!(plain.edges().is_empty() && plain.scanned().is_none() && plain.limits(&terms).is_empty());
/// assert!(plain.edge(&theta, &terms).is_none());
/// assert!(!plain.unbounded(&terms) && !plain.closes_in(&theta, &terms) && !plain.unlike(&theta));
/// assert!(plain.end_at_limit(Quantity::Mean, &terms, -30.0, 1.0).is_none());
/// // A failure-free time just below the first failure, with a shape below 1, has any likelihood; none at all is the
/// // Weibull law.
/// let later = by_name("three_parameter_weibull").unwrap();
/// assert!(later.unbounded(&terms));
/// assert!(matches!(later.edges(), [Edge::Simpler { law: "weibull", .. }]));
/// // A part of a mixture a thousand times as narrow as the other.
/// let mixture = by_name("weibull_mixture").unwrap();
/// let narrow = [(0, 0.25), (1, 2000.0), (2, 60.0), (3, 2.0), (4, 100.0)];
/// let narrow = mixture.stated(&narrow).unwrap();
/// assert!(mixture.unlike(&narrow) && mixture.closes_in(&narrow, &terms));
/// ```
pub trait Family: Send + Sync {
    /// Name in commands and outputs.
    fn name(&self) -> &'static str;
    /// Name in sentences.
    fn title(&self) -> &'static str;
    /// Number of free parameters.
    fn dimension(&self) -> usize;
    /// Parameters as reported.
    fn reported(&self) -> &'static [Parameter];
    /// Log-likelihood of the terms: the sum written at [`crate::terms`].
    fn log_likelihood(&self, theta: &[f64], terms: &Terms) -> f64;
    /// Log-likelihood with its derivatives in θ.
    fn log_likelihood_derivatives(&self, theta: &[f64], terms: &Terms) -> Derivatives;
    /// The same written into `out`: value, first derivatives, then second ones row by row, 1 + n + n² numbers for n
    /// parameters (as many as it holds). For sums over very many small terms.
    fn write_derivatives(&self, theta: &[f64], terms: &Terms, out: &mut [f64]);
    /// A quantity on the scale of its intervals ([`Quantity`]: ln for times and positive parameters, the law's own
    /// index for survival), with derivatives in θ. The value is not a number where the law has none.
    fn quantity(&self, theta: &[f64], quantity: Quantity) -> Derivatives;
    /// Back from that scale to the quantity.
    fn unscale(&self, quantity: Quantity, scaled: f64) -> f64;
    /// ln survival at age `t`; 0 at age 0 and below.
    fn ln_survival(&self, theta: &[f64], t: f64) -> f64;
    /// ln density per unit of age at age `t` > 0.
    fn ln_density(&self, theta: &[f64], t: f64) -> f64;
    /// How the hazard moves with age.
    fn hazard_shape(&self, theta: &[f64]) -> HazardShape;
    /// ln of the age at which ln survival is `ln_share` < 0; not a number where there is none.
    fn ln_age_at(&self, theta: &[f64], ln_share: f64) -> f64;
    /// Points θ to begin a fit from.
    fn starts(&self, terms: &Terms) -> Vec<Vec<f64>>;
    /// θ of the same law with its parts in one order.
    fn in_order(&self, theta: &[f64]) -> Vec<f64>;
    /// What lies at `theta`, where a fit ran off to, in words; `None` inside the family.
    fn edge(&self, theta: &[f64], terms: &Terms) -> Option<&'static str>;
    /// The index of a θ along which the likelihood may have several peaks, with values to look at; `None` where there
    /// is no such θ.
    fn scanned(&self) -> Option<(usize, &'static [f64])>;
    /// The laws at the ends of its range that no θ reaches.
    fn limits(&self, terms: &Terms) -> Vec<Limit>;
    /// Whether the estimate is the greatest maximum inside the family only (see [`Law::unbounded`]).
    fn unbounded(&self, terms: &Terms) -> bool;
    /// Whether the law at θ closes in on single failures (see [`Law::closes_in`]).
    fn closes_in(&self, theta: &[f64], terms: &Terms) -> bool;
    /// Whether a maximum at θ is set aside for its parts' widths (see [`Law::unlike`]).
    fn unlike(&self, theta: &[f64]) -> bool;
    /// How far a quantity goes at ends of the range that no θ reaches (see [`Law::end_at_limit`]).
    fn end_at_limit(
        &self,
        quantity: Quantity,
        terms: &Terms,
        cut: f64,
        side: f64,
    ) -> Option<AtLimit>;
    /// Whether θ₁ is ln of the scale σ of ln life.
    fn has_ln_scale(&self) -> bool;
    /// Whether its likelihood has one maximum only, with any columns of a regression (see [`Law::ONE_MAXIMUM`]).
    fn has_one_maximum(&self) -> bool;
    /// Whether its tails are dear to compute.
    fn costly(&self) -> bool;
    /// The ends of its range.
    fn edges(&self) -> &'static [Edge];
    /// Whether its intervals are calibrated without being asked.
    fn refitted(&self) -> bool;
    /// Weak priors of θ, one for each.
    fn priors(&self) -> &'static [Prior];
    /// θ from all its reported parameters or as many of them as there are θ, by number; `None` when a value
    /// is impossible or they say too little or the same thing twice.
    fn stated(&self, reported: &[(usize, f64)]) -> Option<Vec<f64>>;
    /// Index in θ of what a fixed value of reported parameter `index` pins down, and the value there; `None` where the
    /// value is impossible, there is no such parameter, or it hangs on more than one θ.
    fn pin(&self, index: usize, value: f64) -> Option<(usize, f64)>;
}

/// The face of law `L`, which has `N` parameters θ.
///
/// ```
/// use sealspan_life::{family::{Family, Of}, laws::weibull::Weibull};
/// static LAW: Of<Weibull, 2> = Of::new();
/// assert_eq!((LAW.name(), LAW.dimension()), ("weibull", 2));
/// // Shape 2, scale 400: ln S(200) = −(200/400)².
/// let theta = LAW.stated(&[(0, 2.0), (1, 400.0)]).unwrap();
/// assert!((LAW.ln_survival(&theta, 200.0) + 0.25).abs() < 1e-12);
/// ```
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
        Quantity::Parameter(i) => L::report(theta, i),
        Quantity::Quantile(p) => L::ln_age_at(theta, S::constant((-p).ln_1p())),
        Quantity::Survival(t) => L::index(theta, Age::new(t)),
        Quantity::Mean => L::ln_mean(theta),
        Quantity::Remaining { age, p } => {
            let now = Age::new(age);
            L::ln_ratio_after(theta, now, -(-p).ln_1p()).ln_exp_m1() + now.ln
        }
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
    fn write_derivatives(&self, theta: &[f64], terms: &Terms, out: &mut [f64]) {
        let jet = likelihood::jet::<N, L>(array(theta), terms);
        let all = std::iter::once(&jet.value)
            .chain(&jet.gradient)
            .chain(jet.hessian.iter().flatten());
        for (slot, value) in out.iter_mut().zip(all) {
            *slot = *value;
        }
    }
    fn quantity(&self, theta: &[f64], quantity: Quantity) -> Derivatives {
        scaled::<N, L, Jet<N>>(Jet::variables(array(theta)), quantity).into()
    }
    fn unscale(&self, quantity: Quantity, scaled: f64) -> f64 {
        match quantity {
            Quantity::Parameter(i) => L::REPORTED.get(i).map_or(scaled, |p| p.link.undo(scaled)),
            Quantity::Quantile(_) | Quantity::Mean | Quantity::Remaining { .. } => scaled.exp(),
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
    fn ln_age_at(&self, theta: &[f64], ln_share: f64) -> f64 {
        L::ln_age_at(array(theta), ln_share)
    }
    fn starts(&self, terms: &Terms) -> Vec<Vec<f64>> {
        L::starts(terms).iter().map(|s| s.to_vec()).collect()
    }
    fn in_order(&self, theta: &[f64]) -> Vec<f64> {
        L::in_order(array(theta)).to_vec()
    }
    fn edge(&self, theta: &[f64], terms: &Terms) -> Option<&'static str> {
        L::edge(array(theta), terms)
    }
    fn scanned(&self) -> Option<(usize, &'static [f64])> {
        L::SCANNED
    }
    fn limits(&self, terms: &Terms) -> Vec<Limit> {
        L::limits(terms)
    }
    fn unbounded(&self, terms: &Terms) -> bool {
        L::unbounded(terms)
    }
    fn closes_in(&self, theta: &[f64], terms: &Terms) -> bool {
        L::closes_in(array(theta), terms)
    }
    fn unlike(&self, theta: &[f64]) -> bool {
        L::unlike(array(theta))
    }
    fn end_at_limit(
        &self,
        quantity: Quantity,
        terms: &Terms,
        cut: f64,
        side: f64,
    ) -> Option<AtLimit> {
        L::end_at_limit(quantity, terms, cut, side)
    }
    fn has_ln_scale(&self) -> bool {
        L::LN_SCALE
    }
    fn has_one_maximum(&self) -> bool {
        L::ONE_MAXIMUM
    }
    fn costly(&self) -> bool {
        L::COSTLY
    }
    fn edges(&self) -> &'static [Edge] {
        L::EDGES
    }
    fn refitted(&self) -> bool {
        L::REFITTED
    }
    fn priors(&self) -> &'static [Prior] {
        &L::PRIORS
    }
    fn stated(&self, reported: &[(usize, f64)]) -> Option<Vec<f64>> {
        // Reported parameters are linear in θ on their links' scales.
        let rows: Vec<(Jet<N>, f64)> = reported
            .iter()
            .map(|(index, value)| {
                let target = L::REPORTED.get(*index)?.link.apply(*value)?;
                Some((L::report(Jet::variables([0.0; N]), *index), target))
            })
            .collect::<Option<_>>()?;
        if rows.len() != N {
            return None;
        }
        let entry = |i: usize, j: usize| {
            rows.get(i)
                .and_then(|row| row.0.gradient.get(j))
                .copied()
                .unwrap_or(0.0)
        };
        let right = rows.iter().map(|(at_zero, target)| target - at_zero.value);
        let solution = DMatrix::from_fn(N, N, entry)
            .lu()
            .solve(&DVector::from_iterator(N, right))?;
        Some(solution.iter().copied().collect())
    }
    fn pin(&self, index: usize, value: f64) -> Option<(usize, f64)> {
        let target = L::REPORTED.get(index)?.link.apply(value)?;
        let jet = L::report(Jet::<N>::variables([0.0; N]), index);
        let mut moving = jet.gradient.iter().enumerate().filter(|(_, g)| **g != 0.0);
        let (at, slope) = moving.next()?;
        // Only a parameter that hangs on one θ can be held while the others are estimated.
        moving
            .next()
            .is_none()
            .then(|| (at, (target - jet.value) / slope))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::laws::weibull::Weibull;

    #[test]
    fn the_only_value_is_the_default_one() {
        assert_eq!(Of::<Weibull, 2>::default().name(), "weibull");
    }
}
