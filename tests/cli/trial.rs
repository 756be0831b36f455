//! `trial` and `intervals`: the numbers that outside programs read, and plain words for what cannot be.

use super::{file, sealspan};
use serde_json::Value;

const DEMO: &str = "datasets/harrow-lane/study.toml";
const CLAIM: &str = "trial --show-life 365 --reliability 0.9 --shape 2.5";

fn run(line: &str) -> super::Run {
    sealspan(&line.split_whitespace().collect::<Vec<_>>())
}

fn json(line: &str) -> Value {
    let run = run(&format!("{line} --format json"));
    assert_eq!(run.status, 0, "{line}: {} {}", run.out, run.err);
    run.json()
}

fn close(value: &Value, want: f64) {
    let got = value.as_f64().unwrap();
    assert!((got / want - 1.0).abs() < 1e-9, "{got} against {want}");
}

#[test]
fn each_of_the_four_is_solved_for() {
    // ln 0.1 / (2^2.5 ln 0.9) = 3.863.
    let seals = json(&format!(
        "{CLAIM} --confidence 0.9 --duration 730 --failures-allowed 0"
    ));
    assert_eq!(seals["schema"], "sealspan.trial.v1");
    assert_eq!(seals["seals"], 4);
    assert_eq!(seals["confidence"], 0.9);
    assert_eq!(seals["failures_allowed"], 0);
    close(&seals["duration"], 730.0);
    let duration = json(&format!(
        "{CLAIM} --confidence 0.9 --seals 10 --failures-allowed 0"
    ));
    let ratio = 0.1f64.ln() / (10.0 * 0.9f64.ln());
    close(&duration["duration"], 365.0 * ratio.powf(0.4));
    // P(at most 2 of 52 fail at 10 %) ≤ 0.1, and not with 51.
    let plan = format!("{CLAIM} --confidence 0.9 --duration 365");
    assert_eq!(json(&format!("{plan} --seals 52"))["failures_allowed"], 2);
    assert_eq!(json(&format!("{plan} --seals 51"))["failures_allowed"], 1);
    let confidence = json(&format!(
        "{CLAIM} --seals 22 --duration 365 --failures-allowed 0"
    ));
    close(&confidence["confidence"], 1.0 - 0.9f64.powi(22));
    // Seals just as good as claimed pass with the chance left.
    close(&confidence["passing"][0]["chance"], 0.9f64.powi(22));
}

#[test]
fn a_wrong_shape_shows_less() {
    let plan = json(&format!("{CLAIM} --confidence 0.9 --duration 730"));
    let wrong = plan["wrong_shape"].as_array().unwrap();
    assert_eq!(wrong[0]["shape"], 2.0);
    close(&wrong[0]["confidence"], 1.0 - 0.9f64.powf(4.0 * 4.0));
    assert_eq!(wrong[0]["seals"], 6);
    let just = run(&format!("{CLAIM} --confidence 0.9"));
    assert!(
        just.out.contains("Run 22 seals for 365 days"),
        "{}",
        just.out
    );
    assert!(just.out.contains("no matter"), "{}", just.out);
}

#[test]
fn two_materials_are_told_apart() {
    // To failure: (1.6449 + 0.8416)² · 2 / (2.5 ln 1.5)² = 12.03.
    let plan = json("trial --ratio 1.5 --shape 2.5 --power 0.8 --confidence 0.9");
    assert_eq!(plan["seals"], 13);
    assert!(plan["duration"].is_null() && plan["duration_reason"].is_string());
    let swapped = json(&format!("trial --ratio {} --shape 2.5", 1.0 / 1.5));
    assert_eq!(swapped["seals"], 13);
    let short = json("trial --ratio 1.5 --shape 2.5 --duration 200 --life 300");
    assert!(short["seals"].as_u64().unwrap() > 26, "{short}");
    let given = json("trial --ratio 1.5 --shape 2.5 --seals 13");
    let power = given["power_reached"].as_f64().unwrap();
    assert!(power > 0.8 && power < 0.85, "{power}");
}

#[test]
fn what_cannot_be_is_said() {
    for (line, status, words) in [
        (
            format!("{CLAIM} --confidence 0.9 --seals 10 --duration 365"),
            1,
            "22 seals would do",
        ),
        (
            format!("{CLAIM} --confidence 0.9 --seals 3 --failures-allowed 3"),
            2,
            "all may fail",
        ),
        (
            format!("{CLAIM} --confidence 0.9 --duration 0.001"),
            1,
            "run it longer",
        ),
        (
            format!("{CLAIM} --confidence 0.9 --seals 3 --duration 365 --failures-allowed 0"),
            2,
            "leave out one",
        ),
        ("trial --ratio 1 --shape 2".to_owned(), 2, "equal lives"),
        (
            "trial --ratio 1.5 --shape 2 --duration 100".to_owned(),
            2,
            "--life",
        ),
        ("trial --shape 2".to_owned(), 2, "--show-life"),
        (
            "trial --show-life 365 --reliability 90 --shape 2".to_owned(),
            2,
            "write 90 % as 0.9",
        ),
    ] {
        let run = run(&line);
        assert_eq!(run.status, status, "{line}: {}", run.err);
        assert!(run.err.contains(words), "{line}: {}", run.err);
    }
}

