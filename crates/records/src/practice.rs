//! How seals are cared for today, as the records show it: looks, turns and how seals ended, by group and
//! site.

use crate::ages;
use crate::ask::Remarks;
use crate::ask_seals::{self, reading_now};
use crate::error::Error;
use crate::keys;
use crate::load::Records;
use crate::looks::Looks;
use crate::observation::Clock;
use crate::seal::Seal;
use crate::timeline::Timeline;
use crate::words::Outcome;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// What was seen of the seals of one group at one site. Times and ages are in units of the clock.
///
/// ```
/// use sealspan_records::practice::Practice;
/// use sealspan_records::words::Outcome;
/// let seen = Practice {
///     time: 600.0,
///     looks: 6,
///     turns: 4,
///     ended: [(Outcome::Failed, 2), (Outcome::Preventive, 3)].into(),
///     ..Practice::default()
/// };
/// assert_eq!(seen.looks_every(), Some(100.0)); // 600 / 6
/// assert_eq!(seen.turns_every(), None); // four turns are no habit
/// assert_eq!((seen.removed(), seen.ended_so(Outcome::Failed)), (5, 2));
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Practice {
    /// The site; `None` where the assets name none.
    pub site: Option<String>,
    /// Seals that were in service under watch.
    pub seals: u64,
    /// Their time in service under watch, summed over seals: from fitting or the start of watching to the removal or the end
    /// of the records.
    pub time: f64,
    /// Visits: looks, turns, or both at once.
    pub openings: u64,
    /// Visits with a finding.
    pub looks: u64,
    /// Visits at which the seal was turned.
    pub turns: u64,
    /// Removals by outcome.
    pub ended: BTreeMap<Outcome, u64>,
    /// Median age of seals replaced by schedule (outcome `preventive`), the upper of the two middle ones where their number
    /// is even; `None` where none was.
    pub scheduled_age: Option<f64>,
}

/// One group, its sites in order of name, seals without a site first.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupPractice {
    /// Column and value, in the order asked; empty without `by`.
    pub key: Vec<(String, String)>,
    /// By site.
    pub sites: Vec<Practice>,
}

impl Practice {
    /// Seals that were taken off.
    #[must_use]
    pub fn removed(&self) -> u64 {
        self.ended.values().sum()
    }

    /// Seals that ended so.
    #[must_use]
    pub fn ended_so(&self, outcome: Outcome) -> u64 {
        self.ended.get(&outcome).copied().unwrap_or(0)
    }

    /// Mean time between looks, in units of the clock: the time in service over the looks; `None` with fewer than 5 (a rule
    /// of ours) or without any time.
    #[must_use]
    pub fn looks_every(&self) -> Option<f64> {
        every(self.time, self.looks)
    }

    /// Mean time between turns, in units of the clock: the time in service over the turns; `None` with fewer than 5 (a rule
    /// of ours) or without any time.
    #[must_use]
    pub fn turns_every(&self) -> Option<f64> {
        every(self.time, self.turns)
    }
}

/// Fewer events than this make no habit.
const HABIT: u64 = 5;

fn every(time: f64, events: u64) -> Option<f64> {
    (events >= HABIT && time > 0.0).then(|| time / events as f64)
}

/// What one seal adds.
struct Part {
    time: f64,
    openings: u64,
    looks: u64,
    turns: u64,
    ended: Option<(Outcome, f64)>,
}

/// Today's practice by group and site; the groups are sorted as those of [`Answer`](crate::Answer). Seals without an age
/// on the clock are left out; plain lives, which tell of no looks, give no group. A date known to a month or longer
/// stands at its middle.
///
/// # Errors
/// When something must be settled first (see [`Records::refusal`]) or a column is unknown.
pub fn practice(
    records: &Records,
    by: &[String],
    clock: Clock,
) -> Result<Vec<GroupPractice>, Error> {
    practice_since(records, by, clock, None)
}

/// The same from one day on, that day included; what was before it counts for nothing, and seals removed by then are left
/// out.
///
/// # Errors
/// As [`practice`].
pub fn practice_since(
    records: &Records,
    by: &[String],
    clock: Clock,
    since: Option<Date>,
) -> Result<Vec<GroupPractice>, Error> {
    if let Some(refusal) = &records.refusal {
        return Err(refusal.clone());
    }
    let looks = Looks::new(&records.inspections, &records.seals);
    let parts: Vec<Option<Part>> = records
        .seals
        .iter()
        .map(|seal| part(records, seal, &looks, (clock, since)))
        .collect();
    let mut remarks = Remarks::default();
    let factors = by
        .iter()
        .map(|name| ask_seals::factor(records, name, &mut remarks))
        .collect::<Result<Vec<_>, _>>()?;
    let used = (0..parts.len()).filter(|at| parts.get(*at).is_some_and(Option::is_some));
    let group = |(key, rows): keys::Bunch| {
        let mut sites: BTreeMap<Option<&str>, Vec<&Part>> = BTreeMap::new();
        for at in rows {
            if let (Some(seal), Some(Some(part))) = (records.seals.get(at), parts.get(at)) {
                sites.entry(site(records, seal)).or_default().push(part);
            }
        }
        let sites = sites.iter().map(|(site, parts)| sum(*site, parts));
        GroupPractice {
            key,
            sites: sites.collect(),
        }
    };
    Ok(keys::bunches(&factors, used)
        .into_iter()
        .map(group)
        .collect())
}

fn site<'a>(records: &'a Records, seal: &Seal) -> Option<&'a str> {
    let asset = records.asset_index.get(seal.asset.as_deref()?)?;
    asset.site.as_deref()
}

fn part(
    records: &Records,
    seal: &Seal,
    looks: &Looks<'_>,
    (clock, since): (Clock, Option<Date>),
) -> Option<Part> {
    let of = looks.of(seal);
    let line = Timeline::new(seal, &of, clock, reading_now(records, seal, looks)).ok()?;
    let entry = ages::entry(seal, clock).ok()?;
    let entry = since.map_or(entry, |day| entry.max(line.day(day)));
    let end = match &seal.removed {
        Some(removed) => line.span(removed, seal.watched_to).1,
        None => line.day(seal.watched_to),
    };
    let watched = |date: &crate::dates::Span| line.span(date, seal.watched_to).1 >= entry;
    let (mut openings, mut seen, mut turns) = (0, 0, 0);
    for visit in of.iter().filter(|visit| watched(&visit.date)) {
        let turned = visit.turned.is_some_and(|t| t > 0.0);
        seen += u64::from(visit.finding.is_some());
        turns += u64::from(turned);
        openings += u64::from(turned || visit.finding.is_some());
    }
    let time = end - entry;
    (time > 0.0).then(|| Part {
        time,
        openings,
        looks: seen,
        turns,
        ended: seal.removed.is_some().then_some((seal.outcome, end)),
    })
}

fn sum(site: Option<&str>, parts: &[&Part]) -> Practice {
    let mut out = Practice {
        site: site.map(str::to_owned),
        seals: parts.len() as u64,
        ..Practice::default()
    };
    let mut scheduled = vec![];
    for part in parts {
        out.time += part.time;
        out.openings += part.openings;
        out.looks += part.looks;
        out.turns += part.turns;
        if let Some((outcome, age)) = part.ended {
            *out.ended.entry(outcome).or_insert(0) += 1;
            if outcome == Outcome::Preventive {
                scheduled.push(age);
            }
        }
    }
    scheduled.sort_by(f64::total_cmp);
    out.scheduled_age = scheduled.get(scheduled.len() / 2).copied();
    out
}
