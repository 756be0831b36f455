//! A measured property that goes straight to its functional limit, at a rate that differs from seal to seal.

use crate::error::{Error, Result, positive};
use sealspan_life::degradation::{Limit, Scale};
use sealspan_numeric::quadrature::integrate;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::normal_survival;
use std::f64::consts::TAU;

/// A standard deviation below this share of the mean distance or speed is taken as this share: a law of no width
/// at all has no density to integrate.
const NARROWEST: f64 = 1e-4;
/// Beyond this many standard deviations a normal law is 0 or 1.
const FAR: f64 = 9.0;

/// P(Z > z) of a standard normal Z.
pub(crate) fn above(z: f64) -> f64 {
    if z > FAR {
        0.0
    } else if z < -FAR {
        1.0
    } else {
        normal_survival(z)
    }
}

/// Straight paths to a limit (Lu & Meeker 1993; formulas from memory): distance to the limit at age t is
/// D(t) = D₀ − v t, D₀ and v jointly normal among seals, D₀ > 0; the seal fails when D reaches 0. A look measures D with
/// a normal error of its own. Distances are on the scale on which paths are straight; v counts towards the limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paths {
    limit: Limit,
    scale: Scale,
    at: f64,
    pub(crate) distance: f64,
    pub(crate) speed: f64,
    /// Variance of D₀, covariance, variance of v.
    pub(crate) among: (f64, f64, f64),
    pub(crate) noise: f64,
}

