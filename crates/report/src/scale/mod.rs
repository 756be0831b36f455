//! Axis scales: where a value lies along an axis, and honest ticks for it.
//!
//! A scale maps a value to a *place*, a number that grows evenly along the
//! axis. Ticks are always round numbers of the value, never of the place.
//!
//! ```
//! use sealspan_report::scale::{ARRHENIUS_PAPER, LINEAR, LOG, Scale};
//! let ticks = LINEAR.ticks(0.0, 100.0, 5); // steps of 20
//! let texts: Vec<&str> = ticks.iter().map(|t| t.text.as_str()).collect();
//! assert_eq!(texts, ["0", "20", "40", "60", "80", "100"]);
//! assert!(ARRHENIUS_PAPER.minor_ticks(20.0, 120.0).is_empty());
//! for scale in [LINEAR, LOG] {
//!     let (low, high) = scale.widen(10.0, 1000.0);
//!     assert!(low <= 10.0 && high >= 1000.0);
//! }
//! ```

mod linear;
mod paper;
mod reciprocal;

use std::fmt::Debug;

pub use linear::{LINEAR, LOG};
pub use paper::{NORMAL_PAPER, WEIBULL_PAPER};
pub use reciprocal::ARRHENIUS_PAPER;

/// A tick: the value it stands at, and its text.
#[derive(Debug, Clone, PartialEq)]
pub struct Tick {
    /// The value, in the axis's unit.
    pub at: f64,
    /// What is written beside it.
    pub text: String,
}

/// A way of laying values out along an axis.
pub trait Scale: Debug + Sync {
    /// The scale's name in words.
    fn name(&self) -> &'static str;

    /// The place of a value, or none outside the scale's domain.
    fn place(&self, value: f64) -> Option<f64>;

    /// The value at a place; the inverse of [`Scale::place`].
    fn value(&self, place: f64) -> f64;

    /// Ticks within `low..=high`, about `wanted` of them; none where the range is empty or outside the domain.
    fn ticks(&self, low: f64, high: f64, wanted: usize) -> Vec<Tick>;

    /// Values for short unlabelled ticks within `low..=high`.
    fn minor_ticks(&self, _low: f64, _high: f64) -> Vec<f64> {
        Vec::new()
    }

    /// A range that holds all of `low..=high` with a little room to spare, or up to the next round values.
    fn widen(&self, low: f64, high: f64) -> (f64, f64);
}

#[cfg(test)]
mod tests;
