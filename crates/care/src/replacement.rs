//! Replace at an age, or on failure only: the least long-run cost, what it is worth and how flat it is.

use crate::answer::{OffBest, Replace, RunToFailure};
use crate::costs::Costs;
use crate::error::{Error, Result, positive};
use crate::ladder::{Cut, Ladder};
use crate::present;
use crate::rate::Weights;
use sealspan_life::life::Life;
use sealspan_numeric::roots::bracketed;

/// What is to be least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Goal {
    /// Money per unit of the clock.
    #[default]
    Cost,
    /// Time down, so that the availability is greatest.
    Availability,
}

impl Goal {
    /// What is least at the best age, in words.
    #[must_use]
    pub fn measure(self) -> &'static str {
        match self {
            Self::Cost => "cost",
            Self::Availability => "time down",
        }
    }
}

/// A saving below this is no reason to replace early; the age is still given.
pub(crate) const WORTH_DOING: f64 = 0.01;
/// A saving below this is rounding: there is no age.
const NO_GAIN: f64 = 1e-10;
/// Width of the flat zone.
pub const FLAT: f64 = 0.02;
/// Largest cost ratio looked at for [`crate::answer::Replace::pays_from_ratio`].
const GREATEST_RATIO: f64 = 1e6;

/// A life with its costs, ready to be asked.
///
/// ```
/// use sealspan_care::{costs::{Costs, Prices}, replacement::{Evaluator, Goal}};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// // Lives without memory: replaced at 100, (c_p R + c_f F) / (100 F); on failure only, c_f / 100.
/// let prices = Prices { planned_cost: 1.0, failure_cost: 5.0, ..Prices::default() };
/// let life = Life::exponential(100.0).unwrap();
/// let evaluator = Evaluator::new(&life, &Costs::new(prices, Clock::Days)?, Goal::Cost)?;
/// let (r, f) = ((-1.0f64).exp(), 1.0 - (-1.0f64).exp());
/// assert!((evaluator.cost_rate(100.0) - (r + 5.0 * f) / (100.0 * f)).abs() < 1e-12);
/// assert!((evaluator.run_to_failure_rate() - 0.05).abs() < 1e-12);
/// assert_eq!(evaluator.best_age()?, None);
/// assert!((evaluator.run_to_failure().mean_life - 100.0).abs() < 1e-9);
/// let given = evaluator.given(100.0)?;
/// assert!((given.saving - (1.0 - evaluator.cost_rate(100.0) / 0.05)).abs() < 1e-12 && given.saving < 0.0);
/// // The same from its parts, and what is to be least in words.
/// assert!((evaluator.money().rate(&evaluator.ladder().at(100.0)) - evaluator.cost_rate(100.0)).abs() < 1e-15);
/// assert_eq!((Goal::Cost.measure(), Goal::Availability.measure()), ("cost", "time down"));
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Evaluator {
    ladder: Ladder,
    costs: Costs,
    goal: Goal,
    money: Weights,
    aim: Weights,
}

