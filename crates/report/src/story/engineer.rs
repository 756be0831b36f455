//! The engineer's page: how long seals last, what differs, when to replace.

use super::words::{self, cell, failures};
use super::{decide, due, effects, how_long, material, months, more, picture, plan_words, plans};
use crate::analysis::run::Results;
use crate::cautions;
use crate::column::spoken;
use crate::document::{Block, Page, Table};
use crate::number;
use sealspan_life::laws::by_name;

/// The page.
pub fn page(results: &Results) -> Page {
    let mut blocks = vec![];
    lives(results, &mut blocks);
    differences(results, &mut blocks);
    positions(results, &mut blocks);
    more::batches(results, &mut blocks);
    material::material(results, &mut blocks);
    more::condition(results, &mut blocks);
    replacing(results, &mut blocks);
    plans::engineer(results, &mut blocks);
    if let Some(list) = results.due.found() {
        let trusted = months::trusted(results).map(|[figures, _]| format!("{figures}."));
        due::engineer(list, trusted, &mut blocks);
    }
    blocks.push(Block::Heading("What would change this advice".into()));
    blocks.push(Block::List(changes(results)));
    blocks.push(Block::Cautions(cautions::all()));
    Page {
        id: "engineer".into(),
        title: "For the engineer".into(),
        reader: "How long seals last, what makes a difference, and when to replace them.".into(),
        blocks,
    }
}

fn lives(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("How long do they last?".into()));
    blocks.extend(how_long::how_long(results).map(Block::Answer));
    blocks.extend(how_long::beside(results).map(Block::Text));
    blocks.extend(picture::survival(results).map(|c| Block::Figure(Box::new(c))));
    blocks.push(Block::Table(life_table(results)));
    for warning in warnings(results) {
        blocks.push(Block::Text(warning));
    }
    blocks.extend(picture::probability(results).map(|c| Block::Figure(Box::new(c))));
}

fn positions(results: &Results, blocks: &mut Vec<Block>) {
    let Some(found) = results.positions.found() else {
        return;
    };
    blocks.push(Block::Heading(
        "Which positions and doors need a look?".into(),
    ));
    let mut sentences = found.sentences.iter().cloned();
    blocks.extend(sentences.next().map(Block::Answer));
    blocks.extend(sentences.map(Block::Text));
    if found.habits.replaced.iter().any(|r| r.too_early) && !plans::all(results).is_empty() {
        blocks.push(Block::Text(words::AGES_OF_HABITS.into()));
    }
    let figures = super::position_figures(found);
    blocks.extend(figures.into_iter().map(|c| Block::Figure(Box::new(c))));
}

fn life_table(results: &Results) -> Table {
    let rows = results
        .fit
        .groups
        .iter()
        .map(|g| {
            let withheld = words::first(g).is_some_and(|f| f.withheld);
            let or_reason = |n: Option<&crate::wire::Number>| match n {
                Some(n) => cell(n),
                None if withheld => "not shown: fewer than 5 failures".to_owned(),
                None => String::new(),
            };
            let shape = words::usable(g)
                .and_then(|f| f.parameters.iter().find(|p| p.name == "shape"))
                .map(|p| &p.number);
            vec![
                g.group.words(),
                number::fixed(g.counts.total, 0),
                number::fixed(failures(g), 0),
                or_reason(shape),
                or_reason(words::tenth(g)),
                or_reason(words::median(g)),
                or_reason(words::usable(g).map(|f| &f.mean_life)),
            ]
        })
        .collect();
    let family = results
        .fit
        .groups
        .first()
        .and_then(words::first)
        .map_or("", |f| f.family);
    Table::new(
        format!(
            "Life of seals in {} ({} law; {} confidence intervals in brackets)",
            results.unit,
            by_name(family).map_or("fitted", |f| f.title()),
            number::level(results.confidence)
        ),
        &[
            "group",
            "seals",
            "failed",
            "shape",
            "10 % failed by (B10 life)",
            "half failed by",
            "mean life",
        ],
        rows,
    )
}

