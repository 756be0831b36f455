//! Columns that go together, cells at fault, a check without a regression, a stated spread, the fit behind advice on
//! materials, and the temperature for a life. All data invented, but for the demo and the laboratory example.

use super::{file, sealspan};
use serde_json::Value;
use std::fmt::Write;

const DEMO: &str = "datasets/harrow-lane/study.toml";

fn json(args: &[&str]) -> Value {
    let all: Vec<&str> = args.iter().copied().chain(["--format", "json"]).collect();
    let run = sealspan(&all);
    assert!(run.status <= 1, "{args:?}: {}", run.err);
    run.json()
}

fn sentences(list: &Value) -> String {
    let all = list.as_array().unwrap().iter();
    all.map(|w| w.as_str().unwrap())
        .collect::<Vec<_>>()
        .join("\n")
}

/// Ages at even shares of a Weibull law of shape 2.
fn ages(count: usize, scale: f64) -> impl Iterator<Item = f64> {
    (0..count).map(move |k| scale * (-(-(k as f64 + 0.5) / count as f64).ln_1p()).sqrt())
}

/// Seals at two sites, one hot and one cool, but for a few.
fn two_sites(name: &str, strays: usize) -> String {
    let mut text = String::from("time,status,site,heat\n");
    for (site, heat, count) in [
        ("N", 60, 60),
        ("S", 80, 60),
        ("N", 80, strays),
        ("S", 60, strays),
    ] {
        let scale = if heat == 60 { 900.0 } else { 500.0 };
        for age in ages(count, scale) {
            writeln!(text, "{age},failed,{site},{heat}").unwrap();
        }
    }
    file(name, text.as_bytes()).to_str().unwrap().to_owned()
}

/// Site and heat nearly one: each effect is blurred by the other, and both are named. Apart: neither is.
#[test]
fn columns_that_go_together_are_named() {
    let asked = |path: &str| json(&["compare", path, "--by", "site", "--arrhenius", "heat"]);
    let blurred = asked(&two_sites("together.csv", 1));
    let said = sentences(&blurred["warnings"]);
    assert!(
        said.contains("`heat` and `site` can hardly be told apart"),
        "{said}"
    );
    let first = &blurred["regression"]["collinearity"]["columns"][0];
    // Each failure counts for its cumulative hazard: on the whole 1 a seal at the two sites, and ln 2 for a stray,
    // alone in its place and so at its median. Strays are 2 ln 2 of 120 + 2 ln 2.
    let strays = 2.0 * std::f64::consts::LN_2;
    let r = 1.0 - 2.0 * strays / (120.0 + strays);
    let want = 1.0 / (1.0 - r * r).sqrt();
    let width = first["times_as_wide"].as_f64().unwrap();
    assert!((width - want).abs() < 0.05, "{width} {want}");
    let apart = asked(&two_sites("apart.csv", 60));
    let width = &apart["regression"]["collinearity"]["columns"][0]["times_as_wide"];
    assert!(width.as_f64().unwrap() < 1.05, "{width}");
    assert!(!sentences(&apart["warnings"]).contains("told apart"));
}

/// An activation energy says what was held constant for it.
#[test]
fn an_activation_energy_says_what_it_holds_constant() {
    let run = sealspan(&[
        "compare",
        DEMO,
        "--by",
        "material",
        "--given",
        "cleaning",
        "--arrhenius",
        "temperature_c",
    ]);
    assert!(
        run.out
            .contains("this regression holds constant: material, cleaning"),
        "{}",
        run.out
    );
    assert!(
        run.out.contains("`temperature_c` and `cleaning`"),
        "{}",
        run.out
    );
}

/// A cell that a stress cannot use: file, row, column and the mend.
#[test]
fn a_cell_at_fault_is_named_by_its_place() {
    let rows =
        |cell: &str| format!("time,status,heat\n100,failed,60\n120,failed,70\n90,failed,{cell}\n");
    let cases = [
        ("hot", "--arrhenius", "is needed", "clear the cell"),
        (
            "-300",
            "--arrhenius",
            "below the lowest temperature",
            "in °C",
        ),
        ("-300", "--eyring", "below the lowest temperature", "in °C"),
        ("0", "--inverse-power", "above zero", "--number"),
        ("hot", "--number", "is needed", "clear the cell"),
    ];
    for (cell, option, why, mend) in cases {
        let path = file("cell.csv", rows(cell).as_bytes());
        let run = sealspan(&[
            "compare",
            path.to_str().unwrap(),
            option,
            "heat",
            "--format",
            "json",
        ]);
        assert_eq!(run.status, 2);
        let error = &run.json()["error"];
        let text = |key: &str| error[key].as_str().unwrap_or_default().to_owned();
        assert!(
            text("message").contains(why) && text("mend").contains(mend),
            "{error}"
        );
        assert!(
            text("file").ends_with("cell.csv") && text("column") == "heat",
            "{error}"
        );
        assert_eq!(error["row"], 4, "{error}");
    }
}

