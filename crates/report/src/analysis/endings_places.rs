//! What each place does to the rates of failure and of every other removal, from the records.

use super::DRAWS;
use super::endings::{FAILED, FEWEST, SCHEDULED};
use super::lives::{Fitted, GroupLife, groups};
use super::place_factors::{PlaceFactors, SITE, Tally, ending, split};
use crate::wire::GroupKey;
use sealspan_care::ahead::places::Seen as Counted;
use sealspan_life::family::Family;
use sealspan_life::life::Life;
use sealspan_records::observation::Observation;
use sealspan_records::{Clock, Question, Records, ask};
use std::collections::BTreeMap;

/// Factors by reason and place, and the places' own schedules.
pub(super) struct Places {
    /// By reason.
    factors: BTreeMap<&'static str, PlaceFactors>,
    /// Scheduled changes by part and place, where there are enough.
    schedules: Vec<(GroupKey, String, GroupLife)>,
}

/// A place's factor on one rate.
pub(super) struct Rates {
    pub(super) centre: f64,
    /// Draw by draw.
    pub(super) drawn: Vec<f64>,
}

impl Places {
    /// Reads them from records that name sites; where they do not, or the groups are by site already, every factor is 1.
    pub(super) fn read(
        records: &Records,
        by: &[String],
        failure: Option<String>,
        failing: &[GroupLife],
        others: &[(&'static str, Vec<GroupLife>)],
        family: &'static dyn Family,
        seed: u64,
    ) -> Self {
        let mut out = Self {
            factors: BTreeMap::new(),
            schedules: vec![],
        };
        if by.iter().any(|c| c == SITE) {
            return out;
        }
        let all = [(FAILED, failure, failing)];
        let others = others
            .iter()
            .map(|(mode, lives)| (*mode, Some((*mode).to_owned()), lives.as_slice()));
        for (i, (mode, asked, lives)) in all.into_iter().chain(others).enumerate() {
            let question = Question {
                by: by.iter().cloned().chain([SITE.to_owned()]).collect(),
                clock: Clock::Days,
                mode: asked,
            };
            // Records without sites have no such column.
            let Ok(answer) = ask(records, &question) else {
                continue;
            };
            let mut seen = Tally::default();
            for group in &answer.groups {
                let Some((part, place)) = split(&group.key) else {
                    continue;
                };
                let life = lives.iter().find(|l| l.key == part);
                let Some(fitted) = life.and_then(|l| l.fitted.as_ref().ok()) else {
                    continue;
                };
                let Some(counted) = seen.of(&part, &place) else {
                    continue;
                };
                for row in group.sample.rows() {
                    add(counted, &fitted.life, row);
                }
            }
            out.factors
                .insert(mode, seen.factors(seed + 100 + i as u64));
            if mode == SCHEDULED {
                let own = groups(&answer, family, seed + 200);
                let enough = own
                    .into_iter()
                    .filter(|g| g.sample.tally().failures() >= FEWEST);
                out.schedules = enough
                    .filter_map(|g| split(&g.key.0).map(|(part, place)| (part, place, g)))
                    .collect();
            }
        }
        out
    }

    /// A part's factor at a place on the rate of endings for a reason. Endings for different reasons are drawn by
    /// themselves.
    pub(super) fn rates(&self, mode: &str, part: &GroupKey, place: &str) -> Rates {
        let found = self.factors.get(mode).map(|all| all.of(part, place));
        let (centre, drawn) = found.unwrap_or_else(|| (1.0, vec![1.0; DRAWS]));
        Rates { centre, drawn }
    }

    /// The law of scheduled changes of a part at a place.
    pub(super) fn schedule(&self, part: &GroupKey, place: &str) -> Option<&Fitted> {
        let own = self.schedules.iter();
        let mut own = own.filter(|(p, at, _)| p == part && at == place);
        own.next().and_then(|(_, _, g)| g.fitted.as_ref().ok())
    }
}

/// Adds a seal: whether it ended for the reason, and the cumulative rate it went through.
fn add(counted: &mut Counted, life: &Life, row: &Observation) {
    let (last, ended) = ending(row);
    let through = |t: f64| -life.survival(t).max(f64::MIN_POSITIVE).ln();
    counted.happened += ended * row.count();
    counted.expected += row.count() * (through(last) - through(row.entry())).max(0.0);
}
