//! Is the hazard ratio the same at every age? The test of Grambsch & Therneau (1994) in its general form:
//! the score test of a coefficient β + γ g(t), with each risk set's own variance in place of their average.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::fit::HazardsFit;
use super::partial::{Order, sweep};
use crate::compare::Test;
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::chi_square_survival;

/// The function g of age along which a coefficient may drift.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TimeScale {
    /// Share failed just before the age, from the pooled product-limit curve: old outliers do not rule.
    #[default]
    ShareFailed,
    /// The age itself.
    Age,
    /// Its logarithm.
    LnAge,
}

/// The test for one column.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnTest {
    /// The column.
    pub name: String,
    /// Chi-square with one degree of freedom.
    pub test: Test,
    /// +1 where the coefficient rises with age, −1 where it falls.
    pub direction: f64,
}

/// All tests.
#[derive(Debug, Clone, PartialEq)]
pub struct Proportionality {
    /// Column by column.
    pub columns: Vec<ColumnTest>,
    /// All columns at once.
    pub global: Test,
}

/// A failure age's Schoenfeld residual (sum over the failures there) and variance.
struct Residual {
    age: f64,
    failed: f64,
    off: DVector<f64>,
    variance: DMatrix<f64>,
}

impl HazardsFit {
    fn residuals(&self) -> Vec<Residual> {
        let mut out = vec![];
        sweep(&self.data, &self.beta, true, |set| {
            let order = Order::of(set, self.ties);
            out.push(Residual {
                age: set.age,
                failed: set.failed,
                off: set.x - order.means(set),
                variance: order.variance(set),
            });
        });
        out.reverse();
        out
    }

    /// Tests that the coefficients do not drift with age. `None` where the failures lie at one age.
    #[must_use]
    pub fn proportionality(&self, scale: TimeScale) -> Option<Proportionality> {
        let residuals = self.residuals();
        let g = self.time(scale, &residuals);
        let p = self.data.columns();
        let total: f64 = residuals.iter().map(|r| r.failed).sum();
        let mean = residuals
            .iter()
            .zip(&g)
            .map(|(r, g)| r.failed * g)
            .sum::<f64>()
            / total;
        let mut slope = DVector::zeros(p);
        let (mut own, mut cross) = (DMatrix::zeros(p, p), DMatrix::zeros(p, p));
        for (r, g) in residuals.iter().zip(&g) {
            let g = g - mean;
            slope += &r.off * g;
            own += &r.variance * (g * g);
            cross += &r.variance * g;
        }
        let left = &own - &cross * &self.inverse * cross.transpose();
        let chi = |statistic: f64, df: f64| Test {
            name: "proportionality",
            statistic,
            df,
            p_value: chi_square_survival(statistic, df),
        };
        let columns = self
            .data
            .names
            .iter()
            .enumerate()
            .map(|(j, name)| {
                let (u, v) = (slope[j], left[(j, j)]);
                (v > 1e-9 * own[(j, j)]).then(|| ColumnTest {
                    name: name.clone(),
                    test: chi(u * u / v, 1.0),
                    direction: u.signum(),
                })
            })
            .collect::<Option<Vec<_>>>()?;
        let global = slope.dot(&left.cholesky()?.solve(&slope));
        Some(Proportionality {
            columns,
            global: chi(global, p as f64),
        })
    }

    /// g at each residual.
    fn time(&self, scale: TimeScale, residuals: &[Residual]) -> Vec<f64> {
        match scale {
            TimeScale::Age => residuals.iter().map(|r| r.age).collect(),
            TimeScale::LnAge => residuals.iter().map(|r| r.age.ln()).collect(),
            TimeScale::ShareFailed => {
                let steps = self.pooled();
                let before = |r: &Residual| {
                    let at = steps.partition_point(|s| s.0 < r.age);
                    let last = at.checked_sub(1).and_then(|i| steps.get(i));
                    1.0 - last.map_or(1.0, |s| s.1)
                };
                residuals.iter().map(before).collect()
            }
        }
    }

    /// The product-limit curve over all strata: (age, share surviving it).
    fn pooled(&self) -> Vec<(f64, f64)> {
        let lines = || self.data.strata.iter().flat_map(|s| &s.lines);
        let mut exits: Vec<(f64, f64, f64)> = lines()
            .map(|l| (l.exit, if l.failed { l.count } else { 0.0 }, l.count))
            .collect();
        let mut entries: Vec<(f64, f64)> = lines().map(|l| (l.entry, l.count)).collect();
        exits.sort_by(|a, b| a.0.total_cmp(&b.0));
        entries.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut at_risk, mut survival, mut out) = (0.0, 1.0, vec![]);
        let mut entering = entries.into_iter().peekable();
        let mut exits = exits.into_iter().peekable();
        while let Some(&(age, ..)) = exits.peek() {
            while let Some((_, n)) = entering.next_if(|e| e.0 < age) {
                at_risk += n;
            }
            let (mut failed, mut left) = (0.0, 0.0);
            while let Some((_, d, n)) = exits.next_if(|e| e.0 == age) {
                failed += d;
                left += n;
            }
            if failed > 0.0 {
                survival *= 1.0 - failed / at_risk;
                out.push((age, survival));
            }
            at_risk -= left;
        }
        out
    }
}
