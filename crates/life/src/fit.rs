//! Maximum-likelihood fits of one family to one sample.
//!
//! ```
//! use sealspan_life::{fit::{Model, fit_terms}, laws::by_name, quantity::Quantity, terms::Terms};
//! use sealspan_records::{Observation, Sample};
//! let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-6, "{a} is not {b}");
//! // Four exponential lives with mean m = 100: ℓ = −4 (ln m + 1), and ln m̂ has the standard error 1/√4.
//! let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
//! let terms = Terms::new(&Sample::new(ages.into())).into();
//! let fit = fit_terms(Model::free(by_name("exponential").unwrap()), &terms).unwrap();
//! near(fit.estimate(Quantity::Mean), 100.0);
//! near(fit.life().mean(), 100.0);
//! near(fit.scaled_error(Quantity::Mean), 0.5);
//! near(fit.reported_covariance()[(0, 0)], 0.005 * 0.005); // of the rate, 1/100 a day: reported first
//! let twice = 8.0 * (100.0_f64.ln() + 1.0); // −2ℓ
//! near(fit.free_parameters(), 1.0);
//! near(fit.aic(), twice + 2.0);
//! near(fit.aicc().unwrap(), twice + 4.0); // 2k(k + 1)/(n − k − 1) = 2 more
//! near(fit.bic(), twice + 4.0_f64.ln());
//! ```

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use crate::edge::beaten;
use crate::family::Family;
use crate::law::Age;
use crate::maximise::{LogLikelihood, Maximum, maximise};
use crate::quantity::{Derivatives, Quantity};
use crate::search::greatest;
use crate::terms::Terms;
use crate::unit::Unit;
use crate::warning::Warning;
use nalgebra::{DMatrix, DVector};
use sealspan_records::observation::Sample;
use std::sync::Arc;
use thiserror::Error;

/// Why there is no estimate, and what can still be said.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoFit {
    /// Nothing to learn from.
    #[error("no seals: nothing can be estimated")]
    Empty,
    /// No failures.
    #[error("no failures among {total} seals: only a lower bound on life can be given")]
    NoFailures {
        /// Seals watched.
        total: f64,
    },
    /// All failures can lie at one age with nothing older: the shape has no maximum.
    #[error(
        "all failures fit one single age, or one and the same stretch between looks, and no seal is known to be sound beyond it: the shape has no finite estimate; state a shape, or wait for a second failure age"
    )]
    InfiniteShape,
    /// Every failure came before its first look and no seal was ever seen sound.
    #[error(
        "every failure came before the first look and no seal was seen sound: life can be as short as you like; look earlier"
    )]
    AllBeforeFirstLook,
    /// The data fix only one combination of the parameters.
    #[error(
        "the data fix only the share failed by one age, not both parameters: looks at a second age are needed, or a stated shape"
    )]
    Ridge,
    /// The optimum ran off or was not reached.
    #[error(
        "the likelihood has no maximum that could be reached: in these data a parameter has no end, as when none or all failed over a part of a column's range, or the failures are too few"
    )]
    NotReached {
        /// Largest component of the gradient per seal; not a number where that is not known.
        slope: f64,
    },
    /// The optimum lies at the edge of the family.
    #[error("{0}")]
    Edge(&'static str),
    /// The stated value of a parameter is impossible.
    #[error("the family {family} has no parameter `{name}` that can be stated as {value}")]
    BadPin {
        /// Family.
        family: &'static str,
        /// Parameter asked for.
        name: &'static str,
        /// Value asked for.
        value: f64,
    },
}

/// A fitted life family.
#[derive(Clone)]
pub struct Fit {
    /// The family.
    pub family: &'static dyn Family,
    /// Estimate of θ.
    pub theta: Vec<f64>,
    /// Positions in θ that were estimated; the others were stated.
    pub free: Vec<usize>,
    /// Covariance of the whole θ, the inverse of the observed information (zero where stated).
    pub covariance: DMatrix<f64>,
    /// Log-likelihood at the estimate.
    pub log_likelihood: f64,
    /// The terms fitted.
    pub terms: Arc<Terms>,
    /// Doubts.
    pub warnings: Vec<Warning>,
    /// By how much the log-likelihood is higher at a maximum that was set aside, since the law closes in on a few
    /// failures there; `None` where none was.
    pub set_aside: Option<f64>,
    /// The fit as it was made, in units of the oldest age seen.
    pub(crate) own: Option<Arc<Fit>>,
}

