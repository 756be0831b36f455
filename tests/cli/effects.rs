//! Effects as a reader meets them: many levels, effects that hang on each other, frailty, and options that must act or
//! say why not. All data invented but the demo and the published example.

use super::{file, sealspan};
use serde_json::Value;
use std::fmt::Write as _;

const DEMO: &str = "datasets/harrow-lane/study.toml";
const CAPACITORS: &str = "datasets/published/glass-capacitors/life.csv";

fn json(args: &[&str]) -> Value {
    sealspan(&[args, &["--format", "json"]].concat()).json()
}

/// Nine levels, one of which lasts three times as long.
fn nine_levels() -> String {
    let mut text = "time,status,level\n".to_owned();
    for level in 0..9 {
        for k in 0..12 {
            let life = f64::from(100 + 7 * k) * if level == 4 { 3.0 } else { 1.0 };
            writeln!(text, "{life},failed,L{level}").unwrap();
        }
    }
    file("nine.csv", text.as_bytes())
        .to_str()
        .unwrap()
        .to_owned()
}

#[test]
fn many_pairs_are_a_line_for_each_level() {
    let path = nine_levels();
    let run = sealspan(&["compare", &path, "--by", "level"]);
    let first = run.out.split("\n\n").nth(1).unwrap();
    assert!(first.contains("longest life first"), "{first}");
    // The one that lasts longer comes first and outlives the eight others; the rest are told apart from it alone.
    let rows: Vec<&str> = first
        .lines()
        .filter(|l| l.trim().starts_with('L'))
        .collect();
    let cells = |row: &str| -> Vec<String> { row.split_whitespace().map(str::to_owned).collect() };
    assert_eq!(cells(rows[0])[0], "L4");
    assert_eq!(cells(rows[0])[5..], ["8", "0"]);
    assert!(run.out.contains("8 pairs are") && run.out.contains("all 36 pairs"));
    assert!(
        run.out.matches(" times as long as ").count() <= 5,
        "{}",
        run.out
    );
    let pairs = json(&["compare", &path, "--by", "level"]);
    assert_eq!(pairs["pairwise"]["pairs"].as_array().unwrap().len(), 36);
    let out = file("pairs/x", b"").parent().unwrap().join("out");
    sealspan(&[
        "compare",
        &path,
        "--by",
        "level",
        "--out",
        out.to_str().unwrap(),
    ]);
    let table = std::fs::read_to_string(out.join("tables/life-ratios.csv")).unwrap();
    assert_eq!(table.lines().count(), 37);
}

/// Twice the same law: with 1/T and V/T crossed the effect at typical conditions is that of the regression without the
/// product, where the product does nothing; and a prediction moves as the typical effect says.
#[test]
fn effects_that_hang_on_each_other_stand_at_typical_conditions() {
    let at = |volts: &str| format!("temperature_c=175,voltage_v={volts}");
    let (low, high) = (at("275"), at("276"));
    let answer = json(&[
        "compare",
        CAPACITORS,
        "--eyring",
        "temperature_c,voltage_v",
        "--predict",
        &low,
        "--predict",
        &high,
    ]);
    let regression = &answer["regression"];
    let effects = regression["at_typical"].as_array().unwrap();
    let volts = effects.iter().find(|e| e["name"] == "voltage_v").unwrap();
    let median = |i: usize| {
        answer["predictions"][i]["life"][1]["estimate"]
            .as_f64()
            .unwrap()
    };
    let ratio = volts["life_ratio"].as_f64().unwrap();
    assert!(
        (ratio / (median(1) / median(0)) - 1.0).abs() < 1e-9,
        "{ratio}"
    );
    assert_eq!(volts["at"], serde_json::json!(["temperature_c 175 °C"]));
    assert_eq!(volts["of"], "voltage_v, 1 V more");
    let stress = &regression["stresses"][0];
    assert_eq!(stress["held_constant"], serde_json::json!(["voltage_v"]));
    assert_eq!(stress["energy_at"], serde_json::json!(["voltage_v 275 V"]));
    let ratios = answer["proportional_hazards"]["coefficients"]
        .as_array()
        .unwrap();
    for c in ratios {
        let ratio = c["hazard_ratio"].as_f64().unwrap();
        assert!(
            ratio > 0.1 && ratio < 10.0 && c["hazard_ratio_of"].is_string(),
            "{c}"
        );
    }
}

