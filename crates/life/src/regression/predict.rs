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

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::laws::by_name;
    use crate::regression::{Cell, Design, fit_design};
    use crate::terms::Terms;
    use sealspan_records::{Observation, Sample};

    /// A known shift of ln life stretches ages by which a share fails, with their ends, and shrinks the ages at which
    /// survival is asked.
    #[test]
    fn a_known_shift_stretches_ages() {
        let ages =
            [20.0, 60.0, 100.0, 220.0, 90.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let cell = Cell {
            row: vec![1.0],
            terms: Terms::new(&Sample::new(ages.into())).into(),
        };
        let design = Design::of_cells(&["intercept".to_owned()], &[cell]);
        let fitting = fit_design(by_name("weibull").unwrap(), &design).unwrap();
        let own = &fitting.regression;
        let place = |offset: f64| Place {
            row: vec![(0, 1.0)],
            offset,
            stratum: 0,
        };
        let ways: [&dyn Fn(f64, Quantity) -> Prediction; 2] = [
            &|offset, q| own.predict(&place(offset), q, &own.covariance, 1.6),
            &|offset, q| fitting.predict_by_profile(&place(offset), q, 0.9),
        ];
        let factor = 0.7_f64.exp();
        let three = |p: Prediction| [p.estimate, p.lower.unwrap(), p.upper.unwrap()];
        for way in ways {
            let median = |offset| three(way(offset, Quantity::Quantile(0.5)));
            for (moved, here) in median(0.7).into_iter().zip(median(0.0)) {
                assert!((moved / here / factor - 1.0).abs() < 1e-5, "{moved} {here}");
            }
            let moved = three(way(0.7, Quantity::Survival(80.0 * factor)));
            let here = three(way(0.0, Quantity::Survival(80.0)));
            assert!(
                moved
                    .into_iter()
                    .zip(here)
                    .all(|(a, b)| (a - b).abs() < 1e-5)
            );
        }
    }

    /// Slopes and bends are carried over entry by entry, also where an entry of the row is 0, as that of a number at the
    /// mean of those seen.
    #[test]
    fn bends_go_by_the_entries_of_the_row() {
        let inner = Derivatives {
            value: 1.5,
            gradient: vec![2.0, 3.0],
            hessian: vec![vec![5.0, 7.0], vec![7.0, 11.0]],
        };
        let out = chain(&inner, &vec![(0, 1.0), (1, 0.5), (2, 0.0)], 3, 4);
        assert_eq!(out.gradient, [2.0, 1.0, 0.0, 3.0]);
        let want = [
            [5.0, 2.5, 0.0, 7.0],
            [2.5, 1.25, 0.0, 3.5],
            [0.0, 0.0, 0.0, 0.0],
            [7.0, 3.5, 0.0, 11.0],
        ];
        assert_eq!(out.hessian, want);
    }
}
