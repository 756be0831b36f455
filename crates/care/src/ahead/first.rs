//! First failures of the seals running now, other removals going on: what a forecast made at an earlier day is
//! held against.

use super::ending::Ending;
use super::fleet::Cohort;
use super::matched::matched;
use crate::counts::Counts;
use crate::error::{Result, positive};

/// Steps within the horizon: only the order of failures and other removals within one is lost.
const STEPS: usize = 24;

/// Number of these seals that fail within `horizon` (units of the clock) before another removal, averaged over the draws; the second
/// number is the expected one at the estimate.
///
/// # Errors
/// When the horizon is not above zero.
///
/// ```
/// use sealspan_care::ahead::{ending::Ending, first::first_failures, fleet::Cohort};
/// use sealspan_life::life::Life;
/// // Ten seals without memory: each fails within a tenth of the mean life with chance 1 − e^(−1/10).
/// let ending = Ending::new(&Life::exponential(100.0).unwrap(), None)?;
/// let running = [Cohort { age: 40.0, count: 10.0 }];
/// let (counts, expected) = first_failures(&ending, &[], &running, 10.0)?;
/// let chance = 1.0 - (-0.1f64).exp();
/// assert!((expected - 10.0 * chance).abs() < 1e-9);
/// assert!((counts.probability(0) - (1.0 - chance).powi(10)).abs() < 1e-9);
/// // Lives twice as long.
/// let (_, fewer) = first_failures(&ending.stretched(2.0), &[], &running, 10.0)?;
/// assert!((fewer - 10.0 * (1.0 - (-0.05f64).exp())).abs() < 1e-9);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn first_failures(
    ending: &Ending,
    draws: &[Ending],
    running: &[Cohort],
    horizon: f64,
) -> Result<(Counts, f64)> {
    let step = positive("the horizon", horizon)? / STEPS as f64;
    let of = |ending: &Ending| {
        let (mut mean, mut squares) = (0.0, 0.0);
        for cohort in running {
            let first = ending.first(cohort.age, step, STEPS);
            let chance: f64 = first.iter().map(|s| s.unplanned).sum();
            mean += cohort.count * chance;
            squares += cohort.count * chance * chance;
        }
        (matched(mean, mean - squares), mean)
    };
    let (known, expected) = of(ending);
    let drawn: Vec<Counts> = draws.iter().map(|d| of(d).0).collect();
    Ok((Counts::mixture(&drawn).unwrap_or(known), expected))
}
