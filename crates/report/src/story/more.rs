//! Batches, one asset's material, measured condition and ovens on the report's pages: the answer first.

use super::words::{capital, cell};
use super::{ageing, condition as paths};
use crate::analysis::extras::OVEN_CURVE;
use crate::analysis::run::{Part, Results};
use crate::analysis::screen::Screened;
use crate::column::{headed, spoken, with_unit};
use crate::document::{Block, Table};
use crate::number;
use crate::wire::ageing::AgeingDocument;
use crate::wire::batches::{ColumnResult, LevelResult, picture};
use crate::wire::condition::ConditionGroup;

/// Running seals shown; the file holds all.
const URGENT: usize = 8;

fn figures(charts: impl IntoIterator<Item = crate::chart::Chart>, blocks: &mut Vec<Block>) {
    blocks.extend(charts.into_iter().map(|c| Block::Figure(Box::new(c))));
}

/// Which batches are out of line.
pub fn batches(results: &Results, blocks: &mut Vec<Block>) {
    let Some(found) = results.batches.found() else {
        return;
    };
    let told: Vec<&ColumnResult> = found
        .columns
        .iter()
        .filter(|c| c.spread.is_some())
        .collect();
    if told.is_empty() {
        return;
    }
    blocks.push(Block::Heading("Is a batch at fault?".into()));
    let screened = results.screen.found().map_or(&[][..], |s| &s.found);
    let mut sentences = told.iter().map(|c| batch_words(c, &found.given, screened));
    blocks.extend(sentences.next().map(Block::Answer));
    blocks.extend(sentences.map(Block::Text));
    let column = told
        .first()
        .filter(|c| !c.watch.alarms.is_empty() || !c.differing.is_empty());
    figures(column.and_then(|c| picture(c)), blocks);
}

/// The life ratio of a level with its interval: that of the screen of all conditions where it found the level too,
/// so that a report speaks with one number.
fn ratio_of(c: &ColumnResult, l: &LevelResult, screened: &[Screened]) -> (f64, f64, f64) {
    let same = |s: &&Screened| s.column == c.column && s.level == l.level;
    let found = screened.iter().find(same);
    found.map_or((l.life_ratio, l.lower, l.upper), |s| {
        (s.life_ratio, s.lower, s.upper)
    })
}

fn batch_words(c: &ColumnResult, given: &[String], screened: &[Screened]) -> String {
    let name = c.named();
    let within = if given.is_empty() {
        String::new()
    } else {
        format!(" within {}", given.join(" and "))
    };
    let each: Vec<String> = c
        .differing
        .iter()
        .filter_map(|level| c.levels.iter().find(|l| l.level == *level))
        .map(|l| {
            let (ratio, lower, upper) = ratio_of(c, l, screened);
            let width = upper - lower;
            let own = if ratio == l.life_ratio {
                String::new()
            } else {
                format!(
                    ", with the other conditions found held constant too; without them, as sealspan batches has it, {} ({} to {})",
                    number::to_width(l.life_ratio, l.upper - l.lower),
                    number::to_width(l.lower, l.upper - l.lower),
                    number::to_width(l.upper, l.upper - l.lower)
                )
            };
            format!(
                "{} lasts {} times as long ({} to {}{own})",
                l.level,
                number::to_width(ratio, width),
                number::to_width(lower, width),
                number::to_width(upper, width)
            )
        })
        .collect();
    let apart = match c.without.as_slice() {
        [] => String::new(),
        some => format!("without the seals of {}, ", some.join(", ")),
    };
    let mut out = if each.is_empty() {
        format!(
            "{apart}no {name} differs from the rest{within}, of {}",
            c.levels.len()
        )
    } else {
        format!(
            "{apart}by {name}{within}: {}; of {} compared",
            each.join(", "),
            c.levels.len()
        )
    };
    out.push_str(&format!(
        ". At most {} of such claims are to be false.",
        number::percent(c.false_discoveries)
    ));
    if !c.spread_without.is_empty() {
        out.push_str(&format!(
            " Their ratios are their own, not drawn towards 1; the spread between the others is told without {}.",
            c.spread_without.join(", ")
        ));
    }
    if let Some(first) = c.watch.alarms.first() {
        out.push_str(&format!(
            " A running chart would first have spoken of {} on {}.",
            first.level, first.date
        ));
    }
    capital(&out)
}

