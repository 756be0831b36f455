//! What a life law writes: ten to twenty lines, and everything else follows from them.
//!
//! ```
//! use sealspan_life::law::{Age, Link};
//! assert!((Age::new(100.0).ln - 100.0_f64.ln()).abs() < 1e-15);
//! assert_eq!((Link::Identity.undo(3.0), Link::Log.undo(0.0), Link::Logit.undo(0.0)), (3.0, 1.0, 0.5));
//! ```

use crate::quantity::Quantity;
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// An age with its logarithm, taken once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Age {
    /// Age, above zero.
    pub t: f64,
    /// ln t.
    pub ln: f64,
}

impl Age {
    /// An age above zero.
    #[must_use]
    pub fn new(t: f64) -> Self {
        Self { t, ln: t.ln() }
    }

    /// From its logarithm.
    #[must_use]
    pub(crate) fn from_ln(ln: f64) -> Self {
        Self { t: ln.exp(), ln }
    }
}

/// How a reported parameter's interval is made: on its own scale, or on that of its logarithm or its log odds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Link {
    /// Any real number x, as it is.
    Identity,
    /// Above zero: ln x.
    Log,
    /// A share, between 0 and 1: ln(x/(1 − x)).
    Logit,
}

impl Link {
    /// From the link's scale to the parameter's own.
    #[must_use]
    pub fn undo(self, x: f64) -> f64 {
        match self {
            Self::Identity => x,
            Self::Log => x.exp(),
            Self::Logit => 1.0 / (1.0 + (-x).exp()),
        }
    }

    /// From the parameter's own scale to the link's; `None` outside its range.
    #[must_use]
    pub(crate) fn apply(self, value: f64) -> Option<f64> {
        let x = match self {
            Self::Identity => value,
            Self::Log => value.ln(),
            Self::Logit => value.ln() - (-value).ln_1p(),
        };
        x.is_finite().then_some(x)
    }

    /// Slope of [`Link::undo`] where it gives `value`.
    #[must_use]
    pub(crate) fn slope(self, value: f64) -> f64 {
        match self {
            Self::Identity => 1.0,
            Self::Log => value,
            Self::Logit => value * (1.0 - value),
        }
    }
}

/// The unit of a reported parameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// A pure number.
    None,
    /// The clock's unit.
    Time,
    /// Per unit of the clock.
    PerTime,
    /// The logarithm of a time.
    LnTime,
}

/// A parameter as reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Parameter {
    /// Name in outputs.
    pub name: &'static str,
    /// What it means, in words.
    pub meaning: &'static str,
    /// Scale of its intervals.
    pub link: Link,
    /// Unit.
    pub dimension: Dimension,
}

/// z = (ln t − μ)/σ of a law with θ₀ = μ and θ₁ = ln σ, and that ln σ.
pub(crate) fn standardised<const N: usize, S: Scalar>(theta: [S; N], ln_t: f64) -> (S, S) {
    let at = |i: usize| theta.get(i).copied().unwrap_or(S::constant(0.0));
    let (mu, ln_sigma) = (at(0), at(1));
    ((-(mu - ln_t)) * (-ln_sigma).exp(), ln_sigma)
}

/// How a hazard moves with age.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HazardShape {
    /// Rises all along: wear-out.
    Rising,
    /// The same at every age.
    Constant,
    /// Falls all along: early failures.
    Falling,
    /// Rises to a peak, then falls.
    RisingThenFalling,
    /// Falls to a low, then rises.
    FallingThenRising,
    /// May turn more than once.
    Turning,
}

/// A weak prior of one θ for the posterior method: normal, on the unbounded scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Mean; for θ₀ it is added to ln of the largest age seen, so that no unit matters.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// Prior of the location: life within a factor e^±6 of the largest age seen (95 %; a rule of ours).
pub const LOCATION: Prior = Prior { mean: 0.0, sd: 3.0 };
/// Prior of ln σ with σ = 1/shape: shape between 0.3 and 14 (95 %; a rule of ours).
pub const LN_SIGMA: Prior = Prior {
    mean: -0.7,
    sd: 1.0,
};
/// Prior of the logit of a share: between 0.3 % and 99.7 % (95 %; a rule of ours).
pub const LOGIT: Prior = Prior { mean: 0.0, sd: 3.0 };

