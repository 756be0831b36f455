//! How the seals of each part go on, place by place: as they are cared for today, and under the plan.
//!
//! Where a part has a whole plan, both follow its laws: defects, looks that find them, turns, replacement ages. Else the
//! life to failure does, with the other removals that the records show, and the plan is one replacement age.

use super::demand::{MONTH, Outlook};
use super::endings::{Aim, Laws, NO_SITE, PartLaws, PlaceLaws, Shuffle, part_laws, running};
use super::lives::GroupLife;
use super::place_factors::PlaceFactors;
use super::place_rates::place_rates;
use super::plans::{Pen, SiteToday};
use crate::wire::GroupKey;
use crate::wire::care::GroupCare;
use crate::wire::plan::WholePlan;
use sealspan_care::ahead::Work;
use sealspan_care::ahead::cared::{Cared, Overdue};
use sealspan_care::ahead::fleet::Fleet;
use sealspan_care::ahead::months::Cases;
use sealspan_care::error::Result;
use sealspan_care::policy::CarePolicy;
use sealspan_care::replacement::Goal;
use sealspan_care::seal::Seal;
use sealspan_care::weigh::Candidate;
use sealspan_life::family::Family;
use sealspan_records::{Error, Question, Records, Running};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Draws that the intervals of months rest on: they hardly move with more.
const DRAWS: usize = 100;

/// By whose care the seals go on from now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum World {
    /// Today's practice.
    Today,
    /// The plan.
    Plan,
}

/// What the plan does to a part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartPlan {
    /// Days between looks and between turns, and the replacement age in days.
    pub policy: Candidate,
    /// The same in words.
    pub words: String,
    /// Whether it is the whole plan; else a replacement age alone.
    pub whole: bool,
}

/// A part with its seals in service.
#[derive(Debug, Clone)]
pub struct PartFuture {
    /// Its name.
    pub key: GroupKey,
    /// What the plan does.
    pub plan: PartPlan,
    /// Its seals, place by place.
    pub places: Vec<PlaceFuture>,
}

/// A part's seals at one place.
#[derive(Debug, Clone)]
pub struct PlaceFuture {
    /// The place.
    pub place: String,
    /// Seals in service there.
    pub running: Vec<Running>,
    ways: Ways,
}

#[derive(Debug, Clone)]
enum Ways {
    Aged(Box<PlaceLaws>),
    Cared(Box<CaredPlace>),
}

/// Seals whose laws follow today's care and the plan's.
#[derive(Debug, Clone)]
struct CaredPlace {
    seals: Arc<Seals>,
    /// The part's factor there on the rate of onsets, and at every draw.
    rates: (f64, Vec<f64>),
    today: Now,
    plan: CarePolicy,
}

/// What is done at a place today.
#[derive(Debug, Clone)]
enum Now {
    /// A policy that the seals' laws can follow.
    Policy(CarePolicy),
    /// What the records show done, law by law, with the work on one position a day: the seals' laws cannot tell what
    /// today's looks find.
    Done(Box<Laws>, Work),
}

/// A seal at the estimate, and in worlds that it leaves possible.
#[derive(Debug)]
struct Seals {
    centre: Seal,
    draws: Vec<Seal>,
}

impl PartFuture {
    /// Seals in service.
    #[must_use]
    pub(crate) fn running(&self) -> f64 {
        self.places.iter().map(|p| running(&p.running)).sum()
    }

