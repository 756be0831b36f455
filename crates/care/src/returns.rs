//! For makers: what will come back of batches shipped, how many seals a service kit needs, and the reserve.

use crate::ahead::matched::matched;
use crate::counts::Counts;
use crate::error::{Error, Result, not_negative, positive, share};
use crate::successes::chance_of_failing;
use sealspan_life::life::Life;
use serde::Serialize;

/// A batch as shipped.
#[derive(Debug, Clone, PartialEq)]
pub struct Shipped {
    /// Its name.
    pub batch: String,
    /// Seals shipped.
    pub quantity: usize,
    /// Time in service now, units of the life's clock.
    pub age: f64,
    /// Seals that have come back already.
    pub returned: usize,
}

/// What is expected of one batch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BatchReturns {
    /// Its name.
    pub batch: String,
    /// Seals still out.
    pub out: usize,
    /// Expected to come back within the horizon.
    pub expected: f64,
    /// Lower end of the prediction interval.
    pub lower: usize,
    /// Upper end.
    pub upper: usize,
    /// Already returned, and expected to have been by now at the life given: far apart, the batch is not of that
    /// life.
    pub returned: usize,
    /// Expected to have come back by now.
    pub expected_by_now: f64,
}

/// All batches.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Returns {
    /// By batch, as given.
    pub batches: Vec<BatchReturns>,
    /// Expected within the horizon, all together.
    pub expected: f64,
    /// Lower end of the prediction interval.
    pub lower: usize,
    /// Upper end.
    pub upper: usize,
    /// Money expected for them.
    pub expected_cost: f64,
    /// Money that is enough with the chance asked for.
    pub reserve: f64,
    /// That chance.
    pub reserve_chance: f64,
}

/// The question.
#[derive(Debug, Clone)]
pub struct ReturnsQuestion<'a> {
    /// The life at the estimate.
    pub life: &'a Life,
    /// Lives within what the estimate leaves open; empty when taken as known.
    pub draws: &'a [Life],
    /// How far ahead, units of the life's clock.
    pub horizon: f64,
    /// Failures count up to this age, units of the life's clock; `None`: at any age.
    pub warranty: Option<f64>,
    /// Share of failures within the warranty that are sent back.
    pub claimed: f64,
    /// Money for one return.
    pub cost: f64,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Chance that the reserve must be enough.
    pub reserve_chance: f64,
}

