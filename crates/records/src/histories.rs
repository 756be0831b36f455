//! Seals and inspections to histories: what the defect model reads.

use crate::ages::{self, NoAge};
use crate::ask::{Remarks, clock_kept};
use crate::ask_seals::{self, reading_now};
use crate::decision::Decision;
use crate::error::{Error, Kind};
use crate::finding::{Finding, SetAside};
use crate::history::{Ended, History};
use crate::inspection::Inspection;
use crate::keys;
use crate::load::{Form, Records};
use crate::looks::Looks;
use crate::observation::Clock;
use crate::seal::Seal;
use crate::timeline::Timeline;
use crate::words::{Look, Outcome};
use std::collections::{BTreeMap, BTreeSet};

/// What is asked of the histories.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct HistoryQuestion {
    /// Columns to group by; none for one group of all.
    pub by: Vec<String>,
    /// The time scale.
    pub clock: Clock,
    /// Failures do not show themselves: they wait for the next look. A failure then lies between the last sound look (or
    /// the day last known good) and the removal, and a seal in service is followed to its last sound look.
    pub hidden: bool,
}

/// Looks, counted by what they say; of a seal those up to its first finding of a defect or failure, which ends its history.
/// A seal set aside because nothing of it lies after the start of watching has its looks counted all the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LookTally {
    /// Rows of the inspections that could be read.
    pub read: u64,
    /// Looks at a used seal, after the day of fitting, that found it sound.
    pub sound: u64,
    /// Looks that found a defect.
    pub worn: u64,
    /// Looks that found a failure.
    pub failed: u64,
    /// Looks at a used seal without a finding: not used.
    pub unsaid: u64,
    /// Rows that belong to no used seal while it was fitted.
    pub unmatched: u64,
    /// Sound looks taken to have happened before the records begin.
    pub assumed: u64,
    /// Defects found by a look at a seal whose outcome is not `worn`: left in place, so followed to the finding only.
    pub left_in_place: u64,
}

/// The histories of one group.
#[derive(Debug, Clone, PartialEq)]
pub struct HistoryGroup {
    /// Column and value, in the order asked; empty without `by`.
    pub key: Vec<(String, String)>,
    /// One for each seal that is used, in the order of the table; ages in the unit of the clock.
    pub histories: Vec<History>,
    /// Median time from one sound look at a seal to the next, those assumed included, in the unit of the clock; the upper
    /// of the two middle ones where their number is even; `None` when no seal was looked at twice.
    pub spacing: Option<f64>,
}

/// Histories by group, and what there is to say of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Histories {
    /// The time scale of every age.
    pub clock: Clock,
    /// The groups, sorted by key as those of [`Answer`](crate::Answer).
    pub groups: Vec<HistoryGroup>,
    /// Looks by what they say.
    pub looks: LookTally,
    /// Rows of seals not used, with the reason, by row.
    pub set_aside: Vec<SetAside>,
    /// What was found on the way.
    pub findings: Vec<Finding>,
    /// What was assumed on the way.
    pub decisions: Vec<Decision>,
}

/// A seal's history before looks are assumed for the time before the records.
struct Raw {
    entry: f64,
    looks: Vec<f64>,
    ended: Ended,
}

