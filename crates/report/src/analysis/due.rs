//! What is due: every seal in service against its part's plan, with the failures expected at its position in the next month
//! as practice goes on there, from the seal's own age, the part's laws and the place's rate (`futures`).

use super::demand::{MONTH, Outlook};
use super::drawn::ends;
use super::extras::measured_condition;
use super::futures::{PartFuture, PlaceFuture, World};
use super::positions::{PositionsOptions, answer};
use crate::number;
use crate::wire::condition::ConditionDocument;
use crate::wire::due::{Act, DueDocument, DuePlace, DueSeal};
use crate::wire::positions::{PositionResult, PositionsDocument};
use jiff::ToSpan;
use jiff::civil::Date;
use rayon::prelude::*;
use sealspan_care::error::Result;
use sealspan_records::{Clock, Question, Records, Running};
use std::collections::BTreeMap;

/// Months for which places are counted.
const MONTHS: usize = 3;
/// What the list rests on.
const NOTES: [&str; 6] = [
    "First stand seals of which something urgent is known whatever their age (probably past a measured limit now or by the next look; on a door out of line, which is to be mended first); then those past due, at or above the plan's age on the last day, the likeliest to fail ahead and the older of like ones; then the others by the day due.",
    "No chance is given of the urgent: it would be by their age alone, and too low.",
    "The chance of the others is that of failing in the next month as the place cares for its seals today: by the seal's age, the laws of its part and the rate of its place. What is known of a single position is not in it, nor its duty. Where the delay from defect to failure has no wear-out of its own, old seals of a part have nearly one chance.",
    "Intervals hold the error of the estimated lives and of the places' rates, not a doubt of the laws themselves.",
    "Months are of 30.44 days.",
    "The maker's limits, and what the law or a written scheme sets, come before any day here.",
];
const NO_DRAWS: &str = "the fit of its life gives no draws";

/// Chance of being past its limit from which a seal comes first.
const PROBABLY: f64 = 0.5;

/// What is known of single seals and doors.
#[derive(Debug, Clone, Copy, Default)]
pub struct Known<'a> {
    /// Measured condition.
    pub condition: Option<&'a ConditionDocument>,
    /// Positions and doors.
    pub positions: Option<&'a PositionsDocument>,
}

/// What the records tell of single seals and doors, as a report has it, on the clock of days. `None` for the condition
/// where the study names no property and limit or nothing was measured; for the positions where they cannot be followed.
#[must_use]
pub fn known(
    records: &Records,
    by: &[String],
    confidence: f64,
    seed: u64,
) -> (Option<ConditionDocument>, Option<PositionsDocument>) {
    let question = Question {
        by: by.to_vec(),
        clock: Clock::Days,
        mode: records.study.question.mode.clone(),
    };
    let options = PositionsOptions {
        confidence: Some(confidence),
        seed,
        ..PositionsOptions::default()
    };
    let condition = measured_condition(records, &question, confidence);
    (
        condition
            .and_then(std::result::Result::ok)
            .map(|c| c.document),
        answer(records, &options).ok(),
    )
}

impl Known<'_> {
    /// What is urgent about a seal, in words, and how much: the chance of being past its limit; and when to act on it.
    fn urgent(&self, seal: &Running) -> Vec<(String, Act)> {
        let limit = self.condition.and_then(|d| {
            let running = d.groups.iter().flat_map(|g| &g.running);
            let own = running.filter(|r| Some(&r.seal) == seal.seal.as_ref());
            own.filter_map(|r| {
                let later = r.past_at_next_look.filter(|p| *p >= PROBABLY);
                if r.past_now >= PROBABLY {
                    let chance = number::percent(r.past_now);
                    return Some((format!("past its limit: {chance}"), Act::Now));
                }
                let chance = number::percent(later?);
                let words = format!("past its limit by the next look: {chance}");
                Some((words, Act::BeforeNextLook))
            })
            .next()
        });
        let here = |p: &&PositionResult| {
            Some(&p.asset) == seal.asset.as_ref() && p.position == seal.position
        };
        let door = self
            .positions
            .and_then(|d| d.positions.iter().find(here))
            .filter(|p| p.out_of_line)
            .map(|_| ("door out of line".to_owned(), Act::Now));
        limit.into_iter().chain(door).collect()
    }
}

/// What is asked of the list.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    /// Last day of the records, from which days are counted; without one no day due is told.
    pub as_of: Option<Date>,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Seed.
    pub seed: u64,
}

