//! What the plan would be without a batch that is gone: its seals lived shorter lives than their like (it stands out in the
//! screen, all looks allowed for), none of them is in service any more, and still they stand in the laws.

use super::intervals::{self, SheetQuestion};
use super::lives::groups;
use super::planned::planned;
use super::plans::Pen;
use super::screen::Screen;
use crate::wire::GroupKey;
use crate::wire::care::GroupCare;
use crate::wire::intervals::IntervalsDocument;
use sealspan_care::costs::Costs;
use sealspan_care::plan::Request;
use sealspan_care::replacement::Goal;
use sealspan_care::weigh::Average;
use sealspan_life::family::Family;
use sealspan_records::{Question, Records, ask};
use serde::Serialize;

/// The column of batches.
const BATCH: &str = "batch";

/// A group planned again without a batch that is gone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WithoutBatch {
    /// Which group.
    pub group: GroupKey,
    /// Which batch.
    pub batch: String,
    /// Its seals in the group's laws.
    pub seals: f64,
    /// The plan without them, in words; `null`: none could be worked out.
    pub plan_words: Option<String>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan_reason: Option<String>,
    /// What it costs, money of one position per unit of the clock; `null` without a plan.
    pub then: Option<Average>,
    /// What it saves against today's practice, priced without them too, likewise; `null` also where no practice is known.
    pub saving: Option<Average>,
}

/// Batches that live shorter lives with all looks allowed for, and of which no seal is in service.
fn gone<'a>(records: &Records, screen: &'a Screen) -> impl Iterator<Item = &'a str> {
    let found = screen.found.iter();
    let short = found.filter(|s| s.column == BATCH && s.life_ratio < 1.0);
    let running: Vec<String> = records
        .seals
        .iter()
        .filter(|s| s.removed.is_none())
        .filter_map(|s| s.batch.clone())
        .collect();
    short
        .map(|s| s.level.as_str())
        .filter(move |batch| !running.iter().any(|r| r == batch))
}

/// Every group with a plan that holds seals of such a batch, planned again without them.
pub(super) fn without_batches(
    records: &Records,
    asked: &Question,
    (plans, screen): (&[GroupCare], &Screen),
    costs: &Costs,
    (family, confidence, seed): (&'static dyn Family, f64, u64),
) -> Vec<WithoutBatch> {
    let with = |key: &GroupKey, answer: &sealspan_records::Answer| {
        let group = answer.groups.iter().find(|g| g.key == key.0);
        group.map(|g| g.sample.rows().iter().map(|row| row.count()).sum::<f64>())
    };
    let Ok(whole) = ask(records, asked) else {
        return vec![];
    };
    let one = |batch: &str| -> Vec<WithoutBatch> {
        let mut without = records.clone();
        without.seals.retain(|s| s.batch.as_deref() != Some(batch));
        let Ok(answer) = ask(&without, asked) else {
            return vec![];
        };
        let mut lives = groups(&answer, family, seed);
        let lost = |key: &GroupKey| Some(with(key, &whole)? - with(key, &answer)?);
        let planned_too = |key: &GroupKey| plans.iter().any(|p| p.group == *key);
        lives.retain(|l| planned_too(&l.key) && lost(&l.key).is_some_and(|n| n > 0.0));
        let again = planned(
            &without,
            asked,
            &lives,
            Ok(costs),
            Request::default(),
            (confidence, seed),
        );
        let again = again.unwrap_or_default().into_iter();
        again
            .map(|group| told(group, asked, batch, &lost))
            .collect()
    };
    gone(records, screen).flat_map(one).collect()
}

/// The interval sheet without all batches that are gone; `None` without such a batch.
pub(super) fn intervals_without(
    records: &Records,
    asked: &Question,
    screen: &Screen,
    stated: &SheetQuestion,
) -> Option<IntervalsDocument> {
    let gone: Vec<&str> = gone(records, screen).collect();
    if gone.is_empty() {
        return None;
    }
    let mut without = records.clone();
    let is_gone = |batch: &str| gone.contains(&batch);
    without
        .seals
        .retain(|s| !s.batch.as_deref().is_some_and(is_gone));
    let answer = ask(&without, asked).ok()?;
    let (clocks, one_clock) = intervals::clocks(&without, asked, &answer);
    let sheet = intervals::sheet(&without, &clocks, one_clock, (&asked.by, stated));
    Some(sheet)
}

fn told(
    group: GroupCare,
    asked: &Question,
    batch: &str,
    lost: &dyn Fn(&GroupKey) -> Option<f64>,
) -> WithoutBatch {
    let plan = group.block.as_ref().and_then(|b| b.plan.as_ref());
    let pen = Pen {
        unit: asked.clock.unit(),
        currency: "",
        goal: Goal::Cost,
        calendar: plan.and_then(|p| p.weighed.calendar),
    };
    WithoutBatch {
        batch: batch.to_owned(),
        seals: lost(&group.group).unwrap_or_default(),
        plan_words: plan.map(|p| pen.policy(&p.weighed.plan)),
        plan_reason: plan
            .is_none()
            .then(|| "no plan could be weighed without it".to_owned()),
        then: plan.map(|p| p.weighed.then),
        saving: plan.and_then(|p| Some(p.weighed.today.as_ref()?.saving)),
        group: group.group,
    }
}
