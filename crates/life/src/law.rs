//! What a life law writes: ten to twenty lines, and everything else follows from them.

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
    pub fn from_ln(ln: f64) -> Self {
        Self { t: ln.exp(), ln }
    }
}

/// How a reported parameter's interval is made: on its own scale or on that of its logarithm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Link {
    /// Any real number.
    Identity,
    /// Above zero.
    Log,
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
}

/// A life law with `N` free parameters θ, each running over all real numbers; θ₀ is the location of
/// ln T (multiplying life by c adds ln c to it), which is what regression shifts.
pub trait Law<const N: usize>: Send + Sync + 'static {
    /// Name in commands and outputs.
    const NAME: &'static str;
    /// Name in sentences.
    const TITLE: &'static str;
    /// Parameters as reported, made from θ by [`Law::report`].
    const REPORTED: &'static [Parameter];

    /// Reported parameter number `index`, on its own scale.
    fn report<S: Scalar>(theta: [S; N], index: usize) -> S;

    /// ln density per unit of time.
    fn ln_density<S: Scalar>(theta: [S; N], age: Age) -> S;

    /// ln survival.
    fn ln_survival<S: Scalar>(theta: [S; N], age: Age) -> S;

    /// ln of the share failed; override where 1 − survival loses digits.
    fn ln_cdf<S: Scalar>(theta: [S; N], age: Age) -> S {
        Self::ln_survival(theta, age).ln_1m_exp()
    }

    /// ln of the age by which the share `p` has failed.
    fn ln_quantile<S: Scalar>(theta: [S; N], p: f64) -> S;

    /// ln of the mean life.
    fn ln_mean<S: Scalar>(theta: [S; N]) -> S;

    /// Survival on the scale where its intervals are symmetric; grows with age.
    /// By default ln of the cumulative hazard.
    fn index<S: Scalar>(theta: [S; N], age: Age) -> S {
        (-Self::ln_survival(theta, age)).ln()
    }

    /// Survival back from [`Law::index`].
    fn survival_at_index(index: f64) -> f64 {
        (-index.exp()).exp()
    }

    /// How the hazard moves with age (what preventive replacement lives on).
    fn hazard_shape(theta: [f64; N]) -> HazardShape;

    /// A point of finite likelihood to begin from.
    fn start(terms: &Terms) -> [f64; N];
}