/// The list of all parts, in days. A seal is due in the plan's age less its own, on the last day plus that, rounded up to
/// whole days; past due from 0 down. What is expected to fail at its position in the next month is the mean of failures
/// under today's practice for one seal of its age, its interval that mean by rank over the draws.
///
/// # Errors
/// When the seals are followed by a measured property, the level is not between 0 and 1, a life has draws but fewer than
/// 50, or seals end faster than the steps of the forecast.
pub fn due(
    parts: &[PartFuture],
    left_out: Vec<String>,
    known: Known,
    asked: &Asked,
) -> Result<DueDocument> {
    let each: Vec<(&PartFuture, &PlaceFuture, &Running)> = parts
        .iter()
        .flat_map(|part| part.places.iter().map(move |at| (part, at)))
        .flat_map(|(part, at)| at.running.iter().map(move |seal| (part, at, seal)))
        .collect();
    let seals = each.par_iter().map(|each| {
        let own = one(*each, asked)?;
        let urgent = known.urgent(each.2);
        Ok(DueSeal {
            act: urgent.iter().map(|u| u.1).min(),
            urgent: urgent.into_iter().map(|u| u.0).collect(),
            ..own
        })
    });
    let mut seals: Vec<DueSeal> = seals.collect::<Result<_>>()?;
    seals.sort_by(before);
    Ok(DueDocument {
        schema: "sealspan.due.v1",
        unit: "days",
        as_of: asked.as_of.map(|day| day.to_string()),
        confidence: asked.confidence,
        horizon: MONTH,
        places: places(&seals),
        seals,
        left_out,
        notes: NOTES.to_vec(),
        cautions: crate::cautions::always(),
    })
}

fn one((part, at, seal): (&PartFuture, &PlaceFuture, &Running), asked: &Asked) -> Result<DueSeal> {
    let outlook = Outlook {
        months: 1,
        confidence: asked.confidence,
        leaving_per_year: 0.0,
        joining: vec![],
        batch_spread: 0.0,
        seed: asked.seed,
    };
    let single = Running {
        count: 1.0,
        ..seal.clone()
    };
    let cases = at.cases(World::Today, &outlook, &outlook.fleet(&[single], 0.0), 1.0)?;
    let failures = |month: &Vec<sealspan_care::ahead::months::Spread>| {
        let [failures, ..] = month.first()?.counts;
        Some(failures.mean)
    };
    let drawn = ends(cases.drawn.iter().filter_map(failures), asked.confidence);
    let planned_age = part.plan.policy.replace_at;
    let due_in = planned_age.map(|at| at - seal.age);
    let on = |days: f64| {
        let whole = days.ceil() as i64;
        asked.as_of?.checked_add(whole.days()).ok()
    };
    Ok(DueSeal {
        seal: seal.seal.clone(),
        asset: seal.asset.clone(),
        position: seal.position.clone(),
        place: at.place.clone(),
        part: part.key.words(),
        count: seal.count,
        age: seal.age,
        planned_age,
        due_in,
        due_on: due_in.and_then(on).map(|day| day.to_string()),
        urgent: vec![],
        act: None,
        fails: failures(&cases.best).unwrap_or_default(),
        fails_lower: drawn.map(|d| d[0]),
        fails_upper: drawn.map(|d| d[1]),
        interval_reason: drawn.is_none().then_some(NO_DRAWS),
    })
}

impl DueSeal {
    /// Whether the plan would have changed it by the last day.
    #[must_use]
    pub(crate) fn past_due(&self) -> bool {
        self.due_in.is_some_and(|left| left <= 0.0)
    }
}

/// What is urgent first; then past due, the likeliest to fail ahead; then by the day due; then those without one.
fn before(a: &DueSeal, b: &DueSeal) -> std::cmp::Ordering {
    // Chances as they are read; the older of like ones first.
    let read = |s: &DueSeal| (s.fails * 1000.0).round();
    let likelier = || {
        let chance = read(b).total_cmp(&read(a));
        chance.then(b.age.total_cmp(&a.age))
    };
    let urgent = |s: &DueSeal| s.urgent.is_empty();
    let first = urgent(a).cmp(&urgent(b));
    let first = first.then_with(|| match (a.past_due(), b.past_due()) {
        (true, true) => likelier(),
        (true, false) => std::cmp::Ordering::Less,
        (false, true) => std::cmp::Ordering::Greater,
        (false, false) => {
            let left = |s: &DueSeal| s.due_in.unwrap_or(f64::INFINITY);
            left(a).total_cmp(&left(b)).then_with(likelier)
        }
    });
    first.then_with(|| (&a.asset, &a.position, &a.seal).cmp(&(&b.asset, &b.position, &b.seal)))
}

fn places(seals: &[DueSeal]) -> Vec<DuePlace> {
    let mut all: BTreeMap<&str, Vec<&DueSeal>> = BTreeMap::new();
    for seal in seals {
        all.entry(&seal.place).or_default().push(seal);
    }
    let mut out: Vec<DuePlace> = all
        .into_iter()
        .map(|(place, seals)| {
            let count = |wanted: &dyn Fn(&DueSeal) -> bool| {
                let those = seals.iter().filter(|s| wanted(s));
                those.map(|s| s.count).sum::<f64>()
            };
            let within = |month: usize| {
                let (from, to) = (MONTH * month as f64, MONTH * (month + 1) as f64);
                count(&|s| s.due_in.is_some_and(|left| left > from && left <= to))
            };
            let past = seals.iter().filter(|s| s.past_due());
            DuePlace {
                place: place.to_owned(),
                seals: count(&|_| true),
                past_due: count(&DueSeal::past_due),
                by_month: (0..MONTHS).map(within).collect(),
                failures: seals.iter().map(|s| s.count * s.fails).sum(),
                failures_past_due: past.map(|s| s.count * s.fails).sum(),
            }
        })
        .collect();
    out.sort_by(|a, b| {
        b.past_due
            .total_cmp(&a.past_due)
            .then(a.place.cmp(&b.place))
    });
    out
}
