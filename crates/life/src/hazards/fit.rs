//! Fits of proportional hazards by Newton's method, with the three tests of no effect at all.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::data::{NoHazards, Prepared};
use super::partial::{Derivatives, RiskSet, Ties, derivatives, sweep, value};
use crate::compare::Test;
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::{chi_square_survival, normal_quantile};

/// A pivot of the information, relative to its column's own, below which the column adds nothing.
const PIVOT_FLOOR: f64 = 1e-9;
/// x·β ranging over more than this (a hazard ratio of 10¹³) is a coefficient on its way to infinity.
pub(super) const RANGE: f64 = 30.0;
/// A Newton step no longer than this, in standard deviations of a column, ends the search.
const STILL: f64 = 1e-12;
/// A step this short that no longer shrinks is rounding.
const ROUNDING: f64 = 1e-7;
const ITERATIONS: usize = 80;

/// A coefficient on the log failure rate, with a Wald interval: estimate ± z standard errors.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Name of the column.
    pub name: String,
    /// Estimate: e to its power is the hazard ratio of one unit of the column.
    pub estimate: f64,
    /// Standard error.
    pub std_error: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Two-sided Wald p-value of no effect.
    pub p_value: f64,
}

/// A fit.
///
/// ```
/// use sealspan_life::hazards::{Prepared, Ties, TimeScale, WatchedLife, fit};
/// use sealspan_records::Observation;
/// let life = |age: f64, design| WatchedLife {
///     observation: Observation::exact(age, 0.0, 1.0).unwrap(),
///     design,
///     stratum: 0,
///     cluster: design,
/// };
/// let lives = [life(1.0, 0), life(2.0, 1), life(3.0, 0)];
/// let data = Prepared::new(&["group".to_owned()], &[vec![0.0], vec![1.0]], &lives).unwrap();
/// let found = fit(data, Ties::Efron).unwrap();
/// let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "{a} is not {b}");
/// // e^β = √2 is likeliest.
/// let h = 2.0_f64.sqrt();
/// near(found.estimates()[0], h.ln());
/// let effect = &found.effects(&found.covariance(), 0.9)[0];
/// near(effect.upper - effect.estimate, 1.644_853_627 * found.covariance()[(0, 0)].sqrt());
/// // The hazard of a life at 0 rises by one over the sum of e^(xβ) at risk.
/// let rises = [1.0 / (2.0 + h), 1.0 / (1.0 + h), 1.0];
/// near(found.baseline()[0][0].1, rises[0]);
/// near(found.baseline()[0][2].1, rises.iter().sum());
/// // One column: the test of all is its own. At risk x has the means h/(2 + h), h/(1 + h) and 0 and failed with 0, 1, 0.
/// let test = found.proportionality(TimeScale::Age).unwrap();
/// let (a, b) = (h / (2.0 + h), h / (1.0 + h));
/// let (va, vb) = (a * (1.0 - a), b * (1.0 - b));
/// // Ages less their mean are −1, 0 and 1.
/// let statistic = a * a / (va - va * va / (va + vb));
/// near(test.global.statistic, statistic);
/// near(test.columns[0].test.statistic, statistic);
/// assert_eq!(test.columns[0].direction, 1.0);
/// ```
#[derive(Debug, Clone)]
pub struct HazardsFit {
    pub(super) data: Prepared,
    pub(super) ties: Ties,
    /// In standardised columns.
    pub(super) beta: DVector<f64>,
    /// Inverse information in standardised columns.
    pub(super) inverse: DMatrix<f64>,
    /// Log partial likelihood.
    pub log_likelihood: f64,
    /// The same without any effect.
    pub log_likelihood_null: f64,
    /// Likelihood-ratio test of no effect.
    pub ratio_test: Test,
    /// Score test.
    pub score_test: Test,
    /// Wald test.
    pub wald_test: Test,
}

fn test(name: &'static str, statistic: f64, df: f64) -> Test {
    let statistic = statistic.max(0.0);
    Test {
        name,
        statistic,
        df,
        p_value: chi_square_survival(statistic, df),
    }
}

