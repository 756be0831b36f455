//! What it costs now and then, what to budget and to hold, and what would change it, on one page.

use super::super::words::money;
use super::super::{months, plan_words, plans, saved, spent, words};
use super::{cautions, sheet};
use crate::analysis::money_split::Split;
use crate::analysis::run::Results;
use crate::column::spoken;
use crate::document::{Block, Document, Page, Table};
use crate::number;
use crate::wire::money::{MoneyDocument, MoneyMonth, Year};
use std::collections::BTreeMap;

/// Inputs named among what would change the decision.
const INPUTS: usize = 1;

/// The decision sheet of a study: by group the cost of a position now and under the plan and what all save, budget by month,
/// seals to hold, and what would change it.
#[must_use]
pub fn decision(results: &Results, stamp: &[(String, String)]) -> Document {
    let mut blocks = vec![];
    cost(results, &mut blocks);
    if let Some(d) = results.money.found() {
        budget(results, d, &mut blocks);
    }
    hold(results, &mut blocks);
    change(results, &mut blocks);
    blocks.push(Block::Cautions(cautions(&[
        "precedence",
        "lockout",
        "pressure_door",
        "hot_surface",
    ])));
    let page = Page {
        id: "decision".into(),
        title: "Decision sheet for finance".into(),
        reader: "What seals cost now and under the plan, what to budget and to hold.".into(),
        blocks,
    };
    sheet(results, page, stamp)
}

/// Cost now, cost under the plan and the saving, by group.
fn cost(results: &Results, blocks: &mut Vec<Block>) {
    let (_, per) = words::per_year(results);
    let list = saved::saved(results);
    let rows: Vec<Vec<String>> = list
        .iter()
        .map(|s| {
            vec![
                s.group.group.words(),
                plans::pen(results, s.plan).policy(&s.plan.weighed.plan),
                s.now_words(&results.currency),
                s.then_words(&results.currency),
                s.words(&results.currency),
                number::chance(s.chance_dearer, s.plan.weighed.draws),
            ]
        })
        .collect();
    let money_words = |d| format!("{} {}", months::saving(d), spent::saved(d));
    let saving = results.money.found().map(money_words);
    if rows.is_empty() {
        let why = || {
            let why = results.plans.reason().or(results.care.reason());
            let why =
                why.unwrap_or("no group has a plan that could be weighed against today's practice");
            format!(
                "Costs now and then are not worked out: {}.",
                why.trim_end_matches('.')
            )
        };
        blocks.push(Block::Answer(saving.unwrap_or_else(why)));
        return;
    }
    blocks.push(Block::Answer(saved::saved_in_all(
        &list,
        results,
        "under the plan",
    )));
    blocks.extend(saved::outside(results).map(Block::Text));
    let column = list.first().map(|s| s.group.group.0.as_slice());
    let column = match column {
        Some([(column, _)]) => spoken(column),
        _ => "group".to_owned(),
    };
    let heads = [
        column.as_str(),
        "the plan",
        "cost now",
        "cost planned",
        "saved",
        "chance dearer",
    ];
    let mut table = Table::new(
        format!(
            "Cost of all positions per {per}, with the {} interval of the saving",
            number::level(results.confidence)
        ),
        &heads,
        rows,
    );
    if let Some(plan) = table.columns.get_mut(1) {
        plan.1 = false;
    }
    blocks.push(Block::Table(table));
    let stop = plan_words::looks_stop(&list, results);
    if !stop.is_empty() {
        blocks.push(Block::Text(format!(
            "{} {}",
            stop.trim_start(),
            plan_words::STAY
        )));
    }
    blocks.extend(saving.map(Block::Text));
}

fn budget(results: &Results, d: &MoneyDocument, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("What to budget".into()));
    blocks.push(Block::Text(format!(
        "{}{}",
        months::need(d),
        months::not_in_it(d)
    )));
    blocks.push(Block::Text(order_now(results, d)));
    blocks.extend(by_month(d).map(Block::Table));
    blocks.extend(months::chart(d).map(|c| Block::Figure(Box::new(c))));
}

/// Seals to order at once for those past their age, and how many the first year takes.
fn order_now(results: &Results, d: &MoneyDocument) -> String {
    let first: Year = d.by_month.iter().take(MONTHS).map(|m| m.plan).sum();
    let today: Year = d.by_month.iter().take(MONTHS).map(|m| m.today).sum();
    let seals = |y: &Year| number::significant(y.failures + y.planned, 3);
    let mut past: BTreeMap<&str, f64> = BTreeMap::new();
    let list = results.due.found().map_or(&[][..], |l| &l.seals);
    for seal in list
        .iter()
        .filter(|s| s.due_in.is_some_and(|left| left <= 0.0))
    {
        *past.entry(&seal.part).or_default() += seal.count;
    }
    let cost = past
        .iter()
        .map(|(part, n)| Some(n * seal_price(results, part)?));
    let cost: Option<f64> = cost.sum();
    let cost = cost.map_or_else(String::new, |c| format!(", {}", money(c, &d.currency)));
    let now = if past.is_empty() {
        String::new()
    } else {
        let each: Vec<String> = past
            .iter()
            .map(|(part, n)| format!("{part} {}", number::fixed(*n, 0)))
            .collect();
        format!(
            "Order now, beside the spares below, for {} seals past their age: {}{cost}. ",
            number::fixed(past.values().sum(), 0),
            each.join(", ")
        )
    };
    format!(
        "{now}The first {MONTHS} months take about {} seals, {} as practice goes on.",
        seals(&first),
        seals(&today)
    )
}

