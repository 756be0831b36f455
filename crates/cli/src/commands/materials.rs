//! `materials`: which elastomer for a duty, by tables and by the user's own records.

use crate::Answer;
use crate::args::Materials;
use crate::cautioned::before_acting;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_care::screening::Tables;
use sealspan_records::materials::facts;
use sealspan_records::{NONE, Records};
use sealspan_report::analysis::extras::own_prices;
use sealspan_report::analysis::materials::{MaterialsQuestion, Money, materials};
use sealspan_report::analysis::materials_field::{Where, field};
use sealspan_report::analysis::materials_here::here;
use sealspan_report::analysis::prices;
use sealspan_report::number;
use sealspan_report::wire::Number;
use sealspan_report::wire::materials::{MaterialResult, MaterialsDocument};
use std::collections::BTreeMap;

pub fn run(args: &Materials) -> Answer {
    let own = match &args.limits {
        Some(path) => facts(path)?,
        None => vec![],
    };
    let tables = Tables::with_own(own)?;
    let mut question = MaterialsQuestion {
        celsius: args.temperature,
        media: args
            .medium
            .iter()
            .map(|m| m.trim().to_owned())
            .filter(|m| !m.is_empty() && m != NONE)
            .collect(),
        confidence: args.confidence,
        prices: args.price.iter().copied().collect(),
        seed: args.seed,
    };
    let records = args
        .input
        .as_ref()
        .map(|path| input::records(path, None))
        .transpose()?;
    if let Some(records) = &records {
        let stated = std::mem::take(&mut question.prices);
        question.prices = own_prices(&records.study.costs);
        question.prices.extend(stated);
    }
    let _progress = Progress::start("weighing materials");
    let place = Where {
        temperature: args.temperature_column.clone(),
        media: args.medium_column.clone(),
        within: args.within,
        by: args.by.clone(),
    };
    let money = records.as_ref().map(money).unwrap_or_default();
    let asset = args.asset.as_deref();
    let here = records
        .as_ref()
        .map(|records| here(records, &mut question, asset, &place, &money))
        .transpose()?
        .flatten();
    let field = records
        .as_ref()
        .map(|records| field(records, &tables, &question, &place))
        .transpose()?;
    let document = materials(&tables, field.as_ref(), &money, &question, here);
    Ok(Output::new(args.format.format, document, text))
}

/// What a study says of money; nothing without a seal price.
fn money(records: &Records) -> Money {
    let study = &records.study;
    Money {
        currency: study.currency.clone(),
        seal_price: study.costs.seal_price,
        prices: study.costs.seal_price.map(|_| prices::replacement(study)),
    }
}

fn text(d: &MaterialsDocument) -> String {
    let mut out = String::from("elastomers for ");
    let mut asked: Vec<String> = vec![];
    asked.extend(d.temperature_c.map(|c| format!("{c} °C")));
    for m in &d.media {
        asked.push(match (&m.medium, &m.reason) {
            (Some(medium), _) if *medium != m.asked => format!("{} (as {medium})", m.asked),
            (None, Some(why)) => format!("{} ({why})", m.asked),
            _ => m.asked.clone(),
        });
    }
    if asked.is_empty() {
        asked.push("no stated temperature or medium".to_owned());
    }
    out.push_str(&format!("{}\n\n", asked.join(", ")));
    for sentence in &d.advice {
        out.push_str(&format!("{sentence}\n"));
    }
    if let Some(field) = &d.field {
        out.push_str(&format!(
            "\nfield lives from {}; {} intervals in brackets\n",
            field.words,
            number::level(d.confidence)
        ));
    }
    out.push_str(&lives(d));
    out.push_str(&split(d));
    out.push_str(&at_conditions(d));
    out.push_str("\nwhat the tables say\n");
    for m in &d.materials {
        out.push_str(&family(m));
    }
    let sources = sources(d);
    if !sources.is_empty() {
        out.push_str("\nsources\n");
    }
    for line in sources {
        out.push_str(&format!("  {line}\n"));
    }
    let caveats = caveats(d);
    if !caveats.is_empty() {
        out.push_str("\nwhat the tables add\n");
    }
    for line in caveats {
        out.push_str(&format!("  {line}\n"));
    }
    out.push_str("\nnot known\n");
    for line in &d.not_known {
        out.push_str(&format!("  {line}\n"));
    }
    out.push('\n');
    for note in &d.notes {
        out.push_str(&format!("{note}\n"));
    }
    out.push_str(&before_acting(&d.cautions));
    out
}

