//! One seal to one observation, on the clock asked for.

use crate::dates::{Span, days_between};
use crate::inspection::Inspection;
use crate::observation::{Clock, NotAnObservation, Observation};
use crate::seal::Seal;
use crate::words::{Look, Mechanism, Outcome};

/// What counts as the event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Target {
    /// A seal that ended so.
    Outcome(Outcome),
    /// A failure by this mechanism.
    Mechanism(Mechanism),
}

/// Why a seal gives no observation on this clock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct NoAge {
    pub(crate) column: &'static str,
    pub(crate) reason: String,
}

/// A seal with its inspections, earliest first, and the reading at its position at the cut-off.
pub(crate) struct Case<'a> {
    pub(crate) seal: &'a Seal,
    pub(crate) looks: &'a [&'a Inspection],
    pub(crate) reading_now: Option<f64>,
}

/// How the seal's time ended: as recorded, or as an inspection found it while still in place.
fn ended(case: &Case<'_>) -> Outcome {
    let failed = case.looks.iter().any(|l| l.finding == Some(Look::Failed));
    if case.seal.outcome == Outcome::InService && failed {
        Outcome::Failed
    } else {
        case.seal.outcome
    }
}

fn is_event(case: &Case<'_>, target: Target) -> bool {
    let outcome = ended(case);
    match target {
        Target::Outcome(wanted) => outcome == wanted,
        Target::Mechanism(wanted) => {
            outcome == Outcome::Failed && case.seal.mechanism == Some(wanted)
        }
    }
}

/// True when the seal is still running at the cut-off.
pub(crate) fn is_running(case: &Case<'_>) -> bool {
    ended(case) == Outcome::InService
}

/// The inspection that found the end, if one did.
fn found<'a>(case: &Case<'a>, outcome: Outcome) -> Option<&'a Inspection> {
    let defect = |l: &&&Inspection| l.finding.is_some_and(|f| f != Look::Sound);
    let at_removal = |l: &&&Inspection| case.seal.removed.is_some_and(|r| r.meets(&l.date));
    let first = |want: Look| case.looks.iter().find(|l| l.finding == Some(want)).copied();
    let on_the_day = case
        .looks
        .iter()
        .find(|l| defect(l) && at_removal(l))
        .copied();
    match outcome {
        Outcome::Failed => first(Look::Failed).or(on_the_day),
        Outcome::Worn => first(Look::Worn).or(on_the_day),
        _ => None,
    }
}

/// The last inspection surely before `end` that saw no such end.
fn last_good<'a>(case: &Case<'a>, end: &Span, outcome: Outcome) -> Option<&'a Inspection> {
    let good = |l: &&Inspection| match l.finding {
        Some(Look::Sound) => true,
        Some(Look::Worn) => outcome == Outcome::Failed,
        _ => false,
    };
    case.looks
        .iter()
        .rev()
        .copied()
        .find(|l| l.date.last() < end.first() && good(l))
}

/// Lower and upper age of the end in days; equal for an end known to the day.
fn days(case: &Case<'_>, outcome: Outcome) -> (f64, f64) {
    let seal = case.seal;
    let low = |d: &Span| days_between(seal.fitted.last(), d.first()).max(0) as f64;
    let high =
        |d: &Span| days_between(seal.fitted.first(), d.last().min(seal.watched_to)).max(0) as f64;
    let look = found(case, outcome);
    let watched_to = Span::day(seal.watched_to);
    let end = look.map_or(seal.removed.unwrap_or(watched_to), |l| l.date);
    let upper = high(&end);
    let by_inspection =
        look.is_some() || outcome == Outcome::Worn || seal.last_known_good.is_some();
    let censored = !matches!(outcome, Outcome::Failed | Outcome::Worn);
    if censored || !by_inspection {
        return (low(&end), upper);
    }
    let seen = last_good(case, &end, outcome).map_or(0.0, |l| low(&l.date));
    let known = seal.last_known_good.map_or(0.0, |g| low(&g));
    let lower = seen.max(known);
    // Good and bad on one day: the end lies within that day.
    (
        if lower >= upper {
            (upper - 1.0).max(0.0)
        } else {
            lower
        },
        upper,
    )
}

