//! Arrhenius paper: temperatures in °C laid out by 1/T, so that ln life is a straight line.

use super::{LINEAR, Scale, Tick};

/// Equal steps for equal differences of 1/T: the place of a temperature c in °C is -1/(c + 273.15); hotter to the right. None
/// at absolute zero and below.
pub const ARRHENIUS_PAPER: &dyn Scale = &ArrheniusPaper;

/// 0 °C in kelvin.
const ZERO_CELSIUS: f64 = 273.15;

#[derive(Debug)]
struct ArrheniusPaper;

impl Scale for ArrheniusPaper {
    fn name(&self) -> &'static str {
        "reciprocal temperature"
    }

    fn place(&self, value: f64) -> Option<f64> {
        (value > -ZERO_CELSIUS).then(|| -1.0 / (value + ZERO_CELSIUS))
    }

    fn value(&self, place: f64) -> f64 {
        -1.0 / place - ZERO_CELSIUS
    }

    fn ticks(&self, low: f64, high: f64, wanted: usize) -> Vec<Tick> {
        LINEAR.ticks(low, high, wanted)
    }

    fn widen(&self, low: f64, high: f64) -> (f64, f64) {
        let room = (0.08 * (high - low)).max(1.0);
        ((low - room).max(1.0 - ZERO_CELSIUS), high + room)
    }
}
