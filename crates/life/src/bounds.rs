//! Confidence bounds of any quantity: Wald on the quantity's scale, and profile likelihood.
//!
//! ```
//! use sealspan_life::bounds::{Bounds, Method, NoEnd, at_depths, bounds};
//! use sealspan_life::{fit::fit, laws::by_name, quantity::Quantity};
//! use sealspan_records::{Observation, Sample};
//! let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
//! let fit = fit(by_name("exponential").unwrap(), &Sample::new(ages.into())).unwrap();
//! // A 90 % profile interval reaches down to r = 1.644854 on either side.
//! let profile = bounds(&fit, Quantity::Mean, Method::Profile, 0.9);
//! let same = at_depths(&fit, Quantity::Mean, 1.644_853_627, 1.644_853_627);
//! assert!((profile.lower.unwrap() - same.lower.unwrap()).abs() < 1e-4);
//! assert!((profile.upper.unwrap() - same.upper.unwrap()).abs() < 1e-4);
//! let none = Bounds::none(NoEnd::Stated);
//! assert_eq!((none.lower, none.no_upper), (None, Some(NoEnd::Stated)));
//! ```

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use crate::contour::{Broken, Contour, Enough};
use crate::edge;
use crate::fit::Fit;
use crate::held::{self, Region};
use crate::law::Link;
use crate::quantity::Quantity;
use crate::sweep;
use crate::unit::Own;
use crate::unreached::{self, beyond};
use nalgebra::DVector;
use sealspan_numeric::roots::{bracket_from, bracketed};
use sealspan_numeric::special::normal_quantile;
use serde::{Deserialize, Serialize};

/// How bounds are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Where the profile log-likelihood has fallen by half the chi-square (1 df) quantile: the extremes of the quantity
    /// over θ with ℓ(θ) ≥ ℓ̂ − z²/2 (Venzon & Moolgavkar 1988, extended to any smooth quantity).
    Profile,
    /// Estimate ± z standard errors by the delta method, on the quantity's scale ([`Quantity`]): the logarithm for
    /// times and positive parameters.
    Wald,
    /// Profile likelihood with its cut-offs calibrated by refits (see [`crate::calibrate`]).
    Calibrated,
    /// Studentised parametric bootstrap: on the quantity's scale the estimate less its standard error times quantiles
    /// of (estimate − truth)/standard error over refits (Efron & Tibshirani 1993, chapter 12).
    Bootstrap,
    /// Quantiles of the posterior under weak priors (see [`crate::posterior`]).
    Posterior,
    /// Chi-square ends of the one scale under a shape taken as known (see [`crate::few::scale_bounds`]): what
    /// calibrated intervals are with few failures.
    ChiSquare,
}

impl Method {
    /// The method in words.
    ///
    /// ```
    /// use sealspan_life::bounds::Method;
    /// assert_eq!(Method::Profile.words(), "profile likelihood");
    /// assert_eq!(Method::Wald.words(), "normal approximation");
    /// ```
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Profile => "profile likelihood",
            Self::Wald => "normal approximation",
            Self::Calibrated => "likelihood ratio calibrated by refits",
            Self::Bootstrap => "studentised bootstrap",
            Self::Posterior => "posterior under weak priors",
            Self::ChiSquare => "chi-square, the shape taken as known",
        }
    }
}

/// Why an interval has no end on one side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoEnd {
    /// There is none: values as far on this side as one likes are admitted.
    NoLimit,
    /// There may be one: the search for it broke off.
    NotFound,
    /// The quantity hangs on stated parameters alone.
    Stated,
    /// The draws behind the interval are too few to reach so far out.
    BeyondDraws,
    /// On this side the likelihood is highest where the law closes in on a few failures, where it has no limit and
    /// says nothing.
    ClosesIn,
    /// On this side the likelihood is highest where the parts of the law have changed places, so that a parameter is
    /// another part's.
    ChangedPlaces,
    /// The quantity itself is infinite: a share of the seals never fails, or so many live so long that their mean life
    /// has no limit.
    Infinite,
}

/// An end of an interval, or why there is none.
pub(crate) type End = Result<f64, NoEnd>;

/// A two-sided interval; each end is also the one-sided bound at (1 + level) / 2. Where values are admitted down to
/// the least there is (a life of 0, a share of 0 or 1), that is the end.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bounds {
    /// Lower end; `None` with the reason in `no_lower`.
    pub lower: Option<f64>,
    /// Upper end; `None` with the reason in `no_upper`.
    pub upper: Option<f64>,
    /// Why there is no lower end.
    pub no_lower: Option<NoEnd>,
    /// Why there is no upper end.
    pub no_upper: Option<NoEnd>,
}