    /// By its whole plan; `aged` are the laws of what is done today, where the plan is held against that. `number` is the
    /// part's own, so that its draws are not those of another.
    fn cared(
        life: &GroupLife,
        plan: &WholePlan,
        aged: Option<PartLaws>,
        places: &PlaceFactors,
        (seed, number): (u64, u64),
    ) -> Self {
        let mut drawn = Shuffle { seed, part: number }.of(&plan.worlds.draws);
        drawn.truncate(DRAWS);
        let seals = Arc::new(Seals {
            centre: plan.worlds.centre.clone(),
            draws: drawn,
        });
        let policy = plan.weighed.plan;
        let pen = Pen {
            unit: "days",
            currency: "",
            goal: Goal::Cost,
            calendar: plan.weighed.calendar,
        };
        let mut done: BTreeMap<String, Laws> = aged
            .into_iter()
            .flat_map(|laws| laws.places)
            .map(|here| (here.place, here.today))
            .collect();
        let of = |(place, running): (String, Vec<Running>)| PlaceFuture {
            ways: Ways::Cared(Box::new(CaredPlace {
                seals: Arc::clone(&seals),
                rates: places.of(&life.key, &place),
                today: match done.remove(&place).zip(work_at(plan, &place)) {
                    Some((mut laws, work)) => {
                        laws.draws.truncate(DRAWS);
                        Now::Done(Box::new(laws), work)
                    }
                    None => Now::Policy(practice_at(plan, &place)),
                },
                plan: policy.policy(plan.turn_by),
            })),
            place,
            running,
        };
        Self {
            key: life.key.clone(),
            plan: PartPlan {
                policy,
                words: pen.policy(&policy),
                whole: true,
            },
            places: by_place(life).into_iter().map(of).collect(),
        }
    }

    /// By replacement ages alone.
    fn aged(laws: PartLaws) -> Self {
        let policy = Candidate {
            inspect_every: None,
            turn_every: None,
            replace_at: laws.replace_at,
        };
        let words = laws.replace_at.map_or_else(
            || "replace on failure only".to_owned(),
            |age| format!("replace at {age:.0} days, looks and findings as today"),
        );
        let of = |mut here: PlaceLaws| {
            here.today.draws.truncate(DRAWS);
            here.plan.draws.truncate(DRAWS);
            PlaceFuture {
                place: here.place.clone(),
                running: here.running.clone(),
                ways: Ways::Aged(Box::new(here)),
            }
        };
        Self {
            key: laws.key,
            plan: PartPlan {
                policy,
                words,
                whole: false,
            },
            places: laws.places.into_iter().map(of).collect(),
        }
    }
}

