//! A life prepared for many look-ups: Weibull in closed form, the restricted mean from a table.

use crate::error::Result;
use crate::ladder::{Cut, Ladder};
use crate::seal::weibull;
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;

/// Survival and density of a life.
#[derive(Debug, Clone)]
pub(crate) enum Curve {
    /// Shape and ln scale.
    Weibull(f64, f64),
    /// Any other law.
    Other(Life),
}

impl Curve {
    pub fn new(life: &Life) -> Self {
        match weibull(life) {
            Some((shape, scale)) => Self::Weibull(shape, scale.ln()),
            None => Self::Other(life.clone()),
        }
    }

    /// Share surviving `t` and density there; density 0 at 0.
    pub fn at(&self, t: f64) -> (f64, f64) {
        if t <= 0.0 {
            return (1.0, 0.0);
        }
        match self {
            Self::Weibull(shape, ln_scale) => {
                let hazard = (shape * (t.ln() - ln_scale)).exp();
                let survival = (-hazard).exp();
                (survival, shape * hazard / t * survival)
            }
            Self::Other(life) => (life.survival(t), life.density(t)),
        }
    }

    /// Share surviving `t` > 0, of which `ln_t` is the logarithm.
    fn survival(&self, t: f64, ln_t: f64) -> f64 {
        match self {
            Self::Weibull(shape, ln_scale) => (-(shape * (ln_t - ln_scale)).exp()).exp(),
            Self::Other(life) => life.survival(t),
        }
    }
}

/// One point of the table: the mean time spent before it with its first two derivatives in ln age.
#[derive(Debug, Clone, Copy)]
struct Knot {
    value: f64,
    first: f64,
    second: f64,
}

/// A delay: survival, and mean time spent up to an age, ∫₀ᵗ e^(−δx) S, δ being 0 unless discounted.
#[derive(Debug, Clone)]
pub(crate) struct Delay {
    curve: Curve,
    delta: f64,
    mean: f64,
    ln_low: f64,
    step: f64,
    knots: Vec<Knot>,
}

impl Delay {
    /// # Errors
    /// When the mean is not finite.
    pub fn new(life: &Life) -> Result<Self> {
        let curve = Curve::new(life);
        let ladder = Ladder::new(life)?;
        let rungs = ladder.rungs();
        let low = rungs.first().map_or(0.0, |rung| rung.age);
        let high = rungs.last().map_or(1.0, |rung| rung.age);
        let step = 0.5 * (high / low).ln() / (rungs.len().max(2) - 1) as f64;
        // A knot at each rung and one between: the quintic is then good to 1e-11.
        let knot = |rung: &Cut| {
            let (survival, density) = curve.at(rung.age);
            let slope = rung.age * survival;
            Knot {
                value: rung.service,
                first: slope,
                second: slope - rung.age * rung.age * density,
            }
        };
        let knots = rungs
            .iter()
            .flat_map(|rung| [knot(rung), knot(&ladder.at(rung.age * step.exp()))])
            .take(2 * rungs.len().max(1) - 1)
            .collect();
        Ok(Self {
            mean: ladder.mean(),
            ln_low: low.ln(),
            step,
            knots,
            curve,
            delta: 0.0,
        })
    }

    /// The same table with time discounted from the onset at the rate `delta`.
    ///
    /// # Errors
    /// When the mean is not finite.
    pub fn discounted(life: &Life, delta: f64) -> Result<Self> {
        let plain = Self::new(life)?;
        let worth = |t: f64| (-delta * t).exp();
        let (mut age, mut value) = (0.0, 0.0);
        let knots = (0..plain.knots.len()).map(|i| {
            let next = (plain.ln_low + plain.step * i as f64).exp();
            value += integrate(|t| worth(t) * plain.curve.at(t).0, age, next, 1e-13).value;
            age = next;
            let (survival, density) = plain.curve.at(next);
            let slope = next * worth(next) * survival;
            Knot {
                value,
                first: slope,
                second: slope * (1.0 - delta * next) - next * next * worth(next) * density,
            }
        });
        let knots: Vec<Knot> = knots.collect();
        Ok(Self {
            mean: knots.last().map_or(0.0, |knot| knot.value),
            delta,
            knots,
            ..plain
        })
    }

    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Share of defects that have not failed after `h`, and mean time spent up to then.
    pub fn at(&self, h: f64) -> (f64, f64) {
        if h <= 0.0 {
            return (1.0, 0.0);
        }
        if let Curve::Weibull(shape, ln_scale) = self.curve
            && shape == 1.0
        {
            let rate = (-ln_scale).exp();
            let ends = rate + self.delta;
            return ((-rate * h).exp(), -(-ends * h).exp_m1() / ends);
        }
        let ln_h = h.ln();
        (self.curve.survival(h, ln_h), self.spent(h, ln_h))
    }

