//! A life with fixed parameters: all that decisions see. Uncertainty is many of them.
//!
//! ```
//! use sealspan_life::{law::HazardShape, laws::by_name, life::Life};
//! let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-9, "{a} is not {b}");
//! // A Weibull law of shape 2 (Rayleigh's): hazard 2t/η², median η √ln 2, mean η √π/2.
//! let life = Life::named("weibull", &[("shape", 2.0), ("scale", 400.0)]).unwrap();
//! near(life.ln_survival(200.0), -0.25); // −(t/η)²
//! near(life.survival(200.0), (-0.25_f64).exp());
//! near(life.failed(0.001), (0.001_f64 / 400.0).powi(2));
//! near(life.hazard(200.0), 0.0025); // a day, where ages are in days
//! near(life.density(200.0), 0.0025 * (-0.25_f64).exp());
//! near(life.quantile(0.5), 400.0 * 2.0_f64.ln().sqrt());
//! near(life.sample(0.5), life.quantile(0.5));
//! near(life.mean(), 200.0 * std::f64::consts::PI.sqrt());
//! assert!(life.hazard_rises() && life.hazard_shape() != HazardShape::Constant);
//! assert_eq!((life.family(), life.title()), ("weibull", "Weibull"));
//! let named = life.parameters();
//! assert_eq!((named[0].0, named[1].0), ("shape", "scale"));
//! near(named[0].1 * named[1].1, 800.0);
//! near(Life::new(by_name("weibull").unwrap(), life.theta().to_vec()).hazard(100.0), 0.00125);
//! let constant = Life::exponential(50.0).unwrap();
//! near(constant.hazard(7.0), 0.02);
//! assert_eq!(constant.hazard_shape(), HazardShape::Constant);
//! near(Life::lognormal(5.0, 0.5).unwrap().quantile(0.5), 5.0_f64.exp());
//! ```

use crate::family::Family;
use crate::law::{HazardShape, Link};
use crate::laws;
use crate::quantity::Quantity;
use crate::unreached::beyond;
use std::fmt;

/// A life law with fixed parameters; ages in one unit throughout.
#[derive(Clone)]
pub struct Life {
    family: &'static dyn Family,
    theta: Vec<f64>,
}

impl fmt::Debug for Life {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}({:?})", self.family(), self.parameters())
    }
}

impl Life {
    /// A family at θ.
    #[must_use]
    pub fn new(family: &'static dyn Family, theta: Vec<f64>) -> Self {
        Self { family, theta }
    }

