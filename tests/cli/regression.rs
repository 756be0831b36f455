//! `compare` as a regression: further terms, further questions, and every trouble named. All data invented, but
//! for the published sets named.

use super::{file, sealspan};
use serde_json::Value;
use std::fmt::Write;

const HEAT: &str = "datasets/published/motor-insulation/life.csv";
const GLASS: &str = "datasets/published/glass-capacitors/life.csv";
const DEMO: &str = "datasets/harrow-lane/study.toml";

/// Ages at even shares of a Weibull law.
fn ages(count: usize, scale: f64, shape: f64) -> Vec<f64> {
    (0..count)
        .map(|k| {
            let share = (k as f64 + 0.5) / count as f64;
            scale * (-(-share).ln_1p()).powf(1.0 / shape)
        })
        .collect()
}

/// A file of failures with columns beside.
fn table(name: &str, head: &str, groups: &[(&str, Vec<f64>)]) -> String {
    let mut text = format!("time,status,{head}\n");
    for (cells, ages) in groups {
        for age in ages {
            writeln!(text, "{age},failed,{cells}").unwrap();
        }
    }
    file(name, text.as_bytes()).to_str().unwrap().to_owned()
}

fn compare(args: &[&str]) -> Value {
    let all: Vec<&str> = ["compare"]
        .into_iter()
        .chain(args.iter().copied())
        .collect();
    let all: Vec<&str> = all.into_iter().chain(["--format", "json"]).collect();
    let run = sealspan(&all);
    assert!(run.status <= 1, "{args:?}: {}", run.err);
    run.json()
}

/// The error of a question that cannot be asked so.
fn refused(args: &[&str]) -> String {
    let all: Vec<&str> = ["compare"]
        .into_iter()
        .chain(args.iter().copied())
        .collect();
    let run = sealspan(&all);
    assert_eq!(run.status, 2, "{args:?}: {}", run.out);
    run.err
}

fn effect<'a>(json: &'a Value, name: &str) -> &'a Value {
    let all = json["regression"]["coefficients"].as_array();
    let all = all.unwrap_or_else(|| panic!("no regression: {}", json["regression_reason"]));
    all.iter()
        .find(|c| c["name"] == name)
        .unwrap_or_else(|| panic!("no {name} in {all:?}"))
}

fn number(value: &Value, key: &str) -> f64 {
    value[key]
        .as_f64()
        .unwrap_or_else(|| panic!("no {key} in {value}"))
}

fn warned(json: &Value, words: &str) -> bool {
    let list = json["warnings"].as_array().unwrap();
    list.iter().any(|w| w.as_str().unwrap().contains(words))
}

fn near(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance * b.abs().max(1e-12), "{a} {b}");
}

#[test]
fn activation_energy_in_both_units_with_profile_bounds_and_a_test_of_the_line() {
    let json = compare(&[
        HEAT,
        "--arrhenius",
        "temperature_c",
        "--bounds",
        "profile",
        "--confidence",
        "0.95",
        "--predict",
        "temperature_c=130",
    ]);
    let stress = &json["regression"]["stresses"][0];
    let (ev, kj) = (
        &stress["activation_energy_ev"],
        &stress["activation_energy_kj_per_mol"],
    );
    // 50-digit arithmetic; see tests/published.
    near(number(ev, "estimate"), 0.8379390615936736, 1e-9);
    near(number(ev, "lower"), 0.7189684738082223, 1e-8);
    near(
        number(kj, "upper"),
        0.9754560468172552 * 96.485_332_123_310_02,
        1e-8,
    );
    assert!(number(&stress["curvature"], "p_value") < 1.0);
    assert_eq!(
        (
            number(stress, "tested_from").round(),
            number(stress, "tested_to").round()
        ),
        (150.0, 220.0)
    );
    let prediction = &json["predictions"][0];
    assert_eq!(prediction["extrapolated"], true);
    assert!(
        prediction["extrapolation"][0]
            .as_str()
            .unwrap()
            .contains("150 to 220")
    );
    assert_eq!(prediction["life"][1]["quantity"], "median_life");
    near(
        number(&prediction["life"][1], "estimate"),
        42086.05446055898,
        1e-8,
    );
}

