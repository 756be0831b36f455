//! Do groups of seals live equally long, without a law: the log-rank family, plain, stratified, and for a
//! trend over ordered groups. Right-censored lives, delayed entry and counts.
//!
//! ```
//! use sealspan_life::log_rank::{Weighting, log_rank, scores, stratified, trend};
//! use sealspan_records::{Observation, Sample};
//! let one = |t: f64| Sample::new(vec![Observation::exact(t, 0.0, 1.0).unwrap()]);
//! // A seal of each group, failed at 1 and 2: at 1 half a failure is expected of each, with variance 1/4.
//! let groups = vec![one(1.0), one(2.0)];
//! let found = scores(&[groups.clone()], Weighting::LogRank).unwrap();
//! assert_eq!((found.observed[0], found.expected[0]), (1.0, 0.5));
//! assert!((found.test("log_rank").unwrap().statistic - 1.0).abs() < 1e-9);
//! assert!((log_rank(&groups, Weighting::LogRank).unwrap().p_value - 0.317_310_5).abs() < 1e-6);
//! // Two such strata: (1/2 + 1/2)²/(1/4 + 1/4). With two groups the trend is the same test.
//! let strata = [groups.clone(), groups];
//! assert!((stratified(&strata, Weighting::LogRank).unwrap().statistic - 2.0).abs() < 1e-9);
//! assert!((trend(&strata, &[0.0, 1.0], Weighting::LogRank).unwrap().statistic - 2.0).abs() < 1e-9);
//! assert_eq!(Weighting::LogRank.name(), "log_rank");
//! ```

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

pub(crate) mod ages;
mod drawn;

use crate::compare::Test;
use ages::{AtAge, ages};
pub(crate) use drawn::averaged;
pub use drawn::{Drawn, drawn};
use nalgebra::{DMatrix, DVector, SymmetricEigen};
use sealspan_numeric::special::chi_square_survival;
use sealspan_records::observation::Sample;
use thiserror::Error;

/// Groups beyond which the covariance of the scores is not written out.
const MOST_GROUPS: usize = 1000;
/// An eigenvalue below this share of the largest is rounding.
const RANK_FLOOR: f64 = 1e-10;

/// What a failure counts at its age, with N at risk and D failed there in all groups, the product-limit
/// curve of all groups Ŝ just before, and S̃ = Π (1 − D/(N + 1)) up to and including it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Weighting {
    /// 1: every failure counts alike (Mantel 1966).
    LogRank,
    /// N: early failures count most (Gehan 1965, Breslow 1970).
    Gehan,
    /// √N: between the two (Tarone & Ware 1977).
    TaroneWare,
    /// Ŝ^ρ (1 − Ŝ)^γ: early failures count more with ρ, late ones with γ (Fleming & Harrington 1991).
    FlemingHarrington {
        /// Power of the share surviving.
        rho: f64,
        /// Power of the share failed.
        gamma: f64,
    },
    /// S̃ (Peto & Peto 1972): not Ŝ, which is Fleming & Harrington's with ρ = 1.
    Peto,
    /// S̃ N/(N + 1) (Andersen et al. 1982).
    PetoModified,
}

impl Weighting {
    /// Those reported side by side.
    pub const ALL: [Self; 6] = [
        Self::LogRank,
        Self::Gehan,
        Self::TaroneWare,
        Self::FlemingHarrington {
            rho: 1.0,
            gamma: 0.0,
        },
        Self::Peto,
        Self::PetoModified,
    ];

    /// Name in outputs.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::LogRank => "log_rank",
            Self::Gehan => "gehan",
            Self::TaroneWare => "tarone_ware",
            Self::FlemingHarrington { .. } => "fleming_harrington",
            Self::Peto => "peto",
            Self::PetoModified => "peto_modified",
        }
    }
}

/// Why there is no test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoTest {
    /// Ages are known as intervals only; [`drawn`] answers.
    #[error("some failures are known only to lie between two looks, and ranks need exact ages")]
    Interval,
    /// Nothing failed.
    #[error("no seal failed: nothing to compare")]
    NoFailures,
    /// No failure happened with seals of two groups at risk.
    #[error("no failure happened while seals of two groups were under watch at the same age")]
    Apart,
    /// More groups than this.
    #[error("there are more than {0} groups; choose coarser ones")]
    TooMany(usize),
    /// Shares by mode cannot be followed on in a group.
    #[error(
        "a group had died out before others of it came under watch, so its share failed by a mode cannot be followed on"
    )]
    DiedOut,
}

