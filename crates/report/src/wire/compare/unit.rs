//! The unit of a column, where its name ends in one: `voltage_v`, `pressure_bar`, `thickness_mm`.

/// Endings that are units, and how they are written (common practice, no source).
const ENDINGS: [(&str, &str); 35] = [
    ("c", "°C"),
    ("celsius", "°C"),
    ("k", "K"),
    ("v", "V"),
    ("kv", "kV"),
    ("a", "A"),
    ("w", "W"),
    ("kw", "kW"),
    ("hz", "Hz"),
    ("rpm", "rpm"),
    ("pa", "Pa"),
    ("kpa", "kPa"),
    ("mpa", "MPa"),
    ("bar", "bar"),
    ("mbar", "mbar"),
    ("psi", "psi"),
    ("n", "N"),
    ("kn", "kN"),
    ("um", "µm"),
    ("mm", "mm"),
    ("cm", "cm"),
    ("m", "m"),
    ("g", "g"),
    ("kg", "kg"),
    ("ml", "ml"),
    ("l", "l"),
    ("hl", "hl"),
    ("pct", "%"),
    ("percent", "%"),
    ("ppm", "ppm"),
    ("s", "s"),
    ("min", "min"),
    ("h", "h"),
    ("hours", "h"),
    ("days", "days"),
];

/// The unit that a column's name ends in, else "unit of COLUMN".
///
/// ```
/// use sealspan_report::wire::compare::unit_of;
/// assert_eq!(unit_of("voltage_v"), "V");
/// assert_eq!(unit_of("strength"), "unit of strength");
/// ```
#[must_use]
pub fn unit_of(column: &str) -> String {
    let ending = column.rsplit_once('_').map(|(_, last)| last.to_lowercase());
    let known = ending.and_then(|e| ENDINGS.iter().find(|(end, _)| *end == e));
    known.map_or_else(
        || format!("unit of {column}"),
        |(_, unit)| (*unit).to_owned(),
    )
}

const PER: &str = "ln life per ";

/// The unit of the coefficient of a product, from those of its factors.
pub(super) fn crossed(a: &str, b: &str) -> String {
    match (a.strip_prefix(PER), b.strip_prefix(PER)) {
        (Some(x), Some(y)) => format!("{PER}{x} and {y}"),
        (None, Some(y)) if a != "ln life ratio" && a != "pure number" => format!("{a} per {y}"),
        (Some(x), None) if b != "ln life ratio" && b != "pure number" => format!("{b} per {x}"),
        (Some(x), None) => format!("{PER}{x}"),
        (None, Some(y)) => format!("{PER}{y}"),
        (None, None) if a == "ln life ratio" => b.to_owned(),
        (None, None) if b == "ln life ratio" || b == "pure number" => a.to_owned(),
        (None, None) => b.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::crossed;

    #[test]
    fn products_have_both_units() {
        let per = |unit: &str| format!("ln life per {unit}");
        assert_eq!(crossed(&per("°C"), &per("V")), "ln life per °C and V");
        assert_eq!(crossed("eV", &per("V")), "eV per V");
        assert_eq!(crossed(&per("V"), "ln life ratio"), "ln life per V");
        assert_eq!(crossed("ln life ratio", "ln life ratio"), "ln life ratio");
        assert_eq!(crossed("ln life ratio", "eV"), "eV");
        assert_eq!(crossed("eV", "pure number"), "eV");
    }
}