#[test]
fn units_come_from_the_column_or_are_stated() {
    let text = sealspan(&["compare", CAPACITORS, "--inverse-power", "voltage_v"]).out;
    assert!(text.contains("seen from 200.0 to 350.0 V\n"), "{text}");
    let text = sealspan(&["compare", CAPACITORS, "--inverse-power", "voltage_v:volt"]).out;
    assert!(text.contains("to 350.0 volt\n"), "{text}");
    let crossed = json(&[
        "compare",
        CAPACITORS,
        "--number",
        "temperature_c,voltage_v",
        "--interaction",
        "temperature_c:voltage_v",
    ]);
    let last = &crossed["regression"]["coefficients"][3];
    assert_eq!(last["unit"], "ln life per °C and V");
}

#[test]
fn frailty_has_an_answer_where_failures_lie_between_looks() {
    let answer = json(&["compare", DEMO, "--by", "material", "--frailty", "asset"]);
    let frailty = &answer["frailty"];
    let weibull = &frailty["weibull"];
    assert!(
        weibull["theta"]["estimate"].as_f64().unwrap() > 0.0,
        "{frailty}"
    );
    let levels = weibull["levels"].as_array().unwrap();
    assert_eq!(levels.len() as u64, frailty["clusters"].as_u64().unwrap());
    // The door that eats seals is the fastest of all and stands out.
    assert_eq!(
        (&levels[0]["level"], &levels[0]["stands_out"]),
        (&"HL1-T17".into(), &true.into())
    );
    let seals: f64 = levels.iter().map(|l| l["seals"].as_f64().unwrap()).sum();
    assert!(seals > 2000.0);
    let why = frailty["proportional_hazards_reason"].as_str().unwrap();
    assert!(
        why.contains("between two looks") && why.contains("need none"),
        "{why}"
    );
    let text = sealspan(&["compare", DEMO, "--by", "material", "--frailty", "asset"]).out;
    assert!(
        text.contains("stand out") && text.contains("HL1-T17"),
        "{text}"
    );
}

#[test]
fn too_few_clusters_give_no_robust_interval_anywhere() {
    let mut text = "time,status,g,c\n".to_owned();
    for k in 0..12 {
        let (g, c) = (["A", "B"][k % 2], ["x", "y"][k / 6]);
        writeln!(text, "{},failed,{g},{c}", 90 + 11 * k).unwrap();
    }
    let path = file("two-clusters.csv", text.as_bytes());
    let answer = json(&[
        "compare",
        path.to_str().unwrap(),
        "--by",
        "g",
        "--cluster",
        "c",
    ]);
    assert!(answer["life_ratios"][0].get("robust_lower").is_none());
    let hazards = &answer["proportional_hazards"];
    assert!(
        hazards["clusters"].is_null() && hazards["clusters_reason"].is_string(),
        "{hazards}"
    );
    let warnings = answer["warnings"].to_string();
    assert!(warnings.contains("too few clusters"), "{warnings}");
}

#[test]
fn a_level_without_failures_is_the_reason_of_all_that_is_missing() {
    let motor = "datasets/published/motor-insulation/life.csv";
    let answer = json(&["compare", motor, "--by", "temperature_c"]);
    for why in [
        &answer["regression_reason"],
        &answer["proportional_hazards_reason"],
        &answer["tests"][7]["reason"],
    ] {
        let why = why.as_str().unwrap();
        assert!(
            why.contains("none of the 10 seals with temperature_c = `150` failed"),
            "{why}"
        );
    }
    let shaped = json(&[
        "compare",
        motor,
        "--arrhenius",
        "temperature_c",
        "--shape-by",
        "temperature_c",
    ]);
    let why = shaped["regression_reason"].as_str().unwrap();
    assert!(why.contains("no shape of their own"), "{why}");
}

#[test]
fn options_of_fit_act_or_say_why_not() {
    let nist = "datasets/published/nist-weibull/life.csv";
    let two = file(
        "two.csv",
        b"time,status\n90,failed\n150,failed\n200,running\n200,running\n",
    );
    let answer = json(&["fit", two.to_str().unwrap(), "--at", "50", "--age", "60"]);
    let assumed = answer["groups"][0]["assumed_shapes"].as_array().unwrap();
    for shape in assumed {
        let number = |v: &Value| v.as_f64().unwrap();
        let (beta, eta) = (number(&shape["shape"]), number(&shape["scale_lower"]));
        let survives = number(&shape["survival"][0]["lower"]);
        assert!((survives - (-(50.0 / eta).powf(beta)).exp()).abs() < 1e-12);
        // Of those that reach 60, a tenth fail within the bound.
        let left = &shape["remaining"][0];
        let hazard = |t: f64| (t / eta).powf(beta);
        let gone = hazard(60.0 + number(&left["lower"])) - hazard(60.0);
        assert!((-(-gone).exp_m1() - number(&left["p"])).abs() < 1e-9);
    }
    let text = sealspan(&["fit", two.to_str().unwrap(), "--at", "50"]).out;
    assert!(text.contains("surviving 50 days, at least"), "{text}");
    let run = sealspan(&["fit", nist, "--cut-off", "2020-01-01"]);
    assert!(
        run.status == 2 && run.err.contains("no dates"),
        "{}",
        run.err
    );
    let text = sealspan(&["fit", nist, "--clock", "cycles", "--residuals"]).out;
    assert!(
        text.contains("taken as cycles") && text.contains("farthest out"),
        "{text}"
    );
    let text = sealspan(&["fit", nist, "--family", "weak_fraction_weibull"]).out;
    assert!(
        text.contains("no mean life: infinite under this law"),
        "{text}"
    );
}

