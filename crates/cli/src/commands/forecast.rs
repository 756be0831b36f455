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
use sealspan_report::analysis::lives::{GroupLife, groups, together};
use sealspan_report::number;
use sealspan_report::wire::forecast::{
    ForecastDocument, ForecastQuestion, GroupForecast, forecast,
};

pub fn run(args: &Forecast) -> Answer {
    let asked = input::asked(&args.input, &args.question)?;
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
    let look = |group: &GroupLife| -> Result<Outlook, Failure> {
        let fitted = group
            .fitted
            .as_ref()
            .map_err(|why| Failure::unanswerable(why.to_string(), "wait for more failures"))?;
        let oldest = Some(group.sample.oldest());
        Ok(forecast(
            &group.ages(),
            &fitted.life,
            &fitted.draws,
            oldest,
            question,
        )?)
    };
    let all = look(&together(&asked.answer, family, args.seed))?;
    let by_group = if args.question.by.is_empty() {
        vec![]
    } else {
        groups(&asked.answer, family, args.seed)
            .iter()
            .map(|group| {
                let result = look(group);
                GroupForecast {
                    group: group.key.clone(),
                    reason: result.as_ref().err().map(Failure::message),
                    forecast: result.ok(),
                }
            })
            .collect()
    };
    let document = ForecastDocument {
        schema: "sealspan.forecast.v1",
        unit: asked.question.clock.unit(),
        horizon,
        all,
        groups: by_group,
    };
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
    for note in &d.all.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out
}
