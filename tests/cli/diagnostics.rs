//! When the program must speak up: each case on the smallest data that cause it. All data invented.

use super::{file, sealspan};
use serde_json::Value;

pub const NIST: &str = "datasets/published/nist-weibull/life.csv";

pub fn lives(name: &str, rows: &str) -> String {
    let text = format!("time,status\n{}", rows.replace(' ', "\n").replace(':', ","));
    file(name, text.as_bytes()).to_str().unwrap().to_owned()
}

pub fn fit(args: &[&str]) -> Value {
    let args: Vec<&str> = ["fit"].into_iter().chain(args.iter().copied()).collect();
    let args: Vec<&str> = args.into_iter().chain(["--format", "json"]).collect();
    let run = sealspan(&args);
    assert!(run.status <= 1, "{}", run.err);
    run.json()["groups"][0].clone()
}

pub fn warned(group: &Value, words: &str) -> bool {
    let list = group["fits"][0]["warnings"].as_array().unwrap();
    list.iter().any(|w| w.as_str().unwrap().contains(words))
}

#[test]
fn no_failures_give_a_bound_for_a_shape_called_assumed() {
    let path = lives("d1.csv", "100:running 150:running 200:running");
    let group = fit(&[&path]);
    assert!(group["ladder"].as_str().unwrap().contains("no failure"));
    assert_eq!(group["fits"][0]["converged"], false);
    let assumed = group["assumed_shapes"].as_array().unwrap();
    assert!(
        assumed
            .iter()
            .all(|a| a["source"] == "assumed" && a["scale_lower"].as_f64() > Some(0.0))
    );
}

#[test]
fn fewer_than_five_failures_show_no_free_shape() {
    let path = lives(
        "d2.csv",
        "100:failed 180:failed 240:failed 300:running 400:running",
    );
    let group = fit(&[&path]);
    assert!(warned(&group, "cannot be trusted by itself"));
    assert_eq!(group["assumed_shapes"].as_array().unwrap().len(), 3);
    let text = sealspan(&["fit", &path]).out;
    assert!(
        text.contains("not shown") && text.contains("taken as known"),
        "{text}"
    );
}

#[test]
fn groups_with_few_failures_are_offered_the_shape_of_the_others() {
    let rows = "time,status,kind\n100,failed,A\n180,failed,A\n200,failed,A\n210,failed,A\n260,failed,A\n290,failed,A\n90,failed,B\n150,failed,B\n170,failed,B\n240,failed,B\n250,failed,B\n200,failed,C\n300,running,C\n";
    let path = file("pooled.csv", rows.as_bytes());
    let run = sealspan(&[
        "fit",
        path.to_str().unwrap(),
        "--by",
        "kind",
        "--format",
        "json",
    ]);
    let groups = run.json()["groups"].clone();
    let shared: Vec<f64> = groups[2]["assumed_shapes"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|a| a["source"] == "shared by the groups")
        .map(|a| a["shape"].as_f64().unwrap())
        .collect();
    assert!(shared.len() == 1 && shared[0] > 1.5, "{shared:?}");
}

pub const SEVEN: &str = "60:failed 100:failed 120:failed 180:failed 190:failed 240:failed 270:failed 300:running 300:running 300:running";

#[test]
fn fewer_than_ten_failures_are_called_indicative() {
    let group = fit(&[&lives("d3.csv", SEVEN)]);
    assert!(warned(&group, "indicative"));
    assert!(group["ladder"].as_str().unwrap().contains("fewer than 10"));
}

#[test]
fn a_normal_approximation_with_few_failures_stands_beside_the_profile() {
    let group = fit(&[NIST, "--bounds", "wald"]);
    assert!(warned(&group, "lopsided"));
    let beside = group["fits"][0]["profile_beside"].as_array().unwrap();
    assert_eq!(beside[0]["of"], "shape");
    let profile = fit(&[NIST, "--bounds", "profile"])["fits"][0]["parameters"][0].clone();
    assert_eq!(beside[0]["lower"], profile["lower"]);
    assert_ne!(group["fits"][0]["parameters"][0]["lower"], profile["lower"]);
}

