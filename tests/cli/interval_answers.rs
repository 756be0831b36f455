//! What an engineer meets: answers for failures between looks, units, missing words, mends, headings, figures and
//! one asset's material. All data invented.

use super::{file, sealspan};

const DEMO: &str = "datasets/harrow-lane/study.toml";
const HEAT: &str = "datasets/published/motor-insulation/life.csv";

fn text(args: &[&str]) -> String {
    let run = sealspan(args);
    assert_eq!(run.status, 0, "{args:?}: {}", run.err);
    run.out
}

fn refused(args: &[&str]) -> String {
    let run = sealspan(args);
    assert_eq!(run.status, 2, "{args:?}: {}", run.out);
    run.err
}

fn path(name: &str, content: &str) -> String {
    file(name, content.as_bytes()).to_str().unwrap().to_owned()
}

#[test]
fn failures_between_looks_get_every_test_and_the_cross_check() {
    let args = ["compare", DEMO, "--by", "material", "--format", "json"];
    let json = sealspan(&args).json();
    let tests = json["tests"].as_array().unwrap();
    for name in ["log_rank", "gehan", "peto", "fleming_harrington"] {
        let test = tests.iter().find(|t| t["name"] == name).unwrap();
        assert!(test["p_value"].as_f64().unwrap() < 1e-6, "{test}");
    }
    let drawn = &json["drawn_ages"];
    assert_eq!(drawn["failures"], 120.0);
    assert!(drawn["largest_share"].as_f64().unwrap() < 0.1);
    let hazards = &json["proportional_hazards"];
    assert!(hazards["proportionality"]["p_value"].is_number());
    assert_eq!(hazards["drawn_ages"]["copies"], 100);
    for c in hazards["coefficients"].as_array().unwrap() {
        assert!(c["drawn_share"].as_f64().unwrap() < 0.1, "{c}");
        assert!(c["proportionality_p_value"].is_number(), "{c}");
    }
    assert!(json["cautions"].as_array().unwrap().len() > 2);
    // Another seed moves the answer, but hardly.
    let again = sealspan(&[&args[..], &["--seed", "2"]].concat()).json();
    let statistic = |j: &serde_json::Value| j["tests"][0]["statistic"].as_f64().unwrap();
    let (a, b) = (statistic(&json), statistic(&again));
    assert!(a != b && (a / b - 1.0).abs() < 0.05, "{a} {b}");
}

#[test]
fn a_family_without_an_answer_takes_one_line() {
    let lives = path(
        "none-failed.csv",
        "time,status,site\n5,running,A\n7,running,B\n9,running,A\n",
    );
    let run = sealspan(&["compare", &lives, "--by", "site"]);
    let lines = run.out.lines().filter(|l| l.contains("no test by"));
    assert!((1..=2).contains(&lines.count()), "{}", run.out);
    assert!(!run.out.contains("see below"));
}

#[test]
fn messages_name_the_columns_of_the_user() {
    let mut rows = String::from("time,status,oven_c,heat\n");
    for (i, t) in [60.0, 70.0, 80.0, 90.0].iter().enumerate() {
        for k in 1..6 {
            let age = 1000.0 / (1.0 + i as f64) + 20.0 * f64::from(k);
            let reciprocal = 1.0 / (8.617_333_262e-5 * (t + 273.15));
            rows.push_str(&format!("{age},failed,{t},{reciprocal}\n"));
        }
    }
    let lives = path("collinear.csv", &rows);
    let run = sealspan(&[
        "compare",
        &lives,
        "--number",
        "heat",
        "--arrhenius",
        "oven_c",
    ]);
    let said = format!("{}{}", run.out, run.err);
    assert!(said.contains("`oven_c` is determined by heat"), "{said}");
    assert!(!said.contains("activation_energy_ev"), "{said}");
    let separated = path(
        "separated.csv",
        "time,status,x\n10,failed,1\n12,failed,1\n14,failed,1\n20,running,0\n20,running,0\n20,running,0\n",
    );
    let run = sealspan(&["compare", &separated, "--number", "x"]);
    let said = format!("{}{}", run.out, run.err);
    assert!(
        said.contains("no regression") && !said.contains("slope"),
        "{said}"
    );
}