/// Where a family ends and a likelihood region that reaches so far goes on along the edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Edge {
    /// A simpler law of the closed family.
    Simpler {
        /// Its name. Reported parameters of the same name are the same.
        law: &'static str,
        /// The reported parameter that reaches its end there.
        parameter: usize,
        /// That end, on the scale of its link: an infinity.
        end: f64,
    },
    /// θ held at the value beyond which the law hardly changes any more while its parameters run off.
    Held {
        /// Index in θ.
        at: usize,
        /// Value.
        value: f64,
    },
}

/// A law at an end of a family's range that no parameters of the family reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// Largest log-likelihood there.
    pub value: f64,
    /// What lies there and what to do, in words.
    pub words: &'static str,
}

/// How far a quantity goes over the laws at ends of a family's range that no parameters of the family reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtLimit {
    /// The value on the quantity's scale; infinite where it runs off.
    pub value: f64,
    /// Whether no law inside the family that is as likely goes farther.
    pub farthest: bool,
}

/// A life law with `N` free parameters θ, each running over all real numbers; θ₀ is the location of
/// ln T (multiplying life by c adds ln c to it), which is what regression shifts.
///
/// ```
/// use sealspan_life::law::{Age, HazardShape, Law};
/// use sealspan_life::{laws::weibull::Weibull, quantity::Quantity, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} is not {b}");
/// // Shape 2 and scale 100: −ln S(t) = (t/100)², and z = 2 ln(t/100).
/// let theta = [100.0_f64.ln(), 0.5_f64.ln()];
/// let (t, later) = (Age::new(50.0), Age::new(100.0));
/// near(<Weibull as Law<2>>::report(theta, 0), 2.0_f64.ln());
/// near(Weibull::ln_survival(theta, t), -0.25);
/// near(Weibull::ln_density(theta, t), 0.01_f64.ln() - 0.25);
/// near(Weibull::ln_survival_of_z(2.0 * 0.5_f64.ln()), -0.25);
/// near(Weibull::ln_density_of_z(0.0), -1.0);
/// near(Weibull::ln_cdf(theta, t), (1.0 - (-0.25_f64).exp()).ln());
/// near(Weibull::ln_between(theta, Some(t), later), ((-0.25_f64).exp() - (-1.0_f64).exp()).ln());
/// near(Weibull::ln_age_at(theta, -4.0), 200.0_f64.ln());
/// near(Weibull::ln_ratio_after(theta, t, 0.75), 2.0_f64.ln());
/// near(Weibull::ln_mean(theta), (50.0 * std::f64::consts::PI.sqrt()).ln()); // 100 Γ(3/2)
/// near(Weibull::index(theta, t), 0.25_f64.ln());
/// near(<Weibull as Law<2>>::survival_at_index(0.25_f64.ln()), (-0.25_f64).exp());
/// assert_eq!(Weibull::hazard_shape(theta), HazardShape::Rising);
/// // Its likelihood has one maximum, inside: nothing lies at an edge or is set aside.
/// let terms = Terms::new(&Sample::new(vec![
///     Observation::exact(80.0, 0.0, 1.0).unwrap(),
///     Observation::exact(120.0, 0.0, 1.0).unwrap(),
/// ]));
/// assert!(Weibull::starts(&terms).iter().flatten().all(|x| x.is_finite()));
/// assert!(Weibull::limits(&terms).is_empty() && <Weibull as Law<2>>::edge(theta, &terms).is_none());
/// assert!(!<Weibull as Law<2>>::unbounded(&terms) && !<Weibull as Law<2>>::closes_in(theta, &terms));
/// assert!(!<Weibull as Law<2>>::unlike(theta));
/// assert!(<Weibull as Law<2>>::end_at_limit(Quantity::Mean, &terms, -20.0, 1.0).is_none());
/// assert_eq!(<Weibull as Law<2>>::in_order(theta), theta);
/// ```
pub trait Law<const N: usize>: Send + Sync + 'static {
    /// Name in commands and outputs.
    const NAME: &'static str;
    /// Name in sentences.
    const TITLE: &'static str;
    /// Parameters as reported, made from θ by [`Law::report`].
    const REPORTED: &'static [Parameter];

    /// Whether θ₁ is ln of the scale σ of ln life.
    const LN_SCALE: bool = false;
    /// Whether the law is ln T = μ + σε with θ = (μ, ln σ), so that its terms hang on z = (ln t − μ)/σ alone
    /// and are summed the quick way; then [`Law::ln_density_of_z`] and [`Law::ln_survival_of_z`] are written.
    const STANDARD: bool = false;
    /// Whether its likelihood has one maximum only, whatever the columns of a regression and however lives are censored: so
    /// of ln T = μ + σε where ε has a concave log density (Burridge 1981, "A note on maximum likelihood estimation for
    /// regression models using grouped data", Journal of the Royal Statistical Society B 43; from memory). With late entry
    /// that is no theorem, and taken for granted.
    const ONE_MAXIMUM: bool = false;
    /// Whether its tails are series of dozens of terms, ten times dearer than other laws': large samples are
    /// refitted less often.
    const COSTLY: bool = false;
    /// The ends of its range.
    const EDGES: &'static [Edge] = &[];
    /// Whether its intervals are calibrated without being asked: where that measures better than the plain likelihood
    /// ratio (`tests/coverage/table.md`).
    const REFITTED: bool = true;
    /// Weak priors of θ for the posterior method.
    const PRIORS: [Prior; N];

    /// Reported parameter number `index` on the scale of its link: linear in θ.
    fn report<S: Scalar>(theta: [S; N], index: usize) -> S;

    /// ln density per unit of age; written by laws that are not [`Law::STANDARD`].
    fn ln_density<S: Scalar>(theta: [S; N], age: Age) -> S {
        let (z, ln_sigma) = standardised(theta, age.ln);
        Self::ln_density_of_z(z) - ln_sigma - age.ln
    }

    /// ln survival; written by laws that are not [`Law::STANDARD`].
    fn ln_survival<S: Scalar>(theta: [S; N], age: Age) -> S {
        Self::ln_survival_of_z(standardised(theta, age.ln).0)
    }

    /// ln density of ε at z; not a number but where [`Law::STANDARD`].
    fn ln_density_of_z<S: Scalar>(_z: S) -> S {
        S::constant(f64::NAN)
    }

    /// ln survival of ε at z; not a number but where [`Law::STANDARD`].
    fn ln_survival_of_z<S: Scalar>(_z: S) -> S {
        S::constant(f64::NAN)
    }

    /// ln of the share failed.
    fn ln_cdf<S: Scalar>(theta: [S; N], age: Age) -> S;

    /// ln(S(lower) − S(upper)), or ln of the share failed by `upper` without a lower age; by differences on
    /// the side where the interval lies, since the other side loses everything in its tail.
    fn ln_between<S: Scalar>(theta: [S; N], lower: Option<Age>, upper: Age) -> S {
        let Some(lower) = lower else {
            return Self::ln_cdf(theta, upper);
        };
        let alive_upper = Self::ln_survival(theta, upper);
        if alive_upper.value() > -std::f64::consts::LN_2 {
            let (dead_lower, dead_upper) = (Self::ln_cdf(theta, lower), Self::ln_cdf(theta, upper));
            if dead_lower.value() == f64::NEG_INFINITY {
                return dead_upper;
            }
            dead_upper + (dead_lower - dead_upper).ln_1m_exp()
        } else {
            let alive_lower = Self::ln_survival(theta, lower);
            alive_lower + (alive_upper - alive_lower).ln_1m_exp()
        }
    }

    /// ln of the age at which ln survival is `ln_share` < 0; not a number where there is none.
    fn ln_age_at<S: Scalar>(theta: [S; N], ln_share: S) -> S;

    /// ln of the ratio of ages between which the cumulative hazard grows by `more` > 0 from `now`; override
    /// where the difference of two logarithms loses digits.
    fn ln_ratio_after<S: Scalar>(theta: [S; N], now: Age, more: f64) -> S {
        Self::ln_age_at(theta, Self::ln_survival(theta, now) - more) - now.ln
    }

    /// ln of the mean life; infinite where the mean is.
    fn ln_mean<S: Scalar>(theta: [S; N]) -> S;

    /// Survival on the scale where its intervals are symmetric; grows with age.
    /// By default ln of the cumulative hazard, ln(−ln S).
    fn index<S: Scalar>(theta: [S; N], age: Age) -> S {
        (-Self::ln_survival(theta, age)).ln()
    }

    /// Survival back from [`Law::index`].
    fn survival_at_index(index: f64) -> f64 {
        (-index.exp()).exp()
    }

    /// How the hazard moves with age (what preventive replacement lives on).
    fn hazard_shape(theta: [f64; N]) -> HazardShape;

    /// Points of finite likelihood to begin from; the best maximum reached counts.
    fn starts(terms: &Terms) -> Vec<[f64; N]>;

    /// A θ along which the likelihood may have several peaks, by its index, with the values at which the others
    /// are fitted first.
    const SCANNED: Option<(usize, &'static [f64])> = None;

    /// The laws at the ends of its range that no θ reaches, with their largest log-likelihoods.
    fn limits(_terms: &Terms) -> Vec<Limit> {
        vec![]
    }

    /// Whether the likelihood of these terms can be higher, or has no limit, where the law closes in on single
    /// failures, so that the greatest maximum inside the family is the estimate.
    fn unbounded(_terms: &Terms) -> bool {
        false
    }

    /// Whether the law at θ closes in on single failures, so that a maximum there is set aside.
    fn closes_in(_theta: [f64; N], _terms: &Terms) -> bool {
        false
    }

    /// Whether the parts of the law at θ differ more in width than its maxima are admitted to: such a maximum is set
    /// aside too. Intervals and refits go so far: there only [`Law::closes_in`] ends them.
    fn unlike(_theta: [f64; N]) -> bool {
        false
    }

    /// The least (`side` −1) or greatest value of a quantity, on its scale, over the laws at ends of the range that no
    /// θ reaches whose log-likelihood is at least `cut`; `None` where none is that likely, or nothing is known of it.
    fn end_at_limit(_quantity: Quantity, _terms: &Terms, _cut: f64, _side: f64) -> Option<AtLimit> {
        None
    }

    /// The same law with its parts in one order, where parameters name parts that could change places.
    fn in_order(theta: [f64; N]) -> [f64; N] {
        theta
    }

    /// When a fit ran off to `theta`: the simpler law or the infinite likelihood that lies there, in words; `None`
    /// inside the family.
    fn edge(_theta: [f64; N], _terms: &Terms) -> Option<&'static str> {
        None
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::laws::gamma::Gamma;

    /// A link's slope is by how much the parameter moves as the link's scale does: by differences.
    #[test]
    fn a_link_has_the_slope_of_its_inverse() {
        for link in [Link::Identity, Link::Log, Link::Logit] {
            for value in [0.1, 0.3, 0.5, 0.8] {
                let (x, h) = (link.apply(value).unwrap(), 1e-4);
                assert!((link.undo(x) - value).abs() < 1e-12);
                let slope = (link.undo(x + h) - link.undo(x - h)) / (2.0 * h);
                assert!((link.slope(value) - slope).abs() < 1e-8, "{link:?} {value}");
            }
        }
    }

    /// A law of t that is no law of z gives no value for one, rather than a wrong one.
    #[test]
    fn a_law_that_does_not_hang_on_z_alone_has_no_number_for_it() {
        for z in [-1.0, 0.0, 0.7] {
            assert!(Gamma::ln_density_of_z(z).is_nan() && Gamma::ln_survival_of_z(z).is_nan());
        }
    }
}