#[test]
fn a_plain_likelihood_ratio_with_few_failures_says_so_and_what_to_ask_for() {
    let group = fit(&[NIST, "--bounds", "profile"]);
    assert!(warned(&group, "--bounds calibrated or bootstrap"));
    assert!(warned(&group, "one end taken by itself"));
    assert!(!warned(&fit(&[NIST]), "one end taken by itself"));
}

#[test]
fn a_small_sample_shows_the_shape_without_its_bias() {
    let fit = fit(&[NIST])["fits"][0].clone();
    let (plain, reduced) = (
        &fit["parameters"][0]["estimate"],
        &fit["bias_reduced_shape"],
    );
    // Maximum likelihood overstates the shape in small samples.
    assert!(reduced.as_f64().unwrap() < plain.as_f64().unwrap());
    assert!(reduced.as_f64().unwrap() > 0.8 * plain.as_f64().unwrap());
}

#[test]
fn a_failure_free_time_is_off_by_default_and_needs_a_reason() {
    let run = sealspan(&["fit", NIST, "--family", "all", "--format", "json"]);
    assert!(!run.out.contains("three_parameter"));
    let group = fit(&[
        "datasets/published/ball-bearings/life.csv",
        "--family",
        "three_parameter_weibull",
    ]);
    assert!(warned(&group, "physical reason"));
    let none = fit(&[
        "datasets/published/diesel-fans/life.csv",
        "--family",
        "three_parameter_weibull",
    ]);
    let reason = none["fits"][0]["reason"].as_str().unwrap();
    assert!(
        reason.contains("grows without limit") && reason.contains("shape below 1"),
        "{reason}"
    );
}

/// Judged by tests and bands, never by a squared correlation.
#[test]
fn goodness_of_fit_has_a_p_value_and_a_band() {
    let group = fit(&[NIST]);
    let goodness = &group["fits"][0]["goodness"];
    assert!(goodness["p_value"].as_f64().unwrap() > 0.05, "{goodness}");
    assert!(group["empirical"]["points"][3]["band_lower"].is_f64());
    assert!(!group.to_string().contains("r_squared"));
    // Two clumps of lives are no exponential law.
    let clumps = "100:failed 101:failed 102:failed 103:failed 104:failed 105:failed 300:failed 301:failed 302:failed 303:failed 304:failed 305:failed";
    let bad = fit(&[&lives("d9.csv", clumps), "--family", "exponential"]);
    assert!(bad["fits"][0]["goodness"]["p_value"].as_f64().unwrap() < 0.02);
}

/// Laws of which many refits have no estimate are tested too, and the share left out is told.
#[test]
fn a_law_with_an_end_is_tested_by_the_refits_that_have_an_estimate() {
    let bearings = "datasets/published/ball-bearings/life.csv";
    for family in ["three_parameter_weibull", "weibull_mixture"] {
        let group = fit(&[bearings, "--family", family]);
        let goodness = &group["fits"][0]["goodness"];
        assert!(goodness["p_value"].as_f64().unwrap() > 0.5, "{goodness}");
        let left_out = goodness["without_estimate"].as_f64().unwrap();
        assert_eq!(
            left_out > 0.02,
            warned(&group, "of the refits"),
            "{family} {left_out}"
        );
    }
}

#[test]
fn few_failures_an_effect_are_doubted() {
    let rows = "time,status,kind\n100,failed,A\n180,failed,A\n200,failed,A\n90,failed,B\n150,failed,B\n300,running,B\n";
    let path = file("d10.csv", rows.as_bytes());
    let run = sealspan(&["compare", path.to_str().unwrap(), "--by", "kind"]);
    assert!(run.out.contains("fewer than 10 each"), "{}", run.out);
}

