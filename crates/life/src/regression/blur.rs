//! How far the terms of a regression blur each other: columns that go together in the records.
//!
//! A term's generalised variance inflation (Fox & Monette 1992, from memory) is the determinant of the covariance of
//! its coefficients over what it would be if no other column went with it; with 2 × its coefficients as the root it
//! is how many times as wide their intervals are. For one coefficient it is the square root of the variance inflation
//! factor. Both come from the fitted information, so censoring and unequal numbers of failures count.

use super::Regression;
use nalgebra::DMatrix;

/// Columns that narrow a term's interval by less than this are not named (a rule of ours).
const NARROWS: f64 = 1.1;
/// Most columns named as those that blur a term.
const MOST: usize = 3;

/// How far a term is blurred.
#[derive(Debug, Clone, PartialEq)]
pub struct Blur {
    /// Times as wide as its interval would be if no other term went with it.
    pub width: f64,
    /// The terms that it goes with, the one that blurs it most first.
    pub by: Vec<usize>,
}

/// All terms.
#[derive(Debug, Clone, PartialEq)]
pub struct Blurs {
    /// Condition number of the columns scaled to one size, weighed by the information (Belsley, Kuh & Welsch 1980,
    /// from memory).
    pub condition: f64,
    /// Term by term.
    pub terms: Vec<Blur>,
}

/// How far the terms, each a list of columns of the design, blur each other. `None` with fewer than two terms, or
/// where the covariance tells nothing.
///
/// ```
/// use sealspan_life::regression::blurs_of;
/// use nalgebra::DMatrix;
/// // Two columns whose estimates are correlated by 0.8: 1/√(1 − 0.64).
/// let covariance = DMatrix::from_row_slice(2, 2, &[1.0, 0.8, 0.8, 1.0]);
/// let found = blurs_of(&covariance, &[vec![0], vec![1]]).unwrap();
/// assert!((found.terms[0].width - 1.0 / 0.6).abs() < 1e-12);
/// assert_eq!(found.terms[0].by, [1]);
/// ```
#[must_use]
pub fn blurs_of(covariance: &DMatrix<f64>, terms: &[Vec<usize>]) -> Option<Blurs> {
    let columns: Vec<usize> = terms.iter().flatten().copied().collect();
    if terms.len() < 2 || terms.iter().any(Vec::is_empty) {
        return None;
    }
    let entry = |i: usize, j: usize| covariance.get((i, j)).copied().unwrap_or(f64::NAN);
    let scale: Vec<f64> = columns.iter().map(|i| entry(*i, *i).sqrt()).collect();
    let n = columns.len();
    let at = |list: &[usize], i: usize| list.get(i).copied().unwrap_or(usize::MAX);
    let size = |i: usize| scale.get(i).copied().unwrap_or(f64::NAN);
    let correlation = DMatrix::from_fn(n, n, |i, j| {
        entry(at(&columns, i), at(&columns, j)) / (size(i) * size(j))
    });
    if correlation.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let information = correlation.cholesky()?.inverse();
    let mut first = 0;
    let places: Vec<Vec<usize>> = terms
        .iter()
        .map(|t| {
            let own = (first..first + t.len()).collect();
            first += t.len();
            own
        })
        .collect();
    let each = (0..terms.len()).map(|term| blur(&information, &places, term));
    Some(Blurs {
        condition: condition(&information)?,
        terms: each.collect::<Option<Vec<_>>>()?,
    })
}

impl Regression {
    /// How far the terms, each a list of columns of the design, blur each other: see [`blurs_of`].
    ///
    /// ```
    /// use sealspan_life::{laws::by_name, regression::{Cell, regress}, terms::Terms};
    /// use sealspan_records::{Observation, Sample};
    /// let cell = |row: [f64; 2]| {
    ///     let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    ///     Cell { row: row.into(), terms: Terms::new(&Sample::new(ages.into())).into() }
    /// };
    /// let names = ["intercept".to_owned(), "material=silicone".to_owned()];
    /// let cells = [cell([1.0, 0.0]), cell([1.0, 1.0])];
    /// let found = regress(by_name("exponential").unwrap(), &names, &cells).unwrap();
    /// // Two groups alike: a correlation of −1/√2, and 1/√(1 − 1/2).
    /// let blurs = found.blurs(&[vec![0], vec![1]]).unwrap();
    /// assert!((blurs.terms[1].width - 2.0_f64.sqrt()).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn blurs(&self, terms: &[Vec<usize>]) -> Option<Blurs> {
        blurs_of(&self.covariance, terms)
    }
}

