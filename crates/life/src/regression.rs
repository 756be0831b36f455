//! Accelerated life regression: ln T = x·b + σε. The location of any law is shifted by a design row;
//! its other parameters are shared, or differ by group.

use crate::family::Family;
use crate::fit::NoFit;
use crate::maximise::{LogLikelihood, maximise};
use crate::quantity::Derivatives;
use crate::terms::Terms;
use nalgebra::DMatrix;
use sealspan_numeric::special::{chi_square_survival, normal_quantile};
use std::sync::Arc;

/// Seals that share a design row.
#[derive(Clone)]
pub struct Cell {
    /// Design row x; the first entry is 1 for the intercept.
    pub row: Vec<f64>,
    /// Their observations, taken apart.
    pub terms: Arc<Terms>,
}

/// A coefficient on ln life.
#[derive(Debug, Clone, PartialEq)]
pub struct Coefficient {
    /// Name of the column.
    pub name: String,
    /// Estimate.
    pub estimate: f64,
    /// Standard error.
    pub std_error: f64,
    /// Lower end of the Wald interval.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Two-sided Wald p-value of being 0.
    pub p_value: f64,
}

/// A fitted regression.
#[derive(Clone)]
pub struct Regression {
    /// The family.
    pub family: &'static dyn Family,
    /// Names of the design's columns.
    pub names: Vec<String>,
    /// Coefficients, then the law's other parameters on their unbounded scale.
    pub x: Vec<f64>,
    /// Covariance of `x` from the observed information.
    pub covariance: DMatrix<f64>,
    /// Log-likelihood.
    pub log_likelihood: f64,
}

struct Problem<'a> {
    family: &'static dyn Family,
    cells: &'a [Cell],
    columns: usize,
    shared: usize,
}

impl Problem<'_> {
    fn theta(&self, row: &[f64], x: &[f64]) -> Vec<f64> {
        let location = row.iter().zip(x).map(|(a, b)| a * b).sum();
        std::iter::once(location)
            .chain(x.iter().skip(self.columns).copied())
            .collect()
    }
}

impl LogLikelihood for Problem<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        let cell = |c: &Cell| self.family.log_likelihood(&self.theta(&c.row, x), &c.terms);
        self.cells.iter().map(cell).sum()
    }

    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let n = self.columns + self.shared;
        let mut out = Derivatives {
            value: 0.0,
            gradient: vec![0.0; n],
            hessian: vec![vec![0.0; n]; n],
        };
        for cell in self.cells {
            let d = self
                .family
                .log_likelihood_derivatives(&self.theta(&cell.row, x), &cell.terms);
            // dθ/dx: the row for the location, ones for the shared parameters.
            let chain: Vec<(usize, f64)> = cell
                .row
                .iter()
                .map(|a| (0, *a))
                .chain((1..=self.shared).map(|k| (k, 1.0)))
                .collect();
            out.value += d.value;
            for ((i, slot), row) in chain.iter().zip(&mut out.gradient).zip(&mut out.hessian) {
                *slot += d.gradient.get(i.0).copied().unwrap_or(0.0) * i.1;
                for (j, entry) in chain.iter().zip(row) {
                    let second = d
                        .hessian
                        .get(i.0)
                        .and_then(|r| r.get(j.0))
                        .copied()
                        .unwrap_or(0.0);
                    *entry += second * i.1 * j.1;
                }
            }
        }
        out
    }

    fn weight(&self) -> f64 {
        self.cells.iter().map(|c| c.terms.extent.total).sum()
    }
}

/// Fits ln T = x·b + σε with every cell sharing the law's other parameters.
///
/// # Errors
/// [`NoFit`] as for a single fit; a level without failures has no finite coefficient and gives
/// [`NoFit::NotReached`] or [`NoFit::Ridge`].
pub fn regress(
    family: &'static dyn Family,
    names: &[String],
    cells: &[Cell],
) -> Result<Regression, NoFit> {
    let failures: f64 = cells.iter().map(|c| c.terms.extent.failures).sum();
    let total: f64 = cells.iter().map(|c| c.terms.extent.total).sum();
    if total <= 0.0 {
        return Err(NoFit::Empty);
    }
    if failures <= 0.0 {
        return Err(NoFit::NoFailures { total });
    }
    let problem = Problem {
        family,
        cells,
        columns: names.len(),
        shared: family.dimension().saturating_sub(1),
    };
    // Begin from the failure-weighted mean of the cells' own starts.
    let mut start = vec![0.0; problem.columns + problem.shared];
    for cell in cells {
        let share = cell.terms.extent.failures / failures;
        let own = family.start(&cell.terms);
        for (k, value) in own.iter().enumerate() {
            let at = if k == 0 { 0 } else { problem.columns + k - 1 };
            if let Some(slot) = start.get_mut(at) {
                *slot += if share > 0.0 { share * value } else { 0.0 };
            }
        }
    }
    let maximum = maximise(&problem, &start)?;
    Ok(Regression {
        family,
        names: names.to_vec(),
        x: maximum.x,
        covariance: maximum.covariance,
        log_likelihood: maximum.value,
    })
}

impl Regression {
    fn coefficient(&self, name: String, weights: &[f64], level: f64) -> Coefficient {
        let estimate: f64 = weights.iter().zip(&self.x).map(|(w, x)| w * x).sum();
        let mut variance = 0.0;
        for (i, a) in weights.iter().enumerate() {
            for (j, b) in weights.iter().enumerate() {
                variance += a * b * self.covariance[(i, j)];
            }
        }
        let std_error = variance.max(0.0).sqrt();
        let half = normal_quantile(0.5 + 0.5 * level) * std_error;
        let p_value = chi_square_survival((estimate / std_error).powi(2), 1.0);
        Coefficient {
            name,
            estimate,
            std_error,
            lower: estimate - half,
            upper: estimate + half,
            p_value,
        }
    }

    /// The coefficients with Wald intervals at two-sided confidence `level`.
    #[must_use]
    pub fn coefficients(&self, level: f64) -> Vec<Coefficient> {
        self.names
            .iter()
            .enumerate()
            .map(|(i, name)| {
                let weights: Vec<f64> = (0..self.x.len())
                    .map(|j| f64::from(u8::from(i == j)))
                    .collect();
                self.coefficient(name.clone(), &weights, level)
            })
            .collect()
    }

    /// A linear combination of the coefficients: the difference in ln life between two design rows.
    #[must_use]
    pub fn contrast(&self, name: &str, of: &[f64], to: &[f64], level: f64) -> Coefficient {
        let weights: Vec<f64> = of.iter().zip(to).map(|(a, b)| a - b).collect();
        self.coefficient(name.to_owned(), &weights, level)
    }

    /// σ of ln life with its interval on the log scale: (estimate, standard error, lower, upper).
    /// `None` for a law without σ.
    #[must_use]
    pub fn sigma(&self, level: f64) -> Option<(f64, f64, f64, f64)> {
        let at = self.names.len();
        let ln_sigma = *self.x.get(at)?;
        let error = self.covariance[(at, at)].max(0.0).sqrt();
        let half = normal_quantile(0.5 + 0.5 * level) * error;
        let sigma = ln_sigma.exp();
        Some((
            sigma,
            sigma * error,
            (ln_sigma - half).exp(),
            (ln_sigma + half).exp(),
        ))
    }
}
