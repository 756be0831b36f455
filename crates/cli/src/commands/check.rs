//! `check`: what was read, what was set aside and why, and what looks wrong.

use crate::Answer;
use crate::args::Check;
use crate::input;
use crate::output::Output;
use crate::table::table;
use sealspan_records::{Question, ask};
use sealspan_report::number;
use sealspan_report::wire::check::{CheckDocument, document};

pub fn run(args: &Check) -> Answer {
    let records = input::quietly(&args.input, args.question.cut_off.as_deref())?;
    let study = &records.study.question;
    let question = Question {
        by: args.question.by.clone(),
        clock: args
            .question
            .clock
            .map(Into::into)
            .or(study.clock)
            .unwrap_or_default(),
        mode: args.question.mode.clone().or_else(|| study.mode.clone()),
    };
    // A question that cannot be answered is part of what `check` has to tell.
    let answer = ask(&records, &question);
    let status = u8::from(answer.is_err());
    let document = document(
        &records,
        &question,
        answer.as_ref().map_err(ToString::to_string),
    );
    Ok(Output::new(args.format.format, document, text).with_status(status))
}

/// Findings shown one by one before the rest is summed up.
const SHOWN: usize = 40;

fn text(d: &CheckDocument) -> String {
    let mut out = String::new();
    for source in &d.sources {
        out.push_str(&format!(
            "{}: {} ({}, {} rows)\n",
            source.role, source.file, source.format, source.rows
        ));
    }
    let o = &d.observations;
    out.push_str(&format!(
        "\n{} rows read = {} used + {} set aside\n",
        d.rows_read, d.seals, o.set_aside
    ));
    if let Some(cut_off) = &d.cut_off {
        out.push_str(&format!("records end on {cut_off}\n"));
    }
    out.push_str(&format!(
        "lives: {} failed at a known age, {} between two looks, {} before the first look, {} still running or taken off otherwise; {} watched only from some age on\n",
        o.exact, o.interval, o.left, o.right, o.truncated
    ));
    if let Some(reason) = &d.unanswered {
        out.push_str(&format!("\nno question can be answered yet: {reason}\n"));
    }
    let outcomes: Vec<Vec<String>> = d
        .outcomes
        .iter()
        .map(|(word, n)| vec![word.clone(), n.to_string()])
        .collect();
    out.push_str(&format!("\n{}\n", table(&["outcome", "seals"], &outcomes)));
    out.push_str(&format!("\n{} finding(s)\n", d.findings.len()));
    for f in d.findings.iter().take(SHOWN) {
        let place: Vec<String> = [
            f.file.clone(),
            f.row.map(|r| format!("row {r}")),
            f.column.as_ref().map(|c| format!("column {c}")),
        ]
        .into_iter()
        .flatten()
        .collect();
        out.push_str(&format!(
            "  {} [{}] {}\n",
            f.severity.word(),
            f.kind,
            f.message
        ));
        if !place.is_empty() {
            out.push_str(&format!("      at {}\n", place.join(", ")));
        }
        if !f.mend.is_empty() {
            out.push_str(&format!("      mend: {}\n", f.mend));
        }
    }
    if d.findings.len() > SHOWN {
        out.push_str(&format!(
            "  ... and {} more: see --format json\n",
            d.findings.len() - SHOWN
        ));
    }
    if !d.assumptions.is_empty() {
        out.push_str(
            "\nhow far assumptions move the age by which 10 % have failed (Weibull, all seals)\n",
        );
        for a in &d.assumptions {
            let age =
                |x: Option<f64>| x.map_or_else(|| "none".to_owned(), |x| number::significant(x, 3));
            out.push_str(&format!(
                "  {} seals: {}: {} becomes {}\n",
                number::fixed(a.seals, 0),
                a.assumed,
                age(a.b10),
                age(a.b10_otherwise)
            ));
        }
    }
    out.push_str("\nwhat was assumed\n");
    for decision in &d.decisions {
        out.push_str(&format!(
            "  {} ({} rows): {}\n",
            decision.rule, decision.count, decision.assumed
        ));
    }
    out
}
