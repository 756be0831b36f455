//! Every way to an interval behind one door, with what each way needs made once.
//!
//! ```
//! use sealspan_life::intervals::{Instead, Intervals, draws_reach, refitted_unasked, usual_method};
//! use sealspan_life::{bounds::Method, fit::fit, laws::by_name, quantity::Quantity};
//! use sealspan_records::{Observation, Sample};
//! // Half of all lies outside an interval of 50 %, a quarter beyond each end: of three draws one at least is expected.
//! assert!(draws_reach(3.0, 0.5) && !draws_reach(2.0, 0.5));
//! assert!(Instead::FewRefits.words().starts_with("too few refits"));
//! let sample = |each: f64| {
//!     let ages = [20.0, 60.0, 100.0, 220.0];
//!     Sample::new(ages.map(|t| Observation::exact(t, 0.0, each).unwrap()).into())
//! };
//! let by = |name, sample: &Sample| fit(by_name(name).unwrap(), sample).unwrap();
//! // Four failures are refitted to calibrate; 800 need no more than the likelihood, and 8,000 are too many to refit.
//! let few = by("weibull", &sample(1.0));
//! assert_eq!((usual_method(&few), refitted_unasked(&few)), (Method::Calibrated, true));
//! let many = by("weibull", &sample(200.0));
//! assert_eq!((usual_method(&many), refitted_unasked(&many)), (Method::Profile, true));
//! assert!(!refitted_unasked(&by("weibull", &sample(2000.0))));
//! // The estimate of a shape is too high in small samples, and its refits say so.
//! let refitted = Intervals::new(&few, &sample(1.0), Method::Calibrated, 0.9, 1);
//! assert!(refitted.refits().is_some());
//! assert!(refitted.bias_reduced(Quantity::Parameter(0)).unwrap() < few.estimate(Quantity::Parameter(0)));
//! // With 400 failures the prior hardly counts, and the posterior's median is about the estimate, 100.
//! let sample = sample(100.0);
//! let plain = by("exponential", &sample);
//! let mut credible = Intervals::new(&plain, &sample, Method::Posterior, 0.9, 1);
//! assert!((credible.median(Quantity::Mean).unwrap() / 100.0 - 1.0).abs() < 0.01);
//! assert!(credible.effective_draws().is_none()); // one parameter is worked out on a grid
//! let posterior = credible.take_posterior().unwrap();
//! assert!(credible.take_posterior().is_none());
//! // ln of the mean has the standard error 1/√400, and a grid has no error of simulation.
//! let spread = posterior.standard_deviation(Quantity::Mean).unwrap();
//! assert!((spread / 0.05 - 1.0).abs() < 0.01, "{spread}");
//! assert!(posterior.error(Quantity::Mean, 0.05).is_none());
//! ```

mod interval;

pub use interval::draws_reach;
pub use interval::{Instead, Interval};

use crate::bounds::{Bounds, Method, NoEnd, Place, ends, place, wald};
use crate::calibrate::{Depths, calibrate};
use crate::constrained::Judge;
use crate::few::scale_bounds;
use crate::fit::Fit;
use crate::posterior::Posterior;
use crate::quantity::Quantity;
use crate::refits::Refits;
use crate::resample::Pattern;
use crate::unit::Own;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::Sample;

/// From this many failures on the likelihood ratio is not calibrated: the mean of its signed root falls with the
/// root of their number (a rule of ours; the coverage study goes to 100 seals only).
pub const MANY_FAILURES: f64 = 400.0;
/// From this many failures on nothing is refitted without being asked; fewer for laws whose tails are dear.
const TOO_MANY: f64 = 5_000.0;
const TOO_MANY_DEAR: f64 = 1_000.0;
/// Above this many distinct ages a law whose tails are dear is refitted the smaller number of times; one with a third
/// parameter always.
const AGES_DEAR: usize = 150;
/// Refits that calibrate: fewer where the score takes out nearly all of the noise, or time forbids.
const CALIBRATING: usize = 1000;
const CALIBRATING_FEW: usize = 2000;
/// Failures below which the signed root's own quantiles serve beside its mean and spread.
const FEW: f64 = 10.0;
/// Failures below which they serve too where most failures are only known to lie between two looks: their signed
/// roots are less nearly normal. There, and of a survival, each end is then judged at its own truth.
const SOME: f64 = 15.0;
const CALIBRATING_MANY: usize = 300;
/// Failures above which the smaller number does.
const ENOUGH: f64 = 60.0;
/// Refits of the studentised bootstrap (fewer for laws of more than two parameters, which are slow to refit), and the
/// fewest of them with a quantity that its ends are read from.
const BOOTSTRAP: usize = 4000;
const BOOTSTRAP_SLOW: usize = 1000;
const FEWEST_REFITS: usize = 100;

