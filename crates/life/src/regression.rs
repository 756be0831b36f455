//! Accelerated life regression: ln T = x·b + σε. The location of any law is shifted by a design row;
//! its other parameters are shared, or differ by group.

use crate::family::Family;
use crate::fit::NoFit;
use crate::maximise::{LogLikelihood, maximise};
use crate::quantity::Derivatives;
use crate::terms::Terms;
use nalgebra::{DMatrix, DVector};
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
    let columns = names.len();
    let shared = family.dimension().saturating_sub(1);
    let standard = Standard::of(columns, cells);
    let standard_cells: Vec<Cell> = cells
        .iter()
        .map(|c| Cell {
            row: standard.row(&c.row),
            terms: Arc::clone(&c.terms),
        })
        .collect();
    let problem = Problem {
        family,
        cells: &standard_cells,
        columns,
        shared,
    };
    let maximum = maximise(&problem, &start(family, cells, columns, shared, failures))
        .map_err(|lost| lost.why)?;
    let back = standard.back(columns + shared);
    let x = &back * DVector::from_column_slice(&maximum.x);
    Ok(Regression {
        family,
        names: names.to_vec(),
        x: x.iter().copied().collect(),
        covariance: &back * maximum.covariance * back.transpose(),
        log_likelihood: maximum.value,
    })
}

/// The failure-weighted mean of the cells' own starts, without effects.
fn start(
    family: &'static dyn Family,
    cells: &[Cell],
    columns: usize,
    shared: usize,
    failures: f64,
) -> Vec<f64> {
    let mut start = vec![0.0; columns + shared];
    for cell in cells.iter().filter(|c| c.terms.extent.failures > 0.0) {
        let share = cell.terms.extent.failures / failures;
        let first = family
            .starts(&cell.terms)
            .into_iter()
            .next()
            .unwrap_or_default();
        for (k, value) in first.iter().enumerate() {
            let at = if k == 0 { 0 } else { columns + k - 1 };
            if let Some(slot) = start.get_mut(at) {
                *slot += share * value;
            }
        }
    }
    start
}

/// Columns shifted to mean 0 and scaled to standard deviation 1 (the intercept apart), so that a
/// reciprocal temperature or a calendar year does not make the information look singular.
struct Standard {
    mean: Vec<f64>,
    spread: Vec<f64>,
}

impl Standard {
    fn of(columns: usize, cells: &[Cell]) -> Self {
        let total: f64 = cells.iter().map(|c| c.terms.extent.total).sum();
        let average = |f: &dyn Fn(f64) -> f64, j: usize| {
            let value = |c: &Cell| c.terms.extent.total * f(c.row.get(j).copied().unwrap_or(0.0));
            cells.iter().map(value).sum::<f64>() / total
        };
        let mut mean = vec![0.0; columns];
        let mut spread = vec![1.0; columns];
        for (j, (m, s)) in mean.iter_mut().zip(&mut spread).enumerate().skip(1) {
            *m = average(&|x| x, j);
            let centre = *m;
            let root = average(&|x| (x - centre).powi(2), j).sqrt();
            *s = if root > 0.0 { root } else { 1.0 };
        }
        Self { mean, spread }
    }

    fn row(&self, row: &[f64]) -> Vec<f64> {
        row.iter()
            .zip(&self.mean)
            .zip(&self.spread)
            .map(|((x, m), s)| (x - m) / s)
            .collect()
    }

    /// The linear map from standardised coefficients to those of the columns as given.
    fn back(&self, size: usize) -> DMatrix<f64> {
        let mut map = DMatrix::identity(size, size);
        for (j, (m, s)) in self.mean.iter().zip(&self.spread).enumerate().skip(1) {
            map[(j, j)] = 1.0 / s;
            map[(0, j)] = -m / s;
        }
        map
    }
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
        if !self.family.has_ln_scale() {
            return None;
        }
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
