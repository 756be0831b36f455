//! A year of each place.

use super::months::amounts_in;
use super::words::money;
use crate::document::Table;
use crate::number::{self, NBSP};
use crate::wire::money::MoneyDocument;

/// What every place costs now and under the plan; `None` with fewer than two places.
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

fn between(low: String, high: String) -> String {
    format!("{low}{NBSP}to{NBSP}{high}")
}
