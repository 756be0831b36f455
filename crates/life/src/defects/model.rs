//! Which laws, and what is stated instead of estimated.

use super::doubts::TRUSTED;
use super::integral::Point;
use super::likelihood::{Term, total, total_derivatives};
use super::moments::{DETECTION, PARAMETERS};
use crate::family::Family;
use crate::law::Law as _;
use crate::laws::log_logistic::LogLogistic;
use crate::laws::lognormal::Lognormal;
use crate::laws::weibull::Weibull;
use crate::laws::{by_name, exponential};
use crate::life::Life;
use crate::quantity::Derivatives;
use sealspan_records::history::History;

/// The parameters: μ and ln σ of ln U, μ and ln σ of ln H, logit of detection (±∞ for 1 and 0).
pub type Theta = [f64; PARAMETERS];

/// The laws of one stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StageLaw {
    /// Weibull of shape 1.
    Exponential,
    /// Weibull.
    Weibull,
    /// Lognormal.
    Lognormal,
    /// Log-logistic.
    LogLogistic,
}

impl StageLaw {
    /// The law to take when none is asked for: a shape is estimated from [`TRUSTED`] ends of the stage on.
    #[must_use]
    pub fn for_ends(ends: f64) -> Self {
        if ends < TRUSTED {
            Self::Exponential
        } else {
            Self::Weibull
        }
    }

    /// By the family's name; `None` for a law that the model does not take.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        let all = [
            Self::Exponential,
            Self::Weibull,
            Self::Lognormal,
            Self::LogLogistic,
        ];
        all.into_iter().find(|law| law.name() == name)
    }

    /// The family's name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Exponential => exponential::Exponential::NAME,
            Self::Weibull => Weibull::NAME,
            Self::Lognormal => Lognormal::NAME,
            Self::LogLogistic => LogLogistic::NAME,
        }
    }

    /// Whether ln σ is estimated.
    #[must_use]
    pub(crate) fn has_spread(self) -> bool {
        self != Self::Exponential
    }

    /// The family of the list.
    pub(super) fn family(self) -> Option<&'static dyn Family> {
        by_name(self.name())
    }

    /// The law at μ and ln σ as a life.
    #[must_use]
    pub(crate) fn life(self, mu: f64, ln_sigma: f64) -> Option<Life> {
        let theta = if self.has_spread() {
            vec![mu, ln_sigma]
        } else {
            vec![mu]
        };
        Some(Life::new(self.family()?, theta))
    }
}

/// A defect model: two laws, and what is stated.
///
/// ```
/// use sealspan_life::defects::{DefectQuantity, DETECTION, Model, StageLaw, scaled, unscale};
/// use sealspan_life::quantity::Quantity;
/// use sealspan_records::history::{Ended, History};
/// // Five ends of a stage are enough to estimate a shape.
/// assert_eq!((StageLaw::for_ends(4.0), StageLaw::for_ends(5.0)), (StageLaw::Exponential, StageLaw::Weibull));
/// assert_eq!(StageLaw::by_name("weibull").map(StageLaw::name), Some("weibull"));
/// let model = Model { defect: StageLaw::Exponential, delay: StageLaw::Exponential, detection: Some(0.8) };
/// // What is stated takes its place: shapes of 1, and the logit of 0.8.
/// let theta = model.pinned([100.0_f64.ln(), 9.0, 50.0_f64.ln(), 9.0, 9.0]);
/// assert_eq!((theta[1], theta[3]), (0.0, 0.0));
/// assert!((theta[DETECTION] - 4.0_f64.ln()).abs() < 1e-12);
/// // Two exponential stages of means 100 and 50: S(t) = (100 e^(−t/100) − 50 e^(−t/50))/50.
/// let running = [History::new(0.0, vec![], Ended::Running(100.0), 1.0).unwrap()];
/// let wanted = (2.0 * (-1.0_f64).exp() - (-2.0_f64).exp()).ln();
/// assert!((model.log_likelihood(&theta, &running) - wanted).abs() < 1e-8);
/// assert!((model.log_likelihood_derivatives(&theta, &running).value - wanted).abs() < 1e-8);
/// let mean = DefectQuantity::Delay(Quantity::Mean);
/// let ln_mean = scaled(&model, &theta, mean).unwrap().value;
/// assert!((unscale(&model, mean, ln_mean).unwrap() - 50.0).abs() < 1e-9);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Model {
    /// Law of the age at which the defect comes.
    pub defect: StageLaw,
    /// Law of the delay from defect to failure.
    pub delay: StageLaw,
    /// Probability that a look finds a defect that is there; `None` to estimate it.
    pub detection: Option<f64>,
}

impl Model {
    /// Places of the parameters that are estimated.
    #[must_use]
    pub(crate) fn free(&self) -> Vec<usize> {
        let wanted = [
            true,
            self.defect.has_spread(),
            true,
            self.delay.has_spread(),
            self.detection.is_none(),
        ];
        (0..PARAMETERS)
            .filter(|i| wanted.get(*i).copied().unwrap_or(false))
            .collect()
    }

    /// `theta` with what is stated put in its place.
    #[must_use]
    pub fn pinned(&self, mut theta: Theta) -> Theta {
        if !self.defect.has_spread() {
            theta[1] = 0.0;
        }
        if !self.delay.has_spread() {
            theta[3] = 0.0;
        }
        if let Some(r) = self.detection {
            theta[DETECTION] = r.ln() - (-r).ln_1p();
        }
        theta
    }

    pub(super) fn term(&self) -> Term {
        type W = Weibull;
        type N = Lognormal;
        type G = LogLogistic;
        use StageLaw::{Exponential, LogLogistic as Llog, Lognormal as Lnorm, Weibull as Weib};
        match (self.defect, self.delay) {
            (Exponential | Weib, Exponential | Weib) => Term::of::<W, W>(),
            (Exponential | Weib, Lnorm) => Term::of::<W, N>(),
            (Exponential | Weib, Llog) => Term::of::<W, G>(),
            (Lnorm, Exponential | Weib) => Term::of::<N, W>(),
            (Lnorm, Lnorm) => Term::of::<N, N>(),
            (Lnorm, Llog) => Term::of::<N, G>(),
            (Llog, Exponential | Weib) => Term::of::<G, W>(),
            (Llog, Lnorm) => Term::of::<G, N>(),
            (Llog, Llog) => Term::of::<G, G>(),
        }
    }

    /// The log-likelihood of histories at `theta`, each by its count, densities per unit of age.
    #[must_use]
    pub fn log_likelihood(&self, theta: &Theta, histories: &[History]) -> f64 {
        total(self.term(), &Point::new(theta), histories)
    }

    /// The same with its derivatives in all five parameters.
    #[must_use]
    pub fn log_likelihood_derivatives(&self, theta: &Theta, histories: &[History]) -> Derivatives {
        total_derivatives(self.term(), &Point::new(theta), histories)
    }

    /// The laws at `theta`: of the defect's age and of the delay.
    #[must_use]
    pub(crate) fn lives(&self, theta: &Theta) -> Option<(Life, Life)> {
        Some((
            self.defect.life(theta[0], theta[1])?,
            self.delay.life(theta[2], theta[3])?,
        ))
    }
}