/// Fits proportional hazards.
///
/// # Errors
/// [`NoHazards`] where the maximum does not exist, naming the column.
///
/// ```
/// use sealspan_life::hazards::{Prepared, Ties, WatchedLife, fit};
/// use sealspan_records::Observation;
/// let life = |age: f64, design| WatchedLife {
///     observation: Observation::exact(age, 0.0, 1.0).unwrap(),
///     design,
///     stratum: 0,
///     cluster: 0,
/// };
/// let lives = [life(1.0, 0), life(2.0, 1), life(3.0, 0)];
/// let data = Prepared::new(&["group".to_owned()], &[vec![0.0], vec![1.0]], &lives).unwrap();
/// // e^β / ((2 + e^β)(1 + e^β)) is greatest at e^β = √2.
/// let found = fit(data, Ties::Efron).unwrap();
/// assert!((found.estimates()[0] - 0.5 * 2.0_f64.ln()).abs() < 1e-8);
/// ```
pub fn fit(data: Prepared, ties: Ties) -> Result<HazardsFit, NoHazards> {
    let p = data.columns();
    if p == 0 {
        return Err(NoHazards::NoColumns);
    }
    let zero = DVector::zeros(p);
    let null = derivatives(&data, ties, &zero);
    told_apart(&data, &null.information)?;
    let (beta, best) = maximise(&data, ties, zero)?;
    let inverse = invert(&data, &best.information)?;
    let df = p as f64;
    let score = null
        .information
        .clone()
        .cholesky()
        .map_or(0.0, |c| null.slope.dot(&c.solve(&null.slope)));
    let wald = beta.dot(&(&best.information * &beta));
    Ok(HazardsFit {
        ratio_test: test("likelihood_ratio", 2.0 * (best.value - null.value), df),
        score_test: test("score", score, df),
        wald_test: test("wald", wald, df),
        log_likelihood: best.value,
        log_likelihood_null: null.value,
        data,
        ties,
        beta,
        inverse,
    })
}

/// The first column that nothing in the risk sets tells from those before it.
fn told_apart(data: &Prepared, information: &DMatrix<f64>) -> Result<(), NoHazards> {
    let mut left = information.clone();
    for (j, name) in data.names.iter().enumerate() {
        let column = name.clone();
        let own = information[(j, j)];
        if own <= PIVOT_FLOOR * data.failures {
            return Err(NoHazards::NoContrast { column });
        }
        let pivot = left[(j, j)];
        if pivot <= PIVOT_FLOOR * own {
            return Err(NoHazards::Determined { column });
        }
        let cause = left.column(j) / pivot;
        let row = left.row(j).clone_owned();
        left -= cause * row;
    }
    Ok(())
}

/// Inverse of an information matrix scaled to a unit diagonal.
fn invert(data: &Prepared, information: &DMatrix<f64>) -> Result<DMatrix<f64>, NoHazards> {
    told_apart(data, information)?;
    let root = information.diagonal().map(|v| v.sqrt());
    let p = root.len();
    let scaled = DMatrix::from_fn(p, p, |i, j| information[(i, j)] / (root[i] * root[j]));
    let inverse = scaled
        .cholesky()
        .map(|c| c.inverse())
        .ok_or(NoHazards::NotReached { slope: 0.0 })?;
    Ok(DMatrix::from_fn(p, p, |i, j| {
        inverse[(i, j)] / (root[i] * root[j])
    }))
}

/// Newton's method with halving: the log partial likelihood is concave, so it ends at the maximum, or
/// runs off along a column that separates the failures.
fn maximise(
    data: &Prepared,
    ties: Ties,
    mut beta: DVector<f64>,
) -> Result<(DVector<f64>, Derivatives), NoHazards> {
    let mut now = derivatives(data, ties, &beta);
    let mut last = f64::INFINITY;
    for _ in 0..ITERATIONS {
        let Some(factor) = now.information.clone().cholesky() else {
            break;
        };
        let step = factor.solve(&now.slope);
        let length = step.amax();
        if length <= STILL || (length <= ROUNDING && length >= 0.5 * last) {
            return Ok((beta, now));
        }
        last = length;
        let mut scale = 1.0;
        let uphill = loop {
            let next = &beta + &step * scale;
            let enough = now.value - 1e-12 * now.value.abs().max(1.0);
            if value(data, ties, &next) >= enough {
                break Some(next);
            }
            scale *= 0.5;
            if scale < 1e-12 {
                break None;
            }
        };
        let Some(next) = uphill else { break };
        beta = next;
        if range(data, &beta) > RANGE {
            return Err(separated(data, &step));
        }
        now = derivatives(data, ties, &beta);
    }
    if range(data, &beta) > 0.4 * RANGE {
        return Err(separated(data, &beta));
    }
    Err(NoHazards::NotReached {
        slope: now.slope.amax() / data.failures,
    })
}