#[test]
fn an_age_beyond_the_oldest_seal_is_doubted_and_beyond_twice_not_advised() {
    let group = fit(&[NIST, "--at", "900", "--quantile", "0.1,0.95"]);
    assert!(warned(&group, "beyond the oldest seal seen"));
    assert!(warned(&group, "do not plan on it"));
    let run = sealspan(&["forecast", NIST, "--horizon", "5000"]);
    assert!(
        run.out.contains("more than twice the oldest age"),
        "{}",
        run.out
    );
    let run = sealspan(&[
        "care",
        "datasets/published/diesel-fans/life.csv",
        "--planned-cost",
        "10",
        "--failure-cost",
        "100",
    ]);
    assert!(run.out.contains("no advice"), "{}", run.out);
}

#[test]
fn a_log_without_running_seals_is_asked_about() {
    let path = lives(
        "d12.csv",
        "60:failed 100:failed 120:failed 180:failed 190:failed 240:failed",
    );
    assert!(warned(&fit(&[&path]), "still in service"));
}

fn seals(name: &str, rows: &str) -> String {
    let text = format!("seal,asset,fitted,removed,outcome,mechanism,last_known_good\n{rows}");
    file(name, text.as_bytes()).to_str().unwrap().to_owned()
}

#[test]
fn unknown_outcomes_and_several_mechanisms_are_read_both_ways() {
    let mut rows = String::new();
    for i in 0..6 {
        rows += &format!("A{i},T{i},2024-01-01,2024-0{}-11,failed,abraded,\n", i + 2);
        rows += &format!("B{i},T{i},2023-01-01,2023-0{}-21,failed,cut,\n", i + 2);
        rows += &format!("C{i},U{i},2024-01-01,2024-01-1{},unknown,,\n", i + 1);
        rows += &format!("D{i},V{i},2024-01-01,,in_service,,\n");
    }
    let path = seals("d13.csv", &rows);
    let json = sealspan(&["check", &path, "--format", "json"]).json();
    let kinds: Vec<&str> = json["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f["kind"].as_str().unwrap())
        .collect();
    assert!(
        kinds.contains(&"unknown_outcomes") && kinds.contains(&"several_mechanisms"),
        "{kinds:?}"
    );
    let moved = &json["assumptions"][0];
    assert!(
        moved["assumed"]
            .as_str()
            .unwrap()
            .contains("unknown outcome")
    );
    assert!(moved["b10_otherwise"].as_f64() < moved["b10"].as_f64());
    let modes = sealspan(&["fit", &path, "--modes", "--format", "json"]).json()["modes"][0].clone();
    assert_eq!(modes["modes"][0]["mode"], "abraded");
    let last = |m: usize| {
        modes["modes"][m]["incidence"]
            .as_array()
            .unwrap()
            .last()
            .unwrap()["incidence"]
            .as_f64()
            .unwrap()
    };
    assert!(last(0) > 0.1 && last(1) > 0.1 && last(0) + last(1) <= 1.0 + 1e-12);
    // Without one mode life is longer than with both.
    let without = modes["modes"][0]["without"][0]["age"].as_f64();
    assert!(without > modes["all_modes"][0]["age"].as_f64());
    // Each life has its interval: by the mode alone as of any fit, of all together by draws that state their error.
    let within = |n: &Value, key: &str| {
        let at = |key: &str| n[key].as_f64().unwrap();
        assert!(at("lower") < at(key) && at(key) < at("upper"), "{n}");
    };
    within(&modes["modes"][0]["life"]["quantiles"][0], "estimate");
    within(&modes["modes"][1]["life"]["mean_life"], "estimate");
    within(&modes["modes"][0]["without"][1], "age");
    within(&modes["all_modes"][0], "age");
    within(&modes["all_modes_mean"], "estimate");
    assert!(modes["bounds"].as_str().unwrap().contains("draws"));
    assert!(modes["simulation_error"].as_f64().unwrap() < 0.01);
    let text = sealspan(&["fit", &path, "--modes", "--at", "200"]).out;
    for words in [
        "all at work",
        "without cut",
        "share surviving 200",
        "by draws of each mode's law",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
}

#[test]
fn a_failure_found_at_a_look_becomes_an_interval_and_the_life_moves() {
    let mut rows = String::new();
    for i in 0..6 {
        rows += &format!(
            "A{i},T{i},2024-01-01,2024-0{}-20,failed,,2024-0{}-01\n",
            i + 3,
            i + 2
        );
    }
    let json = sealspan(&["check", &seals("d14.csv", &rows), "--format", "json"]).json();
    assert_eq!(json["observations"]["interval"], 6);
    let moved = &json["assumptions"][0];
    assert_eq!(moved["seals"], 6.0);
    assert!(
        moved["b10"].as_f64() < moved["b10_otherwise"].as_f64(),
        "{moved}"
    );
}

#[test]
fn a_shape_below_one_points_to_mixtures() {
    let path = lives(
        "d19.csv",
        "1:failed 2:failed 4:failed 9:failed 30:failed 80:failed 200:failed 500:running 500:running",
    );
    assert!(warned(&fit(&[&path]), "mixture of batches"));
    let run = sealspan(&[
        "care",
        &path,
        "--planned-cost",
        "10",
        "--failure-cost",
        "100",
    ]);
    assert!(run.out.contains("replace on failure only"), "{}", run.out);
}

#[test]
fn separation_names_the_column_the_level_and_the_rows() {
    let heat = "datasets/published/motor-insulation/life.csv";
    let asked = ["compare", heat, "--by", "temperature_c"];
    let run = sealspan(&asked);
    assert!(run.out.contains("temperature_c = `150`"), "{}", run.out);
    let rows = format!("these seals: rows 2 to 11 of {heat}, column `temperature_c`");
    assert!(run.out.contains(&rows), "{}", run.out);
    let json = sealspan(&[&asked[..], &["--format", "json"]].concat()).json();
    let held = &json["regression_rows"];
    assert_eq!(
        (&held["file"], &held["columns"][0], &held["rows"]),
        (&heat.into(), &"temperature_c".into(), &10.into())
    );
    assert_eq!(held["stretches"], serde_json::json!([[2, 11]]));
    // With an answer nothing stands in the way.
    let fine = ["compare", heat, "--arrhenius", "temperature_c"];
    let json = sealspan(&[&fine[..], &["--format", "json"]].concat()).json();
    assert!(json["regression"].is_object() && json["regression_rows"].is_null());
}

/// Columns of which one says what the other says, and cells of two columns without failures.
#[test]
fn what_cannot_be_told_apart_names_its_rows() {
    let rows = "time,status,site,material\n100,failed,A,EPDM\n180,failed,A,EPDM\n200,failed,A,EPDM\n150,failed,B,FKM\n250,failed,A,EPDM\n260,failed,B,FKM\n300,running,B,FKM\n";
    let path = file("d21.csv", rows.as_bytes());
    let path = path.to_str().unwrap();
    let run = sealspan(&["compare", path, "--by", "site", "--given", "material"]);
    for words in [
        "the column `material=FKM` is determined by site=B",
        "these seals: rows 5 and 7 to 8 of",
        "column `material`",
    ] {
        assert!(run.out.contains(words), "{words}: {}", run.out);
    }
    let crossed = "time,status,site,material\n100,failed,A,EPDM\n180,failed,A,FKM\n200,failed,B,EPDM\n150,failed,B,EPDM\n250,failed,A,EPDM\n260,running,B,FKM\n300,failed,A,FKM\n310,failed,A,FKM\n";
    let path = file("d21-crossed.csv", crossed.as_bytes());
    let run = sealspan(&[
        "compare",
        path.to_str().unwrap(),
        "--by",
        "site",
        "--given",
        "material",
        "--interaction",
        "site:material",
    ]);
    for words in [
        "seals with site = `B` and material = `FKM` failed",
        "these seals: row 7 of",
        "columns `site` and `material`",
    ] {
        assert!(run.out.contains(words), "{words}: {}", run.out);
    }
}

#[test]
fn what_is_simulated_states_its_error() {
    for method in ["calibrated", "bootstrap"] {
        let fit = fit(&[NIST, "--bounds", method])["fits"][0].clone();
        let error = fit["simulation_error"].as_f64().unwrap();
        assert!(error > 0.0 && error < 0.01, "{method}: {error}");
        assert!(fit["goodness"]["p_value_error"].as_f64().unwrap() > 0.0);
    }
    let text = sealspan(&["fit", NIST, "--bounds", "bootstrap"]).out;
    assert!(text.contains("simulation error"), "{text}");
}

#[test]
fn a_posterior_answers_where_the_likelihood_has_no_maximum() {
    let path = lives("posterior.csv", "100:running 150:running 200:running");
    let group = fit(&[&path, "--bounds", "posterior"]);
    let fit = &group["fits"][0];
    assert_eq!(fit["converged"], false);
    assert!(
        fit["priors"]
            .as_str()
            .unwrap()
            .contains("standard deviation")
    );
    let b10 = &fit["quantiles"][0];
    let at = |key: &str| b10[key].as_f64().unwrap();
    assert!(
        at("lower") < at("estimate") && at("estimate") < at("upper"),
        "{b10}"
    );
    // Three seals sound at 100 to 200: an early B10 life is not excluded.
    assert!(at("lower") < 150.0);
}

pub const THREE: &str = "100:failed 180:failed 240:failed 300:running 400:running";

/// With a prior of the shape few failures have estimates, and the answer says how much of them is prior.
#[test]
fn a_posterior_of_few_failures_is_shown_with_what_its_prior_supplies() {
    for (name, rows) in [
        ("p1.csv", "100:failed 200:running 200:running"),
        ("p3.csv", THREE),
        (
            "p5.csv",
            "100:failed 100:failed 100:failed 100:failed 100:failed 90:running",
        ),
    ] {
        let path = lives(name, rows);
        let group = fit(&[&path, "--bounds", "posterior", "--age", "50"]);
        let fit = &group["fits"][0];
        assert_eq!(fit["withheld"], false, "{name}");
        let of = &fit["prior_parameters"][0];
        assert_eq!(
            (&of["name"], &of["scale"]),
            (&"shape".into(), &"logarithm".into())
        );
        let supplies = of["supplies"].as_f64().unwrap();
        assert!(supplies > 0.1 && supplies < 1.0, "{name}: {supplies}");
        for number in [
            &fit["quantiles"][0],
            &fit["mean_life"],
            &fit["remaining"][0],
        ] {
            let at = |key: &str| number[key].as_f64().unwrap();
            assert!(
                at("lower") < at("estimate") && at("estimate") < at("upper"),
                "{number}"
            );
        }
        let run = sealspan(&["fit", &path, "--bounds", "posterior"]);
        assert_eq!(run.status, 0, "{name}: {}", run.err);
        let said = run.out.matches("the prior supplies").count();
        assert!(
            said == 1 && run.out.contains("% of that on shape"),
            "{}",
            run.out
        );
        assert!(
            run.out.contains("logarithm of shape normal with mean 0.70"),
            "{}",
            run.out
        );
        assert!(!run.out.contains("parameter 2") && !run.out.contains("not shown"));
    }
}

/// What rests on a shape that is not shown is not spoken of; the plain way out is named.
#[test]
fn a_withheld_fit_keeps_its_warnings_to_itself() {
    let path = lives("withheld.csv", THREE);
    for method in ["calibrated", "profile", "wald", "bootstrap"] {
        let group = fit(&[&path, "--bounds", method]);
        assert_eq!(group["fits"][0]["withheld"], true);
        let ladder = group["ladder"].as_str().unwrap();
        assert!(ladder.contains("--bounds posterior"), "{ladder}");
        let warnings = group["fits"][0]["warnings"].as_array().unwrap();
        assert_eq!(warnings.len(), 1, "{warnings:?}");
        let text = sealspan(&["fit", &path, "--bounds", method]).out;
        assert!(
            !text.contains("intervals by") && !text.contains("covered"),
            "{text}"
        );
    }
    let stated = fit(&[&path, "--shape", "2"]);
    assert_eq!(stated["fits"][0]["withheld"], false);
    assert!(stated["ladder"].as_str().unwrap().contains("shape stated"));
}
