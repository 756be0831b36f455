//! Proportional hazards where failures are known only to lie between two looks: fits of completed samples,
//! put together. (Pan 2000 draws from the semi-parametric fit itself; here the ages come from a fitted
//! regression, which decides only where within its interval a failure lies; both from memory.)

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::data::{NoHazards, Prepared, WatchedLife};
use super::fit::{Effect, HazardsFit, fit};
use super::partial::Ties;
use super::proportion::{ColumnTest, Proportionality, TimeScale};
use crate::compare::Test;
use crate::imputation::rubin::{Combined, chi_squares, combine};
use crate::imputation::{FromRegression, completed};
use crate::regression::{Place, Regression};
use nalgebra::DMatrix;

/// Where drawn ages come from.
#[derive(Clone, Copy)]
pub struct Source<'a> {
    /// The fitted regression.
    pub regression: &'a Regression,
    /// Its design row for each `design` of the lives.
    pub places: &'a [Place],
    /// How many copies.
    pub copies: usize,
    /// Seed of the drawing.
    pub seed: u64,
}

/// The fits put together.
#[derive(Debug, Clone)]
pub struct DrawnHazards {
    /// Coefficients with intervals that hold what is not known of the ages.
    pub effects: Vec<Effect>,
    /// Share of each coefficient's variance that comes from not knowing the ages.
    pub shares: Vec<f64>,
    /// Test of no effect at all.
    pub wald_test: Option<Test>,
    /// Tests that the coefficients do not drift with age.
    pub proportionality: Option<Proportionality>,
    /// Number of clusters where the errors are by cluster; why they are not though asked for.
    pub clusters: Option<Result<usize, String>>,
    /// Mean log partial likelihood.
    pub log_likelihood: f64,
    /// The same without any effect.
    pub log_likelihood_null: f64,
}

/// Fits every copy with the columns of `names` and the design rows `design`, and puts the answers together
/// at two-sided confidence `level`; errors by cluster where `clustered`.
///
/// # Errors
/// [`NoHazards`], as for one fit, where some copy has none.
///
/// ```
/// use sealspan_life::hazards::{Source, WatchedLife, fit_drawn};
/// use sealspan_life::regression::{Cell, Place, regress};
/// use sealspan_life::{laws::by_name, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let seen = |t| Observation::exact(t, 0.0, 1.0).unwrap();
/// let life = |t, design| WatchedLife { observation: seen(t), design, stratum: 0, cluster: design };
/// let lives = [life(1.0, 0), life(2.0, 1), life(3.0, 0)];
/// let cell = Cell {
///     row: vec![1.0],
///     terms: Terms::new(&Sample::new([1.0, 2.0, 3.0].map(seen).into())).into(),
/// };
/// let names = ["intercept".to_owned()];
/// let regression = regress(by_name("exponential").unwrap(), &names, &[cell]).unwrap();
/// let place = || Place { row: vec![(0, 1.0)], offset: 0.0, stratum: 0 };
/// let places = [place(), place()];
/// let source = Source { regression: &regression, places: &places, copies: 2, seed: 1 };
/// let design = [vec![0.0], vec![1.0]];
/// let found = fit_drawn(&["group".to_owned()], &design, &lives, source, false, 0.9).unwrap();
/// // Exact ages leave nothing to draw: h = e^β has 1/(2 + h) · h/(1 + h) greatest at √2.
/// assert!((found.effects[0].estimate - 0.5 * 2.0_f64.ln()).abs() < 1e-6);
/// assert!(found.shares[0].abs() < 1e-12 && found.clusters.is_none());
/// let (h, null) = (2.0_f64.sqrt(), (1.0_f64 / 6.0).ln());
/// assert!((found.log_likelihood - (h / (2.0 + h) / (1.0 + h)).ln()).abs() < 1e-9);
/// assert!((found.log_likelihood_null - null).abs() < 1e-9);
/// ```
pub fn fit_drawn(
    names: &[String],
    design: &[Vec<f64>],
    lives: &[WatchedLife],
    source: Source<'_>,
    clustered: bool,
    level: f64,
) -> Result<DrawnHazards, NoHazards> {
    let mut all = vec![];
    for copy in 0..source.copies.max(2) {
        let lives = complete(lives, source, copy as u64)?;
        let fit = fit(Prepared::new(names, design, &lives)?, Ties::Efron)?;
        all.push(Copy::of(&fit, clustered));
    }
    let refused = all.iter().find_map(|c| c.refused.clone());
    let each: Vec<_> = all
        .iter()
        .map(|c| {
            let robust = c.robust.as_ref().filter(|_| refused.is_none());
            (c.estimates.clone(), robust.unwrap_or(&c.covariance).clone())
        })
        .collect();
    let combined = combine(&each).ok_or(NoHazards::Empty)?;
    let mean = |of: &dyn Fn(&Copy) -> f64| all.iter().map(of).sum::<f64>() / all.len() as f64;
    let clusters = all.first().map_or(0, |c| c.clusters);
    Ok(DrawnHazards {
        effects: effects(names, &combined, level),
        wald_test: combined.wald().map(|(statistic, p_value)| Test {
            name: "wald",
            statistic,
            df: names.len() as f64,
            p_value,
        }),
        proportionality: proportionality(&all),
        clusters: clustered.then_some(refused.map_or(Ok(clusters), Err)),
        log_likelihood: mean(&|c| c.log_likelihood[0]),
        log_likelihood_null: mean(&|c| c.log_likelihood[1]),
        shares: combined.share,
    })
}

