//! `positions`: which positions consume too many seals, and which doors are out of line?

use crate::Answer;
use crate::args::Positions;
use crate::commands::report::{command, drawn, inputs, write};
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_records::words::{Outcome, nearest};
use sealspan_report::analysis::positions::{PositionsOptions, answer};
use sealspan_report::folder::{self, Stamp};
use sealspan_report::number;
use sealspan_report::story::position_figures;
use sealspan_report::wire::Number;
use sealspan_report::wire::positions::{PositionResult, PositionsDocument};
use std::ffi::OsString;

/// Flagged positions shown in the table.
const SHOWN: usize = 20;

pub fn run(raw: &[OsString], args: &Positions) -> Answer {
    let records = input::records(&args.input, args.cut_off.as_deref())?;
    let options = PositionsOptions {
        by: args.by.clone(),
        like: args.like.clone(),
        not_adjusted: args.not_adjusted,
        clock: args.clock.map(Into::into),
        counted: counted(&args.count)?,
        mode: args.mode.clone(),
        sectors: args.sectors,
        confidence: args.confidence,
        false_discovery: Some(args.false_discovery),
        turn_every: args.turn_every,
        seed: args.seed,
    };
    let progress = Progress::start("following the positions");
    let document = answer(&records, &options)?;
    if let Some(out) = &args.out {
        progress.now("drawing the figures");
        let mut entries = vec![];
        for chart in position_figures(&document) {
            entries.extend(drawn(&chart)?);
        }
        entries.push(("results.json".to_owned(), folder::json(&document)?));
        let stamp = Stamp::new(command(raw), args.seed, inputs(&records));
        write(out, &stamp, &entries)?;
    }
    drop(progress);
    let silent = document.replacements == 0;
    let output = Output::with_folder(args.format.format, document, text, args.out.as_deref());
    Ok(output.with_status(u8::from(silent)))
}

fn counted(words: &[String]) -> Result<Vec<Outcome>, Failure> {
    let known: Vec<&str> = Outcome::WORDS
        .iter()
        .copied()
        .filter(|w| *w != "in_service")
        .collect();
    let read = |word: &String| {
        Outcome::from_word(word)
            .filter(|o| *o != Outcome::InService)
            .ok_or_else(|| {
                let near =
                    nearest(word, &known).map_or(String::new(), |n| format!("did you mean {n}? "));
                Failure::argument(
                    format!("--count {word}: there is no such way for a seal to come off"),
                    format!("{near}they are {}", known.join(", ")),
                )
            })
    };
    words.iter().map(read).collect()
}

fn text(d: &PositionsDocument) -> String {
    let mut out = format!(
        "{} positions, {} replacements that count ({}{}); times in {}; {} intervals in brackets\n\n",
        number::count(d.watched as u64),
        number::count(d.replacements),
        d.counted.join(", "),
        d.mechanism
            .map_or_else(String::new, |m| format!("; {m} only")),
        d.unit,
        number::level(d.confidence),
    );
    for sentence in &d.sentences {
        out.push_str(&format!("{sentence}\n\n"));
    }
    out.push_str(&hungry(d));
    out.push_str(&doors(d));
    out.push_str(&course(d));
    for warning in &d.warnings {
        out.push_str(&format!("  {warning}\n"));
    }
    out.push_str(&crate::cautioned::before_acting(&d.cautions));
    out
}

fn name(p: &PositionResult) -> String {
    format!("{} {}", p.asset, p.position.as_deref().unwrap_or(""))
}

fn within(n: &Number) -> String {
    let write = |x: f64| number::significant(x, 2);
    match (n.estimate, n.lower, n.upper) {
        (Some(e), Some(l), Some(u)) => format!("{} ({} to {})", write(e), write(l), write(u)),
        (Some(e), ..) => write(e),
        _ => "none".to_owned(),
    }
}

/// The flagged positions, and a line for the rest.
fn hungry(d: &PositionsDocument) -> String {
    let found: Vec<&PositionResult> = d.positions.iter().filter(|p| p.hungry).collect();
    if found.is_empty() {
        return String::new();
    }
    let rows: Vec<Vec<String>> = found
        .iter()
        .take(SHOWN)
        .map(|p| {
            vec![
                name(p),
                p.replacements.to_string(),
                p.expected
                    .map_or_else(String::new, |e| number::significant(e, 2)),
                p.rate_ratio
                    .map_or_else(String::new, |r| number::significant(r, 2)),
                within(&p.shrunk_rate_ratio),
                p.adjusted_p_value.map_or_else(String::new, number::p_value),
            ]
        })
        .collect();
    let head = [
        "hungry position",
        "replaced",
        "ordinary place",
        "rate, times ordinary",
        "drawn to the fleet's",
        "adjusted",
    ];
    let mut out = format!("{}\n", table(&head, &rows));
    out.push_str("  ordinary place: what one with the same seals and planned changes uses in that time; rate: of failure at ages alike\n");
    if found.len() > SHOWN {
        out.push_str(&format!(
            "  and {} more, in --format json\n",
            found.len() - SHOWN
        ));
    }
    let rest: Vec<&PositionResult> = d.positions.iter().filter(|p| !p.hungry).collect();
    let seen: u64 = rest.iter().map(|p| p.replacements).sum();
    let expected: f64 = rest.iter().filter_map(|p| p.expected).sum();
    out.push_str(&format!(
        "  the other {} positions: {} replaced, {} by ordinary places\n\n",
        number::count(rest.len() as u64),
        number::count(seen),
        number::fixed(expected, 0)
    ));
    out
}

