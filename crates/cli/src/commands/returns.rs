//! `returns`: for makers, what will come back of batches shipped, the reserve, and service kits.

use super::demand::parts;
use crate::Answer;
use crate::args::Returns;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::table::table;
use sealspan_care::returns::{Kit, Returns as Found, ReturnsQuestion, Shipped, kit};
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_records::{Clock, Question, Sheet, ask};
use sealspan_report::analysis::lives::{GroupLife, groups, together};
use sealspan_report::number;
use serde::Serialize;
use std::path::Path;

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    unit: &'static str,
    horizon: f64,
    confidence: f64,
    #[serde(flatten)]
    returns: Found,
    kit: Option<Kit>,
    #[serde(skip_serializing_if = "Option::is_none")]
    kit_reason: Option<&'static str>,
    notes: Vec<String>,
}

pub fn run(args: &Returns) -> Answer {
    let shipped = shipped(&args.shipped)?;
    let (life, draws) = life(args)?;
    let question = ReturnsQuestion {
        life: &life,
        draws: &draws,
        horizon: args.horizon,
        warranty: args.warranty,
        claimed: args.claimed,
        cost: args.return_cost,
        confidence: args.confidence,
        reserve_chance: args.reserve_chance,
    };
    let returns = question.answer(&shipped)?;
    let kit = match (args.kit_positions, args.service_every) {
        (Some(n), Some(every)) => Some(kit(&life, &draws, n as usize, every, args.reserve_chance)?),
        _ => None,
    };
    let known = if draws.is_empty() {
        "The life is taken as known: an estimated one would widen the intervals and the reserve."
    } else {
        "Intervals and reserve hold the error of the estimated life."
    };
    let document = Document {
        schema: "sealspan.returns.v1",
        unit: "days",
        horizon: args.horizon,
        confidence: args.confidence,
        returns,
        kit_reason: kit.is_none().then_some("not asked for: add --kit-positions and --service-every"),
        kit,
        notes: vec![
            known.to_owned(),
            "Seals age from the day given for their batch; those sent back are not replaced by ones that may come back too.".to_owned(),
        ],
    };
    Ok(Output::new(args.format.format, document, text))
}

fn life(args: &Returns) -> Result<(Life, Vec<Life>), Failure> {
    if let Some(text) = &args.life {
        let life = Life::parse(text).map_err(|why| {
            Failure::argument(why, "for example --life weibull:shape=2.5,scale=400")
        })?;
        return Ok((life, vec![]));
    }
    let Some(study) = &args.study else {
        return Err(Failure::argument(
            "there is no life",
            "give --life or --study",
        ));
    };
    let records = input::records(study, None)?;
    let question = Question {
        by: parts(&records),
        clock: Clock::Days,
        mode: records.study.question.mode.clone(),
    };
    let answer = ask(&records, &question)?;
    let [family, ..] = laws::all();
    let group: GroupLife = match &args.group {
        None => together(&answer, family, args.seed),
        Some(name) => {
            let all = groups(&answer, family, args.seed);
            let names: Vec<String> = all.iter().map(|g| g.key.words()).collect();
            all.into_iter()
                .find(|g| g.key.words() == *name)
                .ok_or_else(|| {
                    Failure::argument(
                        format!("the study has no group `{name}`"),
                        format!("choose from {}", names.join(", ")),
                    )
                })?
        }
    };
    let fitted = group
        .trusted()
        .map_err(|why| Failure::unanswerable(why, "state a life with --life"))?;
    Ok((fitted.life.clone(), fitted.draws.clone()))
}

/// The shipments, with each fault named by row and column.
fn shipped(path: &Path) -> Result<Vec<Shipped>, Failure> {
    let sheet = Sheet::open(path)?;
    let batch = sheet.need("batch", "which batch it is")?;
    let quantity = sheet.need("quantity", "how many were shipped")?;
    let age = sheet.need("age", "the days in service so far")?;
    let returned = sheet.find("returned");
    let whole = |column: &str, at: usize, value: f64| -> Result<usize, Failure> {
        if value >= 0.0 && value.fract() == 0.0 && value < 1e9 {
            Ok(value as usize)
        } else {
            let message = format!("{value} is not a number of seals");
            Err(sheet
                .fault(column, at, message, "give a whole number, zero or more")
                .into())
        }
    };
    let one = |at: usize| {
        let back = match returned {
            Some(column) => sheet
                .number(column, at)?
                .map(|n| whole(column, at, n))
                .transpose()?,
            None => None,
        };
        Ok(Shipped {
            batch: sheet
                .text(Some(batch), at)
                .unwrap_or_else(|| format!("row {}", sheet.row(at))),
            quantity: whole(quantity, at, sheet.filled(quantity, at)?)?,
            age: sheet.filled(age, at)?,
            returned: back.unwrap_or(0),
        })
    };
    (0..sheet.height()).map(one).collect()
}

fn text(d: &Document) -> String {
    let r = &d.returns;
    let rows: Vec<Vec<String>> = r
        .batches
        .iter()
        .map(|b| {
            vec![
                b.batch.clone(),
                b.out.to_string(),
                number::significant(b.expected, 3),
                format!("{} to {}", b.lower, b.upper),
                b.returned.to_string(),
                number::significant(b.expected_by_now, 3),
            ]
        })
        .collect();
    let level = number::level(d.confidence);
    let mut out = format!(
        "returns within {} days\n",
        number::significant(d.horizon, 4)
    );
    out.push_str(&table(
        &[
            "batch",
            "still out",
            "expected",
            &format!("{level} prediction interval"),
            "returned so far",
            "expected by now",
        ],
        &rows,
    ));
    out.push_str(&format!(
        "\n\nall batches: {} ({} to {})\n",
        number::significant(r.expected, 3),
        r.lower,
        r.upper
    ));
    if r.reserve > 0.0 {
        out.push_str(&format!(
            "reserve: {} is enough with a chance of {}; {} expected\n",
            number::significant(r.reserve, 4),
            number::percent(r.reserve_chance),
            number::significant(r.expected_cost, 4)
        ));
    }
    if let Some(kit) = &d.kit {
        out.push_str(&format!(
            "service kit for {} positions: {} {}, enough with a chance of {}; {} expected\n",
            kit.positions,
            kit.quantity,
            if kit.quantity == 1 { "seal" } else { "seals" },
            number::percent(kit.enough),
            number::significant(kit.expected, 3)
        ));
    }
    for note in &d.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out
}
