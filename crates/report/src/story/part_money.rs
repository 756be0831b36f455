//! A year of each part: as the records counted it, as practice goes on, under the plan, and the long run beside it.

use super::months::amounts_in;
use super::saved::{Saved, added, saved};
use super::words::money;
use crate::analysis::run::Results;
use crate::document::Table;
use crate::number::{self, NBSP};
use crate::wire::money::{MoneyDocument, PartMoney};
use std::collections::BTreeMap;

/// Savings that differ by a greater share than this are explained.
const WORTH_A_WORD: f64 = 0.1;
/// Shares of seals at a place that differ by as much are named.
const MOVED: f64 = 0.05;

/// The table.
pub(super) fn table(results: &Results, d: &MoneyDocument) -> Table {
    let list = saved(results);
    let m = |x: f64| money(x, "");
    let row = |part: &str,
               positions: f64,
               recorded: Option<f64>,
               [today, plan]: [f64; 2],
               long: Option<[f64; 3]>| {
        let [long, interval] = match long {
            Some([mean, low, high]) => [m(mean), format!("{}{NBSP}to{NBSP}{}", m(low), m(high))],
            None => ["not worked out".to_owned(), String::new()],
        };
        vec![
            part.to_owned(),
            number::fixed(positions, 0),
            recorded.map_or_else(|| "not known".to_owned(), m),
            m(today),
            m(plan),
            m(today - plan),
            long,
            interval,
        ]
    };
    let each = d.parts.iter().map(|p| {
        let recorded = p.recorded.as_ref().map(|year| year.cost);
        let long = of(&list, &p.part).map(|s| s.saving);
        row(
            &p.part,
            p.positions,
            recorded,
            [p.today.cost, p.plan.cost],
            long,
        )
    });
    let mut rows: Vec<Vec<String>> = each.collect();
    if d.parts.len() > 1 {
        let sum = |of: &dyn Fn(&PartMoney) -> f64| d.parts.iter().map(of).sum();
        let recorded = d.parts.iter().map(|p| Some(p.recorded.as_ref()?.cost));
        let long = d.parts.iter().map(|p| Some(of(&list, &p.part)?.saving));
        rows.push(row(
            "all",
            sum(&|p| p.positions),
            recorded.sum(),
            [sum(&|p| p.today.cost), sum(&|p| p.plan.cost)],
            long.collect::<Option<Vec<_>>>().map(|all| added(&all)),
        ));
    }
    let interval = format!("its {} interval", number::level(results.confidence));
    Table::new(
        format!(
            "A year of each part, averaged over these {} months, and the long run beside it{}",
            d.by_month.len(),
            amounts_in(&d.currency)
        ),
        &[
            "part",
            "seals",
            "as the records counted it",
            "as practice goes on",
            "under the plan",
            "saved",
            "saved in the long run",
            &interval,
        ],
        rows,
    )
}

/// The long run of a part.
fn of<'a>(list: &'a [Saved<'a>], part: &str) -> Option<&'a Saved<'a>> {
    list.iter().find(|s| s.group.group.words() == part)
}

/// Why a part saves otherwise in these months than in the long run, where it does.
pub(super) fn sentences(results: &Results, d: &MoneyDocument) -> Vec<String> {
    let list = saved(results);
    let one = |p: &PartMoney| {
        let mine = of(&list, &p.part)?;
        let [long, ..] = mine.saving;
        let months = p.today.cost - p.plan.cost;
        if (months - long).abs() <= WORTH_A_WORD * long.abs() {
            return None;
        }
        let m = |x: f64| money(x, &d.currency);
        Some(format!(
            "{} saves {} a year in these months and {} in the long run. {}",
            p.part,
            m(months),
            m(long),
            why(results, mine).unwrap_or_else(|| {
                "The months begin with the seals now in service, at their ages and at the rates of their places; the long run is of a steady fleet spread over the places as the recorded time was.".to_owned()
            })
        ))
    };
    d.parts.iter().filter_map(one).collect()
}

/// The places whose shares of the part's seals have changed by a twentieth or more since the records.
fn why(results: &Results, part: &Saved) -> Option<String> {
    let life = results.lives.iter().find(|l| l.key == part.group.group)?;
    let mut now: BTreeMap<&str, f64> = BTreeMap::new();
    for seal in &life.running {
        *now.entry(seal.site.as_deref()?).or_insert(0.0) += seal.count / part.positions;
    }
    let sites = part.plan.practice.sites.iter().filter_map(|s| {
        let name = s.site.as_deref().unwrap_or_default();
        let here = now.get(name).copied().unwrap_or(0.0);
        ((here - s.share).abs() >= MOVED).then(|| {
            format!(
                "{} at {name} ({} of the recorded time)",
                number::percent(here),
                number::percent(s.share)
            )
        })
    });
    let sites: Vec<String> = sites.collect();
    (!sites.is_empty()).then(|| {
        format!(
            "The months count its seals where they stand now and at the rates of those places, the long run as the recorded time was spread: now {}.",
            sites.join(", ")
        )
    })
}
