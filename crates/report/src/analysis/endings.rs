//! How the seals of each group end at each place: by failure, and by the other removals that today's practice makes.
//! From these the demand of today's practice and that of the plan.

use super::endings_places::Places;
use super::futures::by_place;
use super::lives::{Fitted, GroupLife, groups};
use crate::wire::GroupKey;
use sealspan_care::ahead::ending::{Ending, Removal};
use sealspan_care::plan::Choice;
use sealspan_life::family::Family;
use sealspan_numeric::random::Stream;
use sealspan_records::{Clock, Error, Question, Records, Running, ask};

/// One law at the estimate and at every draw. Ages are in days.
#[derive(Debug, Clone)]
pub struct Laws {
    /// At the estimate.
    pub centre: Ending,
    /// At the draws; empty where a fit has none.
    pub draws: Vec<Ending>,
}

/// A group's seals at one place, with their laws there.
#[derive(Debug, Clone)]
pub struct PlaceLaws {
    /// The place.
    pub place: String,
    /// The seals in service there.
    pub running: Vec<Running>,
    /// As practice goes on.
    pub today: Laws,
    /// Replaced at one age; looks, findings and damage as today.
    pub plan: Laws,
}

/// A group with its laws.
#[derive(Debug, Clone)]
pub struct PartLaws {
    /// Its name.
    pub key: GroupKey,
    /// Its seals in service, place by place.
    pub places: Vec<PlaceLaws>,
    /// Age of planned replacement, days; `None`: on failure only.
    pub replace_at: Option<f64>,
}

/// How many seals run.
#[must_use]
pub(crate) fn running(seals: &[Running]) -> f64 {
    seals.iter().map(|r| r.count).sum()
}

/// Name of the place where the records name no site.
pub const NO_SITE: &str = "all sites";

/// Removals that go on under any replacement age, and the one the age replaces.
const KEPT: [&str; 4] = ["worn", "damaged", "opportunity", "unknown"];
pub(super) const SCHEDULED: &str = "preventive";
/// Failure among the reasons.
pub(super) const FAILED: &str = "failed";
/// Removals of a kind from which its law is fitted; fewer are left out.
pub(super) const FEWEST: f64 = 5.0;
/// Replacement ages are looked for on whole weeks.
const WEEK: f64 = 7.0;

/// Money of a failure and of a planned replacement, and what is asked of the replacement age.
#[derive(Debug, Clone, Copy)]
pub struct Aim {
    /// Money of one failure, hours down priced in.
    pub failure: f64,
    /// Money of one planned replacement, likewise.
    pub planned: f64,
    /// Replacement age, days; free, the whole week that costs least by the estimate
    /// ([`Ending::best_age`]).
    pub replace: Choice,
}

/// Laws of every group on the clock of days; groups that cannot be fitted are named with the reason.
///
/// # Errors
/// As [`ask`].
pub(crate) fn part_laws(
    records: &Records,
    by: &[String],
    family: &'static dyn Family,
    aim: Aim,
    seed: u64,
) -> Result<(Vec<PartLaws>, Vec<String>), Error> {
    let question = |mode: Option<String>| Question {
        by: by.to_vec(),
        clock: Clock::Days,
        mode,
    };
    let own = records.study.question.mode.clone();
    let failing = groups(&ask(records, &question(own.clone()))?, family, seed);
    let mut others: Vec<(&'static str, Vec<GroupLife>)> = vec![];
    for (i, mode) in KEPT.into_iter().chain([SCHEDULED]).enumerate() {
        // The draws of different removals must not move together.
        let lives = groups(
            &ask(records, &question(Some(mode.to_owned())))?,
            family,
            seed + 1 + i as u64,
        );
        others.push((mode, lives));
    }
    let places = Places::read(records, by, own, &failing, &others, family, seed);
    let (mut parts, mut left_out) = (vec![], vec![]);
    for (i, group) in failing.iter().enumerate() {
        let shuffle = Shuffle {
            seed,
            part: i as u64,
        };
        match laws_of(group, &others, &places, aim, shuffle) {
            Ok(part) => parts.push(part),
            Err(why) => left_out.push(format!("{}: {why}", group.key.words())),
        }
    }
    Ok((parts, left_out))
}

/// Parts are fitted with one seed: shuffled, draw i of one part says nothing of draw i of another.
#[derive(Clone, Copy)]
pub(super) struct Shuffle {
    pub(super) seed: u64,
    pub(super) part: u64,
}

impl Shuffle {
    pub(super) fn of<T: Clone>(self, list: &[T]) -> Vec<T> {
        let mut out = list.to_vec();
        let mut stream = Stream::new(self.seed, u64::MAX - self.part);
        for i in (1..out.len()).rev() {
            out.swap(i, stream.below(i + 1));
        }
        out
    }
}

/// One reason for removal: its law, and whether it goes on under a replacement age.
struct Reason<'a> {
    mode: &'a str,
    fitted: &'a Fitted,
}

