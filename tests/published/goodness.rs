//! Anderson–Darling and Cramér–von Mises statistics of a complete sample at the fitted law; the greatest distance of
//! Kolmogorov and the factors of modified statistics, which are not offered, from the fitted law's own curve.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::ESTIMATE;
use sealspan_life::fit::fit;
use sealspan_life::goodness::statistics;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_records::Sample;
use sealspan_records::observation::Seen;

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
        let seals = sample.tally().total();
        let ours = match kind {
            "anderson_darling" => got.anderson_darling,
            "cramer_von_mises" => got.cramer_von_mises,
            "greatest_distance" => greatest_distance(&fit.life(), &sample),
            // D'Agostino & Stephens 1986 (from memory).
            "anderson_darling_modified" if name == "weibull" => {
                got.anderson_darling * (1.0 + 0.2 / seals.sqrt())
            }
            "anderson_darling_modified" if name == "exponential" => {
                got.anderson_darling * (1.0 + 0.6 / seals)
            }
            _ => panic!("{name} {kind}: this check does not know the statistic"),
        };
        checks.value(
            &format!("{name} {kind}"),
            ours,
            number(wanted, "value"),
            ESTIMATE,
        );
    }
    checks.finish(17);
}

/// The greatest distance between the fitted curve and the steps of a complete sample.
fn greatest_distance(life: &Life, sample: &Sample) -> f64 {
    let mut ages: Vec<f64> = vec![];
    for o in sample.rows() {
        let Seen::Exact(age) = o.seen() else {
            panic!("a complete sample");
        };
        ages.extend(std::iter::repeat_n(age, o.count() as usize));
    }
    ages.sort_by(f64::total_cmp);
    let n = ages.len() as f64;
    let distances = ages.iter().enumerate().map(|(i, age)| {
        let failed = life.failed(*age);
        (failed - i as f64 / n).max((i as f64 + 1.0) / n - failed)
    });
    distances.fold(0.0, f64::max)
}
