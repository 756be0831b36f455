//! Answers of completed samples put together.
//!
//! ```
//! use nalgebra::DMatrix;
//! use sealspan_life::imputation::rubin::{chi_squares, combine};
//! let each: Vec<_> =
//!     [1.0, 2.0, 3.0].map(|x| (vec![x], DMatrix::from_element(1, 1, 1.0))).into();
//! // One estimate: the statistic is 2² over the variance 7/3.
//! let (statistic, p) = combine(&each).unwrap().wald().unwrap();
//! assert!((statistic - 12.0 / 7.0).abs() < 1e-9 && p > 0.1);
//! // Copies that all say 4 lose nothing: P(χ²₁ > 4) = 0.0455003.
//! let (statistic, p) = chi_squares(&[4.0, 4.0, 4.0], 1.0).unwrap();
//! assert!((statistic - 4.0).abs() < 1e-6 && (p - 0.045_500_3).abs() < 1e-6);
//! ```

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::{
    beta_share, chi_square_survival, normal_quantile, student_quantile, student_two_sided,
};

/// Degrees of freedom from which an F law is a chi-square law.
const MANY: f64 = 1e6;

/// Estimates combined over completed samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Combined {
    /// Means of the estimates.
    pub estimates: Vec<f64>,
    /// Mean covariance plus (1 + 1/m) times that between the copies.
    pub covariance: DMatrix<f64>,
    /// Mean covariance within a completed sample.
    pub within: DMatrix<f64>,
    /// Share of each variance that comes from not knowing the ages; 0 where there is no variance.
    pub share: Vec<f64>,
    /// Degrees of freedom of each interval: (m − 1)/share².
    pub freedom: Vec<f64>,
    copies: f64,
}

/// Combines the estimates of each completed sample and their covariances (Rubin 1987, from memory), all of the same
/// number of estimates (else it panics). `None` with fewer than two copies.
///
/// ```
/// use nalgebra::DMatrix;
/// use sealspan_life::imputation::rubin::combine;
/// let each: Vec<_> =
///     [1.0, 2.0, 3.0].map(|x| (vec![x], DMatrix::from_element(1, 1, 1.0))).into();
/// // Mean 2; variance 1 within and (1 + 1/3) times 1 between.
/// let both = combine(&each).unwrap();
/// assert!((both.estimates[0] - 2.0).abs() < 1e-12);
/// assert!((both.covariance[(0, 0)] - 7.0 / 3.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn combine(each: &[(Vec<f64>, DMatrix<f64>)]) -> Option<Combined> {
    let m = each.len() as f64;
    let p = each.first()?.0.len();
    if each.len() < 2 {
        return None;
    }
    let mut mean = DVector::zeros(p);
    let mut within = DMatrix::zeros(p, p);
    for (x, v) in each {
        mean += DVector::from_column_slice(x);
        within += v;
    }
    mean /= m;
    within /= m;
    let mut between = DMatrix::zeros(p, p);
    for (x, _) in each {
        let off = DVector::from_column_slice(x) - &mean;
        between += &off * off.transpose() / (m - 1.0);
    }
    let covariance = &within + &between * (1.0 + 1.0 / m);
    let share: Vec<f64> = (0..p)
        .map(|j| {
            let all: f64 = covariance[(j, j)];
            let own: f64 = (1.0 + 1.0 / m) * between[(j, j)];
            if all > 0.0 { own / all } else { 0.0 }
        })
        .collect();
    let freedom = share.iter().map(|s| (m - 1.0) / (s * s).max(1e-12));
    Some(Combined {
        estimates: mean.iter().copied().collect(),
        freedom: freedom.collect(),
        covariance,
        within,
        share,
        copies: m,
    })
}

impl Combined {
    /// Student's t for a two-sided interval of one estimate.
    #[must_use]
    pub(crate) fn critical(&self, at: usize, level: f64) -> f64 {
        match self.freedom.get(at) {
            Some(n) if *n < MANY => student_quantile(0.5 + 0.5 * level, *n),
            _ => normal_quantile(0.5 + 0.5 * level),
        }
    }