impl Evaluator {
    /// Prepares `life` (in units of the costs' clock).
    ///
    /// # Errors
    /// When the mean life is not finite, a planned replacement weighs nothing, or the goal is
    /// availability on a clock without hours.
    ///
    /// ```
    /// use sealspan_care::{costs::{Costs, Prices}, replacement::{Evaluator, Goal}};
    /// use sealspan_life::life::Life;
    /// use sealspan_records::observation::Clock;
    /// let life = Life::weibull(2.0, 1000.0).unwrap();
    /// let prices = Prices { planned_cost: 1.0, failure_cost: 5.0, ..Prices::default() };
    /// let best = Evaluator::new(&life, &Costs::new(prices, Clock::Days)?, Goal::Cost)?.best()?;
    /// assert!((best.age.unwrap() - 510.655).abs() < 0.001);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn new(life: &Life, costs: &Costs, goal: Goal) -> Result<Self> {
        let money = Weights {
            planned: costs.planned_money(),
            failed: costs.failure_money(),
            planned_time: costs.planned_time(),
            failed_time: costs.failure_time(),
        };
        let aim = match goal {
            Goal::Cost => money,
            Goal::Availability => hours_down(costs)?,
        };
        Ok(Self {
            ladder: Ladder::new(life)?,
            costs: *costs,
            goal,
            money,
            aim,
        })
    }

    /// The life with its integrals.
    #[must_use]
    pub fn ladder(&self) -> &Ladder {
        &self.ladder
    }

    /// Money and time of the two ways a cycle ends.
    #[must_use]
    pub fn money(&self) -> &Weights {
        &self.money
    }

    /// Replacing on failure only: the figures, in the units that [`RunToFailure`] says.
    #[must_use]
    pub fn run_to_failure(&self) -> RunToFailure {
        let mean = self.ladder.mean();
        RunToFailure {
            cost_rate: self.run_to_failure_rate(),
            availability: self
                .costs
                .hours_per_unit()
                .map(|_| mean / (mean + self.money.failed_time)),
            mean_life: mean,
            present_value: self.present_value(self.oldest()),
            left_out_reason: self.left_out(),
        }
    }

    /// Money per unit of the clock when replacing on failure only: c_f / (mean life + d_f).
    #[must_use]
    pub fn run_to_failure_rate(&self) -> f64 {
        self.money.rate_to_failure(self.ladder.mean())
    }

    /// Money per unit of the clock when replacing at `age`: g(T) of [`crate::rate`].
    #[must_use]
    pub fn cost_rate(&self, age: f64) -> f64 {
        self.money.rate(&self.ladder.at(age))
    }

    /// The best age, or why there is none.
    ///
    /// # Errors
    /// When a planned replacement weighs nothing in the goal, or so little for the time it takes that
    /// being down most of the time would look best.
    pub fn best(&self) -> Result<Replace> {
        let (cut, found) = self.best_cut()?;
        Ok(match cut {
            Some(cut) => self.replace_at(&cut, &cut),
            None => self.never(found),
        })
    }

    /// The best cut where there is a gain, and the least-cost cut whether or not there is.
    fn best_cut(&self) -> Result<(Option<Cut>, Option<Cut>)> {
        self.planned_weighs()?;
        let found = self.aim.best(&self.ladder);
        let saving = found.map_or(0.0, |cut| self.saving_at(&cut));
        let gain = self.aim.failed > self.aim.planned && saving > NO_GAIN;
        let cut = found.filter(|_| gain);
        if let Some(cut) = cut {
            self.mostly_up(&cut)?;
        }
        Ok((cut, found))
    }

    /// The best age alone, units of the clock; `None` when never replacing before failure is best.
    ///
    /// # Errors
    /// As [`Evaluator::best`].
    pub fn best_age(&self) -> Result<Option<f64>> {
        Ok(self.best_cut()?.0.map(|cut| cut.age))
    }

    /// A given age (units of the clock), judged against the best one.
    ///
    /// # Errors
    /// When `age` is not a finite number above zero, or as [`Evaluator::best`].
    pub fn given(&self, age: f64) -> Result<Replace> {
        let age = positive("the replacement age", age)?;
        let cut = self.ladder.at(age);
        let best = self.best()?;
        let best_cut = best.age.map(|age| self.ladder.at(age));
        let mut given = self.replace_at(&cut, &best_cut.unwrap_or(cut));
        given.flat_zone = best.flat_zone;
        given.flat_zone_reason = best.flat_zone_reason;
        given.pays_from_ratio = best.pays_from_ratio;
        given.notes = match best.age {
            Some(age) => vec![format!(
                "This age was given. The best one is {age:.4} units of the clock, at a cost of {:.6} per unit of the clock.",
                best.cost_rate
            )],
            None => vec![format!(
                "This age was given. Never replacing before failure is best: {}",
                best.reason.as_deref().unwrap_or_default()
            )],
        };
        Ok(given)
    }

    fn oldest(&self) -> f64 {
        self.ladder.rungs().last().map_or(0.0, |rung| rung.age)
    }

    fn planned_weighs(&self) -> Result<()> {
        if self.aim.planned > 0.0 {
            return Ok(());
        }
        Err(match self.goal {
            Goal::Cost => Error::input(
                "the planned cost",
                0,
                "give what a planned replacement costs; if it were free, replacing all the time would be best",
            ),
            Goal::Availability => Error::input(
                "the planned hours down",
                0,
                "give how long a planned replacement takes; if it took no time, replacing all the time would be best",
            ),
        })
    }

    /// With long hours down and no price on them, a cycle that is mostly downtime can look cheapest.
    fn mostly_up(&self, cut: &Cut) -> Result<()> {
        if cut.service >= self.money.cycle(cut) - cut.service {
            return Ok(());
        }
        Err(Error::no_answer(
            "No best age: at the cheapest one the equipment would be down more than up, because downtime is long and costs next to nothing. Give what an hour down costs, and check that the durations are in hours.",
        ))
    }

    fn saving_at(&self, cut: &Cut) -> f64 {
        1.0 - self.aim.rate(cut) / self.aim.rate_to_failure(self.ladder.mean())
    }

    fn replace_at(&self, cut: &Cut, best: &Cut) -> Replace {
        let saving = self.saving_at(cut);
        Replace {
            age: Some(cut.age),
            reason: None,
            cost_rate: self.money.rate(cut),
            flat_zone_reason: why_open(&self.flat_zone(best.age, self.aim.rate(best))),
            flat_zone: self.flat_zone(best.age, self.aim.rate(best)),
            failure_probability: cut.failed,
            availability: self
                .costs
                .hours_per_unit()
                .map(|_| cut.service / self.money.cycle(cut)),
            mean_cycle: self.money.cycle(cut),
            present_value: self.present_value(cut.age),
            left_out_reason: self.left_out(),
            saving,
            quarter_early: Some(self.off(cut, 0.75)),
            quarter_late: Some(self.off(cut, 1.25)),
            pays_from_ratio: self.pays_from_ratio(),
            notes: worth_note(saving).into_iter().collect(),
        }
    }

    fn never(&self, stationary: Option<Cut>) -> Replace {
        let mean = self.ladder.mean();
        let run = self.run_to_failure();
        let rate = self.aim.rate_to_failure(mean);
        let from = self
            .aim
            .zone(&self.ladder, self.oldest(), rate * (1.0 + FLAT))
            .0;
        Replace {
            age: None,
            reason: Some(self.why_never(stationary)),
            cost_rate: run.cost_rate,
            flat_zone_reason: why_open(&from.map(|age| (age, None))),
            flat_zone: from.map(|age| (age, None)),
            failure_probability: 1.0,
            availability: run.availability,
            mean_cycle: mean + self.money.failed_time,
            present_value: run.present_value,
            left_out_reason: self.left_out(),
            saving: 0.0,
            quarter_early: None,
            quarter_late: None,
            pays_from_ratio: self.pays_from_ratio(),
            notes: vec![],
        }
    }

    fn why_never(&self, stationary: Option<Cut>) -> String {
        let more = match self.goal {
            Goal::Cost => "cost more",
            Goal::Availability => "keep the equipment down longer",
        };
        if self.aim.failed <= self.aim.planned {
            return format!(
                "Not worth it: a failure does not {more} than a planned replacement ({} against {}, all in).",
                self.aim.failed, self.aim.planned
            );
        }
        match stationary {
            Some(cut) if self.ladder.life().hazard_rises() => format!(
                "Not worth it: the least cost would be at age {:.0}, which almost no seal reaches, and the gain there is below rounding.",
                cut.age
            ),
            _ if self.ladder.life().hazard_rises() => {
                "Not worth it: the hazard does not rise enough for an early replacement to pay at this cost ratio.".to_owned()
            }
            _ => "Not worth it: the hazard does not rise with age, so a new seal is no safer than the one it replaces.".to_owned(),
        }
    }

    fn flat_zone(&self, age: f64, rate: f64) -> Option<(f64, Option<f64>)> {
        let (low, high) = self.aim.zone(&self.ladder, age, rate * (1.0 + FLAT));
        low.map(|low| (low, high))
    }

    fn off(&self, cut: &Cut, factor: f64) -> OffBest {
        let other = self.ladder.at(cut.age * factor);
        OffBest {
            age: other.age,
            cost_rate: self.money.rate(&other),
            extra_share: self.aim.rate(&other) / self.aim.rate(cut) - 1.0,
        }
    }

    /// The saving grows with the ratio (each age's rate over the run-to-failure rate falls), so one
    /// root in ln ratio answers.
    fn pays_from_ratio(&self) -> Option<f64> {
        if !self.ladder.life().hazard_rises() {
            return None;
        }
        let short = |ln_ratio: f64| {
            let aim = Weights {
                failed: self.aim.planned * ln_ratio.exp(),
                ..self.aim
            };
            aim.saving(&self.ladder) - WORTH_DOING
        };
        bracketed(short, 1e-9, GREATEST_RATIO.ln(), 1e-12).map(f64::exp)
    }

    fn present_value(&self, age: f64) -> Option<f64> {
        self.costs
            .discount_per_unit()
            .filter(|delta| *delta > 0.0)
            .map(|delta| present::value(&self.ladder, &self.money, delta, age))
    }

    fn left_out(&self) -> Option<String> {
        if self.costs.hours_per_unit().is_none() {
            return self.costs.clock_note().map(str::to_owned);
        }
        (self.costs.prices().discount_rate == 0.0)
            .then(|| "No present value: no discount rate was given.".to_owned())
    }
}

