//! Ends of profile-likelihood intervals of any smooth quantity.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use crate::maximise::LogLikelihood;
use crate::quantity::Derivatives;
use nalgebra::{DMatrix, DVector};

/// A quantity on the scale of its intervals, with derivatives in the free parameters.
pub(crate) type Asked<'a> = &'a (dyn Fn(&[f64]) -> Derivatives + Sync);

/// Follows the extreme of a quantity over likelihood contours of growing depth r, ℓ = ℓ̂ − r²/2, by
/// Newton's method on the Lagrange conditions ∇q = λ ∇ℓ (Venzon & Moolgavkar 1988, extended to any
/// smooth quantity), each contour started from the last.
pub(crate) struct Contour<'a, P> {
    pub(crate) likelihood: &'a P,
    pub(crate) quantity: Asked<'a>,
    /// The maximum of the log-likelihood, where it lies, and the inverse information there.
    pub(crate) top: f64,
    pub(crate) centre: DVector<f64>,
    pub(crate) covariance: DMatrix<f64>,
    /// −1 for the lower end, 1 for the upper.
    pub(crate) side: f64,
}

/// Steps of r to begin with, and the smallest share of the way a step may shrink to.
const STEPS: f64 = 4.0;
const SMALLEST_STEP: f64 = 1e-4;

/// When Newton's method has come near enough to a point: its last step, and how far off its depth the likelihood then
/// was; it squares what error is left.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Enough {
    pub(crate) step: f64,
    pub(crate) fall: f64,
}

impl Enough {
    pub(crate) const EXACT: Self = Self {
        step: 1e-11,
        fall: 1e-8,
    };
}

/// The last point of a path that could not be followed to its depth.
pub(crate) struct Broken {
    /// The quantity there.
    pub(crate) value: f64,
    /// The free parameters.
    pub(crate) x: Vec<f64>,
}

impl<P: LogLikelihood> Contour<'_, P> {
    /// The quantity's extreme where ℓ has fallen by z²/2, or where the path to it breaks off.
    pub(crate) fn follow(&self, z: f64) -> Result<f64, Broken> {
        self.path(z, Enough::EXACT).map(|point| self.value(&point))
    }

    /// The quantity's extreme, sought from a point near it.
    pub(crate) fn from(&self, near: DVector<f64>, z: f64, enough: Enough) -> Option<f64> {
        self.solve(near, z, enough).map(|point| self.value(&point))
    }

    /// Where that extreme lies.
    pub(crate) fn path(&self, z: f64, enough: Enough) -> Result<DVector<f64>, Broken> {
        let centre = self.centre.clone();
        let gradient = slope(&(self.quantity)(centre.as_slice()));
        let direction = &self.covariance * &gradient;
        let error = gradient.dot(&direction).sqrt();
        let mut from = direction * (self.side / error);
        let (mut depth, mut step) = (0.0_f64, z / STEPS);
        // At no depth the end is the estimate itself.
        let mut end = self.value(&centre);
        while depth < z {
            let next = (depth + step).min(z);
            // From the centre the first guess is the normal approximation; later ones stretch the last.
            let reach = if depth == 0.0 { next } else { next / depth };
            match self.solve(&centre + &from * reach, next, enough) {
                Some(point) if (self.value(&point) - end) * self.side > 0.0 => {
                    end = self.value(&point);
                    from = point - &centre;
                    depth = next;
                    step = (step * 1.5).min(z / STEPS);
                }
                _ => {
                    step *= 0.5;
                    if step < SMALLEST_STEP * z {
                        let last = if depth == 0.0 {
                            centre
                        } else {
                            &centre + &from
                        };
                        return Err(Broken {
                            value: end,
                            x: last.iter().copied().collect(),
                        });
                    }
                }
            }
        }
        Ok(&self.centre + from)
    }

    fn solve(&self, mut x: DVector<f64>, depth: f64, enough: Enough) -> Option<DVector<f64>> {
        let target = self.top - 0.5 * depth * depth;
        let n = x.len();
        let mut multiplier = None;
        for _ in 0..30 {
            let l = self.likelihood.derivatives(x.as_slice());
            let q = (self.quantity)(x.as_slice());
            let (gl, gq) = (slope(&l), slope(&q));
            if !l.value.is_finite() || gl.norm_squared() == 0.0 {
                return None;
            }
            let lambda = *multiplier.get_or_insert(gq.dot(&gl) / gl.norm_squared());
            let (hl, hq) = (bend(&l), bend(&q));
            // Unknowns: the step in x and in λ. Equations: ∇q − λ∇ℓ = 0 and ℓ = target.
            let mut matrix = DMatrix::zeros(n + 1, n + 1);
            let mut right = DVector::zeros(n + 1);
            for i in 0..n {
                for j in 0..n {
                    matrix[(i, j)] = hq[(i, j)] - lambda * hl[(i, j)];
                }
                matrix[(i, n)] = -gl[i];
                matrix[(n, i)] = gl[i];
                right[i] = lambda * gl[i] - gq[i];
            }
            right[n] = target - l.value;
            let step = matrix.lu().solve(&right)?;
            let length = step.rows(0, n).amax();
            if !length.is_finite() || length > 5.0 {
                return None;
            }
            x += step.rows(0, n);
            multiplier = Some(lambda + step[n]);
            if length < enough.step && right[n].abs() < enough.fall * (1.0 + depth * depth) {
                // On the way out likelihood falls as the quantity moves: λ and side have opposite signs.
                return (lambda * self.side < 0.0).then_some(x);
            }
        }
        None
    }

    fn value(&self, x: &DVector<f64>) -> f64 {
        (self.quantity)(x.as_slice()).value
    }
}

