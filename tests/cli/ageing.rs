//! Laboratory ageing as a user meets it.

use super::{file, sealspan};
use serde_json::Value;

const LAB: &str = "datasets/lab-ageing/compression-set.csv";
const DEMO: &str = "datasets/harrow-lane/study.toml";

pub fn json(args: &[&str]) -> Value {
    let mut args = args.to_vec();
    args.extend(["--format", "json"]);
    let run = sealspan(&args);
    assert_eq!(run.status, 0, "{args:?}: {}{}", run.out, run.err);
    let json = run.json();
    explained(&json, "");
    assert!(!json["cautions"].as_array().unwrap().is_empty());
    json
}

/// Whatever is null has a reason in the same object.
pub fn explained(json: &Value, path: &str) {
    match json {
        Value::Object(map) => {
            let null = map.iter().any(|(_, v)| v.is_null());
            let reason = map
                .iter()
                .any(|(k, v)| k.ends_with("reason") && v.is_string());
            assert!(!null || reason, "{path}: no reason in {json:.400}");
            for (key, value) in map {
                explained(value, &format!("{path}.{key}"));
            }
        }
        Value::Array(list) => list.iter().for_each(|v| explained(v, path)),
        _ => {}
    }
}

/// The error document of a run that must be refused.
pub fn refused(args: &[&str]) -> Value {
    let mut args = args.to_vec();
    args.extend(["--format", "json"]);
    let run = sealspan(&args);
    assert_eq!(run.status, 2, "{args:?}: {}", run.out);
    run.json()["error"].clone()
}

pub fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

pub fn group<'a>(json: &'a Value, material: &str) -> &'a Value {
    let groups = json["groups"].as_array().unwrap();
    let found = groups.iter().find(|g| g["group"]["material"] == material);
    found.unwrap_or_else(|| panic!("no {material}"))
}

/// Energies planted by the generator of the invented tests: EPDM 95, FKM 70, NBR 88 kJ/mol.
#[test]
fn planted_activation_energies_lie_in_their_intervals() {
    for curve in ["between-log-time", "power", "exponential", "logistic"] {
        let json = json(&[
            "ageing",
            LAB,
            "--limit",
            "50",
            "--curve",
            curve,
            "--confidence",
            "0.99",
            "--at-temperature",
            "70",
        ]);
        assert_eq!(json["schema"], "sealspan.ageing.v1");
        for (material, planted) in [("EPDM", 95.0), ("FKM", 70.0), ("NBR", 88.0)] {
            let energy = &group(&json, material)["line"]["activation_energy_kj_per_mol"];
            assert!(
                number(&energy["lower"]) < planted && planted < number(&energy["upper"]),
                "{curve} {material}: {energy}"
            );
        }
        // FKM did not reach the limit at 130 °C: censored, not dropped.
        let fkm = group(&json, "FKM");
        assert_eq!(fkm["ovens"][0]["reached"], "not_reached", "{curve}");
        assert_eq!(fkm["line"]["ovens_not_reached"], 1);
        assert!(fkm["line"]["method"].as_str().unwrap().contains("censored"));
        let life = &fkm["life"][0];
        assert_eq!(life["extrapolation"], "far");
        assert!(number(&life["prediction"]["lower"]) < number(&life["confidence"]["lower"]));
    }
}

/// The invented VMQ loses a third of its energy below 130 °C: the line must be seen to bend, to the unsafe side.
#[test]
fn a_bent_line_is_seen() {
    let json = json(&["ageing", LAB, "--limit", "50", "--at-temperature", "60"]);
    let vmq = group(&json, "VMQ");
    assert!(
        number(&vmq["curvature"]["p_value"]) < 0.05,
        "{}",
        vmq["curvature"]
    );
    assert!(number(&vmq["life"][0]["if_bent"]) < number(&vmq["life"][0]["estimate"]));
    let words = vmq["curvature"]["words"].as_str().unwrap();
    assert!(words.contains("too long a life"), "{words}");
}

/// 22 h at 25 °C plus 2 h at 121 °C act like 84.64 °C at 80 kJ/mol; 50-digit arithmetic.
#[test]
fn a_duty_cycle_needs_no_table() {
    let json = json(&[
        "ageing",
        "--duty",
        "22@25,2@121",
        "--activation-energy",
        "80",
    ]);
    let equivalent = number(&json["duty"]["equivalent_c"]["estimate"]);
    assert!((equivalent - 84.641_570_500_8).abs() < 1e-9, "{equivalent}");
    assert_eq!(json["duty"]["mean_c"], 33.0);
}

#[test]
fn the_prior_has_the_form_mean_comma_deviation() {
    let json = json(&["ageing", LAB, "--limit", "50"]);
    let prior = &group(&json, "EPDM")["line"]["prior"];
    let (mean, sd) = prior["option"].as_str().unwrap().split_once(',').unwrap();
    let (mean, sd): (f64, f64) = (mean.parse().unwrap(), sd.parse().unwrap());
    assert!((mean - number(&prior["mean_ev"])).abs() < 1e-4 && sd > 0.0);
}

