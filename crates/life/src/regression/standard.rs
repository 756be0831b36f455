//! Columns brought to a common size, so that a reciprocal temperature or a calendar year does not make the
//! information look singular.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::line::{Line, Row};
use nalgebra::DMatrix;
use std::sync::Arc;

/// Mean and spread by column: factors (0 and 1 only) and the intercept stay as they are; columns that are mostly
/// 0 (a number within one level) are scaled only; others are shifted to mean 0 and scaled to standard deviation 1.
pub(super) struct Standard {
    mean: Vec<f64>,
    spread: Vec<f64>,
}

#[derive(Clone, Default)]
struct Moments {
    number: bool,
    present: f64,
    sum: f64,
    square: f64,
}

impl Standard {
    pub fn of(columns: usize, lines: &[Line]) -> Self {
        let mut total = 0.0;
        let mut moments = vec![Moments::default(); columns];
        for line in lines {
            let weight = line.terms.extent.total;
            total += weight;
            for (at, value) in &line.row {
                if let Some(m) = moments.get_mut(*at) {
                    m.number |= *value != 1.0;
                    m.present += weight;
                    m.sum += weight * value;
                }
            }
        }
        let mean: Vec<f64> = moments
            .iter()
            .map(|m| {
                if m.number && m.present > 0.5 * total {
                    m.sum / total
                } else {
                    0.0
                }
            })
            .collect();
        for line in lines {
            for (at, value) in &line.row {
                if let (Some(m), Some(centre)) = (moments.get_mut(*at), mean.get(*at)) {
                    m.square += line.terms.extent.total * (value - centre).powi(2);
                }
            }
        }
        let spread = moments.iter().zip(&mean).map(|(m, centre)| {
            let absent = (total - m.present) * centre * centre;
            let root = ((m.square + absent) / total).sqrt();
            // A constant column cannot be scaled; rounding of its mean must not be taken for a spread.
            if m.number && root > 1e-12 * centre.abs().max(f64::MIN_POSITIVE) {
                root
            } else {
                1.0
            }
        });
        let spread = spread.collect();
        Self { mean, spread }
    }

    pub fn spread(&self, at: usize) -> f64 {
        self.spread.get(at).copied().unwrap_or(1.0)
    }

    pub fn row(&self, row: &Row) -> Row {
        let mut out: Row = row
            .iter()
            .map(|(at, value)| {
                let mean = self.mean.get(*at).copied().unwrap_or(0.0);
                (*at, (value - mean) / self.spread(*at))
            })
            .collect();
        // A shifted column has an entry in every row.
        for (at, mean) in self.mean.iter().enumerate().filter(|(_, m)| **m != 0.0) {
            if row.iter().all(|(j, _)| *j != at) {
                out.push((at, -mean / self.spread(at)));
            }
        }
        out
    }

    pub fn line(&self, line: &Line) -> Line {
        Line {
            row: self.row(&line.row),
            terms: Arc::clone(&line.terms),
            ..*line
        }
    }

    /// The linear map from standardised coefficients to those of the columns as given.
    pub fn back(&self, size: usize) -> DMatrix<f64> {
        let mut map = DMatrix::identity(size, size);
        for (j, (m, s)) in self.mean.iter().zip(&self.spread).enumerate().skip(1) {
            map[(j, j)] = 1.0 / s;
            map[(0, j)] = -m / s;
        }
        map
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::terms::Terms;
    use sealspan_records::{Observation, Sample};

    /// A number that is 0 in one row of four, where it is left out: 0, 10, 20 and 30 have mean 15 and variance 125.
    #[test]
    fn a_row_without_the_number_has_it_as_nought() {
        let seal = Observation::exact(1.0, 0.0, 1.0).unwrap();
        let terms = Arc::new(Terms::new(&Sample::new(vec![seal])));
        let number = |x: f64| -> Row {
            let own = (x != 0.0).then_some((1, x));
            std::iter::once((0, 1.0)).chain(own).collect()
        };
        let values = [0.0, 10.0, 20.0, 30.0];
        let lines = values.map(|x| Line {
            row: number(x),
            offset: 0.0,
            stratum: 0,
            terms: Arc::clone(&terms),
        });
        let standard = Standard::of(2, &lines);
        for x in values {
            let row = standard.row(&number(x));
            let at = |column: usize| row.iter().find(|e| e.0 == column).unwrap().1;
            assert_eq!((row.len(), at(0)), (2, 1.0));
            let want = (x - 15.0) / 125f64.sqrt();
            assert!((at(1) - want).abs() < 1e-12, "{x}: {}", at(1));
        }
    }

    /// Widths are the standard deviations written out: of dates, of numbers with two rows in five or most rows at 0 (there
    /// about 0, as they are not shifted), and of many seals in a row; what is constant has the width 1.
    #[test]
    fn a_width_is_the_standard_deviation() {
        let line = |x: f64, count: f64| {
            let seal = Observation::exact(1.0, 0.0, count).unwrap();
            let own = (x != 0.0).then_some((1, x));
            Line {
                row: std::iter::once((0, 1.0)).chain(own).collect(),
                offset: 0.0,
                stratum: 0,
                terms: Arc::new(Terms::new(&Sample::new(vec![seal]))),
            }
        };
        let check = |values: &[f64], count: f64, about: Option<f64>| {
            let lines: Vec<Line> = values.iter().map(|x| line(*x, count)).collect();
            let n = values.len() as f64;
            let mean = values.iter().sum::<f64>() / n;
            let centre = about.unwrap_or(mean);
            let square = values.iter().map(|x| (x - centre).powi(2)).sum::<f64>() / n;
            let got = Standard::of(2, &lines).spread(1);
            assert!((got / square.sqrt() - 1.0).abs() < 1e-9, "{got} {square}");
        };
        let dates: Vec<f64> = (1..=31).map(|day| 20_240_100.0 + f64::from(day)).collect();
        check(&dates, 1.0, None);
        let some = [0.0, 3.0, 0.0, 5.0, 4.0];
        check(&some, 1.0, None);
        check(&some, 2_000.0, None);
        // A reciprocal temperature within one of three levels.
        check(&[0.0, 0.0, 0.002_8, 0.0, 0.003_1, 0.0], 4.0, Some(0.0));
        let year: Vec<Line> = (0..10).map(|_| line(2024.3, 3.0)).collect();
        assert_eq!(Standard::of(2, &year).spread(1), 1.0);
    }
}
