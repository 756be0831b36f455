//! Competing modes: lives by mode, and their cumulative incidence against expected values.

use super::close::Check;
use super::data;
use super::expected::{fraction, number};
use super::tolerances::ARITHMETIC;
use sealspan_life::competing::incidence::{Incidence, Step};
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_life::product_limit;
use serde_json::Value;

/// Lives of a data set by its column `mode`; those still running name none.
pub fn lives(name: &str, modes: &[&str]) -> ByMode {
    let mut rows = vec![];
    for (word, sample) in data::by(name, "mode") {
        let mode = modes.iter().position(|m| *m == word);
        rows.extend(sample.rows().iter().map(|o| ModeRow {
            observation: *o,
            mode,
        }));
    }
    ByMode::new(rows, modes.len()).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// The last step of a mode up to an age.
pub fn last(found: &Incidence, mode: usize, t: f64) -> Option<&Step> {
    found.modes[mode].iter().rev().find(|s| s.time <= t)
}

/// Compares one row of expected values for a mode: the share, as a fraction where there is one, its standard
/// errors of Greenwood's kind and by Gray's variance, and 1 − product limit of the mode by itself.
pub fn compare(checks: &mut Check, lives: &ByMode, found: &Incidence, mode: usize, wanted: &Value) {
    let t = number(wanted, "time");
    let what = |key: &str| format!("mode {mode} {t} {key}");
    let share = if wanted["exact"].is_string() {
        fraction(wanted, "exact")
    } else {
        number(wanted, "incidence")
    };
    checks.value(&what("share"), found.share(mode, t), share, ARITHMETIC);
    let step = last(found, mode, t);
    let error = step.map_or(0.0, |s| s.std_error);
    checks.value(
        &what("error"),
        error,
        number(wanted, "std_error"),
        ARITHMETIC,
    );
    let error = step.map_or(0.0, |s| s.gray_std_error);
    let gray = number(wanted, "gray_std_error");
    checks.value(&what("Gray's error"), error, gray, ARITHMETIC);
    let alone = product_limit::curve(&lives.cause_specific(mode), 0.95).unwrap();
    let wanted = number(wanted, "one_minus_product_limit");
    checks.value(&what("alone"), 1.0 - alone.survival(t), wanted, ARITHMETIC);
    assert!(found.share(mode, t) <= wanted + 1e-15, "{}", what("alone"));
}
