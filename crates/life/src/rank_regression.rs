//! Median-rank regression: the straight line of ln age on the transformed median rank.
//!
//! A secondary result, never the default: IEC 61649 describes it beside maximum likelihood (from memory).
//! It looks only at exact failures, knows suspensions by the ranks they shift and not by their ages, has
//! no standard errors of its own here, and its squared correlation says how straight the plot is, not how
//! sure the answer. Use it to draw the line of a probability plot or to follow an older calculation.

use crate::life::Life;
use crate::ranks::{Ranked, Regress, adjusted_ranks};
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::Sample;
use thiserror::Error;

/// The law whose probability paper the points are drawn on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// y = ln(−ln(1 − rank)).
    Weibull,
    /// y = the normal quantile of the rank.
    Lognormal,
}

impl Paper {
    fn transformed(self, rank: f64) -> f64 {
        match self {
            Self::Weibull => (-(-rank).ln_1p()).ln(),
            Self::Lognormal => normal_quantile(rank),
        }
    }
}

/// Which median rank stands for a failure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MedianRank {
    /// Benard's approximation, (rank − 0.3) / (n + 0.4).
    Benard,
    /// Median of the beta law.
    Exact,
}

impl MedianRank {
    fn of(self, ranked: &Ranked) -> f64 {
        match self {
            Self::Benard => ranked.benard,
            Self::Exact => ranked.median,
        }
    }
}

/// Why there is no line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoLine {
    /// Intervals, delayed entries or counts that are not whole have no adjusted ranks (nor rows of over a million
    /// seals).
    #[error(
        "median ranks need exact failure ages, lives watched from new and whole counts; use maximum likelihood"
    )]
    NoRanks,
    /// A line needs two points at different ages.
    #[error("median ranks need failures at two different ages at least; use maximum likelihood")]
    OneAge,
}

/// The line ln age = intercept + slope · y through the median ranks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankLine {
    /// The paper it is drawn on.
    pub paper: Paper,
    /// ln age gained for each unit of y, above 0: 1/shape of the Weibull law, σ of the lognormal.
    pub slope: f64,
    /// ln age at y = 0: ln scale of the Weibull law, μ of the lognormal.
    pub intercept: f64,
    /// Squared correlation of ln age and y, 0 to 1.
    pub r_squared: f64,
    /// Failures the line goes through.
    pub failures: usize,
}

/// Median-rank regression of the exact failures of a sample among its suspensions, by least squares in
/// the direction `regress`: [`Regress::AgeOnRank`] makes the residuals of ln age small, as is usual for
/// lives, where the rank is set and the age is what varies. With x = ln age and y about their means the slope is
/// Σxy/Σy², or Σx²/Σxy in the other direction.
///
/// # Errors
/// [`NoLine`], when the sample has no adjusted ranks or too few failures.
///
/// ```
/// use sealspan_life::rank_regression::{MedianRank, Paper, rank_regression};
/// use sealspan_life::ranks::Regress;
/// use sealspan_records::observation::{Observation, Sample};
/// let mut rows: Vec<_> = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
///     .iter()
///     .map(|t| Observation::exact(*t, 0.0, 1.0).unwrap())
///     .collect();
/// rows.push(Observation::right(500.0, 0.0, 10.0).unwrap());
/// let line = rank_regression(
///     &Sample::new(rows), Paper::Weibull, MedianRank::Benard, Regress::RankOnAge,
/// ).unwrap();
/// assert!((1.0 / line.slope - 1.457519).abs() < 1e-6); // NIST/SEMATECH e-Handbook 8.2.2.1
/// ```
pub fn rank_regression(
    sample: &Sample,
    paper: Paper,
    rank: MedianRank,
    regress: Regress,
) -> Result<RankLine, NoLine> {
    let ranked = adjusted_ranks(sample).ok_or(NoLine::NoRanks)?;
    // Sorted by age.
    if ranked.first().map(|r| r.time) == ranked.last().map(|r| r.time) {
        return Err(NoLine::OneAge);
    }
    let points: Vec<(f64, f64)> = ranked
        .iter()
        .map(|r| (r.time.ln(), paper.transformed(rank.of(r))))
        .collect();
    let failures = points.len();
    let mean = |f: fn(&(f64, f64)) -> f64| points.iter().map(f).sum::<f64>() / failures as f64;
    let (mid_age, mid_rank) = (mean(|p| p.0), mean(|p| p.1));
    let (mut ages, mut both, mut ranks) = (0.0, 0.0, 0.0);
    for (x, y) in &points {
        let (x, y) = (x - mid_age, y - mid_rank);
        ages += x * x;
        both += x * y;
        ranks += y * y;
    }
    // Ranks grow with age, so that `both` is above 0 once two ages differ.
    let slope = match regress {
        Regress::AgeOnRank => both / ranks,
        Regress::RankOnAge => ages / both,
    };
    Ok(RankLine {
        paper,
        slope,
        intercept: mid_age - slope * mid_rank,
        r_squared: both * both / (ages * ranks),
        failures,
    })
}

