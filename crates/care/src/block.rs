//! Block replacement: all seals of a group at fixed times, whatever their age, and each on failure.
//!
//! B(T) = (c_p + c_f M(T))/T with M the renewal function. A best T need not exist, and a local one can
//! be dearer than replacing on failure only; both are said. Downtime is priced in but takes no time
//! here: failures are few within a block.

use crate::costs::Costs;
use crate::error::{Error, Result};
use crate::seal::weibull;
use crate::search::{self, Valley};
use sealspan_life::life::Life;
use sealspan_numeric::renewal::{on_grid, weibull_series};
use sealspan_numeric::roots::bracketed;
use serde::Serialize;

/// Blocks of this many mean lives at most.
const MOST_LIVES: f64 = 3.0;
const POINTS: usize = 60;

/// Mean number of failures by an age when each failed seal is replaced at once.
#[derive(Debug, Clone)]
pub struct Renewals {
    life: Life,
    horizon: f64,
    grid: Vec<f64>,
}

/// The best block.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BlockAnswer {
    /// Time between block replacements; `None` when there is none worth it.
    pub every: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Money per unit of the clock.
    pub cost_rate: f64,
    /// Failures in one block per position.
    pub failures_per_block: Option<f64>,
    /// Share saved against replacing on failure only.
    pub saving: f64,
}

impl Renewals {
    /// Solves the renewal equation of a life up to `horizon`.
    ///
    /// # Errors
    /// When the horizon is out of range or the mean life is not finite.
    ///
    /// ```
    /// use sealspan_care::block::Renewals;
    /// use sealspan_life::life::Life;
    /// let renewals = Renewals::new(&Life::weibull(2.0, 1.0).unwrap(), 3.0)?;
    /// assert!((renewals.mean(1.0) - 0.75369127753704).abs() < 1e-9);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn new(life: &Life, horizon: f64) -> Result<Self> {
        crate::error::positive("the horizon", horizon)?;
        let mean = life.mean();
        if !mean.is_finite() || horizon > 20.0 * mean {
            return Err(Error::input(
                "the horizon",
                horizon,
                "give at most 20 mean lives; beyond, failures come at the rate of one in a mean life",
            ));
        }
        Ok(Self {
            grid: on_grid(|t| life.failed(t), horizon),
            life: life.clone(),
            horizon,
        })
    }

    /// M(t), a number of failures, for t (units of the clock) up to the horizon.
    #[must_use]
    pub fn mean(&self, t: f64) -> f64 {
        self.mean_and_slope(t).0
    }

    /// M(t) and its slope, the renewal density.
    fn mean_and_slope(&self, t: f64) -> (f64, f64) {
        if t <= 0.0 {
            return (0.0, 0.0);
        }
        if let Some((shape, scale)) = weibull(&self.life)
            && let Some((mean, slope)) = weibull_series(shape, t / scale)
        {
            return (mean, slope / scale);
        }
        self.between(t)
    }

    /// Seven-point interpolation on the grid.
    fn between(&self, t: f64) -> (f64, f64) {
        const SIDE: usize = 3;
        let steps = self.grid.len().saturating_sub(1);
        let step = self.horizon / steps.max(1) as f64;
        let place = (t / step).min(steps as f64);
        let start = (place as usize)
            .saturating_sub(SIDE)
            .min(steps.saturating_sub(2 * SIDE));
        let points: Vec<(f64, f64)> = (start..=start + 2 * SIDE)
            .filter_map(|i| self.grid.get(i).map(|m| (i as f64, *m)))
            .collect();
        let (mut value, mut slope) = (0.0, 0.0);
        for (i, (x, m)) in points.iter().enumerate() {
            let others = || points.iter().enumerate().filter(move |(j, _)| *j != i);
            let base: f64 = others().map(|(_, (y, _))| (place - y) / (x - y)).product();
            let bend: f64 = others()
                .map(|(j, (y, _))| {
                    let rest = others().filter(|(k, _)| *k != j);
                    rest.map(|(_, (z, _))| (place - z) / (x - z))
                        .product::<f64>()
                        / (x - y)
                })
                .sum();
            value += m * base;
            slope += m * bend;
        }
        (value, slope / step)
    }
}

