//! `batches`: does a batch, or a cure month, differ from its material?

use super::report::{command, inputs};
use crate::Answer;
use crate::args::Batches;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_records::{Question, Records};
use sealspan_report::column::spoken;
use sealspan_report::figures::{Look, png, svg};
use sealspan_report::folder::{self, Entry, Stamp};
use sealspan_report::number;
use sealspan_report::wire::batches::{
    BatchesDocument, BatchesOptions, ColumnResult, NoBatches, Watched, batches, picture,
};
use std::ffi::OsString;
use std::path::Path;

/// Pixels of a PNG per figure unit.
const PNG_SCALE: f32 = 2.0;
/// Levels shown besides those that differ.
const SHOWN: usize = 5;

pub fn run(raw: &[OsString], args: &Batches) -> Answer {
    let records = input::records(&args.input, args.read.cut_off.as_deref())?;
    let study = &records.study.question;
    let question = Question {
        by: vec![],
        clock: args
            .read
            .clock
            .map(Into::into)
            .or(study.clock)
            .unwrap_or_default(),
        mode: args.read.mode.clone().or_else(|| study.mode.clone()),
    };
    let options = BatchesOptions {
        given: args.given.clone(),
        adjust: !args.not_adjusted,
        family: input::family(&args.family)?,
        confidence: args.confidence,
        false_discoveries: args.false_discoveries,
        false_alarms_per_year: args.false_alarms_per_year,
        tuned_to: args.tuned_to,
        runs: args.runs as usize,
        seed: args.seed,
    };
    let progress = Progress::start("weighing batches");
    let document = batches(&records, &question, &options).map_err(|why| match why {
        NoBatches::Question(error) => Failure::from(error),
        NoBatches::Lives(why) => Failure::unanswerable(
            why,
            "record the batch and the material of each seal, and wait for failures",
        ),
    })?;
    drop(progress);
    if let Some(out) = &args.out {
        write(raw, &records, &document, out, args.seed)?;
    }
    let silent = document.columns.iter().all(|c| c.spread.is_none());
    Ok(Output::new(args.format.format, document, text).with_status(u8::from(silent)))
}

fn write(
    raw: &[OsString],
    records: &Records,
    document: &BatchesDocument,
    out: &Path,
    seed: u64,
) -> Result<(), Failure> {
    let mut entries: Vec<Entry> = vec![("results.json".to_owned(), folder::json(document)?)];
    for chart in document.columns.iter().filter_map(picture) {
        let drawn = svg(&chart, &Look::alone())?;
        entries.push((format!("{}.png", chart.id), png(&drawn, PNG_SCALE)?));
        entries.push((format!("{}.svg", chart.id), drawn.into_bytes()));
    }
    let stamp = Stamp::new(command(raw), seed, inputs(records));
    Ok(folder::write(out, &stamp, &entries)?)
}

fn text(d: &BatchesDocument) -> String {
    let mut out = String::new();
    if !d.adjusted_for.is_empty() {
        let names: Vec<String> = d.adjusted_for.iter().map(|c| spoken(c)).collect();
        out.push_str(&format!(
            "allowed for where seals sit: {}\n\n",
            names.join(", ")
        ));
    }
    for column in &d.columns {
        out.push_str(&about(column, d));
        out.push('\n');
    }
    if !d.given.is_empty() {
        let without = match d.strata_without.as_slice() {
            [] => String::new(),
            some => format!(" (without {})", some.join(", ")),
        };
        out.push_str(&format!(
            "{} as a whole, over the calendar{without}\n",
            d.given.join(", ")
        ));
        out.push_str(&alarms(&d.strata));
    }
    for warning in &d.warnings {
        out.push_str(&format!("  {warning}\n"));
    }
    out.push_str(&crate::cautioned::before_acting(&d.cautions));
    out
}