impl RankLine {
    /// The law the line stands for, with ages in the sample's unit; `None` where its parameters are too large to write.
    ///
    /// ```
    /// use sealspan_life::rank_regression::{MedianRank, Paper, rank_regression};
    /// use sealspan_life::ranks::Regress;
    /// use sealspan_records::observation::{Observation, Sample};
    /// let rows = [100.0, 300.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    /// let line = rank_regression(
    ///     &Sample::new(rows.into()), Paper::Weibull, MedianRank::Benard, Regress::AgeOnRank,
    /// ).unwrap();
    /// // Two points lie on their line: by 100 days (1 − 0.3)/2.4 have failed, by 300 (2 − 0.3)/2.4.
    /// let life = line.life().unwrap();
    /// assert!((life.failed(100.0) - 0.7 / 2.4).abs() < 1e-12);
    /// assert!((life.failed(300.0) - 1.7 / 2.4).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn life(&self) -> Option<Life> {
        match self.paper {
            Paper::Weibull => Life::weibull(1.0 / self.slope, self.intercept.exp()),
            Paper::Lognormal => Life::lognormal(self.intercept, self.slope),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use sealspan_records::observation::Observation;

    const PAPERS: [Paper; 2] = [Paper::Weibull, Paper::Lognormal];

    fn line(rows: Vec<Observation>, paper: Paper) -> Result<RankLine, NoLine> {
        let sample = Sample::new(rows);
        rank_regression(&sample, paper, MedianRank::Exact, Regress::AgeOnRank)
    }

    #[test]
    fn points_on_a_line_give_that_line_in_both_directions() {
        for paper in PAPERS {
            let age = |i: usize| {
                let rank = (i as f64 + 0.7) / 9.4;
                (5.0 + 0.4 * paper.transformed(rank)).exp()
            };
            let rows = (0..9).map(|i| Observation::exact(age(i), 0.0, 1.0).unwrap());
            let sample = Sample::new(rows.collect());
            for regress in [Regress::AgeOnRank, Regress::RankOnAge] {
                let found = rank_regression(&sample, paper, MedianRank::Benard, regress).unwrap();
                assert!((found.slope - 0.4).abs() < 1e-12, "{found:?}");
                assert!((found.intercept - 5.0).abs() < 1e-12, "{found:?}");
                assert!((found.r_squared - 1.0).abs() < 1e-12, "{found:?}");
            }
        }
    }

    #[test]
    fn refusals_say_why() {
        let failed = |t, count| Observation::exact(t, 0.0, count).unwrap();
        for paper in PAPERS {
            assert_eq!(line(vec![], paper), Err(NoLine::OneAge));
            assert_eq!(line(vec![failed(5.0, 3.0)], paper), Err(NoLine::OneAge));
            let late = Observation::exact(9.0, 2.0, 1.0).unwrap();
            assert_eq!(
                line(vec![failed(5.0, 1.0), late], paper),
                Err(NoLine::NoRanks)
            );
            let looked = Observation::interval(2.0, 9.0, 0.0, 1.0).unwrap();
            assert_eq!(
                line(vec![failed(5.0, 1.0), looked], paper),
                Err(NoLine::NoRanks)
            );
            assert_eq!(line(vec![failed(5.0, 1.5)], paper), Err(NoLine::NoRanks));
        }
    }

    #[test]
    fn tied_ages_still_make_a_line() {
        let rows = [(5.0, 2.0), (8.0, 3.0)].map(|(t, n)| Observation::exact(t, 0.0, n).unwrap());
        let found = line(rows.to_vec(), Paper::Weibull).unwrap();
        assert!(found.slope > 0.0 && found.r_squared < 1.0);
        assert_eq!(found.failures, 5);
    }
}
