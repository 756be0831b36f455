//! `defects`: when defects come, how long until they leak, and how many a look finds.

use crate::Answer;
use crate::args::{Defects, DetectionArg};
use crate::cautioned::before_acting;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_records::histories::{HistoryQuestion, histories};
use sealspan_report::number::{self, Estimate, IntervalKind, Range, Unit};
use sealspan_report::wire::defects::{
    DefectOptions, DefectsDocument, FittedDefects, GroupDefects, Named, Spread, document,
};

pub fn run(args: &Defects) -> Answer {
    let records = input::records(&args.input, args.cut_off.as_deref())?;
    let question = HistoryQuestion {
        by: args.by.clone(),
        clock: args
            .clock
            .map(Into::into)
            .or(records.study.question.clock)
            .unwrap_or_default(),
        hidden: args.hidden,
    };
    let histories = histories(&records, &question)?;
    let options = DefectOptions {
        defect: args.defect_law.map(Into::into),
        delay: args.delay_law.map(Into::into),
        detection: match args.detection {
            DetectionArg::Estimate => None,
            DetectionArg::Stated(r) => Some(r),
        },
        confidence: args.confidence,
        every: args.every.clone(),
        seed: args.seed,
    };
    let progress = Progress::start("fitting defects and delays");
    let document = document(&histories, &options);
    drop(progress);
    let status = u8::from(document.groups.iter().all(|g| g.model.is_none()));
    if status == 1 && args.format.format.is_for_people() {
        let first = document.groups.first();
        let why = first.and_then(|g| g.reason.clone());
        let cure = first.and_then(|g| g.cure.clone());
        return Err(Failure::unanswerable(
            why.unwrap_or_else(|| "there is nothing to fit".to_owned()),
            cure.unwrap_or_else(|| "see `sealspan check` for what was read".to_owned()),
        ));
    }
    Ok(Output::new(args.format.format, document, text).with_status(status))
}

fn text(d: &DefectsDocument) -> String {
    let l = &d.looks;
    let mut out = format!(
        "{} looks read: {} found the seal sound, {} a defect, {} a failure; {} have no finding and {} belong to no used seal; {} seals set aside\n",
        l.read,
        l.sound,
        l.worn,
        l.failed,
        l.without_finding,
        l.unmatched,
        d.set_aside.len()
    );
    for decision in &d.decisions {
        out.push_str(&format!("  {} ({})\n", decision.assumed, decision.count));
    }
    for g in &d.groups {
        out.push_str(&format!("\n{}", group_text(g, d)));
    }
    out.push_str(&before_acting(&d.cautions));
    out
}

fn group_text(g: &GroupDefects, d: &DefectsDocument) -> String {
    let c = &g.counts;
    let mut out = format!(
        "{}: {:.0} seals, {:.0} found defective, {:.0} failed, {:.0} neither\n",
        g.group.words(),
        c.seals,
        c.found,
        c.failed,
        c.running
    );
    match (&g.model, &g.reason) {
        (Some(model), _) => out.push_str(&model_text(model, g, d)),
        (None, reason) => {
            let reason = reason.as_deref().unwrap_or("no reason known");
            out.push_str(&format!("  no answer: {reason}\n"));
            if let Some(cure) = &g.cure {
                out.push_str(&format!("    mend: {cure}\n"));
            }
        }
    }
    out
}

/// A value with its interval in words.
fn said(value: &Spread, level: f64, unit: Unit) -> String {
    let range = match (value.lower, value.upper) {
        (Some(lower), Some(upper)) => Range::Between {
            kind: if value.method == "posterior" {
                IntervalKind::Credible
            } else {
                IntervalKind::Confidence
            },
            level,
            lower,
            upper,
        },
        _ => Range::Missing(value.reason.clone().unwrap_or_default()),
    };
    Estimate {
        value: value.estimate,
        range,
        unit,
    }
    .sentence()
}

fn model_text(m: &FittedDefects, g: &GroupDefects, d: &DefectsDocument) -> String {
    let time = || Unit::word(d.unit);
    let named = |list: &[Named], name: &str, unit: Unit| {
        list.iter().find(|n| n.name == name).map_or_else(
            || "not known".to_owned(),
            |n| said(&n.value, d.confidence, unit),
        )
    };
    let mut out = format!(
        "  a defect comes after {} on average; one seal in ten has one by {} ({} law)\n",
        named(&m.quantities, "mean_age_of_defects", time()),
        named(&m.quantities, "b10_age_of_defects", time()),
        m.defect_law,
    );
    out.push_str(&format!(
        "  a defect leaks {} later on average ({} law)\n  a look finds {} of the defects that are there\n",
        named(&m.quantities, "mean_delay", time()),
        m.delay_law,
        named(&m.parameters, "detection", Unit::Share),
    ));
    for c in &m.caught {
        let usual = if Some(c.every) == g.usual_interval.map(f64::round) {
            ", as now,"
        } else {
            ""
        };
        out.push_str(&format!(
            "  looks every {} {}{usual} would catch {} before they leak\n",
            interval(c.every),
            d.unit,
            said(&c.value, d.confidence, Unit::Share)
        ));
    }
    let plain = |b: Option<f64>| b.map_or_else(|| "none".to_owned(), |b| number::significant(b, 3));
    out.push_str(&format!(
        "  were nothing taken off worn, one seal in ten would have failed by {}; a plain Weibull reads {} with removals as sound, {} with removals as failures\n",
        named(&m.life, "b10_life", time()),
        plain(g.plain.b10_removals_as_sound),
        plain(g.plain.b10_removals_as_failed),
    ));
    out.push_str(&bands(m));
    if !m.doubts.is_empty() {
        out.push_str("  what this log leaves open\n");
        for doubt in &m.doubts {
            out.push_str(&format!(
                "    {}\n      mend: {}\n",
                doubt.message, doubt.mend
            ));
        }
    }
    if let Some(priors) = m.priors {
        out.push_str(&format!(
            "  credible intervals rest on weak priors: {priors}\n"
        ));
    }
    out
}

/// A time between looks: whole where it is.
fn interval(every: f64) -> String {
    if every.fract() == 0.0 {
        number::fixed(every, 0)
    } else {
        number::significant(every, 3)
    }
}

fn bands(m: &FittedDefects) -> String {
    let rows: Vec<Vec<String>> = m
        .by_look
        .iter()
        .map(|b| {
            let label = match b.to {
                Some(to) if to == b.from => to.to_string(),
                Some(to) => format!("{} to {to}", b.from),
                None => format!("{} on", b.from),
            };
            vec![
                label,
                number::fixed(b.looks, 0),
                number::fixed(b.found, 0),
                number::fixed(b.found_expected, 1),
                number::fixed(b.failed, 0),
                number::fixed(b.failed_expected, 1),
            ]
        })
        .collect();
    let head = [
        "look number",
        "looks",
        "defects found",
        "expected",
        "failed before it",
        "expected",
    ];
    format!("{}\n", table(&head, &rows))
}
