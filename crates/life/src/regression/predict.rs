//! Life under stated conditions, with intervals.

use super::fitting::Fitting;
use super::line::Row;
use super::profile::ends;
use super::{Regression, line};
use crate::quantity::{Derivatives, Quantity};
use nalgebra::DMatrix;
use sealspan_numeric::special::normal_quantile;

/// Conditions at which life is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// Design row.
    pub row: Row,
    /// Known shift of ln life.
    pub offset: f64,
    /// Stratum.
    pub stratum: usize,
}

/// A predicted quantity of life in the clock's unit; a confidence interval of the law's quantity, not of one seal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// Estimate.
    pub estimate: f64,
    /// Standard error of its logarithm.
    pub ln_error: f64,
    /// Lower end.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
}

impl Regression {
    /// A quantity on its scale (ln for lives) with derivatives in `x`.
    fn quantity(&self, place: &Place, quantity: Quantity) -> Derivatives {
        let theta = self.theta(&place.row, place.offset, place.stratum);
        let own = self.stratum_at(place.stratum);
        let inner = self.family.quantity(&theta, quantity);
        chain(&inner, &place.row, own, self.x.len())
    }

    /// A quantity at a place with the normal interval of its logarithm, from a covariance of `x` (its own, or a
    /// robust one). `critical` is the number of standard errors on either side.
    #[must_use]
    pub fn predict(
        &self,
        place: &Place,
        quantity: Quantity,
        covariance: &DMatrix<f64>,
        critical: f64,
    ) -> Prediction {
        let d = self.quantity(place, quantity);
        let (_, error) = super::combination(&self.x, covariance, &d.gradient);
        let end = |side: f64| {
            let value = self
                .family
                .unscale(quantity, d.value + side * critical * error);
            value.is_finite().then_some(value)
        };
        Prediction {
            estimate: self.family.unscale(quantity, d.value),
            ln_error: error,
            lower: end(-1.0),
            upper: end(1.0),
        }
    }
}

impl Fitting {
    /// The same with the interval from the profile likelihood at two-sided confidence `level`.
    #[must_use]
    pub fn predict_by_profile(&self, place: &Place, quantity: Quantity, level: f64) -> Prediction {
        let own = &self.regression;
        let z = normal_quantile(0.5 + 0.5 * level);
        let wald = own.predict(place, quantity, &own.covariance, z);
        let row = self.standard.row(&place.row);
        let target = |x: &[f64]| {
            let at = self.problem.own(place.stratum);
            let theta: Vec<f64> = std::iter::once(line::location(&row, x) + place.offset)
                .chain(x.iter().skip(at).take(self.problem.shared).copied())
                .collect();
            chain(&own.family.quantity(&theta, quantity), &row, at, x.len())
        };
        let [lower, upper] = ends(self, &target, z);
        let unscale = |end: Option<f64>| end.map(|e| own.family.unscale(quantity, e));
        Prediction {
            lower: unscale(lower),
            upper: unscale(upper),
            ..wald
        }
    }
}

/// Derivatives in θ carried over to the unknowns: θ₀ = row·x, the others stand from `own` on.
fn chain(inner: &Derivatives, row: &Row, own: usize, size: usize) -> Derivatives {
    let mut map: Vec<(usize, usize, f64)> = row.iter().map(|(at, v)| (0, *at, *v)).collect();
    map.extend((1..inner.gradient.len()).map(|k| (k, own + k - 1, 1.0)));
    let mut out = Derivatives {
        value: inner.value,
        gradient: vec![0.0; size],
        hessian: vec![vec![0.0; size]; size],
    };
    for (k, i, a) in &map {
        if let Some(slot) = out.gradient.get_mut(*i) {
            *slot += a * inner.gradient.get(*k).copied().unwrap_or(0.0);
        }
        let Some(line) = out.hessian.get_mut(*i) else {
            continue;
        };
        for (l, j, b) in &map {
            let bend = inner.hessian.get(*k).and_then(|r| r.get(*l)).copied();
            if let Some(slot) = line.get_mut(*j) {
                *slot += a * b * bend.unwrap_or(0.0);
            }
        }
    }
    out
}