/// The block of a matrix at these places.
fn block(matrix: &DMatrix<f64>, places: &[usize]) -> DMatrix<f64> {
    matrix.select_rows(places).select_columns(places)
}

/// Times as wide as the term's intervals are, with the terms of `without` left out of the regression.
fn width(
    information: &DMatrix<f64>,
    places: &[Vec<usize>],
    term: usize,
    without: &[usize],
) -> Option<f64> {
    let own = places.get(term)?;
    let others = (0..places.len()).filter(|t| *t != term && !without.contains(t));
    let kept: Vec<usize> = own
        .iter()
        .copied()
        .chain(others.filter_map(|t| places.get(t)).flatten().copied())
        .collect();
    let covariance = block(information, &kept).cholesky()?.inverse();
    let first: Vec<usize> = (0..own.len()).collect();
    let inflation =
        block(&covariance, &first).determinant() * block(information, own).determinant();
    let root = 0.5 / own.len() as f64;
    inflation.is_finite().then(|| inflation.max(1.0).powf(root))
}

fn blur(information: &DMatrix<f64>, places: &[Vec<usize>], term: usize) -> Option<Blur> {
    let all = width(information, places, term, &[])?;
    let mut by: Vec<usize> = vec![];
    let mut here = all;
    while by.len() < MOST && here > NARROWS {
        let next = (0..places.len())
            .filter(|t| *t != term && !by.contains(t))
            .filter_map(|t| {
                let left: Vec<usize> = by.iter().copied().chain([t]).collect();
                Some((t, width(information, places, term, &left)?))
            })
            .min_by(|a, b| a.1.total_cmp(&b.1));
        match next {
            Some((t, narrower)) if here / narrower >= NARROWS => {
                by.push(t);
                here = narrower;
            }
            _ => break,
        }
    }
    Some(Blur { width: all, by })
}