fn slope(d: &Derivatives) -> DVector<f64> {
    DVector::from_column_slice(&d.gradient)
}

fn bend(d: &Derivatives) -> DMatrix<f64> {
    let n = d.gradient.len();
    DMatrix::from_fn(n, n, |i, j| {
        d.hessian
            .get(i)
            .and_then(|row| row.get(j))
            .copied()
            .unwrap_or(0.0)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two parameters about 7 with error 2 and about 2 with error 1.
    struct Normal;

    impl LogLikelihood for Normal {
        fn value(&self, x: &[f64]) -> f64 {
            -0.5 * ((0.5 * (x[0] - 7.0)).powi(2) + (x[1] - 2.0).powi(2))
        }
        fn derivatives(&self, x: &[f64]) -> Derivatives {
            Derivatives {
                value: self.value(x),
                gradient: vec![-0.25 * (x[0] - 7.0), -(x[1] - 2.0)],
                hessian: vec![vec![-0.25, 0.0], vec![0.0, -1.0]],
            }
        }
        fn weight(&self) -> f64 {
            1.0
        }
    }

    fn first(x: &[f64]) -> Derivatives {
        Derivatives {
            value: x[0],
            gradient: vec![1.0, 0.0],
            hessian: vec![vec![0.0; 2]; 2],
        }
    }

    /// Sought from a point near it the end is the one that the way from the centre leads to, 1.5 errors off.
    #[test]
    fn an_end_is_found_from_near_it() {
        for side in [-1.0, 1.0] {
            let contour = Contour {
                likelihood: &Normal,
                quantity: &first,
                top: 0.0,
                centre: DVector::from_vec(vec![7.0, 2.0]),
                covariance: DMatrix::from_diagonal(&DVector::from_vec(vec![4.0, 1.0])),
                side,
            };
            let near = DVector::from_vec(vec![7.0 + 2.8 * side, 2.1]);
            let end = contour.from(near, 1.5, Enough::EXACT);
            assert!(end.is_some_and(|e| (e - (7.0 + 3.0 * side)).abs() < 1e-9));
            let way = contour.follow(1.5).ok();
            assert!(way.is_some_and(|e| (e - (7.0 + 3.0 * side)).abs() < 1e-9));
        }
    }
}