#[test]
fn two_stresses_crossed_and_predicted_inside_their_hull() {
    let json = compare(&[
        GLASS,
        "--number",
        "temperature_c,voltage_v",
        "--interaction",
        "temperature_c:voltage_v",
        "--predict",
        "temperature_c=175,voltage_v=275",
        "--predict",
        "temperature_c=175,voltage_v=400",
    ]);
    near(
        number(effect(&json, "temperature_c:voltage_v"), "estimate"),
        -8.22598698578717e-05,
        1e-6,
    );
    assert_eq!(json["predictions"][0]["extrapolated"], false);
    assert_eq!(json["predictions"][1]["extrapolated"], true);
    // Two corners of the box were never tried together.
    let cells = [
        ("10,1", ages(9, 900.0, 2.0)),
        ("20,2", ages(9, 700.0, 2.0)),
        ("30,1", ages(9, 500.0, 2.0)),
    ];
    let path = table("hull.csv", "heat,load", &cells);
    let json = compare(&[
        &path,
        "--number",
        "heat,load",
        "--predict",
        "heat=12,load=2",
        "--predict",
        "heat=20,load=1.5",
    ]);
    let why = json["predictions"][0]["extrapolation"][0].as_str().unwrap();
    assert!(why.contains("convex hull"), "{why}");
    assert_eq!(json["predictions"][1]["extrapolated"], false);
}

#[test]
fn a_shape_for_each_level_is_the_fit_of_each_level() {
    let path = table(
        "strata.csv",
        "kind",
        &[("A", ages(40, 900.0, 3.0)), ("B", ages(40, 500.0, 1.2))],
    );
    let json = compare(&[&path, "--by", "kind", "--shape-by", "kind"]);
    assert!(
        json["regression"]["sigma"].is_null() && json["regression"]["sigma_reason"].is_string()
    );
    let fits = sealspan(&[
        "fit", &path, "--by", "kind", "--family", "weibull", "--format", "json",
    ])
    .json();
    for (i, level) in ["A", "B"].into_iter().enumerate() {
        let own = &json["regression"]["sigmas"][i];
        assert_eq!(own["level"], level);
        let shape = number(&fits["groups"][i]["fits"][0]["parameters"][0], "estimate");
        near(number(own, "estimate"), 1.0 / shape, 1e-8);
    }
    let scale = |i: usize| number(&fits["groups"][i]["fits"][0]["parameters"][1], "estimate").ln();
    near(
        number(effect(&json, "kind=B"), "estimate"),
        scale(1) - scale(0),
        1e-8,
    );
}

#[test]
fn a_known_shift_of_ln_life_is_taken_off() {
    let path = table(
        "offset.csv",
        "kind,shift",
        &[
            ("A,0", ages(30, 900.0, 2.0)),
            ("B,-0.5", ages(30, 400.0, 2.0)),
        ],
    );
    let plain = compare(&[&path, "--by", "kind"]);
    let shifted = compare(&[&path, "--by", "kind", "--offset", "shift"]);
    let b = |json: &Value| number(effect(json, "kind=B"), "estimate");
    near(b(&shifted), b(&plain) + 0.5, 1e-8);
    near(
        number(&shifted["regression"], "log_likelihood"),
        number(&plain["regression"], "log_likelihood"),
        1e-10,
    );
}

/// Copies of the same seals on one asset say no more than one of them, and the robust error knows it.
#[test]
fn like_seals_of_one_asset_widen_the_robust_interval() {
    let mut text = String::from("time,status,kind,tank\n");
    for (kind, scale) in [("A", 900.0), ("B", 600.0)] {
        for (tank, age) in ages(30, scale, 2.0).into_iter().enumerate() {
            for _ in 0..4 {
                writeln!(text, "{age},failed,{kind},{kind}{tank}").unwrap();
            }
        }
    }
    let path = file("clusters.csv", text.as_bytes());
    let json = compare(&[path.to_str().unwrap(), "--by", "kind", "--cluster", "tank"]);
    let b = effect(&json, "kind=B");
    let ratio = number(&b["robust"], "std_error") / number(b, "std_error");
    assert!((1.6..2.4).contains(&ratio), "{ratio}");
    assert_eq!(json["regression"]["robust"]["clusters"], 60);
    assert!(
        number(&json["life_ratios"][0], "robust_upper") > number(&json["life_ratios"][0], "upper")
    );
    let few = table(
        "few-clusters.csv",
        "kind,tank",
        &[
            ("A,1", ages(20, 900.0, 2.0)),
            ("B,2", ages(20, 600.0, 2.0)),
            ("B,3", ages(20, 650.0, 2.0)),
        ],
    );
    assert!(warned(
        &compare(&[&few, "--by", "kind", "--cluster", "tank"]),
        "only 3 clusters"
    ));
    // Several seals an asset, and no cluster named.
    assert!(warned(
        &compare(&[DEMO, "--by", "material"]),
        "add --cluster asset"
    ));
}

