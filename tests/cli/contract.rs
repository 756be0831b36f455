//! Every name that outside programs read is there, for each command, with a number or a reason.

use super::nulls::unexplained;
use super::sealspan;
use serde_json::Value;

const DEMO: &str = "datasets/harrow-lane/study.toml";
const NIST: &str = "datasets/published/nist-weibull/life.csv";

/// The value at a path of keys; `0` steps into a list's first entry.
fn at<'a>(json: &'a Value, path: &str) -> &'a Value {
    path.split('.').fold(json, |here, key| {
        let next = match here {
            Value::Array(list) => key.parse::<usize>().ok().and_then(|i| list.get(i)),
            _ => here.get(key),
        };
        next.unwrap_or_else(|| panic!("no `{key}` on the way to `{path}` in {here:.300}"))
    })
}

fn has(json: &Value, parent: &str, keys: &str) {
    let here = if parent.is_empty() {
        json
    } else {
        at(json, parent)
    };
    for key in keys.split_whitespace() {
        at(here, key);
    }
}

fn answer(args: &[&str], schema: &str) -> Value {
    let args: Vec<&str> = args.iter().copied().chain(["--format", "json"]).collect();
    let run = sealspan(&args);
    assert_eq!(run.status, 0, "{args:?}: {}", run.err);
    let json = run.json();
    assert_eq!(json["schema"], schema);
    reasons(&json, schema);
    json
}

/// A missing number has a reason in the same object (or `lower`/`upper` beside an explained estimate).
fn reasons(json: &Value, path: &str) {
    match json {
        Value::Object(map) => {
            let missing = ["estimate", "statistic", "std_error"]
                .iter()
                .any(|key| map.get(*key).is_some_and(Value::is_null));
            let explained = map.keys().any(|key| key.ends_with("reason"));
            assert!(!missing || explained, "{path}: no reason in {json:.300}");
            for (key, value) in map {
                reasons(value, &format!("{path}.{key}"));
            }
        }
        Value::Array(list) => {
            for value in list {
                reasons(value, path);
            }
        }
        _ => {}
    }
}

#[test]
fn check() {
    let json = answer(&["check", DEMO], "sealspan.check.v1");
    has(&json, "", "rows_read seals outcomes findings observations");
    has(&json, "findings.0", "kind severity message file row column");
    has(
        &json,
        "observations",
        "exact right left interval truncated set_aside",
    );
}

#[test]
fn fit() {
    let json = answer(
        &["fit", DEMO, "--by", "material", "--at", "200"],
        "sealspan.fit.v1",
    );
    has(&json, "", "unit confidence groups");
    assert_eq!(at(&json, "groups.0.group.material"), "EPDM");
    has(&json, "groups.0.counts", "exact right left interval total");
    has(&json, "groups.0.empirical", "method points");
    has(
        &json,
        "groups.0.empirical.points.0",
        "time survival std_error lower upper",
    );
    has(
        &json,
        "groups.0.fits.0",
        "family converged parameters covariance log_likelihood aic aicc bic mean_life quantiles survival goodness warnings",
    );
    has(
        &json,
        "groups.0.fits.0.parameters.0",
        "name estimate std_error lower upper",
    );
    has(&json, "groups.0.fits.0.mean_life", "estimate lower upper");
    has(
        &json,
        "groups.0.fits.0.quantiles.0",
        "p estimate lower upper",
    );
    has(
        &json,
        "groups.0.fits.0.survival.0",
        "time estimate lower upper",
    );
    let alone = answer(&["fit", NIST], "sealspan.fit.v1");
    assert_eq!(at(&alone, "groups.0.group"), &serde_json::json!({}));
}

#[test]
fn defects() {
    let json = answer(
        &[
            "defects",
            DEMO,
            "--every",
            "60",
            "--delay-law",
            "exponential",
        ],
        "sealspan.defects.v1",
    );
    has(&json, "", "unit confidence looks set_aside groups cautions");
    has(&json, "groups.0", "group counts usual_interval model plain");
    has(
        &json,
        "groups.0.model",
        "parameters quantities caught life by_look doubts",
    );
    has(
        &json,
        "groups.0.model.parameters.0",
        "name estimate lower upper method",
    );
    has(
        &json,
        "groups.0.model.caught.0",
        "every estimate lower upper",
    );
}

