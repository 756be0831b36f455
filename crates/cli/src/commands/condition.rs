//! `condition`: measured paths to a limit, remaining lives, the next look, seals that stand out.

use crate::Answer;
use crate::args::{Condition, DirectionArg};
use crate::cautioned::before_acting;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use crate::written::{self, Contents};
use sealspan_records::{
    Clock, Measured, Sheet, Source, is_measured_sheet, measured, measured_sheet,
};
use sealspan_report::analysis::ageing_words::plain;
use sealspan_report::analysis::condition::{ConditionQuestion, condition};
use sealspan_report::document::{Cell, DataTable};
use sealspan_report::number;
use sealspan_report::story::condition::charts;
use sealspan_report::wire::condition::{
    ConditionDocument, ConditionGroup, NamedNumber, RunningSeal,
};
use std::ffi::OsString;

/// Running seals shown in the terminal.
const SHOWN: usize = 10;

/// What was read.
struct Read {
    measured: Measured,
    sources: Vec<Source>,
    clock: Clock,
    next_look: Option<f64>,
}

pub fn run(raw: &[OsString], args: &Condition) -> Answer {
    let read = read(args)?;
    if read.measured.seals.is_empty() {
        return Err(Failure::unanswerable(
            format!("no seal in use has a measurement of {}", args.measure),
            "see `sealspan check` for what was set aside, or choose another clock",
        ));
    }
    let question = ConditionQuestion {
        measure: args.measure.clone(),
        unit: read.clock.unit(),
        limit: args.limit,
        rising: args.direction.map(|d| matches!(d, DirectionArg::Rising)),
        kinds: args.path.kinds(),
        confidence: args.confidence,
        shares: args.quantile.clone(),
        next_look: args.next_look.or(read.next_look),
    };
    let progress = Progress::start("fitting paths");
    let answer = condition(&read.measured, &question);
    if let Some(out) = &args.out {
        progress.now("drawing");
        let contents = Contents {
            raw,
            seed: 0,
            sources: &read.sources,
            charts: &charts(&answer),
            tables: &[running_table(&answer.document)],
            document: &answer.document,
        };
        written::write(out, &contents)?;
    }
    drop(progress);
    let silent = answer.document.groups.iter().all(|g| g.model.is_none());
    Ok(Output::new(args.format.format, answer.document, text).with_status(u8::from(silent)))
}

fn read(args: &Condition) -> Result<Read, Failure> {
    let study = args
        .input
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("toml"));
    if !study {
        let sheet = Sheet::open(&args.input)?;
        if is_measured_sheet(&sheet) {
            return Ok(Read {
                measured: measured_sheet(&sheet, &args.measure, &args.by)?,
                sources: vec![sheet.source("measurements")],
                clock: args.clock.map(Into::into).unwrap_or_default(),
                next_look: None,
            });
        }
        if sheet.find("fitted").is_none() {
            sheet.need("seal", "which names the seal measured")?;
            sheet.need("age", "the seal's age at the measurement")?;
        }
    }
    let records = input::records(&args.input, args.cut_off.as_deref())?;
    let asked = &records.study.question;
    let clock: Clock = args
        .clock
        .map(Into::into)
        .or(asked.clock)
        .unwrap_or_default();
    let by = if args.by.is_empty() {
        asked.by.clone()
    } else {
        args.by.clone()
    };
    let every = records.study.practice.inspect_every_days;
    Ok(Read {
        measured: measured(&records, &args.measure, clock, &by)?,
        next_look: every.filter(|_| clock == Clock::Days),
        sources: records.sources,
        clock,
    })
}

fn running_table(d: &ConditionDocument) -> DataTable {
    let row = |g: &ConditionGroup, s: &RunningSeal| -> Vec<Cell> {
        vec![
            g.group.words().into(),
            s.seal.clone().into(),
            s.asset.clone().unwrap_or_default().into(),
            s.age.into(),
            s.last_age.into(),
            s.last_value.into(),
            s.remaining.estimate.into(),
            s.remaining.lower.into(),
            s.remaining.upper.into(),
            s.past_now.into(),
            s.past_at_next_look.into(),
        ]
    };
    let unit = d.unit;
    DataTable {
        name: "running-seals".into(),
        columns: vec![
            "group".into(),
            "seal".into(),
            "asset".into(),
            format!("age now ({unit})"),
            format!("age at the last measurement ({unit})"),
            format!("last {}", d.measure),
            format!("time left, median ({unit})"),
            format!("time left, prediction lower ({unit})"),
            format!("time left, prediction upper ({unit})"),
            "chance past the limit now".into(),
            "chance past the limit at the next look".into(),
        ],
        rows: d
            .groups
            .iter()
            .flat_map(|g| g.running.iter().map(move |s| row(g, s)))
            .collect(),
    }
}

