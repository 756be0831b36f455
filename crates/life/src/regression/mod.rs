//! Accelerated life regression: ln T = x·b + offset + σε. The location of any law is shifted by a design
//! row; its other parameters are shared, or differ by stratum.
//!
//! Newton's method on exact second derivatives, summed over design rows by their entries that are not 0, so
//! that a factor costs the same whatever its number of levels.
//!
//! ```
//! use sealspan_life::regression::{Cell, Place, distance_to_hull, regress};
//! use sealspan_life::{laws::by_name, quantity::Quantity, terms::Terms};
//! use sealspan_records::{Observation, Sample};
//! let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6 * b.abs().max(1.0), "{a} is not {b}");
//! // Four exponential lives of mean 100 and four of mean 200: each ln mean has the variance 1/4.
//! let of = |factor: f64, row: Vec<f64>| {
//!     let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(factor * t, 0.0, 1.0).unwrap());
//!     Cell { row, terms: Terms::new(&Sample::new(ages.into())).into() }
//! };
//! let cells = [of(1.0, vec![1.0, 0.0]), of(2.0, vec![1.0, 1.0])];
//! let names = ["intercept".to_owned(), "material=silicone".to_owned()];
//! let found = regress(by_name("exponential").unwrap(), &names, &cells).unwrap();
//! let effect = &found.coefficients(0.9)[1];
//! near(effect.estimate, 2.0_f64.ln());
//! near(effect.std_error, 0.5_f64.sqrt());
//! near(effect.upper - effect.estimate, 1.644_853_627 * 0.5_f64.sqrt());
//! assert_eq!(found.unit(1), [0.0, 1.0]);
//! let (sum, error) = found.combination(&[1.0, 1.0]);
//! near(sum, 200.0_f64.ln());
//! near(error, 0.5);
//! near(found.contrast("silicone", &[1.0, 1.0], &[1.0, 0.0], 0.9).estimate, 2.0_f64.ln());
//! let place = Place { row: vec![(0, 1.0), (1, 1.0)], offset: 0.0, stratum: 0 };
//! near(found.theta(&place.row, place.offset, 0)[0], 200.0_f64.ln());
//! let life = found.predict(&place, Quantity::Mean, &found.covariance, 1.0);
//! near(life.estimate, 200.0);
//! near(life.upper.unwrap(), 200.0 * 0.5_f64.exp()); // one standard error above
//! assert!(found.sigma(0.9).is_none()); // an exponential law has no spread to estimate
//! // Half the range seen beyond its end, and inside.
//! near(distance_to_hull(&[vec![0.0], vec![10.0]], &[15.0]), 0.5);
//! near(distance_to_hull(&[vec![0.0], vec![10.0]], &[3.0]), 0.0);
//! ```

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

mod added;
mod blur;
mod fitting;
mod hull;
mod line;
mod penalty;
mod predict;
mod problem;
mod profile;
mod random_factor;
mod robust;
mod standard;
mod start;

pub use added::{AddedColumn, Score};
pub use blur::{Blur, Blurs, blurs_of};
pub use fitting::{Fitting, fit_design};
pub use hull::distance_to_hull;
pub use line::{Cell, Design, Line, Row};
pub use penalty::Penalty;
pub use predict::{Place, Prediction};
pub use random_factor::{DrawnLevel, RandomFactor, random_factor};
pub use robust::{Clustered, Robust};

use crate::family::Family;
use crate::fit::NoFit;
use nalgebra::DMatrix;
use sealspan_numeric::special::{chi_square_survival, normal_quantile};

/// A coefficient on ln life.
#[derive(Debug, Clone, PartialEq)]
pub struct Coefficient {
    /// Name of the column.
    pub name: String,
    /// Estimate: ln of the factor by which one unit of the column lengthens life.
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
    /// Coefficients, then the law's other parameters on their unbounded scale, stratum by stratum.
    pub x: Vec<f64>,
    /// Covariance of `x` from the observed information (with the penalties in it, where there are any).
    pub covariance: DMatrix<f64>,
    /// Log-likelihood, without penalties.
    pub log_likelihood: f64,
    /// Number of sets of the law's other parameters.
    pub strata: usize,
}

/// Fits ln T = x·b + σε with every cell sharing the law's other parameters.
///
/// # Errors
/// [`NoFit`] as for a single fit; a level without failures has no finite coefficient and gives
/// [`NoFit::NotReached`] or [`NoFit::Ridge`].
///
/// ```
/// use sealspan_life::{laws::by_name, regression::{Cell, regress}, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let cell = |number: f64, ages: [f64; 2]| Cell {
///     row: vec![1.0, number],
///     terms: Terms::new(&Sample::new(
///         ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap()).into(),
///     ))
///     .into(),
/// };
/// // Two more steps of the number and lives are four times as long: ln 2 a step.
/// let cells = [cell(0.0, [100.0, 200.0]), cell(2.0, [400.0, 800.0])];
/// let names = ["intercept".to_owned(), "number".to_owned()];
/// let found = regress(by_name("lognormal").unwrap(), &names, &cells).unwrap();
/// let number = &found.coefficients(0.9)[1];
/// assert!((number.estimate - 2.0_f64.ln()).abs() < 1e-6 && number.lower > 0.0);
/// ```
pub fn regress(
    family: &'static dyn Family,
    names: &[String],
    cells: &[Cell],
) -> Result<Regression, NoFit> {
    fit_design(family, &Design::of_cells(names, cells)).map(|fitting| fitting.regression)
}

