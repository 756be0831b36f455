//! What is due: every seal in service against its part's plan, with the failures expected at its position in the next month
//! as practice goes on there, from the seal's own age, the part's laws and the place's rate (`futures`).

use super::demand::{MONTH, Outlook};
use super::drawn::ends;
use super::futures::{PartFuture, PlaceFuture, World};
use crate::wire::due::{DueDocument, DuePlace, DueSeal};
use jiff::ToSpan;
use jiff::civil::Date;
use rayon::prelude::*;
use sealspan_care::error::Result;
use sealspan_records::Running;
use std::collections::BTreeMap;

/// Months for which places are counted.
const MONTHS: usize = 3;
/// What the list rests on.
const NOTES: [&str; 5] = [
    "Past due: at or above the plan's age on the last day of the records. Seals past due stand first, the likeliest to fail ahead of the others.",
    "The chance is that of failing in the next month as the place cares for its seals today: by the seal's age, the laws of its part and the rate of its place. What is known of a single position beyond that is not in it: a door out of line, a batch listed as different, a duty harder than the part's mix, a reading near its limit. These come first.",
    "Intervals hold the error of the estimated lives and of the places' rates.",
    "Months are of 30.44 days.",
    "The maker's limits, and what the law or a written scheme sets, come before any day here.",
];
const NO_DRAWS: &str = "the fit of its life gives no draws";

/// What is asked of the list.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    /// Last day of the records.
    pub as_of: Option<Date>,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Seed.
    pub seed: u64,
}

/// The list of all parts.
///
/// # Errors
/// As [`PlaceFuture::cases`].
pub fn due(parts: &[PartFuture], left_out: Vec<String>, asked: &Asked) -> Result<DueDocument> {
    let each: Vec<(&PartFuture, &PlaceFuture, &Running)> = parts
        .iter()
        .flat_map(|part| part.places.iter().map(move |at| (part, at)))
        .flat_map(|(part, at)| at.running.iter().map(move |seal| (part, at, seal)))
        .collect();
    let seals = each.par_iter().map(|each| one(*each, asked));
    let mut seals: Vec<DueSeal> = seals.collect::<Result<_>>()?;
    seals.sort_by(before);
    Ok(DueDocument {
        schema: "sealspan.due.v1",
        unit: "days",
        as_of: asked.as_of.map(|day| day.to_string()),
        confidence: asked.confidence,
        horizon: MONTH,
        places: places(&seals),
        seals,
        left_out,
        notes: NOTES.to_vec(),
        cautions: crate::cautions::always(),
    })
}

fn one((part, at, seal): (&PartFuture, &PlaceFuture, &Running), asked: &Asked) -> Result<DueSeal> {
    let outlook = Outlook {
        months: 1,
        confidence: asked.confidence,
        leaving_per_year: 0.0,
        joining: vec![],
        batch_spread: 0.0,
        seed: asked.seed,
    };
    let single = Running {
        count: 1.0,
        ..seal.clone()
    };
    let cases = at.cases(World::Today, &outlook, &outlook.fleet(&[single], 0.0), 1.0)?;
    let failures = |month: &Vec<sealspan_care::ahead::months::Spread>| {
        let [failures, ..] = month.first()?.counts;
        Some(failures.mean)
    };
    let drawn = ends(cases.drawn.iter().filter_map(failures), asked.confidence);
    let planned_age = part.plan.policy.replace_at;
    let due_in = planned_age.map(|at| at - seal.age);
    let on = |days: f64| {
        let whole = days.ceil() as i64;
        asked.as_of?.checked_add(whole.days()).ok()
    };
    Ok(DueSeal {
        seal: seal.seal.clone(),
        asset: seal.asset.clone(),
        position: seal.position.clone(),
        place: at.place.clone(),
        part: part.key.words(),
        count: seal.count,
        age: seal.age,
        planned_age,
        due_in,
        due_on: due_in.and_then(on).map(|day| day.to_string()),
        fails: failures(&cases.best).unwrap_or_default(),
        fails_lower: drawn.map(|d| d[0]),
        fails_upper: drawn.map(|d| d[1]),
        interval_reason: drawn.is_none().then_some(NO_DRAWS),
    })
}

impl DueSeal {
    /// Whether the plan would have changed it by the last day.
    #[must_use]
    pub fn past_due(&self) -> bool {
        self.due_in.is_some_and(|left| left <= 0.0)
    }
}

/// Past due first, the likeliest to fail ahead; then by the day due; then those without one.
fn before(a: &DueSeal, b: &DueSeal) -> std::cmp::Ordering {
    let likelier = || b.fails.total_cmp(&a.fails);
    let first = match (a.past_due(), b.past_due()) {
        (true, true) => likelier(),
        (true, false) => std::cmp::Ordering::Less,
        (false, true) => std::cmp::Ordering::Greater,
        (false, false) => {
            let left = |s: &DueSeal| s.due_in.unwrap_or(f64::INFINITY);
            left(a).total_cmp(&left(b)).then_with(likelier)
        }
    };
    first.then_with(|| (&a.asset, &a.position, &a.seal).cmp(&(&b.asset, &b.position, &b.seal)))
}

fn places(seals: &[DueSeal]) -> Vec<DuePlace> {
    let mut all: BTreeMap<&str, Vec<&DueSeal>> = BTreeMap::new();
    for seal in seals {
        all.entry(&seal.place).or_default().push(seal);
    }
    let mut out: Vec<DuePlace> = all
        .into_iter()
        .map(|(place, seals)| {
            let count = |wanted: &dyn Fn(&DueSeal) -> bool| {
                let those = seals.iter().filter(|s| wanted(s));
                those.map(|s| s.count).sum::<f64>()
            };
            let within = |month: usize| {
                let (from, to) = (MONTH * month as f64, MONTH * (month + 1) as f64);
                count(&|s| s.due_in.is_some_and(|left| left > from && left <= to))
            };
            let past = seals.iter().filter(|s| s.past_due());
            DuePlace {
                place: place.to_owned(),
                seals: count(&|_| true),
                past_due: count(&DueSeal::past_due),
                by_month: (0..MONTHS).map(within).collect(),
                failures: seals.iter().map(|s| s.count * s.fails).sum(),
                failures_past_due: past.map(|s| s.count * s.fails).sum(),
            }
        })
        .collect();
    out.sort_by(|a, b| {
        b.past_due
            .total_cmp(&a.past_due)
            .then(a.place.cmp(&b.place))
    });
    out
}
