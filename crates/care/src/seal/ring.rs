//! A ring of equal sectors on a frame that wears them unequally: the weakest link goes first.
//!
//! Frame sector j wears at relative rate w_j. Each sector of the seal has a damage age D, the integral
//! of w over the frame places it has lain at, and goes at a damage age that is Weibull(β, η_s), the
//! sectors independent. The seal's cumulative hazard is Σ (D_i(t)/η_s)^β: never turned
//! Σ (w_j t/η_s)^β, turned very often k (w̄ t/η_s)^β. The most that turning can give is thus a life
//! ratio of the power mean of w over its mean, M_β(w)/M_1(w) (derived; no source).

use crate::error::{Error, Result, positive};
use sealspan_life::life::Life;

/// Sectors of a ring at most.
const MOST_SECTORS: usize = 360;
/// Turns walked before a ring that does not go is given up.
const MOST_TURNS: usize = 1_000_000;

/// A ring with its frame.
///
/// ```
/// use sealspan_care::seal::Ring;
/// use sealspan_life::life::Life;
/// let life = Life::weibull(2.0, 400.0).unwrap();
/// let ring = Ring::new(&life, &[2.0, 1.0, 1.0, 1.0])?;
/// assert_eq!((ring.shape(), ring.sectors()), (2.0, 4));
/// assert!((ring.severities()[0] - 1.6).abs() < 1e-12); // relative to their mean
/// assert!((ring.never_turned()?.quantile(0.1) - life.quantile(0.1)).abs() < 1e-9);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    shape: f64,
    /// Of the seal never turned, and of one sector's damage age.
    scale: f64,
    sector_scale: f64,
    severities: Vec<f64>,
}

/// Damage ages of the seal's sectors, and how far it has been turned.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RingState {
    damage: Vec<f64>,
    turned: usize,
}

impl Ring {
    /// A ring whose life, never turned on this frame, is `life`.
    ///
    /// # Errors
    /// When `life` is neither Weibull nor exponential, there are fewer than two sectors, or a severity
    /// is not a finite number, zero or more, with one above zero.
    pub fn new(life: &Life, severities: &[f64]) -> Result<Self> {
        let (shape, scale) = weibull(life).ok_or_else(|| {
            Error::no_answer(format!(
                "Turning is worked out for Weibull and exponential lives (weakest of equal sectors); this one is {}.",
                life.family()
            ))
        })?;
        if severities.len() < 2 || severities.len() > MOST_SECTORS {
            return Err(Error::input(
                "the number of sectors",
                severities.len(),
                "give one relative severity for each of at least two equal sectors, such as 2,1,1,1",
            ));
        }
        if let Some(bad) = severities.iter().find(|w| !(w.is_finite() && **w >= 0.0)) {
            return Err(Error::input(
                "a sector severity",
                bad,
                "give relative wear rates, zero or more",
            ));
        }
        positive("the largest sector severity", largest(severities))?;
        // Relative rates: the scale of the severities themselves drops out.
        let mean = severities.iter().sum::<f64>() / severities.len() as f64;
        let severities: Vec<f64> = severities.iter().map(|w| w / mean).collect();
        Ok(Self {
            shape,
            scale,
            sector_scale: scale * power_norm(&severities, shape),
            severities,
        })
    }

    /// Weibull shape.
    #[must_use]
    pub fn shape(&self) -> f64 {
        self.shape
    }

    /// Relative severities of the frame sectors, mean 1.
    #[must_use]
    pub fn severities(&self) -> &[f64] {
        &self.severities
    }

    /// Number of sectors.
    #[must_use]
    pub fn sectors(&self) -> usize {
        self.severities.len()
    }

    /// Weibull scale η_s of one sector's damage age.
    #[must_use]
    pub(crate) fn sector_scale(&self) -> f64 {
        self.sector_scale
    }

    /// Life ratio, turned ever more often over never turned: M_β(w)/M_1(w).
    ///
    /// ```
    /// use sealspan_care::seal::Ring;
    /// use sealspan_life::life::Life;
    /// let ring = Ring::new(&Life::weibull(2.0, 400.0).unwrap(), &[2.0, 1.0, 1.0, 1.0])?;
    /// assert!((ring.limit_ratio() - (7.0f64 / 4.0).sqrt() / 1.25).abs() < 1e-12);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    #[must_use]
    pub fn limit_ratio(&self) -> f64 {
        let evenly = (self.sectors() as f64).powf(1.0 / self.shape);
        power_norm(&self.severities, self.shape) / evenly
    }

    /// The life when the seal is never turned.
    ///
    /// # Errors
    /// When the scale is out of the range of numbers.
    pub fn never_turned(&self) -> Result<Life> {
        self.life_of_scale(self.scale)
    }

    /// The life when the frame wears all sectors alike, with the same wear in all: what mending the
    /// alignment gives, and what turning ever more often tends to.
    ///
    /// # Errors
    /// When the scale is out of the range of numbers.
    pub(crate) fn even_frame(&self) -> Result<Life> {
        let k = self.sectors() as f64;
        self.life_of_scale(self.sector_scale * k.powf(-1.0 / self.shape))
    }

    fn life_of_scale(&self, scale: f64) -> Result<Life> {
        Life::weibull(self.shape, scale).ok_or_else(|| {
            Error::input(
                "the scale of the ring's life",
                scale,
                "check the life given",
            )
        })
    }

    /// A new seal.
    #[must_use]
    pub(crate) fn fitted(&self) -> RingState {
        RingState {
            damage: vec![0.0; self.sectors()],
            turned: 0,
        }
    }

