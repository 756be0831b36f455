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

#[cfg(test)]
mod tests {
    use super::*;

    /// −½((b − mean)/sd)² with its slope and bend, by itself and added to a likelihood.
    #[test]
    fn what_a_penalty_adds_is_a_normal_law() {
        let penalty = Penalty {
            at: 1,
            mean: 2.0,
            sd: 0.5,
        };
        let x = [7.0, 3.0];
        assert_eq!(penalty.value(&x), -2.0);
        let mut out = Derivatives {
            value: 1.0,
            gradient: vec![0.0; 2],
            hessian: vec![vec![0.0; 2]; 2],
        };
        penalty.add(&x, &mut out);
        assert_eq!((out.value, out.gradient), (-1.0, vec![0.0, -4.0]));
        assert_eq!(out.hessian, [[0.0, 0.0], [0.0, -4.0]]);
        // In units ten times as large the coefficient is ten times as small.
        let scaled = penalty.scaled(0.1);
        assert!((scaled.value(&[7.0, 0.3]) + 2.0).abs() < 1e-12);
    }
}