    /// Two-sided p-value of estimate number `at` so many standard errors from 0, by Student's law on its degrees of
    /// freedom (Rubin 1987, from memory); by the normal law from a million of them on, or where there is no such
    /// estimate.
    ///
    /// ```
    /// use nalgebra::DMatrix;
    /// use sealspan_life::imputation::rubin::combine;
    /// let each = |values: [f64; 3], within: f64| -> Vec<_> {
    ///     values.map(|x| (vec![x], DMatrix::from_element(1, 1, within))).into()
    /// };
    /// // All variance is between three copies: 2 degrees of freedom, where P(|T| > t) = 1 − t/√(2 + t²).
    /// let apart = combine(&each([1.0, 2.0, 3.0], 0.0)).unwrap();
    /// assert!((apart.p_value(0, 2.0_f64.sqrt()) - (1.0 - 0.5_f64.sqrt())).abs() < 1e-9);
    /// // Copies that agree: the normal law.
    /// let alike = combine(&each([2.0; 3], 1.0)).unwrap();
    /// assert!((alike.p_value(0, 1.959_963_985) - 0.05).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn p_value(&self, at: usize, errors: f64) -> f64 {
        match self.freedom.get(at) {
            Some(n) if *n < MANY => student_two_sided(errors, *n),
            _ => chi_square_survival(errors * errors, 1.0),
        }
    }

    /// Chi-square statistic that every estimate is 0, with its p-value from an F law (Li, Raghunathan & Rubin
    /// 1991, from memory): x̄ᵀ W⁻¹ x̄ / (1 + r) of the k means x̄ over m copies, with W the mean covariance within and
    /// r = tr((T − W) W⁻¹)/k, T the covariance of all; over k it has k and 4 + (t − 4)(1 + (1 − 2/t)/r)² degrees of
    /// freedom, t = k(m − 1), or t(1 + 1/k)(1 + 1/r)²/2 where t is at most 4. `None` where W has no inverse.
    #[must_use]
    pub fn wald(&self) -> Option<(f64, f64)> {
        let k = self.estimates.len() as f64;
        let inverse = self.within.clone().cholesky()?.inverse();
        let x = DVector::from_column_slice(&self.estimates);
        let excess = (&self.covariance - &self.within) * &inverse;
        let r = (excess.trace() / k).max(1e-9);
        let f = x.dot(&(inverse * &x)) / (k * (1.0 + r));
        let t = k * (self.copies - 1.0);
        let freedom = if t > 4.0 {
            4.0 + (t - 4.0) * (1.0 + (1.0 - 2.0 / t) / r).powi(2)
        } else {
            0.5 * t * (1.0 + 1.0 / k) * (1.0 + 1.0 / r).powi(2)
        };
        Some((k * f, f_survival(f, k, freedom)))
    }
}

/// One chi-square statistic, of `k` degrees of freedom, out of those of the completed samples, with its p-value (Li,
/// Meng, Raghunathan & Rubin 1991, from memory): their mean d̄, less what the drawing of ages adds to it, (d̄ − k r(m +
/// 1)/(m − 1))/(1 + r) or 0, with r = (1 + 1/m) times the variance of √d over the m copies; over k it is held against
/// an F law with k and k^(−3/m) (m − 1)(1 + 1/r)² degrees of freedom. `None` with fewer than two, or without a degree
/// of freedom.
#[must_use]
pub fn chi_squares(each: &[f64], k: f64) -> Option<(f64, f64)> {
    let m = each.len() as f64;
    if each.len() < 2 || k <= 0.0 {
        return None;
    }
    let mean = each.iter().sum::<f64>() / m;
    let root = each.iter().map(|d| d.max(0.0).sqrt()).sum::<f64>() / m;
    let spread = each.iter().map(|d| (d.max(0.0).sqrt() - root).powi(2));
    let r = ((1.0 + 1.0 / m) * spread.sum::<f64>() / (m - 1.0)).max(1e-9);
    let f = ((mean / k - (m + 1.0) / (m - 1.0) * r) / (1.0 + r)).max(0.0);
    let freedom = k.powf(-3.0 / m) * (m - 1.0) * (1.0 + 1.0 / r).powi(2);
    Some((k * f, f_survival(f, k, freedom)))
}

