//! The whole plans of a study, group by group.

use super::lives::GroupLife;
use super::plans::{Evidence, Facts, whole};
use super::prices;
use super::run::CONFIDENCE;
use crate::wire::care::{CareBlock, CareDocument, GroupCare, PlanQuestion};
use rayon::prelude::*;
use sealspan_care::costs::Costs;
use sealspan_care::plan::Request;
use sealspan_records::{Form, Question, Records, Study};

/// What a study asks of its plans where nothing else is stated.
pub(super) fn question_of<'a>(
    study: &Study,
    costs: &'a Costs,
    request: Request,
    (confidence, seed): (f64, u64),
) -> PlanQuestion<'a> {
    PlanQuestion {
        costs,
        handling: prices::handling(study),
        request,
        confidence,
        seed,
        block: false,
        opportunity_every: None,
        horizon: None,
        stop_gap: None,
        currency: study.currency.clone().unwrap_or_default(),
    }
}

/// The whole plan of every group, or why it has none.
pub(super) fn planned(
    records: &Records,
    asked: &Question,
    lives: &[GroupLife],
    costs: Result<&Costs, &String>,
    request: Request,
    (confidence, seed): (f64, u64),
) -> Result<Vec<GroupCare>, String> {
    if records.form != Form::Seals {
        return Err("plain lives hold no looks or turns".to_owned());
    }
    let study = &records.study;
    let costs = costs.map_err(Clone::clone)?;
    let question = question_of(study, costs, request, (confidence, seed));
    let facts = Facts::of(study);
    let evidence = Evidence::read(records, &asked.by, asked.clock, &facts);
    let answer = |group: &GroupLife| one(group, study, &evidence, &facts, &question);
    Ok(lives.par_iter().map(answer).collect())
}

/// The plan of one group with a detection stated.
pub(super) fn replanned(
    records: &Records,
    asked: &Question,
    group: &GroupLife,
    costs: &Costs,
    ask: (f64, u64),
    detection: f64,
) -> GroupCare {
    let facts = Facts {
        detection: Some(detection),
        // What is measured has nothing to do with what looks find.
        measured: None,
        ..Facts::of(&records.study)
    };
    let evidence = Evidence::read(records, &asked.by, asked.clock, &facts);
    let question = question_of(&records.study, costs, Request::default(), ask);
    one(group, &records.study, &evidence, &facts, &question)
}

/// The plan of one group at the price of its own seal, or why it has none.
fn one(
    group: &GroupLife,
    study: &Study,
    evidence: &Evidence,
    facts: &Facts,
    question: &PlanQuestion,
) -> GroupCare {
    let own = question
        .costs
        .dearer(prices::dearer(&study.costs, &group.key));
    let question = PlanQuestion {
        costs: &own,
        ..question.clone()
    };
    let result = whole(group, evidence, facts, &question);
    GroupCare {
        group: group.key.clone(),
        reason: result.as_ref().err().map(ToString::to_string),
        block: result.ok(),
    }
}

/// The answers that rest on a whole plan ([`whole`]), by group, for the lives of a study, each at the price of its own seal;
/// intervals at 90 %. Groups without a whole plan are left out; empty for plain lives.
#[must_use]
pub fn plans_of(
    records: &Records,
    asked: &Question,
    lives: &[GroupLife],
    costs: &Costs,
    request: Request,
    seed: u64,
) -> Vec<GroupCare> {
    let ask = (CONFIDENCE, seed);
    whole_plans(&planned(records, asked, lives, Ok(costs), request, ask))
}

/// The answers that rest on a whole plan, by group.
pub(super) fn whole_plans(plans: &Result<Vec<GroupCare>, String>) -> Vec<GroupCare> {
    let planned = |g: &&GroupCare| g.block.as_ref().is_some_and(|b| b.plan.is_some());
    let list = plans.as_deref().unwrap_or_default();
    list.iter().filter(planned).cloned().collect()
}

/// Where a group has a whole plan, all its figures rest on the laws of that plan; the plan itself stands under
/// `plans`.
pub(super) fn led_by(mut care: CareDocument, plans: &[GroupCare]) -> CareDocument {
    for group in &mut care.groups {
        let planned = plans.iter().find(|p| p.group == group.group);
        if let Some(block) = planned.and_then(|p| p.block.as_ref()) {
            group.block = Some(CareBlock {
                plan: None,
                ..block.clone()
            });
            group.reason = None;
        }
    }
    care
}