/// What is kept of one copy's fit.
struct Copy {
    estimates: Vec<f64>,
    covariance: DMatrix<f64>,
    robust: Option<DMatrix<f64>>,
    refused: Option<String>,
    clusters: usize,
    proportionality: Option<Proportionality>,
    /// At the maximum, and without any effect.
    log_likelihood: [f64; 2],
}

impl Copy {
    fn of(fit: &HazardsFit, clustered: bool) -> Self {
        let robust = clustered.then(|| fit.cluster_covariance());
        let (robust, refused) = match robust {
            Some(Ok(robust)) => (Some(robust), None),
            Some(Err(why)) => (None, Some(why.to_string())),
            None => (None, None),
        };
        Self {
            estimates: fit.estimates(),
            covariance: fit.covariance(),
            robust,
            refused,
            clusters: fit.data().clusters(),
            proportionality: fit.proportionality(TimeScale::ShareFailed),
            log_likelihood: [fit.log_likelihood, fit.log_likelihood_null],
        }
    }
}

/// The lives with drawn ages.
fn complete(
    lives: &[WatchedLife],
    source: Source<'_>,
    copy: u64,
) -> Result<Vec<WatchedLife>, NoHazards> {
    let mut from = FromRegression::new(source.regression, source.places, source.seed, copy)
        .ok_or(NoHazards::NotReached { slope: f64::NAN })?;
    let mut out = Vec::with_capacity(lives.len());
    for life in lives {
        let mut rows = vec![];
        let mut draw = |a, b| from.draw(life.design, a, b);
        completed(&life.observation, &mut draw, &mut rows);
        let again = |observation| WatchedLife {
            observation,
            ..*life
        };
        out.extend(rows.into_iter().map(again));
    }
    Ok(out)
}

fn effects(names: &[String], combined: &Combined, level: f64) -> Vec<Effect> {
    let each = names.iter().zip(&combined.estimates).enumerate();
    each.map(|(j, (name, estimate))| {
        let std_error = combined.covariance[(j, j)].max(0.0).sqrt();
        let half = combined.critical(j, level) * std_error;
        Effect {
            name: name.clone(),
            estimate: *estimate,
            std_error,
            lower: estimate - half,
            upper: estimate + half,
            p_value: combined.p_value(j, estimate / std_error),
        }
    })
    .collect()
}

/// The statistics of all copies put together; the direction is that of most copies.
fn proportionality(all: &[Copy]) -> Option<Proportionality> {
    let each: Vec<&Proportionality> = all
        .iter()
        .map(|c| c.proportionality.as_ref())
        .collect::<Option<_>>()?;
    let test = |of: &dyn Fn(&Proportionality) -> Option<f64>, df: f64| {
        let all: Vec<f64> = each.iter().filter_map(|p| of(p)).collect();
        let (statistic, p_value) = chi_squares(&all, df)?;
        Some(Test {
            name: "proportionality",
            statistic,
            df,
            p_value,
        })
    };
    let columns = each
        .first()?
        .columns
        .iter()
        .enumerate()
        .map(|(j, first)| {
            let ways = each.iter().filter_map(|p| p.columns.get(j));
            let way: f64 = ways.map(|c| c.direction).sum();
            Some(ColumnTest {
                name: first.name.clone(),
                test: test(&|p| p.columns.get(j).map(|c| c.test.statistic), 1.0)?,
                direction: if way < 0.0 { -1.0 } else { 1.0 },
            })
        })
        .collect::<Option<_>>()?;
    let df = each.first()?.global.df;
    Some(Proportionality {
        columns,
        global: test(&|p| Some(p.global.statistic), df)?,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// An effect's p-value is the level at which its interval ends at 0.
    #[test]
    fn a_p_value_goes_with_the_interval() {
        let one = |x: f64| (vec![x], DMatrix::from_element(1, 1, 0.04));
        let combined = combine(&[0.35, 0.45, 0.4].map(one)).unwrap();
        let names = ["x".to_owned()];
        let p = effects(&names, &combined, 0.9)[0].p_value;
        assert!(p > 0.01 && p < 0.1, "{p}");
        let ends = &effects(&names, &combined, 1.0 - p)[0];
        assert!(ends.lower.abs() < 1e-6 && (ends.upper - 0.8).abs() < 1e-6);
    }

    /// The way of a drift is that of most copies, whatever each copy's statistic.
    #[test]
    fn a_drift_goes_the_way_of_most_copies() {
        let copy = |(statistic, direction): (f64, f64)| {
            let test = Test {
                name: "proportionality",
                statistic,
                df: 1.0,
                p_value: 0.5,
            };
            let columns = vec![ColumnTest {
                name: "x".to_owned(),
                test: test.clone(),
                direction,
            }];
            Copy {
                estimates: vec![0.0],
                covariance: DMatrix::identity(1, 1),
                robust: None,
                refused: None,
                clusters: 0,
                proportionality: Some(Proportionality {
                    columns,
                    global: test,
                }),
                log_likelihood: [0.0; 2],
            }
        };
        let way = |all: [(f64, f64); 3]| {
            let found = proportionality(&all.map(copy)).unwrap();
            found.columns[0].direction
        };
        assert_eq!(way([(1.0, 1.0), (2.0, -1.0), (1.5, 1.0)]), 1.0);
        assert_eq!(way([(1.0, -1.0), (2.0, 1.0), (1.5, -1.0)]), -1.0);
    }
}
