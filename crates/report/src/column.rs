//! Names of columns as readers see them: "temperature" of `temperature_c`, "thickness (mm)" of `thickness_mm`.
//!
//! ```
//! assert_eq!(sealspan_report::column::unit("thickness_mm"), "mm");
//! assert_eq!(sealspan_report::column::unit("leak"), "");
//! ```

/// Units that the names of columns end in, and how they are written.
const UNITS: [(&str, &str); 8] = [
    ("_mm", "mm"),
    ("_um", "µm"),
    ("_pct", "%"),
    ("_percent", "%"),
    ("_bar", "bar"),
    ("_mpa", "MPa"),
    ("_days", "days"),
    ("_hours", "hours"),
];
/// The one column whose name ends in a degree.
const CELSIUS: (&str, &str) = ("temperature_c", "°C");

/// The name without its unit, and the unit; an empty unit where the name has none.
fn split(column: &str) -> (&str, &'static str) {
    if column == CELSIUS.0 {
        return ("temperature", CELSIUS.1);
    }
    let found = UNITS
        .iter()
        .find_map(|(end, unit)| Some((column.strip_suffix(end)?, *unit)));
    found
        .filter(|(name, _)| !name.is_empty())
        .unwrap_or((column, ""))
}

/// In a sentence: the unit is left out.
///
/// ```
/// use sealspan_report::column::spoken;
/// assert_eq!(spoken("thickness_mm"), "thickness");
/// assert_eq!(spoken("cure_month"), "cure month");
/// ```
#[must_use]
pub fn spoken(column: &str) -> String {
    split(column).0.replace('_', " ")
}

/// Beside an axis or at the head of a table: with its unit.
///
/// ```
/// use sealspan_report::column::headed;
/// assert_eq!(headed("temperature_c"), "temperature (°C)");
/// assert_eq!(headed("cure_month"), "cure month");
/// ```
#[must_use]
pub fn headed(column: &str) -> String {
    match split(column) {
        (_, "") => spoken(column),
        (_, unit) => format!("{} ({unit})", spoken(column)),
    }
}

/// A value of the column, to three figures, with the unit that the name tells.
///
/// ```
/// use sealspan_report::column::with_unit;
/// assert_eq!(with_unit(4.5, "thickness_mm"), "4.50 mm");
/// assert_eq!(with_unit(0.2, "leak"), "0.200");
/// ```
#[must_use]
pub fn with_unit(value: f64, column: &str) -> String {
    let value = crate::number::significant(value, 3);
    match unit(column) {
        "" => value,
        unit => format!("{value} {unit}"),
    }
}

/// The unit alone; empty where the name has none.
#[must_use]
pub fn unit(column: &str) -> &'static str {
    split(column).1
}
