//! What can be asked of a fitted life: each a smooth function of the parameters, with a scale on which
//! its intervals are made.

/// A question to a life law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Quantity {
    /// Reported parameter number.
    Parameter(usize),
    /// Age by which this share has failed.
    Quantile(f64),
    /// Share surviving this age.
    Survival(f64),
    /// Mean life.
    Mean,
    /// Time that a seal of this age has left, by which this share of such seals has failed.
    Remaining {
        /// Age now.
        age: f64,
        /// Share failed.
        p: f64,
    },
}

/// A value with its derivatives in θ.
#[derive(Debug, Clone, PartialEq)]
pub struct Derivatives {
    /// Value.
    pub value: f64,
    /// First derivatives.
    pub gradient: Vec<f64>,
    /// Second derivatives.
    pub hessian: Vec<Vec<f64>>,
}
