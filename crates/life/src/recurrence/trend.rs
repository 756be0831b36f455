//! Do the events of some systems come ever faster, or ever slower?
//!
//! Times count from the start of each system's watch. A system that ended with an event gives that event
//! up: given it, the others lie evenly up to it. Pooled over systems, each with its own rate:
//! Laplace (Cox & Lewis 1966) and MIL-HDBK-189C test a constant rate of Poisson events in each system;
//! Lewis & Robinson test a renewal process in each. Sources from memory; the first two are checked against
//! published cases.
//!
//! ```
//! use sealspan_life::recurrence::{system::History, trend::{laplace, lewis_robinson, mil_hdbk_189}};
//! let system = [History::new(0.0, 100.0, vec![60.0, 70.0, 95.0]).unwrap().new_at_start()];
//! // Event times even over the watch have mean 50 and variance 100²/12: Laplace's (Σt − 150)/√(3 · 100²/12).
//! let found = laplace(&system).unwrap();
//! assert!(found.rising && (found.statistic - 75.0 / 50.0).abs() < 1e-12);
//! let found = mil_hdbk_189(&system).unwrap();
//! assert_eq!(found.df, Some(6.0));
//! assert!((found.statistic - 2.0 * (1e6_f64 / (60.0 * 70.0 * 95.0)).ln()).abs() < 1e-12);
//! // Gaps that shrink: 60, 10, 25. With gaps all alike there is no test.
//! assert!(lewis_robinson(&system).unwrap().rising);
//! let even = [History::new(0.0, 100.0, vec![25.0, 50.0, 75.0]).unwrap().new_at_start()];
//! assert!(lewis_robinson(&even).is_none());
//! ```

use super::system::History;
use sealspan_numeric::special::chi_square_survival;

/// A test of no trend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// The statistic.
    pub statistic: f64,
    /// Degrees of freedom, for a chi-square statistic.
    pub df: Option<f64>,
    /// Two-sided p-value.
    pub p_value: f64,
    /// True when events come faster with time.
    pub rising: bool,
}

fn normal(z: f64) -> Option<Trend> {
    z.is_finite().then(|| Trend {
        statistic: z,
        df: None,
        p_value: chi_square_survival(z * z, 1.0),
        rising: z > 0.0,
    })
}

/// Sum of the telling events' times less what it should be, and the sum of n T²/12.
fn laplace_parts(system: &History) -> (f64, f64) {
    let (mut n, mut sum) = (0.0, 0.0);
    for time in system.telling() {
        n += 1.0;
        sum += time;
    }
    let span = system.span();
    (sum - 0.5 * n * span, n * span * span / 12.0)
}

/// Laplace's test, pooled. Above 0: events come faster. `None` without a telling event.
///
/// ```
/// use sealspan_life::recurrence::{system::History, trend::laplace};
/// let late = History::new(0.0, 10.0, vec![7.0, 8.0, 9.0]).unwrap();
/// assert!(laplace(&[late]).unwrap().rising);
/// ```
#[must_use]
pub fn laplace(systems: &[History]) -> Option<Trend> {
    let (mut off, mut variance) = (0.0, 0.0);
    for system in systems {
        let (o, v) = laplace_parts(system);
        off += o;
        variance += v;
    }
    normal(off / variance.sqrt())
}

/// The MIL-HDBK-189C test, 2 Σ ln(T/t) over all telling events against chi-square with two degrees of
/// freedom an event. Large: events come more slowly.
#[must_use]
pub fn mil_hdbk_189(systems: &[History]) -> Option<Trend> {
    let (mut n, mut sum) = (0.0, 0.0);
    for system in systems {
        for time in system.telling() {
            n += 1.0;
            sum += (system.span() / time).ln();
        }
    }
    let (statistic, df) = (2.0 * sum, 2.0 * n);
    if n == 0.0 || !statistic.is_finite() {
        return None;
    }
    let upper = chi_square_survival(statistic, df);
    Some(Trend {
        statistic,
        df: Some(df),
        p_value: (2.0 * upper.min(1.0 - upper)).min(1.0),
        rising: upper > 0.5,
    })
}

/// The Lewis–Robinson test of a renewal process in each system.
///
/// For one system it is Laplace's statistic over the coefficient of variation of the gaps (their standard
/// deviation has the divisor n − 1). Over several systems the statistic is the sum of the event times of
/// each, from the start of its first whole gap to its last event, against its mean and variance when the
/// gaps of that system are shuffled: exact to the second moment with few gaps each, and free of
/// differences between systems. `None` without a system of two gaps that differ.
#[must_use]
pub fn lewis_robinson(systems: &[History]) -> Option<Trend> {
    if let [one] = systems {
        let gaps = one.gaps();
        let (mean, deviation) = moments(&gaps)?;
        let laplace = laplace(systems)?;
        return normal(laplace.statistic * mean / deviation);
    }
    let (mut off, mut variance) = (0.0, 0.0);
    for system in systems {
        let gaps = system.gaps();
        let Some((mean, deviation)) = moments(&gaps) else {
            continue;
        };
        let n = gaps.len() as f64;
        // Gap j counts in the times of the n − j events that follow it, the last event left out.
        let times = gaps
            .iter()
            .zip(1..)
            .map(|(gap, j)| gap * (n - f64::from(j)));
        off += times.sum::<f64>() - 0.5 * n * (n - 1.0) * mean;
        variance += deviation * deviation * n * (n * n - 1.0) / 12.0;
    }
    normal(off / variance.sqrt())
}

/// Mean and standard deviation (divisor n − 1); `None` for fewer than two values or equal ones.
fn moments(values: &[f64]) -> Option<(f64, f64)> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>();
    let deviation = (square / (n - 1.0)).sqrt();
    (values.len() > 1 && deviation > 1e-12 * mean.abs()).then_some((mean, deviation))
}
