//! Anderson–Darling and Cramér–von Mises statistics of a complete sample at the fitted law.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::ESTIMATE;
use sealspan_life::fit::fit;
use sealspan_life::goodness::statistics;
use sealspan_life::laws::by_name;

#[test]
fn ball_bearings_under_five_laws() {
    let sample = crate::support::data::all("ball-bearings");
    let case = read("ball-bearings-goodness");
    let mut checks = Check::new("ball-bearings-goodness");
    for wanted in case["statistics"].as_array().unwrap() {
        let name = wanted["family"].as_str().unwrap();
        let kind = wanted["statistic"].as_str().unwrap();
        let fit = fit(by_name(name).unwrap(), &sample).unwrap();
        let got = statistics(fit.family, &fit.theta, &fit.terms).unwrap();
        let ours = if kind == "anderson_darling" {
            got.anderson_darling
        } else {
            got.cramer_von_mises
        };
        checks.value(
            &format!("{name} {kind}"),
            ours,
            number(wanted, "value"),
            ESTIMATE,
        );
    }
    checks.finish(10);
}
