//! What can be said with few or no failures: a shape taken as known turns ages into equivalent
//! exponential time, and chi-square bounds follow.
//!
//! ```
//! use sealspan_life::few::{Ended, exponential_mean_bounds, lower_bounds, scale_bounds};
//! use sealspan_records::observation::{Observation, Sample};
//! let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-6, "{a} is not {b}");
//! // With two degrees of freedom the chi-square quantile is −2 ln(1 − C): one failure that ended 500 days.
//! let (lower, upper) = exponential_mean_bounds(500.0, 1.0, 0.95, Ended::AtFailure);
//! near(lower.unwrap(), 500.0 / -0.05_f64.ln());
//! near(upper.unwrap(), 500.0 / -0.95_f64.ln());
//! // One failure at 100 days under shape 2: χ²(0.95; 4) = 9.487729 below (any table), one of 2 degrees above.
//! let failed = Sample::new(vec![Observation::exact(100.0, 0.0, 1.0)?]);
//! let (lower, upper) = scale_bounds(&failed, 2.0, 0.9).unwrap();
//! near(lower, 100.0 * (2.0 / 9.487_729_036_781_154_f64).sqrt());
//! near(upper, 100.0 / (-0.95_f64.ln()).sqrt());
//! // Five seals sound at 100 days, shape 1: an exponential life, which forgets its age.
//! let sound = Sample::new(vec![Observation::right(100.0, 0.0, 5.0)?]);
//! let bound = lower_bounds(&sound, 1.0, 0.95).unwrap();
//! let mean = 500.0 / -0.05_f64.ln();
//! near(bound.mean(), mean);
//! near(bound.quantile(0.5), mean * 2.0_f64.ln());
//! near(bound.remaining(70.0, 0.5), mean * 2.0_f64.ln());
//! near(bound.survival(mean), (-1.0_f64).exp());
//! # Ok::<(), sealspan_records::observation::NotAnObservation>(())
//! ```

use sealspan_numeric::special::chi_square_quantile;
use sealspan_records::observation::Sample;

/// One-sided lower confidence bounds with the shape taken as known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowerBounds {
    /// Weibull shape β taken as known (1 is the exponential law).
    pub shape: f64,
    /// Confidence of each bound by itself.
    pub confidence: f64,
    /// Lower bound of the characteristic life η (of the mean life for shape 1).
    pub scale: f64,
}

/// Lower bound of the Weibull scale with known `shape` from time-terminated watching: η = (2 Σ (t^β − entry^β) / χ²(C;
/// 2r + 2))^(1/β), over all seals, r of them failed; interval failures count their time up to the lower end. Where the
/// last failure ended the watching the bound is on the safe side. Source: NIST/SEMATECH e-Handbook 8.4.5.1 for shape 1;
/// a known shape enters by the transform t^β (IEC 61649). `None` when nothing was watched.
///
/// ```
/// use sealspan_life::few::lower_bounds;
/// use sealspan_records::observation::{Observation, Sample};
/// // Five seals sound at 100 days: mean life at least 500 / −ln(0.05) days with 95 % confidence.
/// let sample = Sample::new(vec![Observation::right(100.0, 0.0, 5.0)?]);
/// let bound = lower_bounds(&sample, 1.0, 0.95).unwrap();
/// assert!((bound.scale - 166.904_100_347_667).abs() < 1e-9);
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
#[must_use]
pub fn lower_bounds(sample: &Sample, shape: f64, confidence: f64) -> Option<LowerBounds> {
    use sealspan_records::observation::Seen;
    let sound = |seen: Seen| match seen {
        Seen::Exact(t) | Seen::Right(t) => t,
        Seen::Interval(a, _) => a,
    };
    let largest = sample.oldest();
    let watched: f64 = sample
        .rows()
        .iter()
        .map(|o| {
            o.count()
                * ((sound(o.seen()) / largest).powf(shape) - (o.entry() / largest).powf(shape))
        })
        .sum();
    let failures = sample.tally().failures();
    let chi = chi_square_quantile(confidence, 2.0 * failures + 2.0);
    let scale = largest * (2.0 * watched / chi).powf(1.0 / shape);
    (scale.is_finite() && scale > 0.0).then_some(LowerBounds {
        shape,
        confidence,
        scale,
    })
}

