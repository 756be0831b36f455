//! What a source states of a fitted law and the library does not print: its standard deviation, and standard errors on
//! the plain scale.

use sealspan_life::fit::Fit;
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;

/// Standard deviation of a life by the trapezoid rule in x = ln t: E T² = ∫ 2 e^(2x) R(e^x) dx, whose sum converges
/// faster than any power of the step for a smooth R that falls faster than any power of t.
pub fn standard_deviation(life: &Life) -> f64 {
    const STEP: f64 = 0.005;
    let middle = life.quantile(0.5).ln();
    let second: f64 = (-4000..4000)
        .map(|i| middle + STEP * f64::from(i))
        .map(|x| 2.0 * (2.0 * x + life.ln_survival(x.exp())).exp())
        .sum();
    (second * STEP - life.mean().powi(2)).sqrt()
}

/// Standard error on the plain scale: that on the scale of the quantity's link times the link's slope, by Richardson's
/// differences.
pub fn plain_error(fit: &Fit, quantity: Quantity) -> f64 {
    const STEP: f64 = 1e-3;
    let at = fit.family.quantity(&fit.theta, quantity).value;
    let slope = |h: f64| {
        let end = |x: f64| fit.family.unscale(quantity, x);
        (end(at + h) - end(at - h)) / (2.0 * h)
    };
    let slope = (4.0 * slope(STEP) - slope(2.0 * STEP)) / 3.0;
    slope.abs() * fit.scaled_error(quantity)
}
