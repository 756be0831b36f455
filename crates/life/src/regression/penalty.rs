//! Knowledge from outside the data: a normal prior of a coefficient.

use crate::quantity::Derivatives;

/// A coefficient held near a value: −½((b − mean)/sd)² is added to the log-likelihood, which is a normal prior
/// of the coefficient (ridge, where the mean is 0).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Penalty {
    /// Position of the coefficient; not the intercept.
    pub at: usize,
    /// Where it is held.
    pub mean: f64,
    /// How loosely: standard deviation of the prior.
    pub sd: f64,
}

impl Penalty {
    /// The same on a column that was divided by `spread`.
    pub(super) fn scaled(self, spread: f64) -> Self {
        Self {
            mean: self.mean * spread,
            sd: self.sd * spread,
            ..self
        }
    }

    /// What it adds to the log-likelihood.
    pub(super) fn value(&self, x: &[f64]) -> f64 {
        let off = (x.get(self.at).copied().unwrap_or(0.0) - self.mean) / self.sd;
        -0.5 * off * off
    }

    /// Adds value, slope and bend.
    pub(super) fn add(&self, x: &[f64], out: &mut Derivatives) {
        let off = (x.get(self.at).copied().unwrap_or(0.0) - self.mean) / self.sd;
        out.value -= 0.5 * off * off;
        if let Some(slot) = out.gradient.get_mut(self.at) {
            *slot -= off / self.sd;
        }
        if let Some(slot) = out
            .hessian
            .get_mut(self.at)
            .and_then(|r| r.get_mut(self.at))
        {
            *slot -= 1.0 / (self.sd * self.sd);
        }
    }
}