fn warnings(results: &Results) -> Vec<String> {
    let mut out = vec![];
    for group in &results.fit.groups {
        let Some(fit) = words::first(group) else {
            continue;
        };
        let reason = fit.reason.iter();
        for warning in fit.warnings.iter().chain(reason) {
            out.push(format!("{}: {warning}.", group.group.words()));
        }
    }
    out
}

fn differences(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("What makes a difference?".into()));
    blocks.extend(words::what_differs(results).map(Block::Answer));
    if let Some(compare) = results.compare.found() {
        let same = compare.tests.iter().find(|t| t.name == "common_life");
        if let Some(p) = same.and_then(|t| t.p_value) {
            blocks.push(Block::Text(format!(
                "A chance difference between the groups as large as the one seen: {} (likelihood ratio, one common shape).",
                number::p_value(p)
            )));
        }
    }
    blocks.extend(picture::ratios(results).map(|c| Block::Figure(Box::new(c))));
    if let Some(screen) = results.screen.found() {
        blocks.push(Block::Text(format!(
            "Every value of {} was also judged, for all seals and within each group: {} comparisons, in one regression that holds {} constant and takes the conditions in one by one. Listed is what stands out beside the others after allowing for all of them (Holm), largest effect first.",
            screen.columns.iter().map(|c| spoken(c)).collect::<Vec<_>>().join(", "),
            screen.looks,
            words::held(&screen.adjusted_for)
        )));
        blocks.extend(effects::forest(results).map(|c| Block::Figure(Box::new(c))));
        if !screen.found.is_empty() {
            blocks.push(Block::Table(screen_table(results)));
        }
        blocks.extend(words::same_seals(screen).map(Block::Text));
        blocks.extend(words::not_told_apart(screen).map(Block::Text));
    }
    if let Some(chart) = effects::arrhenius(results) {
        blocks.push(Block::Heading("What does heat do?".into()));
        blocks.push(Block::Figure(Box::new(chart)));
    }
}

/// Findings of the screen shown on the page; the file holds all.
const SHOWN: usize = 10;

fn screen_table(results: &Results) -> Table {
    let found = results
        .screen
        .found()
        .map(|s| s.found.as_slice())
        .unwrap_or_default();
    let rows = found
        .iter()
        .take(SHOWN)
        .map(|s| {
            let width = s.upper - s.lower;
            vec![
                effects::condition(s),
                number::fixed(s.seals, 0),
                number::fixed(s.failures, 0),
                format!(
                    "{} ({} to {})",
                    number::to_width(s.life_ratio, width),
                    number::to_width(s.lower, width),
                    number::to_width(s.upper, width)
                ),
                number::p_value(s.p_value_all_looks),
            ]
        })
        .collect();
    Table::new(
        format!(
            "What stands out, everything else held constant ({} confidence interval of the life ratio in brackets)",
            number::level(results.confidence)
        ),
        &[
            "seals with",
            "seals",
            "failed",
            "times as long as without it",
            "all comparisons allowed for",
        ],
        rows,
    )
}

