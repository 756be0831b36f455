//! What one more column would do to a fitted regression, without refitting it: the score test (Rao 1948) and how
//! far the columns already there tell the new one.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::{Design, Regression, Row};
use nalgebra::DVector;
use sealspan_numeric::special::chi_square_survival;

/// Slopes and bends of each line's log-likelihood, for testing columns one by one.
///
/// ```
/// use sealspan_life::regression::{AddedColumn, Cell, Design, fit_design};
/// use sealspan_life::{laws::by_name, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "{a} is not {b}");
/// // Four exponential lives of mean 100 and four of mean 200, as if all had the mean 150.
/// let cell = |factor: f64| {
///     let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(factor * t, 0.0, 1.0).unwrap());
///     Cell { row: vec![1.0], terms: Terms::new(&Sample::new(ages.into())).into() }
/// };
/// let design = Design::of_cells(&["intercept".to_owned()], &[cell(1.0), cell(2.0)]);
/// let fit = fit_design(by_name("exponential").unwrap(), &design).unwrap().regression;
/// let added = AddedColumn::new(&fit, &design);
/// let (first, second) = (vec![(0, 1.0)], vec![(1, 1.0)]);
/// let (a, b) = (added.test(&first), added.test(&second));
/// // The second four have the score 800/150 − 4 and the information 800/150, of which (800/150)²/8 is told already.
/// near(b.direction, 4.0 / 3.0);
/// near(b.own_share, 1.0 / 3.0);
/// near(b.statistic, 1.0); // (4/3)² over the 16/9 that are left
/// near(b.p_value, 0.317_310_508); // beyond one standard deviation of a normal
/// // What is not the one group is the other.
/// near(added.correlation((&first, &a), (&second, &b)), -1.0);
/// ```
pub struct AddedColumn<'a> {
    fit: &'a Regression,
    design: &'a Design,
    slope: Vec<f64>,
    /// Bend in the location, then in the location and each of the law's other parameters.
    bend: Vec<Vec<f64>>,
}

/// A column's effect on a fitted regression.
#[derive(Debug, Clone)]
pub struct Score {
    /// Chi-square statistic on one degree of freedom.
    pub statistic: f64,
    /// Its p-value.
    pub p_value: f64,
    /// Share of the column's information that the columns already there do not tell (1 / variance inflation).
    pub own_share: f64,
    /// Above 0 when the column goes with longer life.
    pub direction: f64,
    /// The column's information with `x`, for [`AddedColumn::correlation`].
    with_x: DVector<f64>,
    information: f64,
}

impl<'a> AddedColumn<'a> {
    /// Prepares the tests of columns added to `fit`, which was fitted to `design`.
    #[must_use]
    pub fn new(fit: &'a Regression, design: &'a Design) -> Self {
        let (mut slope, mut bend) = (vec![], vec![]);
        for line in &design.lines {
            let theta = fit.theta(&line.row, line.offset, line.stratum);
            let d = fit.family.log_likelihood_derivatives(&theta, &line.terms);
            slope.push(d.gradient.first().copied().unwrap_or(0.0));
            bend.push(d.hessian.into_iter().next().unwrap_or_default());
        }
        Self {
            fit,
            design,
            slope,
            bend,
        }
    }

    /// Tests a column: its entries that are not 0, by line.
    #[must_use]
    pub fn test(&self, column: &Row) -> Score {
        let mut score = 0.0;
        let mut own = 0.0;
        let mut with_x = DVector::zeros(self.fit.x.len());
        for (at, value) in column {
            let (Some(line), Some(bend)) = (self.design.lines.get(*at), self.bend.get(*at)) else {
                continue;
            };
            score += value * self.slope.get(*at).copied().unwrap_or(0.0);
            let (here, others) = bend.split_first().unwrap_or((&0.0, &[]));
            own -= value * value * here;
            for (j, entry) in &line.row {
                with_x[*j] -= value * entry * here;
            }
            for (j, cross) in (self.fit.stratum_at(line.stratum)..).zip(others) {
                with_x[j] -= value * cross;
            }
        }
        let left = own - with_x.dot(&(&self.fit.covariance * &with_x));
        let own_share = if own > 0.0 {
            (left / own).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let statistic = if own_share > 1e-9 {
            score * score / left
        } else {
            0.0
        };
        Score {
            statistic,
            p_value: chi_square_survival(statistic, 1.0),
            own_share,
            direction: score,
            with_x,
            information: left,
        }
    }

    /// Correlation of two columns as far as the columns already there do not tell them.
    #[must_use]
    pub fn correlation(&self, a: (&Row, &Score), b: (&Row, &Score)) -> f64 {
        let mut theirs = b.0.iter().peekable();
        let mut cross = 0.0;
        for (at, value) in a.0 {
            while theirs.next_if(|(i, _)| i < at).is_some() {}
            if let Some((_, other)) = theirs.next_if(|(i, _)| i == at) {
                let here = self.bend.get(*at).and_then(|b| b.first());
                cross -= value * other * here.copied().unwrap_or(0.0);
            }
        }
        let rest = cross - a.1.with_x.dot(&(&self.fit.covariance * &b.1.with_x));
        let size = (a.1.information * b.1.information).sqrt();
        if size > 0.0 { rest / size } else { 0.0 }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::laws::by_name;
    use crate::regression::{Cell, fit_design};
    use crate::terms::Terms;
    use sealspan_records::{Observation, Sample};

    /// Of an exponential law each line's information is its expected failures e: of a column x the share
    /// 1 − (Σ x e)²/(Σ x² e Σ e) is not told by the intercept.
    #[test]
    fn the_own_share_of_a_column_is_what_the_intercept_does_not_tell() {
        let lives = [[20.0, 60.0], [100.0, 220.0], [40.0, 90.0]];
        let cell = |ages: [f64; 2]| Cell {
            row: vec![1.0],
            terms: Terms::new(&Sample::new(
                ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap())
                    .into(),
            ))
            .into(),
        };
        let design = Design::of_cells(&["intercept".to_owned()], &lives.map(cell));
        let fit = fit_design(by_name("exponential").unwrap(), &design).unwrap();
        let added = AddedColumn::new(&fit.regression, &design);
        let x = [0.5, -2.0, 3.0];
        let column: Row = x.iter().copied().enumerate().collect();
        let mean = lives.iter().flatten().sum::<f64>() / 6.0;
        let e = lives.map(|ages| (ages[0] + ages[1]) / mean);
        let sum = |f: &dyn Fn(f64) -> f64| -> f64 { x.iter().zip(e).map(|(x, e)| f(*x) * e).sum() };
        let want = 1.0 - sum(&|x| x).powi(2) / (sum(&|x| x * x) * sum(&|_| 1.0));
        let got = added.test(&column).own_share;
        assert!((got - want).abs() < 1e-6, "{got} {want}");
    }
}
