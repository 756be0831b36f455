//! `ageing`: laboratory ageing to an Arrhenius line and a life in service.

use crate::Answer;
use crate::args::{Ageing, DirectionArg};
use crate::cautioned::before_acting;
use crate::failure::Failure;
use crate::output::Output;
use crate::table::table;
use crate::written::{self, Contents};
use sealspan_records::lab::{self, Lab};
use sealspan_report::analysis::ageing::{AgeingQuestion, ageing, stated_duty};
use sealspan_report::analysis::ageing_words::{hours, plain};
use sealspan_report::document::{Cell, DataTable};
use sealspan_report::number;
use sealspan_report::story::ageing::charts;
use sealspan_report::wire::Number;
use sealspan_report::wire::ageing::{
    AgeingDocument, AgeingGroup, DutyResult, LifeAt, LineResult, TemperatureFor,
};
use std::ffi::OsString;

pub fn run(raw: &[OsString], args: &Ageing) -> Answer {
    if let Some(energy) = args.activation_energy {
        let document = stated_duty(&args.duty, energy, args.confidence).ok_or_else(|| {
            Failure::argument(
                "the duty cycle has no equivalent temperature at this energy",
                "give an activation energy between 20 and 200 kJ/mol",
            )
        })?;
        return Ok(Output::new(args.format.format, document, text));
    }
    let (lab, question) = asked(args)?;
    let answer = ageing(&lab, &question)
        .map_err(|why| Failure::argument(why, "see `sealspan ageing --help`"))?;
    if let Some(out) = &args.out {
        let contents = Contents {
            raw,
            seed: 0,
            sources: std::slice::from_ref(&lab.source),
            charts: &charts(&answer, question.curve),
            tables: &[lives(&answer.document)],
            document: &answer.document,
        };
        written::write(out, &contents)?;
    }
    let silent = answer.document.groups.iter().all(|g| g.line.is_none());
    Ok(Output::new(args.format.format, answer.document, text).with_status(u8::from(silent)))
}

fn asked(args: &Ageing) -> Result<(Lab, AgeingQuestion), Failure> {
    let input = args.input.as_ref().ok_or_else(|| {
        Failure::argument(
            "there is no table to read",
            "name one, or state --activation-energy with --duty",
        )
    })?;
    if let Some(unit) = args.time_unit.as_deref()
        && lab::hours_of_unit(unit).is_none()
    {
        return Err(Failure::argument(
            format!("--time-unit {unit} is no unit of time we know"),
            "write min, h, days or weeks",
        ));
    }
    let lab = lab::lab(input, args.measure.as_deref(), args.time_unit.as_deref())?;
    let question = AgeingQuestion {
        limit: args.limit.unwrap_or(f64::NAN),
        rising: args.direction.map(|d| matches!(d, DirectionArg::Rising)),
        curve: args.curve.into(),
        start: args.start,
        end: args.end,
        weighted: args.weighted,
        confidence: args.confidence,
        at: args.at_temperature.clone(),
        for_hours: args.for_life.clone(),
        duty: args.duty.clone(),
    };
    Ok((lab, question))
}

