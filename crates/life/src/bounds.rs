//! Confidence bounds of any quantity: Wald on the quantity's scale, and profile likelihood.

use crate::contour::Contour;
use crate::edge;
use crate::fit::Fit;
use crate::quantity::Quantity;
use nalgebra::DVector;
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
    let problem = fit.problem(&fit.terms);
    let asked = |x: &[f64]| problem.picked(&fit.family.quantity(&problem.place(x), quantity));
    let contour = Contour {
        likelihood: &problem,
        quantity: &asked,
        top: fit.log_likelihood,
        centre: DVector::from_vec(problem.pick(&fit.theta)),
        covariance: fit.free_covariance(),
        side,
    };
    let farther = |a: f64, b: f64| if (b - a) * side > 0.0 { b } else { a };
    match contour.follow(z) {
        Ok(inside) => {
            let edge = edge::profile_end(fit, quantity, z, side, None);
            Some(edge.map_or(inside, |e| farther(inside, e)))
        }
        // The path broke off: the end lies on the edge it was on the way to, if that reaches farther.
        Err(broken) => edge::profile_end(fit, quantity, z, side, Some(&problem.place(&broken.x)))
            .filter(|e| (e - broken.value) * side >= 0.0),
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