fn text(d: &ConditionDocument) -> String {
    let mut out = format!(
        "{} to the limit of {}; ages in {}; {} intervals\n",
        d.measure,
        plain(d.limit),
        d.unit,
        number::level(d.confidence)
    );
    for g in &d.groups {
        out.push_str(&format!("\n{}", group(g, d)));
    }
    for note in &d.notes {
        out.push_str(&format!("\n  {note}"));
    }
    out.push('\n');
    out.push_str(&before_acting(&d.cautions));
    out
}

fn group(g: &ConditionGroup, d: &ConditionDocument) -> String {
    // Without a model nothing is worked out for the seals in service.
    let running = if g.model.is_some() {
        format!(", {} in service", g.running.len())
    } else {
        String::new()
    };
    let mut out = format!(
        "{}: {} seals, {} measurements{running}\n",
        g.group.words(),
        g.seals,
        g.measurements
    );
    let Some(model) = &g.model else {
        out.push_str(&format!(
            "  no model: {}\n",
            g.reason.as_deref().unwrap_or("no reason known")
        ));
        return out;
    };
    out.push_str(&format!("  model: {}; chosen among\n", model.words));
    for c in &g.candidates {
        let what = match (c.aic, &c.reason) {
            (Some(aic), _) => format!("AIC {}", number::fixed(aic, 1)),
            (None, Some(why)) => format!("not fitted: {why}"),
            _ => "not fitted".to_owned(),
        };
        out.push_str(&format!("    {}: {what}\n", c.model));
    }
    let rows: Vec<Vec<String>> = model.parameters.iter().map(parameter).collect();
    out.push_str(&table(&["quantity", "estimate", "unit"], &rows));
    out.push('\n');
    let ages: Vec<String> = g
        .new_seal
        .iter()
        .map(|s| {
            let round = |x: f64| number::significant(x, 3);
            let end = |x: Option<f64>| x.map_or_else(|| "open".to_owned(), round);
            match s.age {
                Some(age) => format!(
                    "{} by {} ({} to {})",
                    number::percent(s.p),
                    round(age),
                    end(s.lower),
                    end(s.upper)
                ),
                None => format!("{} never", number::percent(s.p)),
            }
        })
        .collect();
    out.push_str(&format!(
        "  new seals past the limit: {} {}\n",
        ages.join(", "),
        d.unit
    ));
    out.push_str(&running_text(g, d));
    for u in &g.unusual {
        let rate = u.times_mean_rate.map_or_else(String::new, |r| {
            format!("{} times the mean rate, ", number::significant(r, 2))
        });
        out.push_str(&format!(
            "  stands out: {} ({}), {rate}{}\n",
            u.seal,
            if u.running { "in service" } else { "removed" },
            number::p_value(u.p_value)
        ));
    }
    for note in &g.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out
}

fn parameter(p: &NamedNumber) -> Vec<String> {
    let n = &p.number;
    let width = n.lower.zip(n.upper).map(|(l, u)| u - l);
    let write =
        |x: f64| width.map_or_else(|| number::significant(x, 3), |w| number::to_width(x, w));
    let text = match (n.estimate, n.lower, n.upper) {
        (Some(e), Some(l), Some(u)) => format!("{} ({} to {})", write(e), write(l), write(u)),
        (Some(e), _, _) => write(e),
        _ => "none".to_owned(),
    };
    vec![p.name.replace('_', " "), text, p.unit.clone()]
}

fn running_text(g: &ConditionGroup, d: &ConditionDocument) -> String {
    let mut out = String::new();
    if let Some(n) = &g.by_next_look {
        out.push_str(&format!(
            "  by the next look in {} {}: {} of {} running seals expected past the limit (prediction interval {} to {}), {} of them now; {} cross in between\n",
            plain(n.after),
            d.unit,
            number::fixed(n.expected_past_then, 1),
            n.running,
            n.lower,
            n.upper,
            number::fixed(n.expected_past_now, 1),
            number::percent(n.share_crossing)
        ));
    }
    if g.running.is_empty() {
        return out;
    }
    let end = |x: Option<f64>| x.map_or_else(|| "open".to_owned(), |x| number::fixed(x, 0));
    let rows: Vec<Vec<String>> = g
        .running
        .iter()
        .take(SHOWN)
        .map(|s| {
            vec![
                s.seal.clone(),
                number::fixed(s.age, 0),
                format!(
                    "{} at {}",
                    number::significant(s.last_value, 3),
                    number::fixed(s.last_age, 0)
                ),
                format!(
                    "{} ({} to {})",
                    end(s.remaining.estimate),
                    end(s.remaining.lower),
                    end(s.remaining.upper)
                ),
                number::percent(s.past_now),
                s.past_at_next_look
                    .map_or_else(|| "not asked".to_owned(), number::percent),
            ]
        })
        .collect();
    out.push_str(&table(
        &[
            "seal in service",
            "age",
            "last measured",
            "time left, prediction",
            "past now",
            "past at next look",
        ],
        &rows,
    ));
    out.push('\n');
    if g.running.len() > SHOWN {
        out.push_str(&format!(
            "  the {SHOWN} most urgent of {}; --format json or --out gives all\n",
            g.running.len()
        ));
    }
    out
}
