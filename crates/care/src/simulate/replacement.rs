//! Plays replacement by age, seal by seal: the quick way for the commonest policy.

use super::draw::Draw;
use super::moments::{Moments, Sums};
use super::{BLOCK, enough};
use crate::costs::Costs;
use crate::error::Result;
use crate::policy::{Action, Policy, State};
use rayon::prelude::*;
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use serde::Serialize;

/// What the simulation saw.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Simulated {
    /// Money per unit of the clock: total money over total time.
    pub cost_rate: f64,
    /// Standard error of the cost rate (ratio estimator, delta method).
    pub std_error: f64,
    /// Seals played.
    pub seals: usize,
    /// Share that failed before they were replaced.
    pub failed: f64,
}

/// Money and time of the two ends of a cycle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ends {
    pub planned: (f64, f64),
    pub failed: (f64, f64),
}

/// Plays `seals` seals one after another under `policy`.
///
/// # Errors
/// When fewer than 100 seals are asked for.
///
/// ```
/// use sealspan_care::{costs::{Costs, Prices}, policy::Policy, simulate::simulate};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// let life = Life::exponential(100.0).unwrap();
/// let costs = Costs::new(Prices { failure_cost: 5.0, ..Prices::default() }, Clock::Days)?;
/// let seen = simulate(&life, Policy::RunToFailure, &costs, 20_000, 1)?;
/// assert!((seen.cost_rate - 0.05).abs() < 4.0 * seen.std_error);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn simulate(
    life: &Life,
    policy: Policy,
    costs: &Costs,
    seals: usize,
    seed: u64,
) -> Result<Simulated> {
    enough(seals)?;
    let ends = Ends {
        planned: (costs.planned_money(), costs.planned_time()),
        failed: (costs.failure_money(), costs.failure_time()),
    };
    let (moments, failed) = play_ends(life, policy, ends, seals, seed);
    let (cost_rate, std_error) = moments.rate();
    Ok(Simulated {
        cost_rate,
        std_error,
        seals,
        failed,
    })
}

/// Moments of the cycles and the share that failed.
pub(super) fn play_ends(
    life: &Life,
    policy: Policy,
    ends: Ends,
    seals: usize,
    seed: u64,
) -> (Moments, f64) {
    let draw = Draw::new(life);
    let blocks: Vec<(Moments, u32)> = (0..seals.div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| {
            let mut stream = Stream::new(seed, block as u64);
            let size = BLOCK.min(seals - block * BLOCK);
            play_block(&draw, policy, ends, size, &mut stream)
        })
        .collect();
    let mut all = Moments::default();
    let mut failed = 0;
    for (moments, count) in &blocks {
        all.merge(moments);
        failed += u64::from(*count);
    }
    (all, failed as f64 / seals as f64)
}

fn play_block(
    draw: &Draw,
    policy: Policy,
    ends: Ends,
    size: usize,
    stream: &mut Stream,
) -> (Moments, u32) {
    let mut sums = Sums::default();
    let mut failed = 0;
    for _ in 0..size {
        let fails_at = draw.life(stream);
        match policy.next(State { age: 0.0 }) {
            Action::ReplaceAt(age) if age < fails_at => {
                sums.add(ends.planned.0, age + ends.planned.1);
            }
            Action::Run | Action::ReplaceAt(_) => {
                failed += 1;
                sums.add(ends.failed.0, fails_at + ends.failed.1);
            }
        }
    }
    (sums.moments(), failed)
}
