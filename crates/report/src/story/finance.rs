//! The finance manager's page: what it costs now, what the plan saves, what to hold and to budget.

use super::words::{self, money};
use super::{bought, decide, months, plans};
use crate::analysis::practised::Practice;
use crate::analysis::run::Results;
use crate::document::{Block, Page, Table};
use crate::number;
use crate::wire::stock::{StockDocument, Thumb, hold_words};

/// The page.
pub fn page(results: &Results) -> Page {
    let mut blocks = vec![];
    plans::finance(results, &mut blocks);
    saving(results, &mut blocks);
    months::page(results, &mut blocks);
    budget(results, &mut blocks);
    spares(results, &mut blocks);
    bought::page(results, &mut blocks);
    habits(results, &mut blocks);
    blocks.push(Block::Heading("What would change these figures".into()));
    blocks.push(Block::List(vec![
        weightiest(results),
        "Costs are long-run averages of a steady fleet; a fleet fitted all at once fails in waves at first.".into(),
        "Safety, the maker's limits and statutory intervals come before any saving shown here.".into(),
    ]));
    Page {
        id: "finance".into(),
        title: "For finance".into(),
        reader: "What seals cost now, what the advice saves, and what to hold in stock.".into(),
        blocks,
    }
}

/// The input that moves the saving most.
fn weightiest(results: &Results) -> String {
    let first = results.money.found().and_then(|d| d.swings.first());
    first.map_or_else(
        || "The price of an hour down is part of every failure and of every planned stop.".to_owned(),
        |s| {
            let width = (s.at_high - s.at_low).abs();
            let whole = |x: f64| number::money_to(x, width, &results.currency);
            format!(
                "Of the inputs moved one at a time, {} weighs most: from {} to {} of it the saving of the months runs from {} to {}.",
                s.input,
                number::percent(s.low),
                number::percent(s.high),
                whole(s.at_low),
                whole(s.at_high)
            )
        },
    )
}

/// What sites do otherwise than the lives call for.
fn habits(results: &Results, blocks: &mut Vec<Block>) {
    let found = results.positions.found();
    let sentences = found.map_or(&[][..], |p| &p.habits.sentences);
    if sentences.is_empty() {
        return;
    }
    blocks.push(Block::Heading("Which habits cost money?".into()));
    if !plans::all(results).is_empty() {
        blocks.push(Block::Text(super::words::AGES_OF_HABITS.into()));
    }
    blocks.extend(sentences.iter().cloned().map(Block::Text));
}

/// Replacement ages alone, for groups without a whole plan.
fn saving(results: &Results, blocks: &mut Vec<Block>) {
    let alone: Vec<&Practice> = results.practice.iter().filter(|p| !p.whole_plan).collect();
    if alone.is_empty() && !results.practice.is_empty() {
        return;
    }
    blocks.push(Block::Heading(
        if alone.len() < results.practice.len() {
            "What do groups without a whole plan cost?"
        } else {
            "What does it cost, and what is saved?"
        }
        .into(),
    ));
    if results.practice.is_empty() {
        let why = results
            .care
            .reason()
            .unwrap_or("no group has a life estimate");
        blocks.push(Block::Answer(format!("Costs are not worked out: {why}.")));
        return;
    }
    let (units, per) = words::per_year(results);
    let sum =
        |f: fn(&Practice) -> f64| -> f64 { alone.iter().map(|p| p.positions * f(p) * units).sum() };
    let (today, best) = (sum(|p| p.today_rate), sum(|p| p.best_rate));
    let positions: f64 = alone.iter().map(|p| p.positions).sum();
    let rule = match alone.first().and_then(|p| p.today_age) {
        Some(age) => format!(
            "under today's rule of replacing at {} {}",
            number::significant(age, 3),
            results.unit
        ),
        None => "replacing on failure only".into(),
    };
    blocks.push(Block::Answer(format!(
        "Seals of {} positions cost {} per {per} {rule}, and {} at the advised ages: {} less ({}).",
        number::fixed(positions, 0),
        money(today, &results.currency),
        money(best, &results.currency),
        money(today - best, &results.currency),
        number::percent((today - best) / today)
    )));
    let range = results.care.found().map(|care| {
        let ends = care.groups.iter().filter_map(|g| {
            let u = g.block.as_ref()?.uncertainty.as_ref()?;
            let p = alone.iter().find(|p| p.group == g.group)?.positions;
            Some((u.cost_rate.0 * p * units, u.cost_rate.1 * p * units))
        });
        ends.fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1))
    });
    if let Some((low, high)) = range.filter(|r| r.1 > 0.0) {
        blocks.push(Block::Text(format!(
            "With what the life estimates leave open, the advised plan costs {} to {} per {per} (the groups' {} intervals added up, which is on the wide side).",
            money(low, &results.currency),
            money(high, &results.currency),
            number::level(results.confidence)
        )));
    }
    blocks.push(Block::Table(saving_table(
        &alone,
        &results.currency,
        units,
        per,
    )));
    blocks.push(Block::Text(
        "Costs hold seals, labour, clean-up and scrap, and the hours down at the study's price; stock is counted below.".into(),
    ));
}

fn saving_table(alone: &[&Practice], currency: &str, units: f64, per: &str) -> Table {
    let rows = alone
        .iter()
        .map(|p| {
            let all = |rate: f64| money(rate * p.positions * units, currency);
            vec![
                p.group.words(),
                number::fixed(p.positions, 0),
                all(p.today_rate),
                all(p.best_rate),
                all(p.today_rate - p.best_rate),
            ]
        })
        .collect();
    Table::new(
        format!("Cost of all positions per {per}, by what is fitted now"),
        &["group", "positions", "today's rule", "advised age", "saved"],
        rows,
    )
}

