//! Log-linear intensity: exp(g₀ + g₁ t) events per unit of time, t from the start of each watch
//! (Cox & Lewis 1966; from memory).

use super::system::History;
use sealspan_numeric::roots::{bracket_from, bracketed};

/// A fitted log-linear intensity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogLinear {
    /// g₀, ln of the rate at the start.
    pub intercept: f64,
    /// g₁ per unit of time.
    pub slope: f64,
    /// Standard error of the slope, per unit of time, from the observed information.
    pub slope_error: f64,
    /// Log-likelihood, densities per unit of time.
    pub log_likelihood: f64,
}

/// Mean and variance of u in (0, 1) with density ∝ exp(x u), and ln ∫ exp(x u) du.
fn tilted(x: f64) -> (f64, f64, f64) {
    if x < 0.0 {
        // Mirror: u → 1 − u turns x into −x.
        let (mean, variance, ln) = tilted(-x);
        return (1.0 - mean, variance, ln + x);
    }
    if x < 0.02 {
        let square = x * x;
        return (
            0.5 + x / 12.0 * (1.0 - square / 60.0),
            1.0 / 12.0 - square / 240.0 * (1.0 - square * 10.0 / 252.0),
            0.5 * x + square / 24.0 * (1.0 - square / 120.0),
        );
    }
    let gone = (-x).exp();
    let left = -(-x).exp_m1();
    (
        1.0 / left - 1.0 / x,
        1.0 / (x * x) - gone / (left * left),
        x + (left / x).ln(),
    )
}

/// Σ over systems of the integral of exp(g t), its first and second moment in t, with exp(largest
/// exponent) taken out, and that exponent.
fn sums(ends: &[f64], g: f64) -> (f64, f64, f64, f64) {
    let parts: Vec<(f64, f64, f64)> = ends
        .iter()
        .map(|end| {
            let (mean, variance, ln) = tilted(g * end);
            (ln + end.ln(), mean * end, variance * end * end)
        })
        .collect();
    let top = parts.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
    let (mut whole, mut first, mut second) = (0.0, 0.0, 0.0);
    for (ln, mean, variance) in parts {
        let weight = (ln - top).exp();
        whole += weight;
        first += weight * mean;
        second += weight * (variance + mean * mean);
    }
    (whole, first, second, top)
}

/// Fits the law by maximum likelihood over several systems. `None` without events, or when all lie at
/// one end.
///
/// ```
/// use sealspan_life::recurrence::{log_linear::log_linear, system::History};
/// let systems = [History::new(0.0, 100.0, vec![25.0, 75.0]).unwrap()];
/// let law = log_linear(&systems).unwrap();
/// // As many early as late: two events in 100, without a trend.
/// assert!(law.slope.abs() < 1e-9 && (law.intercept.exp() - 0.02).abs() < 1e-9);
/// ```
#[must_use]
pub fn log_linear(systems: &[History]) -> Option<LogLinear> {
    let ends: Vec<f64> = systems.iter().map(History::span).collect();
    let longest = ends.iter().copied().fold(0.0, f64::max);
    let times = systems
        .iter()
        .flat_map(|s| s.events().iter().map(|t| t - s.from()));
    let (n, sum) = times.fold((0.0, 0.0), |(n, sum), t| (n + 1.0, sum + t));
    if n == 0.0 {
        return None;
    }
    let score = |x: f64| {
        let (whole, first, ..) = sums(&ends, x / longest);
        (sum / n - first / whole) / longest
    };
    let step = if score(0.0) > 0.0 { 1.0 } else { -1.0 };
    let (low, high) = bracket_from(score, 0.0, step, 12)?;
    let slope = bracketed(score, low, high, 1e-15)? / longest;
    let (whole, first, second, top) = sums(&ends, slope);
    let intercept = n.ln() - whole.ln() - top;
    let mean = first / whole;
    let information = n * (second / whole - mean * mean);
    Some(LogLinear {
        intercept,
        slope,
        slope_error: information.sqrt().recip(),
        log_likelihood: n * intercept + slope * sum - n,
    })
}
