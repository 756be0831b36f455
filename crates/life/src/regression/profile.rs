//! Likelihood-ratio intervals of coefficients, life ratios and predicted lives.

use super::fitting::Fitting;
use crate::maximise::LogLikelihood;
use crate::quantity::Derivatives;
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::normal_quantile;

/// Steps of depth to begin with, and the smallest share of the way that a step may shrink to.
const STEPS: f64 = 4.0;
const SMALLEST_STEP: f64 = 1e-4;

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

/// A function of the standardised unknowns with its derivatives.
type Target<'a> = &'a dyn Fn(&[f64]) -> Derivatives;

/// Both extremes of the target on the contour ℓ(x) = ℓ̂ − z²/2.
pub(super) fn ends(fitting: &Fitting, target: Target<'_>, z: f64) -> [Option<f64>; 2] {
    [-1.0, 1.0].map(|side| {
        Contour {
            fitting,
            target,
            side,
        }
        .follow(z)
    })
}

/// Follows the extreme of the target over contours of growing depth r, ℓ = ℓ̂ − r²/2, by Newton's method on the
/// Lagrange conditions ∇q = λ ∇ℓ (Venzon & Moolgavkar 1988, extended to any smooth quantity), each contour started
/// from the last.
struct Contour<'a> {
    fitting: &'a Fitting,
    target: Target<'a>,
    side: f64,
}

impl Contour<'_> {
    fn follow(&self, z: f64) -> Option<f64> {
        let maximum = &self.fitting.maximum;
        let centre = DVector::from_column_slice(&maximum.x);
        let q = (self.target)(&maximum.x);
        let gradient = DVector::from_column_slice(&q.gradient);
        let direction = &maximum.covariance * &gradient;
        let error = gradient.dot(&direction).sqrt();
        if error <= 0.0 || !error.is_finite() {
            return None;
        }
        let mut from = direction * (self.side / error);
        let (mut depth, mut step) = (0.0_f64, z / STEPS);
        let mut end = q.value;
        while depth < z {
            let next = (depth + step).min(z);
            let reach = if depth == 0.0 { next } else { next / depth };
            let found = self.solve(&centre + &from * reach, next);
            match found.map(|x| ((self.target)(x.as_slice()).value, x)) {
                Some((value, x)) if (value - end) * self.side > 0.0 => {
                    from = &x - &centre;
                    end = value;
                    depth = next;
                    step = (step * 1.5).min(z / STEPS);
                }
                _ => {
                    step *= 0.5;
                    if step < SMALLEST_STEP * z {
                        return None;
                    }
                }
            }
        }
        Some(end)
    }

    fn solve(&self, mut x: DVector<f64>, depth: f64) -> Option<DVector<f64>> {
        let goal = self.fitting.maximum.value - 0.5 * depth * depth;
        let n = x.len();
        let mut multiplier = None;
        for _ in 0..30 {
            let l = self.fitting.problem.derivatives(x.as_slice());
            let q = (self.target)(x.as_slice());
            let slope = DVector::from_column_slice(&l.gradient);
            let own = DVector::from_column_slice(&q.gradient);
            if !l.value.is_finite() || slope.norm_squared() == 0.0 {
                return None;
            }
            let lambda = *multiplier.get_or_insert(own.dot(&slope) / slope.norm_squared());
            let entry = |d: &Derivatives, i: usize, j: usize| {
                d.hessian
                    .get(i)
                    .and_then(|r| r.get(j))
                    .copied()
                    .unwrap_or(0.0)
            };
            // Unknowns: the step in x and in λ. Equations: ∇q − λ∇ℓ = 0 and ℓ = goal.
            let mut matrix = DMatrix::zeros(n + 1, n + 1);
            let mut right = DVector::zeros(n + 1);
            for i in 0..n {
                for j in 0..n {
                    matrix[(i, j)] = entry(&q, i, j) - lambda * entry(&l, i, j);
                }
                matrix[(i, n)] = -slope[i];
                matrix[(n, i)] = slope[i];
                right[i] = lambda * slope[i] - own[i];
            }
            right[n] = goal - l.value;
            let step = matrix.lu().solve(&right)?;
            let length = step.rows(0, n).amax();
            if !length.is_finite() || length > 5.0 {
                return None;
            }
            x += step.rows(0, n);
            multiplier = Some(lambda + step[n]);
            if length < 1e-11 && right[n].abs() < 1e-8 * (1.0 + depth * depth) {
                // On the way out likelihood falls as the target moves: λ and side have opposite signs.
                return (lambda * self.side < 0.0).then_some(x);
            }
        }
        None
    }
}
