//! Leukaemia maintenance trial, Miller (1997): product-limit curves and cumulative hazards of both arms.

use crate::support::close::Check;
use crate::support::expected::read;
use crate::support::{curves, data};

const NAME: &str = "leukaemia-maintenance";

#[test]
fn product_limit_curves_with_greenwood_errors_and_log_log_bounds() {
    let case = read(NAME);
    let mut checks = Check::new(NAME);
    for (arm, sample) in data::by(NAME, "group") {
        curves::product_limit(&mut checks, &arm, &sample, &case["product_limit"][&arm]);
    }
    // 16 steps of five values, less the three that do not exist where the second curve ends at 0.
    checks.finish(77);
}

#[test]
fn cumulative_hazards_with_errors_and_log_bounds() {
    let case = read(NAME);
    let mut checks = Check::new("leukaemia-maintenance cumulative hazard");
    for (arm, sample) in data::by(NAME, "group") {
        curves::hazard(&mut checks, &arm, &sample, &case["cumulative_hazard"][&arm]);
    }
    checks.finish(80);
}
