//! Power-law intensity: by time t of its watch a system has had a·tᵇ events on average.
//!
//! Maximum likelihood over several systems of one law (Crow 1974; MIL-HDBK-189C; from memory). b = 1 is a constant rate,
//! b > 1 events that come faster. Exact intervals and the bias-corrected b rest on 2 b Σ ln(T/t), which is
//! chi-square with two degrees of freedom a telling event.
//!
//! ```
//! use sealspan_life::recurrence::{power_law::power_law, system::History};
//! let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-6, "{a} is not {b}");
//! // Three events in 100 days: growth n/Σ ln(T/t) = 3/ln(100³/(20·50·80)), factor n/T^growth.
//! let found = power_law(&[History::new(0.0, 100.0, vec![20.0, 50.0, 80.0]).unwrap()]).unwrap();
//! let sum = (1e6_f64 / 80_000.0).ln();
//! near(found.growth, 3.0 / sum);
//! near(found.bias_corrected().unwrap(), 2.0 / sum);
//! near(found.factor_for(1.0), 0.03); // at a constant rate, events a day
//! near(found.scale(), 100.0 * 3.0_f64.powf(-sum / 3.0)); // one event expected by then
//! near(found.intensity(100.0), 3.0 / sum * 0.03);
//! // 2 Σ ln(T/t) growth is chi-square with 6 degrees of freedom: 1.635383 and 12.591587 (any table).
//! let (lower, upper) = found.growth_interval(0.9);
//! near(lower, 1.635_382_894_327_907 / (2.0 * sum));
//! near(upper, 12.591_587_243_743_977 / (2.0 * sum));
//! // Twice the gain over a constant rate, from ℓ = n ln b + (b − 1) Σ ln(t/T) + terms without b.
//! let b = 3.0 / sum;
//! near(found.against_constant().0, 2.0 * (3.0 * b.ln() - (b - 1.0) * sum));
//! // ln scale = −ln(factor)/growth; here the delta method comes to about a half.
//! assert!((0.3..0.9).contains(&found.ln_scale_error()));
//! // Three events as evenly spread as these are no sign against the law.
//! assert!(found.goodness(1).unwrap().p_value > 0.1);
//! ```

use super::system::History;
use sealspan_numeric::random::Stream;
use sealspan_numeric::roots::{bracket_from, bracketed};
use sealspan_numeric::special::{chi_square_quantile, chi_square_survival};

/// A fitted power law.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerLaw {
    /// Growth b, without a unit: above 1, events come ever faster.
    pub growth: f64,
    /// Factor a: mean number of events by time 1.
    pub factor: f64,
    /// Covariance of (ln a, b) from the observed information.
    pub covariance: [[f64; 2]; 2],
    /// Log-likelihood, densities per unit of time.
    pub log_likelihood: f64,
    /// Events.
    pub events: f64,
    /// Systems.
    pub systems: f64,
    telling: f64,
    log_sum: f64,
    ln_times: f64,
    ends: Vec<f64>,
    shares: Vec<f64>,
}

/// Cramér–von Mises statistic of fit, and its p-value from simulated histories.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Goodness {
    /// The statistic, with the bias-corrected growth.
    pub cramer_von_mises: f64,
    /// Share of simulated statistics that are no smaller.
    pub p_value: f64,
    /// Simulated histories.
    pub draws: usize,
}

/// Fits the law. `None` without an event before the end of some watch.
///
/// ```
/// use sealspan_life::recurrence::{power_law::power_law, system::History};
/// // NIST/SEMATECH e-Handbook 8.2.2.3: ten repairs in 1500 h of test.
/// let times = vec![5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0];
/// let law = power_law(&[History::new(0.0, 1500.0, times).unwrap()]).unwrap();
/// assert!((law.bias_corrected().unwrap() - 0.483506).abs() < 1e-6);
/// ```
#[must_use]
pub fn power_law(systems: &[History]) -> Option<PowerLaw> {
    let ends: Vec<f64> = systems.iter().map(History::span).collect();
    let events: f64 = systems.iter().map(|s| s.events().len() as f64).sum();
    let ln_times: f64 = systems
        .iter()
        .flat_map(|s| s.events().iter().map(|t| (t - s.from()).ln()))
        .sum();
    let mut shares: Vec<f64> = systems
        .iter()
        .flat_map(|s| s.telling().map(move |t| t / s.span()))
        .collect();
    shares.sort_by(f64::total_cmp);
    let log_sum: f64 = shares.iter().map(|s| -s.ln()).sum();
    if log_sum <= 0.0 || !log_sum.is_finite() {
        return None;
    }
    let growth = solve(&ends, events, ln_times)?;
    let mut law = PowerLaw {
        growth,
        factor: events / power_sum(&ends, growth, 0),
        covariance: [[0.0; 2]; 2],
        log_likelihood: 0.0,
        events,
        systems: ends.len() as f64,
        telling: shares.len() as f64,
        log_sum,
        ln_times,
        ends,
        shares,
    };
    law.log_likelihood = law.log_likelihood_at(growth);
    law.covariance = law.inverse_information()?;
    Some(law)
}

/// Σ Tᵇ (ln T)ⁱ.
fn power_sum(ends: &[f64], b: f64, i: i32) -> f64 {
    ends.iter().map(|t| t.powf(b) * t.ln().powi(i)).sum()
}