/// The doors out of line, and a line for the rest.
fn doors(d: &PositionsDocument) -> String {
    let found: Vec<&PositionResult> = d.positions.iter().filter(|p| p.out_of_line).collect();
    if found.is_empty() {
        return String::new();
    }
    let rows: Vec<Vec<String>> = found
        .iter()
        .map(|p| {
            let list = |values: Vec<String>| values.join(" ");
            let severity = p.relative_severity.iter().flatten();
            vec![
                name(p),
                list(p.sectors.iter().map(u32::to_string).collect()),
                p.uneven_p_value.map_or_else(String::new, number::p_value),
                p.uneven_adjusted_p_value
                    .map_or_else(String::new, number::p_value),
                p.rayleigh
                    .map_or_else(String::new, |r| number::p_value(r.p_series)),
                list(severity.map(|w| number::significant(*w, 2)).collect()),
            ]
        })
        .collect();
    let head = [
        "door out of line",
        "failures by sector",
        "even spread",
        "adjusted",
        "Rayleigh",
        "severity, mean 1",
    ];
    let w = &d.wear;
    format!(
        "{}\n  tested: {} doors with three or more failures whose place is known; corrected over the {} with enough to show anything\n\n",
        table(&head, &rows),
        w.tested,
        w.corrected_over
    )
}

/// The course of replacements in time.
fn course(d: &PositionsDocument) -> String {
    let mut out = String::new();
    let curve = |name: String, points: &[sealspan_report::wire::positions::CurvePoint]| {
        points.last().map(|p| {
            vec![
                name,
                number::significant(p.time, 4),
                number::significant(p.mean, 3)
                    + &match (p.lower, p.upper) {
                        (Some(a), Some(b)) => format!(
                            " ({} to {})",
                            number::significant(a, 3),
                            number::significant(b, 3)
                        ),
                        _ => format!(" (no interval: {})", p.reason.unwrap_or("not known")),
                    },
                p.std_error
                    .map_or_else(|| "not known".to_owned(), |e| number::significant(e, 2)),
                number::significant(p.poisson_std_error, 2),
            ]
        })
    };
    let mut rows: Vec<Vec<String>> = vec![];
    rows.extend(curve("all positions".to_owned(), &d.mean_cumulative));
    rows.extend(d.groups.iter().filter_map(|g| {
        curve(
            format!("{} ({} positions)", g.group.words(), g.positions),
            &g.mean_cumulative,
        )
    }));
    if !rows.is_empty() {
        let by = format!("by, {}", d.unit);
        let heads = [
            "replacements of a position",
            &by,
            "mean",
            "standard error",
            "were they Poisson",
        ];
        out.push_str(&table(&heads, &rows));
        out.push('\n');
    }
    if let Some(g) = &d.difference
        && let Some(p) = g.points.last()
    {
        out.push_str(&format!(
            "  {} less {} by {} {}: {} ({} to {}){}\n",
            g.of.words(),
            g.to.words(),
            number::significant(p.time, 4),
            d.unit,
            number::significant(p.difference, 2),
            number::significant(p.lower, 2),
            number::significant(p.upper, 2),
            g.p_value
                .map_or_else(String::new, |p| format!("; {}", number::p_value(p)))
        ));
    }
    out.push_str(&pairs(d));
    out.push_str(&trend(d));
    out
}

/// Three groups or more, each against each.
fn pairs(d: &PositionsDocument) -> String {
    if d.differences.is_empty() {
        return String::new();
    }
    let rows: Vec<Vec<String>> = d
        .differences
        .iter()
        .map(|g| {
            let n = &g.difference;
            let by_two = |x: f64| number::significant(x, 2);
            let words = match (n.estimate, n.lower, n.upper) {
                (Some(x), Some(a), Some(b)) => {
                    format!("{} ({} to {})", by_two(x), by_two(a), by_two(b))
                }
                _ => format!("none: {}", g.reason.unwrap_or_default()),
            };
            let p = |p: Option<f64>| p.map_or_else(String::new, number::p_value);
            vec![
                format!("{} less {}", g.of.words(), g.to.words()),
                number::significant(g.at, 4),
                words,
                p(g.p_value),
                p(g.adjusted_p_value),
            ]
        })
        .collect();
    let by = format!("by, {}", d.unit);
    let head = [
        "difference",
        by.as_str(),
        "replacements",
        "p-value",
        "all pairs",
    ];
    format!("{}\n", table(&head, &rows))
}

fn trend(d: &PositionsDocument) -> String {
    let rows: Vec<Vec<String>> = d
        .trend
        .iter()
        .map(|t| {
            let words = match t.name {
                "laplace" => "steady rate (Laplace)",
                "mil_hdbk_189" => "steady rate (MIL-HDBK-189C)",
                _ => "renewal (Lewis–Robinson)",
            };
            let statistic = t
                .statistic
                .map_or_else(|| "none".to_owned(), |s| number::fixed(s, 2));
            let df = t.df.map_or_else(String::new, |df| number::fixed(df, 0));
            let p = t
                .p_value
                .map_or_else(|| t.reason.clone().unwrap_or_default(), number::p_value);
            vec![words.to_owned(), statistic, df, p]
        })
        .collect();
    let mut out = format!(
        "\n{}\n",
        table(&["test of no trend", "statistic", "df", "p-value"], &rows)
    );
    out.push_str(&format!("  {}\n", d.renewal.reason));
    let law = &d.power_law;
    if law.growth.estimate.is_some() {
        out.push_str(&format!(
            "  power law: growth {} (1 is a steady rate; without small-sample bias {}); {} of fit\n",
            within(&law.growth),
            law.bias_corrected_growth.map_or_else(|| "none".to_owned(), |b| number::significant(b, 3)),
            law.fit_p_value.map_or_else(|| "no test".to_owned(), number::p_value),
        ));
    }
    out.push('\n');
    out
}