/// Lower and upper usage at the end, from the readings.
fn usage(case: &Case<'_>, outcome: Outcome) -> Result<(f64, f64), NoAge> {
    let seal = case.seal;
    let none = |column, reason: &str| NoAge {
        column,
        reason: reason.to_owned(),
    };
    let from = seal
        .fitted_reading
        .ok_or_else(|| none("fitted_reading", "no reading at fitting"))?;
    let look = found(case, outcome);
    let end = match (look.and_then(|l| l.reading), seal.removed, look) {
        (Some(reading), _, _) => reading,
        (None, Some(_), _) => seal
            .removed_reading
            .ok_or_else(|| none("removed_reading", "no reading at removal"))?,
        (None, None, Some(_)) => {
            return Err(none(
                "removed_reading",
                "no reading at the inspection that found the failure",
            ));
        }
        (None, None, None) => case.reading_now.ok_or_else(|| {
            none(
                "fitted_reading",
                "still in service, and its position has no reading at the cut-off",
            )
        })?,
    };
    if end < from {
        let reason = format!("the reading falls from {from} at fitting to {end} at the end");
        return Err(none("removed_reading", &reason));
    }
    let upper = end - from;
    let by_inspection =
        look.is_some() || outcome == Outcome::Worn || seal.last_known_good.is_some();
    if !by_inspection || !matches!(outcome, Outcome::Failed | Outcome::Worn) {
        return Ok((upper, upper));
    }
    let day = look.map_or(seal.removed.unwrap_or(Span::day(seal.watched_to)), |l| {
        l.date
    });
    let good = last_good(case, &day, outcome).and_then(|l| l.reading);
    let lower = good.map_or(0.0, |r| r - from).max(0.0);
    Ok((if lower >= upper { 0.0 } else { lower }, upper))
}

/// The age at which watching began.
pub(crate) fn entry(seal: &Seal, clock: Clock) -> Result<f64, NoAge> {
    match (seal.watched_from, clock) {
        (None, _) => Ok(0.0),
        (Some(from), Clock::Days) => Ok(days_between(seal.fitted.last(), from).max(0) as f64),
        (Some(from), _) => Err(NoAge {
            column: "fitted",
            reason: format!(
                "fitted before the records begin on {from}, and its {} then are not known",
                clock.unit()
            ),
        }),
    }
}

/// The observation of a seal.
pub(crate) fn observe(case: &Case<'_>, clock: Clock, target: Target) -> Result<Observation, NoAge> {
    let outcome = match ended(case) {
        // Taken off worn is not failed: the seal was surely sound for its work until then.
        Outcome::Worn if !is_event(case, target) => Outcome::Preventive,
        outcome => outcome,
    };
    let (lower, upper) = match clock {
        Clock::Days => days(case, outcome),
        Clock::Hours | Clock::Cycles => usage(case, outcome)?,
    };
    let entry = entry(case.seal, clock)?;
    let refuse = |e: NotAnObservation| NoAge {
        column: "fitted",
        reason: e.to_string(),
    };
    if !is_event(case, target) {
        if outcome == Outcome::Failed && entry > 0.0 && entry >= upper {
            // Failed before watching began, whatever it was by.
            return Err(refuse(NotAnObservation::EntryAfterEnd {
                entry,
                last: upper,
            }));
        }
        return Observation::interval(lower, f64::INFINITY, entry, 1.0).map_err(refuse);
    }
    if clock == Clock::Days && upper == 0.0 {
        // Failed on the day of fitting: within the first day.
        return Observation::interval(0.0, 1.0, entry, 1.0).map_err(refuse);
    }
    if upper == 0.0 {
        return Err(NoAge {
            column: "removed_reading",
            reason: format!("failed with no {} since fitting", clock.unit()),
        });
    }
    Observation::interval(lower, upper, entry, 1.0).map_err(refuse)
}

/// The age a running seal has surely reached at the cut-off.
pub(crate) fn running_age(case: &Case<'_>, clock: Clock) -> Result<f64, NoAge> {
    match clock {
        Clock::Days => Ok(days(case, Outcome::InService).0),
        Clock::Hours | Clock::Cycles => usage(case, Outcome::InService).map(|(lower, _)| lower),
    }
}
