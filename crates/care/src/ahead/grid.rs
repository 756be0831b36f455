//! What every way of counting period by period shares: the steps, the batches' qualities, positions that leave.

use super::flow::{Kind, Moments};
use crate::error::{Error, Result, not_negative, positive};
use sealspan_numeric::random::Stream;
use std::ops::Range;

/// Steps of a period, for the answer and for a draw.
pub const FINE: usize = 8;
pub const COARSE: usize = 4;
pub const KINDS: [Kind; 3] = [Kind::Unplanned, Kind::Planned, Kind::All];
const MOST_PERIODS: usize = 240;
const FEWEST_DRAWS: usize = 50;

/// The cells of every period, then those of all together.
pub fn windows(periods: usize, fine: usize) -> Vec<Range<usize>> {
    let each = (0..periods).map(|i| i * fine..(i + 1) * fine);
    let all = 0..periods * fine;
    each.chain([all]).collect()
}

/// Factors on the life of one batch after another: 1 at the estimate and where batches are alike.
pub struct Qualities {
    stream: Option<Stream>,
    spread: f64,
}

impl Qualities {
    /// Of a draw, by its number; `None` at the estimate.
    pub fn new(spread: f64, seed: u64, draw: Option<u64>) -> Self {
        let stream = draw.filter(|_| spread > 0.0).map(|i| Stream::new(seed, i));
        Self { stream, spread }
    }

    pub fn next(&mut self) -> f64 {
        let drawn = self.stream.as_mut().map(Stream::normal);
        drawn.map_or(1.0, |z| (self.spread * z).exp())
    }
}

/// What is left of a window's endings when the share `kept` of positions has not left at random by its middle.
pub fn left(m: Moments, kept: f64) -> Moments {
    Moments {
        mean: m.mean * kept,
        variance: m.variance * kept * kept + m.mean * kept * (1.0 - kept),
    }
}

/// Refuses what cannot be counted.
pub fn check(period: f64, periods: usize, draws: usize, batch_spread: f64) -> Result<()> {
    positive("the length of a period", period)?;
    if periods == 0 || periods > MOST_PERIODS {
        return Err(Error::input(
            "the number of periods",
            periods,
            "give 1 to 240",
        ));
    }
    if (1..FEWEST_DRAWS).contains(&draws) {
        return Err(Error::input(
            "the number of draws of the life",
            draws,
            "give at least 50, or none for an interval as if the life were known",
        ));
    }
    not_negative("the spread between batches", batch_spread)?;
    if batch_spread > 0.0 && draws == 0 {
        return Err(Error::no_answer(
            "A spread between batches needs draws of the life: give at least 50.",
        ));
    }
    Ok(())
}
