//! What to budget month by month, and what the plan saves against today's practice with its risk.

use super::words::money;
use super::{back_test, last_year, part_money, place_money, spent, tornado};
use crate::analysis::money_split::Split;
use crate::analysis::run::{Part, Results};
use crate::chart::{Axis, Bar, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::document::{Block, Table};
use crate::number::{self, NBSP};
use crate::scale::Tick;
use crate::wire::money::{MoneyDocument, MoneyMonth, Year};
use jiff::civil::Date;

/// Forecasts off by a greater share than this are to be minded.
const MINDED: f64 = 0.15;
/// Months of the first year, which the figure shows.
const YEAR: usize = 12;
/// Months in the table; the file holds all.
const SHOWN: usize = 24;
/// Both parts of the finance page.
pub(super) fn page(results: &Results, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("What to budget, month by month?".into()));
    let Some(d) = results.money.found() else {
        let why = results.money.reason().unwrap_or("no reason known");
        blocks.push(Block::Answer(format!(
            "Months are not budgeted: {}.",
            why.trim_end_matches('.')
        )));
        return;
    };
    blocks.push(Block::Answer(format!("{} {}", need(d), in_all(d))));
    blocks.extend(trust(results).map(Block::Text));
    blocks.push(Block::Text(format!("{} {}", occasions(d), priced(d))));
    blocks.extend(chart(d).map(|c| Block::Figure(Box::new(c))));
    blocks.push(Block::Table(table(d)));
    blocks.extend(basis(d).into_iter().map(Block::Text));
    blocks.push(Block::Heading("Have such forecasts held?".into()));
    match &results.back_test {
        Part::Found(test) => {
            blocks.push(Block::Answer(back_test::sentence(test, results.confidence)));
            blocks.push(Block::Table(back_test::table(test)));
            blocks.push(Block::Text("They are forecasts of today's practice, by the lives to failure; the plan has no past to be held against.".into()));
        }
        Part::Missing { reason } => blocks.push(Block::Answer(format!(
            "Not held against the records' own past: {}.",
            reason.trim_end_matches('.')
        ))),
    }
    blocks.push(Block::Heading(
        "What does the plan save month by month, and with what risk?".into(),
    ));
    blocks.push(Block::Answer(format!("{}{}", saving(d), years(d))));
    blocks.push(Block::Text(spent::saved(d)));
    blocks.push(Block::Table(part_money::table(results, d)));
    let apart = part_money::sentences(results, d);
    blocks.extend(apart.into_iter().map(Block::Text));
    blocks.extend(place_money::places(d).map(Block::Table));
    blocks.extend(place_money::contradicted(d).map(Block::Text));
    blocks.extend(tornado::of_saving(d).map(|c| Block::Figure(Box::new(c))));
    let scenario = |s: &crate::wire::money::Scenario| {
        format!(
            "{} ({}): {}",
            s.name,
            s.assumes,
            number::money_to(s.present_value, s.present_value, &d.currency)
        )
    };
    let list: Vec<String> = d.scenarios.iter().map(scenario).collect();
    blocks.push(Block::Text(format!(
        "Three futures, the saving at its worth now. {}.",
        list.join("; ")
    )));
    blocks.extend(
        d.left_out
            .iter()
            .map(|l| Block::Text(format!("Left out: {l}."))),
    );
    blocks.push(Block::Text(
        "The workbook plan.xlsx in this report's folder holds the months, the stocks, the inputs and these tables; change a price or an hour there and its formulas follow.".into(),
    ));
}

/// Money of a month under the plan: planned changes, failures, looks and turns.
fn split(m: &MoneyMonth) -> [f64; 3] {
    [
        m.plan.planned_money,
        m.plan.failures_money,
        m.plan.handled_money,
    ]
}

/// What the plan costs in the first year.
pub(super) fn need(d: &MoneyDocument) -> String {
    let year = d.by_month.iter().take(YEAR);
    let first: Year = year.clone().map(|m| m.plan).sum();
    let width = width(d.plan_cost_lower, d.plan_cost_upper, d.plan_cost);
    format!(
        "The plan costs {} in the first {} months{}: {}.",
        number::money_to(first.cost, width, &d.currency),
        year.len(),
        within(d, d.first_year_lower, d.first_year_upper),
        spent::words(d, &first, width)
    )
}