fn lives(d: &AgeingDocument) -> DataTable {
    let row = |g: &AgeingGroup, l: &LifeAt| -> Vec<Cell> {
        vec![
            g.group.words().into(),
            l.temperature_c.into(),
            l.estimate.into(),
            l.confidence.map(|c| c.lower).into(),
            l.confidence.map(|c| c.upper).into(),
            l.prediction.map(|c| c.lower).into(),
            l.prediction.map(|c| c.upper).into(),
            l.words.clone().into(),
        ]
    };
    DataTable {
        name: "life-in-service".into(),
        columns: [
            "group",
            "temperature (°C)",
            "time to limit (hours)",
            "confidence lower (hours)",
            "confidence upper (hours)",
            "prediction lower (hours)",
            "prediction upper (hours)",
            "how far extrapolated",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: d
            .groups
            .iter()
            .flat_map(|g| g.life.iter().map(move |l| row(g, l)))
            .collect(),
    }
}

fn text(d: &AgeingDocument) -> String {
    let mut out = String::new();
    if let (Some(measure), Some(limit)) = (&d.measure, d.limit) {
        out.push_str(&format!(
            "{} measurements of {measure}; limit {}; curve {}; {} intervals in brackets\n",
            d.rows_read,
            plain(limit),
            d.curve.unwrap_or(""),
            number::level(d.confidence)
        ));
    }
    for g in &d.groups {
        out.push_str(&format!("\n{}", group(g, d)));
    }
    if let Some(duty) = &d.duty {
        out.push_str(&duty_text(duty, d.confidence));
    }
    for note in &d.notes {
        out.push_str(&format!("\n  {note}"));
    }
    out.push('\n');
    out.push_str(&before_acting(&d.cautions));
    out
}

fn group(g: &AgeingGroup, d: &AgeingDocument) -> String {
    let name = if g.group.0.is_empty() {
        "all specimens".to_owned()
    } else {
        g.group.words()
    };
    let mut out = format!("{name}: {} to the limit\n", g.direction);
    let rows: Vec<Vec<String>> = g
        .ovens
        .iter()
        .map(|o| {
            vec![
                format!("{} °C", plain(o.temperature_c)),
                o.measurements.to_string(),
                hours(o.longest),
                time(&o.time_to_limit, o.reached),
            ]
        })
        .collect();
    out.push_str(&table(
        &["oven", "measured", "longest", "time to the limit"],
        &rows,
    ));
    out.push('\n');
    match &g.line {
        Some(line) => out.push_str(&line_text(line, d.confidence)),
        None => out.push_str(&format!(
            "  no Arrhenius line: {}\n",
            g.line_reason.as_deref().unwrap_or("no reason known")
        )),
    }
    match (&g.curvature, &g.curvature_reason) {
        (Some(c), _) => out.push_str(&format!("  bend: {}\n", c.words)),
        (None, Some(why)) if g.line.is_some() => {
            out.push_str(&format!("  bend: not tested; {why}\n"))
        }
        _ => {}
    }
    if !g.life.is_empty() {
        out.push_str(&life_table(&g.life, d.confidence));
    }
    for t in &g.temperature_for {
        out.push_str(&format!("  {}\n", temperature_for(t, d.confidence)));
    }
    if let Some(duty) = &g.duty {
        out.push_str(&duty_text(duty, d.confidence));
    }
    for note in &g.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out
}

fn time(n: &Number, reached: &str) -> String {
    match (n.estimate, n.lower, n.upper) {
        (Some(e), Some(l), Some(u)) => format!(
            "{} ({} to {})",
            hours(e),
            number::significant(l, 3),
            number::significant(u, 3)
        ),
        (Some(e), _, _) => hours(e),
        (None, Some(l), _) => format!("not reached in {}", hours(l)),
        (None, None, Some(u)) => format!("before {}", hours(u)),
        _ => reached.replace('_', " "),
    }
}

fn line_text(line: &LineResult, level: f64) -> String {
    let energy = |n: &Number, decimals: usize| match (n.estimate, n.lower, n.upper) {
        (Some(e), Some(l), Some(u)) => format!(
            "{} ({} to {})",
            number::fixed(e, decimals),
            number::fixed(l, decimals),
            number::fixed(u, decimals)
        ),
        (Some(e), _, _) => format!("{} (no interval)", number::fixed(e, decimals)),
        _ => "none".to_owned(),
    };
    let mut out = format!(
        "  activation energy {} kJ/mol, {} eV; {} confidence, {} degree(s) of freedom\n  line by {}\n",
        energy(&line.activation_energy_kj_per_mol, 1),
        energy(&line.activation_energy_ev, 3),
        number::level(level),
        number::fixed(line.degrees_of_freedom, 0),
        line.method
    );
    if let Some(prior) = &line.prior {
        out.push_str(&format!(
            "  for the field regression of lives against temperature: --prior-activation-energy {} (eV; a laboratory line, with a standard deviation wide enough for so few ovens)\n",
            prior.option
        ));
    }
    out
}

/// The temperature for a life, with its interval and how far it is extrapolated.
fn temperature_for(t: &TemperatureFor, level: f64) -> String {
    let asked = hours(t.hours);
    let why = t.reason.as_deref().unwrap_or_default();
    let Some(celsius) = t.temperature_c else {
        return format!("a life of {asked}: none, {why}");
    };
    let tenth = |x: f64| number::fixed(x, 1);
    let level = number::level(level);
    let within = match (t.lower_c, t.upper_c) {
        (Some(l), Some(u)) => format!(
            "{level} confidence interval {} to {} °C",
            tenth(l),
            tenth(u)
        ),
        _ => format!("no interval: {why}"),
    };
    let safe = t.safe_c.map_or_else(String::new, |s| {
        format!(
            "; to count on it for one more part, at most {} °C (lower end of the {level} prediction interval)",
            tenth(s)
        )
    });
    let far = t.words.as_deref().unwrap_or_default();
    format!(
        "a life of {asked}: {} °C by the line ({within}){safe}; {far}",
        tenth(celsius)
    )
}

fn life_table(lives: &[LifeAt], level: f64) -> String {
    let ends = |e: Option<sealspan_report::wire::ageing::Ends>| {
        e.map_or_else(
            || "none".to_owned(),
            |e| {
                format!(
                    "{} to {}",
                    number::significant(e.lower, 3),
                    number::significant(e.upper, 3)
                )
            },
        )
    };
    let rows: Vec<Vec<String>> = lives
        .iter()
        .map(|l| {
            vec![
                format!("{} °C", temperature(l.temperature_c)),
                hours(l.estimate),
                ends(l.confidence),
                ends(l.prediction),
                l.if_bent
                    .map_or_else(|| "not known".to_owned(), |h| number::significant(h, 2)),
            ]
        })
        .collect();
    let level = number::level(level);
    let mut out = table(
        &[
            "service",
            "time to the limit",
            &format!("{level} confidence, h"),
            &format!("{level} prediction, h"),
            "if the line bends, h",
        ],
        &rows,
    );
    out.push('\n');
    for l in lives {
        out.push_str(&format!(
            "  {} °C: {}\n",
            temperature(l.temperature_c),
            l.words
        ));
    }
    out
}

/// A temperature as asked for, or to a tenth where it was worked out.
fn temperature(celsius: f64) -> String {
    let tenths = number::fixed(celsius, 1);
    tenths.trim_end_matches(".0").to_owned()
}

fn duty_text(duty: &DutyResult, level: f64) -> String {
    let mut out = format!("  duty cycle: {}\n", duty.words);
    if let (Some(l), Some(u)) = (duty.equivalent_c.lower, duty.equivalent_c.upper) {
        out.push_str(&format!(
            "    {} interval of that temperature, from the interval of the energy: {} to {} °C\n",
            number::level(level),
            number::fixed(l, 0),
            number::fixed(u, 0)
        ));
    }
    if let Some(life) = &duty.life {
        let prediction = life.prediction.map_or_else(String::new, |p| {
            format!(
                " ({} prediction interval {} to {})",
                number::level(level),
                number::significant(p.lower, 3),
                number::significant(p.upper, 3)
            )
        });
        out.push_str(&format!(
            "    time to the limit at that temperature {}{prediction}; {}\n",
            hours(life.estimate),
            life.words
        ));
    }
    out
}