/// The families with lives of the user's own.
fn lives(d: &MaterialsDocument) -> String {
    let rows: Vec<Vec<String>> = d
        .materials
        .iter()
        .filter_map(|m| {
            let field = m.field.as_ref()?;
            let rank = match (m.rank, &m.rank_reason) {
                (Some(rank), _) => rank.to_string(),
                (None, why) => why.clone().unwrap_or_default(),
            };
            Some(vec![
                m.material.clone(),
                field.mean_temperature_c.map_or_else(
                    || "any".to_owned(),
                    |c| number::fixed(c, 1).trim_end_matches(".0").to_owned(),
                ),
                number::fixed(field.seals, 0),
                number::fixed(field.failures, 0),
                life(&field.mean_life),
                life(&field.b10),
                m.cost_per_year.as_ref().map_or_else(
                    || "none".to_owned(),
                    |c| money_cell(c, d.currency.as_deref()),
                ),
                rank,
            ])
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let head = [
        "material",
        "mean °C",
        "seals",
        "failed",
        "mean life, days",
        "one in ten failed by",
        "cost per year",
        "rank",
    ];
    format!("{}\n", table(&head, &rows))
}

/// Lives at the asset's or exposure's own conditions.
fn at_conditions(d: &MaterialsDocument) -> String {
    let Some(found) = &d.at_conditions else {
        return String::new();
    };
    let rows: Vec<Vec<String>> = found
        .lives
        .iter()
        .map(|l| {
            vec![
                l.material.clone(),
                life(&l.mean_life),
                life(&l.b10),
                money_cell(&l.cost_per_year, d.currency.as_deref()),
                if l.extrapolated { "yes" } else { "no" }.to_owned(),
            ]
        })
        .collect();
    let head = [
        "material",
        "mean life, days",
        "one in ten failed by",
        "cost per year",
        "extrapolated",
    ];
    let mut out = format!(
        "\nby a regression over all records, at {}\n{}\n",
        found.conditions_or_none(),
        table(&head, &rows)
    );
    for line in found.fit.words.iter().chain(&found.warnings) {
        out.push_str(&format!("  {line}\n"));
    }
    out
}

/// The lives split further.
fn split(d: &MaterialsDocument) -> String {
    let rows: Vec<Vec<String>> = d
        .field_by
        .iter()
        .map(|f| {
            vec![
                f.material.clone(),
                f.group.words(),
                number::fixed(f.life.seals, 0),
                number::fixed(f.life.failures, 0),
                life(&f.life.mean_life),
            ]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let head = ["material", "group", "seals", "failed", "mean life, days"];
    format!("\n{}\n", table(&head, &rows))
}

fn life(n: &Number) -> String {
    let width = n.lower.zip(n.upper).map(|(l, u)| u - l);
    let write =
        |x: f64| width.map_or_else(|| number::significant(x, 3), |w| number::to_width(x, w));
    let end = |x: Option<f64>| x.map_or_else(|| "open".to_owned(), write);
    match (n.estimate, n.lower) {
        (Some(e), _) => format!("{} ({} to {})", write(e), end(n.lower), end(n.upper)),
        (None, Some(l)) => format!("at least {}", write(l)),
        _ => "none".to_owned(),
    }
}

fn money_cell(n: &Number, currency: Option<&str>) -> String {
    let write = |x: f64| number::fixed(x, 0);
    match (n.estimate, n.lower, n.upper) {
        (Some(e), Some(l), Some(u)) => format!(
            "{} ({} to {})",
            number::money(e.round(), currency.unwrap_or("")),
            write(l),
            write(u)
        ),
        (Some(e), _, _) => number::money(e.round(), currency.unwrap_or("")),
        (None, _, Some(u)) => format!(
            "at most {}",
            number::money(u.round(), currency.unwrap_or(""))
        ),
        _ => "none".to_owned(),
    }
}

fn family(m: &MaterialResult) -> String {
    let mut out = format!("  {}: {}\n", m.material, m.verdict.replace('_', " "));
    for r in &m.remarks {
        out.push_str(&format!("    {}\n", r.text));
    }
    out
}

/// Each source once, with how it is known.
fn sources(d: &MaterialsDocument) -> Vec<String> {
    let mut out: Vec<String> = vec![];
    let facts = d
        .materials
        .iter()
        .flat_map(|m| m.remarks.iter().flat_map(|r| &r.facts));
    for fact in facts {
        let line = if normal_same(&fact.source, fact.basis.words()) {
            fact.basis.words().to_owned()
        } else {
            format!("{}: {}", fact.basis.words(), fact.source)
        };
        if !out.contains(&line) {
            out.push(line);
        }
    }
    out.sort();
    out
}

/// What the foot of the answer says of every class table.
const OF_EVERY_CLASS: &str = "class level only";

/// What the tables' rows say beside their ratings and limits, with the materials it is said of.
fn caveats(d: &MaterialsDocument) -> Vec<String> {
    let mut said: BTreeMap<(&str, String), Vec<&str>> = BTreeMap::new();
    for m in &d.materials {
        for fact in m.remarks.iter().flat_map(|r| &r.facts) {
            let parts = fact.note.as_deref().unwrap_or_default().split("; ");
            let own: Vec<&str> = parts
                .filter(|part| !part.is_empty() && !part.starts_with(OF_EVERY_CLASS))
                .collect();
            let all = said
                .entry((fact.medium.as_deref().unwrap_or_default(), own.join("; ")))
                .or_default();
            if !all.contains(&m.material.as_str()) {
                all.push(&m.material);
            }
        }
    }
    said.retain(|(_, words), _| !words.is_empty());
    let line = |((medium, words), materials): (&(&str, String), &Vec<&str>)| match *medium {
        "" => format!("{}: {words}", materials.join(", ")),
        medium => format!("{medium}, {}: {words}", materials.join(", ")),
    };
    said.iter().map(line).collect()
}

fn normal_same(a: &str, b: &str) -> bool {
    sealspan_records::words::normal(a) == sealspan_records::words::normal(b)
}
