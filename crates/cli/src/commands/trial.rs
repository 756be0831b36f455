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
    if args.ratio.is_some() && args.duration.is_some() && args.life.is_none() {
        return Err(Failure::argument(
            "a duration says nothing without a life to compare it with",
            "give --life, the age by which 63 % of the first material have failed, or leave out --duration to run each seal to failure",
        ));
    }
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
        }),
        (None, Some(show_life), Some(reliability)) => show(solvable(ShowQuestion {
            show_life,
            reliability,
            shape: args.shape,
            seals: args.seals,
            duration: args.duration,
            failures_allowed: args.failures_allowed,
            confidence: args.confidence,
            unit,
        })?),
        _ => {
            return Err(Failure::argument(
                "what the trial is to show is not known",
                "give --show-life with --reliability, or --ratio to tell two materials apart",
            ));
        }
    };
    let document = document.map_err(|why| {
        if why.is_no_answer() {
            Failure::unanswerable(
                why.to_string(),
                "plan with more seals, a longer duration, fewer failures allowed or less confidence",
            )
        } else {
            why.into()
        }
    })?;
    Ok(Output::new(args.format.format, document, text))
}

/// The question, if something is left to solve for.
fn solvable(question: ShowQuestion) -> Result<ShowQuestion, Failure> {
    if question.left_out() > 0 {
        return Ok(question);
    }
    Err(Failure::argument(
        "nothing is left to solve for",
        "leave out one of --seals, --duration, --failures-allowed and --confidence; without --confidence the answer says how much the trial shows",
    ))
}

fn seals(n: u64) -> String {
    let s = if n == 1 { "" } else { "s" };
    format!("{} seal{s}", number::count(n))
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
    let duration = d.duration.map_or_else(String::new, number::tidy_up);
    let confidence = if d.solved_for == "confidence" {
        number::percent(d.confidence)
    } else {
        number::level(d.confidence)
    };
    let whole = match d.solved_for {
        "seals" => "seals",
        _ => "failures",
    };
    let more = if s.confidence_reached > d.confidence + 5e-4 {
        let reached = number::percent(s.confidence_reached);
        format!(" ({reached}, for {whole} come whole)")
    } else {
        String::new()
    };
    let life = format!("{} {}", number::tidy(s.show_life), d.unit);
    let mut out = format!(
        "Run {} for {duration} {} each. The trial is passed if {passed}.\nPassed, it shows with {confidence} confidence{more} that at least {} of such seals are sound at {life}.\n",
        seals(d.seals),
        d.unit,
        number::level(s.reliability)
    );
    out.push_str(&passing(s, &life));
    out.push_str(&format!(
        "\nif the shape is not {}\n{}",
        number::tidy(d.shape),
        wrong_shape(s, &confidence)
    ));
    out
}

fn passing(s: &ShowLife, life: &str) -> String {
    let rows: Vec<Vec<String>> = s
        .passing
        .iter()
        .map(|p| {
            let times = if p.life_ratio == 1.0 {
                "as claimed".to_owned()
            } else {
                format!("{} times that", number::tidy(p.life_ratio))
            };
            vec![times, number::percent(p.sound), number::percent(p.chance)]
        })
        .collect();
    let sound = format!("sound at {life}");
    let table = table(&["their lives", &sound, "chance to pass"], &rows);
    let good = s.good_life_ratio.map_or_else(String::new, |ratio| {
        format!(
            "  To pass with a chance of {} seals must live {} times as long as claimed.\n",
            number::level(s.good_chance),
            number::significant(ratio, 3)
        )
    });
    format!("\nchance that seals pass\n{table}\n{good}")
}

fn wrong_shape(s: &ShowLife, confidence: &str) -> String {
    if let Some(reason) = s.wrong_shape_reason {
        return format!("  no matter: {reason}\n");
    }
    let rows: Vec<Vec<String>> = s
        .wrong_shape
        .iter()
        .map(|w| {
            vec![
                number::tidy(w.shape),
                number::percent(w.confidence),
                w.seals
                    .map_or_else(|| w.reason.clone().unwrap_or_default(), number::count),
            ]
        })
        .collect();
    let head = [
        "shape in truth".to_owned(),
        "confidence left".to_owned(),
        format!("seals needed for {confidence}"),
    ];
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    format!("{}\n", table(&head, &rows))
}

fn told_apart(d: &TrialDocument, a: &TellApart) -> String {
    let time = d.duration.map_or_else(
        || "until it fails".to_owned(),
        |t| format!("for {} {}", number::tidy(t), d.unit),
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
            number::tidy(d.shape),
            number::percent(r.power_reached),
        ]);
    }
    for s in &a.other_shapes {
        rows.push(vec![
            ratio.clone(),
            number::tidy(s.shape),
            number::percent(s.power_reached),
        ]);
    }
    out.push_str("\nchance to tell them apart with these seals, if lives are otherwise\n");
    out.push_str(&table(&["ratio", "shape", "chance"], &rows));
    out.push('\n');
    out
}
