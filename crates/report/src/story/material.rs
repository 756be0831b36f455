//! Which material one asset should get, on the engineer's page.

use super::own_ages;
use super::words::{capital, cell};
use crate::analysis::material_for::{Chosen, Why};
use crate::analysis::run::Results;
use crate::column::spoken;
use crate::document::{Block, Table};
use crate::number;
use crate::wire::materials::{FieldLife, Lives, MaterialResult, MaterialsDocument};

/// Heads of columns of words.
const WORDS: [&str; 3] = ["material", "the tables", "rank by cost"];

/// Advice for the asset chosen, the answer first.
pub(super) fn material(results: &Results, blocks: &mut Vec<Block>) {
    let (Some(found), Some(chosen)) = (results.materials.found(), &results.material_for) else {
        return;
    };
    let Some(here) = &found.at_conditions else {
        return;
    };
    blocks.push(Block::Heading(format!(
        "Which material for {}?",
        chosen.asset
    )));
    let mut sentences = found.advice.iter().cloned();
    let first = sentences
        .next()
        .map(|advice| match amiss(results, &chosen.asset) {
            Some(why) => format!("{why} {advice}"),
            None => advice,
        });
    blocks.extend(first.map(Block::Answer));
    blocks.push(Block::Text(format!(
        "{} Advice for another asset: `sealspan materials STUDY --asset NAME`.",
        taken_for(chosen)
    )));
    let rest: Vec<String> = sentences.collect();
    if !rest.is_empty() {
        blocks.push(Block::List(rest));
    }
    blocks.extend(field_lives(found).map(Block::Table));
    blocks.extend(few_failures(found).map(Block::Text));
    blocks.push(Block::Table(regression_lives(found, here)));
    let warned = here.warnings.iter().map(|w| format!("{}.", capital(w)));
    let doubts: Vec<String> = here.fit.words.iter().cloned().chain(warned).collect();
    if !doubts.is_empty() {
        blocks.push(Block::Folded {
            title: "How far that regression is to be trusted".to_owned(),
            lines: doubts,
        });
    }
    if !found.not_known.is_empty() {
        let each = found.not_known.iter().map(|n| format!("{}.", capital(n)));
        blocks.push(Block::Folded {
            title: "What is not known".to_owned(),
            lines: each.collect(),
        });
    }
}

/// Why this asset was taken.
fn taken_for(chosen: &Chosen) -> String {
    let asset = &chosen.asset;
    match &chosen.why {
        Why::Shortens(s) => format!(
            "{asset} stands for its like: {}seals with {} {} last {} times as long as without it, and there most of them failed.",
            s.within
                .as_ref()
                .map_or_else(String::new, |w| format!("{} ", w.1)),
            spoken(&s.column),
            s.level,
            number::to_width(s.life_ratio, s.upper - s.lower)
        ),
        Why::Hungry => format!("{asset} was taken for being furthest out of line."),
        Why::MostFailures => format!("{asset} was taken for having the most failures."),
    }
}

/// The material that costs least where one material's life is shortened, in a sentence for the head of the report; `None`
/// unless the seals that met it tell the failures of the two apart.
pub(super) fn instead(results: &Results) -> Option<String> {
    let found = results.materials.found()?;
    let Some(Why::Shortens(s)) = results.material_for.as_ref().map(|c| &c.why) else {
        return None;
    };
    let (_, material) = s.within.as_ref()?;
    let best = found.materials.iter().find(|m| m.rank == Some(1))?;
    let own = found.materials.iter().find(|m| m.material == *material)?;
    let p = found.first_two_p_value.filter(|p| *p < 0.05)?;
    if own.rank != Some(2) {
        return None;
    }
    let (few, many) = (best.field.as_ref()?, own.field.as_ref()?);
    let years = |f: &FieldLife| number::significant(f.seal_years, 2);
    let whole = |x: f64| number::fixed(x, 0);
    let priced = |m: &MaterialResult| m.cost_per_year.as_ref()?.estimate;
    let cost = match (priced(best), priced(own)) {
        (None, Some(_)) => format!(
            " Too few {} failed to price it; {material} costs {} a position and year there.",
            best.material,
            cell(own.cost_per_year.as_ref()?)
        ),
        _ => format!(
            " It costs {} a position and year there, {material} {}.",
            cell(best.cost_per_year.as_ref()?),
            cell(own.cost_per_year.as_ref()?)
        ),
    };
    Some(format!(
        "Where {material} meets {}, {} fails less: {} of {} seals there in {} seal-years, of {material} {} of {} in {} (log-rank test, {}).{cost}{} The tables of materials call {} {}; the maker's limits decide.",
        s.level,
        best.material,
        whole(few.failures),
        whole(few.seals),
        years(few),
        whole(many.failures),
        whole(many.seals),
        years(many),
        number::p_value(p),
        until_then(results, material, &s.level),
        best.material,
        best.verdict
            .replace('_', " ")
            .replace("with care", "fit with care")
    ))
}