impl Bounds {
    pub(crate) fn of([lower, upper]: [End; 2]) -> Self {
        Self {
            lower: lower.ok(),
            upper: upper.ok(),
            no_lower: lower.err(),
            no_upper: upper.err(),
        }
    }

    /// No end on either side, for one reason.
    #[must_use]
    pub fn none(why: NoEnd) -> Self {
        Self::of([Err(why); 2])
    }
}

/// Bounds of `quantity` at two-sided confidence `level` (0.9 for 90 %), in the quantity's own unit. A stated parameter
/// has no bounds, and no upper end of a failure-free time lies beyond the first failure. Methods that need refits or a
/// posterior are made by [`crate::intervals::Intervals`]; here they fall to the profile likelihood.
///
/// ```
/// use sealspan_life::bounds::{Method, bounds};
/// use sealspan_life::{fit::fit, laws::by_name, quantity::Quantity};
/// use sealspan_records::{Observation, Sample};
/// let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
/// let fit = fit(by_name("exponential").unwrap(), &Sample::new(ages.into())).unwrap();
/// // ln of an exponential mean has the standard error 1/√n.
/// let wald = bounds(&fit, Quantity::Mean, Method::Wald, 0.9);
/// assert!((wald.upper.unwrap() - 100.0 * (1.644853627_f64 / 2.0).exp()).abs() < 1e-4);
/// // The profile's ends lie where n (m/μ − 1 − ln(m/μ)) = z²/2.
/// let profile = bounds(&fit, Quantity::Mean, Method::Profile, 0.9);
/// let ratio = 100.0 / profile.lower.unwrap();
/// assert!((4.0 * (ratio - 1.0 - ratio.ln()) - 1.644853627_f64.powi(2) / 2.0).abs() < 1e-5);
/// ```
#[must_use]
pub fn bounds(fit: &Fit, quantity: Quantity, method: Method, level: f64) -> Bounds {
    let own = Own::of(fit);
    let asked = own.asked(quantity);
    let z = normal_quantile(0.5 + 0.5 * level);
    let bounds = match method {
        Method::Wald => wald(&own.fit, asked, z),
        _ => ends(&own.fit, asked, z, z),
    };
    own.bounds(quantity, bounds)
}

/// The ends at which the signed root of the likelihood ratio, √(2(ℓ̂ − ℓ)) of the profile log-likelihood ℓ, has these
/// depths of 0 or more, `lower` below the estimate and `upper` above it on the quantity's scale: a survival's scale
/// grows as survival falls, so that `lower` is the depth of its upper end.
#[must_use]
pub fn at_depths(fit: &Fit, quantity: Quantity, lower: f64, upper: f64) -> Bounds {
    let own = Own::of(fit);
    own.bounds(quantity, ends(&own.fit, own.asked(quantity), lower, upper))
}

/// The estimate less and plus `z` standard errors, on the quantity's scale.
pub(crate) fn wald(fit: &Fit, quantity: Quantity, z: f64) -> Bounds {
    let centre = fit.family.quantity(&fit.theta, quantity).value;
    let error = fit.scaled_error(quantity);
    match place(fit, quantity) {
        Place::Inside => {
            let ends = both_ends(fit, quantity, |side| Ok(centre + side * z * error));
            // No failure-free time passes a failure, which the normal approximation does not know.
            let most = sweep::greatest(fit, quantity);
            Bounds {
                upper: ends.upper.map(|u| most.map_or(u, |m| u.min(m))),
                ..ends
            }
        }
        Place::Stated => Bounds::none(NoEnd::Stated),
        Place::Infinite => Bounds::none(NoEnd::Infinite),
        Place::NeverReached | Place::BelowZero | Place::AllSurvive | Place::NoDigits => {
            Bounds::none(NoEnd::NotFound)
        }
    }
}