/// The root of the score in b.
fn solve(ends: &[f64], events: f64, ln_times: f64) -> Option<f64> {
    let longest = ends.iter().copied().fold(0.0, f64::max);
    let score = |ln_b: f64| {
        let b = ln_b.exp();
        // Mean of ln T weighted by Tᵇ, scaled so that no power overflows.
        let weight = |t: f64| (b * (t / longest).ln()).exp();
        let (over, under) = ends.iter().fold((0.0, 0.0), |(o, u), t| {
            (o + weight(*t) * t.ln(), u + weight(*t))
        });
        1.0 / b + ln_times / events - over / under
    };
    let step = if score(0.0) > 0.0 { 0.5 } else { -0.5 };
    let (low, high) = bracket_from(score, 0.0, step, 40)?;
    bracketed(score, low, high, 1e-15).map(f64::exp)
}

impl PowerLaw {
    fn log_likelihood_at(&self, b: f64) -> f64 {
        let a = self.events / power_sum(&self.ends, b, 0);
        self.events * (a.ln() + b.ln()) + (b - 1.0) * self.ln_times - self.events
    }

    fn inverse_information(&self) -> Option<[[f64; 2]; 2]> {
        let sum = |i| self.factor * power_sum(&self.ends, self.growth, i);
        let (aa, ab) = (self.events, sum(1));
        let bb = self.events / (self.growth * self.growth) + sum(2);
        let determinant = aa * bb - ab * ab;
        (determinant > 0.0).then(|| {
            let c = |x: f64| x / determinant;
            [[c(bb), c(-ab)], [c(-ab), c(aa)]]
        })
    }

    /// Growth without its small-sample bias, (m − 1) / Σ ln(T/t) with m telling events: n − 1 for one
    /// system watched to a time, n − 2 for one that ended at an event. `None` below two telling events.
    #[must_use]
    pub fn bias_corrected(&self) -> Option<f64> {
        (self.telling > 1.0).then(|| (self.telling - 1.0) / self.log_sum)
    }

    /// The factor a that goes with a growth.
    #[must_use]
    pub fn factor_for(&self, growth: f64) -> f64 {
        self.events / power_sum(&self.ends, growth, 0)
    }

    /// The time by which a system has had one event on average, a^(−1/b).
    #[must_use]
    pub fn scale(&self) -> f64 {
        self.factor.powf(-1.0 / self.growth)
    }

    /// Standard error of ln scale.
    #[must_use]
    pub fn ln_scale_error(&self) -> f64 {
        let b = self.growth;
        let slope = [-1.0 / b, self.factor.ln() / (b * b)];
        let [[aa, ab], [_, bb]] = self.covariance;
        let variance =
            slope[0] * slope[0] * aa + 2.0 * slope[0] * slope[1] * ab + slope[1] * slope[1] * bb;
        variance.max(0.0).sqrt()
    }

    /// Events per unit of time after `time` of watching, a b tᵇ⁻¹.
    #[must_use]
    pub fn intensity(&self, time: f64) -> f64 {
        self.factor * self.growth * time.powf(self.growth - 1.0)
    }

    /// Exact interval of the growth at two-sided `level`, between 0 and 1, by the chi-square law of the module.
    #[must_use]
    pub fn growth_interval(&self, level: f64) -> (f64, f64) {
        let end = |p: f64| chi_square_quantile(p, 2.0 * self.telling) / (2.0 * self.log_sum);
        (end(0.5 - 0.5 * level), end(0.5 + 0.5 * level))
    }

    /// Likelihood-ratio test of a constant rate: chi-square with one degree of freedom, and its p-value.
    #[must_use]
    pub fn against_constant(&self) -> (f64, f64) {
        let statistic = (2.0 * (self.log_likelihood - self.log_likelihood_at(1.0))).max(0.0);
        (statistic, chi_square_survival(statistic, 1.0))
    }

    /// Cramér–von Mises test of fit (MIL-HDBK-189C), the p-value from histories simulated under the law:
    /// given the number of events their (t/T)ᵇ are evenly spread, so it depends on that number alone.
    #[must_use]
    pub fn goodness(&self, seed: u64) -> Option<Goodness> {
        let corrected = self.bias_corrected()?;
        let seen = von_mises(&self.shares, corrected);
        let n = self.shares.len();
        let draws = (2_000_000 / n.max(1)).clamp(99, 1999);
        let beyond = (0..draws)
            .filter(|i| {
                let mut stream = Stream::new(seed, *i as u64);
                let mut shares: Vec<f64> = (0..n).map(|_| stream.uniform()).collect();
                shares.sort_by(f64::total_cmp);
                let sum: f64 = shares.iter().map(|s| -s.ln()).sum();
                von_mises(&shares, (n as f64 - 1.0) / sum) >= seen
            })
            .count();
        Some(Goodness {
            cramer_von_mises: seen,
            p_value: (beyond as f64 + 1.0) / (draws as f64 + 1.0),
            draws,
        })
    }
}

fn von_mises(shares: &[f64], growth: f64) -> f64 {
    let m = shares.len() as f64;
    let off = shares.iter().zip(0..).map(|(share, i)| {
        let even = (2.0 * f64::from(i) + 1.0) / (2.0 * m);
        (share.powf(growth) - even).powi(2)
    });
    1.0 / (12.0 * m) + off.sum::<f64>()
}