/// How long the running seals have until their measured property reaches the limit.
pub fn condition(results: &Results, blocks: &mut Vec<Block>) {
    let document = match &results.condition {
        Some(Part::Found(document)) => document,
        Some(Part::Missing { reason }) => {
            blocks.push(Block::Heading("What do the measurements say?".into()));
            blocks.push(Block::Text(format!("Nothing: {reason}.")));
            return;
        }
        None => return,
    };
    let measure = spoken(&document.measure);
    blocks.push(Block::Heading(format!(
        "What does the measured {measure} say?"
    )));
    let told: Vec<&ConditionGroup> = document
        .groups
        .iter()
        .filter(|g| g.model.is_some())
        .collect();
    let (mut now, mut then, mut running) = (0.0, 0.0, 0);
    for next in told.iter().filter_map(|g| g.by_next_look.as_ref()) {
        now += next.expected_past_now;
        then += next.expected_past_then;
        running += next.running;
    }
    if let Some(after) = document.next_look.filter(|_| running > 0) {
        blocks.push(Block::Answer(format!(
            "Of {running} measured seals in service about {} are past the limit of {} now, and about {} by the next look in {} {}.",
            number::fixed(now, 0),
            with_unit(document.limit, &document.measure),
            number::fixed(then, 0),
            number::significant(after, 2),
            document.unit
        )));
    }
    let mut urgent: Vec<_> = told
        .iter()
        .flat_map(|g| g.running.iter().map(move |s| (g, s)))
        .collect();
    let left =
        |s: &crate::wire::condition::RunningSeal| s.remaining.estimate.unwrap_or(f64::INFINITY);
    urgent.sort_by(|a, b| {
        left(a.1)
            .total_cmp(&left(b.1))
            .then(b.1.past_now.total_cmp(&a.1.past_now))
            .then(a.1.seal.cmp(&b.1.seal))
    });
    let rows = urgent.iter().take(URGENT).map(|(g, s)| {
        vec![
            s.seal.clone(),
            g.group.words(),
            number::significant(s.last_value, 3),
            cell(&s.remaining),
            number::percent(s.past_now),
            s.past_at_next_look
                .map_or_else(|| "no next look known".to_owned(), number::percent),
        ]
    });
    blocks.push(Block::Table(Table::new(
        format!(
            "The most urgent of {} measured seals in service: last {}, time left in {} with its {} prediction interval; results.json holds all",
            urgent.len(),
            headed(&document.measure),
            document.unit,
            number::level(document.confidence)
        ),
        &[
            "seal",
            "group",
            "last measured",
            "time left",
            "past the limit now",
            "by the next look",
        ],
        rows.collect(),
    )));
    if let Some(whole) = &results.paths {
        let largest = told.iter().max_by_key(|g| g.seals).map(|g| g.group.words());
        let id = largest.map(|words| format!("paths-{}", paths::slug(&words)));
        let own = paths::charts(whole)
            .into_iter()
            .filter(|c| Some(&c.id) == id.as_ref());
        figures(own, blocks);
    }
}

/// Whose line of the ovens bends, and what that does to the life in service.
fn bent(document: &AgeingDocument) -> Option<String> {
    let told: Vec<String> = document
        .groups
        .iter()
        .filter_map(|g| {
            let c = g.curvature.as_ref().filter(|c| c.bent)?;
            let lives: Vec<String> = g
                .life
                .iter()
                .filter_map(|l| {
                    let years = |h: f64| {
                        number::significant(h / 24.0 / sealspan_care::costs::DAYS_PER_YEAR, 2)
                    };
                    Some(format!(
                        " At {} °C a bent line would give {} years in place of {}.",
                        number::significant(l.temperature_c, 3),
                        years(l.if_bent?),
                        years(l.estimate)
                    ))
                })
                .collect();
            Some(format!(
                "{}: {}.{}",
                g.group.words(),
                c.words,
                lives.concat()
            ))
        })
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "The straight line does not hold for every material. {}",
            told.join(" ")
        )
    })
}

/// What the ovens say of life in service.
pub fn ovens(results: &Results, blocks: &mut Vec<Block>) {
    let document = match &results.ageing {
        Some(Part::Found(document)) => document,
        Some(Part::Missing { reason }) => {
            blocks.push(Block::Heading("Laboratory ageing".into()));
            blocks.push(Block::Text(format!("No answer: {reason}.")));
            return;
        }
        None => return,
    };
    blocks.push(Block::Heading("What do the ovens say?".into()));
    let hours_a_year = 24.0 * sealspan_care::costs::DAYS_PER_YEAR;
    let mut sentences = vec![];
    let mut rows = vec![];
    for g in &document.groups {
        for l in &g.life {
            let years = |h: f64| number::significant(h / hours_a_year, 2);
            let within = l.confidence.map_or_else(
                || "no interval".to_owned(),
                |c| format!("{} to {}", years(c.lower), years(c.upper)),
            );
            sentences.push(format!("{} {} years", g.group.words(), years(l.estimate)));
            rows.push(vec![
                g.group.words(),
                number::significant(l.temperature_c, 3),
                years(l.estimate),
                within,
                l.words.clone(),
            ]);
        }
    }
    if !sentences.is_empty() {
        let measure = document
            .measure
            .as_deref()
            .map_or_else(|| "the property".to_owned(), spoken);
        blocks.push(Block::Answer(format!(
            "By the laboratory line {measure} reaches its limit after: {}; air at rest only, so field lives decide.",
            sentences.join(", ")
        )));
        blocks.push(Block::Table(Table {
            caption: format!(
                "Years to the limit in service by the Arrhenius line of the ovens ({} confidence interval)",
                number::level(document.confidence)
            ),
            columns: vec![
                ("material".into(), false),
                ("°C".into(), true),
                ("years".into(), true),
                ("interval".into(), true),
                ("how far to trust it".into(), false),
            ],
            rows,
        }));
    }
    blocks.extend(bent(document).map(Block::Text));
    if let Some(whole) = &results.ovens {
        let papers = ageing::charts(whole, OVEN_CURVE).into_iter();
        figures(
            papers.filter(|c| c.id.starts_with("arrhenius")).take(1),
            blocks,
        );
    }
}
