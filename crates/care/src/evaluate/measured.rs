//! The evaluator of a seal whose condition is measured: replaced when a look reads too near the functional limit.
//!
//! A seal that fails at age T had the distance v (T − t) to the limit at age t, so it is enough to know T and v: the
//! density of both is v φ₂(v T, v). Given them, a seal meets its looks one by one, each of which reads it within the
//! limit with a chance of its own. T is integrated between the stops, v across its normal law given T, both in panels
//! no wider than what changes within them; seals that outlive the policy's last age are integrated over their distance
//! there. Panels are halved until the figures agree to 1e-9.
//!
//! ```
//! use sealspan_care::evaluate::{evaluate, measured::{paths, rough}};
//! use sealspan_care::{policy::CarePolicy, seal::{Paths, Seal}, terms::Terms};
//! use sealspan_life::degradation::{Limit, Scale};
//! // A property that falls from 20 by 0.01 a day on average to the limit of 10: half are past it by day 1000.
//! let limit = Limit { value: 10.0, rising: false };
//! let seal = Seal::measured(Paths::new(limit, Scale::Plain, (20.0, -0.01), (0.04, 0.0, 1e-6), 0.1)?);
//! let policy = CarePolicy::replace_at(1000.0);
//! let exact = evaluate(&seal, &policy, &Terms::default())?;
//! assert!((exact.failed - 0.5).abs() < 1e-8 && (exact.preventive - 0.5).abs() < 1e-8);
//! // The quick way gives what replacing at each stop comes to; here there is one.
//! let quick = rough(&seal, paths(&seal).unwrap(), &policy, &Terms::default())?;
//! assert!(quick.len() == 1 && quick[0].age == 1000.0 && (quick[0].outcome.failed - 0.5).abs() < 1e-3);
//! # Ok::<(), sealspan_care::error::Error>(())
//! ```

use super::outcome::{Outcome, Totals};
use super::{AGREED, Cutoff, UNSETTLED};
use crate::error::{Error, Result};
use crate::policy::{CareAction, CarePolicy};
use crate::seal::{FailureSign, Onset, Paths, Seal, above};
use crate::terms::Terms;
use sealspan_numeric::quadrature::{LEGENDRE, legendre};
use std::f64::consts::TAU;
use std::sync::LazyLock;

/// Normal laws are cut at this many standard deviations, and in the search.
const CUT: f64 = 8.5;
const CUT_IN_SEARCH: f64 = 5.0;
/// Panels along one line at most.
const MOST_PANELS: f64 = 4000.0;
/// Stops of one cycle at most.
const MOST_STOPS: usize = 5_000;
/// A seal of less weight than this share of its node is not followed on.
const GONE: f64 = 1e-15;
const GONE_IN_SEARCH: f64 = 1e-7;
/// Halvings tried.
const FINEST: i32 = 5;

static QUICK: LazyLock<[(f64, f64); 5]> = LazyLock::new(legendre);

/// An opening, or the end of the policy.
#[derive(Debug, Clone, Copy)]
struct Stop {
    age: f64,
    look: bool,
    turn: bool,
}

/// What happens by one stop, in shares of seals fitted and units of time.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    service: f64,
    undetected: f64,
    failed: f64,
    /// Arriving at the stop: holding, and failed unseen.
    sound: f64,
    unseen: f64,
    /// At the stop, if it is an opening.
    found: f64,
    come_to_light: f64,
    turned: f64,
    damaged: f64,
}

/// A policy for a measured seal, ready to be worked out.
struct Run<'a> {
    paths: &'a Paths,
    stops: Vec<Stop>,
    within: Option<f64>,
    hidden: bool,
    finds_failure: f64,
    damage: f64,
    /// Normal laws cut, rule, and share forgotten.
    cut: f64,
    gone: f64,
    rule: &'static [(f64, f64)],
}