/// [`at_depths`] in the unit that the fit itself is in.
pub(crate) fn ends(fit: &Fit, quantity: Quantity, lower: f64, upper: f64) -> Bounds {
    match place(fit, quantity) {
        Place::Inside => both_ends(fit, quantity, |side| {
            let depth = if side < 0.0 { lower } else { upper };
            profile_end(fit, quantity, depth, side)
        }),
        Place::Stated => Bounds::none(NoEnd::Stated),
        Place::NoDigits => Bounds::none(NoEnd::NotFound),
        // The estimate is itself the upper end.
        Place::AllSurvive => Bounds::of([
            // The index grows as survival falls.
            profile_end(fit, quantity, upper, 1.0).map(|index| fit.family.unscale(quantity, index)),
            Ok(1.0),
        ]),
        Place::NeverReached | Place::Infinite => match unreached::lower_end(fit, quantity, lower) {
            // Infinite under every law that is admitted.
            Err(NoEnd::Infinite) => Bounds::none(NoEnd::Infinite),
            lower => Bounds::of([lower, Err(NoEnd::NoLimit)]),
        },
        Place::BelowZero => Bounds::of([Ok(0.0), unreached::upper_end(fit, quantity, upper)]),
    }
}

/// Where the estimate of a quantity lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// Inside its range, with a standard error.
    Inside,
    /// It hangs on stated parameters alone.
    Stated,
    /// The survival of an age before which no seal can fail: 1, without a standard error.
    AllSurvive,
    /// An age by which a share fails that the fitted law never reaches.
    NeverReached,
    /// An age by which a share fails that lies below 0 (normal law).
    BelowZero,
    /// A mean life that is infinite.
    Infinite,
    /// Out of reach of the arithmetic.
    NoDigits,
}

/// Where a quantity's estimate lies.
pub(crate) fn place(fit: &Fit, quantity: Quantity) -> Place {
    let error = fit.scaled_error(quantity);
    let value = fit.family.quantity(&fit.theta, quantity).value;
    match quantity {
        Quantity::Survival(_) if value == f64::NEG_INFINITY => Place::AllSurvive,
        Quantity::Quantile(_) | Quantity::Remaining { .. } if value.is_nan() => {
            if beyond(fit.family, &fit.theta, quantity) > 0.0 {
                Place::NeverReached
            } else {
                Place::BelowZero
            }
        }
        Quantity::Mean if value == f64::INFINITY => Place::Infinite,
        _ if error > 0.0 && error.is_finite() && value.is_finite() => Place::Inside,
        _ if error <= 0.0 && fit.free.len() < fit.theta.len() => Place::Stated,
        _ => Place::NoDigits,
    }
}

/// Both ends on the quantity's scale, brought back to its unit.
fn both_ends(fit: &Fit, quantity: Quantity, end: impl Fn(f64) -> End) -> Bounds {
    let mut ends = [-1.0, 1.0].map(|side| match end(side) {
        Err(NoEnd::NoLimit) => limit(fit, quantity, side),
        found => {
            let value = fit.family.unscale(quantity, found?);
            if value.is_finite() {
                Ok(value)
            } else {
                Err(NoEnd::NoLimit)
            }
        }
    });
    // Survival falls as its index grows.
    if matches!(quantity, Quantity::Survival(_)) {
        ends.reverse();
    }
    Bounds::of(ends)
}

/// The end of a quantity's own range on one side of its scale, where it has one.
fn limit(fit: &Fit, quantity: Quantity, side: f64) -> End {
    let link = match quantity {
        Quantity::Parameter(i) => fit.family.reported().get(i).map(|p| p.link),
        Quantity::Survival(_) => Some(Link::Logit),
        Quantity::Quantile(_) | Quantity::Mean | Quantity::Remaining { .. } => Some(Link::Log),
    };
    let value = match (link, side < 0.0, quantity) {
        (_, low, Quantity::Survival(_)) => f64::from(u8::from(low)),
        (Some(Link::Log | Link::Logit), true, _) => 0.0,
        (Some(Link::Logit), false, _) => 1.0,
        _ => return Err(NoEnd::NoLimit),
    };
    Ok(value)
}

