//! Likelihood-ratio intervals of coefficients, life ratios and predicted lives.

use super::fitting::Fitting;
use crate::contour::{Asked, Contour};
use crate::quantity::Derivatives;
use nalgebra::DVector;
use sealspan_numeric::special::normal_quantile;

impl Fitting {
    /// Ends of the profile-likelihood interval of a linear combination of `regression.x` at two-sided confidence
    /// `level`; with penalties, of the penalised likelihood. `None` for an end that the data do not set.
    #[must_use]
    pub fn profile(&self, weights: &[f64], level: f64) -> [Option<f64>; 2] {
        let size = self.problem.size();
        let back = self.standard.back(size);
        let weights = DVector::from_iterator(
            size,
            weights
                .iter()
                .copied()
                .chain(std::iter::repeat(0.0))
                .take(size),
        );
        let weights: Vec<f64> = (back.transpose() * weights).iter().copied().collect();
        let target = |x: &[f64]| Derivatives {
            value: weights.iter().zip(x).map(|(w, x)| w * x).sum(),
            gradient: weights.clone(),
            hessian: vec![],
        };
        ends(self, &target, normal_quantile(0.5 + 0.5 * level))
    }
}

/// Both extremes of the target, a function of the standardised unknowns, on the contour ℓ(x) = ℓ̂ − z²/2.
pub(super) fn ends(fitting: &Fitting, target: Asked<'_>, z: f64) -> [Option<f64>; 2] {
    let maximum = &fitting.maximum;
    let slope = DVector::from_column_slice(&target(&maximum.x).gradient);
    let variance = slope.dot(&(&maximum.covariance * &slope));
    if variance <= 0.0 || !variance.is_finite() {
        return [None; 2];
    }
    [-1.0, 1.0].map(|side| {
        let contour = Contour {
            likelihood: &fitting.problem,
            quantity: target,
            top: maximum.value,
            centre: DVector::from_column_slice(&maximum.x),
            covariance: maximum.covariance.clone(),
            side,
        };
        contour.follow(z).ok()
    })
}
