//! A property measured again and again on each seal, as a path that ends at a limit.
//!
//! Two models. [`mixed`]: every seal has its own straight line (of the value, or of its logarithm),
//! lines scatter normally among seals, and each measurement has an error (Lu & Meeker 1993;
//! Laird & Ware 1982; formulas from memory). [`wear`]: wear only grows, by independent gamma
//! increments, and is measured without error (van Noortwijk 2009; from memory). [`choose`] compares
//! them by likelihood.
//!
//! ```
//! use sealspan_life::degradation::{Limit, Scale, unusual::stand_out, wear};
//! let limit = Limit { value: 6.0, rising: true };
//! assert_eq!(limit.side(), 1.0);
//! assert_eq!((Scale::Log.to(1.0), Scale::Log.to(-1.0), Scale::Log.back(0.0)), (Some(0.0), None, 1.0));
//! // Gamma wear of shape 1 a day and rate 1/2 is exponential over one day: 2 more within it with chance e⁻¹.
//! let paths = [vec![(0.0, 0.0), (1.0, 1.0), (2.0, 3.0), (3.0, 4.0)], vec![(0.0, 0.0), (1.0, 2.0), (2.0, 3.0), (3.0, 5.0)]];
//! let fitted = wear::fit(&paths, limit).unwrap();
//! let known = wear::Wear { shape: 1.0, rate: 0.5, ..fitted }.parameters_known();
//! let crossing = known.of_seal(&[(0.0, 0.0), (10.0, 4.0)], limit).unwrap();
//! assert!((crossing.by(11.0) - (-1.0_f64).exp()).abs() < 1e-9);
//! assert!((crossing.age_at((-1.0_f64).exp()).unwrap() - 11.0).abs() < 1e-6);
//! // One seal in three that goes its own way; the second has no answer.
//! assert_eq!(stand_out(&[Some(0.001), None, Some(0.9)]), [0]);
//! ```

pub mod choose;
pub mod crossing;
pub mod mixed;
mod mixed_draws;
pub mod mixed_fit;
pub mod mixed_own;
mod mixed_sums;
pub mod unusual;
pub mod wear;

/// The measurements of one seal: age, in one unit throughout, and value, in the unit of the property; earliest first.
pub type Path = [(f64, f64)];

/// The limit of the measured property.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// The limit, in the property's unit.
    pub value: f64,
    /// Whether the property rises to it; else it falls.
    pub rising: bool,
}

impl Limit {
    /// +1 for a property that rises to its limit, −1 for one that falls.
    #[must_use]
    pub fn side(&self) -> f64 {
        if self.rising { 1.0 } else { -1.0 }
    }
}

/// Whether a path is straight in the value or in its logarithm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// value = level + rate × age.
    Plain,
    /// ln value = level + rate × age.
    Log,
}

impl Scale {
    /// The value on this scale; `None` outside its domain.
    #[must_use]
    pub fn to(self, value: f64) -> Option<f64> {
        let out = match self {
            Self::Plain => value,
            Self::Log => value.ln(),
        };
        out.is_finite().then_some(out)
    }

    /// The value back from this scale.
    #[must_use]
    pub fn back(self, scaled: f64) -> f64 {
        match self {
            Self::Plain => scaled,
            Self::Log => scaled.exp(),
        }
    }
}