#[test]
fn units_of_energies_and_temperatures_are_looked_at() {
    let prior = |text: &str| {
        let args = [
            "compare",
            HEAT,
            "--arrhenius",
            "temperature_c",
            "--family",
            "lognormal",
        ];
        sealspan(&[&args[..], &["--prior-activation-energy", text]].concat())
    };
    let bare = prior("85,10");
    assert_eq!(bare.status, 2);
    assert!(bare.err.contains("85,10,kJ/mol"), "{}", bare.err);
    let (kj, ev) = (
        prior("82.012532304795,9.648533212331,kJ/mol"),
        prior("0.85,0.1,eV"),
    );
    assert_eq!(kj.status, 0, "{}", kj.err);
    // Two equal statements; their digits beyond the tenth may differ.
    assert_eq!(kj.out.lines().nth(2), ev.out.lines().nth(2));
    assert_eq!(prior("0.85,0.1,cal").status, 2);
    assert_eq!(prior("-0.85,0.1").status, 2);

    let lives = |name: &str, shift: f64, sign: f64| {
        let mut rows = String::from("time,status,temp\n");
        for t in [60.0, 70.0, 80.0, 90.0] {
            for k in 1..7 {
                let age = (6.0 - sign * 0.03 * (t - 60.0)).exp() * (0.7 + 0.1 * f64::from(k));
                rows.push_str(&format!("{age},failed,{}\n", t + shift));
            }
        }
        path(name, &rows)
    };
    let ask = |path: &str| text(&["compare", path, "--arrhenius", "temp"]);
    assert!(ask(&lives("kelvin.csv", 273.15, 1.0)).contains("looks like kelvin"));
    let plain = ask(&lives("celsius.csv", 0.0, 1.0));
    assert!(
        !plain.contains("kelvin,") && !plain.contains("below 0"),
        "{plain}"
    );
    assert!(ask(&lives("backwards.csv", 0.0, -1.0)).contains("activation energy is below 0"));
    let cold = lives("cold.csv", -400.0, 1.0);
    assert!(refused(&["compare", &cold, "--arrhenius", "temp"]).contains("lowest temperature"));
    // The failure-rate ratio is of a step that can be pictured.
    assert!(plain.contains("temp from 70 to 80 °C"), "{plain}");
    let hot = text(&["materials", "--temperature", "358"]);
    assert!(hot.contains("looks like kelvin"), "{hot}");
}

#[test]
fn usual_missing_words_are_empty_cells() {
    let lives = path(
        "missing.csv",
        "time,status,temp\n100,failed,60\n200,failed,n/a\n150,running,70\n300,failed,80\n120,failed,70\n90,failed,90\nN/A,failed,80\n",
    );
    let out = text(&["compare", &lives, "--number", "temp"]);
    assert!(
        out.contains("1 seals have no `temp` and are set aside"),
        "{out}"
    );
    let check = sealspan(&["check", &lives, "--format", "json"]).json();
    let found = check["findings"].as_array().unwrap();
    let columns: Vec<_> = found
        .iter()
        .filter(|f| f["kind"] == "missing_word")
        .map(|f| (f["column"].as_str().unwrap(), f["row"].as_u64().unwrap()))
        .collect();
    assert!(
        columns.contains(&("temp", 3)) && columns.contains(&("time", 8)),
        "{columns:?}"
    );
}

#[test]
fn mends_fit_the_fault() {
    let mend = |args: &[&str]| {
        let err = refused(args);
        let line = err
            .lines()
            .find(|l| l.starts_with("mend:"))
            .unwrap()
            .to_owned();
        (err, line)
    };
    let (_, line) = mend(&["batches", DEMO, "--given", "nosuch"]);
    assert!(!line.contains("record the batch"), "{line}");
    let (_, line) = mend(&["compare", DEMO, "--by", "material", "--predict", "foo=3"]);
    assert!(line.contains("value"), "{line}");
    let (_, line) = mend(&["compare", DEMO, "--by", "material", "--base", "material=XX"]);
    assert!(line.contains("level"), "{line}");
    let (err, _) = mend(&["compare", DEMO, "--by", "material", "--base", "foo=XX"]);
    assert!(
        err.contains("`foo` is no factor of this comparison"),
        "{err}"
    );
    for command in ["positions", "batches"] {
        let (err, line) = mend(&[command, DEMO, "--false-discovery", "2"]);
        assert!(err.contains("write 2 % as 0.02"), "{err}");
        assert!(!line.contains("what there is"), "{line}");
    }
}