impl Regression {
    /// Estimate of a linear combination of `x`, with its standard error.
    #[must_use]
    pub fn combination(&self, weights: &[f64]) -> (f64, f64) {
        combination(&self.x, &self.covariance, weights)
    }

    fn coefficient(&self, name: String, weights: &[f64], level: f64) -> Coefficient {
        let (estimate, std_error) = self.combination(weights);
        wald(name, estimate, std_error, level)
    }

    /// Weights that pick out one entry of `x`.
    #[must_use]
    pub fn unit(&self, at: usize) -> Vec<f64> {
        (0..self.x.len())
            .map(|j| f64::from(u8::from(at == j)))
            .collect()
    }

    /// The coefficients with Wald intervals at two-sided confidence `level`.
    #[must_use]
    pub fn coefficients(&self, level: f64) -> Vec<Coefficient> {
        self.names
            .iter()
            .enumerate()
            .map(|(i, name)| self.coefficient(name.clone(), &self.unit(i), level))
            .collect()
    }

    /// A linear combination of the coefficients: the difference in ln life between two design rows.
    #[must_use]
    pub fn contrast(&self, name: &str, of: &[f64], to: &[f64], level: f64) -> Coefficient {
        let weights: Vec<f64> = of.iter().zip(to).map(|(a, b)| a - b).collect();
        self.coefficient(name.to_owned(), &weights, level)
    }

    /// Position in `x` of the first of a stratum's own parameters.
    #[must_use]
    pub fn stratum_at(&self, stratum: usize) -> usize {
        self.names.len() + stratum * self.family.dimension().saturating_sub(1)
    }

    /// σ of ln life with its interval on the log scale: (estimate, standard error, lower, upper).
    /// `None` for a law without σ. Of the first stratum where there are several.
    #[must_use]
    pub fn sigma(&self, level: f64) -> Option<(f64, f64, f64, f64)> {
        self.sigma_of(0, level)
    }

    /// The same for one stratum.
    ///
    /// ```
    /// use sealspan_life::{laws::by_name, regression::{Cell, regress}, terms::Terms};
    /// use sealspan_records::{Observation, Sample};
    /// let ages = [1.0_f64, 3.0].map(|ln| Observation::exact(ln.exp(), 0.0, 1.0).unwrap());
    /// let cell = Cell { row: vec![1.0], terms: Terms::new(&Sample::new(ages.into())).into() };
    /// let found = regress(by_name("lognormal").unwrap(), &["intercept".to_owned()], &[cell]).unwrap();
    /// // Logarithms 1 and 3 about 2: σ = 1, and ln σ has the variance 1/(2n).
    /// assert_eq!(found.stratum_at(0), 1);
    /// let (sigma, error, ..) = found.sigma_of(0, 0.9).unwrap();
    /// assert!((sigma - 1.0).abs() < 1e-6 && (error - 0.5).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn sigma_of(&self, stratum: usize, level: f64) -> Option<(f64, f64, f64, f64)> {
        let at = self.stratum_at(stratum);
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

    /// θ of the law for a design row.
    #[must_use]
    pub fn theta(&self, row: &Row, offset: f64, stratum: usize) -> Vec<f64> {
        let at = self.stratum_at(stratum);
        let shared = self.family.dimension().saturating_sub(1);
        std::iter::once(line::location(row, &self.x) + offset)
            .chain(self.x.iter().skip(at).take(shared).copied())
            .collect()
    }
}

/// Estimate and standard error of a linear combination.
fn combination(x: &[f64], covariance: &DMatrix<f64>, weights: &[f64]) -> (f64, f64) {
    let estimate: f64 = weights.iter().zip(x).map(|(w, x)| w * x).sum();
    let used: Vec<(usize, f64)> = weights
        .iter()
        .copied()
        .enumerate()
        .filter(|(_, w)| *w != 0.0)
        .collect();
    let mut variance = 0.0;
    for (i, a) in &used {
        for (j, b) in &used {
            variance += a * b * covariance[(*i, *j)];
        }
    }
    (estimate, variance.max(0.0).sqrt())
}

/// A normal interval and p-value.
fn wald(name: String, estimate: f64, std_error: f64, level: f64) -> Coefficient {
    let half = normal_quantile(0.5 + 0.5 * level) * std_error;
    Coefficient {
        name,
        estimate,
        std_error,
        lower: estimate - half,
        upper: estimate + half,
        p_value: chi_square_survival((estimate / std_error).powi(2), 1.0),
    }
}
