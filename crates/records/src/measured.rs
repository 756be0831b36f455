//! One measured property of each seal against its age, from the inspections.

use crate::ask::{Remarks, clock_kept};
use crate::ask_seals::factor;
use crate::dates::days_between;
use crate::error::{Error, Kind};
use crate::keys::Factor;
use crate::load::Records;
use crate::looks::Looks;
use crate::observation::Clock;
use crate::seal::Seal;
use crate::words::{nearest, normal};
use std::collections::BTreeSet;

/// A seal with what was measured on it.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredSeal {
    /// Its name.
    pub seal: String,
    /// The asset it is fitted to.
    pub asset: Option<String>,
    /// Column and value of each column grouped by, in the order asked.
    pub key: Vec<(String, String)>,
    /// Age at each measurement, in the unit of the clock asked for, and the value, in the unit of the column; earliest
    /// first; equal ages are possible.
    pub points: Vec<(f64, f64)>,
    /// Its age at the cut-off (or at the end of its asset's records, where that is earlier), in the same unit, while it is
    /// in service; `None` once it has been removed, or where no reading tells it.
    pub running_age: Option<f64>,
}

/// The measured seals, and what could not be used.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// Seals with at least one measurement, in the order of the table of seals.
    pub seals: Vec<MeasuredSeal>,
    /// Measurements that belong to no seal that is used (unknown seal, outside its time, no reading); of a bare table, rows
    /// without a measurement.
    pub unused: u64,
    /// Seals in service without any measurement; 0 of a bare table.
    pub running_unmeasured: u64,
}

/// Reads `measure`, a column of the inspections, off them, seal by seal, on `clock`.
///
/// The age on the clock of days is the day of the inspection less that of the fitting; an inspection dated to a month or
/// longer counts at the middle of the days it may stand for, so does a fitting date. On the other clocks it is the reading
/// of the inspection less that at fitting. Measurements at ages below 0 are not used.
///
/// # Errors
/// When something must be settled first (see [`Records::refusal`]), the readings do not count what the clock asks for,
/// no inspection has such a measurement, or a column to group by is unknown.
pub fn measured(
    records: &Records,
    measure: &str,
    clock: Clock,
    by: &[String],
) -> Result<Measured, Error> {
    if let Some(refusal) = &records.refusal {
        return Err(refusal.clone());
    }
    clock_kept(records, clock)?;
    let name = column(records, measure)?;
    let mut remarks = Remarks::default();
    let factors = by
        .iter()
        .map(|column| factor(records, column, &mut remarks))
        .collect::<Result<Vec<Factor>, _>>()?;
    let looks = Looks::new(&records.inspections, &records.seals);
    let mut out = Measured::default();
    let mut taken = 0;
    for (at, seal) in records.seals.iter().enumerate() {
        let mut points: Vec<(f64, f64)> = vec![];
        for look in looks.of(seal) {
            let value = look.measurements.iter().find(|(n, _)| *n == name);
            let age = match clock {
                Clock::Days => Some(middle(look.date) - middle(seal.fitted)),
                _ => look.reading.zip(seal.fitted_reading).map(|(r, f)| r - f),
            };
            if let (Some((_, value)), Some(age)) = (value, age.filter(|a| *a >= 0.0)) {
                points.push((age, *value));
                taken += 1;
            }
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let running_age = running_age(records, seal, &looks, clock);
        if points.is_empty() {
            out.running_unmeasured += u64::from(seal.removed.is_none());
            continue;
        }
        out.seals.push(MeasuredSeal {
            seal: seal.seal.clone(),
            asset: seal.asset.clone(),
            key: factors
                .iter()
                .map(|f| (f.name.clone(), label(f, at)))
                .collect(),
            points,
            running_age,
        });
    }
    let all = records.inspections.iter();
    let there = all.filter(|i| i.measurements.iter().any(|(n, _)| *n == name));
    out.unused = (there.count() as u64).saturating_sub(taken);
    Ok(out)
}

fn label(factor: &Factor, at: usize) -> String {
    let code = factor.codes.get(at).copied().unwrap_or(0) as usize;
    factor.labels.get(code).cloned().unwrap_or_default()
}

/// The inspections' own name of the measurement.
fn column(records: &Records, measure: &str) -> Result<String, Error> {
    let names: BTreeSet<&str> = records
        .inspections
        .iter()
        .flat_map(|i| i.measurements.iter().map(|(n, _)| n.as_str()))
        .collect();
    let names: Vec<&str> = names.into_iter().collect();
    let found = names
        .iter()
        .find(|n| **n == measure.trim())
        .or_else(|| names.iter().find(|n| normal(n) == normal(measure)));
    found.map(|n| (*n).to_owned()).ok_or_else(|| {
        if names.is_empty() {
            return Error::new(
                Kind::UnknownColumn,
                "the records hold no measurements",
                "name a table of inspections under [files] with a column of numbers (thickness_mm, hardness, ...), or give a bare table with the columns seal, age and the measurement",
            )
            .in_column(measure);
        }
        let near =
            nearest(measure, &names).map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
        Error::new(
            Kind::UnknownColumn,
            format!("no inspection has a measurement \"{measure}\""),
            format!("{near}there are: {}", names.join(", ")),
        )
        .in_column(measure)
    })
}

/// Days from 1970-01-01 to the middle of the days a date may stand for.
fn middle(date: crate::dates::Span) -> f64 {
    let epoch = jiff::civil::Date::constant(1970, 1, 1);
    0.5 * (days_between(epoch, date.first()) + days_between(epoch, date.last())) as f64
}

/// The seal's age at the cut-off, if it is in service and the clock can tell.
fn running_age(records: &Records, seal: &Seal, looks: &Looks<'_>, clock: Clock) -> Option<f64> {
    if seal.removed.is_some() {
        return None;
    }
    let age = match clock {
        Clock::Days => middle(crate::dates::Span::day(seal.watched_to)) - middle(seal.fitted),
        _ => {
            let asset = seal.asset.as_deref();
            let now = asset
                .and_then(|a| records.asset_index.get(a))
                .and_then(|a| a.current_reading);
            let seen = looks.latest_reading(seal);
            let reading = match (now, seen) {
                (Some(a), Some(b)) => a.max(b),
                (a, b) => a.or(b)?,
            };
            reading - seal.fitted_reading?
        }
    };
    (age >= 0.0).then_some(age)
}