/// Every part of records grouped by `asked`, on the clock of days: by its whole plan where there is one, else by
/// replacement ages alone, as `aim` asks. Each goes on at every place at the place's own rate, at the estimate and at up
/// to 100 of its draws. Parts that cannot be followed are named with the reason.
///
/// # Errors
/// As [`ask`](sealspan_records::ask).
pub fn futures(
    records: &Records,
    asked: &Question,
    (lives, plans): (&[GroupLife], &[GroupCare]),
    (family, aim): (&'static dyn Family, Aim),
    seed: u64,
) -> std::result::Result<(Vec<PartFuture>, Vec<String>), Error> {
    let plan_of = |life: &GroupLife| -> Option<&WholePlan> {
        let mine = plans.iter().find(|p| p.group == life.key)?;
        mine.block.as_ref()?.plan.as_ref()
    };
    let (mut aged, mut left_out) = (vec![], vec![]);
    let by_laws = |life: &GroupLife| plan_of(life).is_none_or(|p| p.against_counts);
    if lives.iter().any(by_laws) {
        (aged, left_out) = part_laws(records, &asked.by, family, aim, seed)?;
    }
    let places = place_rates(records, asked, plans, seed);
    let mut out = vec![];
    for (i, life) in lives.iter().enumerate() {
        let laws = aged.iter().position(|laws| laws.key == life.key);
        let laws = laws.map(|at| aged.swap_remove(at));
        if let Some(plan) = plan_of(life) {
            let own = format!("{}: ", life.key.words());
            left_out.retain(|line| !line.starts_with(&own));
            let laws = laws.filter(|_| plan.against_counts);
            out.push(PartFuture::cared(
                life,
                plan,
                laws,
                &places,
                (seed, i as u64),
            ));
        } else if let Some(laws) = laws {
            out.push(PartFuture::aged(laws));
        }
    }
    Ok((out, left_out))
}

/// Seals in service by place.
pub(super) fn by_place(life: &GroupLife) -> BTreeMap<String, Vec<Running>> {
    let mut out: BTreeMap<String, Vec<Running>> = BTreeMap::new();
    for seal in &life.running {
        let place = seal.site.clone().unwrap_or_else(|| NO_SITE.to_owned());
        out.entry(place).or_default().push(seal.clone());
    }
    out
}

/// What is done at a place today; one that the records say nothing of does as most do.
pub(super) fn practice_at(plan: &WholePlan, place: &str) -> CarePolicy {
    let practice = &plan.practice;
    let named = practice.sites.iter().zip(&practice.policies);
    let own = named.clone().find(|(site, _)| {
        let name = site.site.as_deref().unwrap_or(NO_SITE);
        name == place
    });
    let most = || named.max_by(|a, b| a.1.share.total_cmp(&b.1.share));
    own.or_else(most)
        .map_or_else(CarePolicy::run_to_failure, |(_, p)| p.policy.clone())
}

/// The work that the records counted at a place, where the plan is held against what they counted; at a place that they say
/// nothing of, as much as on all positions together.
fn work_at(plan: &WholePlan, place: &str) -> Option<Work> {
    plan.counted()?;
    let practice = &plan.practice;
    let here = |site: &SiteToday| site.site.as_deref().unwrap_or(NO_SITE) == place;
    let mut sites = practice.sites.iter().zip(&practice.work);
    if let Some((_, work)) = sites.find(|(site, _)| here(site)) {
        return Some(*work);
    }
    let shares = practice.sites.iter().zip(&practice.work);
    let all = |of: fn(&Work) -> f64| shares.clone().map(|(s, w)| s.share * of(w)).sum();
    Some(Work {
        openings: all(|w| w.openings),
        looks: all(|w| w.looks),
        turns: all(|w| w.turns),
    })
}

impl PlaceFuture {
    /// The part's factor there on the rate of onsets, and at every draw; `None` without a whole plan.
    pub(super) fn rates(&self) -> Option<&(f64, Vec<f64>)> {
        match &self.ways {
            Ways::Cared(here) => Some(&here.rates),
            Ways::Aged(_) => None,
        }
    }

    /// What the months come to, with all lives `stretch` times as long; without draws where it is not 1.
    ///
    /// # Errors
    /// As [`Cared::cases`] and [`sealspan_care::ahead::months::Ahead::cases`].
    pub(crate) fn cases(
        &self,
        world: World,
        outlook: &Outlook,
        fleet: &Fleet,
        stretch: f64,
    ) -> Result<Cases> {
        match (&self.ways, world) {
            (Ways::Aged(laws), World::Today) => aged(&laws.today, outlook, fleet, stretch),
            (Ways::Aged(laws), World::Plan) => aged(&laws.plan, outlook, fleet, stretch),
            (Ways::Cared(here), _) => here.cases(world, outlook, fleet, stretch),
        }
    }
}

impl CaredPlace {
    fn cases(&self, world: World, outlook: &Outlook, fleet: &Fleet, stretch: f64) -> Result<Cases> {
        let none = CarePolicy::run_to_failure();
        let so_far = match (&self.today, world) {
            (Now::Done(laws, work), World::Today) => {
                let cases = aged(laws, outlook, fleet, stretch)?;
                return Ok(cases.with_work(work, MONTH * fleet.running()));
            }
            (Now::Done(..), World::Plan) => &none,
            (Now::Policy(policy), _) => policy,
        };
        let (from_now, overdue) = match world {
            World::Today => (so_far, Overdue::RunsOn),
            World::Plan => (&self.plan, Overdue::AtOnce),
        };
        let as_estimated = stretch == 1.0;
        let (draws, spread) = if as_estimated {
            (self.seals.draws.as_slice(), outlook.batch_spread)
        } else {
            (&[][..], 0.0)
        };
        let question = Cared {
            seal: &self.seals.centre,
            draws,
            so_far,
            from_now,
            overdue,
            stretch,
            rate: self.rates.0,
            rates: &self.rates.1,
            fleet,
            period: MONTH,
            periods: outlook.months,
            batch_spread: spread,
            seed: outlook.seed,
        };
        question.cases()
    }
}

/// By laws of endings alone; without draws where lives are stretched.
fn aged(laws: &Laws, outlook: &Outlook, fleet: &Fleet, stretch: f64) -> Result<Cases> {
    if stretch == 1.0 {
        return outlook.ahead(laws, fleet).cases();
    }
    let moved = Laws {
        centre: laws.centre.stretched(stretch),
        draws: vec![],
    };
    outlook.ahead(&moved, fleet).cases()
}