#[test]
fn cautions_stand_under_one_heading() {
    for args in [
        &["compare", DEMO, "--by", "material"][..],
        &["positions", DEMO],
        &["batches", DEMO],
        &["materials", "--temperature", "80"],
    ] {
        let out = text(args);
        assert_eq!(out.matches("\nbefore acting\n").count(), 1, "{args:?}");
        assert!(
            !out.contains("\nmind\n") && !out.contains("before opening anything"),
            "{args:?}"
        );
    }
}

#[test]
fn a_place_without_a_seal_is_not_at_risk() {
    let seals = path(
        "emptied.csv",
        "seal,asset,position,material,fitted,removed,outcome\n\
         A1,A,door,EPDM,2020-01-01,2020-04-10,failed\n\
         B1,B,door,EPDM,2020-01-01,2020-07-19,failed\n\
         B2,B,door,EPDM,2020-07-19,,in_service\n",
    );
    let json = sealspan(&[
        "positions",
        &seals,
        "--cut-off",
        "2020-12-31",
        "--format",
        "json",
    ])
    .json();
    let means: Vec<f64> = json["mean_cumulative"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["mean"].as_f64().unwrap())
        .collect();
    // One of two, then one of the one place that still has a seal.
    assert_eq!(means, [0.5, 1.5]);
}

#[test]
fn compare_draws_its_figures() {
    let out = std::env::temp_dir().join(format!("sealspan-figures-{}", std::process::id()));
    let folder = out.to_str().unwrap();
    let said = text(&[
        "compare",
        HEAT,
        "--arrhenius",
        "temperature_c",
        "--family",
        "lognormal",
        "--out",
        folder,
    ]);
    assert!(said.contains(folder));
    for name in [
        "temperature.png",
        "temperature.svg",
        "regression-residuals.png",
    ] {
        let size = std::fs::metadata(out.join("figures").join(name))
            .unwrap()
            .len();
        assert!(size > 2000, "{name}");
    }
    std::fs::remove_dir_all(out).unwrap();
}

#[test]
fn one_asset_is_advised_by_limits_lives_at_its_conditions_and_price() {
    let args = ["materials", DEMO, "--asset", "HL1-T05", "--format", "json"];
    let json = sealspan(&args).json();
    assert_eq!(json["temperature_c"], 75.0);
    let lives = json["at_conditions"]["lives"].as_array().unwrap();
    let of = |m: &str| lives.iter().find(|l| l["material"] == m).unwrap();
    for m in ["EPDM", "FKM", "NBR", "VMQ"] {
        let life = &of(m)["mean_life"];
        let [l, e, u] = ["lower", "estimate", "upper"].map(|k| life[k].as_f64().unwrap());
        assert!(0.0 < l && l < e && e < u, "{m}");
        assert!(of(m)["extrapolated"].is_boolean());
    }
    // The planted order of the demo: FKM lasts longest, VMQ least.
    let mean = |m: &str| of(m)["mean_life"]["estimate"].as_f64().unwrap();
    assert!(mean("FKM") > mean("EPDM") && mean("EPDM") > mean("VMQ"));
    assert!(json["asset"]["seals"].as_u64().unwrap() > 1);
    let advice = json["advice"][0].as_str().unwrap();
    assert!(
        advice.starts_with("For HL1-T05") && advice.contains("EUR"),
        "{advice}"
    );
    // A dear seal of FKM turns the advice; what the price does is seen.
    let dear = sealspan(&[&args[..], &["--price", "FKM=3000"]].concat()).json();
    assert!(
        !dear["advice"][0].as_str().unwrap().contains(": FKM"),
        "{}",
        dear["advice"][0]
    );
    let unknown = sealspan(&["materials", DEMO, "--asset", "HL1-T5"]);
    assert!(
        unknown.status > 0 && unknown.err.contains("did you mean"),
        "{}",
        unknown.err
    );
}
