//! The whole plan on the pages: what it is, what it saves, how sure it is, and its two figures.

use super::plan_words::{besides, doubted, read_otherwise};
use super::saved::{Saved, outside, saved, saved_in_all};
use super::tornado::{Frame, Input, draw};
use super::words::{money, per_year};
use super::{months, own_ages};
use crate::analysis::plans::Pen;
use crate::analysis::run::Results;
use crate::chart::{Axis, Chart, Layer, Mark, Marker, Tone};
use crate::document::{Block, Table};
use crate::number;
use crate::scale::Tick;
use crate::wire::GroupKey;
use crate::wire::care::GroupCare;
use crate::wire::plan::WholePlan;
use sealspan_care::replacement::Goal;

/// Options and inputs drawn.
const OPTIONS: usize = 8;
const INPUTS: usize = 10;

pub(super) fn all(results: &Results) -> Vec<(&GroupCare, &WholePlan)> {
    let groups = results.plans.found().map_or(&[][..], Vec::as_slice);
    let of = |g| Some((g, GroupCare::plan(g)?));
    groups.iter().filter_map(of).collect()
}

impl GroupCare {
    fn plan(&self) -> Option<&WholePlan> {
        self.block.as_ref()?.plan.as_ref()
    }
}

/// Seals of a group that run now, as far as counted.
pub(super) fn positions(results: &Results, group: &GroupCare) -> f64 {
    let of = results.lives.iter().find(|l| l.key == group.group);
    of.map_or(0.0, |l| l.running.iter().map(|r| r.count).sum())
}

/// The plan of the group with the most seals running.
pub(super) fn busiest(results: &Results) -> Option<(&GroupCare, &WholePlan)> {
    let by = |g: &GroupCare| positions(results, g);
    all(results)
        .into_iter()
        .max_by(|a, b| by(a.0).total_cmp(&by(b.0)))
}

pub(super) fn pen<'a>(results: &'a Results, plan: &WholePlan) -> Pen<'a> {
    Pen {
        unit: results.unit,
        currency: &results.currency,
        goal: Goal::Cost,
        calendar: plan.weighed.calendar,
    }
}

/// The replacement age of a group's plan, where it is an age alone.
pub fn age_alone(results: &Results, key: &GroupKey) -> Option<f64> {
    let list = all(results);
    let (_, plan) = list.iter().find(|(group, _)| group.group == *key)?;
    let plan = &plan.weighed.plan;
    let alone = plan.inspect_every.is_none() && plan.turn_every.is_none();
    plan.replace_at.filter(|_| alone)
}

/// The engineer's part: what to do in each group, and how sure that is.
pub fn engineer(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading(
        "Looks, turns and replacement age together".into(),
    ));
    let list = all(results);
    let Some((group, plan)) = busiest(results) else {
        let why = results
            .plans
            .reason()
            .unwrap_or("no group has a plan that could be weighed");
        blocks.push(Block::Text(format!("No whole plan: {why}.")));
        return;
    };
    // The first sentence leads the part on replacement.
    let mut rest = plan.sentences.iter().skip(1).cloned();
    blocks.extend(rest.next().map(|first| {
        let first = format!("{}: {}", group.group.words(), uncapitalised(&first));
        Block::Answer(first)
    }));
    blocks.extend(read_otherwise(results).into_iter().map(Block::Text));
    blocks.push(Block::Folded {
        title: format!(
            "{}: how sure the plan is, what would change it, what else was tried",
            group.group.words()
        ),
        lines: rest.collect(),
    });
    let limit: Vec<String> = measured(group).cloned().collect();
    if !limit.is_empty() {
        blocks.push(Block::Folded {
            title: format!(
                "{}: looking and replacing at a measured limit",
                group.group.words()
            ),
            lines: limit,
        });
    }
    blocks.extend(doubted(&list, group).map(|doubts| Block::Folded {
        title: "Doubts of the other plans".to_owned(),
        lines: vec![doubts],
    }));
    blocks.extend(chances(results).map(|c| Block::Figure(Box::new(c))));
    blocks.extend(tornado(results).map(|c| Block::Figure(Box::new(c))));
    let rows = list.iter().map(|(group, plan)| {
        let w = &plan.weighed;
        vec![
            group.group.words(),
            pen(results, plan).policy(&w.plan),
            if plan.stages == "two_stage" {
                "defect, then failure".to_owned()
            } else {
                "failure without warning".to_owned()
            },
            number::percent(w.failed),
            number::percent(w.regret.chance_of_being_wrong),
        ]
    });
    blocks.push(Block::Table(Table::new(
        "The plan by group, on whole steps of the calendar",
        &["group", "plan", "rests on", "fail", "chance of being wrong"],
        rows.collect(),
    )));
    blocks.extend(super::ages::table(results).map(Block::Table));
    blocks.push(Block::Text(
        "The ages further up are the best by age alone, at the estimates and without a calendar, from the same laws as this plan; the plan takes whole steps of the calendar and is least on average over what the estimates leave open. A maker's interval also keeps the share that fails below its limit with its confidence. Groups without a plan here rest on the life to failure, with seals taken off worn read as sound until then.".into(),
    ));
    ages_of_their_own(results, blocks);
}

