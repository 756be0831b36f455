//! Covariance that allows for seals of one asset being alike: the sandwich, with scores summed by cluster
//! (Huber 1967; Liang & Zeger 1986).

use super::Regression;
use super::line::Row;
use crate::terms::Terms;
use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ContinuousCDF, StudentsT};
use std::collections::BTreeMap;

/// Seals of one cluster that share a design row.
pub struct Clustered<'a> {
    /// Cluster.
    pub cluster: &'a str,
    /// Design row.
    pub row: &'a Row,
    /// Known shift of ln life.
    pub offset: f64,
    /// Stratum.
    pub stratum: usize,
    /// Their observations.
    pub terms: Terms,
}

/// A robust covariance.
///
/// ```
/// use sealspan_life::regression::{Cell, Clustered, regress};
/// use sealspan_life::{laws::by_name, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "{a} is not {b}");
/// let terms = |ages: &[f64]| {
///     Terms::new(&Sample::new(ages.iter().map(|t| Observation::exact(*t, 0.0, 1.0).unwrap()).collect()))
/// };
/// let ages = [40.0, 100.0, 160.0, 500.0];
/// let cell = Cell { row: vec![1.0], terms: terms(&ages).into() };
/// let fit = regress(by_name("exponential").unwrap(), &["intercept".to_owned()], &[cell]).unwrap();
/// let row = vec![(0, 1.0)];
/// let part = |(cluster, age)| Clustered { cluster, row: &row, offset: 0.0, stratum: 0, terms: terms(&[age]) };
/// let parts: Vec<_> = ["a", "a", "b", "c"].into_iter().zip(ages).map(part).collect();
/// let robust = fit.robust(&parts).unwrap();
/// // The mean is 200, scores t/200 − 1: −1.3 of cluster a, −0.2 of b, 1.5 of c; the information is 4.
/// let variance: f64 = 1.5 * (1.3 * 1.3 + 0.2 * 0.2 + 1.5 * 1.5) / 16.0;
/// near(robust.error(&[1.0]), variance.sqrt());
/// // Student's t with two degrees of freedom: t = (2p − 1)√(2/(4p(1 − p))), 4.302653 at p = 0.975.
/// near(robust.critical(0.95), 4.302_652_73);
/// near(robust.p_value(4.302_652_73), 0.05);
/// ```
#[derive(Debug, Clone)]
pub struct Robust {
    /// Covariance of the regression's `x`: G/(G − 1) · C (Σ s sᵀ) C, with C the model's and s the scores by cluster.
    pub covariance: DMatrix<f64>,
    /// Clusters, G.
    pub clusters: usize,
}

impl Regression {
    /// The robust covariance by cluster. `None` for fewer than two clusters.
    #[must_use]
    pub fn robust(&self, seals: &[Clustered<'_>]) -> Option<Robust> {
        let size = self.x.len();
        let mut scores: BTreeMap<&str, DVector<f64>> = BTreeMap::new();
        for part in seals {
            let theta = self.theta(part.row, part.offset, part.stratum);
            let d = self.family.log_likelihood_derivatives(&theta, &part.terms);
            let score = scores
                .entry(part.cluster)
                .or_insert_with(|| DVector::zeros(size));
            let (location, others) = d.gradient.split_first()?;
            for (at, value) in part.row {
                score[*at] += value * location;
            }
            for (at, slope) in (self.stratum_at(part.stratum)..).zip(others) {
                score[at] += slope;
            }
        }
        let clusters = scores.len();
        if clusters < 2 {
            return None;
        }
        let mut middle = DMatrix::zeros(size, size);
        for score in scores.values() {
            middle += score * score.transpose();
        }
        let small = clusters as f64 / (clusters as f64 - 1.0);
        Some(Robust {
            covariance: &self.covariance * middle * &self.covariance * small,
            clusters,
        })
    }
}

impl Robust {
    /// Standard errors on either side of a robust interval: Student's t with G − 1 degrees of freedom.
    #[must_use]
    pub fn critical(&self, level: f64) -> f64 {
        self.student()
            .map_or(f64::INFINITY, |t| t.inverse_cdf(0.5 + 0.5 * level))
    }

    /// Two-sided p-value of an estimate so many standard errors from 0.
    #[must_use]
    pub fn p_value(&self, errors: f64) -> f64 {
        self.student().map_or(1.0, |t| 2.0 * t.cdf(-errors.abs()))
    }

    /// Standard error of a linear combination.
    #[must_use]
    pub fn error(&self, weights: &[f64]) -> f64 {
        super::combination(&[], &self.covariance, weights).1
    }

    fn student(&self) -> Option<StudentsT> {
        StudentsT::new(0.0, 1.0, self.clusters as f64 - 1.0).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::laws::by_name;
    use crate::regression::{Cell, regress};
    use sealspan_records::observation::{Observation, Sample};
    use std::sync::Arc;

    /// By hand: an exponential's score of ln mean is t/m − 1 for each failure, and the information is their number.
    #[test]
    fn exponential_lives_by_hand() {
        let ages = [40.0, 100.0, 160.0, 500.0];
        let sample = |ages: &[f64]| {
            let rows = ages
                .iter()
                .filter_map(|t| Observation::exact(*t, 0.0, 1.0).ok());
            Terms::new(&Sample::new(rows.collect()))
        };
        let exponential = by_name("exponential").unwrap_or(crate::laws::all()[1]);
        let cell = Cell {
            row: vec![1.0],
            terms: Arc::new(sample(&ages)),
        };
        let fit =
            regress(exponential, &["intercept".to_owned()], &[cell]).map_err(|e| e.to_string());
        let fit = fit.unwrap_or_else(|why| unreachable!("{why}"));
        let row = vec![(0, 1.0)];
        let names = ["a", "a", "b", "c"];
        let parts: Vec<Clustered<'_>> = names
            .iter()
            .zip(&ages)
            .map(|(cluster, age)| Clustered {
                cluster,
                row: &row,
                offset: 0.0,
                stratum: 0,
                terms: sample(&[*age]),
            })
            .collect();
        let robust = fit.robust(&parts);
        // Mean 200: scores −0.8 − 0.5, −0.2, 1.5; three clusters.
        let wanted = 3.0 / 2.0 * (1.3f64.powi(2) + 0.2f64.powi(2) + 1.5f64.powi(2)) / 16.0;
        let got = robust.as_ref().map_or(0.0, |r| r.covariance[(0, 0)]);
        assert!((got - wanted).abs() < 1e-9, "{got} {wanted}");
        // Student's t with two degrees of freedom: 4.302653 at 97.5 % (printed in any table of it).
        let critical = robust.as_ref().map_or(0.0, |r| r.critical(0.95));
        assert!((critical - 4.302_653).abs() < 1e-5, "{critical}");
        assert!(fit.robust(&parts[..1]).is_none());
    }
}
