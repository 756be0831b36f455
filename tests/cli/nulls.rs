//! No number is missing without a word: every `null` in the documents has a reason beside it. All data invented but the
//! demo and the published examples.

use super::{file, sealspan};
use serde_json::Value;
use std::fmt::Write as _;

const NIST: &str = "datasets/published/nist-weibull/life.csv";
const DEMO: &str = "datasets/harrow-lane/study.toml";

/// Every `null` under `json` without a reason: an object explains its own with a `reason`, or with one named for the
/// key or its first part (`std_error_reason`, `band_reason` for `band_lower`). A list explains none; its object may, by
/// a reason named for the list's key.
pub(super) fn unexplained(json: &Value, path: &str, out: &mut Vec<String>) {
    match json {
        Value::Object(map) => {
            let said = |key: &str| {
                map.get(key)
                    .is_some_and(|r| r.as_str().is_some_and(|s| !s.is_empty()))
            };
            for (key, value) in map {
                let path = format!("{path}.{key}");
                let named = |reason: &String| {
                    reason
                        .strip_suffix("_reason")
                        .is_some_and(|part| key.starts_with(part) && said(reason))
                };
                if value.is_null() && !said("reason") && !map.keys().any(named) {
                    out.push(path.clone());
                }
                if let (Value::Array(list), true) = (value, map.keys().any(named)) {
                    let rest: Vec<Value> = list.iter().filter(|v| !v.is_null()).cloned().collect();
                    unexplained(&Value::Array(rest), &path, out);
                } else {
                    unexplained(value, &path, out);
                }
            }
        }
        Value::Array(list) => {
            for (i, value) in list.iter().enumerate() {
                let path = format!("{path}[{i}]");
                if value.is_null() {
                    out.push(path.clone());
                }
                unexplained(value, &path, out);
            }
        }
        _ => {}
    }
}

fn lives(name: &str, rows: &[&str]) -> String {
    let text = format!("lower,upper,entry,count,mode\n{}\n", rows.join("\n"));
    file(name, text.as_bytes()).to_str().unwrap().to_owned()
}

#[test]
fn a_null_without_a_word_is_found() {
    let json = serde_json::json!({
        "a": {"lower": null, "reason": "no limit"},
        "b": {"band_lower": null, "band_reason": "no band", "lower": null},
        "c": [1.0, null],
        "d": [1.0, null],
        "d_reason": "open above",
        "reason": "does not reach below",
    });
    let mut found = vec![];
    unexplained(&json, "", &mut found);
    assert_eq!(found, [".b.lower", ".c[1]"]);
}

