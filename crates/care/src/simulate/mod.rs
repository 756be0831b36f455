//! Plays a policy event by event, so that the evaluator's formulas have something to agree with.
//!
//! It asks the policy what to do next and knows no formula. Seals are played in blocks, each with its
//! own random stream, and the blocks' sums are added in their order: the same bytes for any number of
//! threads.

mod care;
mod draw;
mod moments;
mod one;
mod replacement;

pub use care::{Played, play, play_present_value};
pub use replacement::{Simulated, simulate};

use crate::error::{Error, Result};

/// Seals played from one random stream; fixed, so that the result does not depend on the threads.
const BLOCK: usize = 4096;
/// Fewest seals that give a standard error.
const FEWEST: usize = 100;

fn enough(seals: usize) -> Result<()> {
    if seals >= FEWEST {
        return Ok(());
    }
    Err(Error::input(
        "the number of seals to simulate",
        seals,
        "give at least 100, so that a standard error can be stated",
    ))
}
