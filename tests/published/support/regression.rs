//! Accelerated-life regressions against expected coefficients.

use super::close::Check;
use super::tolerances::{ESTIMATE, FAR_TAIL};
use sealspan_life::family::Family;
use sealspan_life::regression::{Cell, Design, Fitting, Regression, fit_design};
use sealspan_life::terms::Terms;
use sealspan_records::Sample;
use serde_json::Value;
use std::sync::Arc;

/// Regression of lives with one design row a group.
pub fn fitted(
    family: &'static dyn Family,
    names: &[&str],
    cells: &[(Vec<f64>, &Sample)],
) -> Regression {
    fitting(family, names, cells).regression
}

/// The same with its likelihood, for profiles.
pub fn fitting(
    family: &'static dyn Family,
    names: &[&str],
    cells: &[(Vec<f64>, &Sample)],
) -> Fitting {
    let names: Vec<String> = names.iter().map(|n| (*n).to_owned()).collect();
    let cells: Vec<Cell> = cells
        .iter()
        .map(|(row, sample)| Cell {
            row: row.clone(),
            terms: Arc::new(Terms::new(sample)),
        })
        .collect();
    fit_design(family, &Design::of_cells(&names, &cells))
        .unwrap_or_else(|e| panic!("{}: {e}", family.name()))
}

/// Compares every field named: `coef.X`, `se.X`, `p.X` with X of `columns` or `logsigma`, `cov`,
/// `loglik`, `sigma`. Fields beginning with one of `others` are the caller's.
pub fn check(
    checks: &mut Check,
    ours: &Regression,
    wanted: &Value,
    columns: &[&str],
    others: &[&str],
) {
    let family = ours.family.name();
    let coefficients = ours.coefficients(0.95);
    for (field, value) in wanted.as_object().unwrap() {
        let what = format!("{family} {field}");
        if others.iter().any(|o| field.starts_with(o)) {
            continue;
        }
        if field == "cov" {
            covariance(checks, &what, ours, value);
            continue;
        }
        let number = value.as_f64().unwrap();
        let (kind, name) = field.split_once('.').unwrap_or((field, ""));
        let at = columns.iter().position(|c| *c == name);
        match (kind, at) {
            ("loglik", None) => checks.value(&what, ours.log_likelihood, number, ESTIMATE),
            ("sigma", None) => checks.some(&what, ours.sigma(0.95).map(|s| s.0), number, ESTIMATE),
            ("coef", Some(i)) => checks.value(&what, coefficients[i].estimate, number, ESTIMATE),
            ("se", Some(i)) => checks.value(&what, coefficients[i].std_error, number, ESTIMATE),
            ("p", Some(i)) => checks.value(&what, coefficients[i].p_value, number, FAR_TAIL),
            ("coef", None) if name == "logsigma" => {
                checks.value(&what, ours.x[columns.len()], number, ESTIMATE);
            }
            ("se", None) if name == "logsigma" => {
                let at = columns.len();
                checks.value(&what, ours.covariance[(at, at)].sqrt(), number, ESTIMATE);
            }
            // That ln σ is 0 is not a question anybody asks of a fit.
            ("p", None) if name == "logsigma" => {}
            _ => panic!("{what}: this check does not know the field"),
        }
    }
}

fn covariance(checks: &mut Check, what: &str, ours: &Regression, wanted: &Value) {
    for (i, row) in wanted.as_array().unwrap().iter().enumerate() {
        for (j, value) in row.as_array().unwrap().iter().enumerate() {
            let what = format!("{what} {i} {j}");
            checks.value(
                &what,
                ours.covariance[(i, j)],
                value.as_f64().unwrap(),
                ESTIMATE,
            );
        }
    }
}