/// Whether a fit is refitted without being asked, for calibrated intervals and for tests of fit: not when the
/// failures are very many, 5,000 or more, or 1,000 for laws whose tails are dear (a rule of ours). Seals still running
/// cost nothing: only their failures are drawn.
#[must_use]
pub fn refitted_unasked(fit: &Fit) -> bool {
    let most = if fit.family.costly() {
        TOO_MANY_DEAR
    } else {
        TOO_MANY
    };
    fit.terms.extent.failures < most
}

/// The method used when none is asked for: calibrated below [`MANY_FAILURES`], else profile likelihood, which laws keep
/// whose calibrated intervals measured no better ([`crate::law::Law::REFITTED`]) or that are not refitted unasked.
#[must_use]
pub fn usual_method(fit: &Fit) -> Method {
    let few = fit.terms.extent.failures < MANY_FAILURES;
    if few && fit.family.refitted() && refitted_unasked(fit) {
        Method::Calibrated
    } else {
        Method::Profile
    }
}

/// Refits that calibrate this fit.
fn calibrating(fit: &Fit) -> usize {
    let e = &fit.terms.extent;
    let ages = fit.terms.density.len() + fit.terms.survival.len() + fit.terms.interval.len();
    let dear = (fit.family.costly() && ages > AGES_DEAR) || fit.family.dimension() > 2;
    if e.failures > ENOUGH || dear {
        CALIBRATING_MANY
    } else if e.failures < FEW {
        CALIBRATING_FEW
    } else {
        CALIBRATING
    }
}

/// Refits of the studentised bootstrap of this fit.
fn bootstrapping(fit: &Fit) -> usize {
    if fit.family.dimension() > 2 {
        BOOTSTRAP_SLOW
    } else {
        BOOTSTRAP
    }
}

/// The shape of a Weibull or exponential law of which only the scale was estimated.
fn known_shape(fit: &Fit) -> Option<f64> {
    if fit.free != [0] {
        return None;
    }
    match fit.family.name() {
        "exponential" => Some(1.0),
        "weibull" => Some(fit.estimate(Quantity::Parameter(0))),
        _ => None,
    }
}

/// Intervals of one fit by one method.
pub struct Intervals<'a> {
    fit: &'a Fit,
    /// The same in the unit in which the work is done.
    own: Own,
    /// The method in use; another than asked for when that one is not to be had.
    pub method: Method,
    /// Why another method is in use than asked for; `None` where it is the one asked for, or chi-square ends take the
    /// place of calibrated ones.
    pub instead: Option<&'static str>,
    level: f64,
    /// ln of the ends of the one free scale, where chi-square bounds are to be had.
    chi_square: Option<[f64; 2]>,
    refits: Option<Refits>,
    /// How the sample was watched, where samples are drawn anew.
    pattern: Option<Pattern>,
    seed: u64,
    posterior: Option<Posterior>,
}

