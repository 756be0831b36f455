//! The signed root of the likelihood ratio, calibrated by refits.
//!
//! r = sign(q̂ − q) √(2(ℓ̂ − ℓ(q))) is standard normal only in large samples; in small ones it is still nearly normal,
//! with a mean and a spread of its own (DiCiccio, Martin & Stern 2001, "Simple and accurate one-sided inference from
//! signed roots of likelihood ratios", Canadian Journal of Statistics 29; from memory). Both are measured on refits
//! under the observed pattern, and the cut-offs moved, lower and upper apart: to mean + z sd below the estimate and z
//! sd − mean above it, no less than 0, or to the signed roots' own quantiles where these serve too and lie deeper.
//!
//! ```
//! use sealspan_life::{calibrate::signed_root, fit::fit, laws::by_name, quantity::Quantity};
//! use sealspan_records::{Observation, Sample};
//! // Four exponential lives of mean m = 100, under a mean μ = 200: r² = 2 · 4 (m/μ − 1 − ln(m/μ)).
//! let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
//! let fit = fit(by_name("exponential").unwrap(), &Sample::new(ages.into())).unwrap();
//! let r = signed_root(&fit, Quantity::Mean, &[200.0_f64.ln()]).unwrap();
//! assert!((r + (8.0 * (2.0_f64.ln() - 0.5)).sqrt()).abs() < 1e-6);
//! ```

use crate::fit::Fit;
use crate::held::maximum;
use crate::quantity::Quantity;
use crate::refits::{Refit, Refits, ask};
use nalgebra::DVector;
use rayon::prelude::*;
use sealspan_numeric::special::{LN_SQRT_TWO_PI, normal_quantile};

/// Mean and spread of the signed root.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Mean (0 in large samples).
    pub mean: f64,
    /// Standard deviation (1 in large samples).
    pub sd: f64,
    /// Monte-Carlo standard error of the mean.
    pub mean_error: f64,
    /// Monte-Carlo standard error of the standard deviation.
    pub sd_error: f64,
    /// Refits used.
    pub refits: usize,
    /// The signed roots in order, where their own quantiles are used too.
    roots: Option<Vec<f64>>,
}

/// Cut-offs of the signed root for the two ends of an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Depths {
    /// Below the estimate on the quantity's scale (a survival's grows as survival falls).
    pub lower: f64,
    /// Above it.
    pub upper: f64,
    /// Monte-Carlo standard error of the confidence of each end.
    pub error: f64,
}

impl Calibration {
    /// Cut-offs at two-sided confidence `level`.
    #[must_use]
    pub(crate) fn depths(&self, level: f64) -> Depths {
        let z = normal_quantile(0.5 + 0.5 * level);
        // Of the signed root's own law, where the cut-off lies z of its spreads from its mean.
        let density = (-0.5 * z * z - LN_SQRT_TWO_PI).exp() / self.sd;
        let normal = Depths {
            lower: (self.mean + z * self.sd).max(0.0),
            upper: (z * self.sd - self.mean).max(0.0),
            error: density * self.mean_error.hypot(z * self.sd_error),
        };
        match &self.roots {
            Some(roots) => normal.or_deeper(roots, level),
            None => normal,
        }
    }
}

impl Depths {
    /// The deeper of these cut-offs and the signed roots' own quantiles, on the safe side.
    fn or_deeper(self, roots: &[f64], level: f64) -> Self {
        let side = 0.5 * (1.0 - level);
        let n = roots.len() as f64;
        let at = |share: f64| {
            let x = (share * (n + 1.0) - 1.0).clamp(0.0, n - 1.0);
            let y = |i: usize| roots.get(i).or(roots.last()).copied().unwrap_or(0.0);
            y(x as usize) + x.fract() * (y(x as usize + 1) - y(x as usize))
        };
        Self {
            lower: self.lower.max(at(1.0 - side)),
            upper: self.upper.max(-at(side)),
            error: self.error.max((side * (1.0 - side) / n).sqrt()),
        }
    }
}

/// Fewer signed roots than this share of the refits and nothing is calibrated.
const FOUND: f64 = 0.8;