/// P(F > f) with k and n degrees of freedom.
fn f_survival(f: f64, k: f64, n: f64) -> f64 {
    if f <= 0.0 {
        return 1.0;
    }
    if n > MANY {
        return chi_square_survival(k * f, k);
    }
    beta_share(0.5 * n, 0.5 * k, n / (n + k * f))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn combines_by_hand() {
        let one = |x: f64, v: f64| (vec![x], DMatrix::from_element(1, 1, v));
        let c = combine(&[one(1.0, 0.2), one(2.0, 0.4), one(3.0, 0.3)]).unwrap();
        // Mean 2; within 0.3, between 1, so 0.3 + 4/3.
        assert!((c.estimates[0] - 2.0).abs() < 1e-15);
        assert!((c.covariance[(0, 0)] - (0.3 + 4.0 / 3.0)).abs() < 1e-14);
        let share = (4.0 / 3.0) / (0.3 + 4.0 / 3.0);
        assert!((c.share[0] - share).abs() < 1e-14);
        assert!((c.freedom[0] - 2.0 / (share * share)).abs() < 1e-12);
        assert!(combine(&[one(1.0, 0.2)]).is_none());
    }

    #[test]
    fn copies_alike_give_the_test_of_one_sample() {
        let cov = DMatrix::from_row_slice(2, 2, &[0.4, 0.1, 0.1, 0.3]);
        let x = vec![0.9, -0.7];
        let c = combine(&vec![(x.clone(), cov.clone()); 20]).unwrap();
        let v = DVector::from_column_slice(&x);
        let own = v.dot(&(cov.try_inverse().unwrap() * &v));
        let (statistic, p) = c.wald().unwrap();
        assert!((statistic - own).abs() < 1e-6 * own);
        assert!((p - chi_square_survival(own, 2.0)).abs() < 1e-6);
        let (statistic, p) = chi_squares(&[4.2; 30], 1.0).unwrap();
        assert!((statistic - 4.2).abs() < 1e-6 && (p - chi_square_survival(4.2, 1.0)).abs() < 1e-6);
    }

    #[test]
    fn f_with_one_is_student_squared() {
        for (t, n) in [(1.3, 7.0), (2.4, 31.5)] {
            assert!((f_survival(t * t, 1.0, n) - student_two_sided(t, n)).abs() < 1e-10);
        }
    }

    /// The p-value is the confidence at which the interval ends at 0; of copies alike, that of the normal law.
    #[test]
    fn a_p_value_is_the_level_at_which_the_interval_ends_at_nought() {
        let one = |x: f64| (vec![x], DMatrix::from_element(1, 1, 0.04));
        for (each, errors) in [([0.3, 0.5], 1.7), ([0.4, 0.4], 2.0)] {
            let all = combine(&each.map(one)).unwrap();
            let p = all.p_value(0, errors);
            assert!(
                (all.critical(0, 1.0 - p) / errors - 1.0).abs() < 1e-6,
                "{p}"
            );
        }
        // 4.55 % of normal tables.
        let alike = combine(&[0.4, 0.4].map(one)).unwrap();
        assert!((alike.p_value(0, 2.0) - 0.0455).abs() < 1e-5);
    }

    /// Of two estimates the statistic is that of the mean covariance over one and the mean relative excess (Li,
    /// Raghunathan & Rubin 1991, from memory), written out for copies that differ in the first only.
    #[test]
    fn two_estimates_are_tested_together() {
        let within = DMatrix::from_row_slice(2, 2, &[0.04, 0.0, 0.0, 0.09]);
        let each: Vec<_> = [0.3, 0.5, 0.4]
            .map(|x| (vec![x, 0.6], within.clone()))
            .to_vec();
        let (statistic, p) = combine(&each).map(|c| c.wald().unwrap()).unwrap();
        let r = (1.0 + 1.0 / 3.0) * 0.01 / 0.04 / 2.0;
        let want = (0.4 * 0.4 / 0.04 + 0.6 * 0.6 / 0.09) / (1.0 + r);
        assert!((statistic / want - 1.0).abs() < 1e-9, "{statistic} {want}");
        assert!(p > 0.02 && p < 0.2, "{p}");
    }

    /// The test's reference law written out for one number, few and many copies: with k = 1 and three copies
    /// t = 2 and the freedom is t (1 + 1/k) (1 + 1/r)²/2 = 2 (1 + 1/r)²; with ten t = 9 and it is
    /// 4 + 5 (1 + (7/9)/r)² (Li, Raghunathan & Rubin 1991, from memory). An F law with one and n degrees of freedom is
    /// Student's with n, squared.
    #[test]
    fn the_reference_law_of_one_estimate_is_students() {
        for copies in [3usize, 10] {
            let within = DMatrix::from_element(1, 1, 0.04);
            let each: Vec<_> = (0..copies)
                .map(|i| {
                    (
                        vec![0.4 + 0.12 * (i as f64 - 0.5 * (copies as f64 - 1.0))],
                        within.clone(),
                    )
                })
                .collect();
            let (statistic, p) = combine(&each).map(|c| c.wald().unwrap()).unwrap();
            let m = copies as f64;
            let squares = (0..copies).map(|i| (0.12 * (i as f64 - 0.5 * (m - 1.0))).powi(2));
            let r = (1.0 + 1.0 / m) * squares.sum::<f64>() / (m - 1.0) / 0.04;
            assert!((statistic * (1.0 + r) / 4.0 - 1.0).abs() < 1e-9);
            let freedom = if copies == 3 {
                2.0 * (1.0 + 1.0 / r).powi(2)
            } else {
                4.0 + 5.0 * (1.0 + 7.0 / 9.0 / r).powi(2)
            };
            let want = student_two_sided(statistic.sqrt(), freedom);
            assert!((p / want - 1.0).abs() < 1e-8, "{copies}: {p} {want}");
        }
    }
}
