//! NIST/SEMATECH e-Handbook 8.4.2: three temperatures, lives censored at 1000 hours.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::{ESTIMATE, TEST, printed};
use crate::support::{data, regression};
use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_life::regression::{Place, Regression};
use sealspan_numeric::special::{chi_square_survival, normal_quantile};
use sealspan_records::Sample;

const NAME: &str = "arrhenius-three-temperatures";

/// 1 / (k T) by the page's constants, and by the exact ones.
fn by_the_page(celsius: f64) -> f64 {
    1.0 / (8.617e-5 * (celsius + 273.16))
}

fn exact(celsius: f64) -> f64 {
    1.0 / (8.617_333_262e-5 * (celsius + 273.15))
}

fn groups() -> Vec<(f64, Sample)> {
    let groups = data::by(NAME, "temperature_c").into_iter();
    groups.map(|(t, s)| (t.parse().unwrap(), s)).collect()
}

fn arrhenius(family: &str, x: fn(f64) -> f64) -> Regression {
    let groups = groups();
    let cells: Vec<_> = groups.iter().map(|(t, s)| (vec![1.0, x(*t)], s)).collect();
    regression::fitted(
        by_name(family).unwrap(),
        &["intercept", "activation"],
        &cells,
    )
}

#[test]
fn line_by_the_pages_constants_and_by_exact_ones() {
    let case = read(NAME);
    let mut checks = Check::new(NAME);
    for (constants, x) in [("nist", by_the_page as fn(f64) -> f64), ("std", exact)] {
        for family in ["lognormal", "weibull"] {
            let wanted = &case[constants][family];
            let ours = arrhenius(family, x);
            regression::check(
                &mut checks,
                &ours,
                wanted,
                &["b0", "Ea_eV"],
                &["lrt", "q0."],
            );
            if constants == "std" {
                continue;
            }
            let pooled = fit(by_name(family).unwrap(), &data::all(NAME)).unwrap();
            let ratio = 2.0 * (ours.log_likelihood - pooled.log_likelihood);
            checks.value(
                "likelihood ratio",
                ratio,
                number(wanted, "lrt_vs_intercept"),
                ESTIMATE,
            );
            let place = Place {
                row: vec![(0, 1.0), (1, x(25.0))],
                offset: 0.0,
                stratum: 0,
            };
            let z = normal_quantile(0.975);
            let half = ours.predict(&place, Quantity::Quantile(0.5), &ours.covariance, z);
            let key = "q0.5[25C]";
            checks.value(key, half.estimate, number(wanted, key), ESTIMATE);
            checks.value(
                key,
                half.ln_error,
                number(wanted, "q0.5[25C].se_log"),
                ESTIMATE,
            );
            checks.some(
                key,
                half.lower,
                number(wanted, "q0.5[25C].wald95.lo"),
                ESTIMATE,
            );
            checks.some(
                key,
                half.upper,
                number(wanted, "q0.5[25C].wald95.hi"),
                ESTIMATE,
            );
        }
    }
    checks.finish(62);
}

/// A line against a lognormal law of its own at each temperature.
#[test]
fn line_against_separate_temperatures() {
    let case = read(NAME);
    let mut checks = Check::new("arrhenius-three-temperatures apart");
    let mut apart = 0.0;
    for (celsius, sample) in groups() {
        let ours = fit(by_name("lognormal").unwrap(), &sample).unwrap();
        let wanted = &case["separate"][format!("{celsius}")];
        checks.value("mu", ours.theta[0], number(wanted, "mu"), ESTIMATE);
        checks.value(
            "sigma",
            ours.theta[1].exp(),
            number(wanted, "sigma"),
            ESTIMATE,
        );
        checks.value(
            "se_mu",
            ours.covariance[(0, 0)].sqrt(),
            number(wanted, "se_mu"),
            ESTIMATE,
        );
        checks.value(
            "loglik",
            ours.log_likelihood,
            number(wanted, "loglik"),
            ESTIMATE,
        );
        apart += ours.log_likelihood;
    }
    let line = arrhenius("lognormal", by_the_page);
    let statistic = 2.0 * (apart - line.log_likelihood);
    let wanted = &case["against_separate"];
    let p = chi_square_survival(statistic, number(wanted, "df"));
    checks.value(
        "statistic",
        statistic,
        number(wanted, "statistic"),
        ESTIMATE,
    );
    checks.value("p-value", p, number(wanted, "p_value"), TEST);
    checks.finish(14);
}

/// What the page prints, to the digits it prints.
#[test]
fn the_page_prints_the_same() {
    let case = read(NAME);
    let line = arrhenius("lognormal", by_the_page);
    let pooled = fit(by_name("lognormal").unwrap(), &data::all(NAME)).unwrap();
    let error = |i: usize| line.covariance[(i, i)].sqrt();
    let mut checks = Check::new("arrhenius-three-temperatures as printed");
    for (key, ours) in [
        ("coef.b0", line.x[0]),
        ("coef.Ea_eV", line.x[1]),
        ("coef.logsigma", line.x[2]),
        ("se.b0", error(0)),
        ("se.Ea_eV", error(1)),
        ("se.logsigma", error(2)),
        ("sigma", line.x[2].exp()),
        ("loglik", line.log_likelihood),
        (
            "lrt_vs_intercept",
            2.0 * (line.log_likelihood - pooled.log_likelihood),
        ),
    ] {
        let wanted = &case["published"][key];
        let decimals = number(wanted, "decimals") as i32;
        checks.value(key, ours, number(wanted, "value"), printed(ours, decimals));
    }
    checks.finish(9);
}