pub(super) fn range(data: &Prepared, beta: &DVector<f64>) -> f64 {
    let rows = data.design.chunks(data.columns().max(1));
    let linear = rows.map(|row| row.iter().zip(beta.iter()).map(|(x, b)| x * b).sum::<f64>());
    let (low, high) = linear.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), e| {
        (l.min(e), h.max(e))
    });
    high - low
}

pub(super) fn separated(data: &Prepared, direction: &DVector<f64>) -> NoHazards {
    let at = direction.iamax();
    NoHazards::Separated {
        column: data.names.get(at).cloned().unwrap_or_default(),
        side: if direction[at] > 0.0 {
            "highest"
        } else {
            "lowest"
        },
    }
}

impl HazardsFit {
    /// The lives fitted.
    #[must_use]
    pub fn data(&self) -> &Prepared {
        &self.data
    }

    /// Coefficients in the columns as given: ln of the hazard ratio of one unit of each, in their order.
    #[must_use]
    pub fn estimates(&self) -> Vec<f64> {
        let pairs = self.beta.iter().zip(&self.data.spread);
        pairs.map(|(b, s)| b / s).collect()
    }

    /// Inverse observed information of the columns as given, one row and column each.
    #[must_use]
    pub fn covariance(&self) -> DMatrix<f64> {
        self.unscaled(&self.inverse)
    }

    pub(super) fn unscaled(&self, m: &DMatrix<f64>) -> DMatrix<f64> {
        let s = DVector::from_column_slice(&self.data.spread);
        DMatrix::from_fn(m.nrows(), m.ncols(), |i, j| m[(i, j)] / (s[i] * s[j]))
    }

    /// Coefficients with Wald intervals at two-sided confidence `level`, from a covariance of the
    /// columns as given.
    #[must_use]
    pub fn effects(&self, covariance: &DMatrix<f64>, level: f64) -> Vec<Effect> {
        effects(&self.data.names, &self.estimates(), covariance, level)
    }

    /// Cumulative baseline hazard of each stratum at x = 0: (age, hazard up to and including it).
    #[must_use]
    pub fn baseline(&self) -> Vec<Vec<(f64, f64)>> {
        let shift = super::partial::largest(&self.data, &self.beta);
        let centre: f64 = self
            .estimates()
            .iter()
            .zip(&self.data.mean)
            .map(|(b, m)| b * m)
            .sum();
        let factor = (-shift - centre).exp();
        let mut out = vec![vec![]; self.data.strata.len()];
        sweep(&self.data, &self.beta, false, |set: &RiskSet<'_>| {
            let rise = factor * super::partial::Order::of(set, self.ties).a0;
            if let Some(steps) = out.get_mut(set.stratum) {
                steps.push((set.age, rise));
            }
        });
        for steps in &mut out {
            steps.reverse();
            let mut sum = 0.0;
            for (_, hazard) in steps {
                sum += *hazard;
                *hazard = sum;
            }
        }
        out
    }
}

/// Coefficients with Wald intervals.
pub(super) fn effects(
    names: &[String],
    estimates: &[f64],
    covariance: &DMatrix<f64>,
    level: f64,
) -> Vec<Effect> {
    let z = normal_quantile(0.5 + 0.5 * level);
    let each = names.iter().zip(estimates).enumerate();
    each.map(|(j, (name, estimate))| {
        let std_error = covariance[(j, j)].max(0.0).sqrt();
        Effect {
            name: name.clone(),
            estimate: *estimate,
            std_error,
            lower: estimate - z * std_error,
            upper: estimate + z * std_error,
            p_value: chi_square_survival((estimate / std_error).powi(2), 1.0),
        }
    })
    .collect()
}