#[test]
fn compare() {
    let json = answer(
        &["compare", DEMO, "--by", "material"],
        "sealspan.compare.v1",
    );
    has(
        &json,
        "",
        "tests regression proportional_hazards life_ratios",
    );
    has(&json, "tests.0", "name statistic df p_value");
    has(
        &json,
        "regression",
        "family coefficients sigma log_likelihood",
    );
    has(
        &json,
        "regression.coefficients.0",
        "name estimate std_error lower upper p_value",
    );
    has(&json, "regression.sigma", "estimate std_error");
    has(&json, "life_ratios.0", "of to estimate lower upper p_value");
    let heat = "datasets/published/motor-insulation/life.csv";
    let alone = answer(
        &["compare", heat, "--arrhenius", "temperature_c"],
        "sealspan.compare.v1",
    );
    assert_eq!(alone["tests"], serde_json::json!([]));
}

#[test]
fn positions() {
    let json = answer(&["positions", DEMO], "sealspan.positions.v1");
    has(&json, "", "mean_cumulative trend power_law positions");
    has(
        &json,
        "mean_cumulative.0",
        "time mean std_error lower upper",
    );
    has(&json, "trend.0", "name statistic p_value");
    let names: Vec<&str> = json["trend"]
        .as_array()
        .unwrap()
        .iter()
        .map(|t| t["name"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["laplace", "mil_hdbk_189", "lewis_robinson"]);
    has(&json, "power_law.growth", "estimate");
    has(&json, "power_law.scale", "estimate");
    has(
        &json,
        "positions.0",
        "asset position replacements expected ratio p_value sectors uneven_p_value relative_severity turning_gain",
    );
    assert_eq!(json["positions"][0]["sectors"].as_array().unwrap().len(), 4);
}

#[test]
fn care() {
    let stated = [
        "care",
        "--life",
        "weibull:shape=2.5,scale=1000",
        "--planned-cost",
        "1",
        "--failure-cost",
        "5",
    ];
    let json = answer(&stated, "sealspan.care.v1");
    has(
        &json,
        "",
        "unit run_to_failure replace recommended simulated",
    );
    has(&json, "run_to_failure", "cost_rate availability mean_life");
    has(
        &json,
        "replace",
        "age cost_rate flat_zone failure_probability availability mean_cycle present_value",
    );
    has(
        &json,
        "recommended",
        "inspect_every turn_every replace_at cost_rate",
    );
    has(&json, "simulated", "cost_rate std_error seals");
    answer(&["care", DEMO, "--by", "material"], "sealspan.care.v1");
}

/// The two-stage example of the help, with sectors and the further questions.
#[test]
fn care_in_two_stages() {
    let json = answer(&DOOR, "sealspan.care.v1");
    has(
        &json,
        "inspect",
        "every cost_rate found failed inspections_per_cycle mean_cycle schedule",
    );
    has(
        &json,
        "turn",
        "every life_ratio mean_life b10 limit_ratio cost_rate",
    );
    has(
        &json,
        "recommended",
        "inspect_every turn_every replace_at cost_rate",
    );
    has(&json, "simulated", "cost_rate std_error seals");
    has(&json, "stop_gap", "as_it_lies turned turned_by_one");
    let simulated = at(&json, "simulated");
    let off = at(&json, "recommended.cost_rate").as_f64().unwrap()
        - simulated["cost_rate"].as_f64().unwrap();
    assert!(off.abs() < 4.0 * simulated["std_error"].as_f64().unwrap());
}

/// Given steps are evaluated, `never` leaves out, and a block without a policy of its kind is null.
#[test]
fn care_as_given() {
    let given = [
        "--inspect-every",
        "60",
        "--turn-every",
        "never",
        "--replace-at",
        "never",
    ];
    let args: Vec<&str> = DOOR.iter().copied().chain(given).collect();
    let json = answer(&args, "sealspan.care.v1");
    assert_eq!(at(&json, "inspect.every"), &serde_json::json!(60.0));
    assert_eq!(
        at(&json, "recommended.inspect_every"),
        &serde_json::json!(60.0)
    );
    assert!(at(&json, "turn").is_null() && at(&json, "turn_reason").is_string());
    assert!(at(&json, "recommended.replace_at").is_null());
    assert_eq!(
        at(&json, "inspect.cost_rate"),
        at(&json, "recommended.cost_rate")
    );
    let hidden = [
        "care",
        "--life",
        "weibull:shape=2,scale=1000",
        "--planned-cost",
        "150",
        "--inspection-cost",
        "10",
        "--undetected-cost",
        "1",
        "--replace-at",
        "never",
    ];
    let json = answer(&hidden, "sealspan.care.v1");
    // Barlow & Proschan 1965 (from memory): the published step and rate, also in tests/published.
    let every = at(&json, "inspect.every").as_f64().unwrap();
    let rate = at(&json, "inspect.cost_rate").as_f64().unwrap();
    assert!((every / 159.186176 - 1.0).abs() < 1e-5 && (rate / 0.300537821398 - 1.0).abs() < 1e-8);
}

const DOOR: [&str; 29] = [
    "care",
    "--defect",
    "weibull:shape=2,scale=300",
    "--delay",
    "weibull:shape=2,scale=90",
    "--sector-severity",
    "1.5,1,1,1",
    "--planned-cost",
    "300",
    "--failure-cost",
    "3000",
    "--planned-hours",
    "8",
    "--failure-hours",
    "24",
    "--inspection-cost",
    "20",
    "--turn-cost",
    "2",
    "--inspection-hours",
    "1",
    "--downtime-cost",
    "60",
    "--detection",
    "0.9",
    "--stop-gap-days",
    "5",
    "--age",
    "240",
];

#[test]
fn stock() {
    let stated = [
        "stock",
        "--demand-rate",
        "0.1",
        "--lead-time",
        "5",
        "--holding-cost",
        "0.02",
        "--shortage-cost",
        "2",
    ];
    let json = answer(&stated, "sealspan.stock.v1");
    has(&json, "places.0", "place part levels best demand");
    has(
        &json,
        "places.0.levels.0",
        "stock fill_rate ready_rate expected_backorders urgent_share expected_on_hand cost_rate",
    );
    has(&json, "places.0.best", "stock order_quantity scrap_rate");
    has(&json, "places.0.demand", "mean variance pmf");
    answer(&["stock", DEMO], "sealspan.stock.v1");
}

#[test]
fn forecast() {
    let json = answer(
        &["forecast", DEMO, "--horizon", "365"],
        "sealspan.forecast.v1",
    );
    has(
        &json,
        "",
        "unit running expected lower upper pmf by_period renewals",
    );
    has(&json, "by_period.0", "until expected lower upper");
}

#[test]
fn simulate_and_report() {
    let folder = std::env::temp_dir().join(format!("sealspan-contract-{}", std::process::id()));
    let out = |name: &str| folder.join(name).display().to_string();
    let scenario = "datasets/harrow-lane/scenario.toml";
    let json = answer(
        &["simulate", scenario, "--out", &out("fleet")],
        "sealspan.simulate.v1",
    );
    assert_eq!(json["invented"], true);
    let mut found = vec![];
    unexplained(&json, "simulate", &mut found);
    assert!(found.is_empty(), "{found:?}");
    for file in json["files"].as_array().unwrap() {
        assert!(std::path::Path::new(file.as_str().unwrap()).is_file());
    }
    let json = answer(
        &["report", DEMO, "--out", &out("report")],
        "sealspan.report.v1",
    );
    assert!(json["answers"].as_array().unwrap().len() >= 3);
    let results = std::fs::read_to_string(folder.join("report/results.json")).unwrap();
    let results: Value = serde_json::from_str(&results).unwrap();
    assert_eq!(results["schema"], "sealspan.results.v1");
    reasons(&results, "results.json");
    let mut found = vec![];
    unexplained(&results, "results.json", &mut found);
    assert!(found.is_empty(), "{found:?}");
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn an_error_is_one_document_too() {
    let run = sealspan(&["fit", "datasets/none.csv", "--format", "json"]);
    assert_eq!(run.status, 2);
    let json = run.json();
    assert_eq!(json["schema"], "sealspan.error.v1");
    has(&json, "error", "kind message file row column mend");
}

#[test]
fn stock_for_a_fleet_over_a_horizon() {
    let fleet = |more: &[&str]| {
        let stated = [
            "stock",
            "--life",
            "weibull:shape=2.5,scale=1000",
            "--assets",
            "50",
            "--horizon",
            "500",
        ];
        let args: Vec<&str> = stated.iter().chain(more).copied().collect();
        answer(&args, "sealspan.stock.v1")
    };
    let new = fleet(&[]);
    // A constant rate of one over the mean life would ask for 37.
    assert_eq!(new["places"][0]["best"]["stock"], 13);
    has(&new, "places.0", "place part levels demand");
    has(&new, "places.0.demand", "mean variance pmf");
    let surer = fleet(&["--target-probability", "0.99"]);
    assert!(surer["places"][0]["best"]["stock"].as_u64() > Some(13));
    let aged = fleet(&["--ages", "900,900,900,900,900,900,900,900,900,900"]);
    assert!(
        aged["places"][0]["demand"]["mean"].as_f64() > new["places"][0]["demand"]["mean"].as_f64()
    );
}