/// How wide panels may be.
#[derive(Clone, Copy)]
struct Fineness {
    /// In standard deviations of the path's law.
    spread: f64,
    /// In errors of a measurement.
    error: f64,
}

impl Fineness {
    /// Half as wide from level to level.
    fn at(level: i32) -> Self {
        let by = 0.5_f64.powi(level);
        Self {
            spread: 4.0 * by,
            error: 6.0 * by,
        }
    }
}

/// The figures of a policy for a seal whose condition is measured, to a relative error of 1e-8.
///
/// # Errors
/// When the policy is impossible or has no replacement age, opportunities are asked for, or the figures do not settle.
pub(crate) fn evaluate(
    seal: &Seal,
    paths: &Paths,
    policy: &CarePolicy,
    terms: &Terms,
) -> Result<Outcome> {
    let run = Run::new(seal, paths, policy, false)?;
    let at = |level: i32| -> Result<Outcome> {
        let sums = run.sums(Fineness::at(level))?;
        Ok(run.totals(&sums, sums.len()).outcome(terms))
    };
    let mut coarse = at(0)?;
    for level in 1..=FINEST {
        let fine = at(level)?;
        if fine.difference(&coarse) < AGREED {
            return Ok(fine);
        }
        coarse = fine;
    }
    Err(Error::no_answer(UNSETTLED))
}

/// What replacing at each stop of a policy comes to, to about 1e-4: to search with. The last stop is the policy's own
/// end. This module's head has an example.
///
/// # Errors
/// As [`super::evaluate`].
pub fn rough(
    seal: &Seal,
    paths: &Paths,
    policy: &CarePolicy,
    terms: &Terms,
) -> Result<Vec<Cutoff>> {
    let run = Run::new(seal, paths, policy, true)?;
    let sums = run.sums(Fineness {
        spread: 2.5,
        error: 6.0,
    })?;
    let cutoffs = run.stops.iter().enumerate().map(|(i, stop)| Cutoff {
        age: stop.age,
        outcome: run.totals(&sums, i + 1).outcome(terms),
    });
    Ok(cutoffs.collect())
}

/// The paths of a measured seal.
#[must_use]
pub fn paths(seal: &Seal) -> Option<&Paths> {
    match &seal.onset {
        Onset::Measured(paths) => Some(paths),
        Onset::Law(_) | Onset::Ring(_) => None,
    }
}

/// Whether a policy can be worked out for a measured seal.
///
/// # Errors
/// When it has no replacement age, or asks what is not worked out for such a seal.
pub(crate) fn ends(seal: &Seal, policy: &CarePolicy) -> Result<f64> {
    if seal.delay.is_some() {
        return Err(Error::no_answer(
            "A measured property and a delay after a defect are two models of the same failure: plan with one of them.",
        ));
    }
    if seal.opportunity_rate > 0.0 && policy.opportunity_from.is_some() {
        return Err(Error::no_answer(
            "Opportunities are worked out for seals that fail evidently and in one stage, without a measured limit.",
        ));
    }
    policy.replace_at.ok_or_else(|| {
        Error::no_answer(
            "A measured limit needs an age at which the seal is replaced whatever was measured: rates are normal among seals, so some hardly move and their mean time to the limit is not finite.",
        )
    })
}

impl<'a> Run<'a> {
    fn new(seal: &Seal, paths: &'a Paths, policy: &CarePolicy, quick: bool) -> Result<Self> {
        let policy = policy.clone().checked()?;
        let end = ends(seal, &policy)?;
        let mut stops = vec![];
        let mut age = 0.0;
        while let CareAction::Open(opening) = policy.next(age) {
            if stops.len() >= MOST_STOPS {
                return Err(Error::no_answer(
                    "No figures: a measured seal would be opened more than 5,000 times; look less often or replace earlier.",
                ));
            }
            age = opening.age;
            stops.push(Stop {
                age,
                look: opening.look,
                turn: opening.turn > 0,
            });
        }
        stops.push(Stop {
            age: end,
            look: false,
            turn: false,
        });
        Ok(Self {
            paths,
            stops,
            within: policy.replace_within,
            hidden: seal.failure == FailureSign::Hidden,
            finds_failure: seal.detection,
            damage: seal.handling_damage,
            cut: if quick { CUT_IN_SEARCH } else { CUT },
            gone: if quick { GONE_IN_SEARCH } else { GONE },
            rule: if quick { &*QUICK } else { &*LEGENDRE },
        })
    }

