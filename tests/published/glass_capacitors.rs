//! Glass capacitors, Zelen (1959): two temperatures by four voltages, each cell ended at its 4th failure.

use crate::support::close::Check;
use crate::support::expected::{number, read};
use crate::support::tolerances::ESTIMATE;
use crate::support::{data, regression};
use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_life::regression::{Place, Regression};
use sealspan_numeric::special::normal_quantile;
use sealspan_records::{Question, Sample, ask};

const NAME: &str = "glass-capacitors";

/// Temperature in °C and volts of each cell.
fn groups() -> Vec<([f64; 2], Sample)> {
    let question = Question {
        by: ["temperature_c", "voltage_v"].map(str::to_owned).to_vec(),
        ..Question::default()
    };
    let answer = ask(&data::records(NAME, "life.csv"), &question).unwrap();
    let number = |key: &(String, String)| key.1.parse::<f64>().unwrap();
    answer
        .groups
        .into_iter()
        .map(|g| ([number(&g.key[0]), number(&g.key[1])], g.sample))
        .collect()
}

type RowOf = fn(f64, f64) -> Vec<f64>;
/// Where a life is asked for, and the key of what is expected there.
type Asked = Option<(f64, f64, &'static str)>;

fn fitted(family: &str, names: &[&str], row: RowOf) -> Regression {
    let groups = groups();
    assert_eq!(groups.len(), 8);
    let cells: Vec<_> = groups.iter().map(|([t, v], s)| (row(*t, *v), s)).collect();
    regression::fitted(by_name(family).unwrap(), names, &cells)
}

fn linear(t: f64, v: f64) -> Vec<f64> {
    vec![1.0, t, v]
}

fn crossed(t: f64, v: f64) -> Vec<f64> {
    vec![1.0, t, v, t * v]
}

fn physical(t: f64, v: f64) -> Vec<f64> {
    vec![1.0, 1.0 / (8.617_333_262e-5 * (t + 273.15)), v.ln()]
}

#[test]
fn two_stresses_linear_crossed_and_physical() {
    let case = read(NAME);
    let models: [(&str, &[&str], RowOf, Asked); 3] = [
        (
            "linear",
            &["b0", "temp", "volt"],
            linear,
            Some((170.0, 200.0, "q0.1[170C,200V]")),
        ),
        (
            "interaction",
            &["b0", "temp", "volt", "temp:volt"],
            crossed,
            None,
        ),
        (
            "arrhenius_power",
            &["b0", "Ea_eV", "ln_volt"],
            physical,
            Some((150.0, 150.0, "q0.1[150C,150V]")),
        ),
    ];
    let mut checks = Check::new(NAME);
    for family in ["weibull", "lognormal"] {
        let pooled = fit(by_name(family).unwrap(), &data::all(NAME)).unwrap();
        for (model, names, row, place) in models {
            let wanted = &case[family][model];
            let ours = fitted(family, names, row);
            regression::check(&mut checks, &ours, wanted, names, &["lrt", "q0."]);
            let ratio = 2.0 * (ours.log_likelihood - pooled.log_likelihood);
            checks.value(
                "likelihood ratio",
                ratio,
                number(wanted, "lrt_vs_intercept"),
                ESTIMATE,
            );
            if let Some((t, v, key)) = place {
                let place = Place {
                    row: row(t, v).into_iter().enumerate().collect(),
                    offset: 0.0,
                    stratum: 0,
                };
                let z = normal_quantile(0.975);
                let life = ours.predict(&place, Quantity::Quantile(0.1), &ours.covariance, z);
                checks.value(key, life.estimate, number(wanted, key), ESTIMATE);
                let end = |end: &str| number(wanted, &format!("{key}.{end}"));
                checks.value(key, life.ln_error, end("se_log"), ESTIMATE);
                checks.some(key, life.lower, end("wald95.lo"), ESTIMATE);
                checks.some(key, life.upper, end("wald95.hi"), ESTIMATE);
            }
        }
    }
    checks.finish(180);
}
