//! Today's practice as the records show it, as policies and as booked costs.

use sealspan_care::ahead::Work;
use sealspan_care::policy::{CarePolicy, Looks, Turn};
use sealspan_care::replacement::Goal;
use sealspan_care::terms::Terms;
use sealspan_care::weigh::{self, Counted, Rates};
use sealspan_records::practice::Practice;
use sealspan_records::words::Outcome;
use serde::Serialize;

/// What is done at one site today, read from its records.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteToday {
    /// The site; `null` where the assets name none.
    pub site: Option<String>,
    /// Seals in the records.
    pub seals: u64,
    /// Share of the group's seal-time.
    pub share: f64,
    /// Mean time between looks; `null`: hardly ever looked at.
    pub inspect_every: Option<f64>,
    /// Mean time between turns; `null`: hardly ever turned.
    pub turn_every: Option<f64>,
    /// Median age of seals replaced by schedule; `null`: fewer than one removal in ten is by schedule.
    pub replace_at: Option<f64>,
}

/// Today's practice of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Today {
    /// By site.
    pub sites: Vec<SiteToday>,
    /// Seal-time under watch, units of the clock.
    pub watched: f64,
    /// Money per unit of the clock that the recorded failures, removals, looks and turns come to at the
    /// study's prices: no model in it.
    pub booked_rate: Option<f64>,
    /// Its standard error, were the counted events independent (Poisson).
    pub booked_error: Option<f64>,
    /// What the booked figure leaves out.
    pub booked_note: Option<String>,
    /// Its events, as the records counted them.
    #[serde(skip)]
    pub counted: Option<Counted>,
    /// The same practice as policies.
    #[serde(skip)]
    pub policies: Vec<weigh::Practice>,
    /// Work on a position and unit of time in service that the records counted at each of `sites`.
    #[serde(skip)]
    pub work: Vec<Work>,
    /// Mean time between turns over all sites.
    #[serde(skip)]
    pub turns_every: Option<f64>,
}

/// Share of removals by schedule from which a site replaces at an age (a rule of ours).
const SCHEDULED: f64 = 0.1;
/// A time between looks or turns of more than this many mean lives is none.
const RARE: f64 = 3.0;

/// Reads today's practice of seals with a mean life.
#[must_use]
pub(crate) fn today(sites: &[Practice], terms: &Terms, mean_life: f64) -> Today {
    let watched: f64 = sites.iter().map(|s| s.time).sum();
    let often = |every: Option<f64>| every.filter(|t| *t <= RARE * mean_life);
    let read = |s: &Practice| SiteToday {
        site: s.site.clone(),
        seals: s.seals,
        share: s.time / watched,
        inspect_every: often(s.looks_every()),
        turn_every: often(s.turns_every()),
        replace_at: s
            .scheduled_age
            .filter(|_| s.ended_so(Outcome::Preventive) as f64 >= SCHEDULED * s.removed() as f64),
    };
    let list: Vec<SiteToday> = sites.iter().map(read).collect();
    let counted = counted(sites, terms, watched);
    let booked = counted.map(|c| c.measure(terms, Goal::Cost));
    let turns: u64 = sites.iter().map(|s| s.turns).sum();
    let unknown: u64 = sites.iter().map(|s| s.ended_so(Outcome::Unknown)).sum();
    Today {
        policies: list.iter().map(policy).collect(),
        work: sites.iter().map(work).collect(),
        sites: list,
        watched,
        counted,
        booked_rate: booked.map(|b| b.0),
        booked_error: booked.map(|b| b.1),
        booked_note: (unknown > 0).then(|| {
            format!("{unknown} removals of unknown outcome are priced as planned replacements")
        }),
        turns_every: (turns > 0).then(|| watched / turns as f64),
    }
}

/// Nothing is counted where no time was watched.
fn work(site: &Practice) -> Work {
    let rate = |count: u64| {
        if site.time > 0.0 {
            count as f64 / site.time
        } else {
            0.0
        }
    };
    Work {
        openings: rate(site.openings),
        looks: rate(site.looks),
        turns: rate(site.turns),
    }
}

fn policy(site: &SiteToday) -> weigh::Practice {
    weigh::Practice {
        share: site.share,
        policy: CarePolicy {
            looks: site.inspect_every.map_or(Looks::Never, Looks::Every),
            turn: site.turn_every.map(|every| Turn { every, by: 1 }),
            replace_at: site.replace_at,
            ..CarePolicy::run_to_failure()
        },
    }
}

/// Events by outcome over the time in service and down.
fn counted(sites: &[Practice], terms: &Terms, watched: f64) -> Option<Counted> {
    let mut count = Rates::default();
    for site in sites {
        for (outcome, n) in &site.ended {
            let slot = match outcome {
                Outcome::Failed => &mut count.failed,
                Outcome::Worn => &mut count.found,
                Outcome::Damaged => &mut count.damaged,
                Outcome::Opportunity => &mut count.opportunity,
                Outcome::InService => continue,
                Outcome::Preventive | Outcome::Unknown => &mut count.planned,
            };
            *slot += *n as f64;
        }
        count.openings += site.openings as f64;
        count.looks += site.looks as f64;
        count.turns += site.turns as f64;
    }
    let once = Counted {
        rates: count,
        time: 1.0,
    };
    let (down, _) = once.measure(terms, Goal::Availability);
    let time = watched + down;
    (watched > 0.0).then(|| Counted {
        rates: count.times(1.0 / time),
        time,
    })
}
