//! Answers under the names that outside programs read.

use super::sealspan;

const NIST: &str = "datasets/published/nist-weibull/life.csv";
const DEMO: &str = "datasets/harrow-lane/study.toml";

fn close(value: &serde_json::Value, want: f64) {
    let got = value.as_f64().unwrap();
    assert!((got / want - 1.0).abs() < 1e-6, "{got} against {want}");
}

/// NIST/SEMATECH e-Handbook 8.4.1.3; bounds from 50-digit arithmetic.
#[test]
fn fit_gives_the_handbook_example() {
    let run = sealspan(&[
        "fit",
        NIST,
        "--bounds",
        "profile",
        "--confidence",
        "0.95",
        "--at",
        "200",
        "--format",
        "json",
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    let json = run.json();
    assert_eq!(json["schema"], "sealspan.fit.v1");
    let group = &json["groups"][0];
    assert_eq!(group["counts"]["total"], 20.0);
    assert_eq!(group["empirical"]["method"], "kaplan_meier");
    let fit = &group["fits"][0];
    close(&fit["log_likelihood"], -75.13461816447487);
    close(&fit["parameters"][0]["estimate"], 1.7207972608013569);
    close(&fit["parameters"][0]["lower"], 0.9056453587521907);
    close(&fit["parameters"][1]["upper"], 1118.8776246985792);
    close(&fit["quantiles"][0]["estimate"], 164.02243866001166);
    close(&fit["survival"][0]["lower"], 0.6998840010960553);
    close(&fit["covariance"][0][1], -28.31362644589989);
}

#[test]
fn no_failures_give_a_bound_and_a_reason() {
    let path = super::file("running.csv", b"time,status,count\n100,running,5\n");
    let path = path.to_str().unwrap();
    let run = sealspan(&["fit", path, "--family", "exponential", "--format", "json"]);
    let fit = &run.json()["groups"][0]["fits"][0];
    assert_eq!(fit["converged"], false);
    // 500 days watched, none failed: 500 / -ln(0.05).
    close(&fit["parameters"][1]["lower"], 166.90410034766703);
    assert!(fit["reason"].as_str().unwrap().contains("no failures"));
}

#[test]
fn care_gives_the_textbook_age() {
    let run = sealspan(&[
        "care",
        "--life",
        "weibull:shape=2,scale=1000",
        "--planned-cost",
        "1",
        "--failure-cost",
        "5",
        "--format",
        "json",
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    let json = run.json();
    assert!((json["replace"]["age"].as_f64().unwrap() - 510.655).abs() < 0.001);
    let (formula, played) = (&json["recommended"]["cost_rate"], &json["simulated"]);
    let off = (formula.as_f64().unwrap() - played["cost_rate"].as_f64().unwrap()).abs();
    assert!(off < 4.0 * played["std_error"].as_f64().unwrap());
    assert!(!json["cautions"].as_array().unwrap().is_empty());
}

#[test]
fn stock_gives_poisson_levels() {
    let run = sealspan(&[
        "stock",
        "--demand-rate",
        "0.1",
        "--lead-time",
        "1",
        "--holding-cost",
        "0.02",
        "--shortage-cost",
        "2",
        "--format",
        "json",
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    let level = &run.json()["places"][0]["levels"][1];
    close(&level["fill_rate"], (-0.1f64).exp());
    close(&level["ready_rate"], 1.1 * (-0.1f64).exp());
}

#[test]
fn the_demo_is_read_compared_and_forecast() {
    let check = sealspan(&["check", DEMO, "--format", "json"]).json();
    let (read, used) = (
        check["rows_read"].as_u64().unwrap(),
        check["seals"].as_u64().unwrap(),
    );
    assert_eq!(
        read,
        used + check["observations"]["set_aside"].as_u64().unwrap()
    );
    assert!(
        check["findings"]
            .as_array()
            .unwrap()
            .iter()
            .all(|f| f["kind"].is_string())
    );
    let compare = sealspan(&["compare", DEMO, "--by", "material", "--format", "json"]).json();
    assert!(compare["life_ratios"].as_array().unwrap().len() == 6);
    let forecast = sealspan(&[
        "forecast",
        DEMO,
        "--horizon",
        "90",
        "--periods",
        "3",
        "--format",
        "json",
    ])
    .json();
    let (lower, upper) = (
        forecast["lower"].as_f64().unwrap(),
        forecast["upper"].as_f64().unwrap(),
    );
    let expected = forecast["expected"].as_f64().unwrap();
    assert!(lower <= expected && expected <= upper);
}

#[test]
fn batches_finds_the_short_lived_batch_and_no_other() {
    let demo = "datasets/harrow-lane/study.toml";
    let json = sealspan(&["batches", demo, "--runs", "500", "--format", "json"]).json();
    assert_eq!(json["schema"], "sealspan.batches.v1");
    let batch = &json["columns"][0];
    assert_eq!(batch["column"], "batch");
    assert_eq!(batch["differing"], serde_json::json!(["EPDM-222"]));
    let levels = batch["levels"].as_array().unwrap();
    let found = levels.iter().find(|l| l["level"] == "EPDM-222").unwrap();
    assert!(found["upper"].as_f64().unwrap() < 0.7, "{found}");
    let alarms = batch["watch"]["alarms"].as_array().unwrap();
    assert!(alarms.iter().any(|a| a["level"] == "EPDM-222"));
}

#[test]
fn compare_checks_itself_by_proportional_hazards() {
    let rats = "datasets/published/rats-by-litter/life.csv";
    let args = [
        "compare",
        rats,
        "--by",
        "rx",
        "--cluster",
        "litter",
        "--frailty",
        "litter",
        "--format",
        "json",
    ];
    let json = sealspan(&args).json();
    let hazards = &json["proportional_hazards"];
    close(&hazards["coefficients"][0]["estimate"], 0.9047352419496062);
    close(
        &hazards["coefficients"][0]["std_error"],
        0.30251650644931094,
    );
    assert_eq!(hazards["agreement"]["agrees"], true);
    close(
        &json["frailty"]["weibull"]["theta"]["estimate"],
        0.4888540574292684,
    );
    let demo = "datasets/harrow-lane/study.toml";
    let json = sealspan(&["compare", demo, "--by", "material", "--format", "json"]).json();
    let words = json["proportional_hazards"]["drawn_ages"]["words"].as_str();
    assert!(words.unwrap().contains("between two looks"), "{words:?}");
}

/// A seal far younger than any failure has what a new one has, less its age.
#[test]
fn a_young_seal_of_a_very_steady_law_has_an_answer() {
    let rows =
        "time,status\n100000,failed\n100001,failed\n100002,failed\n100003,failed\n100004,failed\n";
    let path = super::file("steady.csv", rows.as_bytes());
    let path = path.to_str().unwrap();
    let run = sealspan(&["fit", path, "--age", "50", "--format", "json"]);
    let fit = &run.json()["groups"][0]["fits"][0];
    let new = &fit["quantiles"][0];
    let left = &fit["remaining"][0];
    for end in ["estimate", "lower", "upper"] {
        close(&left[end], new[end].as_f64().unwrap() - 50.0);
    }
}

/// What holds at all ages at once holds at each.
#[test]
fn the_band_is_nowhere_narrower_than_the_interval() {
    let rows = "time,status\n10,failed\n20,failed\n30,failed\n40,failed\n60,failed\n";
    let path = super::file("steep.csv", rows.as_bytes());
    let path = path.to_str().unwrap();
    let run = sealspan(&["fit", path, "--at", "20,50,100", "--format", "json"]);
    for at in run.json()["groups"][0]["fits"][0]["survival"]
        .as_array()
        .unwrap()
    {
        let number = |name: &str| at[name].as_f64().unwrap();
        assert!(number("band_lower") <= number("lower"), "{at}");
        assert!(number("band_upper") >= number("upper"), "{at}");
    }
}

/// As `fit` and `intervals` say of the same records.
#[test]
fn no_plan_rests_on_a_shape_that_few_failures_gave() {
    let rows = "time,status\n160,failed\n260,failed\n300,running\n310,running\n320,running\n";
    let path = super::file("few-plan.csv", rows.as_bytes());
    let path = path.to_str().unwrap();
    let costs = ["--planned-cost", "100", "--failure-cost", "3000"];
    let run = sealspan(&[&["care", path][..], &costs].concat());
    assert_eq!(run.status, 1, "{}", run.out);
    assert!(run.err.contains("fewer than 5 failures (2)"), "{}", run.err);
}

#[test]
fn a_combination_without_failures_is_named() {
    let run = sealspan(&[
        "compare",
        DEMO,
        "--by",
        "material",
        "--given",
        "cleaning",
        "--interaction",
        "material:cleaning",
        "--format",
        "json",
    ]);
    let reason = run.json()["regression_reason"].as_str().unwrap().to_owned();
    assert!(
        reason.contains("material = `FKM` and cleaning = `acid` failed"),
        "{reason}"
    );
    assert!(reason.contains("--penalty"), "{reason}");
}