/// The best time between block replacements of one position's seals.
///
/// # Errors
/// When the mean life is not finite or a planned replacement costs nothing.
///
/// ```
/// use sealspan_care::block::{best_block, local_blocks, Renewals};
/// use sealspan_care::costs::{Costs, Prices};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// let costs = Costs::new(Prices { planned_cost: 1.0, failure_cost: 10.0, ..Prices::default() }, Clock::Days)?;
/// let life = Life::weibull(2.0, 100.0).unwrap();
/// let best = best_block(&life, &costs)?;
/// let every = best.every.unwrap();
/// // B′(T) = 0 says that B(T) = c_f m(T), m the renewal density: here by differences of M.
/// let renewals = Renewals::new(&life, 2.0 * every)?;
/// let density = (renewals.mean(every + 0.01) - renewals.mean(every - 0.01)) / 0.02;
/// assert!((best.cost_rate / (10.0 * density) - 1.0).abs() < 1e-6);
/// assert_eq!(local_blocks(&life, 1.0, 10.0)?[0], (every, best.cost_rate));
/// // Lives without memory: nothing is won, a failure in a mean life remains.
/// let lasting = best_block(&Life::exponential(100.0).unwrap(), &costs)?;
/// assert!(lasting.every.is_none() && (lasting.cost_rate - 0.1).abs() < 1e-12);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn best_block(life: &Life, costs: &Costs) -> Result<BlockAnswer> {
    let (planned, failed) = (costs.planned_money(), costs.failure_money());
    if planned <= 0.0 {
        return Err(Error::input(
            "the planned cost",
            planned,
            "give what a planned replacement costs; if it were free, replacing all the time would be best",
        ));
    }
    let mean = life.mean();
    let renewals = Renewals::new(life, MOST_LIVES * mean)?;
    let run = failed / mean;
    let valleys = local_best(&renewals, planned, failed);
    let best = valleys.first().copied();
    Ok(match best {
        Some(best) if best.value < run * (1.0 - 1e-9) => BlockAnswer {
            every: Some(best.at),
            reason: None,
            cost_rate: best.value,
            failures_per_block: Some(renewals.mean(best.at)),
            saving: 1.0 - best.value / run,
        },
        other => BlockAnswer {
            every: None,
            reason: Some(match other {
                Some(local) => format!(
                    "Not worth it: the best block in its neighbourhood, {:.4} units of the clock, costs {:.2} % more than replacing on failure only.",
                    local.at,
                    100.0 * (local.value / run - 1.0)
                ),
                None => "Not worth it: block replacement has no best time at this ratio of costs."
                    .to_owned(),
            }),
            cost_rate: run,
            failures_per_block: None,
            saving: 0.0,
        },
    })
}

/// Local minima of B(T) up to three mean lives, cheapest first, at the root of T m(T) − M(T) = c_p/c_f: T in units of the
/// clock, and B(T) in money per unit. `planned` and `failed` are c_p and c_f, money. [`best_block`] has an example.
///
/// # Errors
/// When the life has no finite mean.
pub fn local_blocks(life: &Life, planned: f64, failed: f64) -> Result<Vec<(f64, f64)>> {
    let renewals = Renewals::new(life, MOST_LIVES * life.mean())?;
    let found = local_best(&renewals, planned, failed);
    Ok(found
        .into_iter()
        .map(|valley| (valley.at, valley.value))
        .collect())
}

fn local_best(renewals: &Renewals, planned: f64, failed: f64) -> Vec<Valley> {
    let rate = |t: f64| (planned + failed * renewals.mean(t)) / t;
    let slope = |t: f64| {
        let (mean, slope) = renewals.mean_and_slope(t);
        failed * (t * slope - mean) - planned
    };
    let bounds = (1e-3 * renewals.horizon, renewals.horizon);
    let points = search::grid(bounds.0, bounds.1, POINTS);
    let slopes: Vec<f64> = points.iter().map(|t| slope(*t)).collect();
    let mut found: Vec<Valley> = points
        .windows(2)
        .zip(slopes.windows(2))
        .filter_map(|(t, s)| match (t, s) {
            ([a, b], [x, y]) if *x < 0.0 && *y >= 0.0 => bracketed(slope, *a, *b, 1e-14 * b),
            _ => None,
        })
        .map(|at| Valley {
            at,
            value: rate(at),
        })
        .collect();
    found.sort_by(|a, b| a.value.total_cmp(&b.value));
    found
}
