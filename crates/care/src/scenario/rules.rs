//! The small rules a scenario is checked with; each names the key it was given.

use std::collections::BTreeMap;

use super::error::ScenarioError;
use super::file::Plan;

/// Kept, or broken with the key and what is allowed.
pub(super) type Checked = Result<(), ScenarioError>;

pub(super) fn rule(
    kept: bool,
    key: impl Into<String>,
    message: impl FnOnce() -> String,
) -> Checked {
    if kept {
        Ok(())
    } else {
        Err(ScenarioError::rule(key, message()))
    }
}

pub(super) fn above_zero(key: impl Into<String>, value: f64) -> Checked {
    rule(value.is_finite() && value > 0.0, key, || {
        format!("{value} must be a finite number above 0")
    })
}

pub(super) fn not_negative(key: impl Into<String>, value: f64) -> Checked {
    rule(value.is_finite() && value >= 0.0, key, || {
        format!("{value} must be a finite number, 0 or more")
    })
}

pub(super) fn probability(key: impl Into<String>, value: f64) -> Checked {
    rule((0.0..=1.0).contains(&value), key, || {
        format!("{value} is a probability: between 0 and 1")
    })
}

pub(super) fn filled(key: &str, count: usize) -> Checked {
    rule(count > 0, key, || "give at least one".to_owned())
}

pub(super) fn alone<'a>(
    key: &str,
    name: &str,
    mut earlier: impl Iterator<Item = &'a String>,
) -> Checked {
    rule(!name.trim().is_empty(), key, || {
        "the name is empty".to_owned()
    })?;
    rule(earlier.all(|other| other != name), key, || {
        format!("`{name}` stands there twice")
    })
}

pub(super) fn temperature(key: impl Into<String>, celsius: f64) -> Checked {
    rule((-90.0..=350.0).contains(&celsius), key, || {
        format!("{celsius} °C is outside -90 to 350 °C")
    })
}

pub(super) fn weights(key: &str, weights: &BTreeMap<String, f64>) -> Checked {
    for (name, weight) in weights {
        not_negative(format!("{key}.{name}"), *weight)?;
    }
    let sum: f64 = weights.values().sum();
    rule(sum.is_finite() && sum > 0.0, key, || {
        "give at least one weight above 0".to_owned()
    })
}

pub(super) fn known_material(plan: &Plan, key: impl Into<String>, symbol: &str) -> Checked {
    rule(
        plan.materials.iter().any(|m| m.symbol == symbol),
        key,
        || format!("no material `{symbol}` in this scenario"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_out_of_range_are_refused() {
        for bad in [-1.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(not_negative("key", bad).is_err(), "{bad}");
            assert!(above_zero("key", bad).is_err(), "{bad}");
            assert!(probability("key", bad).is_err(), "{bad}");
        }
        assert!(not_negative("key", 0.0).is_ok() && above_zero("key", 0.0).is_err());
        assert!(probability("key", 1.0).is_ok() && probability("key", 1.1).is_err());
    }
}
