//! `due`: every seal in service with the day it is due under the plan, first things first.

use super::demand::{followed, parts};
use crate::Answer;
use crate::args::Due;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_records::Form;
use sealspan_report::analysis::due::{Asked, Known, due, known};
use sealspan_report::document::Table;
use sealspan_report::story::due::{by_place, seals, sentence};
use sealspan_report::wire::due::DueDocument;

pub fn run(args: &Due) -> Answer {
    let records = input::records(&args.input, None)?;
    if records.form != Form::Seals {
        return Err(Failure::unanswerable(
            "plain lives do not say which seal is in service where",
            "give a table of seals with `fitted` and `removed`",
        ));
    }
    if args.within.is_some_and(|days| !days.is_finite()) {
        return Err(Failure::argument(
            "--within is not a number of days",
            "write it as 60",
        ));
    }
    let by = if args.by.is_empty() {
        parts(&records)
    } else {
        args.by.clone()
    };
    let _progress = Progress::start("finding what is due");
    let (futures, left_out) = followed(&records, &by, Some(args.steps.request()), args.seed)?;
    let asked = Asked {
        as_of: records.cut_off,
        confidence: args.confidence,
        seed: args.seed,
    };
    let (condition, positions) = known(&records, &by, args.confidence, args.seed);
    let of_seals = Known {
        condition: condition.as_ref(),
        positions: positions.as_ref(),
    };
    let mut document = due(&futures, left_out, of_seals, &asked)?;
    if let Some(place) = &args.place {
        let known: Vec<String> = document.places.iter().map(|p| p.place.clone()).collect();
        if !known.contains(place) {
            return Err(Failure::argument(
                format!("no seal in service is at {place}"),
                format!("choose from {}", known.join(", ")),
            ));
        }
        document.only_at(place);
    }
    if let Some(days) = args.within {
        document.only_within(days);
    }
    Ok(Output::new(args.format.format, document, text))
}

fn text(d: &DueDocument) -> String {
    let mut out = format!("{}\n", sentence(d));
    let lines = |t: Table| {
        let heads: Vec<&str> = t.columns.iter().map(|c| c.0.as_str()).collect();
        format!("\n{}\n{}\n", t.caption, table(&heads, &t.rows))
    };
    out.extend(by_place(d).map(lines));
    out.extend(seals(d, usize::MAX, true).map(lines));
    let notes = d.left_out.iter().map(|line| format!("left out: {line}"));
    for line in notes.chain(d.notes.iter().map(|n| (*n).to_owned())) {
        out.push_str(&format!("  {line}\n"));
    }
    out.push_str(crate::cautioned::IN_SHORT);
    out
}
