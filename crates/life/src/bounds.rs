//! Confidence bounds of any quantity: Wald on the quantity's scale, and profile likelihood.

use crate::edge;
use crate::fit::Fit;
use crate::quantity::{Derivatives, Quantity};
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::roots::{bracket_from, bracketed};
use sealspan_numeric::special::normal_quantile;
use serde::{Deserialize, Serialize};

/// How bounds are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Where the profile log-likelihood has fallen by half the chi-square (1 df) quantile.
    Profile,
    /// Estimate ± z standard errors, on the logarithm for times and positive parameters.
    Wald,
    /// Profile likelihood with its cut-offs calibrated by refits (see [`crate::calibrate`]).
    Calibrated,
    /// Studentised parametric bootstrap.
    Bootstrap,
    /// Quantiles of the posterior under weak priors (see [`crate::posterior`]).
    Posterior,
}

impl Method {
    /// The method in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Profile => "profile likelihood",
            Self::Wald => "normal approximation",
            Self::Calibrated => "likelihood ratio calibrated by refits",
            Self::Bootstrap => "studentised bootstrap",
            Self::Posterior => "posterior under weak priors",
        }
    }
}

/// A two-sided interval; each end is also the one-sided bound at (1 + level) / 2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Lower end; `None` when the data set none.
    pub lower: Option<f64>,
    /// Upper end; `None` when the data set none.
    pub upper: Option<f64>,
}

/// Bounds of `quantity` at two-sided confidence `level` (0.9 for 90 %), in the quantity's own unit.
/// A stated parameter has no bounds. Methods that need refits or a posterior are made by
/// [`crate::intervals::Intervals`]; here they fall to the profile likelihood.
#[must_use]
pub fn bounds(fit: &Fit, quantity: Quantity, method: Method, level: f64) -> Bounds {
    let z = normal_quantile(0.5 + 0.5 * level);
    if method != Method::Wald {
        return at_depths(fit, quantity, z, z);
    }
    let centre = fit.family.quantity(&fit.theta, quantity).value;
    let error = fit.scaled_error(quantity);
    both_ends(fit, quantity, |side| Some(centre + side * z * error))
}

/// The ends at which the signed root of the likelihood ratio has these depths, below and above the estimate.
#[must_use]
pub fn at_depths(fit: &Fit, quantity: Quantity, lower: f64, upper: f64) -> Bounds {
    both_ends(fit, quantity, |side| {
        let depth = if side < 0.0 { lower } else { upper };
        profile_end(fit, quantity, depth, side)
    })
}

/// Both ends on the quantity's scale, brought back to its unit.
fn both_ends(fit: &Fit, quantity: Quantity, end: impl Fn(f64) -> Option<f64>) -> Bounds {
    let error = fit.scaled_error(quantity);
    if error <= 0.0 || !error.is_finite() {
        return Bounds {
            lower: None,
            upper: None,
        };
    }
    let ends = [-1.0, 1.0].map(end);
    let mut ends = ends.map(|e| e.map(|x| fit.family.unscale(quantity, x)));
    // Survival falls as its index grows.
    if matches!(quantity, Quantity::Survival(_)) {
        ends.reverse();
    }
    Bounds {
        lower: ends[0],
        upper: ends[1],
    }
}

/// The extreme of the quantity's scale on the contour ℓ(θ) = ℓ̂ − z²/2, going down (`side` −1) or up, over the
/// family and the simpler laws at its edges.
pub(crate) fn profile_end(fit: &Fit, quantity: Quantity, z: f64, side: f64) -> Option<f64> {
    if fit.free.len() == 1 {
        return one_dimension(fit, quantity, z, side);
    }
    let contour = Contour {
        fit,
        quantity,
        side,
    };
    let farther = |a: f64, b: f64| if (b - a) * side > 0.0 { b } else { a };
    match contour.follow(z) {
        Ok(inside) => {
            let edge = edge::profile_end(fit, quantity, z, side, None);
            Some(edge.map_or(inside, |e| farther(inside, e)))
        }
        // The path broke off: the end lies on the edge it was on the way to, if that reaches farther.
        Err((reached, theta)) => edge::profile_end(fit, quantity, z, side, Some(&theta))
            .filter(|e| (e - reached) * side >= 0.0),
    }
}

/// One free parameter: the quantity is monotone in it, so the contour's two points are its ends.
fn one_dimension(fit: &Fit, quantity: Quantity, z: f64, side: f64) -> Option<f64> {
    let at = *fit.free.first()?;
    let place = |x: f64| {
        let mut theta = fit.theta.clone();
        if let Some(slot) = theta.get_mut(at) {
            *slot = x;
        }
        theta
    };
    let here = *fit.theta.get(at)?;
    let slope = *fit.family.quantity(&fit.theta, quantity).gradient.get(at)?;
    let step = side * slope.signum() * fit.covariance[(at, at)].sqrt() * z;
    let fall = |x: f64| {
        let value = fit.family.log_likelihood(&place(x), &fit.terms);
        if value.is_finite() {
            fit.log_likelihood - value - 0.5 * z * z
        } else {
            1e300
        }
    };
    let (lo, hi) = bracket_from(fall, here, step, 40)?;
    let end = bracketed(fall, lo, hi, 1e-13)?;
    Some(fit.family.quantity(&place(end), quantity).value)
}