#[test]
fn intervals_are_rounded_down_bounds() {
    let sheet = json(&format!("intervals {DEMO} --by material --share 0.05"));
    assert_eq!(sheet["schema"], "sealspan.intervals.v1");
    assert_eq!(sheet["units"], serde_json::json!(["days", "cycles"]));
    let fit = json(&format!("fit {DEMO} --by material --quantile 0.05"));
    let groups = sheet["groups"].as_array().unwrap();
    let mut read_as_defects = 0;
    assert_eq!(groups.len(), fit["groups"].as_array().unwrap().len());
    for (group, fit) in groups.iter().zip(fit["groups"].as_array().unwrap()) {
        assert_eq!(group["group"], fit["group"]);
        let days = &group["clocks"][0];
        let lower = fit["fits"][0]["quantiles"][0]["lower"].as_f64().unwrap();
        let bound = days["at_most_share"]["age"].as_f64().unwrap();
        if days["basis"] == "defects" {
            // Looks took off seals that were about to fail: read as sound until then FKM seems to last longer.
            let most = if group["group"]["material"] == "FKM" {
                0.9
            } else {
                1.1
            };
            assert!(
                bound < most * lower && (bound / lower - 1.0).abs() > 0.01,
                "{group}"
            );
            read_as_defects += 1;
        } else {
            // Read as failed when removed: below the bound that reads them as sound.
            assert_eq!(days["basis"], "failed_when_removed");
            assert!(bound < 0.9 * lower, "{group}");
        }
        let rounded = &days["at_most_share"]["rounded"];
        let age = rounded["age"].as_f64().unwrap();
        assert!(age <= bound && bound - age < 30.4375);
        let beyond = bound > days["oldest_seen"].as_f64().unwrap();
        assert_eq!(days["at_most_share"]["extrapolated"], beyond);
        assert!(group["state"].is_string());
    }
    assert_eq!((read_as_defects, groups.len()), (3, 4));
}

#[test]
fn too_few_failures_state_no_interval() {
    let few = file(
        "few.csv",
        b"time,status,count\n100,failed,1\n150,failed,1\n200,running,40\n",
    );
    let line = format!("intervals {}", few.display());
    let sheet = json(&line);
    let group = &sheet["groups"][0];
    assert!(group["state"].is_null());
    let why = group["reason"].as_str().unwrap();
    assert!(why.contains("only 2 failures"), "{why}");
    let known = group["clocks"][0]["if_shape_known"].as_array().unwrap();
    assert!(known.len() >= 3 && known[0]["age"].as_f64().unwrap() > 0.0);
    assert!(sheet["cost_reason"].as_str().unwrap().contains("no costs"));
    let text = run(&line);
    assert_eq!(text.status, 0);
    assert!(text.out.contains("none; only 2 failures"), "{}", text.out);
}

/// A long life with a planned replacement nearly as dear as a failure has its least cost beyond the ages seen.
#[test]
fn an_age_beyond_the_oldest_seal_is_marked() {
    let mut rows = String::from("seal,asset,position,material,fitted,removed,outcome\n");
    for i in 0..60 {
        let (day, outcome) = if i < 12 {
            (17 + i, "failed")
        } else {
            (28, "preventive")
        };
        rows.push_str(&format!(
            "S{i},T{i},door,EPDM,2023-01-01,2023-01-{day:02},{outcome}\n"
        ));
    }
    file("beyond/seals.csv", rows.as_bytes());
    let study = file(
        "beyond/study.toml",
        b"title = \"invented\"\n[files]\nseals = \"seals.csv\"\n[costs]\nseal_price = 100\nclean_up = 20\n",
    );
    let sheet = json(&format!("intervals {} --calendar weeks", study.display()));
    let clock = &sheet["groups"][0]["clocks"][0];
    let cost = &clock["least_cost"];
    assert_eq!(cost["extrapolated"], true, "{clock}");
    assert!(cost["age"].as_f64().unwrap() > clock["oldest_seen"].as_f64().unwrap());
    assert_eq!(clock["at_most_share"]["extrapolated"], false);
    assert_eq!(sheet["groups"][0]["extrapolated"], false);
}
