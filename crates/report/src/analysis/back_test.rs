//! Forecasts as of earlier days, from the records as they stood then, held against what happened after. Times in days.

use super::endings::{Aim, NO_SITE, PartLaws, part_laws, running};
use crate::wire::demand::{BackTest, BackTestRow};
use jiff::ToSpan;
use jiff::civil::Date;
use sealspan_care::ahead::first::first_failures;
use sealspan_care::ahead::fleet::Cohort;
use sealspan_care::plan::Choice;
use sealspan_life::family::Family;
use sealspan_records::dates::days_between;
use sealspan_records::words::Outcome;
use sealspan_records::{Records, Seal};
use std::collections::BTreeMap;

/// Days that a forecast looks ahead, and from one forecast to the next: half a year (a rule of ours).
pub const HORIZON: i64 = 182;
/// Share of the recorded time that must have passed before the first forecast.
const LEARNED: f64 = 0.5;
/// A row with fewer seals running says little.
const FEWEST_RUNNING: f64 = 5.0;

/// Makes the forecasts: from half of the recorded time on (a rule of ours), every [`HORIZON`] days as long as that many days
/// are recorded after, one for each part at each place with five running seals or more. Each is the number of first
/// failures among the seals running that day ([`first_failures`]), by laws fitted to the records as they stood, as
/// practice went on; its interval the quantiles (1 - `confidence`)/2 and (1 + `confidence`)/2 of that number. Days on
/// which no law can be fitted are passed over.
///
/// # Errors
/// In words, when the records have no last day or no seals, or no forecast can be made on any day.
pub fn back_test(
    records: &Records,
    by: &[String],
    family: &'static dyn Family,
    confidence: f64,
    seed: u64,
) -> Result<BackTest, String> {
    let end = records.cut_off.ok_or("the records have no last day")?;
    let first = records.seals.iter().map(|s| s.fitted.first()).min();
    let start = records
        .study
        .records_from_date()
        .or(first)
        .ok_or("there are no seals")?;
    let length = days_between(start, end);
    let mut rows = vec![];
    let mut promised = 0.0;
    let mut origin = (LEARNED * length as f64) as i64;
    while origin + HORIZON <= length {
        let day = later(start, origin)?;
        let then = as_of(records, day);
        let aim = Aim {
            failure: 1.0,
            planned: 1.0,
            replace: Choice::Free,
        };
        if let Ok((laws, _)) = part_laws(&then, by, family, aim, seed) {
            for part in &laws {
                promised += forecast(records, part, by, day, confidence, &mut rows)?;
            }
        }
        origin += HORIZON;
    }
    if rows.is_empty() {
        return Err(
            "at no earlier day had a group five failures and five running seals at a place"
                .to_owned(),
        );
    }
    let n = rows.len() as f64;
    let hits = rows
        .iter()
        .filter(|r| (r.lower as u64..=r.upper as u64).contains(&r.happened))
        .count();
    Ok(BackTest {
        horizon: HORIZON as f64,
        hit_rate: hits as f64 / n,
        promised: promised / n,
        expected: rows.iter().map(|r| r.expected).sum(),
        happened: rows.iter().map(|r| r.happened).sum(),
        rows,
    })
}

fn later(day: Date, days: i64) -> Result<Date, String> {
    day.checked_add(days.days()).map_err(|e| e.to_string())
}

/// The records as they stood on a day: later fittings, removals and looks are not known yet.
fn as_of(records: &Records, day: Date) -> Records {
    let mut then = records.clone();
    then.seals.retain(|s| s.fitted.last() < day);
    for seal in &mut then.seals {
        if seal.removed.is_some_and(|r| r.last() > day) {
            seal.removed = None;
            seal.removed_reading = None;
            seal.outcome = Outcome::InService;
            seal.mechanism = None;
            seal.last_known_good = None;
        }
        seal.watched_to = seal.watched_to.min(day);
    }
    then.inspections.retain(|i| i.date.last() <= day);
    then.cut_off = Some(day);
    then
}

/// One row a place, and the probability its interval holds, summed over the rows.
fn forecast(
    records: &Records,
    part: &PartLaws,
    by: &[String],
    day: Date,
    confidence: f64,
    rows: &mut Vec<BackTestRow>,
) -> Result<f64, String> {
    let side = 0.5 * (1.0 - confidence);
    let failed = failures_after(records, part, by, day)?;
    let mut promised = 0.0;
    for here in &part.places {
        let running = running(&here.running);
        if running < FEWEST_RUNNING {
            continue;
        }
        let cohorts: Vec<Cohort> = here
            .running
            .iter()
            .map(|r| Cohort {
                age: r.age,
                count: r.count,
            })
            .collect();
        let (counts, expected) = first_failures(
            &here.today.centre,
            &here.today.draws,
            &cohorts,
            HORIZON as f64,
        )
        .map_err(|e| e.to_string())?;
        let (lower, upper) = (counts.quantile(side), counts.quantile(1.0 - side));
        promised += (lower..=upper).map(|k| counts.probability(k)).sum::<f64>();
        rows.push(BackTestRow {
            as_of: day.to_string(),
            happened: failed.get(&here.place).copied().unwrap_or(0),
            place: here.place.clone(),
            part: part.key.words(),
            running,
            expected,
            lower,
            upper,
        });
    }
    Ok(promised)
}

/// Failures, by place, of the part's seals that ran on the day, up to the horizon after it.
fn failures_after(
    records: &Records,
    part: &PartLaws,
    by: &[String],
    day: Date,
) -> Result<BTreeMap<String, u64>, String> {
    let last = later(day, HORIZON)?;
    let mut then = as_of(records, last);
    // Only seals that ran on the day and have failed since are left in place: their places are asked for.
    then.seals.retain(|s| failed_between(s, day, last));
    then.inspections.clear();
    for seal in &mut then.seals {
        seal.removed = None;
        seal.last_known_good = None;
        seal.outcome = Outcome::InService;
    }
    if then.seals.is_empty() {
        return Ok(BTreeMap::new());
    }
    let question = sealspan_records::Question {
        by: by.to_vec(),
        ..Default::default()
    };
    let answer = sealspan_records::ask(&then, &question).map_err(|e| e.to_string())?;
    let mine = answer.groups.iter().find(|g| g.key == part.key.0);
    let mut out = BTreeMap::new();
    for seal in mine.map(|g| g.running()).unwrap_or_default() {
        let place = seal.site.unwrap_or_else(|| NO_SITE.to_owned());
        *out.entry(place).or_insert(0) += 1;
    }
    Ok(out)
}

fn failed_between(seal: &Seal, from: Date, to: Date) -> bool {
    seal.outcome == Outcome::Failed
        && seal
            .removed
            .is_some_and(|r| r.last() > from && r.last() <= to)
        && seal.fitted.last() < from
}