/// The age to go by at that duty until another material is fitted, where it has one of its own.
fn until_then(results: &Results, material: &str, level: &str) -> String {
    let own = || {
        let ages = results.money.found()?.own_ages_by_duty.as_ref()?;
        let mut taken = own_ages::taken(ages).into_iter();
        let own = taken.find(|o| o.part == material && o.at == level)?;
        Some(own_ages::age(own.own_age))
    };
    own().map_or_else(String::new, |age| {
        format!(" Until it is fitted, the age to go by there is its own, {age}, not the plan's, which the list of what is due keeps to.")
    })
}

/// What the table's bounds rest on where failures are few; `None` where they are not.
fn few_failures(found: &MaterialsDocument) -> Option<String> {
    let few = |m: &&MaterialResult| {
        let life = m.field.as_ref().map(|f| &f.mean_life);
        life.is_some_and(|n| n.estimate.is_none())
    };
    let names: Vec<&str> = found
        .materials
        .iter()
        .filter(few)
        .map(|m| m.material.as_str())
        .collect();
    (!names.is_empty()).then(|| {
        format!(
            "{}: too few failed there to tell how they wear out. Their lives and costs are as if failures came at one rate whatever the age, and each seal were left to fail: no bound for seals that wear out. The regression below says more.",
            names.join(", ")
        )
    })
}

/// What the user's own records say of each material in that exposure; `None` without any.
fn field_lives(found: &MaterialsDocument) -> Option<Table> {
    let rows = found.materials.iter().filter_map(|m| {
        let field = m.field.as_ref()?;
        let rank = m.rank.map(|r| r.to_string());
        Some(vec![
            m.material.clone(),
            m.verdict.replace('_', " "),
            number::fixed(field.seals, 0),
            number::fixed(field.failures, 0),
            cell(&field.mean_life),
            cell(&field.b10),
            m.cost_per_year.as_ref().map_or_else(String::new, cell),
            rank.or_else(|| m.rank_reason.clone()).unwrap_or_default(),
        ])
    });
    let rows: Vec<Vec<String>> = rows.collect();
    let from = found.field.as_ref().map(|f| &f.words)?;
    let mut table = Table::new(
        format!(
            "Lives in days and cost of a position per year ({}) of seals in that exposure: from {from} ({} confidence intervals)",
            found.currency.as_deref().unwrap_or("no currency stated"),
            number::level(found.confidence)
        ),
        &[
            "material",
            "the tables",
            "seals",
            "failed",
            "mean life",
            "10 % failed by",
            "cost",
            "rank by cost",
        ],
        rows,
    );
    as_words(&mut table);
    (!table.rows.is_empty()).then_some(table)
}

fn regression_lives(found: &MaterialsDocument, here: &Lives) -> Table {
    let verdict = |m: &str| {
        let row = found.materials.iter().find(|r| r.material == m);
        row.map_or_else(String::new, |r| r.verdict.replace('_', " "))
    };
    let rows = here.lives.iter().map(|l| {
        vec![
            l.material.clone(),
            verdict(&l.material),
            cell(&l.mean_life),
            cell(&l.b10),
            cell(&l.cost_per_year),
            if l.extrapolated { "yes" } else { "no" }.to_owned(),
        ]
    });
    let mut table = Table::new(
        format!(
            "Lives in days and cost of a position per year ({}) at {}, by a regression over all records",
            found.currency.as_deref().unwrap_or("no currency stated"),
            here.conditions_or_none()
        ),
        &[
            "material",
            "the tables",
            "mean life",
            "10 % failed by",
            "cost",
            "extrapolated",
        ],
        rows.collect(),
    );
    as_words(&mut table);
    table
}

/// Sets columns of words to the left.
fn as_words(table: &mut Table) {
    for column in &mut table.columns {
        column.1 = !WORDS.contains(&column.0.as_str());
    }
}

/// What is wrong with the place itself, which no material mends.
fn amiss(results: &Results, asset: &str) -> Option<String> {
    let all = &results.positions.found()?.positions;
    let own = all.iter().filter(|p| p.asset == asset);
    let own = own.filter(|p| p.out_of_line || p.hungry);
    let worst = own.max_by(|a, b| a.replacements.cmp(&b.replacements))?;
    let what = if worst.out_of_line {
        "its door is out of line: mend that first"
    } else {
        "something there eats seals: find it first"
    };
    let rate = worst
        .shrunk_rate_ratio
        .estimate
        .map_or_else(String::new, |r| {
            format!(
                ", and fails them at {} times the ordinary rate at ages alike",
                number::significant(r, 2)
            )
        });
    Some(format!(
        "{asset} has had {} seals replaced{rate}; {what}. The lives below are those of an ordinary place, which this one is not.",
        worst.replacements
    ))
}