impl ReturnsQuestion<'_> {
    /// Returns of the batches within the horizon: of each seal still out with the chance that it fails within the horizon
    /// and the warranty, times the share claimed; ends of intervals are quantiles of a count of that mean and variance. Failed seals are not replaced by ones that come back too.
    ///
    /// # Errors
    /// When a number is out of its range, a batch has more returns than seals, or there is no batch.
    ///
    /// ```
    /// use sealspan_care::returns::{ReturnsQuestion, Shipped};
    /// use sealspan_life::life::Life;
    /// // Half of the failures are sent back; lives without memory, so a seal fails in 10 days with chance 1 − e^(−1/10).
    /// let life = Life::exponential(100.0).unwrap();
    /// let question = ReturnsQuestion {
    ///     life: &life, draws: &[], horizon: 10.0, warranty: None, claimed: 0.5, cost: 30.0,
    ///     confidence: 0.9, reserve_chance: 0.95,
    /// };
    /// let batch = Shipped { batch: "A".to_owned(), quantity: 40, age: 50.0, returned: 10 };
    /// let answer = question.answer(&[batch])?;
    /// let expected = 30.0 * 0.5 * (1.0 - (-0.1f64).exp());
    /// assert!((answer.expected - expected).abs() < 1e-9);
    /// assert!((answer.expected_cost - 30.0 * expected).abs() < 1e-9);
    /// assert!((answer.batches[0].expected_by_now - 40.0 * 0.5 * (1.0 - (-0.5f64).exp())).abs() < 1e-9);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn answer(&self, shipped: &[Shipped]) -> Result<Returns> {
        self.check(shipped)?;
        let side = 0.5 * (1.0 - self.confidence);
        let mut expected = 0.0;
        let batches: Vec<BatchReturns> = shipped
            .iter()
            .map(|batch| {
                let counts = self.averaged(std::slice::from_ref(batch));
                let here = self.moments(self.life, std::slice::from_ref(batch)).0;
                expected += here;
                let seen = self.warranty.map_or(batch.age, |w| batch.age.min(w));
                BatchReturns {
                    batch: batch.batch.clone(),
                    out: batch.quantity - batch.returned,
                    expected: here,
                    lower: counts.quantile(side),
                    upper: counts.quantile(1.0 - side),
                    returned: batch.returned,
                    expected_by_now: batch.quantity as f64 * self.claimed * self.life.failed(seen),
                }
            })
            .collect();
        let all = self.averaged(shipped);
        Ok(Returns {
            batches,
            expected,
            lower: all.quantile(side),
            upper: all.quantile(1.0 - side),
            expected_cost: expected * self.cost,
            reserve: all.quantile(self.reserve_chance) as f64 * self.cost,
            reserve_chance: self.reserve_chance,
        })
    }

    fn check(&self, shipped: &[Shipped]) -> Result<()> {
        positive("the horizon", self.horizon)?;
        share("the confidence", self.confidence)?;
        share("the chance that the reserve is enough", self.reserve_chance)?;
        not_negative("the cost of a return", self.cost)?;
        if let Some(age) = self.warranty {
            positive("the warranty", age)?;
        }
        if !(self.claimed > 0.0 && self.claimed <= 1.0) {
            return Err(Error::input(
                "the share of failures sent back",
                self.claimed,
                "give a share above 0 and at most 1",
            ));
        }
        for batch in shipped {
            not_negative("the age of a batch", batch.age)?;
            if batch.returned > batch.quantity {
                return Err(Error::no_answer(format!(
                    "Batch {} has {} returns of {} seals shipped: correct the one or the other.",
                    batch.batch, batch.returned, batch.quantity
                )));
            }
        }
        if shipped.iter().all(|b| b.quantity == b.returned) {
            return Err(Error::no_answer("No seal of any batch is still out."));
        }
        Ok(())
    }

    /// Mean and variance of the returns at one life.
    fn moments(&self, life: &Life, shipped: &[Shipped]) -> (f64, f64) {
        shipped.iter().fold((0.0, 0.0), |(mean, variance), batch| {
            let span = match self.warranty {
                Some(end) => self.horizon.min(end - batch.age).max(0.0),
                None => self.horizon,
            };
            let p = self.claimed * chance_of_failing(life, batch.age, span);
            let n = (batch.quantity - batch.returned) as f64;
            (mean + n * p, variance + n * p * (1.0 - p))
        })
    }

    fn averaged(&self, shipped: &[Shipped]) -> Counts {
        let of = |life: &Life| {
            let (mean, variance) = self.moments(life, shipped);
            matched(mean, variance)
        };
        let drawn: Vec<Counts> = self.draws.iter().map(of).collect();
        Counts::mixture(&drawn).unwrap_or_else(|| of(self.life))
    }
}

/// How many of one part a service kit holds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Kit {
    /// Positions served at one service.
    pub positions: usize,
    /// Seals expected to need replacement.
    pub expected: f64,
    /// Seals in the kit.
    pub quantity: usize,
    /// Chance that they are enough.
    pub enough: f64,
}

/// The kit for `positions` positions looked after every `every`: enough seals for those that fail in between, with
/// chance `target` (binomial, averaged over the draws).
///
/// # Errors
/// When a number is out of its range.
///
/// ```
/// use sealspan_care::returns::kit;
/// use sealspan_life::life::Life;
/// // Ten positions of which half fail between services: P(X ≤ 7) = 0.945, P(X ≤ 8) = 0.989.
/// let life = Life::exponential(100.0).unwrap();
/// let kit = kit(&life, &[], 10, 100.0 * 2.0_f64.ln(), 0.95)?;
/// assert!(kit.quantity == 8 && (kit.expected - 5.0).abs() < 1e-9);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn kit(life: &Life, draws: &[Life], positions: usize, every: f64, target: f64) -> Result<Kit> {
    positive("the time between services", every)?;
    share("the chance that the kit is enough", target)?;
    if positions == 0 || positions > 1_000_000 {
        return Err(Error::input(
            "the positions of a kit",
            positions,
            "give 1 to 1,000,000",
        ));
    }
    let of = |life: &Life| Counts::binomial(positions, life.failed(every), 1e-15);
    let drawn: Vec<Counts> = draws.iter().map(of).collect();
    let counts = Counts::mixture(&drawn).unwrap_or_else(|| of(life));
    let quantity = counts.quantile(target);
    Ok(Kit {
        positions,
        expected: positions as f64 * life.failed(every),
        quantity,
        enough: (0..=quantity)
            .map(|k| counts.probability(k))
            .sum::<f64>()
            .min(1.0),
    })
}
