//! First failures of the seals now running, within a horizon, with intervals that allow for the life
//! being estimated.

use crate::counts::Counts;
use crate::error::{Error, Result, not_negative, positive, share};
use crate::renewals::replacements;
use crate::successes::{Effort, Group, Method, chance_of_failing, number_failing};
use rayon::prelude::*;
use sealspan_life::life::Life;
use serde::Serialize;

/// Seals running now at one age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Running {
    /// Age in units of the clock.
    pub age: f64,
    /// How many.
    pub count: usize,
}

/// The question.
#[derive(Debug, Clone)]
pub struct Outlook<'a> {
    /// Seals running now.
    pub running: &'a [Running],
    /// The fitted life.
    pub life: &'a Life,
    /// Lives drawn from what the fit leaves open; empty when the life is taken as known.
    pub draws: &'a [Life],
    /// How far ahead, units of the clock.
    pub horizon: f64,
    /// Equal periods the horizon is cut into.
    pub periods: usize,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Oldest age in the records, if known.
    pub oldest_seen: Option<f64>,
    /// Whether replacements of replacements are to be counted too (the dearer part of the work).
    pub with_renewals: bool,
}

/// An interval for a number of failures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Bounds {
    /// Lower end.
    pub lower: usize,
    /// Upper end.
    pub upper: usize,
}

/// What the draws of the life say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Predictive {
    /// Expected failures, averaged over the draws.
    pub expected: f64,
    /// Probability of 0, 1, 2, ... failures, averaged over the draws.
    pub pmf: Option<Vec<f64>>,
    /// Number of draws.
    pub draws: usize,
    /// Monte-Carlo standard error of the probability at each interval end.
    pub end_probability_error: f64,
}

/// Failures from now until the end of a period.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Period {
    /// End of the period, units of the clock from now.
    pub until: f64,
    /// Expected failures from now to then.
    pub expected: f64,
    /// Lower end of the interval.
    pub lower: usize,
    /// Upper end of the interval.
    pub upper: usize,
}

/// All replacements on failure, those of replacements included.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Renewals {
    /// Expected replacements at the fitted life.
    pub expected: f64,
    /// Lower end of the interval, of the same kind as the forecast's.
    pub lower: usize,
    /// Upper end.
    pub upper: usize,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Forecast {
    /// Seals running now.
    pub running: usize,
    /// Expected first failures at the fitted life.
    pub expected: f64,
    /// Lower end of the prediction interval.
    pub lower: usize,
    /// Upper end of the prediction interval.
    pub upper: usize,
    /// Level of the intervals.
    pub confidence: f64,
    /// What kind of interval `lower` and `upper` are.
    pub interval: &'static str,
    /// Probability of 0, 1, 2, ... failures at the fitted life.
    pub pmf: Option<Vec<f64>>,
    /// Why there is no list of probabilities.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pmf_reason: Option<String>,
    /// The interval if the fitted life were the true one: too narrow by itself.
    pub plug_in: Bounds,
    /// The forecast averaged over the draws of the life, which `lower` and `upper` are from.
    pub predictive: Option<Predictive>,
    /// Failures by the end of each period, from now.
    pub by_period: Vec<Period>,
    /// The same with the failures of replacements counted too.
    pub renewals: Option<Renewals>,
    /// Why there is no count with replacements of replacements.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub renewals_reason: Option<String>,
    /// Share of the running seals that pass the oldest age in the records within the horizon.
    pub beyond_oldest: Option<f64>,
    /// The number of first failures that `lower` and `upper` are quantiles of, however long its list would be.
    #[serde(skip)]
    pub counts: Counts,
    /// The same at the fitted life, which `plug_in` is from.
    #[serde(skip)]
    pub known: Counts,
    /// How the probabilities were worked out.
    pub method: String,
    /// What to know before using the figures.
    pub notes: Vec<String>,
}

/// Longest list of probabilities written out.
const LISTED: usize = 10_000;
/// Most periods.
const MOST_PERIODS: usize = 1000;
/// Fewest draws that give interval ends worth printing.
const FEWEST_DRAWS: usize = 50;
/// Grid steps of the renewal counts, for the answer and for each draw.
const STEPS: usize = 400;
const DRAW_STEPS: usize = 100;
/// Above this share of seals past the oldest age seen, the forecast rests on the law, not on records.
const MUCH_BEYOND: f64 = 0.05;

