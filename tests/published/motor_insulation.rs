//! Motor insulation, Nelson (1990): 40 motorettes at 150, 170, 190 and 220 degrees Celsius.

use crate::support::close::Check;
use crate::support::expected::{number, printed as published, read};
use crate::support::tolerances::{ESTIMATE, PROFILE, printed};
use crate::support::{data, regression};
use sealspan_life::compare::by_law;
use sealspan_life::fit::{NoFit, fit};
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_life::regression::{Place, Regression};
use sealspan_numeric::special::normal_quantile;
use sealspan_records::Sample;

const NAME: &str = "motor-insulation";
/// Boltzmann's constant in eV/K (CODATA 2018, exact by definition of the units), as used by the
/// expected values.
const BOLTZMANN: f64 = 8.617_333_262e-5;

/// 1 / (k T) at a Celsius temperature.
fn reciprocal(celsius: f64) -> f64 {
    1.0 / (BOLTZMANN * (celsius + 273.15))
}

fn groups() -> Vec<(f64, Sample)> {
    let groups = data::by(NAME, "temperature_c");
    groups
        .into_iter()
        .map(|(t, sample)| (t.parse().unwrap(), sample))
        .collect()
}

fn arrhenius(family: &str, x: impl Fn(f64) -> f64, groups: &[(f64, Sample)]) -> Regression {
    let cells: Vec<_> = groups
        .iter()
        .map(|(t, sample)| (vec![1.0, x(*t)], sample))
        .collect();
    regression::fitted(
        by_name(family).unwrap(),
        &["intercept", "activation"],
        &cells,
    )
}

/// ln of the age by which `p` have failed at covariate `x`, with its standard error.
fn ln_quantile(ours: &Regression, standard: f64, x: f64) -> (f64, f64) {
    let sigma = ours.x[2].exp();
    let gradient = [1.0, x, sigma * standard];
    let mut variance = 0.0;
    for (i, a) in gradient.iter().enumerate() {
        for (j, b) in gradient.iter().enumerate() {
            variance += a * b * ours.covariance[(i, j)];
        }
    }
    (
        ours.x[0] + ours.x[1] * x + sigma * standard,
        variance.sqrt(),
    )
}

/// Quantile of the standard law at p.
fn standard(family: &str, p: f64) -> f64 {
    match family {
        "weibull" => (-(-p).ln_1p()).ln(),
        "loglogistic" => (p / (1.0 - p)).ln(),
        _ => normal_quantile(p),
    }
}

#[test]
fn each_temperature_by_itself() {
    let case = read(NAME);
    let mut checks = Check::new("motor-insulation by temperature");
    for (celsius, sample) in groups() {
        for family in ["weibull", "lognormal"] {
            let ours = fit(by_name(family).unwrap(), &sample);
            if celsius == 150.0 {
                assert_eq!(ours.err(), Some(NoFit::NoFailures { total: 10.0 }));
                continue;
            }
            let ours = ours.unwrap();
            let wanted = &case["by_temperature"][family][format!("{celsius}")];
            for (key, value) in [
                ("mu", ours.theta[0]),
                ("logsigma", ours.theta[1]),
                ("loglik", ours.log_likelihood),
                ("cov.mu_mu", ours.covariance[(0, 0)]),
                ("cov.mu_logsigma", ours.covariance[(0, 1)]),
                ("cov.logsigma_logsigma", ours.covariance[(1, 1)]),
                ("B10", ours.estimate(Quantity::Quantile(0.1))),
            ] {
                let what = format!("{family} {celsius} {key}");
                checks.value(&what, value, number(wanted, key), ESTIMATE);
            }
        }
    }
    checks.finish(42);
}

#[test]
fn common_shape_with_temperature_as_a_factor() {
    let case = read(NAME);
    let failed: Vec<_> = groups().into_iter().filter(|g| g.0 > 150.0).collect();
    let samples: Vec<Sample> = failed.iter().map(|g| g.1.clone()).collect();
    let names = ["intercept", "temperature_c=190", "temperature_c=220"].map(str::to_owned);
    let mut checks = Check::new("motor-insulation factor");
    for family in ["weibull", "lognormal"] {
        let ours = by_law(by_name(family).unwrap(), &names, &samples).unwrap();
        let wanted = &case["factor"][family];
        for (i, key) in ["b0", "b_190", "b_220", "logsigma"].into_iter().enumerate() {
            checks.value(key, ours.regression.x[i], number(wanted, key), ESTIMATE);
            let error = ours.regression.covariance[(i, i)].sqrt();
            checks.value(key, error, number(wanted, &format!("se_{key}")), ESTIMATE);
        }
        let loglik = ours.regression.log_likelihood;
        checks.value("loglik", loglik, number(wanted, "loglik"), ESTIMATE);
        let shape = ours.common_shape.unwrap();
        assert_eq!((shape.df, ours.common_life.df), (2.0, 2.0));
        for (test, key) in [(&shape, "common_shape"), (&ours.common_life, "common_life")] {
            checks.value(
                key,
                test.statistic,
                number(&wanted[key], "statistic"),
                ESTIMATE,
            );
            checks.value(key, test.p_value, number(&wanted[key], "p_value"), ESTIMATE);
        }
    }
    checks.finish(26);
}

/// A group without failures has no factor effect: it is refused, not given a large number.
#[test]
fn a_factor_level_without_failures_is_refused() {
    let groups = groups();
    let samples: Vec<Sample> = groups.iter().map(|g| g.1.clone()).collect();
    let names = ["intercept", "170", "190", "220"].map(str::to_owned);
    assert!(by_law(by_name("weibull").unwrap(), &names, &samples).is_err());
}

