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

/// Mark of the seals fitted from now on, as of one batch.
pub const NEW: u64 = 0;

/// Factors on the life of batches: 1 at the estimate and where batches are alike.
#[derive(Clone, Copy)]
pub struct Qualities {
    spread: f64,
    seed: u64,
    draw: Option<u64>,
}

impl Qualities {
    /// Of a draw, by its number; `None` at the estimate.
    pub fn new(spread: f64, seed: u64, draw: Option<u64>) -> Self {
        let draw = draw.filter(|_| spread > 0.0);
        Self { spread, seed, draw }
    }

    /// Of the batch with a mark: the same wherever its seals run.
    pub fn of(self, mark: u64) -> f64 {
        let Some(draw) = self.draw else { return 1.0 };
        let z = Stream::new(self.seed ^ mark, draw).normal();
        (self.spread * z).exp()
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

#[cfg(test)]
mod tests {
    use super::Qualities;

    /// ln quality is normal about 0 with the spread stated; a mark has one quality in a draw, whoever asks.
    #[test]
    fn qualities_scatter_by_their_spread() {
        let spread = 0.3;
        let ln = |draw: u64, mark: u64| Qualities::new(spread, 9, Some(draw)).of(mark).ln();
        let all: Vec<f64> = (0..4000).map(|draw| ln(draw, 7)).collect();
        let n = all.len() as f64;
        let mean = all.iter().sum::<f64>() / n;
        let variance = all.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
        assert!(mean.abs() < 4.0 * spread / n.sqrt(), "{mean}");
        let error = spread * spread * (2.0 / n).sqrt();
        assert!(
            (variance - spread * spread).abs() < 4.0 * error,
            "{variance}"
        );
        assert!(ln(5, 7) == ln(5, 7) && ln(5, 7) != ln(5, 8));
        assert!(Qualities::new(spread, 9, None).of(7) == 1.0);
    }
}