impl Outlook<'_> {
    /// Forecasts the first failures: exact Poisson-binomial sums at the fitted life, and their
    /// average over the draws for the intervals.
    ///
    /// # Errors
    /// When an age, the horizon, the level or the number of periods is out of range, nothing runs,
    /// or there are some draws but fewer than 50.
    ///
    /// ```
    /// use sealspan_care::forecast::{Outlook, Running};
    /// use sealspan_life::life::Life;
    /// let life = Life::exponential(100.0).unwrap();
    /// let running = [Running { age: 10.0, count: 1 }, Running { age: 70.0, count: 1 }];
    /// let outlook = Outlook { running: &running, life: &life, draws: &[], horizon: 100.0, periods: 1, confidence: 0.9, oldest_seen: None, with_renewals: false };
    /// assert!((outlook.forecast()?.expected - 2.0 * (1.0 - (-1f64).exp())).abs() < 1e-12);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn forecast(&self) -> Result<Forecast> {
        self.check()?;
        let running = merged(self.running);
        let total: usize = running.iter().map(|r| r.count).sum();
        let plug_in = self.known(&running, self.horizon);
        let predictive = self.averaged(&running, self.horizon);
        let ends = self.bounds(predictive.as_ref().unwrap_or(&plug_in.0));
        let beyond_oldest = self.beyond_oldest(&running, total);
        let pmf = plug_in.0.listed_from_zero(LISTED);
        let told = predictive.as_ref().map(|counts| self.predictive(counts));
        let (renewals, renewals_reason) = match self.with_renewals.then(|| self.renewals(&running))
        {
            Some(Ok(renewals)) => (Some(renewals), None),
            Some(Err(error)) => (None, Some(error.to_string())),
            None => (None, Some("Not asked for.".to_owned())),
        };
        Ok(Forecast {
            running: total,
            expected: self.expected(&running, self.horizon),
            lower: ends.lower,
            upper: ends.upper,
            confidence: self.confidence,
            interval: if told.is_some() {
                "prediction interval, allowing for the estimated life"
            } else {
                "plug-in prediction interval, as if the life were known"
            },
            pmf_reason: pmf
                .is_none()
                .then(|| format!("More than {LISTED} values would have to be listed.")),
            pmf,
            plug_in: self.bounds(&plug_in.0),
            predictive: told,
            by_period: self.by_period(&running, ends),
            renewals,
            renewals_reason,
            beyond_oldest,
            method: in_words(plug_in.1),
            notes: self.notes(beyond_oldest),
            counts: predictive.unwrap_or_else(|| plug_in.0.clone()),
            known: plug_in.0,
        })
    }

    fn check(&self) -> Result<()> {
        positive("the horizon", self.horizon)?;
        share("the confidence", self.confidence)?;
        for seal in self.running {
            not_negative("the age of a running seal", seal.age)?;
        }
        if self.running.iter().all(|seal| seal.count == 0) {
            return Err(Error::no_answer(
                "Nothing to forecast: no seal is running now.",
            ));
        }
        if self.periods == 0 || self.periods > MOST_PERIODS {
            return Err(Error::input(
                "the number of periods",
                self.periods,
                "give 1 to 1000",
            ));
        }
        if (1..FEWEST_DRAWS).contains(&self.draws.len()) {
            return Err(Error::input(
                "the number of draws of the life",
                self.draws.len(),
                "give at least 50 (a few hundred are better), or none for a plug-in interval",
            ));
        }
        Ok(())
    }

    fn expected(&self, running: &[Running], span: f64) -> f64 {
        groups(self.life, running, span)
            .iter()
            .map(|g| g.count as f64 * g.chance)
            .sum()
    }

    fn known(&self, running: &[Running], span: f64) -> (Counts, Method) {
        number_failing(&groups(self.life, running, span), Effort::CAREFUL)
    }

    /// Average over the draws; collected in order, so the bytes do not depend on the threads.
    fn averaged(&self, running: &[Running], span: f64) -> Option<Counts> {
        let parts: Vec<Counts> = self
            .draws
            .par_iter()
            .map(|life| number_failing(&groups(life, running, span), Effort::QUICK).0)
            .collect();
        Counts::mixture(&parts)
    }

    fn bounds(&self, counts: &Counts) -> Bounds {
        let side = 0.5 * (1.0 - self.confidence);
        Bounds {
            lower: counts.quantile(side),
            upper: counts.quantile(1.0 - side),
        }
    }

    fn predictive(&self, counts: &Counts) -> Predictive {
        let side = 0.5 * (1.0 - self.confidence);
        Predictive {
            expected: counts.mean(),
            pmf: counts.listed_from_zero(LISTED),
            draws: self.draws.len(),
            end_probability_error: (side * (1.0 - side) / self.draws.len() as f64).sqrt(),
        }
    }

    fn by_period(&self, running: &[Running], whole: Bounds) -> Vec<Period> {
        (1..=self.periods)
            .map(|i| {
                let until = self.horizon * i as f64 / self.periods as f64;
                let ends = if i == self.periods {
                    whole
                } else {
                    let counts = self.averaged(running, until);
                    self.bounds(&counts.unwrap_or_else(|| self.known(running, until).0))
                };
                Period {
                    until,
                    expected: self.expected(running, until),
                    lower: ends.lower,
                    upper: ends.upper,
                }
            })
            .collect()
    }

    fn renewals(&self, running: &[Running]) -> Result<Renewals> {
        let known = replacements(self.life, running, self.horizon, STEPS, Effort::CAREFUL)?;
        let drawn: Vec<Counts> = self
            .draws
            .par_iter()
            .map(|life| replacements(life, running, self.horizon, DRAW_STEPS, Effort::QUICK))
            .collect::<Result<_>>()?;
        let ends = self.bounds(&Counts::mixture(&drawn).unwrap_or_else(|| known.clone()));
        Ok(Renewals {
            expected: known.mean(),
            lower: ends.lower,
            upper: ends.upper,
        })
    }

    fn beyond_oldest(&self, running: &[Running], total: usize) -> Option<f64> {
        let oldest = self.oldest_seen?;
        let past: usize = running
            .iter()
            .filter(|seal| seal.age + self.horizon > oldest)
            .map(|seal| seal.count)
            .sum();
        Some(past as f64 / total as f64)
    }

    fn notes(&self, beyond_oldest: Option<f64>) -> Vec<String> {
        let mut notes = vec![
            "Counts the first failure of each seal now running; failures of their replacements are in `renewals`.".to_owned(),
        ];
        if self.draws.is_empty() {
            notes.push(
                "The life is taken as known: an interval from an estimated life would be wider."
                    .to_owned(),
            );
        }
        if self
            .oldest_seen
            .is_some_and(|oldest| self.horizon > 2.0 * oldest)
        {
            notes.push(
                "The horizon is more than twice the oldest age in the records: only the law speaks there; do not plan on it."
                    .to_owned(),
            );
        }
        if let Some(past) = beyond_oldest.filter(|past| *past > MUCH_BEYOND) {
            notes.push(format!(
                "Extrapolated: {:.0} % of the running seals pass the oldest age in the records within the horizon.",
                100.0 * past
            ));
        }
        notes
    }
}