    /// Wear rate of the place that each sector of a seal turned so far round lies at.
    fn places(&self, turned: usize) -> impl Iterator<Item = f64> + '_ {
        let (before, after) = self.severities.split_at(turned.min(self.sectors()));
        after.iter().chain(before).copied()
    }

    /// Damage age and present wear rate of each sector of the seal.
    fn sectors_of<'a>(&'a self, state: &'a RingState) -> impl Iterator<Item = (f64, f64)> + 'a {
        let damage = state.damage.iter().copied();
        damage.zip(self.places(state.turned))
    }

    /// Cumulative hazard and hazard `after` a time in the present place.
    #[must_use]
    pub(crate) fn hazards(&self, state: &RingState, after: f64) -> (f64, f64) {
        let mut sum = (0.0, 0.0);
        for (damage, rate) in self.sectors_of(state) {
            let age = (damage + rate * after) / self.sector_scale;
            if age > 0.0 {
                let hazard = age.powf(self.shape);
                sum.0 += hazard;
                sum.1 += hazard / age * rate;
            }
        }
        (sum.0, sum.1 * self.shape / self.sector_scale)
    }

    /// Time in the present place until the first sector reaches its own limit of damage age; infinite
    /// when none is worn there.
    #[must_use]
    pub(crate) fn time_to_limit(&self, state: &RingState, limits: &[f64]) -> f64 {
        self.sectors_of(state)
            .zip(limits)
            .filter(|((_, rate), _)| *rate > 0.0)
            .map(|((damage, rate), limit)| ((limit - damage) / rate).max(0.0))
            .fold(f64::INFINITY, f64::min)
    }

    /// Lets `time` pass in the present place.
    pub(crate) fn wear(&self, state: &mut RingState, time: f64) {
        for (damage, rate) in state.damage.iter_mut().zip(self.places(state.turned)) {
            *damage += rate * time;
        }
    }

    /// Refits the seal `by` sectors further round.
    pub(crate) fn turn(&self, state: &mut RingState, by: usize) {
        state.turned = (state.turned + by) % self.sectors();
    }

    /// Age (units of the clock, as `limit` and `every`) at which the first sector reaches the damage age `limit`, when turned `by`
    /// sectors every `every`: the life of a ring that wears without chance.
    ///
    /// # Errors
    /// When it has not gone after a million turns.
    ///
    /// ```
    /// use sealspan_care::seal::Ring;
    /// use sealspan_life::life::Life;
    /// // Relative wear 1.6, 0.8, 0.8, 0.8. Never turned, damage 8 is reached at 8/1.6; turned at every unit of time,
    /// // all sectors have worn alike after two rounds.
    /// let ring = Ring::new(&Life::weibull(2.0, 400.0).unwrap(), &[2.0, 1.0, 1.0, 1.0])?;
    /// assert!((ring.age_at_limit(8.0, 1e9, 1)? - 5.0).abs() < 1e-12);
    /// assert!((ring.age_at_limit(8.0, 1.0, 1)? - 8.0).abs() < 1e-12);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn age_at_limit(&self, limit: f64, every: f64, by: usize) -> Result<f64> {
        let limits = vec![limit; self.sectors()];
        let mut state = self.fitted();
        for turns in 0..MOST_TURNS {
            let left = self.time_to_limit(&state, &limits);
            if left <= every {
                return Ok(turns as f64 * every + left);
            }
            self.wear(&mut state, every);
            self.turn(&mut state, by);
        }
        Err(Error::no_answer(
            "No age: the ring outlasts a million turns; turn less often.",
        ))
    }
}

/// (Σ w^β)^(1/β), about the largest so that steep shapes do not overflow.
fn power_norm(severities: &[f64], shape: f64) -> f64 {
    let top = largest(severities);
    let sum: f64 = severities.iter().map(|w| (w / top).powf(shape)).sum();
    top * sum.powf(1.0 / shape)
}

fn largest(values: &[f64]) -> f64 {
    values.iter().copied().fold(0.0, f64::max)
}

/// Shape and scale of a Weibull or exponential life.
pub(crate) fn weibull(life: &Life) -> Option<(f64, f64)> {
    let parameters = life.parameters();
    let value = |name: &str| parameters.iter().find(|p| p.0 == name).map(|p| p.1);
    match life.family() {
        "weibull" => Some((value("shape")?, value("scale")?)),
        "exponential" => Some((1.0, value("mean")?)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Never turned, the sum over sectors is the life it was made from; severities are relative.
    #[test]
    fn never_turned_is_the_given_life() {
        let life = Life::weibull(2.5, 400.0).unwrap();
        for severities in [[2.0, 1.0, 1.0, 1.0], [20.0, 10.0, 10.0, 10.0]] {
            let ring = Ring::new(&life, &severities).unwrap();
            let (cumulative, hazard) = ring.hazards(&ring.fitted(), 300.0);
            assert!((cumulative / -life.ln_survival(300.0) - 1.0).abs() < 1e-13);
            assert!((hazard / life.hazard(300.0) - 1.0).abs() < 1e-12);
            assert!((ring.never_turned().unwrap().mean() / life.mean() - 1.0).abs() < 1e-13);
            let even = ring.even_frame().unwrap().mean() / life.mean();
            assert!((even / ring.limit_ratio() - 1.0).abs() < 1e-13);
        }
    }

    #[test]
    fn impossible_rings_are_refused() {
        let weibull = Life::weibull(2.5, 400.0).unwrap();
        assert!(Ring::new(&weibull, &[1.0]).is_err());
        assert!(Ring::new(&weibull, &[0.0, 0.0]).is_err());
        assert!(Ring::new(&weibull, &[1.0, -1.0]).is_err());
        let lognormal = Life::lognormal(5.0, 0.5).unwrap();
        assert!(
            Ring::new(&lognormal, &[2.0, 1.0])
                .unwrap_err()
                .is_no_answer()
        );
    }
}
