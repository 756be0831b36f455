//! `positions`: the demo is answered rightly by default, and trouble is named.

use super::{file, sealspan};
use serde_json::Value;

const DEMO: &str = "datasets/harrow-lane/study.toml";
const HEAD: &str = "seal,asset,position,material,fitted,removed,outcome,sector\n";

fn json(args: &[&str]) -> Value {
    let args: Vec<&str> = ["positions"]
        .iter()
        .chain(args)
        .copied()
        .chain(["--format", "json"])
        .collect();
    let run = sealspan(&args);
    assert_eq!(run.status, 0, "{args:?}: {}", run.err);
    run.json()
}

fn rows(document: &Value) -> &Vec<Value> {
    document["positions"].as_array().unwrap()
}

fn named<'a>(document: &'a Value, asset: &str) -> &'a Value {
    rows(document).iter().find(|p| p["asset"] == asset).unwrap()
}

#[test]
fn the_two_planted_doors_are_found_and_no_other() {
    let document = json(&[DEMO]);
    let mut found: Vec<&str> = rows(&document)
        .iter()
        .filter(|p| p["out_of_line"] == true)
        .map(|p| p["asset"].as_str().unwrap())
        .collect();
    found.sort_unstable();
    assert_eq!(found, ["HL1-T17", "HL3-T34"]);
    for (asset, sector) in [("HL1-T17", 3), ("HL3-T34", 1)] {
        let door = named(&document, asset);
        let list = |key: &str| -> Vec<f64> {
            door[key]
                .as_array()
                .unwrap()
                .iter()
                .map(|v| v.as_f64().unwrap())
                .collect()
        };
        let (counts, severity) = (list("sectors"), list("relative_severity"));
        let worst = |v: &[f64]| {
            v.iter()
                .zip(1..)
                .max_by(|a, b| a.0.total_cmp(b.0))
                .unwrap()
                .1
        };
        assert_eq!(
            (worst(&counts), worst(&severity)),
            (sector, sector),
            "{asset}"
        );
        let number = |key: &str| door[key].as_f64().unwrap();
        assert!(number("mending_gain") > number("turning_gain"));
        assert!(number("turning_gain") > 1.0);
        // The truth: mending makes a seal never turned last about 2.5 times as long.
        let mended = &door["mending_gain_interval"];
        assert!(mended[0].as_f64().unwrap() < 2.5 && 1.2 < mended[1].as_f64().unwrap());
    }
    let seen: u64 = rows(&document)
        .iter()
        .map(|p| p["replacements"].as_u64().unwrap())
        .sum();
    assert_eq!(document["replacements"].as_u64(), Some(seen));
    // Exact expectations at the ages reached: those of each kind of seal add up to what was seen.
    let sum = |key: &str| -> f64 {
        let each = rows(&document).iter().map(|p| p[key].as_f64().unwrap());
        each.sum()
    };
    let expected = sum("expected_at_its_ages");
    assert!(
        (expected / seen as f64 - 1.0).abs() < 1e-3,
        "{expected} {seen}"
    );
    // Over the fleet ordinary places use what all places used, within a few of the hundred.
    let ordinary = sum("expected");
    assert!(
        (ordinary / seen as f64 - 1.0).abs() < 0.05,
        "{ordinary} {seen}"
    );
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_groups_are_set_against_each_other() {
    let args = ["positions", DEMO, "--by", "cleaning", "--format", "json"];
    assert_eq!(sealspan(&args).out, sealspan(&args).out);
    let document = json(&[DEMO, "--by", "site"]);
    assert!(document["difference"].is_null() && document["difference_reason"].is_string());
    assert_eq!(document["groups"].as_array().unwrap().len(), 6);
    let cycles = json(&[DEMO, "--clock", "cycles"]);
    assert_eq!(cycles["unit"], "cycles");
    assert!(!cycles["mean_cumulative"].as_array().unwrap().is_empty());
}

#[test]
fn figures_are_written_where_asked() {
    let out = file("figures/x", b"").parent().unwrap().join("out");
    let run = sealspan(&["positions", DEMO, "--out", out.to_str().unwrap()]);
    assert_eq!(run.status, 0, "{}", run.err);
    for name in [
        "figures/mean-cumulative.png",
        "figures/door-wear.svg",
        "results.json",
    ] {
        assert!(out.join(name).metadata().unwrap().len() > 500, "{name}");
    }
    let svg = std::fs::read_to_string(out.join("figures/door-wear.svg")).unwrap();
    assert!(svg.contains("<desc") && svg.contains("HL1-T17"));
}

#[test]
fn no_recurrence_has_no_curve_and_says_so() {
    let rows = format!(
        "{HEAD}A,T1,door,NBR,2023-01-01,,,\nB,T2,door,NBR,2023-02-01,2023-09-01,preventive,\n"
    );
    let path = file("none.csv", rows.as_bytes());
    let run = sealspan(&["positions", path.to_str().unwrap()]);
    assert_eq!(run.status, 1);
    assert!(run.out.contains("No replacement counts"), "{}", run.out);
    let document = sealspan(&["positions", path.to_str().unwrap(), "--format", "json"]).json();
    assert!(document["mean_cumulative_reason"].is_string());
    assert!(document["power_law"]["growth"]["reason"].is_string());
    assert_eq!(document["not_counted"]["preventive"], 1);
}

#[test]
fn one_position_and_few_sectors_are_not_tested() {
    let rows = format!(
        "{HEAD}A,T1,door,NBR,2023-01-01,2023-04-01,failed,2\nB,T1,door,NBR,2023-04-01,2023-09-01,worn,\nC,T1,door,NBR,2023-09-01,,,\nD,T1,door,NBR,2024-01-01,,,\n"
    );
    let path = file(
        "one.csv",
        rows.replace("D,T1,door,NBR,2024-01-01,,,\n", "").as_bytes(),
    );
    let document = json(&[path.to_str().unwrap()]);
    let row = &rows_of_one(&document)[0];
    assert!(row["p_value"].is_null() && row["reason"].is_string());
    assert!(row["uneven_p_value"].is_null() && row["reason"].is_string());
    assert_eq!(row["not_placed"], 1);
    assert_eq!(row["sectors"], serde_json::json!([0, 1, 0, 0]));
    assert_eq!(document["wear"]["no_sector"], 1);
}

fn rows_of_one(document: &Value) -> &Vec<Value> {
    let rows = rows(document);
    assert_eq!(rows.len(), 1);
    rows
}

#[test]
fn a_sector_beyond_the_ring_is_refused_with_its_place() {
    let rows = format!(
        "{HEAD}A,T1,door,NBR,2023-01-01,2023-04-01,failed,2\nB,T1,door,NBR,2023-04-01,2023-09-01,failed,6\n"
    );
    let path = file("six.csv", rows.as_bytes());
    let run = sealspan(&["positions", path.to_str().unwrap(), "--format", "json"]);
    assert_eq!(run.status, 2);
    let error = &run.json()["error"];
    assert_eq!(
        (&error["row"], &error["column"]),
        (&Value::from(3), &Value::from("sector"))
    );
    assert!(error["file"].as_str().unwrap().ends_with("six.csv"));
    let document = json(&[path.to_str().unwrap(), "--sectors", "6"]);
    assert_eq!(
        rows_of_one(&document)[0]["sectors"],
        serde_json::json!([0, 1, 0, 0, 0, 1])
    );
}

#[test]
fn plain_lives_and_unknown_words_are_refused() {
    let run = sealspan(&["positions", "datasets/published/nist-weibull/life.csv"]);
    assert_eq!(run.status, 1);
    assert!(run.err.contains("no positions"), "{}", run.err);
    let run = sealspan(&["positions", DEMO, "--count", "faild"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("did you mean failed"), "{}", run.err);
    let run = sealspan(&["positions", DEMO, "--by", "colour"]);
    assert_eq!(run.status, 2);
}

#[test]
fn turns_are_undone_and_unknown_ones_set_aside() {
    let seals = "seal,asset,position,fitted,removed,outcome,sector\nA,T1,door,2023-01-01,2023-06-01,failed,1\nB,T1,door,2023-06-01,2023-12-01,worn,4\nC,T2,door,2023-01-01,2023-06-01,failed,2\n";
    let looks = "seal,asset,position,date,finding,turned\nA,T1,door,2023-02-01,sound,1\nA,T1,door,2023-03-01,sound,1\nA,T1,door,2023-06-01,failed,1\nB,T1,door,2023-08-01,sound,2\nC,T2,door,2023-03-01,sound,\n";
    let study =
        "cut_off = \"2024-01-01\"\n[files]\nseals = \"seals.csv\"\ninspections = \"looks.csv\"\n";
    file("turns/seals.csv", seals.as_bytes());
    file("turns/looks.csv", looks.as_bytes());
    let path = file("turns/study.toml", study.as_bytes());
    let document = json(&[path.to_str().unwrap()]);
    // A: sector 1 turned twice stands at 3 (the turn of the day it was found comes after the look);
    // B: sector 4 turned twice stands at 2.
    assert_eq!(
        named(&document, "T1")["sectors"],
        serde_json::json!([0, 1, 1, 0])
    );
    assert_eq!(named(&document, "T2")["not_placed"], 1);
    assert_eq!(document["wear"]["turns_unknown"], 1);
}

/// Four sectors are numbered in the demo; of eight, four could never be hit.
#[test]
fn more_sectors_than_are_numbered_are_refused() {
    let run = sealspan(&["positions", DEMO, "--sectors", "8", "--format", "json"]);
    assert_eq!(run.status, 2, "{}", run.out);
    let error = run.json()["error"].clone();
    assert_eq!(error["kind"], "not_a_sector", "{error}");
    assert!(error.to_string().contains("--sectors 4"), "{error}");
    assert_eq!(json(&[DEMO, "--sectors", "4"])["ring_sectors"], 4);
}

/// One position shows no spread between positions.
#[test]
fn a_single_position_has_no_interval() {
    let rows = "S1,A,1,EPDM,2020-01-01,2020-05-01,failed,1\nS2,A,1,EPDM,2020-05-01,2020-07-01,failed,2\nS3,A,1,EPDM,2020-07-01,2020-12-01,failed,1\nS4,A,1,EPDM,2020-12-01,,in_service,\n";
    let path = file("one-position.csv", format!("{HEAD}{rows}").as_bytes());
    let path = path.to_str().unwrap();
    let document = json(&[path]);
    let points = document["mean_cumulative"].as_array().unwrap();
    let last = points.last().unwrap();
    assert_eq!(last["mean"], 3.0);
    assert!(last["lower"].is_null() && last["upper"].is_null(), "{last}");
    assert!(last["reason"].as_str().unwrap().contains("one position"));
    let wear = &document["wear"];
    assert!(!wear["share_out_of_line"].is_null() || wear["share_reason"].is_string());
    let text = sealspan(&["positions", path]).out;
    assert!(text.contains("3.00 (no interval: one position"), "{text}");
    assert!(!text.contains("3.00 to 3.00"), "{text}");
}

/// Three groups and more are set against each other pair by pair, with p-values that allow for all of them.
#[test]
fn many_groups_differ_pair_by_pair() {
    let run = sealspan(&["positions", DEMO, "--by", "cleaning", "--format", "json"]);
    let json = run.json();
    let groups = json["groups"].as_array().unwrap();
    let pairs = json["differences"].as_array().unwrap();
    assert_eq!(
        (groups.len(), pairs.len()),
        (4, 6),
        "{}",
        json["difference_reason"]
    );
    let mean = |key: &Value, at: f64| {
        let group = groups.iter().find(|g| g["group"] == *key).unwrap();
        let points = group["mean_cumulative"].as_array().unwrap().iter();
        let before = points.take_while(|p| p["time"].as_f64().unwrap() <= at);
        before.last().map_or(0.0, |p| p["mean"].as_f64().unwrap())
    };
    for pair in pairs {
        let at = pair["at"].as_f64().unwrap();
        let wanted = mean(&pair["of"], at) - mean(&pair["to"], at);
        let found = pair["difference"]["estimate"].as_f64().unwrap();
        assert!((wanted - found).abs() < 1e-12, "{pair}");
        let p = pair["p_value"].as_f64().unwrap();
        let adjusted = pair["adjusted_p_value"].as_f64().unwrap();
        assert!(p <= adjusted && adjusted <= 1.0, "{pair}");
        let ends = ["lower", "upper"].map(|e| pair["difference"][e].as_f64().unwrap());
        assert!(ends[0] < found && found < ends[1], "{pair}");
    }
    let text = sealspan(&["positions", DEMO, "--by", "cleaning"]).out;
    assert!(text.contains("acid less hot caustic"), "{text}");
}
