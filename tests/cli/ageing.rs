//! Laboratory ageing, measured condition and material advice as a user meets them.

use super::{file, sealspan};
use serde_json::Value;

const LAB: &str = "datasets/lab-ageing/compression-set.csv";
const DEMO: &str = "datasets/harrow-lane/study.toml";

fn json(args: &[&str]) -> Value {
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
fn explained(json: &Value, path: &str) {
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
fn refused(args: &[&str]) -> Value {
    let mut args = args.to_vec();
    args.extend(["--format", "json"]);
    let run = sealspan(&args);
    assert_eq!(run.status, 2, "{args:?}: {}", run.out);
    run.json()["error"].clone()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

fn group<'a>(json: &'a Value, material: &str) -> &'a Value {
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

#[test]
fn the_demo_thickness_gives_remaining_lives() {
    let json = json(&[
        "condition",
        DEMO,
        "--measure",
        "thickness_mm",
        "--limit",
        "4.5",
    ]);
    assert_eq!(json["schema"], "sealspan.condition.v1");
    let groups = json["groups"].as_array().unwrap();
    assert_eq!(groups.len(), 4);
    for g in groups {
        assert_eq!(g["direction"], "falling");
        assert!(g["model"]["model"].is_string(), "{}", g["reason"]);
        let look = &g["by_next_look"];
        let (lower, upper) = (number(&look["lower"]), number(&look["upper"]));
        let then = number(&look["expected_past_then"]);
        // A count's interval holds its mean to within one seal.
        assert!(
            lower < then + 1.0 && then - 1.0 < upper && lower <= upper,
            "{look}"
        );
        assert!(number(&look["expected_past_now"]) <= then);
        for seal in g["running"].as_array().unwrap() {
            let left = &seal["remaining"];
            if let (Some(l), Some(e)) = (left["lower"].as_f64(), left["estimate"].as_f64()) {
                assert!(l <= e, "{seal}");
            }
            assert!(
                left["upper"].is_number() || left["reason"].is_string(),
                "{seal}"
            );
        }
    }
}

#[test]
fn a_bare_table_of_measurements_works_and_faults_are_placed() {
    let good = "seal,age,hardness,in_service\nA,0,70,yes\nA,100,74,yes\nA,200,77.5,yes\nB,0,71,yes\nB,90,73,yes\nB,210,78.2,yes\nC,0,69.5,no\nC,120,74.8,no\nC,180,75.9,no\n";
    let path = file("hardness.csv", good.as_bytes()).display().to_string();
    let json = json(&[
        "condition",
        &path,
        "--measure",
        "hardness",
        "--limit",
        "85",
        "--next-look",
        "60",
    ]);
    let g = &json["groups"][0];
    assert_eq!(g["direction"], "rising");
    assert_eq!(g["running"].as_array().unwrap().len(), 2);
    let bad = file("hardness-bad.csv", b"seal,age,hardness\nA,0,70\nA,-5,71\n");
    let error = refused(&[
        "condition",
        bad.to_str().unwrap(),
        "--measure",
        "hardness",
        "--limit",
        "85",
    ]);
    assert_eq!(
        (&error["row"], &error["column"]),
        (&3.into(), &"age".into())
    );
    let none = file("no-age.csv", b"seal,hardness\nA,70\n");
    let error = refused(&[
        "condition",
        none.to_str().unwrap(),
        "--measure",
        "hardness",
        "--limit",
        "85",
    ]);
    assert_eq!(error["column"], "age");
    let error = refused(&["condition", DEMO, "--measure", "thicknes", "--limit", "4"]);
    assert!(
        error["mend"].as_str().unwrap().contains("thickness_mm"),
        "{error}"
    );
}

/// Lives of the user's own split by another column add up to the whole.
#[test]
fn field_lives_split_further_add_up() {
    let json = json(&[
        "materials",
        DEMO,
        "--temperature",
        "65",
        "--medium",
        "peracetic acid",
        "--by",
        "product",
    ]);
    for symbol in ["EPDM", "FKM", "NBR", "VMQ"] {
        let whole = number(&material(&json, symbol)["field"]["failures"]);
        let parts = json["field_by"].as_array().unwrap().iter();
        let sum: f64 = parts
            .filter(|f| f["material"] == symbol)
            .map(|f| number(&f["life"]["failures"]))
            .sum();
        assert_eq!(whole, sum, "{symbol}");
    }
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

fn material<'a>(json: &'a Value, symbol: &str) -> &'a Value {
    let list = json["materials"].as_array().unwrap();
    list.iter().find(|m| m["material"] == symbol).unwrap()
}

/// Facts of one family with `says` of this kind.
fn limits(json: &Value, symbol: &str) -> Vec<f64> {
    let remarks = material(json, symbol)["remarks"].as_array().unwrap();
    remarks
        .iter()
        .flat_map(|r| r["facts"].as_array().unwrap())
        .filter(|f| f["medium"].is_null() && f["grade"] == "standard")
        .filter_map(|f| f["says"]["max_temperature"].as_f64())
        .collect()
}

/// Common practice, no source: VMQ's upper service temperature is about twice NBR's in °C.
#[test]
fn silicone_stands_about_twice_the_heat_of_nitrile() {
    let json = json(&["materials", "--temperature", "85"]);
    let ratio = limits(&json, "VMQ")[0] / limits(&json, "NBR")[0];
    assert!((1.7..2.3).contains(&ratio), "{ratio}");
}

/// Common practice, no source: light hydrocarbons and alcohols are reported to attack VMQ; class tables rate it well
/// in alcohols. Both stand side by side and nothing is excluded by one of them alone.
#[test]
fn conflicting_sources_stand_side_by_side() {
    let json = json(&["materials", "--medium", "alcohols,light hydrocarbons"]);
    let vmq = material(&json, "VMQ");
    let remark = &vmq["remarks"][0];
    assert_eq!(remark["conflict"], true);
    let facts = remark["facts"].as_array().unwrap();
    let said = |rating: &str, basis: &str| {
        facts
            .iter()
            .any(|f| f["says"]["rating"] == rating && f["basis"] == basis)
    };
    assert!(said("unsuitable", "common_practice") && said("suitable", "from_memory"));
    assert!(said("suitable", "read"), "{facts:?}");
    assert!(facts.iter().all(|f| f["source"].is_string()));
    // Light hydrocarbons: every source speaks against VMQ to some degree, one of them from practice.
    let hydrocarbons = vmq["remarks"][1]["text"].as_str().unwrap();
    assert!(
        hydrocarbons.contains("unsuitable (common practice"),
        "{hydrocarbons}"
    );
}

/// Common practice, no source: NBR is the usual choice where solvents or terpenes are about, FKM where heat and
/// solvents meet.
#[test]
fn usual_choices_of_the_trade() {
    let cool = json(&[
        "materials",
        "--medium",
        "solvents,terpenes",
        "--temperature",
        "40",
    ]);
    assert_ne!(material(&cool, "NBR")["verdict"], "excluded");
    let hot = json(&["materials", "--medium", "solvents", "--temperature", "150"]);
    assert_eq!(material(&hot, "FKM")["verdict"], "passes");
    assert_eq!(material(&hot, "NBR")["verdict"], "excluded");
    let why = material(&hot, "NBR")["remarks"][0]["text"]
        .as_str()
        .unwrap();
    assert!(why.contains("beyond its limits"), "{why}");
}

/// A maker's word on the very medium asked for speaks alone, and beside the tables' where the whole class is asked.
#[test]
fn a_makers_prohibition_holds_for_the_word_it_names() {
    let rows =
        b"material,quantity,medium,value,source\nFKM,rating,isopropanol,unsuitable,maker sheet 4\n";
    let maker = file("maker-word.csv", rows);
    let asked = |medium: &str| {
        let limits = maker.to_str().unwrap();
        let all = json(&["materials", "--medium", medium, "--limits", limits]);
        material(&all, "FKM").clone()
    };
    assert_eq!(asked("isopropanol")["verdict"], "excluded");
    let class = asked("alcohols");
    assert_eq!(class["verdict"], "with_care");
    let said = class["remarks"][0]["text"].as_str().unwrap();
    assert!(
        said.contains("sources differ") && said.contains("unsuitable (your table)"),
        "{said}"
    );
    // Another alcohol is not the one that the maker speaks of.
    let ethanol = asked("ethanol");
    assert!(
        !ethanol["remarks"][0]["text"]
            .as_str()
            .unwrap()
            .contains("your table")
    );
}

#[test]
fn the_users_table_and_records_decide() {
    let maker = file(
        "maker.csv",
        b"material,quantity,medium,value,source\nVMQ,rating,alcohols,suitable,maker sheet 12\nEPDM,max_temperature_c,,60,maker sheet 3\n",
    );
    let both = json(&[
        "materials",
        DEMO,
        "--temperature",
        "70",
        "--medium",
        "hot caustic,alcohols",
        "--limits",
        maker.to_str().unwrap(),
        "--price",
        "FKM=95",
    ]);
    assert_eq!(both["schema"], "sealspan.materials.v1");
    let vmq = material(&both, "VMQ");
    let alcohols = &vmq["remarks"]
        .as_array()
        .unwrap()
        .iter()
        .find(|r| r["text"].as_str().unwrap().starts_with("alcohols"))
        .unwrap();
    assert_eq!(alcohols["conflict"], false, "{alcohols}");
    assert_eq!(alcohols["facts"][0]["basis"], "your_table");
    // A limit of the user's own table is not overruled, even by records.
    let epdm = material(&both, "EPDM");
    assert_eq!(epdm["verdict"], "excluded");
    assert!(epdm["rank"].is_null() && epdm["field"]["failures"].as_f64().unwrap() > 20.0);
    // No seal met both media: the records rank nothing.
    let list = both["materials"].as_array().unwrap();
    assert_eq!(both["field"]["media_met"], false);
    assert!(list.iter().all(|m| m["rank"].is_null()));
    let json = json(&[
        "materials",
        DEMO,
        "--temperature",
        "70",
        "--medium",
        "hot caustic",
        "--limits",
        maker.to_str().unwrap(),
        "--price",
        "FKM=95",
    ]);
    // With one medium that seals met: ranked by cost per year, with an interval, dearest last.
    let ranked: Vec<&Value> = json["materials"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|m| m["rank"].is_number())
        .collect();
    assert!(ranked.len() >= 2);
    let costs: Vec<f64> = ranked
        .iter()
        .map(|m| number(&m["cost_per_year"]["estimate"]))
        .collect();
    assert!(costs.windows(2).all(|w| w[0] <= w[1]), "{costs:?}");
    assert_eq!(json["field_by"].as_array().map(Vec::len), None);
    assert_eq!(material(&json, "FKM")["price"], 95.0);
    assert_eq!(material(&json, "NBR")["price"], 38.0);
}

#[test]
fn bad_material_tables_name_the_place() {
    let cases: [(&str, &[u8], u64, &str); 5] = [
        (
            "m1.csv",
            b"material,quantity,value,source\nNBX,max_temperature_c,100,x\n",
            2,
            "material",
        ),
        (
            "m2.csv",
            b"material,quantity,value,source\nNBR,max_temp,100,x\n",
            2,
            "quantity",
        ),
        (
            "m3.csv",
            b"material,quantity,medium,value,source\nNBR,rating,steam,good,x\n",
            2,
            "value",
        ),
        (
            "m4.csv",
            b"material,quantity,value,source\nNBR,rating,suitable,x\n",
            2,
            "medium",
        ),
        (
            "m5.csv",
            b"material,quantity,value\nNBR,max_temperature_c,100\n",
            1,
            "source",
        ),
    ];
    for (name, text, row, column) in cases {
        let path = file(name, text);
        let error = refused(&[
            "materials",
            "--temperature",
            "80",
            "--limits",
            path.to_str().unwrap(),
        ]);
        assert_eq!(error["row"], row, "{name}: {error}");
        assert_eq!(error["column"], column, "{name}: {error}");
        assert!(error["mend"].is_string());
    }
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

/// A limit that new seals are past is refused, not answered with 0 days.
#[test]
fn a_limit_passed_when_new_is_refused() {
    let run = sealspan(&[
        "condition",
        DEMO,
        "--measure",
        "thickness_mm",
        "--limit",
        "4500",
        "--format",
        "json",
    ]);
    assert_eq!(run.status, 1, "{}", run.err);
    let answer = run.json();
    let groups = answer["groups"].as_array().unwrap();
    assert!(!groups.is_empty());
    for group in groups {
        assert!(group["reason"].as_str().unwrap().contains("already past"));
        assert_eq!(group["new_seal"].as_array().map_or(0, Vec::len), 0);
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

/// Seals measured twice with one value: not the ages are missing but a change. Readings invented.
#[test]
fn readings_that_do_not_change_are_called_so() {
    let seals = "seal,asset,position,material,fitted,removed,outcome\nS1,A,1,EPDM,2020-01-01,,in_service\nS2,B,1,EPDM,2020-01-01,,in_service\nS3,C,1,EPDM,2020-01-01,,in_service\n";
    let mut looks = "seal,asset,position,date,finding,set_pct\n".to_owned();
    for (seal, asset) in [("S1", "A"), ("S2", "B"), ("S3", "C")] {
        for date in ["2020-03-01", "2020-06-01", "2020-09-01"] {
            looks += &format!("{seal},{asset},1,{date},sound,20\n");
        }
    }
    file("still-seals.csv", seals.as_bytes());
    file("still-looks.csv", looks.as_bytes());
    let study = b"title = \"still\"\ncut_off = \"2020-12-31\"\n[files]\nseals = \"still-seals.csv\"\ninspections = \"still-looks.csv\"\n";
    let path = file("still.toml", study);
    let run = sealspan(&[
        "condition",
        path.to_str().unwrap(),
        "--measure",
        "set_pct",
        "--limit",
        "40",
        "--format",
        "json",
    ]);
    let said = format!("{}{}", run.out, run.err);
    assert!(
        said.contains("do not change from one age to the next"),
        "{said}"
    );
    assert!(!said.contains("no seal was measured at two ages"), "{said}");
}
