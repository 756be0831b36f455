//! A table of laboratory ageing: a property against time in several ovens.

use crate::error::{Error, Kind};
use crate::sheet::Sheet;
use crate::table::Source;
use crate::words::normal;
use std::path::Path;

/// A unit of time of a laboratory table, in hours.
const UNITS: [(&[&str], f64); 4] = [
    (&["min", "minute", "minutes"], 1.0 / 60.0),
    (&["h", "hr", "hour", "hours"], 1.0),
    (&["d", "day", "days"], 24.0),
    (&["w", "week", "weeks"], 168.0),
];

/// Columns that are no property.
const KNOWN: [&str; 7] = [
    "material",
    "temperature_c",
    "time",
    "time_unit",
    "time_h",
    "time_days",
    "specimen",
];

/// Hours in one of a unit of time: min, minute, minutes (1/60); h, hr, hour, hours (1); d, day, days (24); w, week, weeks
/// (168); `None` for any other word.
#[must_use]
pub fn hours_of_unit(word: &str) -> Option<f64> {
    let word = normal(word);
    UNITS
        .iter()
        .find(|(names, _)| names.contains(&word.as_str()))
        .map(|(_, hours)| *hours)
}

/// One measurement in an oven.
#[derive(Debug, Clone, PartialEq)]
pub struct LabRow {
    /// The file's own row number.
    pub row: u64,
    /// The material, where the table has such a column.
    pub material: Option<String>,
    /// Temperature of the oven, °C, from -150 to 1000.
    pub celsius: f64,
    /// Time in the oven, hours, 0 or more.
    pub hours: f64,
    /// The property, in the unit of the table.
    pub value: f64,
    /// The specimen, where named.
    pub specimen: Option<String>,
}

/// A laboratory table as read.
///
/// ```
/// use sealspan_records::lab::{hours_of_unit, lab};
/// let path = std::env::temp_dir().join(format!("sealspan-doc-lab-{}.csv", std::process::id()));
/// std::fs::write(&path, "temperature_c,time,elongation\n100,2,320\n")?;
/// let read = lab(&path, None, Some("weeks"))?; // the only other column is the property
/// assert_eq!((read.measure.as_str(), read.rows[0].value), ("elongation", 320.0));
/// assert_eq!((read.rows[0].celsius, read.rows[0].hours), (100.0, 336.0)); // 2 weeks of 168 h
/// assert_eq!(hours_of_unit("fortnight"), None);
/// # std::fs::remove_file(&path)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Lab {
    /// The column of the property.
    pub measure: String,
    /// Its rows, in the order of the table.
    pub rows: Vec<LabRow>,
    /// The file.
    pub source: Source,
}

/// Where the time of a row stands.
struct Clock {
    column: String,
    unit_column: Option<String>,
    hours: Option<f64>,
}

/// Reads a laboratory table: `temperature_c`, a time (`time_h`, else `time_days`, else `time` with `time_unit` or a stated
/// unit), the property, and where there are such columns `material` and `specimen`.
///
/// Without `measure` the property is the column `value`, or the only column that is none of ours. `time_unit` is a word of
/// [`hours_of_unit`] for a column `time` without a unit in the table; a filled cell of the table's own `time_unit` goes
/// before it.
///
/// # Errors
/// As [`Sheet::open`], and at the first fault (a column that is missing, a cell of temperature, time or property that is
/// empty, no number or out of range, a unit we do not know), with file, row, column and mend.
pub fn lab(path: &Path, measure: Option<&str>, time_unit: Option<&str>) -> Result<Lab, Error> {
    let sheet = Sheet::open(path)?;
    let temperature = sheet
        .need("temperature_c", "the temperature of the oven in °C")?
        .to_owned();
    let clock = clock(&sheet, path, time_unit)?;
    let measure = property(&sheet, path, measure)?;
    let material = sheet.find("material").map(str::to_owned);
    let specimen = sheet.find("specimen").map(str::to_owned);
    let rows = (0..sheet.height())
        .map(|at| {
            let celsius = sheet.filled(&temperature, at)?;
            if !(-150.0..=1000.0).contains(&celsius) {
                return Err(sheet.fault(
                    &temperature,
                    at,
                    format!("{celsius} °C is no temperature of an oven for seals"),
                    "give °C, not kelvin or °F",
                ));
            }
            Ok(LabRow {
                row: sheet.row(at),
                material: sheet.text(material.as_deref(), at),
                celsius,
                hours: hours(&sheet, &clock, at)?,
                value: sheet.filled(&measure, at)?,
                specimen: sheet.text(specimen.as_deref(), at),
            })
        })
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Lab {
        source: sheet.source("laboratory"),
        measure,
        rows,
    })
}

fn clock(sheet: &Sheet, path: &Path, stated: Option<&str>) -> Result<Clock, Error> {
    for (name, hours) in [("time_h", 1.0), ("time_days", 24.0)] {
        if let Some(column) = sheet.find(name) {
            return Ok(Clock {
                column: column.to_owned(),
                unit_column: None,
                hours: Some(hours),
            });
        }
    }
    let column = sheet.need("time", "the time in the oven")?.to_owned();
    let unit_column = sheet.find("time_unit").map(str::to_owned);
    let hours = stated.and_then(hours_of_unit);
    if unit_column.is_none() && hours.is_none() {
        return Err(Error::new(
            Kind::MissingColumn,
            "the unit of the column `time` is not known",
            "add a column `time_unit` (min, h, days, weeks), or state it with --time-unit",
        )
        .in_file(path)
        .at_row(sheet.header_row())
        .in_column(column));
    }
    Ok(Clock {
        column,
        unit_column,
        hours,
    })
}

fn hours(sheet: &Sheet, clock: &Clock, at: usize) -> Result<f64, Error> {
    let time = sheet.filled(&clock.column, at)?;
    if time < 0.0 {
        return Err(sheet.fault(
            &clock.column,
            at,
            format!("a time of {time} lies before the start"),
            "count time from the start of the test",
        ));
    }
    let unit = match &clock.unit_column {
        Some(column) => match sheet.text(Some(column), at) {
            Some(word) => hours_of_unit(&word).ok_or_else(|| {
                sheet.fault(
                    column,
                    at,
                    format!("\"{word}\" is no unit of time we know"),
                    "write min, h, days or weeks",
                )
            })?,
            None => clock.hours.ok_or_else(|| {
                sheet.fault(
                    column,
                    at,
                    "the unit of time is missing",
                    "write min, h, days or weeks",
                )
            })?,
        },
        None => clock.hours.unwrap_or(1.0),
    };
    Ok(time * unit)
}

fn property(sheet: &Sheet, path: &Path, measure: Option<&str>) -> Result<String, Error> {
    if let Some(name) = measure {
        return Ok(sheet
            .need(name, "the property that was measured")?
            .to_owned());
    }
    if let Some(column) = sheet.find("value") {
        return Ok(column.to_owned());
    }
    let names = sheet.names();
    let others: Vec<&str> = names
        .iter()
        .copied()
        .filter(|n| !KNOWN.contains(&normal(n).as_str()))
        .collect();
    match others.as_slice() {
        [one] => Ok((*one).to_owned()),
        _ => Err(Error::new(
            Kind::MissingColumn,
            "which column holds the property is not clear",
            format!(
                "name it with --measure; the columns are: {}",
                names.join(", ")
            ),
        )
        .in_file(path)
        .at_row(sheet.header_row())),
    }
}