#[test]
fn every_null_of_a_fit_has_a_reason() {
    let three = lives(
        "three.csv",
        &["90,90,,1,", "150,150,,1,", "180,180,,1,", "200,,,7,"],
    );
    let none = lives("none.csv", &["200,,,7,"]);
    let two = lives("two.csv", &["90,90,,1,", "150,150,,1,"]);
    let early = lives("early.csv", &["0,100,,9,"]);
    let huge = lives(
        "huge.csv",
        &[
            "1e300,1e300,,1,",
            "2e300,2e300,,3,",
            "4e300,4e300,,3,",
            "5e300,,,2,",
        ],
    );
    let tiny = lives(
        "tiny.csv",
        &[
            "1e-300,1e-300,,1,",
            "2e-300,2e-300,,3,",
            "4e-300,4e-300,,3,",
            "5e-300,,,2,",
        ],
    );
    let looks = lives(
        "looks.csv",
        &[
            "0,100,,2,a",
            "100,200,,3,b",
            "50,150,,4,a",
            "150,250,,4,b",
            "200,300,50,3,a",
            "100,100,,2,b",
            "300,,,10,",
        ],
    );
    let exact = lives(
        "exact.csv",
        &[
            "100,100,,2,a",
            "120,120,,3,b",
            "150,150,,4,a",
            "180,180,,1,b",
            "200,,,3,",
        ],
    );
    let lone = lives("lone.csv", &["100,100,,2,a", "120,120,,1,b", "200,,,3,"]);
    let one_mode = lives(
        "one-mode.csv",
        &["100,100,,3,a", "120,120,,4,a", "200,,,3,"],
    );
    let seals = file(
        "worn.csv",
        b"seal,asset,position,fitted,removed,outcome\nS1,A,1,2020-01-01,2020-05-01,failed\nS2,B,1,2020-01-01,2020-07-01,worn\nS3,C,1,2020-01-01,2020-08-01,worn\nS4,D,1,2020-01-01,,in_service\n",
    );
    let seals = seals.to_str().unwrap().to_owned();
    let every: [&[&str]; 3] = [
        &[],
        &[
            "--family",
            "all",
            "--at",
            "50,150",
            "--age",
            "60",
            "--residuals",
        ],
        &["--modes", "--at", "150", "--confidence", "0.9999"],
    ];
    let mut runs: Vec<Vec<&str>> = vec![];
    for input in [
        &three, &none, &two, &early, &huge, &tiny, &looks, &exact, &lone, &one_mode, &seals,
    ] {
        for more in every {
            runs.push([&[input.as_str()], more].concat());
        }
        for method in ["profile", "wald", "posterior"] {
            let asked = ["--bounds", method, "--at", "150", "--age", "60", "--modes"];
            runs.push([&[input.as_str()], &asked[..]].concat());
        }
    }
    runs.push(vec![
        &looks,
        "--bounds",
        "bootstrap",
        "--confidence",
        "0.9999",
    ]);
    let third = "three_parameter_weibull,weak_fraction_weibull";
    runs.push(vec![NIST, "--family", third, "--at", "40"]);
    runs.push(vec![
        NIST, "--family", "all", "--bounds", "wald", "--at", "200",
    ]);
    runs.push(vec![DEMO, "--by", "material", "--modes"]);
    let mut wrong = String::new();
    for args in runs {
        let asked = [&["fit"], &args[..], &["--format", "json"]].concat();
        let run = sealspan(&asked);
        assert!(run.status <= 1, "{asked:?}: {}", run.err);
        let mut found = vec![];
        unexplained(&run.json(), "", &mut found);
        if let Some(first) = found.first() {
            let _ = writeln!(wrong, "{asked:?}: {first} and {} more", found.len() - 1);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Every command on the demo, and on records that leave most of it unanswered.
#[test]
fn every_null_of_every_command_has_a_reason() {
    let looks = lives(
        "few-looks.csv",
        &["0,100,,2,a", "100,200,,3,b", "150,250,,4,b", "300,,,10,"],
    );
    let bare = file(
        "bare-seals.csv",
        b"seal,asset,position,material,batch,fitted,removed,outcome,sector\nS1,A,door,EPDM,b1,2023-01-01,2023-04-01,failed,2\nS2,A,door,EPDM,b1,2023-04-01,2023-06-01,failed,\nS3,B,door,NBR,b2,2023-01-01,2023-09-01,worn,1\nS4,B,door,NBR,b2,2023-09-01,,,\n",
    );
    let bare = bare.to_str().unwrap();
    let shipped = file(
        "shipped.csv",
        b"batch,quantity,age,returned\nB1,500,400,12\nB2,300,100,\nB3,200,2000,5\n",
    );
    let shipped = shipped.to_str().unwrap();
    let life = "weibull:shape=2.2,scale=900";
    let runs: &[&[&str]] = &[
        &["check", DEMO],
        &["check", bare],
        &["check", &looks],
        &["compare", DEMO, "--by", "material"],
        &[
            "compare",
            DEMO,
            "--by",
            "material",
            "--arrhenius",
            "temperature_c",
            "--cluster",
            "asset",
            "--frailty",
            "asset",
            "--predict",
            "material=EPDM,temperature_c=80",
        ],
        &["compare", bare, "--by", "material", "--frailty", "asset"],
        &["compare", &looks, "--by", "mode"],
        &[
            "compare",
            "datasets/published/motor-insulation/life.csv",
            "--by",
            "temperature_c",
        ],
        &["batches", DEMO],
        &["batches", bare],
        &["positions", DEMO],
        &["positions", DEMO, "--by", "cleaning"],
        &["positions", bare],
        &["defects", DEMO],
        &["defects", bare],
        &["materials", DEMO, "--asset", "HL1-T17"],
        &[
            "materials",
            "--temperature",
            "85",
            "--medium",
            "hot caustic,brandy",
        ],
        &[
            "condition",
            DEMO,
            "--measure",
            "thickness_mm",
            "--limit",
            "4.5",
        ],
        &["intervals", DEMO, "--by", "material,cleaning"],
        &["intervals", bare],
        &["forecast", DEMO, "--horizon", "365"],
        &["forecast", bare, "--horizon", "365"],
        &["demand", DEMO],
        &["due", DEMO],
        &["due", bare],
        &["money", DEMO],
        &["stock", DEMO],
        &[
            "ageing",
            "datasets/lab-ageing/compression-set.csv",
            "--limit",
            "50",
            "--at-temperature",
            "60,75",
        ],
        &[
            "trial",
            "--show-life",
            "365",
            "--reliability",
            "0.9",
            "--shape",
            "2.5",
            "--duration",
            "730",
        ],
        &[
            "care",
            "--life",
            "weibull:shape=2.5,scale=1000",
            "--planned-cost",
            "300",
            "--failure-cost",
            "3000",
        ],
        &[
            "care",
            "--life",
            "weibull:shape=0.8,scale=1000",
            "--planned-cost",
            "300",
            "--failure-cost",
            "3000",
        ],
        &["care", DEMO],
        &["compare", DEMO, "--by", "nothing"],
        &["last-buy", DEMO],
        &["returns", shipped, "--life", life, "--horizon", "365"],
        &[
            "returns",
            shipped,
            "--life",
            life,
            "--horizon",
            "365",
            "--warranty",
            "730",
            "--return-cost",
            "120",
        ],
        &[
            "returns",
            shipped,
            "--study",
            DEMO,
            "--horizon",
            "365",
            "--kit-positions",
            "12",
            "--service-every",
            "180",
        ],
        &["returns", shipped, "--study", bare, "--horizon", "365"],
        &[
            "depot",
            "--demand-rates",
            "0.1,0.1",
            "--transit",
            "2",
            "--depot-lead-time",
            "14",
            "--spares",
            "5",
        ],
        &[
            "depot",
            DEMO,
            "--transit",
            "1",
            "--spares",
            "8",
            "--transfer-time",
            "0.5",
            "--demands",
            "20000",
        ],
        &["depot", bare, "--transit", "1"],
    ];
    let mut wrong = String::new();
    for args in runs {
        let asked = [args, &["--format", "json"][..]].concat();
        let run = sealspan(&asked);
        let mut found = vec![];
        unexplained(&run.json(), "", &mut found);
        if let Some(first) = found.first() {
            let _ = writeln!(wrong, "{asked:?}: {first} and {} more", found.len() - 1);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// What `report` and `simulate` write, of records that leave most of it unanswered; the demo's is walked with the contract.
#[test]
fn every_null_of_what_a_report_writes_has_a_reason() {
    let looks = lives(
        "report-looks.csv",
        &["0,100,,2,a", "100,200,,3,b", "150,250,,4,b", "300,,,10,"],
    );
    let bare = file(
        "report-seals.csv",
        b"seal,asset,position,material,batch,fitted,removed,outcome,sector\nS1,A,door,EPDM,b1,2023-01-01,2023-04-01,failed,2\nS2,A,door,EPDM,b1,2023-04-01,2023-06-01,failed,\nS3,B,door,NBR,b2,2023-01-01,2023-09-01,worn,1\nS4,B,door,NBR,b2,2023-09-01,,,\n",
    );
    let mut wrong = String::new();
    for (input, name) in [(looks.as_str(), "looks"), (bare.to_str().unwrap(), "bare")] {
        let folder = std::path::Path::new(input).with_file_name(format!("report-{name}"));
        let out = folder.to_str().unwrap();
        let run = sealspan(&["report", input, "--out", out, "--format", "json"]);
        assert_eq!(run.status, 0, "{name}: {}", run.err);
        let results = std::fs::read_to_string(folder.join("results.json")).unwrap();
        let results: Value = serde_json::from_str(&results).unwrap();
        let mut found = vec![];
        unexplained(&run.json(), "report", &mut found);
        unexplained(&results, "results.json", &mut found);
        if !found.is_empty() {
            let _ = writeln!(wrong, "{name}: {found:?}");
        }
        std::fs::remove_dir_all(folder).unwrap();
    }
    assert!(wrong.is_empty(), "{wrong}");
}
