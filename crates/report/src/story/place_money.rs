//! A year of each place.

use super::months::amounts_in;
use super::words::money;
use crate::document::Table;
use crate::number::{self, NBSP};
use crate::wire::money::MoneyDocument;

/// What every place costs now and under the plan, a year averaged over the document's months: seals, failures as recorded,
/// expected today and under the plan, money of both, and what is saved with its prediction interval, from
/// [`PlaceMoney`](crate::wire::money_places::PlaceMoney);
/// `None` with fewer than two places.
#[must_use]
pub fn places(d: &MoneyDocument) -> Option<Table> {
    let m = |x: f64| money(x, "");
    let rows: Vec<Vec<String>> = d
        .places
        .iter()
        .map(|p| {
            let ends = p.saving_lower.zip(p.saving_upper);
            vec![
                p.place.clone(),
                number::fixed(p.positions, 0),
                p.recorded
                    .map_or_else(String::new, |r| number::significant(r.per_year, 3)),
                number::significant(p.today.failures, 3),
                number::significant(p.plan.failures, 3),
                m(p.today.cost),
                m(p.plan.cost),
                m(p.saving),
                ends.map_or_else(
                    || p.interval_reason.unwrap_or_default().to_owned(),
                    |(low, high)| between(m(low), m(high)),
                ),
            ]
        })
        .collect();
    let interval = format!("its {} prediction interval", number::level(d.confidence));
    (rows.len() > 1).then(|| {
        Table::new(
            format!(
                "A year of each place, averaged over these {} months{}",
                d.by_month.len(),
                amounts_in(&d.currency)
            ),
            &[
                "place",
                "seals",
                "failures as recorded",
                "failures as practice goes on",
                "failures under the plan",
                "as practice goes on",
                "under the plan",
                "saved",
                &interval,
            ],
            rows,
        )
    })
}

/// p-value, all places allowed for, below which a place's log contradicts its forecast.
const CONTRADICTED: f64 = 0.05;

/// Places whose own logs contradict the failures forecast for them, in a sentence: those whose p-value is below 0.05 over the
/// number of places with a log (Bonferroni); `None` without one.
#[must_use]
pub fn contradicted(d: &MoneyDocument) -> Option<String> {
    let told = d.places.iter().filter(|p| p.recorded.is_some()).count();
    let limit = CONTRADICTED / told.max(1) as f64;
    let each = d.places.iter().filter_map(|p| {
        let r = p.recorded.filter(|r| r.p_value < limit)?;
        Some(format!(
            "{} counted {} failures where the rate put here gives {} over the same time ({})",
            p.place,
            number::fixed(r.counted, 0),
            number::significant(r.expected, 2),
            number::p_value(r.p_value)
        ))
    });
    let each: Vec<String> = each.collect();
    (!each.is_empty()).then(|| {
        format!(
            "Failures as recorded are those of a place's own log, for the seals in service now. {}: the laws of all places together do not suit there, so do not book that place's saving by itself.",
            each.join("; ")
        )
    })
}

fn between(low: String, high: String) -> String {
    format!("{low}{NBSP}to{NBSP}{high}")
}