impl<'a> Intervals<'a> {
    /// Prepares intervals of a fit to `sample` at two-sided confidence `level`; the same `seed` draws the same refits
    /// or posterior. Where the method asked for is not to be had the profile likelihood takes its place. Calibrated
    /// intervals of an exponential law, or a Weibull law of stated shape, with fewer than ten failures, all of known
    /// age, are chi-square ends.
    ///
    /// ```
    /// use sealspan_life::intervals::Intervals;
    /// use sealspan_life::{bounds::Method, fit::fit, laws::by_name, quantity::Quantity};
    /// use sealspan_records::{Observation, Sample};
    /// let ages = [150.0, 190.0, 240.0, 250.0, 310.0, 420.0];
    /// let seals = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    /// let sample = Sample::new(seals.into());
    /// let fit = fit(by_name("weibull").unwrap(), &sample).unwrap();
    /// let intervals = Intervals::new(&fit, &sample, Method::Calibrated, 0.9, 1);
    /// let median = intervals.of(Quantity::Quantile(0.5));
    /// assert_eq!(median.method, Method::Calibrated);
    /// let estimate = fit.estimate(Quantity::Quantile(0.5));
    /// assert!(median.bounds.lower.unwrap() < estimate && estimate < median.bounds.upper.unwrap());
    /// ```
    #[must_use]
    pub fn new(fit: &'a Fit, sample: &Sample, method: Method, level: f64, seed: u64) -> Self {
        let mut out = Self {
            fit,
            own: Own::of(fit),
            method,
            instead: None,
            level,
            chi_square: None,
            refits: None,
            pattern: None,
            seed,
            posterior: None,
        };
        if method == Method::Calibrated && fit.terms.extent.failures < FEW {
            out.chi_square = known_shape(fit)
                .and_then(|shape| scale_bounds(sample, shape, level))
                .map(|(lower, upper)| [lower.ln(), upper.ln()]);
            if out.chi_square.is_some() {
                out.method = Method::ChiSquare;
                return out;
            }
        }
        let count = match method {
            Method::Calibrated => calibrating(fit),
            Method::Bootstrap => bootstrapping(fit),
            Method::Posterior => {
                out.posterior =
                    Posterior::new(fit.family, &fit.terms, &fit.theta, &fit.free, seed).ok();
                if out.posterior.is_none() {
                    out.fall_back("the posterior has no mode that could be reached");
                }
                return out;
            }
            Method::Profile | Method::Wald | Method::ChiSquare => return out,
        };
        out.pattern = Pattern::in_unit(sample, out.own.unit);
        let (pattern, own) = (out.pattern.as_ref(), &out.own.fit);
        out.refits = pattern.and_then(|p| Refits::drawn_at(own, &own.theta, p, count, seed));
        if out.refits.is_none() {
            out.fall_back("too many failures to refit, or too few refits have an estimate");
        }
        out
    }

    fn fall_back(&mut self, why: &'static str) {
        self.method = Method::Profile;
        self.instead = Some(why);
    }

    /// The refits made, if the method makes any.
    #[must_use]
    pub fn refits(&self) -> Option<&Refits> {
        self.refits.as_ref()
    }

    /// A quantity's estimate less its mean error over the refits, on its scale: 2q̂ − the mean of the refits' q, those
    /// that are finite numbers (the bootstrap's reduction of bias; Efron & Tibshirani 1993, chapter 10, from memory).
    /// In the quantity's unit; `None` without refits, or where it is no finite number.
    #[must_use]
    pub fn bias_reduced(&self, quantity: Quantity) -> Option<f64> {
        let refits = self.refits.as_ref()?;
        let (fit, asked) = (&self.own.fit, self.own.asked(quantity));
        let centre = fit.family.quantity(&fit.theta, asked).value;
        let values: Vec<f64> = refits
            .estimates(asked)
            .into_iter()
            .map(|(value, _)| value)
            .filter(|v| v.is_finite())
            .collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let reduced = fit.family.unscale(asked, 2.0 * centre - mean);
        let reduced = self.own.value(quantity, reduced);
        reduced.is_finite().then_some(reduced)
    }

    /// The posterior, if that is the method, which the intervals then have no more.
    pub fn take_posterior(&mut self) -> Option<Posterior> {
        self.posterior.take()
    }

    /// Effective number of draws of a sampled posterior; `None` for another method, or a posterior worked out on a
    /// grid.
    #[must_use]
    pub fn effective_draws(&self) -> Option<f64> {
        self.posterior.as_ref().and_then(|p| p.effective_draws)
    }

    /// The interval of a quantity, in its unit: by [`Intervals::method`], or by the profile likelihood where that does
    /// not apply to it ([`Interval::instead`]).
    #[must_use]
    pub fn of(&self, quantity: Quantity) -> Interval {
        if let Some(ends) = self.chi_square {
            return Interval::plain(self.at_scales(ends, quantity), self.method);
        }
        if let (Method::Posterior, Some(posterior)) = (self.method, &self.posterior) {
            return self.credible(posterior, quantity);
        }
        let interval = self.likely(self.own.asked(quantity));
        Interval {
            bounds: self.own.bounds(quantity, interval.bounds),
            ..interval
        }
    }

