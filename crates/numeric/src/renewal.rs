//! The renewal function: mean number of events by a time, each starting the next wait afresh.
//!
//! M(t) = F(t) + ∫ M(t − x) dF(x). Weibull waits have a power series (Smith & Leadbetter 1963, from
//! memory), whose terms cancel for steep shapes and long times: it is used only where the largest
//! numbers met show that digits are left. Elsewhere the integral equation is solved by the midpoint
//! Stieltjes scheme (Xie 1989, from memory) with Richardson's extrapolation.

use statrs::function::gamma::ln_gamma;

/// Steps of the coarsest of three solutions of the integral equation; each next one doubles them.
const STEPS: usize = 750;
/// Terms of the power series at most.
const TERMS: usize = 160;
/// Relative error the series may have to be used.
const SERIES_ERROR: f64 = 1e-10;
/// How much larger than the rounding of its largest number the error of the series may be; measured
/// against 50-digit values, where it was below 300.
const ROUNDING: f64 = 1000.0 * f64::EPSILON;

/// M(t) and its slope for Weibull waits of scale 1 by the power series
/// Σ (−1)^(k−1) A_k t^(kβ)/Γ(kβ + 1); `None` where it has lost too many digits.
///
/// ```
/// // Events without memory: their mean number by t is t.
/// let (mean, slope) = sealspan_numeric::renewal::weibull_series(1.0, 2.0).unwrap();
/// assert!((mean - 2.0).abs() < 1e-10 && (slope - 1.0).abs() < 1e-10);
/// ```
#[must_use]
pub fn weibull_series(shape: f64, t: f64) -> Option<(f64, f64)> {
    let mut ratios = vec![1.0];
    let mut terms = vec![0.0];
    let mut largest_met = 0.0f64;
    let (mut sum, mut slope, mut sign) = (0.0, 0.0, 1.0);
    for k in 1..=TERMS {
        let n = k as f64;
        let g = (ln_gamma(n * shape + 1.0) - ln_gamma(n + 1.0)).exp();
        if !g.is_finite() {
            return None;
        }
        ratios.push(g);
        let mut coefficient = g;
        let mut largest = g;
        for (a, b) in ratios.iter().skip(1).zip(terms.iter().skip(1).rev()) {
            let product: f64 = a * b;
            coefficient -= product;
            largest = largest.max(product.abs());
        }
        terms.push(coefficient);
        let weight = (n * shape * t.ln() - ln_gamma(n * shape + 1.0)).exp();
        let term = sign * coefficient * weight;
        sum += term;
        slope += term * n * shape / t;
        largest_met = largest_met.max(largest * weight);
        sign = -sign;
        if k > 5 && term.abs() <= 1e-17 * sum.abs() {
            let lost = ROUNDING * largest_met > SERIES_ERROR * sum.abs();
            return (!lost).then_some((sum, slope));
        }
    }
    None
}

/// M at the ends of `steps` even steps up to `horizon`, from the share failed by an age.
fn stieltjes(failed: &impl Fn(f64) -> f64, horizon: f64, steps: usize) -> Vec<f64> {
    let step = horizon / steps as f64;
    let middle: Vec<f64> = (0..steps)
        .map(|i| failed((i as f64 + 0.5) * step))
        .collect();
    let first = middle.first().copied().unwrap_or(0.0);
    let mut rises: Vec<f64> = Vec::with_capacity(steps);
    let mut means = vec![0.0];
    let mut last = 0.0;
    for i in 1..=steps {
        let later = middle.get(1..i).unwrap_or_default().iter().rev();
        let past: f64 = rises
            .iter()
            .zip(later)
            .map(|(rise, share)| rise * share)
            .sum();
        let mean = (failed(i as f64 * step) + past - last * first) / (1.0 - first);
        rises.push(mean - last);
        means.push(mean);
        last = mean;
    }
    means
}

/// M at the ends of 750 even steps up to `horizon` for any waits, from the share failed by an age.
/// The error is about 1e-9 for waits whose density is finite at 0.
///
/// ```
/// // Exponential waits: M(t) = t.
/// let mean = sealspan_numeric::renewal::on_grid(|t| -(-t as f64).exp_m1(), 3.0);
/// assert!((mean[750] - 3.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn on_grid(failed: impl Fn(f64) -> f64, horizon: f64) -> Vec<f64> {
    let coarse = stieltjes(&failed, horizon, STEPS);
    let middle = stieltjes(&failed, horizon, 2 * STEPS);
    let fine = stieltjes(&failed, horizon, 4 * STEPS);
    coarse
        .iter()
        .zip(middle.iter().step_by(2))
        .zip(fine.iter().step_by(4))
        .map(|((a, b), c)| {
            let (first, second) = ((4.0 * b - a) / 3.0, (4.0 * c - b) / 3.0);
            (16.0 * second - first) / 15.0
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exponential waits are Weibull of shape 1; and series and equation agree where both hold.
    #[test]
    fn two_ways() {
        let (mean, slope) = weibull_series(1.0, 2.0).unwrap_or_default();
        assert!((mean - 2.0).abs() < 1e-13 && (slope - 1.0).abs() < 1e-12);
        for shape in [1.2, 2.0, 3.0] {
            let (mean, _) = weibull_series(shape, 1.5).unwrap_or_default();
            let grid = on_grid(|t: f64| -(-t.powf(shape)).exp_m1(), 1.5);
            let last = grid.last().copied().unwrap_or(0.0);
            assert!((last - mean).abs() < 1e-8, "shape {shape}: {last} {mean}");
        }
    }

    /// At shape 4 and twice the scale the series would be wrong by more than one; it says so.
    #[test]
    fn a_series_without_digits_is_refused() {
        assert!(weibull_series(4.0, 2.0).is_none());
    }
}
