//! Measured condition through the command line.

use super::ageing::{json, number, refused};
use super::{file, sealspan};

const DEMO: &str = "datasets/harrow-lane/study.toml";

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