/// Why a flat zone has no upper end, or is none.
fn why_open(zone: &Option<(f64, Option<f64>)>) -> Option<&'static str> {
    match zone {
        Some((_, Some(_))) => None,
        Some((_, None)) => Some("never replacing is within 2 % of the best too"),
        None => Some("no age comes within 2 % of replacing on failure only"),
    }
}

/// Hours down per unit of time in service is least exactly where the availability is greatest.
fn hours_down(costs: &Costs) -> Result<Weights> {
    if costs.hours_per_unit().is_none() {
        return Err(Error::no_answer(
            "No availability on this clock: say how many hours one cycle lasts.",
        ));
    }
    if costs.failure_time() <= 0.0 {
        return Err(Error::input(
            "the failure hours down",
            0,
            "give how long a failure keeps the equipment down; without downtime the availability is 1 whatever is done",
        ));
    }
    Ok(Weights {
        planned: costs.prices().planned_hours,
        failed: costs.prices().failure_hours,
        planned_time: 0.0,
        failed_time: 0.0,
    })
}

fn worth_note(saving: f64) -> Option<String> {
    if saving >= WORTH_DOING {
        return None;
    }
    Some(if saving < 0.0 {
        format!(
            "Worse than replacing on failure only, by {:.2} %.",
            -100.0 * saving
        )
    } else {
        format!(
            "Hardly worth doing: it saves {:.2} % against replacing on failure only.",
            100.0 * saving
        )
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::costs::Prices;
    use sealspan_records::observation::Clock;

    fn evaluator(life: Life, discount_rate: f64, clock: Clock) -> Evaluator {
        let prices = Prices {
            planned_cost: 1.0,
            failure_cost: 5.0,
            discount_rate,
            ..Prices::default()
        };
        Evaluator::new(&life, &Costs::new(prices, clock).unwrap(), Goal::Cost).unwrap()
    }

    /// A hazard that does not rise, and one that rises to twice a new seal's and no further, with a failure at five times
    /// the price.
    #[test]
    fn why_no_age_pays() {
        let life = Life::exponential(100.0).unwrap();
        let why = evaluator(life, 0.0, Clock::Days).best().unwrap().reason;
        assert!(why.unwrap().contains("the hazard does not rise with age"));
        let life = Life::named("gamma", &[("shape", 1.02), ("scale", 100.0)]).unwrap();
        let why = evaluator(life, 0.0, Clock::Days).best().unwrap().reason;
        assert!(why.unwrap().contains("the hazard does not rise enough"));
    }

    #[test]
    fn a_present_value_left_out_has_its_reason() {
        let life = || Life::weibull(2.0, 100.0).unwrap();
        let left_out = |rate, clock| {
            let best = evaluator(life(), rate, clock).best().unwrap();
            assert_eq!(best.present_value.is_none(), best.left_out_reason.is_some());
            best.left_out_reason
        };
        assert_eq!(left_out(0.08, Clock::Days), None);
        let no_rate = left_out(0.0, Clock::Days).unwrap();
        assert_eq!(no_rate, "No present value: no discount rate was given.");
        let cycles = left_out(0.08, Clock::Cycles).unwrap();
        assert_ne!(cycles, no_rate);
    }

    #[test]
    fn an_open_flat_zone_has_its_reason() {
        assert_eq!(why_open(&Some((40.0, Some(60.0)))), None);
        let open = why_open(&Some((40.0, None))).unwrap();
        assert!(open.starts_with("never replacing is within 2 %"));
        assert!(why_open(&None).unwrap().starts_with("no age comes within"));
    }
}