    fn sums(&self, fine: Fineness) -> Result<Vec<Sums>> {
        let mut sums = vec![Sums::default(); self.stops.len()];
        self.those_that_fail(fine, &mut sums)?;
        self.those_that_outlast(fine, &mut sums)?;
        let started = above(-self.paths.distance / self.paths.among.0.sqrt());
        for s in &mut sums {
            for x in [
                &mut s.service,
                &mut s.undetected,
                &mut s.failed,
                &mut s.sound,
                &mut s.unseen,
                &mut s.found,
                &mut s.come_to_light,
                &mut s.turned,
                &mut s.damaged,
            ] {
                *x /= started;
            }
        }
        Ok(sums)
    }

    /// Nodes of a line cut into panels no wider than asked.
    fn line(&self, (from, to): (f64, f64), widest: f64, mut f: impl FnMut(f64, f64)) -> Result<()> {
        if to <= from {
            return Ok(());
        }
        let panels = ((to - from) / widest).ceil();
        if panels.is_nan() || panels > MOST_PANELS {
            return Err(Error::no_answer(UNSETTLED));
        }
        let panels = panels.max(1.0);
        let half = 0.5 * (to - from) / panels;
        for i in 0..panels as usize {
            let centre = from + half * (2 * i + 1) as f64;
            for (x, weight) in self.rule {
                f(centre + half * x, half * weight);
            }
        }
        Ok(())
    }

    /// Seals that reach the limit before the policy's last age.
    fn those_that_fail(&self, fine: Fineness, sums: &mut [Sums]) -> Result<()> {
        let p = self.paths;
        let z = |age: f64| {
            let (mean, variance, _) = p.at_age(age);
            -mean / variance.sqrt()
        };
        let mut lost = Ok(());
        let mut from = 0.0;
        for stop in &self.stops {
            let (low, high) = (z(from), z(stop.age));
            // Nothing fails where the law is cut.
            if high > -self.cut && low < self.cut {
                let speed = p.speed.abs() + p.among.2.sqrt();
                let pieces = ((high - low).abs() / fine.spread)
                    .max((stop.age - from) * speed / (fine.error * p.noise))
                    .max(1.0);
                let widest = (stop.age - from) / pieces;
                self.line((from, stop.age), widest, |age, weight| {
                    if let Err(why) = self.failing_at(age, weight, fine, sums) {
                        lost = Err(why);
                    }
                })?;
            }
            from = stop.age;
        }
        lost
    }

    /// Seals that fail at this age, over their speeds.
    fn failing_at(&self, fails: f64, weight: f64, fine: Fineness, sums: &mut [Sums]) -> Result<()> {
        let p = self.paths;
        let (mean, variance, with_speed) = p.at_age(fails);
        let z = mean / variance.sqrt();
        if z.abs() > self.cut {
            return Ok(());
        }
        let density = weight * (-0.5 * z * z).exp() / (TAU * variance).sqrt();
        let centre = p.speed - with_speed / variance * mean;
        let sd = (p.among.2 - with_speed * with_speed / variance)
            .max(1e-12 * p.among.2)
            .sqrt();
        let ends = ((centre - self.cut * sd).max(0.0), centre + self.cut * sd);
        let widest = (fine.spread * sd).min(fine.error * p.noise / fails);
        let scale = density / (sd * TAU.sqrt());
        self.line(ends, widest, |v, w| {
            let off = (v - centre) / sd;
            let mass = scale * w * v * (-0.5 * off * off).exp();
            self.follow(mass, fails, |age| v * (fails - age), sums);
        })
    }