/// The extreme of the quantity's scale on the contour ℓ(θ) = ℓ̂ − z²/2, going down (`side` −1) or up, over the
/// family and the simpler laws at its edges.
pub(crate) fn profile_end(fit: &Fit, quantity: Quantity, z: f64, side: f64) -> End {
    if fit.free.len() == 1 {
        return one_dimension(fit, quantity, z, side);
    }
    if place(fit, quantity) == Place::AllSurvive {
        return sweep::profile_end(fit, quantity, z, side).unwrap_or(Err(NoEnd::NotFound));
    }
    let limit = edge::at_limit(fit, quantity, z, side);
    if let Some(limit) = limit.filter(|limit| limit.farthest) {
        return if without_limit(fit, quantity, limit.value) {
            Err(NoEnd::NoLimit)
        } else {
            Ok(limit.value)
        };
    }
    let limit = limit.map(|limit| limit.value);
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
    let closes_in = |x: &[f64]| fit.family.closes_in(&problem.place(x), &fit.terms);
    let start = || Broken {
        value: asked(contour.centre.as_slice()).value,
        x: contour.centre.iter().copied().collect(),
    };
    let followed = match contour.path(z, Enough::EXACT) {
        Ok(point) if closes_in(point.as_slice()) => Err(start()),
        Ok(point) => Ok(asked(point.as_slice()).value),
        Err(broken) if closes_in(&broken.x) => Err(start()),
        Err(broken) => Err(broken),
    };
    let broken = match followed {
        Ok(inside) => {
            let edge = edge::profile_end(fit, quantity, z, side, None);
            return Ok(edge.into_iter().chain(limit).fold(inside, farther));
        }
        Err(broken) => broken,
    };
    if let Some(end) = sweep::profile_end(fit, quantity, z, side) {
        return end;
    }
    // The path broke off: the end lies on the edge it was on the way to, if that reaches farther.
    let edge = edge::profile_end(fit, quantity, z, side, Some(&problem.place(&broken.x)));
    let edges = edge.into_iter().chain(limit).reduce(farther);
    if let Some(end) = edges.filter(|e| (e - broken.value) * side >= 0.0) {
        return Ok(end);
    }
    let region = Region {
        far: &|value: f64| without_limit(fit, quantity, value),
        closes_in: &closes_in,
        changed_places: &|x: &[f64]| {
            let theta = problem.place(x);
            fit.family.in_order(&theta) != theta
        },
    };
    match held::walk(&problem, &asked, &contour, &broken, z, &region) {
        Err(NoEnd::NotFound)
            if edge::runs_off(fit, quantity, z, &problem.place(&broken.x))
                || edge::runs_to_limit(fit, quantity, z) =>
        {
            Err(NoEnd::NoLimit)
        }
        end => end,
    }
}

/// A value this far from the estimate on its scale (160,000 times it or less), a share this near to 0 or 1 on the
/// scale of its log odds, or a survival this near to 1 or 0 on that of ln(−ln) that is still admitted has no limit
/// (rules of ours).
pub(crate) const FAR: f64 = 12.0;
const FAR_LOGIT: f64 = 25.0;
const FAR_INDEX: [f64; 2] = [-25.0, 6.5];

fn without_limit(fit: &Fit, quantity: Quantity, value: f64) -> bool {
    let estimate = fit.family.quantity(&fit.theta, quantity).value;
    let link = match quantity {
        Quantity::Parameter(i) => fit.family.reported().get(i).map(|p| p.link),
        _ => None,
    };
    match quantity {
        Quantity::Survival(_) => {
            let [low, high] = FAR_INDEX;
            value < low || value > high.max(estimate)
        }
        _ if link == Some(Link::Logit) => value.abs() > FAR_LOGIT,
        _ => (value - estimate).abs() > FAR,
    }
}

