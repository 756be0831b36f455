//! Score residuals, and the covariance that does not trust lives of one cluster to be independent
//! (Lin & Wei 1989): V (Σ_c U_c U_cᵀ) V, with U_c the sum of the score residuals of cluster c.

use super::data::{Line, Prepared, Stratum};
use super::fit::HazardsFit;
use super::partial::{Order, Ties, largest, sweep};
use nalgebra::{DMatrix, DVector, DVectorView};
use thiserror::Error;

/// There are not enough clusters for a covariance from them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error(
    "{clusters} clusters are too few for errors of {columns} coefficients by cluster; at least {} are needed", columns + 2
)]
pub struct TooFewClusters {
    /// Clusters there are.
    pub clusters: usize,
    /// Coefficients.
    pub columns: usize,
}

/// Cumulative sums at a failure age, itself included, of a life with x·β at the shift.
struct Step {
    age: f64,
    /// Hazard, and its sum of mean x.
    hazard: f64,
    mean: DVector<f64>,
    /// The same, when the life fails here: its share in the ties.
    hazard_dying: f64,
    mean_dying: DVector<f64>,
    /// Mean of x over the order of the failures here.
    own: DVector<f64>,
}

/// The cumulative hazard that a stratum's lives went through.
pub(super) struct Past {
    steps: Vec<Step>,
    shift: f64,
}

/// One [`Past`] a stratum.
pub(super) fn past(data: &Prepared, ties: Ties, beta: &DVector<f64>) -> Vec<Past> {
    let shift = largest(data, beta);
    let mut out: Vec<Past> = data
        .strata
        .iter()
        .map(|_| Past {
            steps: vec![],
            shift,
        })
        .collect();
    sweep(data, beta, false, |set| {
        let o = Order::of(set, ties);
        let (s, d) = (&set.all.s1, &set.dying.s1);
        let step = Step {
            age: set.age,
            hazard: o.a0,
            mean: s * o.b0 - d * o.b1,
            hazard_dying: o.a0 - o.a1,
            mean_dying: s * (o.b0 - o.b1) - d * (o.b1 - o.b2),
            own: o.means(set) / set.failed,
        };
        if let Some(past) = out.get_mut(set.stratum) {
            past.steps.push(step);
        }
    });
    for past in &mut out {
        past.accumulate();
    }
    out
}

impl Past {
    fn accumulate(&mut self) {
        self.steps.reverse();
        let mut sum: Option<(f64, DVector<f64>)> = None;
        for step in &mut self.steps {
            if let Some((hazard, mean)) = &sum {
                step.hazard += hazard;
                step.mean += mean;
                step.hazard_dying += hazard;
                step.mean_dying += mean;
            }
            sum = Some((step.hazard, step.mean.clone()));
        }
    }

    fn up_to(&self, age: f64) -> Option<&Step> {
        // Most lives are watched from age 0, before any step.
        if self.steps.first().is_none_or(|s| s.age > age) {
            return None;
        }
        let at = self.steps.partition_point(|s| s.age <= age);
        at.checked_sub(1).and_then(|i| self.steps.get(i))
    }

    /// Failures expected of one life with that x·β, between entry and exit.
    pub fn expected(&self, line: &Line, eta: f64) -> f64 {
        let at_exit = self.up_to(line.exit).map_or(0.0, |s| {
            if line.failed {
                s.hazard_dying
            } else {
                s.hazard
            }
        });
        let at_entry = self.up_to(line.entry).map_or(0.0, |s| s.hazard);
        (eta - self.shift).exp() * (at_exit - at_entry)
    }

    /// Score residual of one life.
    fn score(&self, line: &Line, row: &[f64], eta: f64) -> DVector<f64> {
        let x = DVectorView::from_slice(row, row.len()).clone_owned();
        let weight = (eta - self.shift).exp();
        let mut out = &x * -self.expected(line, eta);
        if let Some(step) = self.up_to(line.exit) {
            let mean = if line.failed {
                &step.mean_dying
            } else {
                &step.mean
            };
            out += mean * weight;
            if line.failed {
                out += &x - &step.own;
            }
        }
        if let Some(step) = self.up_to(line.entry) {
            out -= &step.mean * weight;
        }
        out
    }
}

/// x·β of a stratum's lives.
pub(super) fn linear<'a>(
    data: &'a Prepared,
    stratum: &'a Stratum,
    beta: &'a DVector<f64>,
) -> impl Iterator<Item = (&'a Line, &'a [f64], f64)> {
    stratum.lines.iter().map(move |line| {
        let row = data.row(line);
        let eta = row.iter().zip(beta.iter()).map(|(x, b)| x * b).sum();
        (line, row, eta)
    })
}

impl HazardsFit {
    /// Sums of score residuals by cluster, in standardised columns.
    pub(super) fn cluster_scores(&self) -> Vec<DVector<f64>> {
        let p = self.data.columns();
        let mut sums = vec![DVector::zeros(p); self.data.clusters];
        let pasts = past(&self.data, self.ties, &self.beta);
        for (stratum, past) in self.data.strata.iter().zip(&pasts) {
            for (line, row, eta) in linear(&self.data, stratum, &self.beta) {
                if let Some(sum) = sums.get_mut(line.cluster) {
                    sum.axpy(line.count, &past.score(line, row, eta), 1.0);
                }
            }
        }
        sums
    }

    /// Covariance robust to dependence within clusters, of the columns as given.
    ///
    /// # Errors
    /// [`TooFewClusters`] unless there are more clusters than coefficients, a baseline counted as one.
    pub fn cluster_covariance(&self) -> Result<DMatrix<f64>, TooFewClusters> {
        let columns = self.data.columns();
        if self.data.clusters < columns + 2 {
            return Err(TooFewClusters {
                clusters: self.data.clusters,
                columns,
            });
        }
        let mut middle = DMatrix::zeros(columns, columns);
        for score in self.cluster_scores() {
            middle += &score * score.transpose();
        }
        Ok(self.unscaled(&(&self.inverse * middle * &self.inverse)))
    }
}
