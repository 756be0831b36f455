//! What each extra spare and each extra look buys, as sentences and tables.
//!
//! ```
//! use sealspan_report::story::bought::{looks, not_judged, spares};
//! use sealspan_report::wire::looks::PartLooks;
//! let unjudged = PartLooks {
//!     part: "EPDM".to_owned(),
//!     positions: 6.0,
//!     rows: vec![],
//!     reason: Some("no looks are recorded".to_owned()),
//! };
//! assert!(not_judged(&[unjudged.clone()])[0].contains("no looks are recorded"));
//! assert!(looks(&[unjudged], 0.9, "EUR").is_none() && spares(&[], "EUR").is_none());
//! ```

use super::words;
use crate::analysis::run::Results;
use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::document::{Block, Table};
use crate::number;
use crate::wire::looks::PartLooks;
use crate::wire::stock::ExtraSpare;

/// Steps shown; the file holds all.
const STEPS: usize = 16;

/// Both parts of the finance page.
pub(super) fn page(results: &Results, blocks: &mut Vec<Block>) {
    let Some(money) = results.money.found() else {
        return;
    };
    if let Some(table) = spares(&money.extra_spares, &results.currency) {
        blocks.push(Block::Text(one_by_one(&money.extra_spares, results)));
        let curve = curve(&money.extra_spares, &results.currency);
        blocks.extend(curve.map(|c| Block::Figure(Box::new(c))));
        blocks.push(Block::Table(table));
    }
    blocks.push(Block::Heading("What does each extra look buy?".into()));
    if let Some(sentence) = best(&money.looks, &results.currency) {
        blocks.push(Block::Answer(sentence));
    }
    if let Some(table) = looks(&money.looks, money.confidence, &results.currency) {
        blocks.push(Block::Table(table));
        blocks.push(Block::Text(
            "Every site looks so many times as often as its records show, and goes on turning and replacing as it does; long-run figures of all positions, labour and hours of the looks counted. Under the plan's replacement ages looks buy less than here: it is the cheapest of all policies weighed, with looks and without. Intervals hold what the estimates of defects and failures leave open.".into(),
        ));
    }
    blocks.extend(not_judged(&money.looks).into_iter().map(Block::Text));
}

/// What the steps are, and why the stock advised holds more.
fn one_by_one(steps: &[ExtraSpare], results: &Results) -> String {
    let least = steps
        .iter()
        .min_by(|a, b| a.cost_per_year.total_cmp(&b.cost_per_year));
    let m = |x: f64| words::money(x, &results.currency);
    let single = least.map_or_else(String::new, |s| {
        format!(
            "; so ordered, {} cost least, {} a year",
            words::spares(s.seals),
            m(s.cost_per_year)
        )
    });
    let places = results.stock.found().map_or(&[][..], |s| &s.places);
    let best = places.iter().filter_map(|p| p.answer.best.as_ref());
    let (lots, most, cost) = best.fold((false, 0, 0.0), |(lots, most, cost), b| {
        (
            lots || b.order_quantity.is_some_and(|n| n > 1),
            most + b.level.stock,
            cost + b.level.cost_rate * sealspan_care::costs::DAYS_PER_YEAR,
        )
    });
    let several = if lots {
        format!(
            " Ordered several at once, as advised above, at most {} lie there, and at {} a year cost less, for each order costs money too.",
            words::spares(most),
            m(cost)
        )
    } else {
        String::new()
    };
    format!(
        "Each extra spare goes where it takes off the most hours down, from empty shelves on, each seal re-ordered as it is taken{single}.{several}"
    )
}

/// The steps of extra spares: seals held, where the last goes, money tied up, hours down a year, the hours that the last
/// takes off, cost a year. About 16 of them with the one that costs least; `None` where no spare takes anything off.
#[must_use]
pub fn spares(steps: &[ExtraSpare], currency: &str) -> Option<Table> {
    let stride = steps.len().div_ceil(STEPS).max(1);
    let least = steps
        .iter()
        .min_by(|a, b| a.cost_per_year.total_cmp(&b.cost_per_year))?;
    let rows: Vec<Vec<String>> = steps
        .iter()
        .enumerate()
        .filter(|(i, s)| i % stride == 0 || s.seals == least.seals)
        .map(|(_, s)| {
            let to = s.place.as_deref().zip(s.part.as_deref());
            let hours = |h: f64| number::significant(h, 3);
            vec![
                s.seals.to_string(),
                to.map_or_else(
                    || "none".to_owned(),
                    |(place, part)| format!("{place}, {part}"),
                ),
                words::money(s.investment, currency),
                hours(s.downtime_hours_per_year),
                to.map_or_else(String::new, |_| hours(s.saves_hours_per_year)),
                words::money(s.cost_per_year, currency),
            ]
        })
        .collect();
    (steps.len() > 1).then(|| {
        Table::new(
            "What each extra spare buys, over all places",
            &[
                "spares held",
                "the last one at",
                "money tied up",
                "hours down a year for want of one",
                "the last takes off",
                "cost of stock a year",
            ],
            rows,
        )
    })
}

/// Hours that the first spares leave, as a share of those with empty shelves.
const MOST_OF_IT: f64 = 0.1;
/// Fewer hours than this share of the most are not drawn.
const FLOOR: f64 = 1e-4;