/// A family with, if wanted, one reported parameter stated instead of estimated.
#[derive(Clone, Copy)]
pub struct Model {
    /// The family.
    pub family: &'static dyn Family,
    /// Name of the reported parameter and its value, in its own unit.
    pub stated: Option<(&'static str, f64)>,
}

impl Model {
    /// All parameters free.
    #[must_use]
    pub fn free(family: &'static dyn Family) -> Self {
        Self {
            family,
            stated: None,
        }
    }
}

/// Fits `family` to `sample` by maximum likelihood, ℓ(θ) as written at [`crate::terms`]: the greatest maximum inside
/// the family that the search finds. Covariances are the inverse of the observed information.
///
/// # Errors
/// [`NoFit`], when no finite estimate exists, saying why.
///
/// ```
/// use sealspan_life::{fit::fit, laws::by_name, quantity::Quantity};
/// use sealspan_records::observation::{Observation, Sample};
/// let ages = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0];
/// let mut rows: Vec<_> = ages.iter().map(|t| Observation::exact(*t, 0.0, 1.0).unwrap()).collect();
/// rows.push(Observation::right(500.0, 0.0, 10.0).unwrap());
/// let fit = fit(by_name("weibull").unwrap(), &Sample::new(rows)).unwrap();
/// assert!((fit.estimate(Quantity::Parameter(0)) - 1.7208).abs() < 1e-4); // NIST/SEMATECH 8.4.1.3
/// ```
pub fn fit(family: &'static dyn Family, sample: &Sample) -> Result<Fit, NoFit> {
    fit_terms(Model::free(family), &Arc::new(Terms::new(sample)))
}

/// Fits a model to terms already taken apart (so that several families share the work).
///
/// # Errors
/// [`NoFit`], when no finite estimate exists, or the stated value is impossible, saying why.
pub fn fit_terms(model: Model, terms: &Arc<Terms>) -> Result<Fit, NoFit> {
    let family = model.family;
    let mut free: Vec<usize> = (0..family.dimension()).collect();
    let mut pin = None;
    if let Some((name, value)) = model.stated {
        let bad = NoFit::BadPin {
            family: family.name(),
            name,
            value,
        };
        let index = family
            .reported()
            .iter()
            .position(|p| p.name == name)
            .ok_or(bad)?;
        let (at, pinned) = family.pin(index, value).ok_or(bad)?;
        pin = Some((at, pinned));
        free.retain(|i| *i != at);
    }
    exists(terms, free.len())?;
    let unit = Unit::of(terms);
    let own = Arc::new(terms.in_unit(unit));
    let mut starts = family.starts(&own);
    if let Some((at, value)) = pin {
        let value = if at == 0 { value - unit.ln() } else { value };
        let slots = starts.iter_mut().filter_map(|start| start.get_mut(at));
        slots.for_each(|slot| *slot = value);
    }
    let problem = Problem {
        family,
        terms: &own,
        base: starts.first().cloned().unwrap_or_default(),
        free,
    };
    let (maximum, aside) = greatest(&problem, &starts)?;
    let aside = aside.map(|a| a.value - maximum.value);
    let theta = problem.place(&maximum.x);
    let ordered = family.in_order(&theta);
    let mut fit = if ordered == theta {
        assemble(problem, maximum, &own)
    } else {
        let again = maximise(&problem, &problem.pick(&ordered)).map_err(|lost| lost.why)?;
        assemble(problem, again, &own)
    };
    if beaten(&fit) {
        return Err(NoFit::Edge(
            "the likelihood has a peak inside this family, but is higher still at its edge, where a parameter runs off: the failures do not fix this law; a two-parameter family says as much",
        ));
    }
    fit.set_aside = aside;
    fit.own = Some(Arc::new(fit.clone()));
    // Back to the unit of the records.
    if let Some(location) = fit.theta.first_mut() {
        *location += unit.ln();
    }
    if let Some((at, value)) = pin
        && let Some(slot) = fit.theta.get_mut(at)
    {
        *slot = value;
    }
    fit.log_likelihood -= terms.extent.exact * unit.ln();
    fit.terms = Arc::clone(terms);
    fit.warnings = Warning::of_fit(&fit);
    Ok(fit)
}

fn assemble(problem: Problem, maximum: Maximum, terms: &Arc<Terms>) -> Fit {
    let theta = problem.place(&maximum.x);
    let mut covariance = DMatrix::zeros(theta.len(), theta.len());
    for (i, a) in problem.free.iter().enumerate() {
        for (j, b) in problem.free.iter().enumerate() {
            covariance[(*a, *b)] = maximum.covariance[(i, j)];
        }
    }
    Fit {
        family: problem.family,
        theta,
        free: problem.free,
        covariance,
        log_likelihood: maximum.value,
        terms: Arc::clone(terms),
        warnings: vec![],
        set_aside: None,
        own: None,
    }
}

fn exists(terms: &Terms, free: usize) -> Result<(), NoFit> {
    let e = &terms.extent;
    if e.total <= 0.0 {
        return Err(NoFit::Empty);
    }
    if e.failures <= 0.0 {
        return Err(NoFit::NoFailures { total: e.total });
    }
    if (e.exact <= 0.0 && e.oldest_sound <= 0.0) || !seen_sound(terms) {
        return Err(NoFit::AllBeforeFirstLook);
    }
    let (first, last) = e.exact_range;
    let one_age = if e.exact > 0.0 {
        first == last && e.oldest_sound <= first && e.smallest_upper >= first
    } else {
        // At equality all can lie at that one age too; without a proper interval only a share is fixed there.
        e.oldest_sound < e.smallest_upper || (e.oldest_sound == e.smallest_upper && e.between > 0.0)
    };
    if free > 1 && one_age {
        return Err(NoFit::InfiniteShape);
    }
    // ln of an age has sixteen digits.
    let alike = terms
        .close_together()
        .is_some_and(|(_, spread)| spread < ALIKE);
    if free > 1 && alike && e.oldest_sound <= last {
        return Err(NoFit::Edge(
            "all failure ages agree to eight digits or more, closer than the arithmetic can tell a spread from one age: measure age from a later start, or state a shape",
        ));
    }
    Ok(())
}

/// Spread of ln life among failures that is nearly rounding.
const ALIKE: f64 = 1e-8;

/// Whether any seal was seen sound, or failed, later than its watching began.
fn seen_sound(terms: &Terms) -> bool {
    let oldest = terms.extent.oldest;
    let (mut watched, mut all) = (0.0, 0.0);
    let mut add = |age: Age, weight: f64| {
        watched += weight * (age.t / oldest);
        all += weight.abs() * (age.t / oldest);
    };
    let points = terms.density.iter().chain(&terms.survival);
    points.for_each(|p| add(p.age, p.weight));
    let lowers = terms
        .interval
        .iter()
        .filter_map(|s| Some((s.lower?, s.weight)));
    lowers.for_each(|(age, weight)| add(age, weight));
    watched > 1e-12 * all
}

/// A family's log-likelihood over its free parameters.
pub(crate) struct Problem<'a> {
    pub(crate) family: &'static dyn Family,
    pub(crate) terms: &'a Terms,
    pub(crate) base: Vec<f64>,
    pub(crate) free: Vec<usize>,
}