#[test]
fn arrhenius_line_over_all_temperatures() {
    let case = read(NAME);
    let mut checks = Check::new("motor-insulation Arrhenius");
    for family in ["weibull", "lognormal", "loglogistic"] {
        let wanted = &case["arrhenius"][family];
        let ours = arrhenius(family, reciprocal, &groups());
        regression::check(
            &mut checks,
            &ours,
            wanted,
            &["b0", "Ea_eV"],
            &["q0.", "lrt"],
        );
        for p in [0.1, 0.5] {
            let (ln, error) = ln_quantile(&ours, standard(family, p), reciprocal(130.0));
            let key = format!("q{p}[130C]");
            checks.value(&key, ln.exp(), number(wanted, &key), ESTIMATE);
            checks.value(
                &key,
                error,
                number(wanted, &format!("{key}.se_log")),
                ESTIMATE,
            );
        }
    }
    checks.finish(69);
}

/// Profile-likelihood bounds of the activation energy, life ratios between temperatures, and life at 130 °C with
/// its interval, as the library predicts it.
#[test]
fn profile_bounds_and_predictions() {
    let case = read(NAME);
    let groups = groups();
    let mut checks = Check::new("motor-insulation profile and prediction");
    for family in ["weibull", "lognormal", "loglogistic"] {
        let cells: Vec<_> = groups
            .iter()
            .map(|(t, sample)| (vec![1.0, reciprocal(*t)], sample))
            .collect();
        let fitting = regression::fitting(
            by_name(family).unwrap(),
            &["intercept", "activation"],
            &cells,
        );
        let ours = &fitting.regression;
        let [lower, upper] = fitting.profile(&[0.0, 1.0], 0.95);
        let wanted = &case["profile"][family];
        for (key, end) in [("Ea_eV.profile95.lo", lower), ("Ea_eV.profile95.hi", upper)] {
            checks.some(key, end, number(wanted, key), PROFILE);
        }
        for (key, from) in [("AF(130C->170C)", 130.0), ("AF(150C->170C)", 150.0)] {
            let rows = [from, 170.0].map(|t| [1.0, reciprocal(t)]);
            let factor = ours.contrast("", &rows[0], &rows[1], 0.95).estimate.exp();
            checks.value(
                key,
                factor,
                number(&case["acceleration"][family], key),
                ESTIMATE,
            );
        }
        let place = Place {
            row: vec![(0, 1.0), (1, reciprocal(130.0))],
            offset: 0.0,
            stratum: 0,
        };
        let z = normal_quantile(0.975);
        for p in [0.1, 0.5] {
            let asked = Quantity::Quantile(p);
            let life = ours.predict(&place, asked, &ours.covariance, z);
            let key = format!("q{p}[130C]");
            let wanted = &case["arrhenius"][family];
            checks.value(&key, life.estimate, number(wanted, &key), ESTIMATE);
            checks.value(
                &key,
                life.ln_error,
                number(wanted, &format!("{key}.se_log")),
                ESTIMATE,
            );
            for (end, value) in [("lo", life.lower), ("hi", life.upper)] {
                checks.some(
                    &key,
                    value,
                    number(wanted, &format!("{key}.wald95.{end}")),
                    ESTIMATE,
                );
            }
            // The profile holds the estimate and is of about the same width.
            let profile = fitting.predict_by_profile(&place, asked, 0.95);
            let (low, high) = (profile.lower.unwrap(), profile.upper.unwrap());
            assert!(low < life.estimate && life.estimate < high);
            let ratio = (high / low).ln() / (2.0 * z * life.ln_error);
            assert!((0.8..1.4).contains(&ratio), "{family} {p}: {ratio}");
        }
    }
    checks.finish(36);
}

/// The stored output of R survival for the temperatures above 150, with x = 1000 / (273.2 + °C).
#[test]
fn stored_output_of_r_survival_prints_the_same() {
    let case = read(NAME);
    let wanted = &case["arrhenius"]["lognormal above 150"];
    let failed: Vec<_> = groups().into_iter().filter(|g| g.0 > 150.0).collect();
    let x = |celsius: f64| 1000.0 / (273.2 + celsius);
    let ours = arrhenius("lognormal", x, &failed);
    let mut checks = Check::new("motor-insulation above 150");
    for (i, key) in ["b0", "b1", "logsigma"].into_iter().enumerate() {
        checks.value(key, ours.x[i], number(wanted, key), ESTIMATE);
        let (key, decimals) = (format!("subset.{key}"), 3);
        checks.value(
            &key,
            ours.x[i],
            published(&case, &key),
            printed(ours.x[i], decimals),
        );
    }
    let loglik = ours.log_likelihood;
    checks.value(
        "loglik",
        loglik,
        number(wanted, "loglik_time_scale"),
        ESTIMATE,
    );
    let printed_loglik = published(&case, "subset.loglik");
    checks.value("loglik", loglik, printed_loglik, printed(loglik, 1));
    for (p, percent, decimals) in [(0.1, 10, 3), (0.5, 50, 3), (0.9, 90, 1)] {
        let (ln, error) = ln_quantile(&ours, standard("lognormal", p), x(130.0));
        let key = format!("q{p}[130C]");
        checks.value(&key, ln.exp(), number(wanted, &key), ESTIMATE);
        checks.value(
            &key,
            error,
            number(wanted, &format!("{key}.se_ln")),
            ESTIMATE,
        );
        let key = format!("q{percent}_130C");
        checks.value(
            &key,
            ln.exp(),
            published(&case, &key),
            printed(ln.exp(), decimals),
        );
    }
    checks.finish(17);
}