#[test]
fn a_stated_activation_energy_is_shown_with_and_without() {
    let args = [
        HEAT,
        "--arrhenius",
        "temperature_c",
        "--prior-activation-energy",
        "1.1,0.05",
    ];
    let json = compare(&args);
    let prior = &json["regression"]["prior"];
    let (with, without) = (&prior["with"], &prior["without"]);
    near(number(without, "estimate"), 0.8379390615936736, 1e-9);
    let between = number(with, "estimate");
    assert!(between > 0.9 && between < 1.1, "{between}");
    assert!(number(with, "std_error") < number(without, "std_error"));
    assert!(
        json["regression"]["penalised"]
            .as_str()
            .unwrap()
            .contains("1.1 eV")
    );
    let text = sealspan(&[&["compare"][..], &args].concat()).out;
    assert!(
        text.contains("stated activation energy 1.1") && text.contains("disagree by"),
        "{text}"
    );
    // One temperature tells nothing by itself.
    let path = table("one-heat.csv", "heat", &[("80", ages(20, 900.0, 2.0))]);
    let json = compare(&[
        &path,
        "--arrhenius",
        "heat",
        "--prior-activation-energy",
        "0.8,0.1",
    ]);
    let prior = &json["regression"]["prior"];
    near(number(&prior["with"], "estimate"), 0.8, 1e-6);
    assert!(prior["without"]["estimate"].is_null() && prior["without"]["reason"].is_string());
}

#[test]
fn eyring_is_arrhenius_with_the_temperature_in_front() {
    // Life made by Eyring's law: (1/T) exp(E/kT), E = 0.7 eV.
    let life = |c: f64| {
        let kelvin = c + 273.15;
        (0.7 / (8.617_333_262e-5 * kelvin)).exp() / kelvin * 1e-4
    };
    let cells: Vec<(String, Vec<f64>)> = [60.0, 80.0, 100.0]
        .iter()
        .map(|c| (format!("{c},{}", c / 10.0), ages(30, life(*c), 2.0)))
        .collect();
    let cells: Vec<(&str, Vec<f64>)> = cells.iter().map(|(c, a)| (c.as_str(), a.clone())).collect();
    let path = table("eyring.csv", "heat,load", &cells);
    let eyring = compare(&[&path, "--eyring", "heat"]);
    near(
        number(effect(&eyring, "activation_energy_ev"), "estimate"),
        0.7,
        1e-8,
    );
    assert!(
        eyring["regression"]["stresses"][0]["formula"]
            .as_str()
            .unwrap()
            .contains("(1/T)")
    );
    let arrhenius = compare(&[&path, "--arrhenius", "heat"]);
    // The 1/T in front adds kT to the slope: 0.030 eV at 80 °C.
    let slope = number(effect(&arrhenius, "activation_energy_ev"), "estimate");
    near(slope, 0.7 + 8.617_333_262e-5 * 353.15, 0.005);
    let both = compare(&[GLASS, "--eyring", "temperature_c,voltage_v"]);
    effect(&both, "voltage_v_per_kelvin");
    assert!(refused(&[&path, "--eyring", "heat", "--arrhenius", "heat"]).contains("choose one"));
}

#[test]
fn concentration_as_a_power_and_as_a_line() {
    let cells = [
        ("1", ages(30, 1000.0, 2.0)),
        ("2", ages(30, 500.0, 2.0)),
        ("4", ages(30, 250.0, 2.0)),
    ];
    let path = table("acid.csv", "acid_pct", &cells);
    let power = compare(&[&path, "--concentration", "acid_pct:power:%"]);
    near(
        number(effect(&power, "acid_pct_exponent"), "estimate"),
        1.0,
        1e-8,
    );
    assert_eq!(power["regression"]["stresses"][0]["unit"], "%");
    let line = compare(&[&path, "--concentration", "acid_pct:linear:%"]);
    assert_eq!(effect(&line, "acid_pct")["unit"], "ln life per %");
    let path = table(
        "water.csv",
        "acid_pct",
        &[("0", ages(9, 1000.0, 2.0)), ("2", ages(9, 500.0, 2.0))],
    );
    let why = refused(&[&path, "--concentration", "acid_pct"]);
    assert!(
        why.contains("`acid_pct` holds 0") && why.contains("linear"),
        "{why}"
    );
}

