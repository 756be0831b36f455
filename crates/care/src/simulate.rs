//! Plays a policy event by event, so that the evaluator's formulas have something to agree with.
//!
//! It asks the policy what to do next and knows no formula.

use crate::costs::Costs;
use crate::error::{Error, Result};
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

/// Seals played from one random stream; fixed, so that the result does not depend on the threads.
const BLOCK: usize = 4096;
/// Fewest seals that give a standard error.
const FEWEST: usize = 100;

/// How one seal's cycle ended: money spent, time taken, and whether it failed.
#[derive(Debug, Clone, Copy)]
struct Cycle {
    money: f64,
    time: f64,
    failed: bool,
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
    if seals < FEWEST {
        return Err(Error::input(
            "the number of seals to simulate",
            seals,
            "give at least 100, so that a standard error can be stated",
        ));
    }
    let blocks: Vec<Moments> = (0..seals.div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| {
            let mut stream = Stream::new(seed, block as u64);
            let size = BLOCK.min(seals - block * BLOCK);
            let mut moments = Moments::default();
            for _ in 0..size {
                moments.add(one_seal(life, policy, costs, &mut stream));
            }
            moments
        })
        .collect();
    let mut all = Moments::default();
    for block in &blocks {
        all.merge(block);
    }
    Ok(all.result())
}

fn one_seal(life: &Life, policy: Policy, costs: &Costs, stream: &mut Stream) -> Cycle {
    let fails_at = life.sample(stream.uniform());
    match policy.next(State { age: 0.0 }) {
        Action::ReplaceAt(age) if age < fails_at => Cycle {
            money: costs.planned_money(),
            time: age + costs.planned_time(),
            failed: false,
        },
        Action::Run | Action::ReplaceAt(_) => Cycle {
            money: costs.failure_money(),
            time: fails_at + costs.failure_time(),
            failed: true,
        },
    }
}

/// Means and centred second moments of money and time (Welford 1962; merged after Chan, Golub &
/// LeVeque 1983; from memory).
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    n: f64,
    failed: f64,
    money: f64,
    time: f64,
    money_money: f64,
    money_time: f64,
    time_time: f64,
}

impl Moments {
    fn add(&mut self, cycle: Cycle) {
        self.merge(&Moments {
            n: 1.0,
            failed: f64::from(u8::from(cycle.failed)),
            money: cycle.money,
            time: cycle.time,
            ..Moments::default()
        });
    }

    fn merge(&mut self, other: &Moments) {
        let n = self.n + other.n;
        if n == 0.0 {
            return;
        }
        let (dm, dt) = (other.money - self.money, other.time - self.time);
        let weight = self.n * other.n / n;
        self.money_money += other.money_money + dm * dm * weight;
        self.money_time += other.money_time + dm * dt * weight;
        self.time_time += other.time_time + dt * dt * weight;
        self.money += dm * other.n / n;
        self.time += dt * other.n / n;
        self.failed += other.failed;
        self.n = n;
    }

    fn result(&self) -> Simulated {
        let rate = self.money / self.time;
        let spread = self.money_money - 2.0 * rate * self.money_time + rate * rate * self.time_time;
        let variance = spread.max(0.0) / (self.n - 1.0) / self.n;
        Simulated {
            cost_rate: rate,
            std_error: variance.sqrt() / self.time,
            seals: self.n as usize,
            failed: self.failed / self.n,
        }
    }
}
