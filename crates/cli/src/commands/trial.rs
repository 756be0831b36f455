//! `trial`: how many seals for how long show a life, or tell two materials apart.

use crate::Answer;
use crate::args::Trial;
use crate::failure::Failure;
use crate::output::Output;
use crate::table::table;
use sealspan_records::Clock;
use sealspan_report::analysis::trial::{ApartQuestion, ShowQuestion, apart, show};
use sealspan_report::number;
use sealspan_report::wire::trial::{ShowLife, TellApart, TrialDocument};

pub fn run(args: &Trial) -> Answer {
    let unit = args.clock.map_or(Clock::Days, Into::into).unit();
    let document = match (args.ratio, args.show_life, args.reliability) {
        (Some(ratio), ..) => apart(ApartQuestion {
            ratio,
            shape: args.shape,
            power: args.power,
            confidence: args.confidence,
            seals: args.seals,
            duration: args.duration,
            life: args.life,
            unit,
        })?,
        (None, Some(show_life), Some(reliability)) => {
            let question = ShowQuestion {
                show_life,
                reliability,
                shape: args.shape,
                seals: args.seals,
                duration: args.duration,
                failures_allowed: args.failures_allowed,
                confidence: args.confidence,
                unit,
            };
            if question.left_out() == 0 {
                return Err(Failure::argument(
                    "nothing is left to solve for",
                    "leave out one of --seals, --duration, --failures-allowed and --confidence; without --confidence the answer says how much the trial shows",
                ));
            }
            show(question)?
        }
        _ => {
            return Err(Failure::argument(
                "what the trial is to show is not known",
                "give --show-life with --reliability, or --ratio to tell two materials apart",
            ));
        }
    };
    Ok(Output::new(args.format.format, document, text))
}

fn seals(n: u64) -> String {
    let s = if n == 1 { "" } else { "s" };
    format!("{} seal{s}", number::count(n))
}

/// A time that is to be kept at least, rounded up to four digits.
fn at_least(time: f64) -> String {
    let step = 10f64.powf(time.log10().floor() - 3.0);
    number::significant((time / step * (1.0 - 1e-9)).ceil() * step, 4)
}

fn text(d: &TrialDocument) -> String {
    let mut out = match (&d.show, &d.apart) {
        (Some(s), _) => shown(d, s),
        (_, Some(a)) => told_apart(d, a),
        _ => String::new(),
    };
    if !d.taken.is_empty() {
        out.push_str(&format!("\ntaken: {}\n", d.taken.join("; ")));
    }
    for (head, lines) in [
        ("this rests on", &d.assumptions),
        ("to mind", &d.warnings),
        ("before acting", &d.cautions),
    ] {
        if !lines.is_empty() {
            out.push_str(&format!("\n{head}\n"));
        }
        for line in lines {
            out.push_str(&format!("  {line}\n"));
        }
    }
    out
}

fn shown(d: &TrialDocument, s: &ShowLife) -> String {
    let passed = match d.failures_allowed {
        None | Some(0) => "none fails".to_owned(),
        Some(1) => "at most one fails".to_owned(),
        Some(k) => format!("at most {} fail", number::count(k)),
    };
    let duration = d.duration.map_or_else(String::new, at_least);
    let life = format!("{} {}", number::significant(s.show_life, 4), d.unit);
    let sound = number::level(s.reliability);
    let mut out = format!(
        "Run {} for {duration} {} each. The trial is passed if {passed}.\n",
        seals(d.seals),
        d.unit
    );
    let confidence = if d.solved_for == "confidence" {
        number::percent(d.confidence)
    } else {
        number::level(d.confidence)
    };
    out.push_str(&format!(
        "Passed, it shows with {confidence} confidence that at least {sound} of such seals are sound at {life}{}.\n",
        if s.confidence_reached > d.confidence + 5e-4 {
            format!(" (seals come whole: {} reached)", number::percent(s.confidence_reached))
        } else {
            String::new()
        }
    ));
    let rows: Vec<Vec<String>> = s
        .passing
        .iter()
        .map(|p| {
            let times = if p.life_ratio == 1.0 {
                "as claimed".to_owned()
            } else {
                format!("{} times that", number::significant(p.life_ratio, 2))
            };
            vec![times, number::percent(p.sound), number::percent(p.chance)]
        })
        .collect();
    out.push_str("\nchance that seals pass\n");
    out.push_str(&table(
        &["their lives", &format!("sound at {life}"), "chance to pass"],
        &rows,
    ));
    if let Some(ratio) = s.good_life_ratio {
        out.push_str(&format!(
            "\n  To pass with a chance of {} seals must live {} times as long as claimed.",
            number::level(s.good_chance),
            number::significant(ratio, 3)
        ));
    }
    out.push_str(&format!(
        "\n\nif the shape is not {}\n",
        number::significant(d.shape, 3)
    ));
    out.push_str(&wrong_shape(d, s, &confidence));
    out
}

fn wrong_shape(d: &TrialDocument, s: &ShowLife, confidence: &str) -> String {
    if let Some(reason) = s.wrong_shape_reason {
        return format!("  no matter: {reason}\n");
    }
    let rows: Vec<Vec<String>> = s
        .wrong_shape
        .iter()
        .map(|w| {
            vec![
                number::significant(w.shape, 3),
                number::percent(w.confidence),
                w.seals
                    .map_or_else(|| w.reason.clone().unwrap_or_default(), number::count),
            ]
        })
        .collect();
    let head = [
        "shape in truth".to_owned(),
        format!("what {} passed show", seals(d.seals)),
        format!("seals for {confidence}"),
    ];
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    format!("{}\n", table(&head, &rows))
}

fn told_apart(d: &TrialDocument, a: &TellApart) -> String {
    let time = d.duration.map_or_else(
        || "until it fails".to_owned(),
        |t| format!("for {} {}", number::significant(t, 4), d.unit),
    );
    let ratio = number::significant(a.ratio, 3);
    let mut out = format!(
        "Run {} of each material, each {time}.\nIf one lives {ratio} times as long as the other, the {} interval of the ratio of lives then leaves out 1 with a chance of {}; typically it reaches from {} to {}.\n",
        seals(d.seals),
        number::level(d.confidence),
        number::percent(a.power_reached),
        number::significant(a.typical_interval[0], 3),
        number::significant(a.typical_interval[1], 3),
    );
    if d.duration.is_some() {
        out.push_str(&format!(
            "Failures to expect: {} of the first material, {} of the second.\n",
            number::significant(a.failures_expected[0], 2),
            number::significant(a.failures_expected[1], 2)
        ));
    }
    let mut rows: Vec<Vec<String>> = vec![];
    for r in &a.other_ratios {
        rows.push(vec![
            number::significant(r.ratio, 3),
            number::significant(d.shape, 3),
            number::percent(r.power_reached),
        ]);
    }
    for s in &a.other_shapes {
        rows.push(vec![
            ratio.clone(),
            number::significant(s.shape, 3),
            number::percent(s.power_reached),
        ]);
    }
    out.push_str("\nchance to tell them apart with these seals, if lives are otherwise\n");
    out.push_str(&table(&["ratio", "shape", "chance"], &rows));
    out.push('\n');
    out
}