/// Turns records into inspection histories.
///
/// A look is a row of the inspections with a finding; one without a finding tells nothing of what was
/// looked for and is not used. The first finding of a defect ends a history, whether or not the seal was
/// taken off then. For a seal already in place when the records begin, looks are taken to have gone on
/// before as its asset's looks did later: back from its first recorded look (or, without one, as if watching had begun
/// midway between two) in steps of the median time between the looks at its asset's seals, down to ages above half a
/// step; an asset without two looks at one seal is taken to have had none (rules of ours).
///
/// A date known to a month or longer stands at its middle; a removal for another reason than failure or wear, at its first
/// day. A failure found by a look lies between the last sound look and that one; a failure that shows itself, within the
/// days that its removal's date may stand for and after the last sound look; where the day last known good is recorded,
/// between that day or the last sound look, the later, and the removal.
///
/// # Errors
/// When something must be settled first (see [`Records::refusal`]), the records are plain lives, the readings do not count
/// what the clock asks for, a column is unknown, or no seal is left.
pub fn histories(records: &Records, question: &HistoryQuestion) -> Result<Histories, Error> {
    if let Some(refusal) = &records.refusal {
        return Err(refusal.clone());
    }
    if records.form == Form::Life {
        return Err(Error::new(
            Kind::NothingLeft,
            "plain lives hold no looks: a defect and the delay to its failure cannot be told apart",
            "give seals and inspections (a study file names both)",
        ));
    }
    clock_kept(records, question.clock)?;
    let mut remarks = Remarks::default();
    let mut tally = LookTally {
        read: records.inspections.len() as u64,
        ..LookTally::default()
    };
    let raws = raws(records, question, &mut tally, &mut remarks);
    let file = ask_seals::file(records);
    let spacing = by_asset(records, &raws);
    let mut list: Vec<Option<History>> = Vec::with_capacity(raws.len());
    for (seal, raw) in records.seals.iter().zip(raws) {
        let step = seal.asset.as_deref().and_then(|a| spacing.get(a).copied());
        list.push(raw.and_then(|raw| {
            let mut looks = raw.looks;
            let assumed = before(&looks, raw.entry, step);
            tally.assumed += assumed.len() as u64;
            looks.extend(assumed);
            match History::new(raw.entry, looks, raw.ended, 1.0) {
                Ok(history) => Some(history),
                Err(why) => {
                    let why = NoAge {
                        column: "fitted",
                        reason: why.to_string(),
                    };
                    ask_seals::aside(seal, &why, &file, question.clock, &mut remarks);
                    None
                }
            }
        }));
    }
    finish(records, question, tally, &list, remarks)
}

/// Every seal's history as recorded; none for those set aside.
fn raws(
    records: &Records,
    question: &HistoryQuestion,
    tally: &mut LookTally,
    remarks: &mut Remarks,
) -> Vec<Option<Raw>> {
    let looks = Looks::new(&records.inspections, &records.seals);
    let mut matched = BTreeSet::new();
    let file = ask_seals::file(records);
    let raws: Vec<Option<Raw>> = records
        .seals
        .iter()
        .map(|seal| {
            let of = looks.of(seal);
            let now = reading_now(records, seal, &looks);
            match raw(seal, &of, now, question, tally) {
                Ok(raw) => {
                    matched.extend(of.iter().map(|l| l.row));
                    Some(raw)
                }
                Err(why) => {
                    ask_seals::aside(seal, &why, &file, question.clock, remarks);
                    None
                }
            }
        })
        .collect();
    tally.unmatched = tally.read.saturating_sub(matched.len() as u64);
    raws
}

fn finish(
    records: &Records,
    question: &HistoryQuestion,
    looks: LookTally,
    list: &[Option<History>],
    mut remarks: Remarks,
) -> Result<Histories, Error> {
    let factors = question
        .by
        .iter()
        .map(|name| ask_seals::factor(records, name, &mut remarks))
        .collect::<Result<Vec<_>, _>>()?;
    let used = (0..list.len()).filter(|at| list.get(*at).is_some_and(Option::is_some));
    let groups: Vec<HistoryGroup> = keys::bunches(&factors, used)
        .into_iter()
        .map(|(key, rows)| {
            let mine = rows.iter().filter_map(|at| list.get(*at)?.clone());
            let histories: Vec<History> = mine.collect();
            let spacing = median(histories.iter().flat_map(|h| gaps(h.looks())).collect());
            HistoryGroup {
                key,
                histories,
                spacing,
            }
        })
        .collect();
    let mut set_aside = records.set_aside.clone();
    set_aside.append(&mut remarks.set_aside);
    set_aside.sort_by_key(|s| s.row);
    if groups.is_empty() {
        let first = set_aside
            .first()
            .map_or(String::new(), |s| format!("; row {}: {}", s.row, s.reason));
        return Err(Error::new(
            Kind::NothingLeft,
            format!("no seal can be used: all are set aside{first}"),
            "run the check, mend the rows it shows, or choose another clock",
        ));
    }
    decide(&looks, &ask_seals::file(records), &mut remarks);
    Ok(Histories {
        clock: question.clock,
        groups,
        looks,
        set_aside,
        findings: remarks.findings.finish(),
        decisions: remarks.log.finish(),
    })
}

fn decide(looks: &LookTally, file: &str, remarks: &mut Remarks) {
    let file = Some(file);
    for (rows, kind, text) in [
        (
            looks.unsaid,
            "look_without_finding",
            "a look without a finding is not used: it may have looked for nothing",
        ),
        (
            looks.left_in_place,
            "defect_left_in_place",
            "a defect found and left in place: the seal is followed to the finding only",
        ),
        (
            looks.assumed,
            "looks_before_records",
            "looks before the records begin are taken to have gone on as later ones at the same asset, and to have found nothing",
        ),
    ] {
        if rows > 0 {
            remarks.log.whole(kind, text, file, rows);
        }
    }
}