/// What it costs in all.
fn in_all(d: &MoneyDocument) -> String {
    let width = width(d.plan_cost_lower, d.plan_cost_upper, d.plan_cost);
    format!(
        "In all {} months it costs {}{}.",
        d.by_month.len(),
        number::money_to(d.plan_cost, width, &d.currency),
        within(d, d.plan_cost_lower, d.plan_cost_upper)
    )
}

/// An interval of the plan's money behind it, or why there is none.
fn within(d: &MoneyDocument, low: Option<f64>, high: Option<f64>) -> String {
    let width = width(d.plan_cost_lower, d.plan_cost_upper, d.plan_cost);
    let m = |x: f64| number::money_to(x, width, &d.currency);
    match (low, high) {
        (Some(low), Some(high)) => format!(
            " ({} prediction interval {} to {})",
            number::level(d.confidence),
            m(low),
            m(high)
        ),
        _ => format!(" (no interval: {})", d.interval_reason.unwrap_or_default()),
    }
}

/// The first year by what it is for, and what comes on top.
fn occasions(d: &MoneyDocument) -> String {
    let year = d.by_month.iter().take(YEAR);
    let first: Year = year.clone().map(|m| m.plan).sum();
    let mut all = vec![
        ("planned changes", first.planned_money),
        ("failures", first.failures_money),
    ];
    if looked_at(d) {
        all.push(("looks and turns", first.handled_money));
    }
    let amounts: Vec<f64> = all.iter().map(|o| o.1).collect();
    let width = width(d.plan_cost_lower, d.plan_cost_upper, d.plan_cost);
    let amounts = number::money_parts(&amounts, width, &d.currency);
    let all: Vec<String> = all
        .iter()
        .zip(amounts)
        .map(|((name, _), amount)| format!("{amount} for {name}"))
        .collect();
    format!(
        "Of the first {} months that is {}.{}",
        year.len(),
        all.join(", "),
        on_top(d)
    )
}

/// How wide an interval is; as wide as the amount where there is none.
fn width(lower: Option<f64>, upper: Option<f64>, amount: f64) -> f64 {
    let ends = lower.zip(upper);
    ends.map_or_else(|| amount.abs(), |(low, high)| high - low)
}

/// Whether the plan opens equipment for looks or turns.
fn looked_at(d: &MoneyDocument) -> bool {
    d.by_month.iter().any(|m| m.plan.openings > 0.0)
}

/// What stocks cost besides, and what is in no figure.
fn on_top(d: &MoneyDocument) -> String {
    let mut out = String::new();
    if !d.stock.is_empty() {
        let cost: f64 = d.stock.iter().map(|s| s.cost_per_year).sum();
        out.push_str(&format!(
            " Holding spares, ordering and running short of them come on top: {} a year.",
            money(cost, &d.currency)
        ));
    }
    out.push_str(not_in_it(d));
    out
}

/// What no figure of the plan holds.
pub(super) fn not_in_it(d: &MoneyDocument) -> &'static str {
    if looked_at(d) {
        ""
    } else {
        " Not in it: looks that stay, orders for changes, doors."
    }
}

/// How far off such forecasts were in the records' own past, where that is to be minded.
pub(super) fn trust(results: &Results) -> Option<String> {
    let [figures, meaning] = trusted(results)?;
    let year = results.money.found().and_then(last_year::sentence);
    let year = year.map_or_else(String::new, |words| format!(" {words}"));
    Some(format!("{figures}{meaning}.{year}"))
}

/// The figures of it, and what they mean.
pub(super) fn trusted(results: &Results) -> Option<[String; 2]> {
    let test = results.back_test.found()?;
    let off = test.expected / (test.happened as f64).max(1.0) - 1.0;
    (off.abs() >= MINDED).then(|| {
        let [latest, meaning] = back_test::latest(test, MINDED).unwrap_or_default();
        let figures = format!(
            "Forecasts of failures made at earlier days were {} too {} in all ({} failures forecast of the seals in service at the time, {} came){latest}",
            number::percent(off.abs()),
            if off > 0.0 { "many" } else { "few" },
            number::significant(test.expected, 3),
            test.happened
        );
        [figures, meaning]
    })
}