fn laws_of(
    group: &GroupLife,
    others: &[(&'static str, Vec<GroupLife>)],
    places: &Places,
    aim: Aim,
    shuffle: Shuffle,
) -> Result<PartLaws, String> {
    let failing = group.trusted()?;
    let reasons: Vec<Reason> = others
        .iter()
        .filter_map(|(mode, lives)| {
            let mine = lives.iter().find(|l| l.key == group.key)?;
            let enough = mine.sample.tally().failures() >= FEWEST;
            let fitted = mine.fitted.as_ref().ok().filter(|_| enough)?;
            Some(Reason { mode, fitted })
        })
        .collect();
    let age = |e: sealspan_care::error::Error| e.to_string();
    let mut kept = Ending::new(&failing.life, None).map_err(age)?;
    let going_on = reasons.iter().filter(|r| r.mode != SCHEDULED);
    kept.others = going_on.map(|r| r.fitted.life.clone().into()).collect();
    let replace_at = match aim.replace {
        Choice::At(age) => Some(age),
        Choice::Never => None,
        Choice::Free => kept.best_age(WEEK, aim.failure, aim.planned),
    };
    let of = |(place, running): (String, Vec<Running>)| {
        let laws = |scheduled: bool, replace_at| {
            here(
                failing,
                &reasons,
                places,
                (&group.key, &place),
                shuffle,
                (scheduled, replace_at),
            )
        };
        Ok(PlaceLaws {
            today: laws(true, None).map_err(age)?,
            plan: laws(false, replace_at).map_err(age)?,
            place,
            running,
        })
    };
    Ok(PartLaws {
        key: group.key.clone(),
        places: by_place(group)
            .into_iter()
            .map(of)
            .collect::<Result<_, String>>()?,
        replace_at,
    })
}

/// A part's laws at one place: the rates of all places times the place's own factors; scheduled changes by the place's
/// own law where it has enough of them.
fn here(
    failing: &Fitted,
    reasons: &[Reason],
    places: &Places,
    (key, place): (&GroupKey, &str),
    shuffle: Shuffle,
    (scheduled, replace_at): (bool, Option<f64>),
) -> sealspan_care::error::Result<Laws> {
    let start = |(life, rate): (&sealspan_life::life::Life, f64)| {
        let mut ending = Ending::new(life, replace_at)?;
        ending.failure_rate = rate;
        Ok(ending)
    };
    let rates = places.rates(FAILED, key, place);
    let drawn = shuffle.of(&failing.draws);
    let mut laws = Laws {
        centre: start((&failing.life, rates.centre))?,
        draws: drawn
            .iter()
            .zip(rates.drawn)
            .map(start)
            .collect::<sealspan_care::error::Result<_>>()?,
    };
    for reason in reasons {
        let is_schedule = reason.mode == SCHEDULED;
        if is_schedule && !scheduled {
            continue;
        }
        let own = places.schedule(key, place).filter(|_| is_schedule);
        let fitted = own.unwrap_or(reason.fitted);
        let rates = places.rates(reason.mode, key, place);
        let rate = |r: f64| if own.is_some() { 1.0 } else { r };
        laws.centre.others.push(Removal {
            life: fitted.life.clone(),
            rate: rate(rates.centre),
        });
        let lives = shuffle.of(&fitted.draws);
        laws.draws.truncate(lives.len());
        for ((ending, life), r) in laws.draws.iter_mut().zip(lives).zip(rates.drawn) {
            let rate = rate(r);
            ending.others.push(Removal { life, rate });
        }
    }
    Ok(laws)
}