/// Months of the table.
const MONTHS: usize = 12;

/// The first year's months, in thousands; `None` where amounts are too small for that.
fn by_month(d: &MoneyDocument) -> Option<Table> {
    let shown = d.by_month.get(..MONTHS.min(d.by_month.len()))?;
    let row = |name: &str, of: &dyn Fn(&MoneyMonth) -> f64| {
        let cells = shown.iter().map(|m| number::fixed(of(m) / 1000.0, 1));
        let name = std::iter::once(name.to_owned());
        name.chain(cells).collect::<Vec<_>>()
    };
    let rows = vec![
        row("the plan, hours down included", &|m| m.plan.cost),
        row("of it to be spent", &|m| Split::of(d, &m.plan).spent),
        row("today's practice", &|m| m.today.cost),
    ];
    let numbers: Vec<String> = shown.iter().map(|m| m.month.to_string()).collect();
    let heads: Vec<&str> = std::iter::once("month")
        .chain(numbers.iter().map(String::as_str))
        .collect();
    let from = shown.first()?.begins.as_ref();
    let from = from.map_or_else(String::new, |day| format!(" from {day}"));
    let largest = shown.iter().map(|m| m.plan.cost).fold(0.0, f64::max);
    (largest >= 1000.0).then(|| {
        Table::new(
            format!(
                "Months{from}, in thousands{}; month 1 holds the seals past their age; intervals in report.html",
                months::amounts_in(&d.currency)
            ),
            &heads,
            rows,
        )
    })
}

/// Price of a part's seal.
fn seal_price(results: &Results, part: &str) -> Option<f64> {
    let d = results.money.found()?;
    d.parts.iter().find(|p| p.part == part)?.seal_price
}

/// Stocks by place, a row each.
fn hold(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("What to hold".into()));
    let Some(stock) = results.stock.found() else {
        let why = results.stock.reason().unwrap_or("no reason known");
        blocks.push(Block::Text(format!(
            "Stocks are not worked out: {}.",
            why.trim_end_matches('.')
        )));
        return;
    };
    let mut places: BTreeMap<&str, (Vec<String>, f64, usize)> = BTreeMap::new();
    for p in &stock.places {
        let Some(best) = &p.answer.best else { continue };
        let own = places.entry(&p.place).or_default();
        own.0.push(match best.order_quantity {
            Some(n) if n > 1 => format!("{}: at {} order {n}", p.part, best.reorder_point),
            _ => format!("{}: keep {}", p.part, best.level.stock),
        });
        own.1 += best.level.cost_rate * sealspan_care::costs::DAYS_PER_YEAR;
        own.2 += best.level.stock;
    }
    let total: usize = places.values().map(|p| p.2).sum();
    let cost: f64 = places.values().map(|p| p.1).sum();
    let singly = places
        .values()
        .flat_map(|p| &p.0)
        .any(|one| one.contains(": keep "));
    let fill: Option<f64> = stock
        .places
        .iter()
        .filter_map(|p| Some((p, p.answer.best.as_ref()?.level.stock as f64)))
        .map(|(p, n)| Some(n * seal_price(results, &p.part)?))
        .sum();
    let fill = fill.map_or_else(String::new, |cost| {
        format!(
            " (at most {} to fill the shelves once)",
            money(cost, &results.currency)
        )
    });
    blocks.push(Block::Text(format!(
        "At most {total} spares over all sites, for failures and findings{fill}; holding, ordering and running short cost {} a year. \"At 1 order 5\": when one is left, with those on order, order five{}.",
        money(cost, &results.currency),
        if singly {
            "; \"keep\": as many, each re-ordered as it is taken"
        } else {
            ""
        }
    )));
    let rows = places.into_iter().map(|(place, (parts, cost, most))| {
        vec![
            place.to_owned(),
            parts.join("; "),
            most.to_string(),
            money(cost, &results.currency),
        ]
    });
    let mut table = Table::new(
        "Spares by place",
        &[
            "place",
            "when to order how many",
            "most held",
            "cost a year",
        ],
        rows.collect(),
    );
    if let Some(orders) = table.columns.get_mut(1) {
        orders.1 = false;
    }
    blocks.push(Block::Table(table));
}

/// Which inputs move the saving most, and what comes before money.
fn change(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("What would change it".into()));
    let money = results.money.found();
    let swings = money.map_or(&[][..], |d| &d.swings);
    let over_all = money.map_or_else(String::new, |d| {
        let width = d.present_value_upper.zip(d.present_value_lower);
        let width = width.map_or(d.present_value, |(high, low)| high - low);
        format!(
            "{} over {} months",
            number::money_to(d.present_value, width, &d.currency),
            d.by_month.len()
        )
    });
    let mut items: Vec<String> = swings
        .iter()
        .take(INPUTS)
        .map(|s| {
            let width = (s.at_high - s.at_low).abs();
            let m = |x: f64| number::money_to(x, width, &results.currency);
            format!(
                "{} at {} or {}: {} or {} saved, not {}.",
                words::capital(s.input),
                number::percent(s.low),
                number::percent(s.high),
                m(s.at_low),
                m(s.at_high),
                over_all
            )
        })
        .collect();
    items.extend(plan_words::saved_otherwise(results));
    blocks.push(Block::List(items));
}
