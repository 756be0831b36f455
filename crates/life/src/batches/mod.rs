//! Does a batch, or a cure month, live shorter or longer than its material?
//!
//! [`levels`] weighs all levels of a column at once: ln life of level b is shifted by δ_b ~ N(0, τ²) within
//! its strata, each of which has a law of its own. τ is estimated by the marginal likelihood; a level's
//! ratio is drawn towards 1 the more the less it has seen. Which levels differ is judged apart, by each level's
//! failures against those expected, with the share of false discoveries held (Benjamini & Hochberg 1995).
//! [`watch`] follows failures over the calendar and says when a level first showed too many.

mod differ;
mod limit;
mod random;
pub(crate) mod spread;
mod watch;

#[cfg(test)]
use differ::discoveries;
pub use differ::{Differing, Marked, differing};
pub use limit::{Limit, limit};
pub use random::{LevelRatio, RandomLevels, levels};
pub use spread::Spread;
pub use watch::{Course, CoursePoint, Exposed, path, watch};

use crate::family::Family;
use sealspan_records::observation::{Observation, Sample, Seen};

/// The lives of one level of the column in one stratum.
#[derive(Debug, Clone)]
pub struct Cell {
    /// Number of the stratum.
    pub stratum: usize,
    /// Number of the level.
    pub level: usize,
    /// Its lives.
    pub sample: Sample,
}

/// Failures that the law at θ expects of one row over the time it was watched: count × (H(end) − H(entry)), with the
/// cumulative hazard H = −ln S. A failure between two looks at a and b counts H at its expected place between them,
/// H(a) + 1 − w/(eʷ − 1) with w = H(b) − H(a), so that failures less expectations add up to about nothing under the
/// law.
///
/// ```
/// use sealspan_life::{batches::expected, laws::by_name};
/// use sealspan_records::Observation;
/// let seal = Observation::right(250.0, 50.0, 1.0).unwrap();
/// let failures = expected(by_name("exponential").unwrap(), &[100.0_f64.ln()], &seal);
/// assert!((failures - 2.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn expected(family: &'static dyn Family, theta: &[f64], o: &Observation) -> f64 {
    let hazard = |t: f64| {
        if t > 0.0 {
            -family.ln_survival(theta, t)
        } else {
            0.0
        }
    };
    let end = match o.seen() {
        Seen::Exact(t) | Seen::Right(t) => hazard(t),
        Seen::Interval(a, b) => between(hazard(a), hazard(b)),
    };
    o.count() * (end - hazard(o.entry()))
}

/// Mean of a unit exponential given that it lies in (a, b].
pub(crate) fn between(a: f64, b: f64) -> f64 {
    let width = b - a;
    if width < 1e-6 {
        return 0.5 * (a + b);
    }
    a + 1.0 - width / width.exp_m1()
}

#[cfg(test)]
mod tests;
