//! Plays a whole care policy and says what was seen, with standard errors.

use super::moments::{Moments, Sums};
use super::one::{Cycle, End, Game};
use super::replacement::{Ends, play_ends};
use super::{BLOCK, enough};
use crate::error::{Result, positive};
use crate::policy::{CarePolicy, Looks, Policy};
use crate::seal::{FailureSign, Onset, Seal};
use crate::terms::Terms;
use rayon::prelude::*;
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use serde::Serialize;

/// What was seen over many seals played one after another. Shares are of seals.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Played {
    /// Money per unit of the clock: total money over total time.
    pub cost_rate: f64,
    /// Standard error of the cost rate (ratio estimator, delta method).
    pub std_error: f64,
    /// Seals played.
    pub seals: usize,
    /// Share that failed.
    pub failed: f64,
    /// Share found worn.
    pub found: f64,
    /// Share replaced by schedule.
    pub preventive: f64,
    /// Share spoilt by handling.
    pub damaged: f64,
    /// Share replaced while the asset was open anyway.
    pub opportunity: f64,
    /// Share of time in service and not failed unseen.
    pub availability: f64,
    /// Mean time from one fitting to the next.
    pub mean_cycle: f64,
    /// Looks in a cycle.
    pub inspections_per_cycle: f64,
    /// Turns in a cycle.
    pub turns_per_cycle: f64,
}

/// Counts and times of one block.
#[derive(Debug, Clone, Copy, Default)]
struct Seen {
    moments: Moments,
    ends: [u32; 5],
    up: f64,
    looks: u64,
    turns: u64,
}

/// Plays `seals` seals under a care policy.
///
/// # Errors
/// When fewer than 100 seals are asked for, the policy or the seal is impossible, or no seal would
/// ever be taken off.
///
/// ```
/// use sealspan_care::simulate::{play, play_present_value};
/// use sealspan_care::{policy::CarePolicy, seal::Seal, terms::{Event, Terms}};
/// use sealspan_life::life::Life;
/// // Lives without memory of mean 100, and 40 for each failure: 0.4 a day; discounted at 0.001 a day, 40/(0.001 · 100).
/// let seal = Seal::one_stage(Life::exponential(100.0).unwrap());
/// let terms = Terms { failed: Event { money: 40.0, down: 0.0 }, ..Terms::default() };
/// let policy = CarePolicy::run_to_failure();
/// let played = play(&seal, &policy, &terms, 20_000, 1)?;
/// assert!((played.cost_rate - 0.4).abs() < 4.0 * played.std_error && played.std_error < 0.01);
/// let (worth, error) = play_present_value(&seal, &policy, &terms, 0.001, 20_000, 1)?;
/// assert!((worth - 400.0).abs() < 4.0 * error && error < 10.0);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn play(
    seal: &Seal,
    policy: &CarePolicy,
    terms: &Terms,
    seals: usize,
    seed: u64,
) -> Result<Played> {
    enough(seals)?;
    let seal = seal.clone().checked()?;
    let policy = policy.clone().checked()?;
    // The evaluator's refusals hold here too: a seal that is never taken off would be played for ever.
    crate::evaluate::ends(&seal, &policy)?;
    if let (Onset::Law(life), Some(by_age)) = (&seal.onset, by_age_alone(&seal, &policy)) {
        return Ok(quickly(life, by_age, terms, seals, seed));
    }
    let game = Game::new(&seal, &policy, terms, 0.0)?;
    let blocks: Vec<Seen> = (0..seals.div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| {
            let mut stream = Stream::new(seed, block as u64);
            let size = BLOCK.min(seals - block * BLOCK);
            play_block(&game, size, &mut stream)
        })
        .collect();
    let mut all = Seen::default();
    for block in &blocks {
        all.merge(block);
    }
    Ok(all.result(seals))
}