#[test]
fn several_factors_under_by_are_answered_with_the_way_to_ask() {
    let run = sealspan(&["compare", DEMO, "--by", "material,cleaning"]);
    assert_eq!(run.status, 2);
    assert!(
        run.err.contains("--by material --given cleaning"),
        "{}",
        run.err
    );
    assert!(run.err.contains("one factor at a time"), "{}", run.err);
}

/// Invented lives of one level among very many.
fn of_level(level: usize) -> Vec<String> {
    let failures = [0, 2, 6][level % 3];
    (0..8)
        .map(|k| {
            let life = 100 + (37 * k * k + 11 * level * k) % 300;
            let word = if k < failures { "failed" } else { "running" };
            format!("{life},{word}")
        })
        .collect()
}

/// With very many groups less is worked out of each, but what is stated is what each would get by itself.
#[test]
fn intervals_of_very_many_groups_are_those_of_single_ones() {
    let mut text = "time,status,level\n".to_owned();
    for level in 0..501 {
        for row in of_level(level) {
            writeln!(text, "{row},L{level:03}").unwrap();
        }
    }
    let path = file("very-many.csv", text.as_bytes());
    let many = path.to_str().unwrap();
    let all = json(&["intervals", many, "--by", "level", "--share", "0.05"]);
    let groups = all["groups"].as_array().unwrap();
    assert_eq!(groups.len(), 501);
    assert!(
        all["notes"]
            .to_string()
            .contains("Nor is the law tested group by group")
    );
    for level in [0, 1, 2, 5, 500] {
        let clock = &groups[level]["clocks"][0];
        let alone = format!("time,status\n{}\n", of_level(level).join("\n"));
        let path = file("one-of-many.csv", alone.as_bytes());
        let input = path.to_str().unwrap();
        let asked = [
            "--quantile",
            "0.05",
            "--bounds",
            "profile",
            "--confidence",
            "0.9",
        ];
        let fit = json(&[&["fit", input][..], &asked].concat());
        let own = &fit["groups"][0]["fits"][0]["quantiles"];
        let share = &clock["age_of_share"];
        if level % 3 == 2 {
            assert!(share["lower"].as_f64().unwrap() > 0.0, "{share}");
            assert_eq!(share["lower"], own[0]["lower"], "{level}");
            assert_eq!(share["estimate"], own[0]["estimate"], "{level}");
            assert!(clock["state"].is_object(), "{clock}");
        } else {
            assert!(share["lower"].is_null(), "{share}");
            assert!(
                clock["if_shape_known"].as_array().unwrap().len() >= 3,
                "{clock}"
            );
        }
    }
}

/// With a shape of its own for each level a life ratio holds at one age alone, and that is said.
#[test]
fn ratios_of_lives_of_different_shapes_say_at_which_age() {
    let asked = [
        "compare",
        DEMO,
        "--by",
        "material",
        "--shape-by",
        "material",
    ];
    let run = sealspan(&asked);
    assert!(
        run.out.contains("the age by which 63.2 % have failed only"),
        "{}",
        run.out
    );
    let by_site = sealspan(&["compare", DEMO, "--by", "material", "--shape-by", "site"]);
    assert!(!by_site.out.contains("63.2 %"), "{}", by_site.out);
}

/// What was taken as known stands in the answer.
#[test]
fn an_offset_is_told() {
    let asked = [
        "compare",
        CAPACITORS,
        "--arrhenius",
        "temperature_c",
        "--offset",
        "voltage_v",
    ];
    let run = sealspan(&asked);
    assert!(
        run.out.contains("ln life is shifted by `voltage_v`"),
        "{}",
        run.out
    );
    let power = ["compare", CAPACITORS, "--inverse-power", "voltage_v:V"];
    let run = sealspan(&power);
    assert!(
        run.out.contains("voltage_v_exponent a pure number"),
        "{}",
        run.out
    );
}
