//! How far the temperatures lie off their straight line, and what that leaves of an activation energy.
//!
//! Seals of one temperature share more than their heat: a site, its water, its people. If that moves lives, the
//! temperatures scatter about the line more than their seals' lives let one expect, and an error made of the seals
//! alone is too small. Twice the gain in log-likelihood of a life for each temperature by itself, over its degrees of
//! freedom, is by how much the variance is too small (quasi-likelihood, McCullagh & Nelder 1989; from memory).

use super::stress::Energy;
use sealspan_life::family::Family;
use sealspan_life::regression::{Design, fit_design};
use sealspan_numeric::special::{chi_square_survival, normal_quantile, student_quantile};
use serde::Serialize;

/// More temperatures than this are no levels: a column that varies from seal to seal (a rule of ours).
const MOST_LEVELS: usize = 40;
/// p-value below which the scatter is spoken of.
const SPOKEN_OF: f64 = 0.05;

/// The scatter of temperatures about their line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Scatter {
    /// Temperatures.
    pub temperatures: usize,
    /// Twice the gain in log-likelihood when each temperature has a life of its own.
    pub statistic: f64,
    /// Its degrees of freedom, two less than temperatures.
    pub df: f64,
    /// p-value of no more scatter than chance has.
    pub p_value: f64,
    /// The variance over what chance has, at least 1.
    pub times_the_variance: f64,
}

impl Scatter {
    /// The scatter about a straight line in the column `at`. `None` for fewer than three temperatures, very many, or
    /// where a temperature has too few failures for a life of its own.
    #[must_use]
    pub fn of(design: &Design, family: &'static dyn Family, at: usize) -> Option<Self> {
        let entry = |row: &[(usize, f64)]| row.iter().find(|(j, _)| *j == at).map_or(0.0, |e| e.1);
        let mut seen: Vec<f64> = design.lines.iter().map(|l| entry(&l.row)).collect();
        seen.sort_by(f64::total_cmp);
        seen.dedup();
        if seen.len() < 3 || seen.len() > MOST_LEVELS {
            return None;
        }
        let mut line = design.clone();
        line.penalties.retain(|p| p.at != at);
        // The column and a shift of every temperature but the coldest and the hottest: a life for each.
        let mut apart = line.clone();
        let first = apart.names.len();
        let inner = seen.get(1..seen.len() - 1).unwrap_or_default();
        for (i, _) in inner.iter().enumerate() {
            apart.names.push(format!("temperature {i}"));
        }
        for l in &mut apart.lines {
            let own = entry(&l.row);
            if let Some(i) = inner.iter().position(|x| *x == own) {
                l.row.push((first + i, 1.0));
            }
        }
        let fitted = |d: &Design| {
            let fit = fit_design(family, d).ok()?;
            Some(fit.regression.log_likelihood)
        };
        let statistic = (2.0 * (fitted(&apart)? - fitted(&line)?)).max(0.0);
        let df = inner.len() as f64;
        Some(Self {
            temperatures: seen.len(),
            statistic,
            df,
            p_value: chi_square_survival(statistic, df),
            times_the_variance: (statistic / df).max(1.0),
        })
    }

    /// Whether there is more than chance has.
    #[must_use]
    pub fn speaks(&self) -> bool {
        self.p_value < SPOKEN_OF
    }

    /// An energy whose interval allows for the scatter; `e` has that of the seals alone at two-sided `level`.
    #[must_use]
    pub fn widened(&self, e: Energy, level: f64) -> Energy {
        let p = 0.5 + 0.5 * level;
        let error = 0.5 * (e.upper - e.lower) / normal_quantile(p);
        let half = student_quantile(p, self.df) * error * self.times_the_variance.sqrt();
        Energy {
            estimate: e.estimate,
            lower: e.estimate - half,
            upper: e.estimate + half,
        }
    }
}