/// What the months rest on: the plan of each part, and those that have an age alone.
fn basis(d: &MoneyDocument) -> Vec<String> {
    let plans = d
        .parts
        .iter()
        .map(|p| format!("{}: {}", p.part, p.plan_words));
    let mut out = vec![format!(
        "The months follow each part's plan from the seals in service at their ages. {}. Planned changes are all that are not failures: by schedule, found worn, or spoilt by handling. Seals past their age are changed at once, in the first month; spread them if the work does not fit.",
        plans.collect::<Vec<_>>().join("; ")
    )];
    let alone = d.parts.iter().filter(|p| !p.whole_plan);
    let alone: Vec<&str> = alone.map(|p| p.part.as_str()).collect();
    if !alone.is_empty() {
        out.push(format!(
            "{} has no whole plan: its looks and findings go on as the records show them, and their own cost is not in these months.",
            alone.join(", ")
        ));
    }
    out
}

/// The rate at which later money counts for less.
fn discounted(d: &MoneyDocument) -> String {
    if d.discount_rate == 0.0 {
        return "in full".to_owned();
    }
    format!("worth now at {} a year", number::percent(d.discount_rate))
}

/// The prices behind every figure.
pub(super) fn priced(d: &MoneyDocument) -> String {
    let m = |x: f64| money(x, &d.currency);
    let own = d.parts.iter().filter_map(|p| Some((p, p.seal_price?)));
    let usual = d
        .parts
        .iter()
        .filter_map(|p| p.seal_price)
        .fold(f64::INFINITY, f64::min);
    let own: Vec<String> = own
        .filter(|(_, price)| *price > usual)
        .map(|(p, price)| format!("{} {}", p.part, m(price)))
        .collect();
    let own = if own.is_empty() {
        String::new()
    } else {
        format!(
            " The seals of some parts cost more than the cheapest, at {}: {}.",
            m(usual),
            own.join(", ")
        )
    };
    format!(
        "Prices: a failure {} ({} hours down), a planned change {} ({} hours), an opening {} before labour.{own}",
        m(d.build_up.failure),
        number::tidy(d.build_up.failure_hours),
        m(d.build_up.planned),
        number::tidy(d.build_up.planned_hours),
        m(d.handled.opening)
    )
}

/// The saving of the first year and of the second, at full worth, where there are two.
fn years(d: &MoneyDocument) -> String {
    let year = |i: usize| -> Option<f64> {
        let months = d.by_month.get(i * YEAR..(i + 1) * YEAR)?;
        Some(months.iter().map(|m| m.saving).sum())
    };
    match (year(0), year(1)) {
        (Some(first), Some(second)) => {
            let width = width(
                d.present_value_lower,
                d.present_value_upper,
                d.present_value,
            );
            format!(
                " The first year saves {}, the second {}, before discounting.",
                number::money_to(first, width, &d.currency),
                number::money_to(second, width, &d.currency)
            )
        }
        _ => String::new(),
    }
}

pub(super) fn saving(d: &MoneyDocument) -> String {
    let width = width(
        d.present_value_lower,
        d.present_value_upper,
        d.present_value,
    );
    let m = |x: f64| number::money_to(x, width, &d.currency);
    let interval = match (
        d.present_value_lower,
        d.present_value_upper,
        d.chance_of_loss,
    ) {
        (Some(low), Some(high), Some(loss)) => format!(
            " ({} prediction interval {} to {}), with a chance of {} that it costs more than it saves",
            number::level(d.confidence),
            m(low),
            m(high),
            number::chance(loss, d.draws)
        ),
        _ => format!(" (no interval: {})", d.interval_reason.unwrap_or_default()),
    };
    let payback = match d.payback_months {
        Some(0.0) => "It saves from the first month on".to_owned(),
        Some(months) => format!(
            "It has paid back after {} months",
            number::significant(months, 2)
        ),
        None => "It does not pay back within these months".to_owned(),
    };
    format!(
        "Over {} months the plan saves {}, {}{interval}{}. {payback}.",
        d.by_month.len(),
        m(d.present_value),
        discounted(d),
        last_year::over_all(d).unwrap_or_default()
    )
}

/// "in EUR" behind a caption whose amounts leave the currency out.
pub(super) fn amounts_in(currency: &str) -> String {
    if currency.is_empty() {
        String::new()
    } else {
        format!(", in {currency}")
    }
}

/// Number and first day of a month, kept on one line.
fn named(month: &MoneyMonth) -> String {
    let day = month.begins.as_ref().and_then(|d| d.parse::<Date>().ok());
    let day = day.map_or_else(String::new, |d| d.strftime(", %-d %b %Y").to_string());
    format!("{}{day}", month.month).replace(' ', &NBSP.to_string())
}

