//! Plays a fleet seal by seal: the check on the grid, and the way for small fleets of any kind.

use super::ending::Ending;
use super::fleet::Fleet;
use crate::error::{Error, Result, positive};
use sealspan_numeric::random::Stream;

/// Failures and planned removals in each period of one play.
pub type Played = Vec<(u32, u32)>;

/// Age at which a seal of this kind ends, given that it is in place at `age`, and whether it failed.
fn ends(ending: &Ending, age: f64, stream: &mut Stream) -> (f64, bool) {
    let draw = |life: &sealspan_life::life::Life, rate: f64, from: f64, stream: &mut Stream| {
        // The share surviving at the end is uniform below the share surviving now.
        let left = (1.0 - stream.uniform()).powf(rate.recip());
        life.sample(1.0 - life.survival(from) * left)
    };
    let young = age / ending.stretch;
    let fails = ending.stretch * draw(&ending.failure, ending.failure_rate, young, stream);
    let mut other = f64::INFINITY;
    for removal in &ending.others {
        other = other.min(draw(&removal.life, removal.rate, age, stream));
    }
    let limit = ending.replace_at.unwrap_or(f64::INFINITY);
    let planned = other.min(limit);
    (fails.min(planned), fails < planned)
}

/// Plays `runs` futures of a fleet of whole seals over `periods` periods of `period` units of the clock; batches and leaving positions are not played.
///
/// # Errors
/// When the period is not above zero, or the fleet leaves positions or is of several batches.
///
/// ```
/// use sealspan_care::ahead::{ending::Ending, fleet::Fleet, play::play_fleet};
/// use sealspan_care::forecast::Running;
/// use sealspan_life::life::Life;
/// // One seal that lasts, replaced at 40: on days 40 and 80, then 120 and 160.
/// let ending = Ending::new(&Life::weibull(2.0, 1e9).unwrap(), Some(40.0))?;
/// let fleet = Fleet::of(&[Running { age: 0.0, count: 1 }]);
/// let futures = play_fleet(&ending, &fleet, 100.0, 2, 3, 1)?;
/// assert_eq!(futures, vec![vec![(0, 2), (0, 2)]; 3]);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn play_fleet(
    ending: &Ending,
    fleet: &Fleet,
    period: f64,
    periods: usize,
    runs: u64,
    seed: u64,
) -> Result<Vec<Played>> {
    positive("the length of a period", period)?;
    if fleet.leaving > 0.0 || fleet.batches.len() > 1 {
        return Err(Error::no_answer(
            "Played fleets have one batch and keep their positions.",
        ));
    }
    let horizon = period * periods as f64;
    let now = fleet
        .batches
        .iter()
        .flatten()
        .map(|c| (0.0, c.age, c.count));
    let later = fleet.joining.iter().map(|j| (j.at, 0.0, j.positions));
    let starts: Vec<(f64, f64, f64)> = now.chain(later).collect();
    let one = |run: u64| {
        let mut stream = Stream::new(seed, run);
        let mut seen = vec![(0, 0); periods];
        for (start, age, count) in &starts {
            for _ in 0..count.round() as usize {
                let (mut t, mut age) = (*start, *age);
                while t < horizon {
                    let limit = ending.replace_at.unwrap_or(f64::INFINITY);
                    let (end, failed) = if age >= limit {
                        (age, false)
                    } else {
                        ends(ending, age, &mut stream)
                    };
                    t += end - age;
                    if let Some(slot) = seen.get_mut((t / period) as usize) {
                        if failed { slot.0 += 1 } else { slot.1 += 1 }
                    }
                    age = 0.0;
                }
            }
        }
        seen
    };
    Ok((0..runs).map(one).collect())
}