impl Problem<'_> {
    pub(crate) fn pick(&self, theta: &[f64]) -> Vec<f64> {
        self.free
            .iter()
            .filter_map(|i| theta.get(*i).copied())
            .collect()
    }

    /// Derivatives in the free parameters alone.
    pub(crate) fn picked(&self, d: &Derivatives) -> Derivatives {
        let rows = self.free.iter().filter_map(|i| d.hessian.get(*i));
        Derivatives {
            value: d.value,
            gradient: self.pick(&d.gradient),
            hessian: rows.map(|row| self.pick(row)).collect(),
        }
    }

    pub(crate) fn place(&self, x: &[f64]) -> Vec<f64> {
        let mut theta = self.base.clone();
        for (i, value) in self.free.iter().zip(x) {
            if let Some(slot) = theta.get_mut(*i) {
                *slot = *value;
            }
        }
        theta
    }
}

impl LogLikelihood for Problem<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        self.family.log_likelihood(&self.place(x), self.terms)
    }
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let d = self
            .family
            .log_likelihood_derivatives(&self.place(x), self.terms);
        self.picked(&d)
    }
    fn weight(&self) -> f64 {
        self.terms.extent.total
    }
}

impl Fit {
    /// Estimate of a quantity, in its own unit: an age or a time in that of the observations, a survival as a share.
    /// Not a number where there is none: the age by which more fail than ever do under the law, or one below 0.
    /// What is shown or written takes [`Fit::finite_estimate`].
    #[must_use]
    pub fn estimate(&self, quantity: Quantity) -> f64 {
        self.family
            .unscale(quantity, self.family.quantity(&self.theta, quantity).value)
    }