/// Hours down against money tied up, one spare more at a time; `None` where seals have no price or none is worth holding.
fn curve(steps: &[ExtraSpare], currency: &str) -> Option<Chart> {
    let none = steps.first()?;
    let drawn = |s: &&ExtraSpare| s.downtime_hours_per_year > FLOOR * none.downtime_hours_per_year;
    let points: Vec<(f64, f64)> = steps
        .iter()
        .filter(drawn)
        .map(|s| (s.investment, s.downtime_hours_per_year))
        .collect();
    let least = steps
        .iter()
        .min_by(|a, b| a.cost_per_year.total_cmp(&b.cost_per_year))?;
    let most = steps
        .iter()
        .find(|s| s.downtime_hours_per_year <= MOST_OF_IT * none.downtime_hours_per_year)?;
    let end = steps.last()?.investment;
    (points.len() > 2 && end > 0.0).then(|| Chart {
        id: "spares-curve".into(),
        title: format!(
            "The first {} spares take {} hours down a year to {}; ordered one by one, {} cost least",
            most.seals,
            number::significant(none.downtime_hours_per_year, 3),
            number::significant(most.downtime_hours_per_year, 3),
            least.seals
        ),
        alt: format!(
            "Hours down a year for want of a seal against money tied up in spares, over all places, falling from {} with empty shelves; the number that costs least is {} spares.",
            number::significant(none.downtime_hours_per_year, 3),
            least.seals
        ),
        x: Axis::linear("money tied up in spares", currency).over(0.0, end),
        y: Axis::log("hours down a year for want of a seal", "hours"),
        layers: vec![
            Layer::VLine {
                at: least.investment,
                stroke: Stroke::dashed(Tone::Ink),
                label: Some(format!("{} spares cost least", least.seals)),
            },
            Layer::Line {
                name: "one spare more at a time".into(),
                points: points.clone(),
                stroke: Stroke::solid(Tone::Group(0)),
                label: None,
            },
            Layer::Points {
                name: "one spare more at a time".into(),
                marks: points.iter().map(|(x, y)| Mark::at(*x, *y)).collect(),
                tone: Tone::Group(0),
                marker: Marker::Disc,
                label: Some("one spare more at a time".into()),
            },
        ],
        at_risk: None,
        notes: vec![
            "Each spare goes where it takes off the most hours, so no other choice of as many has fewer (marginal analysis). Each seal is re-ordered as it is taken.".into(),
        ],
    })
}

/// More and fewer looks against today's: days between looks, then looks, failures, hours down, cost and cost above today's
/// a year, with intervals at `confidence`, from [`PartLooks::rows`]; `None` where no part can be judged.
#[must_use]
pub fn looks(parts: &[PartLooks], confidence: f64, currency: &str) -> Option<Table> {
    let sum = |x: f64| words::money(x, currency);
    let mut rows = vec![];
    for part in parts {
        for r in &part.rows {
            rows.push(vec![
                part.part.clone(),
                r.every.map_or_else(
                    || "no looks".to_owned(),
                    |every| {
                        let days = number::significant(every, 3);
                        if r.times_today == 1.0 {
                            format!("{days} days (today)")
                        } else {
                            format!("{days} days")
                        }
                    },
                ),
                number::significant(r.looks_per_year, 3),
                number::significant(r.failures_per_year, 3),
                number::significant(r.hours_down_per_year, 3),
                format!(
                    "{} ({} to {})",
                    sum(r.cost_per_year),
                    sum(r.cost_lower),
                    sum(r.cost_upper)
                ),
                if r.times_today == 1.0 {
                    String::new()
                } else {
                    format!(
                        "{} ({} to {})",
                        sum(r.dearer_per_year),
                        sum(r.dearer_lower),
                        sum(r.dearer_upper)
                    )
                },
            ]);
        }
    }
    let level = number::level(confidence);
    (!rows.is_empty()).then(|| {
        Table::new(
            format!("More and fewer looks, everything else as it is done today; {level} intervals"),
            &[
                "part",
                "a look every",
                "looks a year",
                "failures a year",
                "hours down a year",
                "cost a year",
                "dearer than today's looks",
            ],
            rows,
        )
    })
}

/// Why some parts cannot be judged, a sentence each.
#[must_use]
pub fn not_judged(parts: &[PartLooks]) -> Vec<String> {
    let one = |p: &PartLooks| {
        let why = p.reason.as_ref()?;
        Some(format!(
            "Looks at {} are not judged: {}.",
            p.part,
            why.trim_end_matches('.')
        ))
    };
    parts.iter().filter_map(one).collect()
}

/// For the part with the most positions: the cheapest number of looks in the table, and twice today's.
fn best(parts: &[PartLooks], currency: &str) -> Option<String> {
    let judged = parts.iter().filter(|p| !p.rows.is_empty());
    let part = judged.max_by(|a, b| a.positions.total_cmp(&b.positions))?;
    let today = part.rows.iter().find(|r| r.times_today == 1.0)?;
    let twice = part.rows.iter().find(|r| r.times_today == 2.0)?;
    let more = twice.looks_per_year - today.looks_per_year;
    let fewer = today.failures_per_year - twice.failures_per_year;
    let hours = today.hours_down_per_year - twice.hours_down_per_year;
    let gain = -twice.dearer_per_year;
    let sure = if (twice.dearer_lower < 0.0) == (twice.dearer_upper < 0.0) {
        ""
    } else {
        ", though the estimates leave open which"
    };
    let signed = |x: f64, good: &str, bad: &str| {
        format!(
            "{} {}",
            number::significant(x.abs(), 2),
            if x >= 0.0 { good } else { bad }
        )
    };
    Some(format!(
        "{}: twice as many looks as today, {} more a year, mean {} failures and {} hours down a year, and {} {} in all{sure}.",
        part.part,
        number::significant(more, 3),
        signed(fewer, "fewer", "more"),
        signed(hours, "fewer", "more"),
        if gain >= 0.0 { "save" } else { "cost" },
        words::money(gain.abs(), currency)
    ))
}