/// One free parameter: the quantity is monotone in it, so the contour's two points are its ends.
fn one_dimension(fit: &Fit, quantity: Quantity, z: f64, side: f64) -> End {
    let at = *fit.free.first().ok_or(NoEnd::NotFound)?;
    let place = |x: f64| {
        let mut theta = fit.theta.clone();
        if let Some(slot) = theta.get_mut(at) {
            *slot = x;
        }
        theta
    };
    let here = *fit.theta.get(at).ok_or(NoEnd::NotFound)?;
    let q = fit.family.quantity(&fit.theta, quantity);
    let slope = *q.gradient.get(at).ok_or(NoEnd::NotFound)?;
    let step = side * slope.signum() * fit.covariance[(at, at)].sqrt() * z;
    let fall = |x: f64| {
        let value = fit.family.log_likelihood(&place(x), &fit.terms);
        if value.is_finite() {
            fit.log_likelihood - value - 0.5 * z * z
        } else {
            1e300
        }
    };
    let (lo, hi) = bracket_from(fall, here, step, 40).ok_or(NoEnd::NoLimit)?;
    let end = bracketed(fall, lo, hi, 1e-13).ok_or(NoEnd::NotFound)?;
    Ok(fit.family.quantity(&place(end), quantity).value)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::{Model, fit, fit_terms};
    use crate::intervals::Intervals;
    use crate::laws::by_name;
    use crate::terms::Terms;
    use sealspan_records::observation::{Observation, Sample};
    use std::sync::Arc;

    /// The rule: log odds beyond 25 on either side are without limit, however far from the estimate; other parameters are at
    /// 12 from it on their scale.
    #[test]
    fn a_share_of_weak_seals_is_without_limit_by_its_log_odds() {
        let failed = [20.0, 35.0, 50.0, 60.0, 75.0, 90.0];
        let failed = failed.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let running = Observation::right(2000.0, 0.0, 60.0).unwrap();
        let rows = failed.into_iter().chain([running]).collect();
        let found = fit(
            by_name("weak_fraction_weibull").unwrap(),
            &Sample::new(rows),
        )
        .unwrap();
        let of = |at: usize| {
            found
                .family
                .quantity(&found.theta, Quantity::Parameter(at))
                .value
        };
        // A tenth are weak: log odds of −2.3.
        assert!((of(2) + 10f64.ln()).abs() < 0.05, "{}", of(2));
        let far = |at: usize, value: f64| without_limit(&found, Quantity::Parameter(at), value);
        for (value, is_far) in [(-25.1, true), (-24.9, false), (24.9, false), (25.1, true)] {
            assert_eq!(far(2, value), is_far, "{value}");
        }
        for (by, is_far) in [(-12.1, true), (-11.9, false), (11.9, false), (12.1, true)] {
            assert_eq!(far(1, of(1) + by), is_far, "{by}");
        }
    }

    /// The rule: shares surviving of more than 1 − e^−25, or of less than exp(−e^6.5), are without limit; where the
    /// estimate is smaller still, those below it.
    #[test]
    fn shares_near_all_and_none_are_without_limit() {
        let rows = [40.0, 90.0, 170.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let found = fit(by_name("exponential").unwrap(), &Sample::new(rows.into())).unwrap();
        let mean = 100.0;
        let far = |age: f64, value: f64| without_limit(&found, Quantity::Survival(age), value);
        for (age, value, is_far) in [
            (mean, -25.1, true),
            (mean, -24.9, false),
            (mean, 0.0, false),
            (mean, 6.4, false),
            (mean, 6.6, true),
            // ln of the hazard there is 9.
            (mean * 9f64.exp(), 8.9, false),
            (mean * 9f64.exp(), 9.1, true),
        ] {
            assert_eq!(far(age, value), is_far, "{age} {value}");
        }
    }

    /// What hangs on a stated parameter alone has no ends by any method, for that reason, and no median.
    #[test]
    fn a_stated_shape_has_no_ends_because_it_is_stated() {
        let ages = [60.0, 90.0, 130.0, 170.0, 240.0];
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let sample = Sample::new(rows.into());
        let model = Model {
            stated: Some(("shape", 2.0)),
            ..Model::free(by_name("weibull").unwrap())
        };
        let found = fit_terms(model, &Arc::new(Terms::new(&sample))).unwrap();
        let reported = found.family.reported();
        let shape = reported.iter().position(|p| p.name == "shape").unwrap();
        let [shape, scale] = [shape, 1 - shape].map(Quantity::Parameter);
        assert!((found.estimate(shape) - 2.0).abs() < 1e-12);
        for method in [Method::Profile, Method::Wald, Method::Posterior] {
            let intervals = Intervals::new(&found, &sample, method, 0.9, 1);
            assert_eq!(
                intervals.of(shape).bounds,
                Bounds::none(NoEnd::Stated),
                "{method:?}"
            );
            assert_eq!(intervals.median(shape), None);
            let ends = intervals.of(scale).bounds;
            assert!(ends.lower.unwrap() < ends.upper.unwrap());
            let median = intervals.median(scale);
            assert_eq!(median.is_some(), method == Method::Posterior);
        }
    }

    /// A parameter without an error is stated where some are, and out of reach of the arithmetic where none is; one whose
    /// error has no limit is out of reach in both cases.
    #[test]
    fn an_estimate_without_digits_is_told_from_one_stated() {
        let rows = [40.0, 90.0, 170.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let found = fit(by_name("weibull").unwrap(), &Sample::new(rows.into())).unwrap();
        let shape = Quantity::Parameter(0);
        assert_eq!(place(&found, shape), Place::Inside);
        for (error, free, want) in [
            (0.0, vec![0], Place::Stated),
            (0.0, vec![0, 1], Place::NoDigits),
            (f64::INFINITY, vec![0], Place::NoDigits),
            (f64::INFINITY, vec![0, 1], Place::NoDigits),
        ] {
            let mut moved = found.clone();
            moved.covariance.fill(0.0);
            moved.covariance[(1, 1)] = error;
            moved.free = free;
            assert_eq!(place(&moved, shape), want, "{error}");
        }
    }
}