/// Both chi-square ends of the Weibull scale with known `shape`, each with confidence (1 + `level`)/2: a lower end as
/// in [`lower_bounds`] and with χ²((1 − level)/2; 2r) in the place of its χ² above. `None` without failures, or where a
/// failure age is known only between two looks.
#[must_use]
pub fn scale_bounds(sample: &Sample, shape: f64, level: f64) -> Option<(f64, f64)> {
    let tally = sample.tally();
    if tally.failures() <= 0.0 || tally.exact < tally.failures() {
        return None;
    }
    let each = 0.5 + 0.5 * level;
    let lower = lower_bounds(sample, shape, each)?.scale;
    let more = chi_square_quantile(each, 2.0 * tally.failures() + 2.0)
        / chi_square_quantile(1.0 - each, 2.0 * tally.failures());
    Some((lower, lower * more.powf(1.0 / shape)))
}

/// What ended the watching of an exponential life.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// A stated time.
    AtTime,
    /// The last failure counted.
    AtFailure,
}

/// One-sided bounds of an exponential mean life from `failures` in `total` time watched, each with confidence
/// `confidence`: 2T/χ²(C; 2r + 2) below (2r degrees when the last failure ended the watching) and
/// 2T/χ²(1 − C; 2r) above. Without failures there is none above, nor below unless a stated time ended the watching.
/// Source: NIST/SEMATECH e-Handbook 8.4.5.1.
#[must_use]
pub fn exponential_mean_bounds(
    total: f64,
    failures: f64,
    confidence: f64,
    ended: Ended,
) -> (Option<f64>, Option<f64>) {
    let lower_freedom = match ended {
        Ended::AtTime => 2.0 * failures + 2.0,
        Ended::AtFailure => 2.0 * failures,
    };
    let bound = |confidence: f64, freedom: f64| {
        (freedom > 0.0).then(|| 2.0 * total / chi_square_quantile(confidence, freedom))
    };
    (
        bound(confidence, lower_freedom),
        bound(1.0 - confidence, 2.0 * failures),
    )
}

impl LowerBounds {
    /// Lower bound of the age by which the share `p` has failed: η (−ln(1 − p))^(1/β).
    #[must_use]
    pub fn quantile(&self, p: f64) -> f64 {
        self.scale * (-(-p).ln_1p()).powf(1.0 / self.shape)
    }

    /// Lower bound of the share surviving age `t`: exp(−(t/η)^β).
    #[must_use]
    pub fn survival(&self, t: f64) -> f64 {
        (-(t / self.scale).powf(self.shape)).exp()
    }

    /// Lower bound of the time that a seal of age `age` has left, by which the share `p` of such seals has failed:
    /// η ((age/η)^β − ln(1 − p))^(1/β) − age.
    #[must_use]
    pub fn remaining(&self, age: f64, p: f64) -> f64 {
        // Without loss when it is small.
        let now = (age / self.scale).powf(self.shape);
        let left = age * ((-(-p).ln_1p() / now).ln_1p() / self.shape).exp_m1();
        if left.is_finite() {
            left
        } else {
            self.quantile(p)
        }
    }

    /// Lower bound of the mean life: η Γ(1 + 1/β).
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.scale * sealspan_numeric::special::ln_gamma(1.0 + 1.0 / self.shape).exp()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use sealspan_records::observation::Observation;

    /// Five seals that entered at 50 and were sound at 100: five times 100^β − 50^β watched.
    #[test]
    fn time_before_entry_is_not_watched() {
        let late = Sample::new(vec![Observation::right(100.0, 50.0, 5.0).unwrap()]);
        let by_chance = 20_f64.ln();
        for (shape, watched) in [(1.0, 250.0), (2.0, 37_500.0)] {
            let want = (watched / by_chance).powf(1.0 / shape);
            let got = lower_bounds(&late, shape, 0.95).unwrap().scale;
            assert!((got / want - 1.0).abs() < 1e-9, "{shape}: {got} {want}");
        }
    }
}
