//! What can be asked of a fitted life: each a smooth function of the parameters, with a scale on which its intervals
//! are made: a parameter's link ([`crate::law::Link`]), ln for ages, times and the mean, and for a survival the law's
//! index ([`crate::law::Law::index`]), which grows as survival falls.

/// A question to a life law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Quantity {
    /// Reported parameter number, from 0 ([`crate::family::Family::reported`]).
    Parameter(usize),
    /// Age t by which this share p, between 0 and 1, has failed: S(t) = 1 − p.
    Quantile(f64),
    /// Share surviving this age t: S(t).
    Survival(f64),
    /// Mean life.
    Mean,
    /// Time t that a seal of this age has left, by which this share of such seals has failed: S(age + t) = (1 − p)
    /// S(age).
    Remaining {
        /// Age now, above 0.
        age: f64,
        /// Share failed, between 0 and 1.
        p: f64,
    },
}

/// A value with its derivatives in n parameters: θ, or those of it that are free.
#[derive(Debug, Clone, PartialEq)]
pub struct Derivatives {
    /// Value.
    pub value: f64,
    /// First derivatives, n.
    pub gradient: Vec<f64>,
    /// Second derivatives, n rows of n.
    pub hessian: Vec<Vec<f64>>,
}