/// Observed less expected failures of each of k groups, weighted, with their hypergeometric covariance (Klein &
/// Moeschberger, Survival Analysis, section 7.3; from memory): at an age with N at risk and D failed, nᵢ and dᵢ of
/// group i and the weight w, Uᵢ = Σ w (dᵢ − D nᵢ/N) and Vᵢⱼ = Σ w² D (N − D)/(N − 1) nᵢ/N (δᵢⱼ − nⱼ/N). At risk are
/// those who entered before the age and left at it or later.
#[derive(Debug, Clone)]
pub struct Scores {
    /// Failures of each group, unweighted.
    pub observed: Vec<f64>,
    /// Failures expected were all groups alike, Σ D nᵢ/N.
    pub expected: Vec<f64>,
    /// Weighted observed less expected, U.
    pub score: DVector<f64>,
    /// Covariance of the scores, V, k × k.
    pub variance: DMatrix<f64>,
}

/// Scores summed over strata, each with weights of its own; each holds a sample for every group, which may be empty.
///
/// # Errors
/// [`NoTest`] for interval data, without failures, or with too many groups.
pub fn scores(strata: &[Vec<Sample>], weighting: Weighting) -> Result<Scores, NoTest> {
    let k = strata.iter().map(Vec::len).max().unwrap_or(0);
    if k > MOST_GROUPS {
        return Err(NoTest::TooMany(MOST_GROUPS));
    }
    let mut sums = Scores::zero(k);
    for groups in strata {
        sums.add_all(&ages(groups).ok_or(NoTest::Interval)?, weighting);
    }
    if sums.observed.iter().sum::<f64>() > 0.0 {
        Ok(sums)
    } else {
        Err(NoTest::NoFailures)
    }
}

/// The running curves of all groups.
struct Curve {
    product_limit: f64,
    shrunk: f64,
}

impl Default for Curve {
    fn default() -> Self {
        Self {
            product_limit: 1.0,
            shrunk: 1.0,
        }
    }
}

impl Curve {
    /// The weight at an age, and the step past it.
    fn weight(&mut self, weighting: Weighting, at: &AtAge) -> f64 {
        let n: f64 = at.at_risk.iter().sum();
        let d: f64 = at.failed.iter().sum();
        let before = self.product_limit;
        self.product_limit *= 1.0 - d / n;
        self.shrunk *= 1.0 - d / (n + 1.0);
        match weighting {
            Weighting::LogRank => 1.0,
            Weighting::Gehan => n,
            Weighting::TaroneWare => n.sqrt(),
            Weighting::FlemingHarrington { rho, gamma } => {
                before.powf(rho) * (1.0 - before).powf(gamma)
            }
            Weighting::Peto => self.shrunk,
            Weighting::PetoModified => self.shrunk * n / (n + 1.0),
        }
    }
}

impl Scores {
    pub(crate) fn zero(k: usize) -> Self {
        Self {
            observed: vec![0.0; k],
            expected: vec![0.0; k],
            score: DVector::zeros(k),
            variance: DMatrix::zeros(k, k),
        }
    }

    /// Adds the scores of another copy.
    pub(crate) fn take(&mut self, own: Self) {
        self.score += own.score;
        self.variance += own.variance;
        let pairs = self.observed.iter_mut().zip(own.observed);
        pairs.for_each(|(s, o)| *s += o);
        let pairs = self.expected.iter_mut().zip(own.expected);
        pairs.for_each(|(s, e)| *s += e);
    }

    /// Adds a stratum.
    fn add_all(&mut self, ages: &[AtAge], weighting: Weighting) {
        let mut curve = Curve::default();
        for at in ages {
            let weight = curve.weight(weighting, at);
            self.add(at, weight);
        }
    }

    fn add(&mut self, at: &AtAge, w: f64) {
        let n: f64 = at.at_risk.iter().sum();
        let d: f64 = at.failed.iter().sum();
        let spread = if n > 1.0 {
            w * w * d * (n - d) / (n - 1.0)
        } else {
            0.0
        };
        let totals = self.observed.iter_mut().zip(&mut self.expected);
        for (i, ((ni, di), (o, e))) in at.at_risk.iter().zip(&at.failed).zip(totals).enumerate() {
            *o += di;
            *e += d * ni / n;
            self.score[i] += w * (di - d * ni / n);
            if *ni <= 0.0 {
                continue;
            }
            for (j, nj) in at.at_risk.iter().enumerate() {
                let same = if i == j { 1.0 } else { 0.0 };
                self.variance[(i, j)] += spread * (ni / n) * (same - nj / n);
            }
        }
    }

