//! Turbine wheels, Nelson (1982): 432 wheels, each looked at once and found cracked or not.

use crate::support::close::Check;
use crate::support::expected::{printed as published, read};
use crate::support::tolerances::printed;
use crate::support::{data, fits, turnbull};
use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;

const NAME: &str = "turbine-wheels";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 118);
}

#[test]
fn turnbull_curve_agrees_with_50_digit_arithmetic() {
    let mut checks = Check::new("turbine-wheels interval curve");
    turnbull::check(
        &mut checks,
        "all",
        &data::all(NAME),
        &read(NAME)["turnbull"][0],
    );
    checks.finish(9);
}

#[test]
fn stored_output_of_r_survival_prints_the_same() {
    let case = read(NAME);
    let fit = fit(by_name("lognormal").unwrap(), &data::all(NAME)).unwrap();
    let mut checks = Check::new("turbine-wheels as printed");
    for (key, ours, decimals) in [
        ("lognormal.mu", fit.theta[0], 4),
        ("lognormal.se_mu", fit.covariance[(0, 0)].sqrt(), 4),
        ("lognormal.ln_sigma", fit.theta[1], 4),
        ("lognormal.loglik", fit.log_likelihood, 1),
    ] {
        let value = published(&case, key);
        checks.value(key, ours, value, printed(value, decimals));
    }
    checks.finish(4);
}
