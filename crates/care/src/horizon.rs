//! Replacing at an age over a stated time only, such as until the equipment is given up.
//!
//! V(t), the expected money over a time t from a new seal, solves
//! V(t) = ∫₀^min(t,T) (c_f + V(t − x)) dF(x) + [t ≥ T] R(T) (c_p + V(t − T)),
//! stepwise by the trapezoidal Stieltjes sum with the jumps at multiples of T kept apart; the error
//! falls as the square of the step and is about 1e-6 of the value. Downtime is priced but takes no time.

use crate::costs::Costs;
use crate::error::{Error, Result, positive};
use crate::search;
use sealspan_life::life::Life;
use serde::Serialize;

/// Steps over the horizon for an answer and for the search, and horizons of this many mean lives at most.
const STEPS: usize = 2400;
const SEARCH_STEPS: usize = 500;
const MOST_LIVES: f64 = 30.0;
const POINTS: usize = 50;

/// Expected money over the horizon.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HorizonAnswer {
    /// The horizon, units of the clock.
    pub horizon: f64,
    /// Best replacement age over it; `None` when replacing on failure only is best.
    pub age: Option<f64>,
    /// Expected money over it at that age, the first fitting not counted.
    pub expected_cost: f64,
    /// Expected money when replacing on failure only.
    pub on_failure_only: f64,
}

/// Expected money over `horizon` (units of the clock) when replacing at `age`, or on failure only: V(t) of this module;
/// [`best_over`] has an example.
///
/// # Errors
/// When an age or the horizon is out of range.
pub fn expected_cost(life: &Life, costs: &Costs, age: Option<f64>, horizon: f64) -> Result<f64> {
    positive("the horizon", horizon)?;
    if let Some(age) = age {
        positive("the replacement age", age)?;
    }
    let mean = life.mean();
    if !mean.is_finite() || horizon > MOST_LIVES * mean {
        return Err(Error::input(
            "the horizon",
            horizon,
            "it is more than 30 mean lives; use the long-run cost rate instead",
        ));
    }
    Ok(value(life, costs, age, horizon, STEPS))
}

/// The best replacement age over `horizon`.
///
/// # Errors
/// As [`expected_cost`].
///
/// ```
/// use sealspan_care::{costs::{Costs, Prices}, horizon::{best_over, expected_cost}};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// let prices = Prices { planned_cost: 1.0, failure_cost: 5.0, ..Prices::default() };
/// let costs = Costs::new(prices, Clock::Days)?;
/// // Lives without memory: nothing is gained by age, and failures come at one a mean life.
/// let best = best_over(&Life::exponential(100.0).unwrap(), &costs, 400.0)?;
/// assert!(best.age.is_none() && (best.on_failure_only - 20.0).abs() < 0.01);
/// // A planned replacement at 100, 200 and 300 costs 1 more for each seal that gets there.
/// let by_age = expected_cost(&Life::exponential(100.0).unwrap(), &costs, Some(100.0), 400.0)?;
/// assert!(by_age > best.on_failure_only);
/// // Seals that last: three are replaced by plan within 350.
/// let lasting = expected_cost(&Life::weibull(2.0, 1e7).unwrap(), &costs, Some(100.0), 350.0)?;
/// assert!((lasting - 3.0).abs() < 1e-6);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn best_over(life: &Life, costs: &Costs, horizon: f64) -> Result<HorizonAnswer> {
    let on_failure_only = expected_cost(life, costs, None, horizon)?;
    let along = |age: f64| value(life, costs, Some(age), horizon, SEARCH_STEPS);
    let low = life.quantile(1e-3).max(horizon / 200.0);
    let best = if low < horizon {
        search::valleys(&along, (low, horizon * 0.999), POINTS, 3)
            .first()
            .copied()
    } else {
        None
    };
    let exact = best.map(|valley| value(life, costs, Some(valley.at), horizon, STEPS));
    Ok(match (best, exact) {
        (Some(valley), Some(money)) if money < on_failure_only * (1.0 - 1e-6) => HorizonAnswer {
            horizon,
            age: Some(valley.at),
            expected_cost: money,
            on_failure_only,
        },
        _ => HorizonAnswer {
            horizon,
            age: None,
            expected_cost: on_failure_only,
            on_failure_only,
        },
    })
}

fn value(life: &Life, costs: &Costs, age: Option<f64>, horizon: f64, steps: usize) -> f64 {
    let (planned, failed) = (costs.planned_money(), costs.failure_money());
    let age = age.filter(|age| *age <= horizon);
    // The age lies on the grid, so that each jump does.
    let per_age = age.map(|age| ((age / horizon * steps as f64).ceil() as usize).max(4));
    let step = match (age, per_age) {
        (Some(age), Some(count)) => age / count as f64,
        _ => horizon / steps as f64,
    };
    let last = (horizon / step * (1.0 + 1e-12)).floor() as usize + 1;
    let most = per_age.unwrap_or(last);
    let shares: Vec<f64> = (0..=most).map(|i| life.failed(i as f64 * step)).collect();
    let rises: Vec<f64> = shares
        .iter()
        .zip(shares.iter().skip(1))
        .map(|(a, b)| b - a)
        .collect();
    let reaches = age.map_or(0.0, |age| life.survival(age));
    let mut right = vec![0.0f64];
    let mut left = vec![0.0f64];
    for i in 1..=last {
        let near = i.min(most);
        // Cell j spans ages j to j + 1 steps: the money left then is between left(i − j) and right(i − j − 1).
        let later = left.iter().rev();
        let sooner = right.iter().rev();
        let past: f64 = rises
            .iter()
            .take(near)
            .skip(1)
            .zip(later)
            .zip(sooner.clone().skip(1))
            .map(|((rise, a), b)| 0.5 * (a + b) * rise)
            .sum();
        let first = rises.first().copied().unwrap_or(0.0);
        let before = sooner.clone().next().copied().unwrap_or(0.0);
        let share = shares.get(near).copied().unwrap_or(1.0);
        let mut smooth = failed * share + past + 0.5 * first * before;
        let mut jump = 0.0;
        if let Some(count) = per_age
            && i >= count
        {
            let from = i - count;
            smooth += reaches
                * (left.get(from).copied().unwrap_or(0.0) + if from == 0 { 0.0 } else { planned });
            jump = right.get(from).copied().unwrap_or(0.0) - left.get(from).copied().unwrap_or(0.0);
            jump = reaches * (jump + if from == 0 { planned } else { 0.0 });
        }
        let here = smooth / (1.0 - 0.5 * first);
        left.push(here);
        right.push(here + jump);
    }
    // Between the last two grid points the value is smooth: a quadratic through left and right ends.
    let place = horizon / step - (last - 1) as f64;
    let a = right.get(last - 1).copied().unwrap_or(0.0);
    let b = left.get(last).copied().unwrap_or(a);
    a + (b - a) * place.clamp(0.0, 1.0)
}