    /// The interval by the likelihood, its normal approximation or refits, in the fit's own unit.
    fn likely(&self, quantity: Quantity) -> Interval {
        let fit = &self.own.fit;
        let z = normal_quantile(0.5 + 0.5 * self.level);
        let profile = || Interval::plain(ends(fit, quantity, z, z), Method::Profile);
        let instead = |why| Interval {
            instead: Some(why),
            ..profile()
        };
        match place(fit, quantity) {
            Place::Stated => return Interval::plain(Bounds::none(NoEnd::Stated), self.method),
            Place::AllSurvive | Place::NeverReached | Place::BelowZero | Place::Infinite
                if self.method != Method::Profile =>
            {
                let interval = instead(Instead::AtEdge);
                // Where no law has an end nothing is made otherwise.
                return match interval.bounds.no_lower {
                    Some(NoEnd::Infinite) => Interval::plain(interval.bounds, self.method),
                    _ => interval,
                };
            }
            _ => {}
        }
        match (self.method, &self.refits) {
            (Method::Calibrated, Some(refits)) => self
                .calibrated(refits, quantity)
                .unwrap_or_else(|| instead(Instead::FewRefits)),
            (Method::Bootstrap, Some(refits))
                if !draws_reach(refits.list.len() as f64, self.level) =>
            {
                instead(Instead::BeyondRefits)
            }
            (Method::Bootstrap, Some(refits)) => self
                .studentised(refits, quantity)
                .unwrap_or_else(|| instead(Instead::FewRefits)),
            (Method::Wald, _) => Interval::plain(wald(fit, quantity, z), Method::Wald),
            _ => profile(),
        }
    }

    /// Quantiles of the posterior; where one is infinite there is no limit.
    fn credible(&self, posterior: &Posterior, quantity: Quantity) -> Interval {
        let side = 0.5 * (1.0 - self.level);
        let ends = posterior.quantiles(quantity, &[side, 1.0 - side]);
        let end = |i: usize| ends.get(i).copied().flatten().ok_or(NoEnd::NoLimit);
        // The worse of the two ends.
        let errors = [side, 1.0 - side].map(|share| posterior.error(quantity, share));
        let error = errors.into_iter().flatten().reduce(f64::max);
        let bounds = match place(self.fit, quantity) {
            Place::Stated => Bounds::none(NoEnd::Stated),
            // Infinite for nearly every draw.
            _ if end(0).is_err() => Bounds::none(NoEnd::Infinite),
            _ => Bounds::of([end(0), end(1)]),
        };
        let draws = posterior.effective_draws.unwrap_or(f64::INFINITY);
        Interval::plain(bounds, Method::Posterior).simulated(error, draws, self.level)
    }

    /// The median of the posterior, which stands between its ends; `None` for another method, a stated quantity, or
    /// where it is infinite.
    #[must_use]
    pub fn median(&self, quantity: Quantity) -> Option<f64> {
        let posterior = self.posterior.as_ref()?;
        if place(self.fit, quantity) == Place::Stated {
            return None;
        }
        posterior.quantiles(quantity, &[0.5]).first().copied()?
    }

    /// A quantity at both ends of the one free scale; a stated parameter has no ends.
    fn at_scales(&self, ends: [f64; 2], quantity: Quantity) -> Bounds {
        let family = self.fit.family;
        let at = |ln_scale: f64| {
            let mut theta = self.fit.theta.clone();
            if let Some(slot) = theta.first_mut() {
                *slot = ln_scale;
            }
            family.unscale(quantity, family.quantity(&theta, quantity).value)
        };
        let [a, b] = ends.map(at);
        if a == b {
            return Bounds::none(NoEnd::Stated);
        }
        Bounds::of([Ok(a.min(b)), Ok(a.max(b))])
    }