    /// Quintic between knots of the table; below it nothing has failed, above it nothing is left.
    fn spent(&self, h: f64, ln_h: f64) -> f64 {
        let place = (ln_h - self.ln_low) / self.step;
        if place < 0.0 {
            return if self.delta > 0.0 {
                -(-self.delta * h).exp_m1() / self.delta
            } else {
                h
            };
        }
        let index = place as usize;
        let (Some(a), Some(b)) = (self.knots.get(index), self.knots.get(index + 1)) else {
            return self.mean;
        };
        let x = place - index as f64;
        let (da, db) = (a.first * self.step, b.first * self.step);
        let (ca, cb) = (
            a.second * self.step * self.step,
            b.second * self.step * self.step,
        );
        let rise = b.value - a.value;
        // Coefficients of x³, x⁴, x⁵ that meet value, slope and bend at both ends.
        let (p, q, r) = (rise - da - 0.5 * ca, db - da - ca, cb - ca);
        let third = 10.0 * p - 4.0 * q + 0.5 * r;
        let fourth = -15.0 * p + 7.0 * q - r;
        let fifth = 6.0 * p - 3.0 * q + 0.5 * r;
        a.value + x * (da + x * (0.5 * ca + x * (third + x * (fourth + x * fifth))))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// The table against quadrature, between its knots, for steep, flat and heavy laws.
    #[test]
    fn time_spent_agrees_with_quadrature() {
        for life in [
            Life::weibull(0.6, 40.0).unwrap(),
            Life::weibull(2.5, 40.0).unwrap(),
            Life::weibull(12.0, 40.0).unwrap(),
            Life::lognormal(3.0, 0.9).unwrap(),
        ] {
            let delay = Delay::new(&life).unwrap();
            let ladder = Ladder::new(&life).unwrap();
            for i in 1..200 {
                let h = life.quantile(f64::from(i) / 200.0) * 1.003;
                let want = ladder.at(h).service;
                let got = delay.at(h).1;
                assert!(
                    (got / want - 1.0).abs() < 1e-10,
                    "{life:?} {h}: {got} {want}"
                );
            }
        }
    }

    /// The same with time discounted by half over a mean delay.
    #[test]
    fn discounted_time_spent_agrees_with_quadrature() {
        let life = Life::weibull(2.5, 40.0).unwrap();
        let delta = 0.02;
        let delay = Delay::discounted(&life, delta).unwrap();
        for i in 1..100 {
            let h = life.quantile(f64::from(i) / 100.0) * 1.003;
            let worth = |t: f64| (-delta * t).exp() * life.survival(t);
            let want = integrate(worth, 0.0, h, 1e-13).value;
            let got = delay.at(h).1;
            assert!((got / want - 1.0).abs() < 1e-10, "{h}: {got} {want}");
        }
    }

    /// Before anything fails time spent is worth its own interest alone: (1 − e^(−δh))/δ.
    #[test]
    fn before_anything_fails_time_is_only_discounted() {
        let life = Life::weibull(12.0, 40.0).unwrap();
        let delta: f64 = 0.02;
        let delay = Delay::discounted(&life, delta).unwrap();
        for h in [1e-3, 0.1, 1.0, 2.0] {
            let want = (1.0 - (-delta * h).exp()) / delta;
            assert!((delay.at(h).1 / want - 1.0).abs() < 1e-10, "{h}");
            let plain = Delay::new(&life).unwrap().at(h).1;
            assert!((plain / h - 1.0).abs() < 1e-10, "{h}");
        }
    }
}
