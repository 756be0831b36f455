//! NIST/SEMATECH e-Handbook of Statistical Methods 8.2.2.1, 8.4.1.2, 8.4.1.3: 20 units on test for
//! 500 hours, 10 failed.

use crate::support::close::Check;
use crate::support::expected::{printed as published, read};
use crate::support::tolerances::printed;
use crate::support::{data, fits, ranks};
use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_life::rank_regression::{MedianRank, Paper, rank_regression};
use sealspan_life::ranks::Regress;

const NAME: &str = "nist-weibull";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 202);
}

#[test]
fn ranks_and_lines_agree_with_50_digit_arithmetic() {
    ranks::check(NAME);
}

/// What the handbook prints. Its scale, 606.5280, is 0.0004 above the maximum (606.52756), so that one
/// is compared to two digits after the point.
#[test]
fn the_handbook_prints_the_same() {
    let case = read(NAME);
    let sample = data::all(NAME);
    let weibull = fit(by_name("weibull").unwrap(), &sample).unwrap();
    let lognormal = fit(by_name("lognormal").unwrap(), &sample).unwrap();
    let line = rank_regression(
        &sample,
        Paper::Weibull,
        MedianRank::Benard,
        Regress::RankOnAge,
    )
    .unwrap();
    let mut checks = Check::new("nist-weibull as printed");
    for (key, ours, decimals) in [
        ("weibull.scale", weibull.estimate(Quantity::Parameter(1)), 2),
        ("weibull.shape", weibull.estimate(Quantity::Parameter(0)), 4),
        ("weibull.loglik", weibull.log_likelihood, 3),
        ("weibull.aic", weibull.aic(), 2),
        ("lognormal.aic", lognormal.aic(), 2),
        ("weibull.mean", weibull.estimate(Quantity::Mean), 3),
        ("mrr.weibull.benard.YonX.shape", 1.0 / line.slope, 6),
    ] {
        let value = published(&case, key);
        checks.value(key, ours, value, printed(value, decimals));
    }
    checks.finish(7);
}