/// Calibrates the signed root of `quantity`. `None` when too few refits have one.
///
/// The score of each drawn sample at the true parameters has mean 0 and a known variance; what the signed
/// root shares with it is taken out, so that few refits suffice in large samples.
///
/// With `with_quantiles` the roots' own quantiles serve too, which are exact for a pivot however few the failures,
/// and the deeper cut-off counts.
#[must_use]
pub(crate) fn calibrate(
    refits: &Refits,
    quantity: Quantity,
    with_quantiles: bool,
) -> Option<Calibration> {
    let fit = &refits.fit;
    let truth = ask(
        &fit.problem(&fit.terms),
        &fit.problem(&fit.terms).pick(&refits.truth),
        quantity,
    );
    let slope = DVector::from_column_slice(&truth.gradient);
    let direction = &refits.expected_covariance * &slope;
    let spread = slope.dot(&direction).max(0.0).sqrt();
    if !spread.is_finite() || spread <= 0.0 {
        return None;
    }
    let pairs: Vec<(f64, f64)> = refits
        .list
        .par_iter()
        .filter_map(|refit| {
            let r = root_of_refit(refits, refit, quantity, truth.value)?;
            Some((r, refit.score.dot(&direction) / spread))
        })
        .collect();
    if (pairs.len() as f64) < FOUND * refits.list.len() as f64 {
        return None;
    }
    let (mean, mean_error) = controlled(&pairs, |r| r, 0.0);
    let (square, square_error) = controlled(&pairs, |r| r * r, 1.0);
    let sd = (square - mean * mean).max(0.01).sqrt();
    Some(Calibration {
        mean,
        sd,
        mean_error,
        sd_error: 0.5 * square_error / sd,
        refits: pairs.len(),
        roots: with_quantiles.then(|| {
            let mut roots: Vec<f64> = pairs.iter().map(|p| p.0).collect();
            roots.sort_by(f64::total_cmp);
            roots
        }),
    })
}

/// Mean of f(r) less its regression on f(u), whose mean is known, and its standard error.
fn controlled(pairs: &[(f64, f64)], f: impl Fn(f64) -> f64, known: f64) -> (f64, f64) {
    let n = pairs.len() as f64;
    let mean = |g: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(g).sum::<f64>() / n;
    let (a, b) = (mean(&|p| f(p.0)), mean(&|p| f(p.1)));
    let both = mean(&|p| (f(p.0) - a) * (f(p.1) - b));
    let own = mean(&|p| (f(p.1) - b).powi(2));
    let weight = if own > 0.0 { both / own } else { 0.0 };
    let rest = mean(&|p| (f(p.0) - a - weight * (f(p.1) - b)).powi(2));
    (a - weight * (b - known), (rest / n).sqrt())
}

/// The signed root of the likelihood ratio of the value that a quantity has at stated parameters `theta` of the
/// fitted family: positive where the estimate lies above it on the quantity's scale (a survival's scale grows as
/// survival falls). In large samples from the law at `theta` it is standard normal. `None` where no largest likelihood
/// with the quantity held at the value is found, or the estimate is no finite number.
#[must_use]
pub fn signed_root(fit: &Fit, quantity: Quantity, theta: &[f64]) -> Option<f64> {
    let problem = fit.problem(&fit.terms);
    let x = problem.pick(&fit.theta);
    let own = ask(&problem, &x, quantity).value;
    let target = fit.family.quantity(theta, quantity).value;
    let asked = |x: &[f64]| ask(&problem, x, quantity);
    let held = maximum(&problem, &asked, &x, target)
        .or_else(|| maximum(&problem, &asked, &problem.pick(theta), target))?;
    root_of(fit.log_likelihood, held.value, own - target)
}

/// The signed root of one refit, the truth being `target` on the quantity's scale.
fn root_of_refit(refits: &Refits, refit: &Refit, quantity: Quantity, target: f64) -> Option<f64> {
    let problem = refits.fit.problem(&refit.terms);
    let own = ask(&problem, &refit.x, quantity).value;
    let asked = |x: &[f64]| ask(&problem, x, quantity);
    let held = maximum(&problem, &asked, &refit.x, target).or_else(|| {
        let truth = problem.pick(&refits.truth);
        maximum(&problem, &asked, &truth, target)
    })?;
    root_of(refit.value, held.value, own - target)
}

/// The signed root from the log-likelihood at its maximum and with the quantity held.
fn root_of(top: f64, held: f64, above: f64) -> Option<f64> {
    let depth = 2.0 * (top - held);
    (depth > -1e-6 && above.is_finite()).then(|| depth.max(0.0).sqrt().copysign(above))
}

#[cfg(test)]
mod tests;
