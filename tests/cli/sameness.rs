//! The same lives listed in another order, one by one or counted, give the same bytes.

use super::{file, sealspan};

/// Invented lives of two materials: known ages, looks, running seals and late entries.
const COUNTED: &str = "lower,upper,entry,count,mode,material\n\
    120,120,,2,cut,NBR\n\
    180,270,,3,cut,NBR\n\
    90,160,,1,abraded,NBR\n\
    260,260,40,2,abraded,NBR\n\
    300,,,4,,NBR\n\
    150,150,,1,cut,EPDM\n\
    240,300,,4,abraded,EPDM\n\
    250,360,60,2,cut,EPDM\n\
    410,410,,2,cut,EPDM\n\
    450,,,5,,EPDM\n";

/// One row a seal, the last first and the odd ones before the even.
fn one_by_one() -> String {
    let mut lines = COUNTED.lines();
    let head = lines.next().unwrap();
    let seals: Vec<String> = lines
        .flat_map(|line| {
            let mut cells: Vec<&str> = line.split(',').collect();
            let count: usize = cells[3].parse().unwrap();
            cells[3] = "1";
            std::iter::repeat_n(cells.join(","), count)
        })
        .rev()
        .collect();
    let (odd, even): (Vec<_>, Vec<_>) = seals.iter().enumerate().partition(|(i, _)| i % 2 == 1);
    let rows = odd.into_iter().chain(even).map(|(_, line)| line.as_str());
    std::iter::once(head)
        .chain(rows)
        .collect::<Vec<_>>()
        .join("\n")
        + "\n"
}

fn answers(args: &[&str]) -> [serde_json::Value; 2] {
    let listings = [
        ("counted.csv", COUNTED.to_owned()),
        ("seals.csv", one_by_one()),
    ];
    listings.map(|(name, text)| {
        let path = file(name, text.as_bytes());
        let mut all = vec![args[0], path.to_str().unwrap()];
        all.extend(&args[1..]);
        all.extend(["--format", "json"]);
        let run = sealspan(&all);
        assert_eq!(run.status, 0, "{}", run.err);
        run.json()
    })
}

#[test]
fn fits_are_the_same_to_the_last_bit() {
    for bounds in ["calibrated", "bootstrap", "posterior", "profile"] {
        let [counted, listed] =
            answers(&["fit", "--family", "weibull,lognormal", "--bounds", bounds]);
        assert_eq!(counted["groups"], listed["groups"], "{bounds}");
        assert_eq!(counted["groups"][0]["counts"]["total"], 26.0);
    }
}

#[test]
fn comparisons_are_the_same_to_the_last_bit() {
    let [counted, listed] = answers(&["compare", "--by", "material"]);
    for part in ["tests", "drawn_ages", "regression", "life_ratios"] {
        assert_eq!(counted[part], listed[part], "{part}");
        assert!(!counted[part].is_null(), "{part}");
    }
    assert!(!counted["life_ratios"].as_array().unwrap().is_empty());
    // Seals whose ages are drawn are summed one by one there: the same to rounding.
    for key in ["estimate", "std_error", "proportionality_p_value"] {
        let [ours, theirs] = [&counted, &listed].map(|d| {
            let effect = &d["proportional_hazards"]["coefficients"][0];
            effect[key].as_f64().unwrap()
        });
        assert!((ours / theirs - 1.0).abs() < 1e-11, "{key} {ours} {theirs}");
    }
}

#[test]
fn grays_test_is_the_same_to_the_last_bit() {
    let args = ["compare", "--by", "material", "--mode", "cut"];
    let [counted, listed] = answers(&args);
    assert_eq!(counted["mode_test"], listed["mode_test"]);
    assert!(counted["mode_test"]["tests"][0]["statistic"].is_f64());
    assert_eq!(counted["mode_test"]["drawn_ages"]["failures"], 10.0);
    let [counted, listed] = answers(&["fit", "--by", "material", "--modes"]);
    assert_eq!(counted["mode_tests"], listed["mode_tests"]);
    assert_eq!(counted["mode_tests"].as_array().unwrap().len(), 2);
}
