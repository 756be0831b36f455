//! Do groups of seals live equally long? Likelihood-ratio tests on a law; see [`crate::log_rank`] for tests
//! without one.

use crate::family::Family;
use crate::fit::{Model, NoFit, fit_terms};
use crate::regression::{Cell, Regression, regress};
use crate::terms::Terms;
use sealspan_numeric::special::chi_square_survival;
use sealspan_records::observation::Sample;
use std::sync::Arc;

/// A test's result.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// Name in outputs.
    pub name: &'static str,
    /// Chi-square statistic; of a likelihood ratio twice the difference of the log-likelihoods, 0 at least.
    pub statistic: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Probability of a statistic at least this large if the groups were alike.
    pub p_value: f64,
}

/// Likelihood-ratio comparison of groups on a law.
#[derive(Clone)]
pub struct LawComparison {
    /// `common_shape`: one shape (all parameters but the scale) against a shape for each group, scales free, with
    /// (groups − 1) × (parameters − 1) degrees of freedom. `None` for laws without a shape, or where a group cannot be
    /// fitted by itself.
    pub common_shape: Option<Test>,
    /// `common_life`: no group effect against one scale for each group, the shape common, with groups − 1 degrees of
    /// freedom.
    pub common_life: Test,
    /// The common-shape regression; the first group is the base.
    pub regression: Regression,
}

/// Names of the design columns of one factor: the intercept, then `column=level` for all but the first.
#[must_use]
pub fn factor_names(column: &str, levels: &[String]) -> Vec<String> {
    std::iter::once("intercept".to_owned())
        .chain(
            levels
                .iter()
                .skip(1)
                .map(|level| format!("{column}={level}")),
        )
        .collect()
}

/// Design row of level number `level`, from 0, of `count`.
#[must_use]
pub(crate) fn factor_row(level: usize, count: usize) -> Vec<f64> {
    (0..count)
        .map(|j| f64::from(u8::from(j == 0 || j == level)))
        .collect()
}

/// Compares two or more groups on a law by likelihood ratio, twice the gain in log-likelihood against chi-square (its
/// law in large samples, from memory); `names` are those of [`factor_names`], one for each group.
///
/// # Errors
/// [`NoFit`] where the pooled or the common-shape fit does not exist (for example a group without
/// failures).
///
/// ```
/// use sealspan_life::{compare::{by_law, factor_names}, laws::by_name};
/// use sealspan_records::{Observation, Sample};
/// let of = |ages: [f64; 3]| Sample::new(ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap()).into());
/// let names = factor_names("material", &["nitrile".into(), "silicone".into()]);
/// // The second group lives three times as long, with the same spread.
/// let groups = [of([100.0, 140.0, 200.0]), of([300.0, 420.0, 600.0])];
/// let found = by_law(by_name("weibull").unwrap(), &names, &groups).unwrap();
/// assert!((found.regression.x[1] - 3.0_f64.ln()).abs() < 1e-6);
/// assert!(found.common_shape.unwrap().statistic < 1e-6 && found.common_life.p_value < 0.01);
/// ```
pub fn by_law(
    family: &'static dyn Family,
    names: &[String],
    groups: &[Sample],
) -> Result<LawComparison, NoFit> {
    let pooled = Sample::new(
        groups
            .iter()
            .flat_map(|g| g.rows().iter().copied())
            .collect(),
    );
    let together = fit_terms(Model::free(family), &Arc::new(Terms::new(&pooled)))?;
    let cells: Vec<Cell> = groups
        .iter()
        .enumerate()
        .map(|(i, g)| Cell {
            row: factor_row(i, groups.len()),
            terms: Arc::new(Terms::new(g)),
        })
        .collect();
    let regression = regress(family, names, &cells)?;
    let df = groups.len() as f64 - 1.0;
    let ratio = |name, full: f64, less: f64, df: f64| {
        let statistic = (2.0 * (full - less)).max(0.0);
        Test {
            name,
            statistic,
            df,
            p_value: chi_square_survival(statistic, df),
        }
    };
    let shapes = family.dimension() as f64 - 1.0;
    let apart: Option<f64> = cells
        .iter()
        .map(|c| {
            fit_terms(Model::free(family), &c.terms)
                .ok()
                .map(|f| f.log_likelihood)
        })
        .sum();
    let common_shape = apart.filter(|_| shapes > 0.0).map(|apart| {
        ratio(
            "common_shape",
            apart,
            regression.log_likelihood,
            df * shapes,
        )
    });
    let common_life = ratio(
        "common_life",
        regression.log_likelihood,
        together.log_likelihood,
        df,
    );
    Ok(LawComparison {
        common_shape,
        common_life,
        regression,
    })
}
