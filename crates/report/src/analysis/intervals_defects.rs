//! Intervals where looks took off worn seals: by the defect model, which reads a finding as the defect it is. Read as
//! sound until then, seals that were about to fail drop out unseen, and intervals lean towards too long.

use super::DRAWS;
use super::intervals::SheetQuestion;
use super::plans::stages;
use crate::wire::GroupKey;
use sealspan_care::costs::Costs;
use sealspan_care::plan::{Choice, Planner, Request};
use sealspan_care::seal::Seal;
use sealspan_care::terms::Handling;
use sealspan_life::defects::{Counts, DefectQuantity};
use sealspan_records::Records;
use sealspan_records::histories::{HistoryGroup, HistoryQuestion, histories};
use sealspan_records::observation::Clock;

/// With more groups than this the model is not fitted group by group: it would take minutes (a rule of ours).
const MOST_GROUPS: usize = 60;
/// Findings from which they matter.
const FINDINGS: f64 = 5.0;
/// The doubt that the laws do not suit.
const STRAYS: [&str; 2] = ["misfit", "doubtful_fit"];

/// A group's intervals were nothing taken off worn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Unhindered {
    pub group: GroupKey,
    /// The age by which at most the share fails, with the confidence asked for.
    pub at_most_share: Option<f64>,
    /// The age of least cost, replaced at an age alone; `None` where none pays, or without prices.
    pub least_cost: Option<f64>,
    /// Where its laws do not suit.
    pub doubts: Vec<String>,
}

/// What is known of every group, or in words why the model could not read it; none where looks took nothing off.
pub(super) fn unhindered(
    records: &Records,
    by: &[String],
    clock: Clock,
    question: &SheetQuestion,
) -> Vec<(GroupKey, Result<Unhindered, String>)> {
    let asked = HistoryQuestion {
        by: by.to_vec(),
        clock,
        hidden: false,
    };
    let Ok(all) = histories(records, &asked) else {
        return vec![];
    };
    if all.groups.len() > MOST_GROUPS {
        return vec![];
    }
    let found = all.groups.iter();
    let found = found.filter(|g| Counts::of(&g.histories).found >= FINDINGS);
    found
        .map(|group| {
            let key = GroupKey(group.key.clone());
            (key.clone(), of_group(group, key, clock, question))
        })
        .collect()
}

fn of_group(
    group: &HistoryGroup,
    key: GroupKey,
    clock: Clock,
    question: &SheetQuestion,
) -> Result<Unhindered, String> {
    // The lower end of a two-sided interval is the one-sided bound.
    let level = 2.0 * question.confidence - 1.0;
    let stages = stages(group, None, level, DRAWS, question.seed).map_err(|one| one.reason)?;
    let age = DefectQuantity::LifeQuantile(question.share);
    let ends = stages.all.quantiles(age, &[1.0 - question.confidence]);
    let seal = Seal::two_stage(stages.centre.defect.clone(), stages.centre.delay.clone());
    let alone = Request {
        inspect: Choice::Never,
        turn: Choice::Never,
        ..Request::default()
    };
    let best = question.prices.and_then(|prices| {
        let costs = Costs::new(prices, clock).ok()?;
        let planner = Planner::new(&seal, &costs, &Handling::default(), alone).ok()?;
        planner.best().ok()?.policy.replace_at
    });
    let doubts = stages.doubts.iter().filter(|d| STRAYS.contains(&d.kind));
    Ok(Unhindered {
        group: key,
        at_most_share: ends.first().copied().flatten(),
        least_cost: best,
        doubts: doubts.map(|d| d.message.clone()).collect(),
    })
}
