//! The linear and the logarithmic scale.

use super::{Scale, Tick};
use crate::number;

/// Equal steps for equal differences.
pub const LINEAR: &dyn Scale = &Linear;
/// Equal steps for equal ratios: the place is the natural logarithm; positive values only.
pub const LOG: &dyn Scale = &Log;

#[derive(Debug)]
struct Linear;

#[derive(Debug)]
struct Log;

/// The round step (1, 2 or 5 times a power of ten) that gives at most
/// `wanted` steps over `span`.
fn round_step(span: f64, wanted: usize) -> f64 {
    let rough = span / wanted.max(1) as f64;
    let power = 10f64.powf(rough.log10().floor());
    let lead = rough / power;
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|step| lead <= step * (1.0 + 1e-9));
    power * step.unwrap_or(10.0)
}

fn decimals(step: f64) -> usize {
    let places = (-(step.log10() + 1e-9).floor()).clamp(0.0, 12.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0..=12 above"
    )]
    {
        places as usize
    }
}

impl Scale for Linear {
    fn name(&self) -> &'static str {
        "linear"
    }

    fn place(&self, value: f64) -> Option<f64> {
        value.is_finite().then_some(value)
    }

    fn value(&self, place: f64) -> f64 {
        place
    }

    fn ticks(&self, low: f64, high: f64, wanted: usize) -> Vec<Tick> {
        let span = high - low;
        if !(span.is_finite() && span > 0.0) {
            return Vec::new();
        }
        let step = round_step(span, wanted);
        let (first, places) = ((low / step - 1e-9).ceil(), decimals(step));
        (0..=wanted)
            .map(|i| (first + i as f64) * step)
            .take_while(|at| *at <= high + step * 1e-9)
            .map(|at| Tick {
                at,
                text: number::fixed(at, places),
            })
            .collect()
    }

    fn widen(&self, low: f64, high: f64) -> (f64, f64) {
        let (low, high) = if low >= 0.0 && low < 0.5 * high {
            (0.0, high)
        } else {
            (low, high)
        };
        let span = high - low;
        if span <= 0.0 {
            let room = (low.abs() * 0.1).max(0.5);
            return (low - room, high + room);
        }
        let step = round_step(span, 5);
        let below = if low == 0.0 {
            0.0
        } else {
            (low / step + 1e-9).floor() * step
        };
        (below, (high / step - 1e-9).ceil() * step)
    }
}

impl Scale for Log {
    fn name(&self) -> &'static str {
        "logarithmic"
    }

    fn place(&self, value: f64) -> Option<f64> {
        (value.is_finite() && value > 0.0).then(|| value.ln())
    }

    fn value(&self, place: f64) -> f64 {
        place.exp()
    }

    fn ticks(&self, low: f64, high: f64, wanted: usize) -> Vec<Tick> {
        if !(low > 0.0 && high.is_finite() && high > low) {
            return Vec::new();
        }
        let leads: [&[f64]; 3] = [&[1.0, 2.0, 5.0], &[1.0, 3.0], &[1.0]];
        let best = leads
            .iter()
            .map(|leads| log_ticks(low, high, leads))
            .find(|ticks| ticks.len() <= wanted + 1);
        match best {
            Some(ticks) if ticks.len() >= 3 => ticks,
            Some(_) => Linear.ticks(low, high, wanted),
            None => thin(log_ticks(low, high, &[1.0]), wanted),
        }
    }

    fn widen(&self, low: f64, high: f64) -> (f64, f64) {
        let room = ((high / low).ln() * 0.05).max(0.05);
        (low * (-room).exp(), high * room.exp())
    }

    fn minor_ticks(&self, low: f64, high: f64) -> Vec<f64> {
        let leads = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0];
        let ticks = log_ticks(low, high, &leads);
        let few = ticks.len() <= 40;
        ticks.into_iter().filter(|_| few).map(|t| t.at).collect()
    }
}

fn log_ticks(low: f64, high: f64, leads: &[f64]) -> Vec<Tick> {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a double's log10 lies within ±324"
    )]
    let powers = low.log10().floor() as i32..=high.log10().ceil() as i32;
    powers
        .flat_map(|power| leads.iter().map(move |lead| (power, *lead)))
        .map(|(power, lead)| lead * 10f64.powi(power))
        .filter(|at| *at >= low * (1.0 - 1e-9) && *at <= high * (1.0 + 1e-9))
        .map(|at| Tick {
            at,
            text: number::significant(at, 1),
        })
        .collect()
}

/// Every n-th tick, so that at most `wanted` are left.
fn thin(ticks: Vec<Tick>, wanted: usize) -> Vec<Tick> {
    let every = ticks.len().div_ceil(wanted.max(1)).max(1);
    ticks.into_iter().step_by(every).collect()
}