fn about(c: &ColumnResult, d: &BatchesDocument) -> String {
    let name = c.named();
    let Some(spread) = &c.spread else {
        let why = c.reason.as_deref().unwrap_or("no reason known");
        return format!("{name}: none, {why}\n");
    };
    let within = if d.given.is_empty() {
        String::new()
    } else {
        format!(" within {}", d.given.join(", "))
    };
    let upper = spread.upper.map_or_else(
        || "without an upper end".to_owned(),
        |u| format!("to {}", number::significant(u.exp(), 3)),
    );
    let apart = match c.without.as_slice() {
        [] => String::new(),
        some => format!(", seals of {} left out", some.join(", ")),
    };
    let mut out = format!(
        "{} levels of {name}{within}{apart}: lives differ by a factor of about {} ({} confidence interval {} {upper}; {} of none)\n",
        c.levels.len(),
        number::significant(spread.estimate.exp(), 3),
        number::level(d.confidence),
        number::significant(spread.lower.exp(), 3),
        number::p_value(spread.p_value)
    );
    if !c.spread_without.is_empty() {
        out.push_str(&format!(
            "  that spread is of the others, without {}: a level listed as different is no draw from it, so its life ratio stands by itself, not drawn to 1 (a report, which holds the other conditions that it finds constant too, puts it a little otherwise)\n",
            c.spread_without.join(", ")
        ));
    }
    out.push_str(&match c.differing.as_slice() {
        [] => format!(
            "  none differs, with at most {} of such claims false\n",
            number::percent(c.false_discoveries)
        ),
        some => format!(
            "  {} from the rest, with at most {} of such claims false: {}\n",
            if some.len() == 1 {
                "one differs"
            } else {
                "these differ"
            },
            number::percent(c.false_discoveries),
            some.join(", ")
        ),
    });
    out.push_str(&levels(c));
    out.push_str(&alarms(&c.watch));
    out
}

fn levels(c: &ColumnResult) -> String {
    let mut order: Vec<_> = c.levels.iter().collect();
    let p = |x: Option<f64>| x.unwrap_or(2.0);
    order.sort_by(|a, b| p(a.p_value).total_cmp(&p(b.p_value)));
    let rows: Vec<Vec<String>> = order
        .iter()
        .take(c.differing.len() + SHOWN)
        .map(|l| {
            let width = l.upper - l.lower;
            vec![
                l.level.clone(),
                number::fixed(l.seals, 0),
                number::fixed(l.failures, 0),
                number::significant(l.expected, 3),
                number::to_width(l.life_ratio, width),
                format!(
                    "{} to {}",
                    number::to_width(l.lower, width),
                    number::to_width(l.upper, width)
                ),
                l.life_ratio_alone
                    .map_or_else(|| "none failed".to_owned(), |r| number::significant(r, 3)),
                l.false_discovery
                    .map_or_else(String::new, |q| number::significant(q, 2)),
            ]
        })
        .collect();
    let mut out = table(
        &[
            "most unlike first",
            "seals",
            "failed",
            "expected",
            "life ratio",
            "interval",
            "by itself",
            "false discovery",
        ],
        &rows,
    );
    out.push('\n');
    out
}

fn alarms(w: &Watched) -> String {
    let (Some(limit), Some(rate), Some(error), Some(years)) =
        (w.limit, w.false_alarms_per_year, w.std_error, w.years)
    else {
        return format!(
            "  no running chart: {}\n",
            w.reason.as_deref().unwrap_or("no reason known")
        );
    };
    let each: Vec<String> = w
        .alarms
        .iter()
        .map(|a| format!("{} on {}", a.level, a.date))
        .collect();
    let said = if each.is_empty() {
        "no alarm".to_owned()
    } else {
        format!("first alarm of {}", each.join(", "))
    };
    format!(
        "  running charts: {said}; limit {} failures beyond those expected, {} false alarms a year by simulation (standard error {}), so about {} among these over {} years\n",
        number::significant(limit, 3),
        number::significant(rate, 2),
        number::significant(error, 1),
        number::significant(rate * years, 2),
        number::significant(years, 2)
    )
}