/// One seal's history, or why it has none.
fn raw(
    seal: &Seal,
    of: &[&Inspection],
    reading_now: Option<f64>,
    question: &HistoryQuestion,
    tally: &mut LookTally,
) -> Result<Raw, NoAge> {
    let line = Timeline::new(seal, of, question.clock, reading_now)?;
    let entry = ages::entry(seal, question.clock)?;
    let mut looks: Vec<f64> = vec![];
    let mut found = None;
    for look in of {
        let (_, age, _) = line.span(&look.date, seal.watched_to);
        match look.finding {
            // A look on the day of fitting was at the seal before.
            Some(Look::Sound) if age > 0.0 => {
                tally.sound += 1;
                looks.push(age);
            }
            None => tally.unsaid += 1,
            Some(Look::Sound) => {}
            Some(defect) => {
                if age > 0.0 {
                    found = Some((defect, age));
                    break;
                }
            }
        }
    }
    let good = seal.last_known_good.map(|g| line.day(g.first()));
    let last_look = looks.last().copied();
    let sound_to = last_look.into_iter().chain(good).fold(0.0, f64::max);
    let removed = seal.removed.map(|r| line.span(&r, seal.watched_to));
    let ended = match (found, seal.outcome, removed) {
        (Some((Look::Failed, age)), _, _) => {
            tally.failed += 1;
            Ended::FailedBetween(sound_to.min(age), age)
        }
        (Some((_, age)), outcome, _) => {
            tally.worn += 1;
            tally.left_in_place += u64::from(outcome != Outcome::Worn);
            Ended::Found(age)
        }
        (None, Outcome::Worn, Some((_, age, _))) => Ended::Found(age.max(0.5)),
        (None, Outcome::Failed, Some((low, _, high))) => {
            let high = high.max(if high <= 0.0 { 1.0 } else { 0.0 });
            if question.hidden || good.is_some() {
                Ended::FailedBetween(sound_to.min(high), high)
            } else {
                Ended::FailedBetween(low.max(last_look.unwrap_or(0.0)).min(high), high)
            }
        }
        (None, _, Some((low, _, _))) => Ended::Running(low),
        (None, _, None) if question.hidden => Ended::Running(last_look.ok_or_else(|| {
            NoAge {
                column: "removed",
                reason:
                    "still in service, failures do not show themselves, and it was never looked at"
                        .to_owned(),
            }
        })?),
        (None, _, None) => Ended::Running(line.day(seal.watched_to)),
    };
    Ok(Raw {
        entry,
        looks,
        ended,
    })
}

fn gaps(looks: &[f64]) -> impl Iterator<Item = f64> + '_ {
    looks
        .windows(2)
        .filter_map(|w| Some(w.get(1)? - w.first()?))
        .filter(|gap| *gap > 0.0)
}

fn median(mut list: Vec<f64>) -> Option<f64> {
    list.sort_by(f64::total_cmp);
    list.get(list.len() / 2).copied()
}

/// Median time between the looks at a seal, by asset.
fn by_asset<'a>(records: &'a Records, raws: &[Option<Raw>]) -> BTreeMap<&'a str, f64> {
    let mut all: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for (seal, raw) in records.seals.iter().zip(raws) {
        if let (Some(asset), Some(raw)) = (seal.asset.as_deref(), raw) {
            all.entry(asset).or_default().extend(gaps(&raw.looks));
        }
    }
    all.into_iter()
        .filter_map(|(asset, list)| Some((asset, median(list)?)))
        .collect()
}

/// Looks taken to have happened before watching began at `entry`: back from the first recorded one, which is
/// none of them, in steps.
fn before(looks: &[f64], entry: f64, step: Option<f64>) -> Vec<f64> {
    let Some(step) = step.filter(|s| *s > 0.0 && entry > 0.0) else {
        return vec![];
    };
    let first = looks.iter().copied().fold(f64::INFINITY, f64::min);
    if first < entry {
        return vec![];
    }
    // Without a recorded look, as if watching had begun midway between two.
    let from = if first.is_finite() {
        first
    } else {
        entry + 0.5 * step
    };
    let ages = (1..).map(|i| from - f64::from(i) * step);
    ages.take_while(|age| *age > 0.5 * step)
        .filter(|age| *age < entry)
        .collect()
}