    /// Chi-square Uᵀ V⁻ U on as many degrees of freedom as the scores have, the rank of V, under the name given.
    ///
    /// # Errors
    /// [`NoTest::Apart`] where they have none.
    pub fn test(&self, name: &'static str) -> Result<Test, NoTest> {
        let eigen = SymmetricEigen::new(self.variance.clone());
        let floor = RANK_FLOOR * eigen.eigenvalues.amax();
        let (mut statistic, mut df) = (0.0, 0.0);
        for (value, vector) in eigen
            .eigenvalues
            .iter()
            .zip(eigen.eigenvectors.column_iter())
        {
            if *value > floor && *value > 0.0 {
                statistic += vector.dot(&self.score).powi(2) / value;
                df += 1.0;
            }
        }
        if df < 1.0 {
            return Err(NoTest::Apart);
        }
        Ok(Test {
            name,
            statistic,
            df,
            p_value: chi_square_survival(statistic, df),
        })
    }

    /// Test of a trend over groups with a number each, as [`trend`]; a group without a number counts as the mean.
    ///
    /// # Errors
    /// [`NoTest::Apart`] where the groups never met.
    ///
    /// ```
    /// use sealspan_life::log_rank::{Weighting, scores};
    /// use sealspan_records::{Observation, Sample};
    /// let still = || Sample::new(vec![Observation::right(5.0, 0.0, 1.0).unwrap()]);
    /// let failed = Sample::new(vec![Observation::exact(1.0, 0.0, 1.0).unwrap()]);
    /// // One failure among three groups of one: U = (−1, −1, 2)/3, V = (I − 1/3)/3, and numbers −1, 0, 1 about
    /// // their mean, so that (aU)² / aᵀVa = 1/(2/3).
    /// let found = scores(&[vec![still(), still(), failed]], Weighting::LogRank).unwrap();
    /// let test = found.trend(&[0.0, 1.0, 2.0]).unwrap();
    /// assert!((test.statistic - 1.5).abs() < 1e-12 && test.df == 1.0);
    /// ```
    pub fn trend(&self, numbers: &[f64]) -> Result<Test, NoTest> {
        let mean = numbers.iter().sum::<f64>() / numbers.len().max(1) as f64;
        let a = DVector::from_fn(self.score.len(), |i, _| {
            numbers.get(i).map_or(0.0, |x| x - mean)
        });
        let variance = a.dot(&(&self.variance * &a));
        if variance.is_nan() || variance <= 0.0 {
            return Err(NoTest::Apart);
        }
        let statistic = a.dot(&self.score).powi(2) / variance;
        Ok(Test {
            name: "log_rank_trend",
            statistic,
            df: 1.0,
            p_value: chi_square_survival(statistic, 1.0),
        })
    }
}

/// Weighted log-rank test of equal survival in all groups, with the hypergeometric variance.
///
/// # Errors
/// [`NoTest`], with the reason.
///
/// ```
/// use sealspan_life::log_rank::{Weighting, log_rank};
/// use sealspan_records::{Observation, Sample};
/// let group = |ages: &[f64]| -> Result<Sample, Box<dyn std::error::Error>> {
///     let rows: Result<Vec<_>, _> = ages.iter().map(|t| Observation::exact(*t, 0.0, 1.0)).collect();
///     Ok(Sample::new(rows?))
/// };
/// let test = log_rank(&[group(&[1.0, 2.0, 3.0])?, group(&[7.0, 8.0, 9.0])?], Weighting::LogRank)?;
/// // By hand: three failures at 1, 2, 3 in the first group where 3/6 + 2/5 + 1/4 are expected, with the variance
/// // 1/4 + 6/25 + 3/16.
/// let (off, variance) = (3.0 - 1.15, 0.25 + 0.24 + 0.1875);
/// assert!((test.statistic - off * off / variance).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn log_rank(groups: &[Sample], weighting: Weighting) -> Result<Test, NoTest> {
    scores(&[groups.to_vec()], weighting)?.test(weighting.name())
}

/// The same with lives compared only within their stratum.
///
/// # Errors
/// [`NoTest`], with the reason.
pub fn stratified(strata: &[Vec<Sample>], weighting: Weighting) -> Result<Test, NoTest> {
    scores(strata, weighting)?.test("log_rank_stratified")
}

/// Test of a trend over groups with a number each: (Σ aᵢUᵢ)² / aᵀVa with one degree of freedom, a being the numbers
/// less their mean (from memory).
///
/// # Errors
/// [`NoTest`], with the reason.
pub fn trend(
    strata: &[Vec<Sample>],
    numbers: &[f64],
    weighting: Weighting,
) -> Result<Test, NoTest> {
    scores(strata, weighting)?.trend(numbers)
}

#[cfg(test)]
mod tests;