#[test]
fn trouble_is_named() {
    let heat = compare(&[HEAT, "--by", "temperature_c"]);
    let why = heat["regression_reason"].as_str().unwrap();
    assert!(
        why.contains("temperature_c = `150`") && why.contains("--penalty"),
        "{why}"
    );
    let held = compare(&[HEAT, "--by", "temperature_c", "--penalty", "1"]);
    assert!(
        held["regression"]["penalised"]
            .as_str()
            .unwrap()
            .contains("penalised")
    );
    assert!(number(effect(&held, "temperature_c=220"), "estimate") < 0.0);
    // The same column twice.
    let why = compare(&[
        HEAT,
        "--number",
        "temperature_c",
        "--arrhenius",
        "temperature_c",
        "--given",
        "temperature_c",
    ]);
    assert!(why["regression"].is_null(), "{}", why["regression"]);
    let path = table(
        "twin.csv",
        "kind,site",
        &[("A,X", ages(20, 900.0, 2.0)), ("B,Y", ages(20, 500.0, 2.0))],
    );
    let why = compare(&[&path, "--by", "kind", "--given", "site"]);
    let why = why["regression_reason"].as_str().unwrap();
    assert!(why.contains("site=Y") && why.contains("kind=B"), "{why}");
    // One level only.
    let path = table(
        "one.csv",
        "kind,site",
        &[("A,X", ages(20, 900.0, 2.0)), ("B,X", ages(20, 500.0, 2.0))],
    );
    assert!(warned(
        &compare(&[&path, "--by", "kind", "--given", "site"]),
        "`site` has one level only (X)"
    ));
    // A combination that no seal has, and one that is not in the model.
    let cells = [
        ("A,X", ages(20, 900.0, 2.0)),
        ("B,X", ages(20, 500.0, 2.0)),
        ("A,Y", ages(20, 700.0, 2.0)),
    ];
    let path = table("empty.csv", "kind,site", &cells);
    let json = compare(&[
        &path,
        "--by",
        "kind",
        "--given",
        "site",
        "--interaction",
        "kind:site",
    ]);
    assert!(
        warned(&json, "no seal has kind=B:site=Y"),
        "{}",
        json["warnings"]
    );
    assert!(
        refused(&[&path, "--by", "kind", "--interaction", "kind:site"])
            .contains("`site` has no effect of its own")
    );
    assert!(refused(&[&path, "--by", "kind", "--predict", "kind=C"]).contains("no level `C`"));
    assert!(
        refused(&[
            &path,
            "--by",
            "kind",
            "--given",
            "site",
            "--predict",
            "kind=A"
        ])
        .contains("`site`")
    );
}

#[test]
fn missing_values_are_set_aside_by_name() {
    let cells = [
        ("A,60", ages(20, 900.0, 2.0)),
        ("B,80", ages(20, 500.0, 2.0)),
        ("A,80", ages(20, 600.0, 2.0)),
        ("A,", ages(5, 800.0, 2.0)),
    ];
    let path = table("gaps.csv", "kind,heat", &cells);
    let json = compare(&[&path, "--by", "kind", "--arrhenius", "heat"]);
    assert!(
        warned(&json, "5 seals have no `heat` and are set aside"),
        "{}",
        json["warnings"]
    );
    effect(&json, "kind=B");
}