/// Money now for all cycles to come, and its standard error (ratio estimator, delta method): the mean worth of a
/// cycle's money at its start over one less the mean worth of money at its end. `delta` is the continuous discount
/// rate per unit of the clock.
///
/// # Errors
/// As [`play`], and when `delta` is not a finite number above zero.
pub fn play_present_value(
    seal: &Seal,
    policy: &CarePolicy,
    terms: &Terms,
    delta: f64,
    seals: usize,
    seed: u64,
) -> Result<(f64, f64)> {
    enough(seals)?;
    positive("the discount rate", delta)?;
    let seal = seal.clone().checked()?;
    let policy = policy.clone().checked()?;
    crate::evaluate::ends(&seal, &policy)?;
    let game = Game::new(&seal, &policy, terms, delta)?;
    let blocks: Vec<Moments> = (0..seals.div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| {
            let mut stream = Stream::new(seed, block as u64);
            let mut sums = Sums::default();
            for _ in 0..BLOCK.min(seals - block * BLOCK) {
                let cycle = game.play(&mut stream);
                let end = cycle.service + cycle.down;
                sums.add(cycle.present, -(-delta * end).exp_m1());
            }
            sums.moments()
        })
        .collect();
    let mut all = Moments::default();
    for block in &blocks {
        all.merge(block);
    }
    Ok(all.rate())
}

/// The policy of replacement by age that a policy is, for a seal that fails evidently in one stage.
fn by_age_alone(seal: &Seal, policy: &CarePolicy) -> Option<Policy> {
    let simple = seal.delay.is_none()
        && seal.failure == FailureSign::Evident
        && seal.opportunity_rate == 0.0
        && policy.looks == Looks::Never
        && policy.turn.is_none();
    simple.then(|| {
        policy
            .replace_at
            .map_or(Policy::RunToFailure, Policy::ReplaceAtAge)
    })
}

fn quickly(life: &Life, policy: Policy, terms: &Terms, seals: usize, seed: u64) -> Played {
    let ends = Ends {
        planned: (terms.planned.money, terms.planned.down),
        failed: (terms.failed.money, terms.failed.down),
    };
    let (moments, failed) = play_ends(life, policy, ends, seals, seed);
    let (cost_rate, std_error) = moments.rate();
    let preventive = 1.0 - failed;
    let down = failed * terms.failed.down + preventive * terms.planned.down;
    Played {
        cost_rate,
        std_error,
        seals,
        failed,
        found: 0.0,
        preventive,
        damaged: 0.0,
        opportunity: 0.0,
        availability: 1.0 - down / moments.mean_time(),
        mean_cycle: moments.mean_time(),
        inspections_per_cycle: 0.0,
        turns_per_cycle: 0.0,
    }
}

fn play_block(game: &Game, size: usize, stream: &mut Stream) -> Seen {
    let mut sums = Sums::default();
    let mut seen = Seen::default();
    for _ in 0..size {
        let cycle = game.play(stream);
        sums.add(cycle.money, cycle.service + cycle.down);
        seen.count(&cycle);
    }
    seen.moments = sums.moments();
    seen
}

impl Seen {
    fn count(&mut self, cycle: &Cycle) {
        let place = match cycle.end {
            End::Failed => 0,
            End::Found => 1,
            End::Preventive => 2,
            End::Damaged => 3,
            End::Opportunity => 4,
        };
        if let Some(count) = self.ends.get_mut(place) {
            *count += 1;
        }
        self.up += cycle.service - cycle.unseen;
        self.looks += u64::from(cycle.looks);
        self.turns += u64::from(cycle.turns);
    }

    fn merge(&mut self, other: &Self) {
        self.moments.merge(&other.moments);
        for (count, more) in self.ends.iter_mut().zip(other.ends) {
            *count += more;
        }
        self.up += other.up;
        self.looks += other.looks;
        self.turns += other.turns;
    }

    fn result(&self, seals: usize) -> Played {
        let n = self.moments.n;
        let (cost_rate, std_error) = self.moments.rate();
        let [failed, found, preventive, damaged, opportunity] =
            self.ends.map(|count| f64::from(count) / n);
        Played {
            cost_rate,
            std_error,
            seals,
            failed,
            found,
            preventive,
            damaged,
            opportunity,
            availability: self.up / n / self.moments.mean_time(),
            mean_cycle: self.moments.mean_time(),
            inspections_per_cycle: self.looks as f64 / n,
            turns_per_cycle: self.turns as f64 / n,
        }
    }
}