/// Whether a duty or a site does better with an age of its own.
fn ages_of_their_own(results: &Results, blocks: &mut Vec<Block>) {
    let Some(d) = results.money.found() else {
        return;
    };
    let found = [
        (own_ages::duties_sentence(d), own_ages::duties(d)),
        (own_ages::sites_sentence(d), own_ages::sites(d)),
    ];
    if found.iter().all(|(sentence, _)| sentence.is_none()) {
        return;
    }
    blocks.push(Block::Heading(
        "Does a duty or a site need an age of its own?".into(),
    ));
    let listed = found.iter().any(|(_, table)| table.is_some());
    for (sentence, table) in found {
        blocks.extend(sentence.map(Block::Answer));
        blocks.extend(table.map(Block::Table));
    }
    if listed {
        blocks.push(Block::Text(own_ages::NOTE.to_owned()));
    }
}

/// When to replace by a reading, where the records hold readings of a property with a limit.
fn measured(group: &GroupCare) -> impl Iterator<Item = &String> {
    let limit = group.block.as_ref().and_then(|b| b.measured_limit.as_ref());
    limit.into_iter().flat_map(|l| &l.sentences)
}

/// Without the capital at its start, to stand behind a name.
fn uncapitalised(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|c| c.to_ascii_lowercase());
    first.into_iter().chain(letters).collect()
}

