//! Replacement ages of a place's or a duty's own, beside the plan's one age a part.

use super::months::amounts_in;
use crate::analysis::plans::Pen;
use crate::column::spoken;
use crate::document::Table;
use crate::number::{self, NBSP};
use crate::wire::money::MoneyDocument;
use crate::wire::money_places::{OwnAge, OwnAges};
use sealspan_care::replacement::Goal;

/// Duties named in a sentence.
const NAMED: usize = 4;
/// The column of places.
const SITE: &str = "site";

/// Ages that differ from the plan's and are taken, most saved first.
pub(super) fn taken(found: &OwnAges) -> Vec<&OwnAge> {
    let mut all: Vec<&OwnAge> = found.ages.iter().filter(|o| o.taken).collect();
    all.sort_by(|a, b| b.saving.total_cmp(&a.saving));
    all
}

/// What the ages of places' own come to, in a sentence: at how many places and parts, and the money a year that they save,
/// with its interval; `None` where there is nothing to weigh them by.
#[must_use]
pub fn sites_sentence(d: &MoneyDocument) -> Option<String> {
    let found = d.own_ages.as_ref()?;
    let all = taken(found);
    let Some(first) = all.first() else {
        return Some(
            "Each part has one age for all its sites; at none would an age of its own surely cost less."
                .to_owned(),
        );
    };
    Some(format!(
        "Each part has one age for all its sites. Sites differ: ages of their own, at {} of {} sites and parts, would save {}, most at {} ({}: {} instead of {}).",
        all.len(),
        found.ages.len(),
        more(d, found),
        first.at,
        first.part,
        age(first.own_age),
        age(first.planned_age)
    ))
}

/// The same by what seals meet, where ages of a duty's own differ.
#[must_use]
pub fn duties_sentence(d: &MoneyDocument) -> Option<String> {
    let found = d.own_ages_by_duty.as_ref()?;
    let all = taken(found);
    if all.is_empty() {
        return None;
    }
    let one = |o: &&OwnAge| {
        format!(
            "{} {}: {}, when {} have failed, not {}, when {} have",
            o.part,
            o.at,
            age(o.own_age),
            number::percent(o.failed_own),
            age(o.planned_age),
            number::percent(o.failed_planned)
        )
    };
    let mut told: Vec<String> = all.iter().take(NAMED).map(one).collect();
    if all.len() > NAMED {
        told.push(format!("{} more in the table", all.len() - NAMED));
    }
    Some(format!(
        "By {} other ages would cost less than one a part: {}. They would save {}; partly the same seals as by site, so not to be added to that.",
        spoken(&found.by),
        told.join("; "),
        more(d, found)
    ))
}

/// What they save in all.
fn more(d: &MoneyDocument, found: &OwnAges) -> String {
    let width = found.saving_upper - found.saving_lower;
    let m = |x: f64| number::money_to(x, width, &d.currency);
    format!(
        "{} a year more ({} interval {} to {})",
        m(found.saving),
        number::level(d.confidence),
        m(found.saving_lower),
        m(found.saving_upper)
    )
}

pub(super) fn age(at: Option<f64>) -> String {
    let pen = Pen {
        unit: "days",
        currency: "",
        goal: Goal::Cost,
        calendar: Some("month"),
    };
    at.map_or_else(|| "on failure only".to_owned(), |at| pen.age(at))
}

/// Ages of places' own that differ from the plan's; `None` without any.
#[must_use]
pub fn sites(d: &MoneyDocument) -> Option<Table> {
    listed(d, d.own_ages.as_ref()?)
}

/// Ages of duties' own that differ from the plan's; `None` without any.
#[must_use]
pub fn duties(d: &MoneyDocument) -> Option<Table> {
    listed(d, d.own_ages_by_duty.as_ref()?)
}

fn listed(d: &MoneyDocument, found: &OwnAges) -> Option<Table> {
    let fail = |share: f64, at: Option<f64>| match at {
        Some(_) => format!("{}; {}", age(at), number::percent(share)),
        None => age(at),
    };
    let of_sites = found.by == SITE;
    let row = |o: &&OwnAge| {
        let mut row = vec![
            format!("{}, {}", o.at, o.part),
            number::fixed(o.positions, 0),
            fail(o.failed_planned, o.planned_age),
            fail(o.failed_own, o.own_age),
            o.watched_then
                .map_or_else(String::new, |n| number::fixed(n, 0)),
            whole(o),
            number::chance(o.chance_dearer, o.draws),
        ];
        if of_sites {
            row.insert(2, rate(o));
        }
        row
    };
    let rows: Vec<Vec<String>> = taken(found).iter().map(row).collect();
    let first = format!(
        "{} and part",
        if of_sites {
            "place".to_owned()
        } else {
            spoken(&found.by)
        }
    );
    let mut heads = vec![
        first.as_str(),
        "seals",
        "the plan; fail before",
        "its own age; fail before",
        "seals watched then",
        "saved a year",
        "chance it is dearer",
    ];
    if of_sites {
        heads.insert(2, "defects start at so many times the rate of all places");
    }
    (!rows.is_empty()).then(|| {
        Table::new(
            format!(
                "Where a replacement age of its own costs less than the plan's, looks and turns as planned, with {} intervals{}",
                number::level(d.confidence),
                amounts_in(&d.currency)
            ),
            &heads,
            rows,
        )
    })
}

fn rate(o: &OwnAge) -> String {
    let ends = o.rate_lower.zip(o.rate_upper);
    o.rate
        .zip(ends)
        .map_or_else(String::new, |(rate, (low, high))| {
            let n = |x: f64| number::significant(x, 2);
            format!("{} ({} to {})", n(rate), n(low), n(high))
        })
}

/// The saving with its interval, as exact as that is wide.
fn whole(o: &OwnAge) -> String {
    let width = o.saving_upper - o.saving_lower;
    let m = |x: f64| number::money_to(x, width, "");
    format!(
        "{} ({}{NBSP}to{NBSP}{})",
        m(o.saving),
        m(o.saving_lower),
        m(o.saving_upper)
    )
}

/// What those ages rest on.
pub const NOTE: &str = "Ages whose chance to be dearer is above 10 %, or 5 % where they are longer than the plan's, are not taken, nor longer ages that fewer than ten seals were seen to reach there, and a duty whose few failures bear no laws of its own is not judged. A place's rate is drawn towards that of all places as far as its few failures leave it open, and its laws keep their shape; a duty has laws of its own, from its own seals. The plan, its months and its stocks keep one age a part. The limits of the maker, and what the law or a written scheme sets, come before any age here.";