    /// The [estimate](Fit::estimate) where it is a finite number, in its own unit.
    ///
    /// `None` for an age by which more fail than ever do under the law, one below 0 under the normal law, and a mean
    /// that is infinite.
    ///
    /// ```
    /// use sealspan_life::{fit::fit, laws::by_name, quantity::Quantity};
    /// use sealspan_records::observation::{Observation, Sample};
    /// // 20 of 50 seals failed, all of them early: by the weak-fraction law the others never fail.
    /// let mut rows: Vec<_> = (1..=20).map(|t| Observation::exact(5.0 * f64::from(t), 0.0, 1.0).unwrap()).collect();
    /// rows.push(Observation::right(300.0, 0.0, 30.0).unwrap());
    /// let fit = fit(by_name("weak_fraction_weibull").unwrap(), &Sample::new(rows)).unwrap();
    /// let tenth = fit.finite_estimate(Quantity::Quantile(0.1)).unwrap();
    /// assert!(20.0 < tenth && tenth < 35.0); // days: the fifth of the 50 failed on day 25
    /// assert_eq!(fit.finite_estimate(Quantity::Quantile(0.5)), None);
    /// ```
    #[must_use]
    pub fn finite_estimate(&self, quantity: Quantity) -> Option<f64> {
        Some(self.estimate(quantity)).filter(|value| value.is_finite())
    }

    /// Standard error of a quantity on the scale of its intervals, by the delta method: √(gᵀ V g) with its slopes g in
    /// θ and the covariance V. 0 where it hangs on stated parameters alone, or the law has no number for it.
    #[must_use]
    pub fn scaled_error(&self, quantity: Quantity) -> f64 {
        let gradient = DVector::from_vec(self.family.quantity(&self.theta, quantity).gradient);
        (gradient.transpose() * &self.covariance * gradient)[(0, 0)]
            .max(0.0)
            .sqrt()
    }

    /// The covariance of the free parameters alone.
    pub(crate) fn free_covariance(&self) -> DMatrix<f64> {
        let n = self.free.len();
        DMatrix::from_fn(n, n, |i, j| {
            self.free
                .get(i)
                .zip(self.free.get(j))
                .map_or(0.0, |(a, b)| self.covariance[(*a, *b)])
        })
    }

    /// The log-likelihood of other terms over the same free parameters.
    pub(crate) fn problem<'a>(&self, terms: &'a Terms) -> Problem<'a> {
        Problem {
            family: self.family,
            terms,
            base: self.theta.clone(),
            free: self.free.clone(),
        }
    }

    /// Covariance of the reported parameters on their own scale, by the delta method: a square in the order of
    /// [`Family::reported`].
    #[must_use]
    pub fn reported_covariance(&self) -> DMatrix<f64> {
        let reported = self.family.reported();
        let rows = reported.len();
        let mut jacobian = DMatrix::zeros(rows, self.theta.len());
        for (i, parameter) in reported.iter().enumerate() {
            let quantity = Quantity::Parameter(i);
            let slope = parameter.link.slope(self.estimate(quantity));
            let gradient = self.family.quantity(&self.theta, quantity).gradient;
            for (j, g) in gradient.iter().enumerate() {
                jacobian[(i, j)] = slope * g;
            }
        }
        &jacobian * &self.covariance * jacobian.transpose()
    }

    /// Number of free parameters.
    #[must_use]
    pub fn free_parameters(&self) -> f64 {
        self.free.len() as f64
    }

    /// Akaike's criterion, 2k − 2ℓ with k free parameters (Akaike 1974, from memory).
    #[must_use]
    pub fn aic(&self) -> f64 {
        2.0 * self.free_parameters() - 2.0 * self.log_likelihood
    }

    /// Akaike's criterion corrected for small samples: 2k(k + 1)/(n − k − 1) more than [`Fit::aic`] (Burnham & Anderson
    /// 2002, from memory); n counts seals, failed or not. `None` unless n is above k + 1.
    #[must_use]
    pub fn aicc(&self) -> Option<f64> {
        let (k, n) = (self.free_parameters(), self.terms.extent.total);
        (n > k + 1.0).then(|| self.aic() + 2.0 * k * (k + 1.0) / (n - k - 1.0))
    }

    /// Schwarz's criterion, k ln n − 2ℓ (Schwarz 1978, from memory); n counts seals, failed or not.
    #[must_use]
    pub fn bic(&self) -> f64 {
        self.free_parameters() * self.terms.extent.total.ln() - 2.0 * self.log_likelihood
    }

    /// The fitted law as a life with fixed parameters.
    #[must_use]
    pub fn life(&self) -> crate::life::Life {
        crate::life::Life::new(self.family, self.theta.clone())
    }
}
