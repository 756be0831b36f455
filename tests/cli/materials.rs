//! Advice on materials through the command line.

use super::ageing::{json, number, refused};
use super::{file, sealspan};
use serde_json::Value;

const DEMO: &str = "datasets/harrow-lane/study.toml";

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

/// A word nobody knows is told on standard error with its place and mend, whatever the command; trade words are read.
#[test]
fn unknown_material_words_are_told_by_every_command() {
    let path = file(
        "material-words.csv",
        b"seal,asset,position,material,fitted,removed,outcome\nS1,A,door,Nitrile rubber,2023-01-01,2023-04-01,failed\nS2,B,door,NBR 70,2023-01-01,2023-06-01,failed\nS3,C,door,EDPM,2023-01-01,2023-09-01,failed\nS4,D,door,EDPM,2023-01-01,,\n",
    );
    let path = path.to_str().unwrap();
    let run = sealspan(&["fit", path, "--by", "material"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(
        run.out.contains("NBR: 2 seals") && run.out.contains("other: 2 seals"),
        "{}",
        run.out
    );
    for said in [
        "\"EDPM\"",
        "2 seals",
        "row 4",
        "column `material`",
        "did you mean \"EPDM\"?",
        "[words.material]",
    ] {
        assert!(run.err.contains(said), "{said}: {}", run.err);
    }
    assert!(!run.err.contains("Nitrile"), "{}", run.err);
    let check = sealspan(&["check", path]);
    assert!(check.err.is_empty(), "{}", check.err);
    assert!(
        check.out.contains("\"Nitrile rubber\" is read as NBR"),
        "{}",
        check.out
    );
}

/// The failures of the two that cost least are told apart by the log-rank test in that exposure, worked out here by its
/// formula (Mantel 1966): observed less expected failures of one, squared, over their hypergeometric variance.
#[test]
fn the_first_two_are_told_apart_by_their_failures() {
    let failed = [
        ("EPDM", "2020-01-11", 10.0),
        ("EPDM", "2020-01-21", 20.0),
        ("EPDM", "2020-01-31", 30.0),
        ("EPDM", "2020-02-10", 40.0),
        ("EPDM", "2020-02-20", 50.0),
        ("EPDM", "2020-03-01", 60.0),
        ("EPDM", "2020-03-11", 70.0),
        ("EPDM", "2020-03-21", 80.0),
        ("FKM", "2020-02-05", 35.0),
        ("FKM", "2020-03-16", 75.0),
    ];
    let left = [90.0, 95.0, 100.0, 100.0, 100.0, 100.0];
    let days = ["03-31", "04-05", "04-10", "04-10", "04-10", "04-10"];
    let row = |material: &str, removed: &str, outcome: &str| {
        format!("{material},water,2020-01-01,{removed},{outcome}\n")
    };
    let mut table = "material,medium,fitted,removed,outcome\n".to_owned();
    table.extend(failed.map(|(material, day, _)| row(material, day, "failed")));
    table.extend(days.map(|day| row("FKM", &format!("2020-{day}"), "opportunity")));
    file("two/seals.csv", table.as_bytes());
    let study = "title = \"Two materials, invented\"\ncurrency = \"EUR\"\ninvented = true\ncut_off = \"2020-12-31\"\n\
        [files]\nseals = \"seals.csv\"\n[costs]\nseal_price = 10.0\nfitting_labour = 5.0\nplanned_hours = 1.0\n\
        failure_hours = 9.0\ndowntime_cost_per_hour = 100.0\n";
    let study = file("two/study.toml", study.as_bytes());
    let json = json(&["materials", study.to_str().unwrap(), "--medium", "water"]);
    assert_eq!(material(&json, "FKM")["rank"], 1);
    assert_eq!(material(&json, "EPDM")["rank"], 2);
    let (mut apart, mut variance) = (0.0, 0.0);
    for (material, _, t) in failed {
        let at_risk = |of: &str| {
            let own = failed.iter().filter(|(m, _, age)| *m == of && *age >= t);
            own.count() as f64
        };
        let (epdm, fkm) = (at_risk("EPDM"), at_risk("FKM") + left.len() as f64);
        let all = epdm + fkm;
        apart += f64::from(u8::from(material == "EPDM")) - epdm / all;
        variance += epdm * fkm / (all * all);
    }
    // Chi-square on one degree of freedom: twice the normal's tail.
    let z = (apart * apart / variance).sqrt();
    let want = 2.0 * sealspan_numeric::special::normal_survival(z);
    let p = number(&json["first_two_p_value"]);
    assert!((p / want - 1.0).abs() < 1e-9, "{p} {want}");
    let years: f64 = failed.iter().filter(|f| f.0 == "FKM").map(|f| f.2).sum();
    let years = (years + left.iter().sum::<f64>()) / 365.25;
    let told = number(&material(&json, "FKM")["field"]["seal_years"]);
    assert!((told - years).abs() < 1e-9, "{told} {years}");
    let advice = json["advice"].to_string();
    assert!(
        advice.contains("their failures differ (log-rank test, p = 0.001)"),
        "{advice}"
    );
}