    /// Ends of the likelihood ratio at calibrated cut-offs; `None` when too few refits have one.
    fn calibrated(&self, refits: &Refits, quantity: Quantity) -> Option<Interval> {
        let e = &self.own.fit.terms.extent;
        let few = e.failures < FEW;
        let some = e.failures < SOME;
        let between_looks = some && e.exact < 0.5 * e.failures;
        let with_quantiles = few || between_looks;
        let survival = matches!(quantity, Quantity::Survival(_));
        let depths_of = |q| Some(calibrate(refits, q, with_quantiles)?.depths(self.level));
        let depths = depths_of(quantity)?;
        let [lower, upper] = if some && (survival || (between_looks && !few)) {
            self.constrained(refits.drawn, quantity, depths, with_quantiles)
        } else if survival {
            // How the signed root scatters hangs on the true survival: each end is judged as if it were true, at
            // the age where the fitted law has that survival. The index grows as survival falls.
            let bounds = ends(&self.own.fit, quantity, depths.lower, depths.upper);
            let life = self.own.fit.life();
            let judged =
                |end: Option<f64>| depths_of(Quantity::Survival(life.quantile(1.0 - end?)));
            [bounds.upper, bounds.lower].map(|end| judged(end).unwrap_or(depths))
        } else {
            [depths; 2]
        };
        let draws = refits.list.len() as f64;
        let bounds = ends(&self.own.fit, quantity, lower.lower, upper.upper);
        let error = lower.error.max(upper.error);
        let interval = Interval::plain(bounds, Method::Calibrated);
        Some(interval.simulated(Some(error), draws, self.level))
    }

    /// The cut-offs for both ends, each judged where the quantity lies at that end.
    fn constrained(
        &self,
        refits: usize,
        quantity: Quantity,
        first: Depths,
        with_quantiles: bool,
    ) -> [Depths; 2] {
        let judge = self.pattern.as_ref().map(|pattern| Judge {
            fit: &self.own.fit,
            pattern,
            refits,
            seed: self.seed,
            with_quantiles,
            level: self.level,
        });
        [(first.lower, -1.0), (first.upper, 1.0)].map(|(depth, side)| {
            let judged = judge.as_ref().and_then(|j| j.depths(quantity, depth, side));
            judged.unwrap_or(first)
        })
    }

    /// Ends from the refits' own (estimate − truth) / standard error (Efron & Tibshirani 1993, chapter 12); `None`
    /// when too few refits have one.
    fn studentised(&self, refits: &Refits, quantity: Quantity) -> Option<Interval> {
        let centre = self
            .own
            .fit
            .family
            .quantity(&self.own.fit.theta, quantity)
            .value;
        let error = self.own.fit.scaled_error(quantity);
        let mut t: Vec<f64> = refits
            .estimates(quantity)
            .into_iter()
            .map(|(value, error)| (value - centre) / error)
            .filter(|t| t.is_finite())
            .collect();
        t.sort_by(f64::total_cmp);
        if error <= 0.0 || t.len() < FEWEST_REFITS {
            return None;
        }
        let side = 0.5 * (1.0 - self.level);
        let at = |share: f64| {
            let x = (share * (t.len() as f64 + 1.0) - 1.0).clamp(0.0, t.len() as f64 - 1.0);
            let (low, rest) = (x.floor() as usize, x.fract());
            let y = |i: usize| t.get(i).or(t.last()).copied().unwrap_or(0.0);
            y(low) + rest * (y(low + 1) - y(low))
        };
        let mut found = [1.0 - side, side].map(|share| {
            let end = self
                .own
                .fit
                .family
                .unscale(quantity, centre - at(share) * error);
            if end.is_finite() {
                Ok(end)
            } else {
                Err(NoEnd::NoLimit)
            }
        });
        if matches!(quantity, Quantity::Survival(_)) {
            found.reverse();
        }
        let draws = t.len() as f64;
        let error = (side * (1.0 - side) / draws).sqrt();
        let interval = Interval::plain(Bounds::of(found), Method::Bootstrap);
        Some(interval.simulated(Some(error), draws, self.level))
    }
}

/// Depth of the signed root at which a band over all ages at once holds with confidence `level`: √χ²(level; k), that of
/// the likelihood region of all k `parameters` together (Scheffé's way; Cheng & Iles 1983, from memory).
///
/// ```
/// use sealspan_life::intervals::simultaneous_depth;
/// // Two parameters: √χ²(0.95; 2) = √(2 ln 20).
/// assert!((simultaneous_depth(2, 0.95) - (2.0 * 20.0_f64.ln()).sqrt()).abs() < 1e-9);
/// ```
#[must_use]
pub fn simultaneous_depth(parameters: usize, level: f64) -> f64 {
    sealspan_numeric::special::chi_square_quantile(level, parameters as f64).sqrt()
}

#[cfg(test)]
mod tests;
