//! Do groups of seals live equally long? The log-rank family, and likelihood-ratio tests on a law.

use crate::family::Family;
use crate::fit::{Model, NoFit, fit_terms};
use crate::regression::{Cell, Regression, regress};
use crate::terms::Terms;
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::chi_square_survival;
use sealspan_records::observation::{Sample, Seen};
use std::sync::Arc;

/// A test's result.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// Name in outputs.
    pub name: &'static str,
    /// Chi-square statistic.
    pub statistic: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Probability of a statistic at least this large if the groups were alike.
    pub p_value: f64,
}

/// Weights of the log-rank family at each failure age, with N at risk, D failed, and the running
/// product S̃ = Π (1 − D / (N + 1)) up to and including that age.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weighting {
    /// 1: every failure counts alike (Mantel 1966).
    LogRank,
    /// S̃: early failures count more (Peto & Peto 1972).
    Peto,
    /// N: early failures count more still (Gehan 1965, Breslow 1970).
    Gehan,
}

impl Weighting {
    fn name(self) -> &'static str {
        match self {
            Self::LogRank => "log_rank",
            Self::Peto => "peto",
            Self::Gehan => "gehan",
        }
    }
}

/// At one failure age: at risk and failed, by group.
struct AtAge {
    at_risk: Vec<f64>,
    failed: Vec<f64>,
}

/// Exits (age, group, failed?, count) in order, failures first, and entries.
fn ages(groups: &[Sample]) -> Option<Vec<AtAge>> {
    let k = groups.len();
    let mut exits: Vec<(f64, bool, usize, f64)> = vec![];
    let mut entries: Vec<(f64, usize, f64)> = vec![];
    let mut at_risk = vec![0.0; k];
    for (g, sample) in groups.iter().enumerate() {
        for o in sample.rows() {
            match o.seen() {
                Seen::Exact(t) => exits.push((t, false, g, o.count())),
                Seen::Right(t) => exits.push((t, true, g, o.count())),
                Seen::Interval(..) => return None,
            }
            if o.entry() > 0.0 {
                entries.push((o.entry(), g, o.count()));
            } else if let Some(n) = at_risk.get_mut(g) {
                *n += o.count();
            }
        }
    }
    exits.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    entries.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut entering = entries.into_iter().peekable();
    let mut out = vec![];
    let mut exits = exits.into_iter().peekable();
    while let Some(&(time, ..)) = exits.peek() {
        while let Some((_, g, n)) = entering.next_if(|e| e.0 < time) {
            if let Some(slot) = at_risk.get_mut(g) {
                *slot += n;
            }
        }
        let (mut failed, mut left) = (vec![0.0; k], vec![0.0; k]);
        while let Some((_, censored, g, n)) = exits.next_if(|e| e.0 == time) {
            let slot = if censored {
                left.get_mut(g)
            } else {
                failed.get_mut(g)
            };
            if let Some(slot) = slot {
                *slot += n;
            }
        }
        let after: Vec<f64> = at_risk
            .iter()
            .zip(&failed)
            .zip(&left)
            .map(|((n, d), c)| n - d - c)
            .collect();
        if failed.iter().any(|d| *d > 0.0) {
            out.push(AtAge {
                at_risk: at_risk.clone(),
                failed,
            });
        }
        at_risk = after;
    }
    Some(out)
}

/// Weighted log-rank test of equal survival in all groups, with the hypergeometric variance.
/// `None` for interval data, or where a group was never at risk together with another.
#[must_use]
pub fn log_rank(groups: &[Sample], weighting: Weighting) -> Option<Test> {
    let k = groups.len();
    let mut score = DVector::<f64>::zeros(k);
    let mut variance = DMatrix::<f64>::zeros(k, k);
    let mut survival = 1.0;
    for at in ages(groups)? {
        let n: f64 = at.at_risk.iter().sum();
        let d: f64 = at.failed.iter().sum();
        survival *= 1.0 - d / (n + 1.0);
        let w = match weighting {
            Weighting::LogRank => 1.0,
            Weighting::Peto => survival,
            Weighting::Gehan => n,
        };
        let spread = if n > 1.0 {
            w * w * d * (n - d) / (n - 1.0)
        } else {
            0.0
        };
        for (i, (ni, di)) in at.at_risk.iter().zip(&at.failed).enumerate() {
            score[i] += w * (di - d * ni / n);
            for (j, nj) in at.at_risk.iter().enumerate() {
                let same = if i == j { 1.0 } else { 0.0 };
                variance[(i, j)] += spread * (ni / n) * (same - nj / n);
            }
        }
    }
    let df = k.checked_sub(1).filter(|df| *df > 0)?;
    let reduced = variance.view((0, 0), (df, df)).into_owned();
    let first = score.rows(0, df).into_owned();
    let statistic = first.dot(&reduced.cholesky()?.solve(&first));
    let df = df as f64;
    Some(Test {
        name: weighting.name(),
        statistic,
        df,
        p_value: chi_square_survival(statistic, df),
    })
}

/// Likelihood-ratio comparison of groups on a law.
#[derive(Clone)]
pub struct LawComparison {
    /// `common_shape`: one shape against a shape for each group, scales free. Absent for laws without
    /// a shape, or where a group cannot be fitted by itself.
    pub common_shape: Option<Test>,
    /// `common_life`: no group effect against one scale for each group, the shape common.
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

/// Design row of level number `level` of `count`.
#[must_use]
pub fn factor_row(level: usize, count: usize) -> Vec<f64> {
    (0..count)
        .map(|j| f64::from(u8::from(j == 0 || j == level)))
        .collect()
}

/// Compares groups on a law by likelihood ratio.
///
/// # Errors
/// [`NoFit`] where the pooled or the common-shape fit does not exist (for example a group without
/// failures).
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
