//! Mean cumulative number of events of a system, without assuming a process.
//!
//! M(t) = Σ d/Y over the event times up to t, with d events among Y systems under watch (Nelson 1995).
//! The robust variance is that of Lawless & Nadeau (1995), Technometrics 37:158: it holds whatever the
//! process, as long as systems are alike and independent (from memory; checked on published data). The naive one, Σ d/Y², holds for Poisson events.
//!
//! ```
//! use sealspan_life::recurrence::mean_cumulative::{differences, mean_cumulative};
//! use sealspan_life::recurrence::system::History;
//! let system = |events: Vec<f64>| History::new(0.0, 10.0, events).unwrap();
//! // Two systems, of which one had an event at 2: half an event a system.
//! let first = mean_cumulative(&[system(vec![2.0]), system(vec![])]);
//! let second = mean_cumulative(&[system(vec![]), system(vec![])]);
//! assert_eq!((first.at(1.0), first.at(5.0), second.at(5.0)), (0.0, 0.5, 0.0));
//! // By hand: Σ over systems of (events − mean)²/n² = (0.25 + 0.25)/4.
//! assert!((first.variance(5.0) - 0.125).abs() < 1e-12);
//! // The same as a factor about the mean, on its logarithm: 0.5 e^{±z √0.125/0.5}.
//! let (lower, upper) = first.steps[0].interval(0.9);
//! let factor = (1.644_853_627 * 0.125_f64.sqrt() / 0.5).exp();
//! assert!((upper / (0.5 * factor) - 1.0).abs() < 1e-6 && (lower * upper - 0.25).abs() < 1e-12);
//! let apart = differences(&first, &second, 10.0);
//! let last = apart.last().unwrap();
//! assert!((last.difference - 0.5).abs() < 1e-12 && (last.std_error - 0.125_f64.sqrt()).abs() < 1e-12);
//! let (lower, upper) = last.interval(0.9);
//! assert!((upper - 0.5 - 1.644_853_627 * 0.125_f64.sqrt()).abs() < 1e-6);
//! assert!((lower + upper - 1.0).abs() < 1e-9);
//! // z = √2: P(|Z| > √2) = 0.157299 (erfc 1).
//! assert!((last.p_value().unwrap() - 0.157_299_207).abs() < 1e-6);
//! ```

use super::system::History;
use sealspan_numeric::special::{chi_square_survival, normal_quantile};

/// The curve at one event time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Time of the events.
    pub time: f64,
    /// Systems under watch just before.
    pub at_risk: f64,
    /// Events then.
    pub events: f64,
    /// Mean number of events of a system by then.
    pub mean: f64,
    /// Variance of the mean for any process.
    pub robust: f64,
    /// Variance of the mean if events were Poisson.
    pub naive: f64,
}

impl Step {
    /// Interval of the mean at two-sided `level`, normal on ln M, with the robust variance. Known exactly
    /// where every system has had the same number of events.
    #[must_use]
    pub fn interval(&self, level: f64) -> (f64, f64) {
        let z = normal_quantile(0.5 + 0.5 * level);
        let factor = (z * self.robust.sqrt() / self.mean).exp();
        (self.mean / factor, self.mean * factor)
    }
}

/// The whole curve.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeanCumulative {
    /// Its steps, earliest first.
    pub steps: Vec<Step>,
    /// Systems.
    pub systems: usize,
}

/// The curve of some systems on a common time axis; each counts while it is under watch.
///
/// ```
/// use sealspan_life::recurrence::{mean_cumulative::mean_cumulative, system::History};
/// let one = History::new(0.0, 10.0, vec![2.0, 5.0]).unwrap();
/// let two = History::new(0.0, 4.0, vec![3.0]).unwrap();
/// let curve = mean_cumulative(&[one, two]);
/// assert_eq!(curve.at(4.0), 1.0);
/// assert_eq!(curve.at(5.0), 2.0); // only one system is still under watch
/// ```
#[must_use]
pub fn mean_cumulative(systems: &[History]) -> MeanCumulative {
    let mut times: Vec<f64> = systems
        .iter()
        .flat_map(|s| s.events().iter().copied())
        .collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    let mut own: Vec<(f64, usize)> = vec![(0.0, 0); systems.len()];
    let (mut mean, mut naive) = (0.0, 0.0);
    let mut steps = Vec::with_capacity(times.len());
    for time in times {
        let watched = |s: &History| s.from() < time && time <= s.to();
        let at_risk = systems.iter().filter(|s| watched(s)).count() as f64;
        let mut events = 0.0;
        for (system, (excess, next)) in systems.iter().zip(&mut own) {
            let here = system
                .events()
                .iter()
                .skip(*next)
                .take_while(|t| **t == time);
            let count = here.count();
            *next += count;
            events += count as f64;
            *excess += count as f64 / at_risk;
        }
        for (system, (excess, _)) in systems.iter().zip(&mut own) {
            if watched(system) {
                *excess -= events / (at_risk * at_risk);
            }
        }
        mean += events / at_risk;
        naive += events / (at_risk * at_risk);
        steps.push(Step {
            time,
            at_risk,
            events,
            mean,
            robust: own.iter().map(|(excess, _)| excess * excess).sum(),
            naive,
        });
    }
    MeanCumulative {
        steps,
        systems: systems.len(),
    }
}

impl MeanCumulative {
    fn last_by(&self, time: f64) -> Option<&Step> {
        let past = self.steps.partition_point(|s| s.time <= time);
        past.checked_sub(1).and_then(|at| self.steps.get(at))
    }

    /// Mean number of events by `time`.
    #[must_use]
    pub fn at(&self, time: f64) -> f64 {
        self.last_by(time).map_or(0.0, |s| s.mean)
    }

    /// Robust variance of the mean at `time`.
    #[must_use]
    pub fn variance(&self, time: f64) -> f64 {
        self.last_by(time).map_or(0.0, |s| s.robust)
    }
}

/// Mean of one group less that of another, at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// Time.
    pub time: f64,
    /// First less second.
    pub difference: f64,
    /// Its standard error (robust).
    pub std_error: f64,
}

impl Difference {
    /// Normal interval at two-sided `level`.
    #[must_use]
    pub fn interval(&self, level: f64) -> (f64, f64) {
        let reach = normal_quantile(0.5 + 0.5 * level) * self.std_error;
        (self.difference - reach, self.difference + reach)
    }

    /// Two-sided p-value of no difference at this time; `None` without a standard error.
    #[must_use]
    pub fn p_value(&self) -> Option<f64> {
        let z = self.difference / self.std_error;
        z.is_finite().then(|| chi_square_survival(z * z, 1.0))
    }
}

/// Difference of two independent groups at every time that either curve steps, up to `end`, the last
/// time at which both are under watch.
#[must_use]
pub fn differences(first: &MeanCumulative, second: &MeanCumulative, end: f64) -> Vec<Difference> {
    let mut times: Vec<f64> = first
        .steps
        .iter()
        .chain(&second.steps)
        .map(|s| s.time)
        .collect();
    times.retain(|t| *t <= end);
    times.sort_by(f64::total_cmp);
    times.dedup();
    times
        .into_iter()
        .map(|time| Difference {
            time,
            difference: first.at(time) - second.at(time),
            std_error: (first.variance(time) + second.variance(time)).sqrt(),
        })
        .collect()
}
