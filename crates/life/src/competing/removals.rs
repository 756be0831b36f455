//! What removals on condition can hide: seals taken off because they looked bad were perhaps about to
//! fail, and to count them as sound until then makes life look longer than it is.

use crate::family::Family;
use crate::fit::{Fit, NoFit, fit};
use crate::quantity::Quantity;
use sealspan_records::observation::{NotAnObservation, Observation, Sample, Seen};
use thiserror::Error;

/// A fit under one assumption about the removals.
#[derive(Clone)]
pub struct Assumed {
    /// The fit.
    pub fit: Fit,
    /// Age by which the share asked for has failed, in the unit of the lives.
    pub age: f64,
}

/// The life quantile under the two extreme assumptions about the removals.
///
/// If seals are removed on signs of failure, the truth is expected between the two: the removed seals had
/// less life left than others of their age, and more than none. It is not between them where sound seals
/// were picked out for removal. Both are estimates with their own intervals; that the second is the shorter
/// is the rule and not a theorem, since the shape moves too.
#[derive(Clone)]
pub struct RemovalBound {
    /// How many seals were removed on condition.
    pub removed: f64,
    /// Share failed that the ages belong to.
    pub share: f64,
    /// Removals independent of the failure to come: right-censored.
    pub independent: Result<Assumed, NoFit>,
    /// Every removed seal would have failed at once: counted as failures at that age.
    pub failing: Result<Assumed, NoFit>,
}

/// Why no bound can be asked for.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum BadRemovals {
    /// A removal has to be a seal that was sound when taken off.
    #[error(
        "removal {row} is an ended life; removals on condition are sound until the age they are taken off"
    )]
    Ended {
        /// Number of the removal, from 0.
        row: usize,
    },
    /// A removal that could not have been a failure.
    #[error("removal {row}: {why}")]
    NotAnObservation {
        /// Number of the removal, from 0.
        row: usize,
        /// Why.
        why: NotAnObservation,
    },
    /// The share is none.
    #[error("the share failed is {0}; it must lie between 0 and 1")]
    BadShare(f64),
}

/// Fits `family` twice to the lives `others` with the removals on condition `removed` (right-censored
/// at the age each was taken off), and gives the age by which `share` has failed (0.1 for B10): with the
/// removals as censored, and as failures.
///
/// # Errors
/// [`BadRemovals`]. A fit that does not exist is the answer in its place: without failures among
/// `others` only the second may exist.
///
/// ```
/// use sealspan_life::competing::removals::removal_bound;
/// use sealspan_life::laws::by_name;
/// use sealspan_records::observation::{Observation, Sample};
/// let failed = [210.0, 260.0, 330.0, 350.0, 410.0].map(|t| Observation::exact(t, 0.0, 1.0));
/// let taken = [190.0, 240.0, 250.0].map(|t| Observation::right(t, 0.0, 1.0));
/// let sample = |rows: Vec<Result<_, _>>| rows.into_iter().collect::<Result<_, _>>().map(Sample::new);
/// let (others, removed) = (sample(failed.to_vec())?, sample(taken.to_vec())?);
/// let bound = removal_bound(by_name("weibull").unwrap(), &others, &removed, 0.1).unwrap();
/// let (long, short) = (bound.independent.unwrap().age, bound.failing.unwrap().age);
/// assert!(short < long);
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
pub fn removal_bound(
    family: &'static dyn Family,
    others: &Sample,
    removed: &Sample,
    share: f64,
) -> Result<RemovalBound, BadRemovals> {
    if !(0.0 < share && share < 1.0) {
        return Err(BadRemovals::BadShare(share));
    }
    let fail = |(row, o): (usize, &Observation)| match o.seen() {
        Seen::Right(t) => Observation::exact(t, o.entry(), o.count())
            .map_err(|why| BadRemovals::NotAnObservation { row, why }),
        Seen::Exact(_) | Seen::Interval(..) => Err(BadRemovals::Ended { row }),
    };
    let failed = removed.rows().iter().enumerate().map(fail);
    let failed: Vec<Observation> = failed.collect::<Result<_, _>>()?;
    let assumed = |removals: &[Observation]| {
        let rows = others.rows().iter().chain(removals).copied().collect();
        let fit = fit(family, &Sample::new(rows))?;
        let age = fit.estimate(Quantity::Quantile(share));
        Ok(Assumed { fit, age })
    };
    Ok(RemovalBound {
        removed: removed.tally().total(),
        share,
        independent: assumed(removed.rows()),
        failing: assumed(&failed),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::laws::by_name;

    fn sample(rows: &[Result<Observation, NotAnObservation>]) -> Sample {
        Sample::new(rows.iter().map(|r| r.unwrap()).collect())
    }

    /// The exponential's mean is time watched over failures, whatever the ages.
    #[test]
    fn exponential_bounds_by_hand() {
        let others = sample(&[
            Observation::exact(100.0, 0.0, 2.0),
            Observation::right(300.0, 100.0, 1.0),
        ]);
        let removed = sample(&[Observation::right(200.0, 50.0, 3.0)]);
        let family = by_name("exponential").unwrap();
        let bound = removal_bound(family, &others, &removed, 0.1).unwrap();
        let watched = 2.0 * 100.0 + 200.0 + 3.0 * 150.0;
        let unit = -(0.9_f64.ln());
        let (independent, failing) = (bound.independent.unwrap(), bound.failing.unwrap());
        assert!((independent.age / (unit * watched / 2.0) - 1.0).abs() < 1e-9);
        assert!((failing.age / (unit * watched / 5.0) - 1.0).abs() < 1e-9);
        assert_eq!((bound.removed, bound.share), (3.0, 0.1));
        assert_eq!(failing.fit.terms.extent.failures, 5.0);
    }

    #[test]
    fn without_failures_only_the_second_exists() {
        let others = sample(&[Observation::right(400.0, 0.0, 5.0)]);
        let removed = sample(&[
            Observation::right(200.0, 0.0, 1.0),
            Observation::right(350.0, 0.0, 1.0),
        ]);
        let bound = removal_bound(by_name("weibull").unwrap(), &others, &removed, 0.1).unwrap();
        let why = bound.independent.map(|a| a.age);
        assert_eq!(why, Err(NoFit::NoFailures { total: 7.0 }));
        assert!(bound.failing.is_ok());
    }

    #[test]
    fn impossible_removals_are_refused_by_number() {
        let others = sample(&[Observation::exact(100.0, 0.0, 2.0)]);
        let refusal = |removed: &Sample, share: f64| {
            let bound = removal_bound(by_name("exponential").unwrap(), &others, removed, share);
            bound.map(|b| b.removed).unwrap_err()
        };
        let taken = Observation::right(5.0, 0.0, 1.0);
        let ended = sample(&[taken, Observation::exact(5.0, 0.0, 1.0)]);
        let new = sample(&[Observation::right(0.0, 0.0, 1.0)]);
        assert_eq!(refusal(&ended, 0.1), BadRemovals::Ended { row: 1 });
        assert_eq!(
            refusal(&new, 0.1),
            BadRemovals::NotAnObservation {
                row: 0,
                why: NotAnObservation::FailureAtZero
            }
        );
        assert_eq!(refusal(&sample(&[taken]), 1.0), BadRemovals::BadShare(1.0));
    }
}
