//! Defects that fall anywhere between two looks: the share missed, and many seals looked at together.
//!
//! Where defects come at a constant rate, their time within the interval of looks is uniform. The
//! chance that a defect becomes a failure is then b(T) = 1 − (1/T) Σₙ r (1 − r)ⁿ⁻¹ ∫ S over (n−1)T to
//! nT, S the survival of the delay (Christer & Waller 1984, from memory). The rule of practice "look at
//! half the time from defect to failure" is this with its risk left out.

use super::curve::Delay;
use crate::error::{Error, Result, not_negative, positive};
use sealspan_life::life::Life;
use sealspan_numeric::optimise::minimise_bracketed;

/// Looks followed at most; a detection probability so low that more are needed finds nothing.
const MOST_LOOKS: usize = 200_000;
/// Remaining share at which the sum ends.
const REMAINS: f64 = 1e-16;

/// Chance that a defect becomes a failure when looks come every `interval` and each finds it with the
/// chance `detection`.
///
/// # Errors
/// When the interval or the chance is out of range, or the mean delay is not finite.
///
/// ```
/// use sealspan_care::evaluate::pooled::missed;
/// use sealspan_life::life::Life;
/// let delay = Life::exponential(20.0).unwrap();
/// let share = missed(&delay, 2.0, 1.0)?;
/// assert!((share - (1.0 - (1.0 - (-0.1f64).exp()) / 0.1)).abs() < 1e-12);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn missed(delay: &Life, interval: f64, detection: f64) -> Result<f64> {
    positive("the time between inspections", interval)?;
    if !(0.0..=1.0).contains(&detection) {
        return Err(Error::input(
            "the detection probability",
            detection,
            "give a chance from 0 to 1",
        ));
    }
    Ok(missed_share(&Delay::new(delay)?, interval, detection))
}

fn missed_share(delay: &Delay, interval: f64, detection: f64) -> f64 {
    let (mut found, mut unseen, mut before) = (0.0, 1.0, 0.0);
    for n in 1..=MOST_LOOKS {
        let (alive, spent) = delay.at(n as f64 * interval);
        found += detection * unseen * (spent - before) / interval;
        unseen *= 1.0 - detection;
        before = spent;
        if unseen * alive < REMAINS {
            break;
        }
    }
    1.0 - found
}

/// Many seals looked at together: defects come to the whole at a constant rate.
///
/// ```
/// use sealspan_care::evaluate::pooled::Pool;
/// use sealspan_life::life::Life;
/// let pool = Pool { defect_rate: 0.1, detection: 1.0, look_down: 0.5, failure_down: 5.0 };
/// let delay = Life::exponential(20.0).unwrap();
/// // Delays of mean 20 and sure looks: b(T) = 1 − 20 (1 − e^(−T/20))/T.
/// let down = |t: f64| (0.5 * (t - 20.0 * (1.0 - (-t / 20.0).exp())) + 0.5) / (t + 0.5);
/// assert!((pool.time_down(&delay, 2.0)? - down(2.0)).abs() < 1e-9);
/// let (best, least) = pool.best_interval(&delay)?;
/// assert!((least - down(best)).abs() < 1e-9);
/// assert!(down(0.98 * best) > least && down(1.02 * best) > least);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pool {
    /// Defects per unit of the clock.
    pub defect_rate: f64,
    /// Chance that a look finds a defect.
    pub detection: f64,
    /// Time down for a look at all of them, units of the clock.
    pub look_down: f64,
    /// Time down for one failure.
    pub failure_down: f64,
}

impl Pool {
    /// Share of time down when all are looked at every `interval`: (k T b(T) d_f + d_i)/(T + d_i).
    ///
    /// # Errors
    /// As [`missed`].
    pub fn time_down(&self, delay: &Life, interval: f64) -> Result<f64> {
        let share = missed(delay, interval, self.detection)?;
        Ok(self.down(share, interval))
    }

    fn down(&self, missed: f64, interval: f64) -> f64 {
        (self.defect_rate * interval * missed * self.failure_down + self.look_down)
            / (interval + self.look_down)
    }

    /// The interval of least time down, looked for between a hundredth and a hundred mean delays, and
    /// the share of time down there.
    ///
    /// # Errors
    /// As [`missed`], and when a rate or duration is out of range.
    pub fn best_interval(&self, delay: &Life) -> Result<(f64, f64)> {
        positive("the defect rate", self.defect_rate)?;
        positive("the time down for a failure", self.failure_down)?;
        not_negative("the time down for a look", self.look_down)?;
        missed(delay, 1.0, self.detection)?;
        let table = Delay::new(delay)?;
        let down = |ln: f64| {
            let interval = ln.exp();
            self.down(missed_share(&table, interval, self.detection), interval)
        };
        let mid = table.mean().ln();
        let step = 100f64.ln() / 30.0;
        let least = (-30..=30)
            .map(|i| mid + step * f64::from(i))
            .min_by(|a, b| down(*a).total_cmp(&down(*b)))
            .unwrap_or(mid);
        let (ln, value) = minimise_bracketed(down, least - step, least + step, 1e-10);
        Ok((ln.exp(), value))
    }
}
