//! From shares of failures to how hard each sector is on the seal, and what could be gained.
//!
//! With weakest-link Weibull sectors of shape β, never turned, sector j takes a share p_j ∝ w_j^β of the
//! failures, so w_j ∝ p_j^(1/β).
//!
//! ```
//! use sealspan_life::sectors::severity::{mending, turning_limit};
//! // Wear 2, 1, 1 and shape 2: the power mean √2 over the mean 4/3.
//! assert!((turning_limit(&[2.0, 1.0, 1.0], 2.0) - 0.75 * 2.0_f64.sqrt()).abs() < 1e-12);
//! // The worst sector has half; three at the others' quarter make 3/4 of the hazard: a constant one lives 4/3 as long.
//! assert!((mending(&[0.5, 0.25, 0.25], 1.0) - 4.0 / 3.0).abs() < 1e-12);
//! ```

use super::shares::PRIOR;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::normal_quantile;

/// Relative severity of each sector, mean 1. `None` unless shares and shape are above zero.
///
/// ```
/// use sealspan_life::sectors::severity::severity;
/// let w = severity(&[16.0 / 19.0, 1.0 / 19.0, 1.0 / 19.0, 1.0 / 19.0], 2.0).unwrap();
/// assert!((w[0] / w[1] - 4.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn severity(shares: &[f64], shape: f64) -> Option<Vec<f64>> {
    let good = shape > 0.0 && shape.is_finite() && shares.iter().all(|p| *p > 0.0);
    let raw: Vec<f64> = shares.iter().map(|p| p.powf(1.0 / shape)).collect();
    let mean = raw.iter().sum::<f64>() / raw.len() as f64;
    (good && mean > 0.0).then(|| raw.iter().map(|w| w / mean).collect())
}

/// The most that turning can give: life turned ever more often over life never turned, the power mean of
/// order β over the mean. 1 for β = 1 or even wear.
#[must_use]
pub fn turning_limit(severity: &[f64], shape: f64) -> f64 {
    let k = severity.len() as f64;
    let mean = severity.iter().sum::<f64>() / k;
    // Over the greatest, so that no power overflows.
    let most = severity.iter().copied().fold(0.0, f64::max);
    let power = severity.iter().map(|w| (w / most).powf(shape)).sum::<f64>() / k;
    most / mean * power.powf(1.0 / shape)
}

/// What mending the door would give, if its other sectors wear as they would in line: life with every
/// sector at the mean share of the others, over life as it is.
#[must_use]
pub fn mending(shares: &[f64], shape: f64) -> f64 {
    let k = shares.len() as f64;
    let whole: f64 = shares.iter().sum();
    let worst = shares.iter().copied().fold(0.0, f64::max);
    let others = (whole - worst) / (k - 1.0);
    (whole / (k * others)).powf(1.0 / shape)
}

/// Shape of the seals' life and the standard error of its logarithm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shape {
    /// Estimate.
    pub estimate: f64,
    /// Standard error of ln shape; 0 when stated.
    pub ln_error: f64,
}

/// Severities and gains that counts and shape leave open.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// Severity by sector.
    pub severity: Vec<f64>,
    /// Shape.
    pub shape: f64,
    /// The most that turning can give.
    pub turning: f64,
    /// What mending would give.
    pub mending: f64,
}

/// Draws from the posterior of a door taken as out of line (Dirichlet with [`PRIOR`] added to each count)
/// and from the normal law of ln shape.
///
/// ```
/// use sealspan_life::sectors::severity::{Shape, draws, interval};
/// // Ten thousand failures in each of four sectors leave little open: all wear alike.
/// let drawn = draws(&[10_000; 4], Shape { estimate: 2.0, ln_error: 0.0 }, 100, 1);
/// let (lower, upper) = interval(drawn.iter().map(|d| d.severity[0]).collect(), 0.9).unwrap();
/// assert!(lower > 0.97 && lower < 1.0 && upper > 1.0 && upper < 1.03);
/// assert!(drawn.iter().all(|d| d.shape == 2.0 && (d.turning - 1.0).abs() < 1e-3));
/// ```
#[must_use]
pub fn draws(counts: &[u32], shape: Shape, number: usize, seed: u64) -> Vec<Drawn> {
    (0..number)
        .filter_map(|i| {
            let mut stream = Stream::new(seed, i as u64);
            let beta = shape.estimate * (shape.ln_error * stream.normal()).exp();
            let raw: Vec<f64> = counts
                .iter()
                .map(|c| gamma(f64::from(*c) + PRIOR, &mut stream))
                .collect();
            let sum: f64 = raw.iter().sum();
            let shares: Vec<f64> = raw.iter().map(|g| g / sum).collect();
            let severity = severity(&shares, beta)?;
            Some(Drawn {
                turning: turning_limit(&severity, beta),
                mending: mending(&shares, beta),
                shape: beta,
                severity,
            })
        })
        .collect()
}

/// A gamma deviate of scale 1: Marsaglia & Tsang (2000, from memory), with the power of a uniform for shapes below 1.
fn gamma(shape: f64, stream: &mut Stream) -> f64 {
    if shape < 1.0 {
        let power = stream.uniform().powf(1.0 / shape);
        return gamma(shape + 1.0, stream) * power;
    }
    let d = shape - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let x = normal_quantile(stream.uniform());
        let v = (1.0 + c * x).powi(3);
        if v > 0.0 && stream.uniform().ln() < 0.5 * x * x + d * (1.0 - v + v.ln()) {
            return d * v;
        }
    }
}

/// Interval of a drawn quantity at two-sided `level`, from the draws' order. `None` below 20 draws.
#[must_use]
pub fn interval(mut values: Vec<f64>, level: f64) -> Option<(f64, f64)> {
    values.retain(|v| v.is_finite());
    values.sort_by(f64::total_cmp);
    let n = values.len();
    if n < 20 {
        return None;
    }
    let at = |p: f64| values.get(((p * n as f64) as usize).min(n - 1)).copied();
    at(0.5 - 0.5 * level).zip(at(0.5 + 0.5 * level))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An interval at level 1 holds all draws, one at half the middle half.
    #[test]
    fn an_interval_is_read_from_the_order_of_the_draws() {
        let values: Vec<f64> = (0..40).rev().map(f64::from).collect();
        assert_eq!(interval(values.clone(), 1.0), Some((0.0, 39.0)));
        assert_eq!(interval(values, 0.5), Some((10.0, 30.0)));
    }
}
