//! `forecast`: how many of the seals running now will fail within a time.

use crate::Answer;
use crate::args::Forecast;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_care::forecast::Forecast as Outlook;
use sealspan_records::Clock;
use sealspan_report::analysis::lives::{groups, together};
use sealspan_report::analysis::outlook;
use sealspan_report::number;
use sealspan_report::wire::forecast::{ForecastDocument, ForecastQuestion};

pub fn run(args: &Forecast) -> Answer {
    let asked = input::asked_by_study(&args.input, &args.question)?;
    let study = asked.records.study.forecast.horizon_days;
    let days = asked.question.clock == Clock::Days;
    let horizon = args.horizon.or(study.filter(|_| days)).ok_or_else(|| {
        Failure::argument(
            "how far ahead is not known",
            format!("add --horizon, in {}", asked.question.clock.unit()),
        )
    })?;
    let question = ForecastQuestion {
        horizon,
        periods: args.periods as usize,
        confidence: args.confidence,
        with_renewals: true,
    };
    let family = input::family(&args.family)?;
    let _progress = Progress::start("forecasting");
    let document = outlook::document(
        &groups(&asked.answer, family, args.seed),
        &together(&asked.answer, family, args.seed),
        question,
        asked.question.clock.unit(),
    )
    .map_err(|why| Failure::unanswerable(why, "wait for more failures"))?;
    Ok(Output::new(args.format.format, document, text))
}

fn text(d: &ForecastDocument) -> String {
    let row = |name: String, f: &Outlook| {
        vec![
            name,
            f.running.to_string(),
            number::significant(f.expected, 3),
            format!("{} to {}", f.lower, f.upper),
            format!("{} to {}", f.plug_in.lower, f.plug_in.upper),
        ]
    };
    let mut rows: Vec<Vec<String>> = vec![];
    for g in &d.groups {
        match (&g.forecast, &g.reason) {
            (Some(f), _) => rows.push(row(g.group.words(), f)),
            (None, reason) => rows.push(vec![
                g.group.words(),
                String::new(),
                "none".to_owned(),
                reason.clone().unwrap_or_default(),
                String::new(),
            ]),
        }
    }
    rows.push(row("all seals".to_owned(), &d.all));
    let mut out = format!(
        "first failures of the seals running now within {} {}\n",
        number::significant(d.horizon, 4),
        d.unit
    );
    let level = number::level(d.all.confidence);
    out.push_str(&table(
        &[
            "group",
            "running",
            "expected",
            &format!("{level} prediction interval"),
            "as if the life were known",
        ],
        &rows,
    ));
    let periods: Vec<Vec<String>> = d
        .all
        .by_period
        .iter()
        .map(|p| {
            vec![
                number::significant(p.until, 4),
                number::significant(p.expected, 3),
                format!("{} to {}", p.lower, p.upper),
            ]
        })
        .collect();
    out.push_str(&format!("\n\nall seals, from now until ({})\n", d.unit));
    out.push_str(&table(
        &["until", "expected", &format!("{level} prediction interval")],
        &periods,
    ));
    out.push('\n');
    let renewals = |name: &str, f: &Outlook| {
        f.renewals.as_ref().map(|r| {
            format!(
                "  {name}: {} to fail, replacements that fail in their turn counted too ({} to {})\n",
                number::significant(r.expected, 3),
                r.lower,
                r.upper
            )
        })
    };
    out.extend(renewals("all seals", &d.all));
    for g in &d.groups {
        out.extend(
            g.forecast
                .as_ref()
                .and_then(|f| renewals(&g.group.words(), f)),
        );
    }
    for note in &d.all.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out.push_str(crate::cautioned::IN_SHORT);
    out
}