fn replacing(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("When to replace?".into()));
    blocks.extend(
        plan_words::headline(results)
            .or_else(|| words::when(results))
            .map(Block::Answer),
    );
    let Some(care) = results.care.found() else {
        return;
    };
    blocks.extend(decide::cost_curve(results).map(|c| Block::Figure(Box::new(c))));
    let (units, per) = words::per_year(results);
    let rows = care
        .groups
        .iter()
        .map(|g| match &g.block {
            Some(b) => {
                let zone = match b.replace.flat_zone {
                    Some((l, Some(h))) => {
                        format!(
                            "{} to {}",
                            number::significant(l, 2),
                            number::significant(h, 2)
                        )
                    }
                    Some((l, None)) => format!("above {}", number::significant(l, 2)),
                    None => String::new(),
                };
                let age = b.uncertainty.as_ref().and_then(|u| u.best_age).map_or_else(
                    String::new,
                    |(l, h)| {
                        let high = h.map_or_else(|| "never".into(), |h| number::significant(h, 2));
                        format!(" ({} to {high})", number::significant(l, 2))
                    },
                );
                vec![
                    g.group.words(),
                    b.replace
                        .age
                        .map_or_else(|| "on failure".into(), |a| number::significant(a, 2))
                        + &age,
                    zone,
                    number::percent(b.replace.failure_probability),
                    words::money(b.replace.cost_rate * units, &results.currency),
                    words::money(b.run_to_failure.cost_rate * units, &results.currency),
                ]
            }
            None => vec![
                g.group.words(),
                "no advice".into(),
                g.reason.clone().unwrap_or_default(),
                String::new(),
                String::new(),
                String::new(),
            ],
        })
        .collect();
    let with_interval = care.groups.iter().any(|g| {
        let spread = g.block.as_ref().and_then(|b| b.uncertainty.as_ref());
        spread.is_some_and(|u| u.best_age.is_some())
    });
    let brackets = if with_interval {
        format!(
            " ({} interval of the best age in brackets)",
            number::level(results.confidence)
        )
    } else {
        String::new()
    };
    blocks.push(Block::Table(Table::new(
        format!(
            "Best replacement age alone in {}, at the estimates and without a calendar, and cost of a position per {per}{brackets}",
            results.unit,
        ),
        &["group", "replace at", "within 2 % of the least cost", "fail before it", "cost", "cost on failure only"],
        rows,
    )));
}

fn changes(results: &Results) -> Vec<String> {
    let mut out = vec![];
    if let Some((key, block)) = words::largest(results) {
        let name = words::name_of(key);
        let r = &block.replace;
        if let (Some(early), Some(late)) = (&r.quarter_early, &r.quarter_late) {
            out.push(format!(
                "Being off by a quarter costs little: {name} replaced a quarter too early costs {} more, a quarter too late {} more.",
                number::percent(early.extra_share),
                number::percent(late.extra_share)
            ));
        }
        if let Some(ratio) = r.pays_from_ratio {
            out.push(format!(
                "Replacing {name} by age pays while a failure costs more than {} times a planned replacement, all in{}.",
                number::significant(ratio, 2),
                priced_at(results).unwrap_or_default()
            ));
        }
        if let Some(u) = &block.uncertainty {
            out.push(format!(
                "Of {} lives that the records leave open for {name}, this advice costs more than waiting for failures in {}; not knowing the life exactly costs about {} a position.",
                u.draws,
                share_of_draws(u.worse_than_failure, u.draws),
                words::yearly(results, u.mean_regret)
            ));
        }
        out.extend(r.notes.iter().chain(&block.notes).cloned());
    }
    if let Some(reason) = results.care.reason() {
        out.push(format!("No replacement advice: {reason}."));
    }
    let worn = results.check.outcomes.get("worn").copied().unwrap_or(0);
    if worn > 0 {
        out.push(format!(
            "{worn} seals were taken off worn before they failed. Here they count as sound up to that day; had they been left they would soon have failed, so true lives without inspection are shorter than shown: the command “defects” works them out from the looks."
        ));
    }
    out
}

/// What that ratio is at the study's prices.
fn priced_at(results: &Results) -> Option<String> {
    let prices = &results.money.found()?.build_up;
    let ratio = (prices.planned > 0.0).then(|| prices.failure / prices.planned)?;
    Some(format!(
        "; at these prices it costs {} times",
        number::significant(ratio, 2)
    ))
}

/// A share of draws in words; none of them is not a probability of 0.
fn share_of_draws(share: f64, draws: usize) -> String {
    match (share * draws as f64).round() as usize {
        0 => "none".to_owned(),
        n => n.to_string(),
    }
}