/// Follows the extreme of a quantity over likelihood contours of growing depth r, ℓ = ℓ̂ − r²/2, by
/// Newton's method on the Lagrange conditions ∇q = λ ∇ℓ (Venzon & Moolgavkar 1988, extended to any
/// smooth quantity), each contour started from the last.
struct Contour<'a> {
    fit: &'a Fit,
    quantity: Quantity,
    side: f64,
}

/// Steps of r to begin with, and the smallest share of the way a step may shrink to.
const STEPS: f64 = 4.0;
const SMALLEST_STEP: f64 = 1e-4;

impl Contour<'_> {
    /// The value at depth `z`, or the last one reached, with its θ, where the path breaks off.
    fn follow(&self, z: f64) -> Result<f64, (f64, Vec<f64>)> {
        let centre = self.pick(&self.fit.theta);
        let gradient = self.slope(&self.fit.family.quantity(&self.fit.theta, self.quantity));
        let direction = self.fit.free_covariance() * &gradient;
        let error = gradient.dot(&direction).sqrt();
        let mut from = direction * (self.side / error);
        let (mut depth, mut step) = (0.0_f64, z / STEPS);
        // At no depth the end is the estimate itself.
        let mut end = self.value(&centre);
        while depth < z {
            let next = (depth + step).min(z);
            // From the centre the first guess is the normal approximation; later ones stretch the last.
            let reach = if depth == 0.0 { next } else { next / depth };
            match self.solve(&centre + &from * reach, next) {
                Some(point) if self.ahead(&point, &centre, &from, depth) => {
                    from = &point - &centre;
                    end = self.value(&point);
                    depth = next;
                    step = (step * 1.5).min(z / STEPS);
                }
                _ => {
                    step *= 0.5;
                    if step < SMALLEST_STEP * z {
                        return Err((end, self.last(&centre, &from, depth)));
                    }
                }
            }
        }
        Ok(end)
    }

    /// θ of the last point on the path.
    fn last(&self, centre: &DVector<f64>, from: &DVector<f64>, depth: f64) -> Vec<f64> {
        self.place(&if depth == 0.0 {
            centre.clone()
        } else {
            centre + from
        })
    }

    /// The quantity must have moved on, to the right side.
    fn ahead(
        &self,
        point: &DVector<f64>,
        centre: &DVector<f64>,
        from: &DVector<f64>,
        depth: f64,
    ) -> bool {
        let before = if depth == 0.0 {
            self.value(centre)
        } else {
            self.value(&(centre + from))
        };
        (self.value(point) - before) * self.side > 0.0
    }

    fn solve(&self, mut x: DVector<f64>, depth: f64) -> Option<DVector<f64>> {
        let target = self.fit.log_likelihood - 0.5 * depth * depth;
        let n = x.len();
        let mut multiplier = None;
        for _ in 0..30 {
            let theta = self.place(&x);
            let l = self
                .fit
                .family
                .log_likelihood_derivatives(&theta, &self.fit.terms);
            let q = self.fit.family.quantity(&theta, self.quantity);
            let (gl, gq) = (self.slope(&l), self.slope(&q));
            if !l.value.is_finite() || gl.norm_squared() == 0.0 {
                return None;
            }
            let lambda = *multiplier.get_or_insert(gq.dot(&gl) / gl.norm_squared());
            let (hl, hq) = (self.bend(&l), self.bend(&q));
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
            if length < 1e-11 && right[n].abs() < 1e-8 * (1.0 + depth * depth) {
                // On the way out likelihood falls as the quantity moves: λ and side have opposite signs.
                return (lambda * self.side < 0.0).then_some(x);
            }
        }
        None
    }

    fn value(&self, x: &DVector<f64>) -> f64 {
        self.fit
            .family
            .quantity(&self.place(x), self.quantity)
            .value
    }

    fn pick(&self, theta: &[f64]) -> DVector<f64> {
        DVector::from_vec(
            self.fit
                .free
                .iter()
                .filter_map(|i| theta.get(*i).copied())
                .collect(),
        )
    }

    fn place(&self, x: &DVector<f64>) -> Vec<f64> {
        let mut theta = self.fit.theta.clone();
        for (i, value) in self.fit.free.iter().zip(x.iter()) {
            if let Some(slot) = theta.get_mut(*i) {
                *slot = *value;
            }
        }
        theta
    }

    fn slope(&self, d: &Derivatives) -> DVector<f64> {
        self.pick(&d.gradient)
    }

    fn bend(&self, d: &Derivatives) -> DMatrix<f64> {
        let free = &self.fit.free;
        DMatrix::from_fn(free.len(), free.len(), |i, j| {
            let row = free.get(i).and_then(|a| d.hessian.get(*a));
            row.zip(free.get(j))
                .and_then(|(row, b)| row.get(*b))
                .copied()
                .unwrap_or(0.0)
        })
    }
}