    /// Seals that would still hold at the policy's last age.
    fn those_that_outlast(&self, fine: Fineness, sums: &mut [Sums]) -> Result<()> {
        let p = self.paths;
        let end = self.stops.last().map_or(0.0, |stop| stop.age);
        let (mean, variance, with_speed) = p.at_age(end);
        let spread = variance.sqrt();
        let sd = (p.among.2 - with_speed * with_speed / variance)
            .max(1e-12 * p.among.2)
            .sqrt();
        let ends = (
            (mean - self.cut * spread).max(0.0),
            mean + self.cut * spread,
        );
        let widest = (fine.spread * spread).min(fine.error * p.noise);
        let across = (fine.spread * sd).min(fine.error * p.noise / end);
        let mut lost = Ok(());
        self.line(ends, widest, |left, weight| {
            let z = (left - mean) / spread;
            let density = weight * (-0.5 * z * z).exp() / (TAU * sd * spread);
            let centre = p.speed + with_speed / variance * (left - mean);
            // Before the limit when new.
            let ends = (
                (centre - self.cut * sd).max(-left / end),
                centre + self.cut * sd,
            );
            let done = self.line(ends, across, |v, w| {
                let off = (v - centre) / sd;
                let mass = density * w * (-0.5 * off * off).exp();
                self.follow(mass, f64::INFINITY, |age| left + v * (end - age), sums);
            });
            if let Err(why) = done {
                lost = Err(why);
            }
        })?;
        lost
    }

    /// Takes seals that fail at one age and are at a distance before it through the stops.
    fn follow(&self, mass: f64, fails: f64, distance: impl Fn(f64) -> f64, sums: &mut [Sums]) {
        let mut here = mass;
        let (mut from, mut failed) = (0.0, false);
        let last = self.stops.len().saturating_sub(1);
        for (i, (stop, s)) in self.stops.iter().zip(sums).enumerate() {
            let newly = !failed && fails <= stop.age;
            if newly && !self.hidden {
                s.service += here * (fails - from);
                s.failed += here;
                return;
            }
            let holds_until = if failed { from } else { fails.min(stop.age) };
            s.service += here * (stop.age - from);
            s.undetected += here * (stop.age - holds_until);
            failed |= newly;
            if failed {
                s.unseen += here;
            } else {
                s.sound += here;
            }
            if i == last {
                return;
            }
            if stop.look {
                let taken = match (failed, self.within) {
                    (true, _) => self.finds_failure,
                    (false, Some(within)) => self.paths.measured_within(distance(stop.age), within),
                    (false, None) => 0.0,
                };
                if failed {
                    s.come_to_light += here * taken;
                } else {
                    s.found += here * taken;
                }
                here *= 1.0 - taken;
            }
            if stop.turn {
                s.turned += here;
            }
            s.damaged += here * self.damage;
            here *= 1.0 - self.damage;
            if here < self.gone * mass {
                return;
            }
            from = stop.age;
        }
    }

    /// The cycle's totals when every seal left is replaced at stop number `count`.
    fn totals(&self, sums: &[Sums], count: usize) -> Totals {
        let mut out = Totals::default();
        for (i, (s, stop)) in sums.iter().zip(&self.stops).take(count).enumerate() {
            out.service += s.service;
            out.undetected += s.undetected;
            out.failed += s.failed;
            let arriving = s.sound + s.unseen;
            if i + 1 == count {
                out.preventive += s.sound;
                out.failed += s.unseen;
                continue;
            }
            out.openings += arriving;
            out.looks += if stop.look { arriving } else { 0.0 };
            out.turns += s.turned;
            out.found += s.found;
            out.failed += s.come_to_light;
            out.damaged += s.damaged;
        }
        out
    }
}

#[cfg(test)]
mod tests;
