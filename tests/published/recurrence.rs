//! Recurring replacements: mean cumulative curve, trend tests, power-law and log-linear intensities.

use crate::support::close::Check;
use crate::support::data;
use crate::support::expected::{fraction, number, printed as print, read};
use crate::support::tolerances::{ARITHMETIC, ESTIMATE, RECURRENCE, TEST, printed};
use sealspan_life::recurrence::log_linear::log_linear;
use sealspan_life::recurrence::mean_cumulative::mean_cumulative;
use sealspan_life::recurrence::power_law::{PowerLaw, power_law};
use sealspan_life::recurrence::system::History;
use sealspan_life::recurrence::trend::{laplace, lewis_robinson, mil_hdbk_189};
use serde_json::Value;
use std::collections::BTreeMap;

/// Event times by system, and the end of its watch where it is not its last event.
fn rows(name: &str, file: &str) -> BTreeMap<String, (Vec<f64>, Option<f64>)> {
    let text = std::fs::read_to_string(data::folder(name).join(file)).unwrap();
    let mut out: BTreeMap<String, (Vec<f64>, Option<f64>)> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let mut cells: Vec<&str> = line.split(',').collect();
        let (status, time) = (cells.pop().unwrap(), cells.pop().unwrap());
        let system = out.entry(cells.join(",")).or_default();
        match status {
            "failed" => system.0.push(time.parse().unwrap()),
            _ => system.1 = Some(time.parse().unwrap()),
        }
    }
    out
}

fn histories(name: &str, file: &str) -> Vec<History> {
    rows(name, file)
        .into_values()
        .map(|(events, end)| match end {
            Some(end) => History::new(0.0, end, events).unwrap().new_at_start(),
            None => History::to_last_event(0.0, events).unwrap().new_at_start(),
        })
        .collect()
}

fn law(checks: &mut Check, values: &Value, case: &str, law: &PowerLaw) {
    let at = |key: &str| number(values, &format!("{case}.{key}"));
    let mut same = |what: &str, ours: f64, key: &str| {
        checks.value(&format!("{case} {what}"), ours, at(key), ESTIMATE);
    };
    same("growth", law.growth, "b_mle");
    same("factor", law.factor, "a_mle");
    same("scale", law.scale(), "theta=a^(-1/b)");
    same("log-likelihood", law.log_likelihood, "loglik");
    let corrected = law.bias_corrected().unwrap();
    same("bias-corrected growth", corrected, "b_unbiased");
    same("its factor", law.factor_for(corrected), "a_from_b_unbiased");
    let [[aa, ab], [_, bb]] = law.covariance;
    same("variance of ln factor", aa, "cov.lna_lna");
    same("covariance", ab, "cov.lna_b");
    same("variance of growth", bb, "cov.b_b");
    for (level, key) in [(0.9, "b.exact90"), (0.95, "b.exact95")] {
        let (lower, upper) = law.growth_interval(level);
        same("lower", lower, &format!("{key}.lo"));
        same("upper", upper, &format!("{key}.hi"));
    }
    let (statistic, p) = law.against_constant();
    checks.value(case, statistic, at("lrt_b=1.chi2"), RECURRENCE);
    checks.value(case, p, at("lrt_b=1.p"), RECURRENCE);
    let goodness = law.goodness(1).unwrap();
    checks.value(case, goodness.cramer_von_mises, at("cvm.C2"), ESTIMATE);
}

fn tests(checks: &mut Check, values: &Value, case: &str, systems: &[History]) {
    let at = |key: &str| number(values, &format!("{case}.{key}"));
    let u = laplace(systems).unwrap();
    checks.value(case, u.statistic, at("laplace.U"), TEST);
    checks.value(case, u.p_value, at("laplace.p_two_sided"), TEST);
    let m = mil_hdbk_189(systems).unwrap();
    checks.value(case, m.statistic, at("milhdbk.chi2"), TEST);
    assert_eq!(m.df, Some(at("milhdbk.df")));
    checks.value(case, m.p_value, at("milhdbk.p_two_sided"), ESTIMATE);
    let line = log_linear(systems).unwrap();
    checks.value(case, line.slope, at("loglinear.g1"), RECURRENCE);
    checks.value(case, line.intercept, at("loglinear.g0"), RECURRENCE);
    checks.value(
        case,
        line.log_likelihood,
        at("loglinear.loglik"),
        RECURRENCE,
    );
}