fn budget(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading(
        "How many of the seals fitted now would fail?".into(),
    ));
    match (results.forecast.reason(), decide::ahead(results)) {
        (Some(why), _) => blocks.push(Block::Answer(format!("No forecast: {why}."))),
        (None, Some(chart)) => blocks.push(Block::Figure(Box::new(chart))),
        (None, None) => {}
    }
    blocks.push(Block::Text(
        "Each seal's first failure is counted; failures of the seals put in its place come on top."
            .into(),
    ));
}

/// Places shown on the page; the file holds all.
const SHOWN: usize = 30;

fn spares(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("How many spares to hold?".into()));
    let Some(stock) = results.stock.found() else {
        let why = results.stock.reason().unwrap_or("no reason known");
        blocks.push(Block::Answer(format!("Stocks are not worked out: {why}.")));
        return;
    };
    let held: usize = stock
        .places
        .iter()
        .filter_map(|p| p.answer.best.as_ref())
        .map(|b| b.level.stock)
        .sum();
    let cost: f64 = stock
        .places
        .iter()
        .filter_map(|p| p.answer.best.as_ref())
        .map(|b| b.level.cost_rate * sealspan_care::costs::DAYS_PER_YEAR)
        .sum();
    blocks.push(Block::Answer(format!(
        "Hold at most {held} spares over all sites for failures and findings (lots just come in included); holding them, ordering and running short together cost {} per year. Seals for planned replacements are ordered a lead time ahead; what those orders cost is not counted.",
        money(cost, &results.currency)
    )));
    blocks.extend(decide::stock_curve(results).map(|c| Block::Figure(Box::new(c))));
    let rows = stock
        .places
        .iter()
        .take(SHOWN)
        .filter_map(|p| {
            let best = p.answer.best.as_ref()?;
            let units = sealspan_care::costs::DAYS_PER_YEAR;
            Some(vec![
                format!("{}, {}", p.place, p.part),
                p.positions.map_or_else(String::new, |n| n.to_string()),
                number::significant(p.unplanned_per_day * units, 2),
                number::significant(p.planned_per_day * units, 2),
                hold_words(best),
                number::percent(best.level.fill_rate),
                money(best.level.cost_rate * units, &results.currency),
            ])
        })
        .collect();
    blocks.push(Block::Table(Table::new(
        "Spares for failures, findings and spoilt seals under the plan, by place and material",
        &[
            "place",
            "positions",
            "failures a year",
            "planned a year",
            "hold",
            "met at once",
            "cost a year",
        ],
        rows,
    )));
    blocks.push(Block::Text(rule_of_thumb(stock, &results.currency)));
    blocks.extend(scrapped(stock, &results.currency).map(Block::Text));
}

/// One spare for a lone asset, two for several, held against the best number at each place.
fn rule_of_thumb(stock: &StockDocument, currency: &str) -> String {
    let all = &stock.rule_of_thumb;
    let told = |off: Vec<&Thumb>, way: &str| {
        let dearest = off
            .iter()
            .max_by(|a, b| a.extra_cost_per_year.total_cmp(&b.extra_cost_per_year))?;
        let cost: f64 = off.iter().map(|t| t.extra_cost_per_year).sum();
        Some(format!(
            "too {way} at {} (it costs {} a year more in all, most at {}, {}: {} held instead of {}, {})",
            off.len(),
            money(cost, currency),
            dearest.place,
            dearest.part,
            dearest.rule,
            dearest.advised,
            money(dearest.extra_cost_per_year, currency)
        ))
    };
    let few = told(all.iter().filter(|t| t.rule < t.advised).collect(), "few");
    let many = told(all.iter().filter(|t| t.rule > t.advised).collect(), "many");
    let right = all.iter().filter(|t| t.rule == t.advised).count();
    let off: Vec<String> = few.into_iter().chain(many).collect();
    let off = if off.is_empty() {
        String::new()
    } else {
        format!(", {}", off.join(", "))
    };
    format!(
        "Common practice, no source: one spare for a lone asset, about two for several, each re-ordered as it is taken. Of {} places and parts that is the number that costs least at {right}{off}. Holding too few costs the hours down and urgent orders for want of a seal, too many the money tied up.",
        all.len()
    )
}

/// Seals that go out of date on the shelf; `None` without a shelf life.
fn scrapped(stock: &StockDocument, currency: &str) -> Option<String> {
    let days = stock.shelf_life?;
    let rates = stock.places.iter().filter_map(|p| {
        let best = p.answer.best.as_ref()?;
        Some((best.scrap_rate?, p.unit_price?))
    });
    let (seals, worth) = rates.fold((0.0, 0.0), |sum, (rate, price)| {
        let a_year = rate * sealspan_care::costs::DAYS_PER_YEAR;
        (sum.0 + a_year, sum.1 + a_year * price)
    });
    let source = stock.shelf_life_source.as_deref();
    Some(format!(
        "Seals keep {} days on the shelf{}, the one that goes out of date first issued first: at most {} a year go out of date there over all places, {} of seals.",
        number::significant(days, 4),
        source.map_or_else(String::new, |s| format!(" ({s})")),
        number::significant(seals, 2),
        number::money(worth, currency)
    ))
}