#[test]
fn bad_laboratory_tables_name_the_place() {
    let table = |name: &str, text: &str| file(name, text.as_bytes()).display().to_string();
    let cases = [
        (
            "lab-word.csv",
            "temperature_c,time_h,value\n100,10,5\n100,x,9\n",
            3,
            "time_h",
        ),
        (
            "lab-empty.csv",
            "temperature_c,time_h,value\n100,10,\n",
            2,
            "value",
        ),
        (
            "lab-kelvin.csv",
            "temperature_c,time_h,value\n2373,10,5\n",
            2,
            "temperature_c",
        ),
        (
            "lab-before.csv",
            "temperature_c,time_h,value\n100,-1,5\n",
            2,
            "time_h",
        ),
        (
            "lab-unit.csv",
            "temperature_c,time,time_unit,value\n100,1,fortnights,5\n",
            2,
            "time_unit",
        ),
        (
            "lab-no-unit.csv",
            "temperature_c,time,value\n100,1,5\n",
            1,
            "time",
        ),
    ];
    for (name, text, row, column) in cases {
        let path = table(name, text);
        let error = refused(&["ageing", &path, "--limit", "50"]);
        assert_eq!(error["row"], row, "{name}: {error}");
        assert_eq!(error["column"], column, "{name}: {error}");
        assert!(error["mend"].is_string() && error["file"].is_string());
    }
    let path = table(
        "lab-short.csv",
        "temperature_c,time_h,value\n100,10,5\n100,20,60\n",
    );
    let run = sealspan(&["ageing", &path, "--limit", "50"]);
    assert_eq!(run.status, 1, "one oven draws no line: {}", run.out);
    assert!(run.out.contains("no Arrhenius line"), "{}", run.out);
}

/// The invented laboratory table says that it is invented, and how many rows it has.
#[test]
fn the_laboratory_table_keeps_to_its_source_file() {
    let top = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let text = std::fs::read_to_string(top.join("datasets/lab-ageing/source.toml")).unwrap();
    assert!(text.contains("invented = true"));
    let rows = number(&json(&["ageing", LAB, "--limit", "50"])["rows_read"]);
    assert!(text.contains(&format!("rows = {rows}")), "{rows}");
}

#[test]
fn figures_and_tables_are_written_where_asked() {
    let folder = file("out/x", b"").parent().unwrap().to_owned();
    let out = folder.join("ageing");
    let run = sealspan(&[
        "ageing",
        LAB,
        "--limit",
        "50",
        "--at-temperature",
        "70",
        "--out",
        out.to_str().unwrap(),
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    for name in [
        "figures/property-epdm.svg",
        "figures/arrhenius-epdm.png",
        "tables/life-in-service.csv",
        "results.json",
        "stamp.json",
    ] {
        assert!(out.join(name).metadata().unwrap().len() > 0, "{name}");
    }
    let out = folder.join("condition");
    let run = sealspan(&[
        "condition",
        DEMO,
        "--measure",
        "thickness_mm",
        "--limit",
        "4.5",
        "--out",
        out.to_str().unwrap(),
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    for name in [
        "figures/paths-epdm.svg",
        "figures/time-left-epdm.png",
        "tables/running-seals.csv",
    ] {
        assert!(out.join(name).metadata().unwrap().len() > 0, "{name}");
    }
}

/// Heat that lengthens life gives neither a life elsewhere nor a prior. Times invented.
#[test]
fn ageing_that_runs_backwards_gives_no_life() {
    let mut rows = "temperature_c,time_h,compression_set_pct\n".to_owned();
    for (celsius, slow) in [(80, 1), (100, 2), (120, 4)] {
        for step in [100, 200, 400, 800] {
            rows += &format!("{celsius},{},{}\n", step * slow, 10 + step / 10);
        }
    }
    let path = file("backwards.csv", rows.as_bytes());
    let run = sealspan(&[
        "ageing",
        path.to_str().unwrap(),
        "--limit",
        "50",
        "--at-temperature",
        "60",
        "--format",
        "json",
    ]);
    assert_eq!(run.status, 1, "{}", run.err);
    let json = run.json();
    explained(&json, "");
    let group = &json["groups"][0];
    assert!(group["line"].is_null(), "{group}");
    assert_eq!(group["life"].as_array().unwrap().len(), 0);
    let why = group["line_reason"].as_str().unwrap();
    assert!(why.contains("hotter ovens last longer"), "{why}");
}

/// EPDM's looks at 6,000 h in the 100 °C oven are past the limit: a curve that says otherwise does not fit.
#[test]
fn a_curve_that_misses_the_limit_that_was_passed_does_not_censor() {
    let json = json(&["ageing", LAB, "--limit", "50", "--curve", "log-time"]);
    let ovens = group(&json, "EPDM")["ovens"].as_array().unwrap();
    let oven = ovens.iter().find(|o| o["temperature_c"] == 100.0).unwrap();
    assert_eq!(oven["reached"], "no_curve", "{oven}");
    let why = oven["time_to_limit"]["reason"].as_str().unwrap();
    assert!(why.contains("past the limit at 6000 h"), "{why}");
}
