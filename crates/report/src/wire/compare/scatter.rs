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

/// The scatter of temperatures about their line. An energy's interval that allows for it, where the p-value is below 0.05,
/// is the estimate ± t s √(times the variance), t Student's quantile at `df`, s the standard error made of the seals alone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Scatter {
    /// Temperatures.
    pub temperatures: usize,
    /// Twice the gain in log-likelihood when each temperature has a life of its own.
    pub statistic: f64,
    /// Its degrees of freedom, two less than temperatures.
    pub df: f64,
    /// p-value of no more scatter than chance has, chi-square.
    pub p_value: f64,
    /// The variance over what chance has: statistic / df, at least 1.
    pub times_the_variance: f64,
}

impl Scatter {
    /// The scatter about a straight line in the column `at`. `None` for fewer than three temperatures, very many, or
    /// where a temperature has too few failures for a life of its own.
    #[must_use]
    pub(crate) fn of(design: &Design, family: &'static dyn Family, at: usize) -> Option<Self> {
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
    pub(crate) fn speaks(&self) -> bool {
        self.p_value < SPOKEN_OF
    }

    /// An energy whose interval allows for the scatter; `e` has that of the seals alone at two-sided `level`.
    #[must_use]
    pub(crate) fn widened(&self, e: Energy, level: f64) -> Energy {
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::wire::compare::term::{BOLTZMANN_EV, ZERO_CELSIUS};
    use sealspan_life::laws::by_name;
    use sealspan_life::regression::Line;
    use sealspan_life::terms::Terms;
    use sealspan_numeric::random::Stream;
    use sealspan_records::{Observation, Sample};
    use std::sync::Arc;

    const PLANTED: f64 = 0.31;
    const HEATS: [f64; 7] = [55.0, 60.0, 65.0, 70.0, 75.0, 80.0, 88.0];

    /// Forty Weibull lives at each temperature, shifted by as much as each place differs.
    fn fleet(stream: &mut Stream, spread: f64) -> Design {
        let line = |celsius: f64, stream: &mut Stream| {
            let reciprocal = 1.0 / (BOLTZMANN_EV * (celsius + ZERO_CELSIUS));
            let off = spread * stream.normal();
            let lives = (0..40).map(|_| {
                let life =
                    (PLANTED * reciprocal - 5.0 + off + 0.45 * stream.exponential().ln()).exp();
                Observation::exact(life, 0.0, 1.0).unwrap()
            });
            Line {
                row: vec![(0, 1.0), (1, reciprocal)],
                offset: 0.0,
                stratum: 0,
                terms: Arc::new(Terms::new(&Sample::new(lives.collect()))),
            }
        };
        Design {
            names: vec!["intercept".to_owned(), "energy".to_owned()],
            lines: HEATS.iter().map(|t| line(*t, stream)).collect(),
            strata: 1,
            penalties: vec![],
        }
    }

    /// How often the interval holds the planted energy, of the seals alone and allowing for the scatter.
    fn held(spread: f64, fleets: u64) -> [f64; 3] {
        let weibull = by_name("weibull").unwrap();
        let mut out = [0.0; 3];
        for seed in 0..fleets {
            let design = fleet(&mut Stream::new(seed, 1), spread);
            let fit = fit_design(weibull, &design).unwrap().regression;
            let c = fit.contrast("", &[0.0, 1.0], &[0.0, 0.0], 0.9);
            let own = Energy {
                estimate: c.estimate,
                lower: c.lower,
                upper: c.upper,
            };
            let scatter = Scatter::of(&design, weibull, 1).unwrap();
            let wide = match scatter.speaks() {
                true => scatter.widened(own, 0.9),
                false => own,
            };
            let holds = |e: Energy| f64::from(u8::from(e.lower <= PLANTED && PLANTED <= e.upper));
            out[0] += holds(own) / fleets as f64;
            out[1] += holds(wide) / fleets as f64;
            out[2] += f64::from(u8::from(scatter.speaks())) / fleets as f64;
        }
        out
    }

    /// Without differences the scatter rarely speaks; with them the interval of the seals alone misses the truth more
    /// often than not, and the wide one holds about as often as it says.
    #[test]
    fn the_wide_interval_holds_where_places_differ() {
        let [own, _, speaks] = held(0.0, 200);
        assert!(own > 0.83 && speaks < 0.11, "{own} {speaks}");
        let [own, wide, speaks] = held(0.3, 200);
        assert!(
            own < 0.6 && wide > 0.83 && speaks > 0.95,
            "{own} {wide} {speaks}"
        );
    }
}