/// Root of the ratio of the largest to the smallest eigenvalue, the diagonal scaled to 1.
fn condition(information: &DMatrix<f64>) -> Option<f64> {
    let size: Vec<f64> = information.diagonal().iter().map(|v| v.sqrt()).collect();
    let at = |i: usize| size.get(i).copied().unwrap_or(f64::NAN);
    let n = information.nrows();
    let scaled = DMatrix::from_fn(n, n, |i, j| information[(i, j)] / (at(i) * at(j)));
    let values = scaled.symmetric_eigenvalues();
    let (low, high) = (values.min(), values.max());
    (low > 0.0 && high.is_finite()).then(|| (high / low).sqrt())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Three columns whose products are known: the variance inflation factors are the diagonal of the inverse of
    /// their correlation matrix (textbook identity).
    #[test]
    fn one_column_terms_are_the_roots_of_variance_inflation() {
        let x = DMatrix::from_row_slice(
            6,
            3,
            &[
                1.0, 2.0, 0.5, -1.0, -1.5, 0.2, 2.0, 3.5, -1.0, -2.0, -4.5, 0.1, 0.5, 0.4, 2.0,
                -0.5, 0.1, -1.8,
            ],
        );
        let mean = x.row_mean();
        let centred = DMatrix::from_fn(6, 3, |i, j| x[(i, j)] - mean[j]);
        let products: DMatrix<f64> = centred.transpose() * &centred;
        let correlation = DMatrix::from_fn(3, 3, |i, j| {
            products[(i, j)] / (products[(i, i)] * products[(j, j)]).sqrt()
        });
        let inflation = correlation.try_inverse().unwrap().diagonal();
        let covariance = products.try_inverse().unwrap() * 7.0;
        let found = blurs_of(&covariance, &[vec![0], vec![1], vec![2]]).unwrap();
        for (term, own) in found.terms.iter().zip(inflation.iter()) {
            assert!((term.width - own.sqrt()).abs() < 1e-9, "{term:?} {own}");
        }
        assert_eq!((found.terms[0].by[0], found.terms[1].by[0]), (1, 0));
    }

    /// Scaling the columns, or turning the columns of a factor into others of the same span, changes nothing.
    #[test]
    fn units_and_base_levels_do_not_matter() {
        let covariance =
            DMatrix::from_row_slice(3, 3, &[2.0, 1.0, -1.5, 1.0, 1.5, -1.2, -1.5, -1.2, 2.5]);
        let terms = [vec![0, 1], vec![2]];
        let plain = blurs_of(&covariance, &terms).unwrap();
        let turn = DMatrix::from_row_slice(3, 3, &[1.0, -1.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 1e4]);
        let turned = blurs_of(&(&turn * covariance * turn.transpose()), &terms).unwrap();
        for (a, b) in plain.terms.iter().zip(&turned.terms) {
            assert!((a.width / b.width - 1.0).abs() < 1e-9, "{a:?} {b:?}");
        }
        assert!(plain.terms[0].width > 1.0);
    }

    #[test]
    fn columns_apart_are_not_blurred() {
        let found = blurs_of(&DMatrix::identity(3, 3), &[vec![0], vec![1, 2]]).unwrap();
        assert!((found.condition - 1.0).abs() < 1e-12);
        assert!(
            found
                .terms
                .iter()
                .all(|t| t.width == 1.0 && t.by.is_empty())
        );
        assert_eq!(blurs_of(&DMatrix::identity(1, 1), &[vec![0]]), None);
    }

    /// Two columns of correlation r have eigenvalues 1 ± r, whatever their units.
    #[test]
    fn the_condition_of_two_columns_is_that_of_their_correlation() {
        for r in [0.0, 0.6, -0.9] {
            let c = r * 2.0 * 50.0;
            let covariance = DMatrix::from_row_slice(2, 2, &[4.0, c, c, 2500.0]);
            let found = blurs_of(&covariance, &[vec![0], vec![1]]).unwrap();
            let want = ((1.0 + f64::abs(r)) / (1.0 - f64::abs(r))).sqrt();
            assert!(
                (found.condition / want - 1.0).abs() < 1e-9,
                "{r}: {found:?}"
            );
        }
    }

    /// Two columns that do not go with each other blur a third by a tenth and more only together: neither is named.
    #[test]
    fn a_column_that_narrows_little_is_not_named() {
        let each: f64 = 0.122;
        let r = each.sqrt();
        let information = DMatrix::from_row_slice(3, 3, &[1.0, r, r, r, 1.0, 0.0, r, 0.0, 1.0]);
        let covariance = information.try_inverse().unwrap();
        let found = blurs_of(&covariance, &[vec![0], vec![1], vec![2]]).unwrap();
        let both = (1.0 - 2.0 * each).sqrt().recip();
        let one = (1.0 - each).sqrt().recip();
        assert!(both > NARROWS && both / one < NARROWS);
        assert!((found.terms[0].width - both).abs() < 1e-9, "{found:?}");
        assert!(found.terms[0].by.is_empty(), "{found:?}");
    }

    /// Two factors of two columns each, the one's first going with the other's first by a correlation r and second with
    /// second: each is 1/√(1 − r²) times as wide, and the eigenvalues are 1 ± r, beside 1 of a column by itself.
    #[test]
    fn factors_whose_columns_go_together_in_pairs() {
        let r = 0.9_f64;
        let products = DMatrix::from_fn(5, 5, |i, j| match (i, j) {
            _ if i == j => 1.0,
            (0, 2) | (2, 0) | (1, 3) | (3, 1) => r,
            _ => 0.0,
        });
        let covariance = products.try_inverse().unwrap();
        let found = blurs_of(&covariance, &[vec![0, 1], vec![2, 3], vec![4]]).unwrap();
        let want = [
            (1.0 - r * r).sqrt().recip(),
            (1.0 - r * r).sqrt().recip(),
            1.0,
        ];
        for (term, want) in found.terms.iter().zip(want) {
            assert!((term.width - want).abs() < 1e-9, "{term:?} {want}");
        }
        let condition = ((1.0 + r) / (1.0 - r)).sqrt();
        assert!(
            (found.condition - condition).abs() < 1e-9,
            "{}",
            found.condition
        );
    }

    /// A column that is nearly the sum of five others goes with all of them; three are named.
    #[test]
    fn no_more_than_three_are_named() {
        let products = DMatrix::from_fn(6, 6, |i, j| match (i, j) {
            (5, 5) => 5.02,
            _ if i == j => 1.0,
            (5, _) | (_, 5) => 1.0,
            _ => 0.0,
        });
        let covariance = products.try_inverse().unwrap();
        let terms: Vec<Vec<usize>> = (0..6).map(|i| vec![i]).collect();
        let found = blurs_of(&covariance, &terms).unwrap();
        assert_eq!(found.terms[5].by.len(), 3);
    }
}
