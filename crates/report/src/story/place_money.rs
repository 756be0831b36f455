//! A year of each place, and replacement ages of a place's own.

use super::months::amounts_in;
use super::words::money;
use crate::analysis::plans::Pen;
use crate::document::Table;
use crate::number::{self, NBSP};
use crate::wire::money::MoneyDocument;
use crate::wire::money_places::OwnAge;
use sealspan_care::replacement::Goal;

/// Ages of a place's own with a greater chance to be dearer are not listed.
const TOLD: f64 = 0.1;

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

/// Ages of a place's own that differ from the plan's, most saved first.
fn apart(d: &MoneyDocument) -> Vec<&OwnAge> {
    let differs = |o: &&OwnAge| o.own_age != o.planned_age;
    let ages = d.own_ages.iter().flat_map(|all| &all.ages);
    let mut all: Vec<&OwnAge> = ages.filter(differs).collect();
    all.sort_by(|a, b| b.saving.total_cmp(&a.saving));
    all
}

/// What the ages of places' own come to, in a sentence; `None` where there is nothing to weigh them by.
#[must_use]
pub fn own_ages_sentence(d: &MoneyDocument) -> Option<String> {
    let found = d.own_ages.as_ref()?;
    let all = apart(d);
    let Some(first) = all.first() else {
        return Some(
            "Each part has one age for all its sites; at none would an age of its own cost less."
                .to_owned(),
        );
    };
    let width = found.saving_upper - found.saving_lower;
    let m = |x: f64| number::money_to(x, width, &d.currency);
    Some(format!(
        "Each part has one age for all its sites. Sites differ: ages of their own, at {} of {} sites and parts, would save {} a year more ({} interval {} to {}), most at {} ({}: {} instead of {}).",
        all.len(),
        found.ages.len(),
        m(found.saving),
        number::level(d.confidence),
        m(found.saving_lower),
        m(found.saving_upper),
        first.place,
        first.part,
        age(first.own_age),
        age(first.planned_age)
    ))
}

fn age(at: Option<f64>) -> String {
    let pen = Pen {
        unit: "days",
        currency: "",
        goal: Goal::Cost,
        calendar: Some("month"),
    };
    at.map_or_else(|| "on failure only".to_owned(), |at| pen.age(at))
}

/// The ages of places' own that differ from the plan's; `None` without any.
#[must_use]
pub fn own_ages(d: &MoneyDocument) -> Option<Table> {
    let row = |o: &&OwnAge| {
        vec![
            format!("{}, {}", o.place, o.part),
            number::fixed(o.positions, 0),
            format!(
                "{} ({} to {})",
                number::significant(o.rate, 2),
                number::significant(o.rate_lower, 2),
                number::significant(o.rate_upper, 2)
            ),
            age(o.planned_age),
            age(o.own_age),
            whole(o),
            number::chance(o.chance_dearer, o.draws),
        ]
    };
    let told = |o: &&&OwnAge| o.chance_dearer <= TOLD;
    let rows: Vec<Vec<String>> = apart(d).iter().filter(told).map(row).collect();
    (!rows.is_empty()).then(|| {
        Table::new(
            format!(
                "Where a replacement age of its own costs less than the plan's, looks and turns as planned, with {} intervals{}",
                number::level(d.confidence),
                amounts_in(&d.currency)
            ),
            &[
                "place and part",
                "seals",
                "defects start at so many times the rate of all places",
                "the plan",
                "its own age",
                "saved a year",
                "chance it is dearer",
            ],
            rows,
        )
    })
}

/// The saving with its interval, as exact as that is wide.
fn whole(o: &OwnAge) -> String {
    let width = o.saving_upper - o.saving_lower;
    let m = |x: f64| number::money_to(x, width, "");
    format!(
        "{} ({} to {})",
        m(o.saving),
        m(o.saving_lower),
        m(o.saving_upper)
    )
}

/// What those ages rest on.
pub const OWN_AGES_NOTE: &str = "Ages whose chance to be dearer is above 10 % are not listed. The rate of a place is drawn towards that of all places as far as its few failures leave it open; its laws keep their shape. The plan, its months and its stocks keep one age a part. The limits of the maker, and what the law or a written scheme sets, come before any age here.";
