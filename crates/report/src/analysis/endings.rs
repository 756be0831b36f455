//! How the seals of each group end: by failure, and by the other removals that today's practice makes. From these the
//! demand of today's practice and that of the plan.

use super::lives::{GroupLife, groups};
use crate::wire::GroupKey;
use sealspan_care::ahead::ending::Ending;
use sealspan_life::family::Family;
use sealspan_records::{Clock, Error, Question, Records, Running, ask};

/// One law at the estimate and at every draw.
#[derive(Debug, Clone)]
pub struct Laws {
    /// At the estimate.
    pub centre: Ending,
    /// At the draws; empty where a fit has none.
    pub draws: Vec<Ending>,
}

/// A group with its laws.
#[derive(Debug, Clone)]
pub struct PartLaws {
    /// Its name.
    pub key: GroupKey,
    /// Its seals in service.
    pub running: Vec<Running>,
    /// As practice goes on.
    pub today: Laws,
    /// Replaced at one age; looks, findings and damage as today.
    pub plan: Laws,
}

/// Removals that go on under any replacement age, and the one the age replaces.
const KEPT: [&str; 4] = ["worn", "damaged", "opportunity", "unknown"];
const SCHEDULED: &str = "preventive";
/// Removals of a kind from which its law is fitted; fewer are left out.
const FEWEST: f64 = 5.0;
/// Replacement ages are looked for on whole weeks.
const WEEK: f64 = 7.0;

/// Money of a failure and of a planned replacement, or a stated replacement age.
#[derive(Debug, Clone, Copy)]
pub struct Aim {
    /// Money of one failure.
    pub failure: f64,
    /// Money of one planned replacement.
    pub planned: f64,
    /// Replacement age stated instead of found.
    pub stated_age: Option<f64>,
}

/// Laws of every group on the clock of days; groups that cannot be fitted are named with the reason.
///
/// # Errors
/// As [`ask`].
pub fn part_laws(
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
    let failing = groups(&ask(records, &question(own))?, family, seed);
    let mut others: Vec<(&str, Vec<GroupLife>)> = vec![];
    for (i, mode) in KEPT.into_iter().chain([SCHEDULED]).enumerate() {
        // The draws of different removals must not move together.
        let lives = groups(
            &ask(records, &question(Some(mode.to_owned())))?,
            family,
            seed + 1 + i as u64,
        );
        others.push((mode, lives));
    }
    let (mut parts, mut left_out) = (vec![], vec![]);
    for group in failing {
        match laws_of(&group, &others, aim) {
            Ok(part) => parts.push(part),
            Err(why) => left_out.push(format!("{}: {why}", group.key.words())),
        }
    }
    Ok((parts, left_out))
}

fn laws_of(
    group: &GroupLife,
    others: &[(&str, Vec<GroupLife>)],
    aim: Aim,
) -> Result<PartLaws, String> {
    let failing = group.trusted()?;
    let age = |e: sealspan_care::error::Error| e.to_string();
    let mut kept = Laws {
        centre: Ending::new(&failing.life, None).map_err(age)?,
        draws: failing
            .draws
            .iter()
            .map(|life| Ending::new(life, None))
            .collect::<Result<_, _>>()
            .map_err(age)?,
    };
    let mut today = kept.clone();
    for (mode, lives) in others {
        let mine = lives.iter().find(|l| l.key == group.key);
        let Some(fitted) = mine
            .filter(|l| l.sample.tally().failures() >= FEWEST)
            .and_then(|l| l.fitted.as_ref().ok())
        else {
            continue;
        };
        let add = |laws: &mut Laws| {
            laws.centre.others.push(fitted.life.clone());
            laws.draws.truncate(fitted.draws.len());
            for (ending, life) in laws.draws.iter_mut().zip(&fitted.draws) {
                ending.others.push(life.clone());
            }
        };
        add(&mut today);
        if *mode != SCHEDULED {
            add(&mut kept);
        }
    }
    let replace_at = match aim.stated_age {
        Some(age) => Some(age),
        None => kept.centre.best_age(WEEK, aim.failure, aim.planned),
    };
    kept.centre.replace_at = replace_at;
    kept.draws
        .iter_mut()
        .for_each(|d| d.replace_at = replace_at);
    Ok(PartLaws {
        key: group.key.clone(),
        running: group.running.clone(),
        today,
        plan: kept,
    })
}