/// Without an answer of the regression the check by proportional hazards draws its ages all the same, and never
/// pleads that ages are not exact.
#[test]
fn ages_are_drawn_where_the_regression_has_no_answer() {
    let args = [
        "compare",
        DEMO,
        "--by",
        "material",
        "--given",
        "site,cleaning",
        "--arrhenius",
        "temperature_c",
    ];
    let found = json(&args);
    assert!(found["regression"].is_null());
    let why = found["proportional_hazards_reason"]
        .as_str()
        .unwrap_or_default();
    assert!(!why.contains("exact ages"), "{why}");
    // A level that never failed: no regression, but the others are compared.
    let mut text = String::from("lower,upper,kind\n");
    for (k, age) in ages(40, 500.0).enumerate() {
        let kind = if k % 2 == 0 { "A" } else { "B" };
        writeln!(text, "{},{},{kind}", 0.8 * age, age).unwrap();
    }
    text.push_str("100,,C\n120,,C\n");
    let path = file("never.csv", text.as_bytes());
    let found = json(&["compare", path.to_str().unwrap(), "--by", "kind"]);
    assert!(found["regression"].is_null());
    let why = found["proportional_hazards_reason"]
        .as_str()
        .unwrap_or_default();
    let from = found["proportional_hazards"]["drawn_ages"]["from"].as_str();
    assert!(!why.contains("exact ages"), "{why}");
    assert!(from.is_none_or(|f| f == "penalised_regression"), "{found}");
}

/// --penalty is the spread between the levels of a factor of very many.
#[test]
fn a_stated_penalty_holds_with_many_levels() {
    let mut text = String::from("time,status,lot\n");
    for lot in 0..300 {
        for age in ages(4, if lot % 2 == 0 { 400.0 } else { 800.0 }) {
            writeln!(text, "{age},failed,L{lot}").unwrap();
        }
    }
    let path = file("held-lots.csv", text.as_bytes());
    let asked = |sd: &str| {
        json(&[
            "compare",
            path.to_str().unwrap(),
            "--by",
            "lot",
            "--penalty",
            sd,
        ])
    };
    let first = |found: &Value| {
        let random = &found["regression"]["random"];
        (
            random["spread"].as_f64().unwrap(),
            random["levels"][0]["life_ratio"].as_f64().unwrap(),
        )
    };
    let (tight, loose) = (asked("0.05"), asked("0.5"));
    assert_eq!((first(&tight).0, first(&loose).0), (0.05, 0.5));
    assert!(
        first(&tight).1 > 0.95 && first(&loose).1 < 0.8,
        "{:?} {:?}",
        first(&tight),
        first(&loose)
    );
    assert!(tight["regression"]["random"]["lower"].is_null());
    assert!(
        tight["tests"][0]["reason"]
            .as_str()
            .unwrap()
            .contains("--penalty")
    );
}

/// The demo's materials differ in shape: the regression behind the advice tests it, says so, and lets them.
#[test]
fn advice_on_materials_checks_its_fit() {
    let found = json(&[
        "materials",
        DEMO,
        "--temperature",
        "85",
        "--medium",
        "hot caustic",
    ]);
    let fit = &found["at_conditions"]["fit"];
    let p = fit["common_shape_p_value"].as_f64().unwrap();
    assert_eq!(fit["shape_each"], p < 0.05, "{fit}");
    let said = sentences(&fit["words"]);
    assert!(
        said.contains("shape") && said.contains("activation energy"),
        "{said}"
    );
    assert!(said.contains("with material held constant"), "{said}");
    let against = fit["against"].as_array().unwrap();
    assert_eq!(against.len(), 4, "{fit}");
    assert!(
        against
            .iter()
            .all(|a| a["expected"].as_f64().unwrap() > 0.0),
        "{fit}"
    );
    // The field lives are of cooler seals than those asked about, and it is said.
    let nbr = found["materials"]
        .as_array()
        .unwrap()
        .iter()
        .find(|m| m["material"] == "NBR");
    let mean = nbr.unwrap()["field"]["mean_temperature_c"]
        .as_f64()
        .unwrap();
    assert!(mean < 80.0, "{mean}");
    assert!(
        sentences(&found["advice"]).contains("NBR at 7"),
        "{}",
        found["advice"]
    );
}

/// The temperature for a life has an interval, a safe side and a word on how far it is extrapolated.
#[test]
fn the_temperature_for_a_life_has_an_interval() {
    let lab = "datasets/lab-ageing/compression-set.csv";
    let found = json(&["ageing", lab, "--limit", "50", "--for-life", "3000,30000"]);
    for group in found["groups"].as_array().unwrap() {
        for t in group["temperature_for"].as_array().unwrap() {
            let at = |key: &str| t[key].as_f64().unwrap_or_else(|| panic!("{key}: {t}"));
            let (low, middle, high) = (at("lower_c"), at("temperature_c"), at("upper_c"));
            assert!(low < middle && middle < high && at("safe_c") <= low, "{t}");
            let far = t["extrapolation"].as_str().unwrap();
            assert_eq!(at("below_coldest_k") > 25.0, far == "far", "{t}");
            assert!(!t["words"].as_str().unwrap().is_empty());
        }
    }
}

/// No sentence has a gap where a name should stand.
#[test]
fn an_asset_without_conditions_makes_whole_sentences() {
    let mut text = String::from("seal,asset,position,material,fitted,removed,outcome\n");
    for k in 0..12 {
        let material = if k % 2 == 0 { "EPDM" } else { "FKM" };
        writeln!(
            text,
            "S{k},T{k:02},m,{material},2022-01-{:02},2022-{:02}-01,failed",
            k + 1,
            3 + k % 9
        )
        .unwrap();
    }
    let path = file("bare.csv", text.as_bytes());
    let run = sealspan(&["materials", path.to_str().unwrap(), "--asset", "T00"]);
    assert!(
        !run.out.contains("()") && !run.out.contains("for \n"),
        "{}",
        run.out
    );
    let run = sealspan(&["materials", "--medium", "lager"]);
    assert!(!run.out.contains("water"), "{}", run.out);
}