/// Ten thousand levels are an answer, which says that it is penalised: each level is a draw from one normal.
#[test]
fn ten_thousand_levels_are_drawn_from_one_normal() {
    // Four kinds of lot, each a quarter of the lots: lives of 0.5, 1 and 2 times the middle; kind B lasts 1.5 times.
    let mut text = String::from("time,status,kind,lot\n");
    for lot in 0..10_000 {
        let (kind, times) = if lot % 2 == 0 { ("A", 1.0) } else { ("B", 1.5) };
        let own = [0.5, 1.0, 1.0, 2.0][(lot / 2) % 4];
        for age in ages(2, 500.0 * own * times, 2.0) {
            writeln!(text, "{age},failed,{kind},L{lot}").unwrap();
        }
    }
    let path = file("lots.csv", text.as_bytes());
    let path = path.to_str().unwrap();
    let json = compare(&[path, "--by", "kind", "--given", "lot"]);
    let said = json["regression"]["penalised"].as_str().unwrap();
    assert!(said.contains("`lot` has 10000 levels"), "{said}");
    near(
        number(effect(&json, "kind=B"), "estimate"),
        1.5_f64.ln(),
        0.03,
    );
    let random = &json["regression"]["random"];
    let levels = random["levels"].as_array().unwrap();
    assert_eq!(levels.len(), 10_000);
    // The standard deviation of ln 0.5, 0, 0 and ln 2 is 0.49.
    let spread = number(random, "spread");
    assert!((0.3..0.6).contains(&spread), "{spread}");
    // Lives of half the middle are drawn towards 1, and stay below it.
    let first = number(&levels[0], "life_ratio");
    assert!(0.5 < first && first < 0.9, "{first}");
    let text = sealspan(&["compare", path, "--by", "lot"]);
    assert!(
        text.out.contains("levels of lot lie apart") && text.out.contains("do not lie apart"),
        "{}",
        text.out
    );
    // An interaction with such a column is still refused by name.
    let mut text = String::from("time,status,kind,lot\n");
    for lot in 0..250 {
        let kind = if lot % 2 == 0 { "A" } else { "B" };
        writeln!(text, "{},failed,{kind},L{lot}", 100 + lot).unwrap();
    }
    let few = file("few-lots.csv", text.as_bytes());
    let crossed = [
        "--by",
        "kind",
        "--given",
        "lot",
        "--interaction",
        "kind:lot",
    ];
    let all: Vec<&str> = few.to_str().into_iter().chain(crossed).collect();
    let why = refused(&all);
    assert!(why.contains("`lot`") && why.contains("--cluster"), "{why}");
}

/// Batches by the thousand are weighed, and the ones that differ are found among them.
#[test]
fn thousands_of_batches_are_weighed() {
    let mut text = String::from("time,status,batch\n");
    for batch in 0..5_000 {
        let own = if batch == 1234 { 0.2 } else { 1.0 };
        // Other batches end at other shares of one law, so that none differs.
        for k in 0..4 {
            let share = (f64::from(batch * 4 + k) * 0.618_034)
                .fract()
                .clamp(1e-3, 0.999);
            let age = own * 500.0 * (-(-share).ln_1p()).sqrt();
            writeln!(text, "{age},failed,B{batch}").unwrap();
        }
        if batch == 1234 {
            for age in ages(8, 100.0, 2.0) {
                writeln!(text, "{age},failed,B{batch}").unwrap();
            }
        }
    }
    let path = file("batches.csv", text.as_bytes());
    let run = sealspan(&["batches", path.to_str().unwrap(), "--format", "json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let column = &run.json()["columns"][0];
    assert_eq!(column["levels"].as_array().unwrap().len(), 5_000);
    assert_eq!(column["differing"], serde_json::json!(["B1234"]));
}

/// Four seals are enough to see a batch that lasts a quarter as long, and what all four share beside it is named.
#[test]
fn a_small_bad_batch_is_found_and_what_goes_with_it_named() {
    let good: Vec<String> = (0..10).map(|i| format!("B{i},north")).collect();
    let mut cells: Vec<(&str, Vec<f64>)> = good
        .iter()
        .map(|c| (c.as_str(), ages(20, 1000.0, 2.5)))
        .collect();
    cells.push(("BAD,south", ages(4, 250.0, 2.5)));
    let path = table("small-batch.csv", "batch,supplier", &cells);
    let out = std::path::Path::new(&path).with_file_name("small-batch-report");
    let run = sealspan(&["report", &path, "--out", out.to_str().unwrap()]);
    assert_eq!(run.status, 0, "{}", run.err);
    let text = std::fs::read_to_string(out.join("results.json")).unwrap();
    let results: Value = serde_json::from_str(&text).unwrap();
    let found = results["screen"]["found"].as_array().unwrap();
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (&found[0]["column"], &found[0]["level"]),
        (&"batch".into(), &"BAD".into())
    );
    assert_eq!(
        found[0]["same_seals"],
        serde_json::json!(["supplier south"])
    );
    assert!(number(&found[0], "upper") < 0.5);
}
