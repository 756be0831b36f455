//! What lies on the shelf now with its last days: how much of it will be written off when the oldest is
//! issued first.

use crate::counts::Counts;
use crate::error::{Error, Result, not_negative};
use serde::Serialize;

/// Seals on the shelf with one last day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lot {
    /// Days from now until they are out of date: cure date plus shelf life; below 0 when past.
    pub days_left: f64,
    /// How many.
    pub count: usize,
}

/// What becomes of a lot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Fate {
    /// Days from now until they are out of date.
    pub days_left: f64,
    /// How many lie there.
    pub count: usize,
    /// Expected number written off on the last day.
    pub expected_written_off: f64,
    /// Chance that at least one is.
    pub chance: f64,
}

/// Most seals on one shelf.
const MOST: usize = 20_000;

/// Fate of each lot, soonest out of date first, when demands come as a Poisson stream of `demand_rate` per day
/// and the seal that goes out of date first is issued first. Exact: between last days the number used or gone
/// grows by a Poisson number; on a last day it is raised to all seals of that lot and older ones.
///
/// # Errors
/// When the rate is negative, a time is not finite, or more than 20,000 seals lie there.
///
/// ```
/// use sealspan_care::spares::lots::{Lot, fates};
/// // One seal, last day when 2 demands are expected: written off with chance e^-2.
/// let fate = fates(&[Lot { days_left: 100.0, count: 1 }], 0.02)?;
/// assert!((fate[0].expected_written_off - (-2f64).exp()).abs() < 1e-12);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn fates(lots: &[Lot], demand_rate: f64) -> Result<Vec<Fate>> {
    not_negative("the demand rate per day", demand_rate)?;
    let total: usize = lots.iter().map(|l| l.count).sum();
    if total > MOST {
        return Err(Error::input(
            "the number of seals on the shelf",
            total,
            "give at most 20,000, lot by lot",
        ));
    }
    if lots.iter().any(|l| !l.days_left.is_finite()) {
        return Err(Error::input(
            "the days left of a lot",
            "not a number",
            "give days from now to its last day",
        ));
    }
    let mut sorted: Vec<Lot> = lots.iter().copied().filter(|l| l.count > 0).collect();
    sorted.sort_by(|a, b| a.days_left.total_cmp(&b.days_left));
    let (mut gone, mut now, mut older) = (Counts::zero(), 0.0, 0usize);
    let mut out = vec![];
    for lot in sorted {
        let day = lot.days_left.max(now);
        gone = gone
            .plus(&Counts::poisson(demand_rate * (day - now), 1e-25))
            .at_most(total);
        older += lot.count;
        let left = |k: usize| (older.saturating_sub(k)).min(lot.count) as f64;
        let mut fate = Fate {
            days_left: lot.days_left,
            count: lot.count,
            expected_written_off: 0.0,
            chance: 0.0,
        };
        for (k, p) in (gone.first()..).zip(gone.window()) {
            fate.expected_written_off += left(k) * p;
            fate.chance += if k < older { *p } else { 0.0 };
        }
        fate.chance = fate.chance.min(1.0);
        gone = gone.at_least(older);
        now = day;
        out.push(fate);
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_numeric::random::Stream;

    /// Against playing the shelf demand by demand.
    #[test]
    fn against_play() {
        let lots = [
            Lot {
                days_left: 400.0,
                count: 4,
            },
            Lot {
                days_left: 90.0,
                count: 3,
            },
            Lot {
                days_left: -5.0,
                count: 2,
            },
            Lot {
                days_left: 500.0,
                count: 1,
            },
        ];
        let rate = 0.015;
        let got = fates(&lots, rate).unwrap();
        assert_eq!(got[0].expected_written_off, 2.0);
        let runs = 200_000;
        let mut sums = [0.0; 4];
        let mut squares = [0.0; 4];
        for i in 0..runs {
            let mut stream = Stream::new(5, i);
            let mut left: Vec<(f64, usize)> = vec![(-5.0, 2), (90.0, 3), (400.0, 4), (500.0, 1)];
            let mut t = stream.exponential() / rate;
            for (lot, sum, square) in left
                .iter_mut()
                .zip(sums.iter_mut().zip(&mut squares))
                .map(|(l, (a, b))| (l, a, b))
            {
                while t < lot.0 && lot.1 > 0 {
                    lot.1 -= 1;
                    t += stream.exponential() / rate;
                }
                *sum += lot.1 as f64;
                *square += (lot.1 * lot.1) as f64;
            }
        }
        for (fate, (sum, square)) in got.iter().zip(sums.iter().zip(squares)) {
            let mean = sum / runs as f64;
            let error = ((square / runs as f64 - mean * mean) / runs as f64).sqrt();
            assert!(
                (fate.expected_written_off - mean).abs() < 4.0 * error + 1e-12,
                "{fate:?} against {mean} ± {error}"
            );
        }
    }
}