/// Equal ages brought together, youngest first.
fn merged(running: &[Running]) -> Vec<Running> {
    let mut sorted: Vec<Running> = running.iter().copied().filter(|r| r.count > 0).collect();
    sorted.sort_by(|a, b| a.age.total_cmp(&b.age));
    sorted.dedup_by(|next, kept| {
        let same = next.age == kept.age;
        if same {
            kept.count += next.count;
        }
        same
    });
    sorted
}

fn groups(life: &Life, running: &[Running], span: f64) -> Vec<Group> {
    running
        .iter()
        .map(|seal| Group {
            count: seal.count,
            chance: chance_of_failing(life, seal.age, span),
        })
        .collect()
}

fn in_words(method: Method) -> String {
    match method {
        Method::Exact => "Exact sum over the seals (Poisson-binomial).".to_owned(),
        Method::Pooled(wider) => format!(
            "Sum over the seals with neighbouring chances pooled; the variance is {:.1e} too large, as a share.",
            wider
        ),
        Method::Normal(variance) => format!(
            "Normal law with continuity and skewness correction; error of a probability up to about {:.0e}.",
            0.1 / variance
        ),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::{Outlook, Running, in_words, merged};
    use crate::successes::Method;
    use sealspan_life::life::Life;

    #[test]
    fn seals_of_one_age_are_counted_together() {
        let seals = |age: f64, count: usize| Running { age, count };
        let listed = [
            seals(50.0, 3),
            seals(20.0, 1),
            seals(50.0, 5),
            seals(70.0, 0),
            seals(50.0, 2),
        ];
        assert_eq!(merged(&listed), [seals(20.0, 1), seals(50.0, 10)]);
    }

    /// With draws of the life the interval allows for them; without, the life is said to be taken as known.
    #[test]
    fn an_interval_says_whether_the_life_counts_as_known() {
        let life = Life::weibull(2.0, 100.0).unwrap();
        let draws = vec![life.clone(); 50];
        let running = [Running {
            age: 40.0,
            count: 8,
        }];
        for (draws, interval, known) in [
            (
                &draws[..],
                "prediction interval, allowing for the estimated life",
                false,
            ),
            (
                &[],
                "plug-in prediction interval, as if the life were known",
                true,
            ),
        ] {
            let outlook = Outlook {
                running: &running,
                life: &life,
                draws,
                horizon: 30.0,
                periods: 1,
                confidence: 0.9,
                oldest_seen: None,
                with_renewals: false,
            };
            let found = outlook.forecast().unwrap();
            assert_eq!(found.interval, interval);
            assert_eq!(found.predictive.is_none(), known);
            let said = |note: &String| note.starts_with("The life is taken as known");
            assert_eq!(found.notes.iter().any(said), known);
            assert!(found.method.starts_with("Exact sum"), "{}", found.method);
        }
    }

    #[test]
    fn the_way_counts_were_summed_is_said() {
        for (method, words) in [
            (
                Method::Exact,
                "Exact sum over the seals (Poisson-binomial).",
            ),
            (
                Method::Pooled(2e-4),
                "Sum over the seals with neighbouring chances pooled; the variance is 2.0e-4 too large, as a share.",
            ),
            (
                Method::Normal(1e3),
                "Normal law with continuity and skewness correction; error of a probability up to about 1e-4.",
            ),
        ] {
            assert_eq!(in_words(method), words);
        }
    }
}
