//! Measurements from a bare table: one row a measurement, with the seal and its age.

use crate::error::Error;
use crate::measured::{Measured, MeasuredSeal};
use crate::sheet::Sheet;
use crate::words::normal;
use std::collections::BTreeMap;

/// Words for a seal that has been taken off.
const OFF: [&str; 5] = ["no", "false", "0", "removed", "off"];

/// True when a table has the columns of a bare table of measurements: `seal` and `age`.
#[must_use]
pub fn is_measured_sheet(sheet: &Sheet) -> bool {
    sheet.find("seal").is_some() && sheet.find("age").is_some()
}

/// Reads a bare table of measurements: `seal`, `age` (0 or more, in the unit of the clock), the measurement, and where
/// there are such columns `asset`, `age_now` (the seal's age today; its greatest measured age when not given, or when that
/// is greater) and `in_service` (taken off with no, false, 0, removed or off in any of its rows, else in service).
///
/// Seals come in the order of their first measurement, which gives their asset and group too; points by age. Rows
/// without a measurement are counted and not used.
///
/// # Errors
/// At the first fault (a column that is missing, a row without a seal or an age, a cell that is no number), with file,
/// row, column and mend.
///
/// ```
/// use sealspan_records::{Sheet, is_measured_sheet, measured_sheet};
/// let sheet = Sheet::of_text("set.csv", "seal,age,set_pct\nA,100,12.5\nA,200,19\nB,100,\n")?;
/// assert!(is_measured_sheet(&sheet));
/// let measured = measured_sheet(&sheet, "set_pct", &[])?;
/// assert_eq!(measured.seals[0].points, [(100.0, 12.5), (200.0, 19.0)]);
/// assert_eq!((measured.seals.len(), measured.unused), (1, 1)); // B has no reading
/// # Ok::<(), sealspan_records::Error>(())
/// ```
pub fn measured_sheet(sheet: &Sheet, measure: &str, by: &[String]) -> Result<Measured, Error> {
    let seal = sheet.need("seal", "which names the seal measured")?;
    let age = sheet.need("age", "the seal's age at the measurement")?;
    let measure = sheet.need(measure, "the measured property")?;
    let keys = by
        .iter()
        .map(|name| Ok((name.clone(), sheet.need(name, "to group by")?)))
        .collect::<Result<Vec<_>, Error>>()?;
    let mut order: Vec<String> = vec![];
    let mut seals: BTreeMap<String, MeasuredSeal> = BTreeMap::new();
    let mut out = Measured::default();
    for at in 0..sheet.height() {
        let name = sheet.text(Some(seal), at).ok_or_else(|| {
            sheet.fault(
                seal,
                at,
                "the row names no seal",
                "name the seal, or delete the row",
            )
        })?;
        let (age, value) = (not_negative(sheet, age, at)?, sheet.number(measure, at)?);
        let Some(value) = value else {
            out.unused += 1;
            continue;
        };
        let now = match sheet.find("age_now") {
            Some(column) => sheet.number(column, at)?,
            None => None,
        };
        let state = sheet.text(sheet.find("in_service"), at);
        let off = state.is_some_and(|s| OFF.contains(&normal(&s).as_str()));
        if !seals.contains_key(&name) {
            order.push(name.clone());
        }
        let one = seals.entry(name.clone()).or_insert_with(|| MeasuredSeal {
            seal: name,
            asset: sheet.text(sheet.find("asset"), at),
            key: keys
                .iter()
                .map(|(label, column)| {
                    let value = sheet.text(Some(column), at);
                    (
                        label.clone(),
                        value.unwrap_or_else(|| crate::keys::NONE.to_owned()),
                    )
                })
                .collect(),
            points: vec![],
            running_age: Some(0.0),
        });
        one.points.push((age, value));
        one.running_age = match one.running_age {
            Some(before) if !off => Some(before.max(now.unwrap_or(age)).max(age)),
            _ => None,
        };
    }
    for name in order {
        if let Some(mut one) = seals.remove(&name) {
            one.points.sort_by(|a, b| a.0.total_cmp(&b.0));
            out.seals.push(one);
        }
    }
    Ok(out)
}

fn not_negative(sheet: &Sheet, column: &str, at: usize) -> Result<f64, Error> {
    let value = sheet.filled(column, at)?;
    if value >= 0.0 {
        return Ok(value);
    }
    Err(sheet.fault(
        column,
        at,
        format!("an age of {value} lies before fitting"),
        "count age from the day of fitting",
    ))
}