/// The finance part: now, then, and the chance that it goes wrong.
pub fn finance(results: &Results, blocks: &mut Vec<Block>) {
    let list = saved(results);
    let (_, per) = per_year(results);
    let rows: Vec<Vec<String>> = list
        .iter()
        .map(|s| {
            let each = s.positions * per_year(results).0;
            vec![
                s.group.group.words(),
                number::fixed(s.positions, 0),
                s.now_words(&results.currency),
                s.then_words(&results.currency),
                s.words(&results.currency),
                number::chance(s.chance_dearer, s.plan.weighed.draws),
                money(s.plan.weighed.regret.mean * each, &results.currency),
            ]
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    blocks.push(Block::Heading(
        "What does it cost, and what is saved?".into(),
    ));
    blocks.push(Block::Answer(saved_in_all(
        &list,
        results,
        "under the plan",
    )));
    blocks.extend(outside(results).map(Block::Text));
    let besides = besides(results);
    if !besides.is_empty() {
        blocks.push(Block::List(besides));
    }
    blocks.extend(results.what_if.clone().map(|w| Block::WhatIf(Box::new(w))));
    blocks.push(Block::Table(Table::new(
        format!(
            "Cost of all positions per {per} now and then, with the {} interval of the saving",
            number::level(results.confidence)
        ),
        &[
            "group",
            "positions",
            "as cared for now",
            "planned",
            "saved",
            "chance it is dearer",
            "worth of certainty",
        ],
        rows,
    )));
    blocks.extend(cheapest(&list, results).map(Block::Text));
    let counted = list.iter().filter(|s| s.plan.against_counts);
    let counted: Vec<String> = counted.map(|s| s.group.group.words()).collect();
    if !counted.is_empty() {
        blocks.push(Block::Text(format!(
            "Now is, for {}, what the records counted, at the study's prices: its laws cannot tell what today's looks find.",
            counted.join(", ")
        )));
    }
    blocks.push(Block::Text(
        "The interval of the whole takes the parts' errors as independent. Now is today's practice of each site as measured from its looks, turns and removals, priced like the plan. Costs hold seals, labour, clean-up and scrap, and the hours down at the study's price; stock is counted below. The worth of certainty is the most that further study of these seals could save, if the laws used here hold: a doubt of the laws themselves, where there is one, stands with the plan for engineers.".into(),
    ));
}

/// The column of materials.
const MATERIAL: &str = "material";

/// Which material costs least a position, and why that is no price of having it everywhere; `None` unless the groups are
/// materials.
fn cheapest(list: &[Saved], results: &Results) -> Option<String> {
    let by_material =
        |s: &Saved| matches!(s.group.group.0.as_slice(), [(column, _)] if column == MATERIAL);
    if list.len() < 2 || !list.iter().all(by_material) {
        return None;
    }
    let (units, per) = per_year(results);
    let mut costs: Vec<(String, f64)> = list
        .iter()
        .map(|s| (s.group.group.words(), s.plan.weighed.then.mean * units))
        .collect();
    costs.sort_by(|a, b| a.1.total_cmp(&b.1));
    let told: Vec<String> = costs
        .iter()
        .map(|(name, cost)| format!("{name} {}", money(*cost, &results.currency)))
        .collect();
    let (least, _) = costs.first()?;
    Some(format!(
        "Under its plan a position costs per {per}: {}. That is where each material sits now, not what {least} would cost at the others' positions: heat, medium and duty differ between them{}. `sealspan materials STUDY --asset NAME` weighs the materials at one asset's own conditions, chemical limits first.",
        told.join(", "),
        match results.money.found() {
            Some(d)
                if d.parts
                    .iter()
                    .all(|p| p.seal_price == d.parts.first().and_then(|p| p.seal_price)) =>
                ", and one price of the seal is taken for all",
            _ => "",
        }
    ))
}

/// Chance that each option is the best one.
pub fn chances(results: &Results) -> Option<Chart> {
    let (group, plan) = busiest(results)?;
    let shown: Vec<_> = plan.weighed.options.iter().take(OPTIONS).collect();
    let pen = pen(results, plan);
    let count = shown.len();
    let (mut marks, mut ticks, mut own) = (vec![], vec![], vec![]);
    for (i, option) in shown.iter().enumerate() {
        let at = (count - i) as f64;
        let mark = Mark {
            x_interval: Some((0.0, option.chance_best)),
            ..Mark::at(option.chance_best, at)
        };
        if option.policy == plan.weighed.plan {
            own.push(mark);
        } else {
            marks.push(mark);
        }
        ticks.push(Tick {
            at,
            text: pen.policy(&option.policy),
        });
    }
    let layer = |name: &str, marks: Vec<Mark>, tone: Tone, marker: Marker| Layer::Points {
        name: name.into(),
        marks,
        tone,
        marker,
        label: None,
    };
    let name = group.group.words();
    Some(Chart {
        id: "chance-best".into(),
        title: format!("{name}: the chance that each option is the cheapest"),
        alt: format!(
            "Horizontal bars of the chance that each of {count} care policies is the cheapest for {name}. The plan has {}.",
            number::percent(
                shown
                    .iter()
                    .find(|o| o.policy == plan.weighed.plan)
                    .map_or(0.0, |o| o.chance_best)
            )
        ),
        x: Axis::linear("chance of being the cheapest", "").over(0.0, 1.0),
        y: Axis::linear("", "")
            .over(0.5, count as f64 + 0.5)
            .with_ticks(ticks),
        layers: vec![
            layer("other options", marks, Tone::Group(1), Marker::Ring),
            layer("the plan", own, Tone::Group(0), Marker::Disc),
        ],
        at_risk: None,
        notes: vec![format!(
            "Full disc: the plan, least on average over {} lives drawn from the estimates. Options near one another share the chance: another one is over 2 % cheaper in {} of the lives.",
            plan.weighed.draws,
            number::percent(plan.weighed.regret.chance_of_being_wrong)
        )],
    })
}

/// Cost of the plan with each input moved by itself.
pub fn tornado(results: &Results) -> Option<Chart> {
    let (group, plan) = busiest(results)?;
    let (units, per) = per_year(results);
    let two = plan.stages == "two_stage";
    let shown: Vec<_> = plan.weighed.swings.iter().take(INPUTS).collect();
    let base = group.block.as_ref()?.recommended.cost_rate * units;
    let widest = shown.first()?;
    let inputs = shown.iter().map(|s| Input {
        text: format!(
            "{}, {} to {}",
            s.input.words(two),
            number::significant(s.low, 3),
            number::significant(s.high, 3)
        ),
        at_low: s.plan_at_low * units,
        at_high: s.plan_at_high * units,
    });
    let name = group.group.words();
    let frame = Frame {
        id: "tornado",
        title: format!("{name}: what the plan costs when one input is off, the widest first"),
        alt: format!(
            "Bars of the plan's cost for {name} when each of {} inputs is moved by itself to the ends of its range, around {} per {per}. The widest is {}.",
            shown.len(),
            money(base, &results.currency),
            widest.input.words(two)
        ),
        x: Axis::linear(
            format!("cost of one position per {per}"),
            results.currency.clone(),
        ),
        base: (base, "at the estimates"),
        note: format!(
            "Ages and delays in {}, prices{} without the hours down. Ranges of laws and detection: {} intervals; stated prices, hours and chances: a quarter either way.",
            results.unit,
            months::amounts_in(&results.currency),
            number::level(results.confidence)
        ),
    };
    Some(draw(frame, inputs.collect()))
}