    /// Weibull life, S(t) = exp(−(t/scale)^shape). `None` unless both are finite and above zero.
    ///
    /// ```
    /// let life = sealspan_life::life::Life::weibull(2.0, 400.0).unwrap();
    /// assert!((life.survival(400.0) - (-1f64).exp()).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn weibull(shape: f64, scale: f64) -> Option<Self> {
        Self::named("weibull", &[("shape", shape), ("scale", scale)]).ok()
    }

    /// Exponential life. `None` unless the mean is finite and above zero.
    #[must_use]
    pub fn exponential(mean: f64) -> Option<Self> {
        Self::named("exponential", &[("mean", mean)]).ok()
    }

    /// Lognormal life: mean and standard deviation of ln life. `None` unless finite and `sigma` above
    /// zero.
    #[must_use]
    pub fn lognormal(mu: f64, sigma: f64) -> Option<Self> {
        Self::named("lognormal", &[("mu", mu), ("sigma", sigma)]).ok()
    }

    /// A family by name with its parameters by name.
    ///
    /// # Errors
    /// In words, when the family or a parameter is unknown, missing, stated twice or impossible.
    pub fn named(family: &str, parameters: &[(&str, f64)]) -> Result<Self, String> {
        let family = laws::by_name(family).ok_or_else(|| {
            let names: Vec<_> = laws::all().iter().map(|f| f.name()).collect();
            format!("unknown family `{family}`; there are {}", names.join(", "))
        })?;
        let wanted: Vec<_> = family.reported().iter().map(|p| p.name).collect();
        let mut stated: Vec<(usize, f64)> = vec![];
        for (name, value) in parameters {
            let index = wanted
                .iter()
                .position(|p| p.eq_ignore_ascii_case(name))
                .ok_or_else(|| {
                    format!(
                        "{} has no parameter `{name}`; it has {}",
                        family.name(),
                        wanted.join(", ")
                    )
                })?;
            let link = family.reported().get(index).map(|p| p.link);
            if !value.is_finite() || link.and_then(|l| l.apply(*value)).is_none() {
                let range = match link {
                    Some(Link::Identity) => "a finite number",
                    Some(Link::Logit) => "a number between 0 and 1",
                    _ => "a finite number above zero",
                };
                return Err(format!(
                    "{} {name}={value} is impossible: give {range}",
                    family.name()
                ));
            }
            let already = stated.iter().any(|(i, _)| *i == index);
            if already || stated.len() == family.dimension() {
                return Err(format!(
                    "{}: `{name}` says again what is already stated",
                    family.name()
                ));
            }
            stated.push((index, *value));
        }
        family
            .stated(&stated)
            .map(|theta| Self { family, theta })
            .ok_or_else(|| {
                format!(
                    "{} needs its parameters stated; it has {}",
                    family.name(),
                    wanted.join(", ")
                )
            })
    }

    /// Reads `weibull:shape=2.5,scale=1000`.
    ///
    /// # Errors
    /// In words, when the text does not have that form or names something unknown or impossible.
    ///
    /// ```
    /// use sealspan_life::life::Life;
    /// assert!((Life::parse("exponential:mean=500").unwrap().mean() - 500.0).abs() < 1e-9);
    /// assert!(Life::parse("weibull:shape=-1,scale=3").is_err());
    /// ```
    pub fn parse(text: &str) -> Result<Self, String> {
        let (family, rest) = text.split_once(':').ok_or_else(|| {
            format!("`{text}` is no life; write it like weibull:shape=2.5,scale=1000")
        })?;
        let mut parameters = vec![];
        for part in rest.split(',').filter(|p| !p.trim().is_empty()) {
            let (name, value) = part
                .split_once('=')
                .ok_or_else(|| format!("`{part}` in `{text}` must be name=number"))?;
            let number: f64 = value
                .trim()
                .parse()
                .map_err(|_| format!("`{}` in `{text}` is not a number", value.trim()))?;
            parameters.push((name.trim(), number));
        }
        Self::named(family, &parameters)
    }

    /// The family's name.
    #[must_use]
    pub fn family(&self) -> &'static str {
        self.family.name()
    }

    /// The family's name in sentences.
    #[must_use]
    pub fn title(&self) -> &'static str {
        self.family.title()
    }

    /// θ, the parameters that the family works with.
    #[must_use]
    pub fn theta(&self) -> &[f64] {
        &self.theta
    }

    /// Reported parameters by name, each in its own unit ([`crate::law::Dimension`]).
    #[must_use]
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        let reported = self.family.reported().iter().enumerate();
        reported
            .map(|(i, p)| (p.name, self.ask(Quantity::Parameter(i))))
            .collect()
    }

    fn ask(&self, quantity: Quantity) -> f64 {
        self.family
            .unscale(quantity, self.family.quantity(&self.theta, quantity).value)
    }

    /// ln of the share surviving age `t` (0 at and below age 0).
    #[must_use]
    pub fn ln_survival(&self, t: f64) -> f64 {
        self.family.ln_survival(&self.theta, t)
    }

    /// Share surviving age `t`.
    #[must_use]
    pub fn survival(&self, t: f64) -> f64 {
        self.ln_survival(t).exp()
    }

    /// Share failed by age `t`, 1 − survival, without loss when it is small.
    #[must_use]
    pub fn failed(&self, t: f64) -> f64 {
        -self.ln_survival(t).exp_m1()
    }

    /// Density per unit of time at age `t` > 0.
    #[must_use]
    pub fn density(&self, t: f64) -> f64 {
        self.family.ln_density(&self.theta, t).exp()
    }

    /// Failure rate per unit of age at age `t` > 0 of seals that got there: density over survival.
    #[must_use]
    pub fn hazard(&self, t: f64) -> f64 {
        (self.family.ln_density(&self.theta, t) - self.ln_survival(t)).exp()
    }

    /// Age by which the share `p` has failed (0 for p ≤ 0 or where a normal law has had that share fail before age 0,
    /// infinite for p ≥ 1 or where fewer ever fail).
    #[must_use]
    pub fn quantile(&self, p: f64) -> f64 {
        if p <= 0.0 {
            0.0
        } else if p >= 1.0 {
            f64::INFINITY
        } else {
            let age = self.family.ln_age_at(&self.theta, (-p).ln_1p()).exp();
            // Not a number before age 0, or where fewer than that share ever fail.
            if age.is_nan() {
                beyond(self.family, &self.theta, Quantity::Quantile(p)).max(0.0)
            } else {
                age
            }
        }
    }

    /// Mean life, in the unit of the ages; infinite where the law's mean is.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.ask(Quantity::Mean)
    }

    /// How the hazard moves with age.
    #[must_use]
    pub fn hazard_shape(&self) -> HazardShape {
        self.family.hazard_shape(&self.theta)
    }

    /// True when the hazard rises with age, in some stretch of it.
    #[must_use]
    pub fn hazard_rises(&self) -> bool {
        !matches!(
            self.hazard_shape(),
            HazardShape::Constant | HazardShape::Falling
        )
    }

    /// A life by inversion of a uniform number in (0, 1), as [`Life::quantile`].
    #[must_use]
    pub fn sample(&self, u: f64) -> f64 {
        self.quantile(u)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A wide normal law has failed in part, Φ(−m/s), before age 0: such a share has failed by age 0, and no life drawn is
    /// without end. Just above that share ages are small; of a weak fraction's sound seals they stay infinite.
    #[test]
    fn lives_below_age_0_end_at_once() {
        let life = Life::named("normal", &[("mean", 10.0), ("sigma", 10.0)]).unwrap();
        let before = life.failed(1e-9); // Φ(−1) = 0.158655
        assert!((before - 0.158_655_253_931).abs() < 1e-9);
        for p in [1e-6, 0.05, 0.15, before - 1e-6] {
            assert_eq!((life.quantile(p), life.sample(p)), (0.0, 0.0));
        }
        let just = life.quantile(before + 1e-6);
        assert!(0.0 < just && just < 1e-3);
        let weak = [("shape", 2.0), ("scale", 100.0), ("weak_share", 0.3)];
        let weak = Life::named("weak_fraction_weibull", &weak).unwrap();
        assert_eq!(weak.quantile(0.3), f64::INFINITY);
        assert!(weak.quantile(0.2).is_finite());
    }

    #[test]
    fn a_hazard_rises_or_does_not() {
        assert!(!Life::exponential(100.0).unwrap().hazard_rises());
        assert!(!Life::weibull(0.8, 100.0).unwrap().hazard_rises());
        assert!(Life::weibull(1.2, 100.0).unwrap().hazard_rises());
    }

    /// A refusal names the value that cannot be, or the one stated twice.
    #[test]
    fn a_life_stated_wrongly_is_refused_by_name() {
        let refused = |stated: &[(&str, f64)]| Life::named("weibull", stated).unwrap_err();
        for (value, said) in [
            (
                -1.0,
                "weibull shape=-1 is impossible: give a finite number above zero",
            ),
            (
                f64::NAN,
                "weibull shape=NaN is impossible: give a finite number above zero",
            ),
        ] {
            assert_eq!(refused(&[("shape", value), ("scale", 100.0)]), said);
        }
        let twice = refused(&[("shape", 2.0), ("shape", 2.0)]);
        assert_eq!(twice, "weibull: `shape` says again what is already stated");
    }
}
