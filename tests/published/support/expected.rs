//! Expected values of a case.

use serde_json::Value;
use std::path::PathBuf;

/// The file `expected/NAME.json`.
pub fn read(name: &str) -> Value {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("published/expected")
        .join(format!("{name}.json"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// A number that must be there.
pub fn number(value: &Value, key: &str) -> f64 {
    value[key]
        .as_f64()
        .unwrap_or_else(|| panic!("no number `{key}` in {value}"))
}

/// A list of numbers that must be there.
pub fn numbers(value: &Value, key: &str) -> Vec<f64> {
    let list = value[key]
        .as_array()
        .unwrap_or_else(|| panic!("no list `{key}`"));
    list.iter().map(|v| v.as_f64().unwrap()).collect()
}

/// Printed value of a source with the decimals it was printed to.
pub fn printed(case: &Value, key: &str) -> f64 {
    number(&case["published"][key], "value")
}

/// A fraction such as "3/14" (or a whole number), to the nearest double.
pub fn fraction(value: &Value, key: &str) -> f64 {
    let text = value[key]
        .as_str()
        .unwrap_or_else(|| panic!("no fraction `{key}` in {value}"));
    let (over, under) = text.split_once('/').unwrap_or((text, "1"));
    let part = |digits: &str| digits.parse::<f64>().expect(text);
    part(over) / part(under)
}
