//! Comparison of a value with an expected one.

use super::tolerances::Tolerance;

/// Collects differences over a case, so that one run shows all of them.
#[derive(Debug, Default)]
pub struct Check {
    case: String,
    compared: usize,
    wrong: Vec<String>,
    worst: f64,
}

impl Check {
    pub fn new(case: &str) -> Self {
        Self {
            case: case.to_owned(),
            ..Self::default()
        }
    }

    /// Compares one value.
    pub fn value(&mut self, what: &str, ours: f64, expected: f64, tolerance: Tolerance) {
        self.compared += 1;
        let off = (ours - expected).abs();
        let allowed = (tolerance.relative * expected.abs()).max(tolerance.absolute);
        if tolerance.relative > 0.0 {
            let scale = expected.abs().max(tolerance.absolute / tolerance.relative);
            self.worst = self.worst.max(off / scale);
        }
        if off.is_nan() || off > allowed {
            let relative = off / expected.abs();
            self.wrong.push(format!(
                "{what}: {ours:?}, expected {expected:?} (relative {relative:.1e})"
            ));
        }
    }

    /// Compares one value that must be there.
    pub fn some(&mut self, what: &str, ours: Option<f64>, expected: f64, tolerance: Tolerance) {
        self.value(what, ours.unwrap_or(f64::NAN), expected, tolerance);
    }

    /// Fails with every difference found, or when fewer values than `at_least` were compared.
    pub fn finish(self, at_least: usize) {
        println!(
            "{}: {} values, worst difference {:.1e}",
            self.case, self.compared, self.worst
        );
        assert!(
            self.wrong.is_empty(),
            "{}:\n{}",
            self.case,
            self.wrong.join("\n")
        );
        assert!(
            self.compared >= at_least,
            "{}: only {} values compared, {at_least} expected",
            self.case,
            self.compared
        );
    }
}