impl Paths {
    /// Paths with mean level and rate (per unit of the clock), their variance and covariance among seals (of level,
    /// both, of rate), and the standard deviation of one measurement, all on `scale`; the seal fails at `limit`.
    ///
    /// # Errors
    /// When the limit has no place on the scale, new seals are past it on average, or a spread is out of range.
    ///
    /// ```
    /// use sealspan_care::seal::Paths;
    /// use sealspan_life::degradation::{Limit, Scale};
    /// // A property that falls from 20 by 0.01 a day to the limit of 10.
    /// let limit = Limit { value: 10.0, rising: false };
    /// let paths = Paths::new(limit, Scale::Plain, (20.0, -0.01), (0.04, 0.0, 1e-6), 0.1)?;
    /// assert!((paths.new_distance() - 10.0).abs() < 1e-12);
    /// assert!((paths.value_at(2.5) - 12.5).abs() < 1e-12);
    /// assert!((paths.distance_at(12.5).unwrap() - 2.5).abs() < 1e-12);
    /// assert!((paths.past_by(1000.0) - 0.5).abs() < 1e-9);
    /// // Rates as wide as their mean: a share Φ(−1) never moves towards the limit.
    /// let wide = Paths::new(limit, Scale::Plain, (20.0, -0.01), (0.04, 0.0, 1e-4), 0.1)?;
    /// assert!((wide.idle() - 0.158_655_254).abs() < 1e-6);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn new(
        limit: Limit,
        scale: Scale,
        mean: (f64, f64),
        among: (f64, f64, f64),
        noise: f64,
    ) -> Result<Self> {
        let Some(at) = scale.to(limit.value) else {
            return Err(Error::input(
                "the functional limit",
                limit.value,
                "give a limit above 0 for paths straight in the logarithm",
            ));
        };
        let side = limit.side();
        let distance = side * (at - mean.0);
        positive(
            "the distance of a new seal from its functional limit",
            distance,
        )?;
        positive("the error of a measurement", noise)?;
        let speed = side * mean.1;
        let (level, both, rate) = among;
        let fits = [level, both, rate, speed].iter().all(|x| x.is_finite())
            && level >= 0.0
            && rate >= 0.0
            && both * both <= level * rate * (1.0 + 1e-9);
        if !fits {
            return Err(Error::input(
                "the spread of paths among seals",
                format!("{level}, {both}, {rate}"),
                "give variances of level and rate and a covariance that belongs to them",
            ));
        }
        let level = level.max((NARROWEST * distance).powi(2));
        let rate = rate.max((NARROWEST * speed.abs().max(NARROWEST * distance)).powi(2));
        // A correlation of 1 leaves no density either.
        let most = (1.0 - NARROWEST) * (level * rate).sqrt();
        Ok(Self {
            limit,
            scale,
            at,
            distance,
            speed,
            // The distance shrinks as the level grows towards the limit.
            among: (level, (-both).clamp(-most, most), rate),
            noise,
        })
    }

    /// The distance to the functional limit, on the scale of the paths, at which the property has this value; `None` for a
    /// value that has no place on the scale.
    #[must_use]
    pub fn distance_at(&self, value: f64) -> Option<f64> {
        Some(self.limit.side() * (self.at - self.scale.to(value)?))
    }

    /// The value of the property at a distance to the functional limit.
    #[must_use]
    pub fn value_at(&self, distance: f64) -> f64 {
        self.scale.back(self.at - self.limit.side() * distance)
    }

    /// Mean distance of a new seal from the limit.
    #[must_use]
    pub fn new_distance(&self) -> f64 {
        self.distance
    }

    /// Standard deviation of one measurement.
    #[must_use]
    pub(crate) fn noise(&self) -> f64 {
        self.noise
    }

    /// Mean and variance of D at an age, and its covariance with v.
    pub(crate) fn at_age(&self, age: f64) -> (f64, f64, f64) {
        let (v0, c, v1) = self.among;
        (
            self.distance - self.speed * age,
            v0 - 2.0 * c * age + v1 * age * age,
            c - v1 * age,
        )
    }

    /// Share of seals past the limit by an age (units of the clock), P(D(t) < 0), of those that start before it.
    #[must_use]
    pub fn past_by(&self, age: f64) -> f64 {
        let (mean, variance, _) = self.at_age(age);
        let past = |distance: f64, speed: f64, left: f64| {
            above((distance - speed * age) / (left * age).max(f64::MIN_POSITIVE))
        };
        self.of_fitted(above(mean / variance.sqrt()), past)
    }

    /// Share of seals that never get to the limit, however long they stay: P(v < 0) of those that start before it.
    #[must_use]
    pub fn idle(&self) -> f64 {
        let never = |_: f64, speed: f64, left: f64| above(speed / left.max(f64::MIN_POSITIVE));
        self.of_fitted(above(self.speed / self.among.2.sqrt()), never)
    }

    /// The chance `of_all` under both normal laws, without those that would start past the limit; `given` is the same
    /// chance given the distance, from that, the mean speed there and the standard deviation about it.
    fn of_fitted(&self, of_all: f64, given: impl Fn(f64, f64, f64) -> f64) -> f64 {
        let (level, both, rate) = self.among;
        let root = level.sqrt();
        let left = (rate - both * both / level).max(0.0).sqrt();
        let starts = -self.distance / root;
        let past = |z: f64| {
            let (distance, speed) = (self.distance + root * z, self.speed + both / root * z);
            (-0.5 * z * z).exp() / TAU.sqrt() * given(distance, speed, left)
        };
        let none = if starts > -FAR {
            integrate(past, -FAR, starts, 1e-13).value
        } else {
            0.0
        };
        (of_all - none) / above(starts)
    }

    /// Distance and speed of a new seal.
    pub(crate) fn draw(&self, stream: &mut Stream) -> (f64, f64) {
        let (level, both, rate) = self.among;
        let root = level.sqrt();
        let left = (rate - both * both / level).max(0.0).sqrt();
        loop {
            let z = stream.normal();
            let distance = self.distance + root * z;
            if distance > 0.0 {
                let speed = self.speed + both / root * z + left * stream.normal();
                return (distance, speed);
            }
        }
    }

    /// Chance that a look at distance `d` measures at most `within`.
    #[inline]
    pub(crate) fn measured_within(&self, d: f64, within: f64) -> f64 {
        above((d - within) / self.noise)
    }
}
