//! How sure the replacement age is: the same question asked of many lives the records leave open.

use crate::costs::Costs;
use crate::error::{Error, Result, positive, share};
use crate::replacement::{Evaluator, Goal};
use rayon::prelude::*;
use sealspan_life::life::Life;
use serde::Serialize;

/// An interval; an open upper end is `None`.
pub type Range = (f64, Option<f64>);

/// What the draws of the life say about a policy of replacing at an age, or never.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AgeSpread {
    /// Draws that gave an answer.
    pub draws: usize,
    /// Draws left out because they have no long-run cost.
    pub left_out: usize,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Best age by draw; the upper end is `None` when never replacing is best at that level, and
    /// the whole is `None` when it is so at the lower level too.
    pub best_age: Option<Range>,
    /// Share of draws in which never replacing before failure is best.
    pub never_best: f64,
    /// Cost rate of the policy advised, money per unit of the clock.
    pub cost_rate: (f64, f64),
    /// Cost rate of replacing on failure only.
    pub run_to_failure: (f64, f64),
    /// Share of draws in which the policy advised costs more than replacing on failure only.
    pub worse_than_failure: f64,
    /// Mean extra cost of the policy advised over each draw's own best, money per unit of the
    /// clock: the most that knowing the life would be worth.
    pub mean_regret: f64,
}

/// Fewest draws that give interval ends worth printing.
const FEWEST: usize = 50;

struct Seen {
    best_age: f64,
    cost: f64,
    run: f64,
    regret: f64,
}

/// Asks each draw for its best age by cost, and what the `advised` age (`None`: never) costs there.
///
/// The intervals are percentiles of the draws, so they are as good as the law the draws come from.
///
/// # Errors
/// When there are fewer than 50 draws or most have no long-run cost, the level or age is out of
/// range, or a planned replacement is free.
///
/// ```
/// use sealspan_care::{age_spread::age_spread, costs::{Costs, Prices}};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// let draws: Vec<_> = (0..50).map(|i| Life::weibull(2.0, 900.0 + 4.0 * f64::from(i)).unwrap()).collect();
/// let prices = Prices { planned_cost: 1.0, failure_cost: 5.0, ..Prices::default() };
/// let spread = age_spread(&draws, &Costs::new(prices, Clock::Days)?, Some(510.0), 0.9)?;
/// assert_eq!((spread.never_best, spread.worse_than_failure), (0.0, 0.0));
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn age_spread(
    draws: &[Life],
    costs: &Costs,
    advised: Option<f64>,
    confidence: f64,
) -> Result<AgeSpread> {
    share("the confidence", confidence)?;
    if let Some(age) = advised {
        positive("the replacement age", age)?;
    }
    let asked: Vec<Result<Seen>> = draws
        .par_iter()
        .map(|life| one(life, costs, advised))
        .collect();
    if let Some(bad) = asked
        .iter()
        .filter_map(|r| r.as_ref().err())
        .find(|e| e.is_input())
    {
        return Err(bad.clone());
    }
    let seen: Vec<Seen> = asked.into_iter().filter_map(Result::ok).collect();
    if seen.len() < FEWEST || 2 * seen.len() < draws.len() {
        return Err(Error::no_answer(format!(
            "No interval for the replacement age: {} of {} draws of the life give a long-run cost, and at least {FEWEST} and half of them are needed.",
            seen.len(),
            draws.len()
        )));
    }
    Ok(summary(&seen, draws.len(), confidence))
}

fn one(life: &Life, costs: &Costs, advised: Option<f64>) -> Result<Seen> {
    let evaluator = Evaluator::new(life, costs, Goal::Cost)?;
    let run = evaluator.run_to_failure_rate();
    let best_age = evaluator.best_age()?;
    let cost = advised.map_or(run, |age| evaluator.cost_rate(age));
    let best = best_age.map_or(run, |age| evaluator.cost_rate(age));
    Ok(Seen {
        best_age: best_age.unwrap_or(f64::INFINITY),
        cost,
        run,
        regret: cost - best.min(run),
    })
}

fn summary(seen: &[Seen], asked: usize, confidence: f64) -> AgeSpread {
    let n = seen.len() as f64;
    let ends = |f: &dyn Fn(&Seen) -> f64| percentiles(seen.iter().map(f).collect(), confidence);
    let portion = |f: &dyn Fn(&Seen) -> bool| seen.iter().filter(|s| f(s)).count() as f64 / n;
    let (young, old) = ends(&|s| s.best_age);
    AgeSpread {
        draws: seen.len(),
        left_out: asked - seen.len(),
        confidence,
        best_age: young
            .is_finite()
            .then(|| (young, old.is_finite().then_some(old))),
        never_best: portion(&|s| s.best_age.is_infinite()),
        cost_rate: ends(&|s| s.cost),
        run_to_failure: ends(&|s| s.run),
        worse_than_failure: portion(&|s| s.cost > s.run),
        mean_regret: seen.iter().map(|s| s.regret).sum::<f64>() / n,
    }
}

/// The draws' own values at both ends of the middle `confidence`.
fn percentiles(mut values: Vec<f64>, confidence: f64) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let at = |p: f64| {
        let place = (p * values.len() as f64).ceil().max(1.0) as usize - 1;
        values.get(place).copied().unwrap_or(f64::NAN)
    };
    let side = 0.5 * (1.0 - confidence);
    (at(side), at(1.0 - side))
}

#[cfg(test)]
mod tests {
    use super::percentiles;

    /// The end at a share p is the least value that at least that share of all does not pass.
    #[test]
    fn ends_are_the_least_values_that_a_share_does_not_pass() {
        let values: Vec<f64> = (1..=37).map(|i| f64::from(i * i)).collect();
        for confidence in [0.5, 0.8, 0.95] {
            let (low, high) = percentiles(values.iter().rev().copied().collect(), confidence);
            let side = 0.5 * (1.0 - confidence);
            for (end, share) in [(low, side), (high, 1.0 - side)] {
                let up_to = |v: f64| values.iter().filter(|x| **x <= v).count() as f64 / 37.0;
                let least = values.iter().copied().find(|v| up_to(*v) >= share);
                assert_eq!(Some(end), least, "{confidence} {share}");
            }
        }
    }
}