#[test]
fn reliability_growth_test_of_the_handbook() {
    let case = read("nist-reliability-growth");
    let values = &case["values"];
    let mut checks = Check::new("nist-reliability-growth");
    let whole = histories("nist-reliability-growth", "events.csv");
    let fitted = power_law(&whole).unwrap();
    law(&mut checks, values, "time_trunc", &fitted);
    tests(&mut checks, values, "time_trunc", &whole);
    let events = whole[0].events().to_vec();
    let cut = [History::to_last_event(0.0, events).unwrap()];
    law(
        &mut checks,
        values,
        "as_failure_trunc(1478)",
        &power_law(&cut).unwrap(),
    );
    tests(&mut checks, values, "as_failure_trunc(1478)", &cut);
    let end = 1.0 / fitted.intensity(1500.0);
    checks.value(
        "time between repairs at the end",
        end,
        number(values, "time_trunc.mtbf_end_mle"),
        ESTIMATE,
    );
    // As printed: with the bias-corrected growth.
    let corrected = fitted.bias_corrected().unwrap();
    checks.value(
        "printed growth",
        corrected,
        print(&case, "b_unbiased"),
        printed(corrected, 6),
    );
    let slope = 1.0 - corrected;
    checks.value(
        "printed slope",
        slope,
        print(&case, "beta_growth_slope=1-b_unbiased"),
        printed(slope, 6),
    );
    let factor = fitted.factor_for(corrected);
    checks.value(
        "printed factor",
        factor,
        print(&case, "a"),
        printed(factor, 7),
    );
    let end = 1500.0 / (10.0 * corrected);
    checks.value(
        "printed end",
        end,
        print(&case, "mtbf_end"),
        printed(end, 3),
    );
    checks.finish(51);
}

#[test]
fn two_systems_with_the_same_gaps_in_opposite_order() {
    let case = read("trend-pair");
    let values = &case["values"];
    let mut checks = Check::new("trend-pair");
    let mut robinson = vec![];
    for (file, name, rising) in [
        ("improving.csv", "tob335", false),
        ("degrading.csv", "tob336", true),
    ] {
        let systems = histories("trend-pair", file);
        law(&mut checks, values, name, &power_law(&systems).unwrap());
        tests(&mut checks, values, name, &systems);
        assert_eq!(laplace(&systems).unwrap().rising, rising);
        assert_eq!(mil_hdbk_189(&systems).unwrap().rising, rising);
        robinson.push(lewis_robinson(&systems).unwrap());
    }
    // The same gaps the other way round: the same statistic with the other sign.
    checks.value(
        "mirror",
        -robinson[0].statistic,
        robinson[1].statistic,
        TEST,
    );
    checks.finish(47);
}

#[test]
fn valve_seats_mean_cumulative_curve() {
    let case = read("valve-seats");
    let mut checks = Check::new("valve-seats");
    let systems = histories("valve-seats", "events.csv");
    assert_eq!(systems.len(), 41);
    let curve = mean_cumulative(&systems);
    let table = case["table"].as_array().unwrap();
    assert_eq!(curve.steps.len(), table.len());
    for (step, row) in curve.steps.iter().zip(table) {
        let at = |key: &str| number(row, key);
        assert_eq!(
            (step.time, step.at_risk, step.events),
            (at("time"), at("at_risk"), at("events"))
        );
        checks.value("mean", step.mean, fraction(row, "mean_exact"), ARITHMETIC);
        checks.value("robust", step.robust.sqrt(), at("robust"), ESTIMATE);
        checks.value("poisson", step.naive.sqrt(), at("poisson"), ESTIMATE);
        let (lower, upper) = step.interval(0.95);
        checks.value("lower", lower, at("lower95"), ESTIMATE);
        checks.value("upper", upper, at("upper95"), ESTIMATE);
    }
    let (law, values) = (power_law(&systems).unwrap(), &case["values"]);
    checks.value(
        "growth",
        law.growth,
        number(values, "powerlaw.b_mle"),
        RECURRENCE,
    );
    checks.value(
        "factor",
        law.factor,
        number(values, "powerlaw.a_mle"),
        RECURRENCE,
    );
    checks.value(
        "log-likelihood",
        law.log_likelihood,
        number(values, "powerlaw.loglik"),
        ESTIMATE,
    );
    checks.value(
        "ratio",
        law.against_constant().0,
        number(values, "lrt_b=1"),
        RECURRENCE,
    );
    checks.finish(234);
}
