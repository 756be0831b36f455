//! `intervals`: the interval to state for each material and condition.

use crate::Answer;
use crate::args::Intervals;
use crate::cautioned::before_acting;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_report::analysis::intervals::{
    SheetQuestion, clocks, prices_of, sheet, words, words_of_basis,
};
use sealspan_report::number;
use sealspan_report::wire::intervals::{
    ClockIntervals, GroupIntervals, Interval, IntervalsDocument,
};

pub fn run(args: &Intervals) -> Answer {
    let asked = input::asked_by_study_or_material(&args.input, &args.question)?;
    let (answers, one_clock_reason) = if args.question.clock.is_some() {
        let why = "one clock was asked for".to_owned();
        (vec![asked.answer.clone()], Some(why))
    } else {
        clocks(&asked.records, &asked.question, &asked.answer)
    };
    let question = SheetQuestion {
        share: args.share,
        confidence: args.confidence,
        calendar: args.calendar.into(),
        family: input::family(&args.family)?,
        prices: prices_of(&asked.records.study),
        seed: args.seed,
    };
    let _progress = Progress::start("working out intervals");
    let document = sheet(
        &asked.records,
        &answers,
        one_clock_reason,
        (&asked.question.by, &question),
    );
    Ok(Output::new(args.format.format, document, text))
}

fn text(d: &IntervalsDocument) -> String {
    let mut out = format!(
        "intervals to state: at most {} fail with {} confidence, rounded down\n\n",
        number::percent(d.share),
        number::level(d.confidence)
    );
    for g in &d.groups {
        let beyond = if g.extrapolated {
            " EXTRAPOLATED: beyond the oldest seal seen"
        } else {
            ""
        };
        out.push_str(&format!(
            "{}: {}{beyond}\n",
            g.group.words(),
            match (&g.state, &g.reason) {
                (Some(state), _) => state.clone(),
                (None, why) => format!("none; {}", why.clone().unwrap_or_default()),
            }
        ));
    }
    for unit in &d.units {
        out.push_str(&format!("\n{}\n", on_clock(d, unit)));
    }
    out.push_str(&remarks(d));
    for reason in d.one_clock_reason.iter().map(|r| format!("one clock: {r}")) {
        out.push_str(&format!("\n{reason}\n"));
    }
    if let Some(reason) = &d.cost_reason {
        out.push_str(&format!("\nno interval of least cost: {reason}\n"));
    }
    out.push('\n');
    for note in &d.notes {
        out.push_str(&format!("{note}\n"));
    }
    out.push_str(&before_acting(&d.cautions));
    out
}

fn on_clock(d: &IntervalsDocument, unit: &str) -> String {
    let rows: Vec<Vec<String>> = d
        .groups
        .iter()
        .filter_map(|g| {
            let c = g.clocks.iter().find(|c| c.unit == unit)?;
            Some(vec![
                g.group.words(),
                cell(&c.at_most_share),
                cell(&c.least_cost),
                number::tidy(c.oldest_seen),
                number::fixed(c.seals, 0),
                number::fixed(c.failures, 0),
                words_of_basis(c).to_owned(),
                range(c).to_owned(),
            ])
        })
        .collect();
    let share = format!("at most {} fail", number::percent(d.share));
    let oldest = format!("oldest seen, {unit}");
    let head = [
        "group",
        &share,
        "least cost",
        &oldest,
        "seals",
        "failures",
        "worn removals read as",
        "range",
    ];
    format!("on the clock of {unit}\n{}", table(&head, &rows))
}

fn cell(i: &Interval) -> String {
    i.rounded.as_ref().map_or_else(|| "none".to_owned(), words)
}

fn range(c: &ClockIntervals) -> &'static str {
    let ends = [c.at_most_share.extrapolated, c.least_cost.extrapolated];
    if ends.contains(&Some(true)) {
        "extrapolated"
    } else if ends.contains(&Some(false)) {
        "tested"
    } else {
        ""
    }
}

/// Why something is missing, bounds for shapes taken as known, and doubts.
fn remarks(d: &IntervalsDocument) -> String {
    let mut out = String::new();
    for g in &d.groups {
        for c in &g.clocks {
            for line in about(g, c, d) {
                out.push_str(&format!("  {}, {}: {line}\n", g.group.words(), c.unit));
            }
        }
    }
    if out.is_empty() {
        out
    } else {
        format!("\nto mind\n{out}")
    }
}

fn about(g: &GroupIntervals, c: &ClockIntervals, d: &IntervalsDocument) -> Vec<String> {
    let mut out = vec![];
    let said = g.reason.as_ref();
    out.extend(c.at_most_share.reason.clone().filter(|r| Some(r) != said));
    let cost = c.least_cost.reason.clone();
    out.extend(
        cost.filter(|r| {
            d.cost_reason.as_ref() != Some(r) && c.at_most_share.reason.as_ref() != Some(r)
        })
        .map(|r| format!("no interval of least cost: {r}")),
    );
    let known: Vec<String> = c
        .if_shape_known
        .iter()
        .map(|k| {
            format!(
                "{} {} for shape {} ({})",
                number::significant(k.age, 3),
                c.unit,
                number::significant(k.shape, 2),
                k.source
            )
        })
        .collect();
    if !known.is_empty() {
        out.push(format!(
            "if the shape were known, the bound would be {}",
            known.join("; ")
        ));
    }
    out.extend(c.warnings.iter().cloned());
    out
}