fn table(d: &MoneyDocument) -> Table {
    let looked_at = looked_at(d);
    let m = |x: f64| money(x, "");
    let rows = d.by_month.iter().take(SHOWN).map(|month| {
        let [_, _, handled] = split(month);
        let ends = month.plan_lower.zip(month.plan_upper);
        let mut row = vec![
            named(month),
            number::significant(month.plan.planned, 3),
            number::significant(month.plan.failures, 3),
        ];
        if looked_at {
            row.push(m(handled));
        }
        let interval = ends.map_or_else(
            || "not known".to_owned(),
            |(low, high)| format!("{}{NBSP}to{NBSP}{}", m(low), m(high)),
        );
        let to_be_spent = Split::of(d, &month.plan).spent;
        row.extend([
            m(month.plan.cost),
            interval,
            m(to_be_spent),
            m(month.today.cost),
        ]);
        row
    });
    let rows = rows.collect();
    let mut heads = vec!["month, from", "planned changes", "failures"];
    if looked_at {
        heads.push("looks and turns");
    }
    heads.extend([
        "in all",
        "prediction interval",
        "of it to be spent",
        "as practice goes on",
    ]);
    Table::new(
        format!(
            "Cost of the plan by month, with its {} prediction interval{}; hours down are in it at their price",
            number::level(d.confidence),
            amounts_in(&d.currency)
        ),
        &heads,
        rows,
    )
}

/// Money of the first months, with the interval of their sum, against today's practice.
pub(super) fn chart(d: &MoneyDocument) -> Option<Chart> {
    let shown = d.by_month.get(..YEAR.min(d.by_month.len()))?;
    let months = shown.len();
    let dearest = shown
        .iter()
        .max_by(|a, b| a.plan.cost.total_cmp(&b.plan.cost))?;
    // One on top of the other: planned changes, failures, looks and turns.
    let bars = |part: usize| -> Vec<Bar> {
        let each = shown.iter().map(|m| {
            let parts = split(m);
            Bar {
                from: m.month as f64 - 0.8,
                to: m.month as f64 - 0.2,
                base: parts.iter().take(part).sum(),
                height: parts.get(part).copied().unwrap_or(0.0),
                interval: None,
            }
        });
        each.collect()
    };
    let layer = |part: usize, name: &str| Layer::Bars {
        name: name.into(),
        bars: bars(part),
        tone: Tone::Group(part),
        label: Some(name.into()),
    };
    let all = shown.iter().map(|m| Mark {
        y_interval: m.plan_lower.zip(m.plan_upper),
        ..Mark::at(m.month as f64 - 0.5, m.plan.cost)
    });
    let top = shown
        .iter()
        .map(|m| m.plan_upper.unwrap_or(m.plan.cost).max(m.today.cost))
        .fold(0.0, f64::max);
    let mut today: Vec<(f64, f64)> = shown
        .iter()
        .map(|m| (m.month as f64 - 1.0, m.today.cost))
        .collect();
    today.extend(shown.last().map(|m| (months as f64, m.today.cost)));
    let ticks = (1..=months).map(|n| Tick {
        at: n as f64 - 0.5,
        text: n.to_string(),
    });
    let mut chart = Chart {
        id: "budget".into(),
        title: format!(
            "Month {} of the next {months} is the dearest: {}",
            dearest.month,
            money(dearest.plan.cost, &d.currency)
        ),
        alt: format!(
            "A bar for each of {months} months, its parts on top of each other, with a mark for all together and its prediction interval, against a line for today's practice. The dearest is month {}.",
            dearest.month
        ),
        x: Axis::linear("month from now", "")
            .over(0.0, months as f64)
            .with_ticks(ticks.collect()),
        y: Axis::linear("money of the month", d.currency.clone()).over(0.0, (top * 1.15).max(1.0)),
        layers: vec![
            layer(0, "planned changes"),
            layer(1, "failures"),
            Layer::Steps {
                name: "as practice goes on".into(),
                points: today,
                stroke: Stroke::dashed(Tone::Muted),
                label: Some("as practice goes on".into()),
            },
            Layer::Points {
                name: "the plan, all together".into(),
                marks: all.collect(),
                tone: Tone::Ink,
                marker: Marker::Disc,
                label: Some("the plan".into()),
            },
        ],
        at_risk: None,
        notes: vec![format!(
            "Whiskers: {} prediction intervals of the whole month, with the error of the lives and the chance of the seals.",
            number::level(d.confidence)
        )],
    };
    if looked_at(d) {
        chart.layers.insert(2, layer(2, "looks and turns"));
    }
    Some(chart)
}
