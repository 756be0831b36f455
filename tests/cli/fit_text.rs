//! What `fit` says to a reader and to a program about how sure it is. All data invented but the published example.

use super::{file, sealspan};
use serde_json::Value;

const NIST: &str = "datasets/published/nist-weibull/life.csv";

fn table(name: &str, text: &str) -> String {
    file(name, text.as_bytes()).to_str().unwrap().to_owned()
}

fn json(args: &[&str]) -> Value {
    let run = sealspan(&[&["fit"], args, &["--format", "json"]].concat());
    assert!(run.status <= 1, "{}", run.err);
    run.json()
}

fn text(args: &[&str]) -> String {
    let run = sealspan(&[&["fit"], args].concat());
    assert_eq!(run.status, 0, "{}", run.err);
    run.out.replace('\u{a0}', " ")
}

#[test]
fn a_withheld_fit_gives_no_number() {
    let path = table(
        "held.csv",
        "time,status,count\n100,failed,1\n150,failed,1\n180,failed,1\n200,running,7\n",
    );
    let args = [path.as_str(), "--at", "150", "--age", "50", "--residuals"];
    let group = json(&args)["groups"][0].clone();
    let fit = &group["fits"][0];
    assert_eq!(fit["withheld"], true);
    assert!(
        fit["reason"]
            .as_str()
            .unwrap()
            .contains("fewer than 5 failures")
    );
    for key in [
        "covariance",
        "log_likelihood",
        "aic",
        "aicc",
        "bic",
        "bounds",
        "goodness",
    ] {
        assert!(fit[key].is_null(), "{key}");
    }
    let mut numbers = vec![&fit["mean_life"]];
    for list in ["parameters", "quantiles", "survival", "remaining"] {
        let list = fit[list].as_array().unwrap();
        assert!(!list.is_empty());
        numbers.extend(list);
    }
    for n in numbers {
        for key in ["estimate", "lower", "upper"] {
            assert!(n[key].is_null(), "{n}");
        }
        assert!(n["reason"].is_string(), "{n}");
    }
    assert!(fit.get("residuals").is_none() && fit.get("bias_reduced_shape").is_none());
    // With a prior, or a shape, there are numbers again.
    for more in [["--bounds", "posterior"], ["--shape", "2"]] {
        let again = json(&[&args[..], &more].concat())["groups"][0]["fits"][0].clone();
        assert!(again["quantiles"][0]["estimate"].is_number(), "{again}");
    }
}

const LOOKS: &str =
    "lower,upper,mode,count\n0,100,a,6\n0,100,b,4\n100,200,a,8\n100,200,b,2\n200,,,20\n";

/// Common looks: 14 of 40 failed by a, 6 by b. Binomial arithmetic.
#[test]
fn failures_between_looks_have_shares_by_mode() {
    let path = table("shares.csv", LOOKS);
    let modes = json(&[&path, "--modes"])["modes"][0].clone();
    assert_eq!(modes["incidence_method"], "looks");
    for (m, want) in [(0, 14.0 / 40.0), (1, 6.0 / 40.0)] {
        let last = modes["modes"][m]["incidence"]
            .as_array()
            .unwrap()
            .last()
            .unwrap()
            .clone();
        let at = |key: &str| last[key].as_f64().unwrap();
        assert!((at("incidence") - want).abs() < 1e-8, "{last}");
        assert!(at("lower") < want && want < at("upper"), "{last}");
        let binomial = f64::sqrt(want * (1.0 - want) / 40.0);
        assert!((at("std_error") / binomial - 1.0).abs() < 0.15, "{last}");
    }
    assert!(modes["incidence_simulation_error"].as_f64().unwrap() < 0.01);
    let said = text(&[&path, "--modes"]);
    assert!(said.contains("likeliest shares given the looks"), "{said}");
    assert!(said.contains("35 % ("), "{said}");
}

#[test]
fn a_mode_removed_has_its_mean_life() {
    let path = table("removed.csv", LOOKS);
    let modes = json(&[&path, "--modes", "--at", "150"])["modes"][0].clone();
    let all = modes["all_modes_mean"]["estimate"].as_f64().unwrap();
    for m in 0..2 {
        let without = &modes["modes"][m]["without_mean"];
        let at = |key: &str| without[key].as_f64().unwrap();
        assert!(all < at("estimate"), "{without}");
        assert!(at("lower") < at("estimate") && at("estimate") < at("upper"));
        assert!(modes["modes"][m]["without_survival"][0]["estimate"].is_number());
    }
}

#[test]
fn ends_beyond_the_draws_are_not_given_an_error() {
    let near = json(&[NIST, "--confidence", "0.99"])["groups"][0]["fits"][0].clone();
    assert!(near["simulation_error"].as_f64().unwrap() < 0.01);
    let far = json(&[NIST, "--confidence", "0.9999"])["groups"][0]["fits"][0].clone();
    assert!(
        far["simulation_error"].is_null(),
        "{}",
        far["simulation_error"]
    );
    assert!(
        far["simulation_error_reason"]
            .as_str()
            .unwrap()
            .contains("fewer than one draw")
    );
    let said = text(&[NIST, "--confidence", "0.9999", "--bounds", "bootstrap"]);
    assert!(
        said.contains("fewer than one refit lies beyond each end"),
        "{said}"
    );
}

#[test]
fn shares_asked_for_keep_their_digits() {
    let said = text(&[NIST, "--quantile", "0.00001,0.99999"]);
    for words in ["0.001 % failed by", "99.999 % failed by"] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!said.contains("less than 0.01 % failed by"), "{said}");
}

/// Six failures at nearly one age: the prior of the shape decides, and the peak of the likelihood lies outside the
/// interval. What is shown is the median, inside it.
#[test]
fn a_posterior_shows_its_medians() {
    let path = table(
        "peak.csv",
        "time,status,count\n100,failed,3\n100.001,failed,2\n100.002,failed,1\n50,running,4\n",
    );
    let args = [path.as_str(), "--bounds", "posterior", "--at", "100"];
    let fit = json(&args)["groups"][0]["fits"][0].clone();
    assert!(
        fit["estimates"]
            .as_str()
            .unwrap()
            .starts_with("medians of the posterior")
    );
    let all = fit["parameters"].as_array().unwrap().iter();
    let all = all.chain(fit["quantiles"].as_array().unwrap());
    for n in all.chain([&fit["mean_life"], &fit["survival"][0]]) {
        let at = |key: &str| n[key].as_f64().unwrap();
        assert!(
            at("lower") < at("estimate") && at("estimate") < at("upper"),
            "{n}"
        );
    }
    let peak = fit["greatest_likelihood"][0]["estimate"].as_f64().unwrap();
    assert!(
        peak > fit["parameters"][0]["upper"].as_f64().unwrap(),
        "{peak}"
    );
    let said = text(&args);
    assert!(
        said.contains("the estimates are medians of the posterior"),
        "{said}"
    );
    assert!(
        said.contains("leaves out where the likelihood peaks"),
        "{said}"
    );
}

#[test]
fn models_are_weighed_and_averaged_in_the_text() {
    let said = text(&[NIST, "--family", "weibull,lognormal"]);
    for words in [
        "AICc weight",
        "BIC weight",
        "averaged over them",
        "Cramér–von Mises test of fit",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let choice = json(&[NIST, "--family", "weibull,lognormal"])["groups"][0]["choice"].clone();
    let weights = choice["weights"].as_array().unwrap();
    let sum: f64 = weights.iter().map(|w| w["aicc"].as_f64().unwrap()).sum();
    assert!((sum - 1.0).abs() < 1e-12);
    for a in choice["averaged_quantiles"].as_array().unwrap() {
        let at = |key: &str| a[key].as_f64().unwrap();
        assert!(
            at("lower") < at("estimate") && at("estimate") < at("upper"),
            "{a}"
        );
    }
}

/// One family of all the weight: the averaged interval is that family's own by normal approximation.
#[test]
fn an_averaged_interval_of_one_family_is_its_own() {
    let mut rows = String::from("time,status\n");
    // Weibull quantiles, shape 4: an exponential law has no weight.
    for i in 0..60 {
        let p = (f64::from(i) + 0.5) / 60.0;
        rows.push_str(&format!(
            "{},failed\n",
            500.0 * (-(1.0 - p).ln()).powf(0.25)
        ));
    }
    let path = table("weighty.csv", &rows);
    let args = [
        path.as_str(),
        "--family",
        "weibull,exponential",
        "--bounds",
        "wald",
    ];
    let group = json(&args)["groups"][0].clone();
    let averaged = &group["choice"]["averaged_quantiles"][0];
    let own = &group["fits"][0]["quantiles"][0];
    for key in ["lower", "upper"] {
        let ratio = averaged[key].as_f64().unwrap() / own[key].as_f64().unwrap();
        assert!((ratio - 1.0).abs() < 1e-6, "{key} {ratio}");
    }
}

#[test]
fn the_curve_is_shown_when_asked_for() {
    let said = text(&[NIST, "--curve=4"]);
    assert!(
        said.contains("product-limit curve") && said.contains("4 of 10 steps"),
        "{said}"
    );
    assert!(said.contains("at all ages at once"), "{said}");
    let curve: Vec<&str> = said
        .lines()
        .skip_while(|l| !l.contains("product-limit curve"))
        .collect();
    // First and last failure age of the handbook's example.
    assert!(
        curve[2].trim_start().starts_with("54 ") && curve[5].trim_start().starts_with("386 "),
        "{said}"
    );
    assert!(said.contains("line through the median ranks"), "{said}");
    let path = table("curve-looks.csv", LOOKS);
    let said = text(&[&path, "--curve"]);
    assert!(
        said.contains("interval curve (Turnbull)") && said.contains("failures after"),
        "{said}"
    );
    assert!(!text(&[NIST]).contains("product-limit curve"));
}

#[test]
fn a_shape_taken_as_known_says_where_it_is_from() {
    let rows = "time,status,kind\n100,failed,A\n180,failed,A\n200,failed,A\n210,failed,A\n260,failed,A\n290,failed,A\n90,failed,B\n150,failed,B\n170,failed,B\n240,failed,B\n250,failed,B\n200,failed,C\n300,running,C\n";
    let path = table("pooled-text.csv", rows);
    let said = text(&[&path, "--by", "kind"]);
    let line = said
        .lines()
        .find(|l| l.contains("shared by the groups"))
        .unwrap();
    let shape = json(&[&path, "--by", "kind"])["groups"][2]["assumed_shapes"][3]["shape"]
        .as_f64()
        .unwrap();
    assert!(line.contains(&format!("{shape:.1}")), "{line} {shape}");
}

/// What one end is by itself hangs on the method.
#[test]
fn one_end_by_itself_is_called_what_it_is() {
    let of = |method: &str| {
        let fit = json(&[NIST, "--bounds", method])["groups"][0]["fits"][0].clone();
        fit["one_sided"].as_str().unwrap().replace('\u{a0}', " ")
    };
    assert!(of("wald").contains("neither end by itself is a 95 % bound"));
    assert!(of("profile").contains("no sure 95 % bound"));
    assert!(of("calibrated").starts_with("each end by itself is a 95 % bound"));
    assert!(of("posterior").contains("5 % of the posterior"));
    assert!(!text(&[NIST, "--bounds", "wald"]).contains("each end by itself is a 95 % bound"));
    let few = table(
        "few-ends.csv",
        "time,status,count\n100,failed,3\n150,failed,3\n200,running,7\n",
    );
    let few = json(&[&few])["groups"][0]["fits"][0].clone();
    assert!(few["one_sided"].as_str().unwrap().contains("roughly"));
}

#[test]
fn a_poor_fit_is_answered() {
    // Two bunches that no Weibull law makes.
    let mut rows = String::from("time,status\n");
    for i in 0..25 {
        rows.push_str(&format!("{},failed\n{},failed\n", 10 + i % 5, 1000 + i));
    }
    let path = table("bunches.csv", &rows);
    let said = text(&[&path]);
    for words in ["does not suit these lives", "--family all", "--curve"] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!text(&[NIST]).contains("does not suit"));
}

#[test]
fn counts_and_their_words_agree() {
    let path = table("single.csv", "time,status\n200,running\n");
    let said = text(&[&path]);
    assert!(said.starts_with("1 row read, none set aside"), "{said}");
    assert!(said.contains("all seals: 1 seal, 0 failed"), "{said}");
    let rows = "seal,asset,position,fitted,removed,outcome\nS1,A,1,2020-01-01,2021-01-01,failed\nS2,B,1,2021-01-01,2020-01-01,failed\n";
    let said = text(&[&table("aside.csv", rows)]);
    assert!(said.contains("1 set aside (row 3: removed on"), "{said}");
    // Reasons stand below the table, which stays narrow.
    let path = table(
        "narrow.csv",
        "time,status,count\n100,failed,4\n150,failed,1\n200,failed,2\n",
    );
    let said = text(&[&path, "--family", "all"]);
    let table = said
        .lines()
        .skip_while(|l| !l.contains("quantity"))
        .take_while(|l| !l.contains("intervals by"));
    for line in table.filter(|l| !l.contains(": ")) {
        assert!(line.chars().count() < 100, "{line}");
    }
}

#[test]
fn the_ladder_speaks_at_every_number_of_failures() {
    for failures in [0, 1, 3, 7, 20, 60] {
        let rows: String = (0..failures)
            .map(|i| format!("{},failed\n", 100 + 7 * i))
            .collect();
        let path = table(
            &format!("ladder-{failures}.csv"),
            &format!("time,status\n{rows}700,running\n"),
        );
        let ladder = json(&[&path])["groups"][0]["ladder"].clone();
        assert!(!ladder.as_str().unwrap().is_empty(), "{failures}");
    }
}

/// More stretches than are worked out one by one: there are intervals all the same.
#[test]
fn a_long_interval_curve_has_its_intervals() {
    let mut rows = String::from("lower,upper\n0,30\n");
    for i in 1..=900 {
        rows.push_str(&format!("{i}.5,{i}.5\n"));
    }
    let path = table("long.csv", &rows);
    let curve = json(&[&path, "--bounds", "profile"])["groups"][0]["empirical"].clone();
    assert_eq!(curve["method"], "turnbull");
    let points = curve["points"].as_array().unwrap();
    let middle = &points[450];
    let at = |key: &str| middle[key].as_f64().unwrap();
    assert!(at("lower") < at("survival") && at("survival") < at("upper"));
    // Next to no seal is censored: the binomial's error.
    let binomial = f64::sqrt(at("survival") * (1.0 - at("survival")) / 901.0);
    assert!((at("std_error") / binomial - 1.0).abs() < 0.02, "{middle}");
    assert!(
        curve["std_error_note"]
            .as_str()
            .unwrap()
            .contains("windows")
    );
}

#[test]
fn without_an_estimate_no_band_is_spoken_of() {
    let rows = "time,status,count\n100,failed,1\n150,failed,1\n200,running,7\n";
    let path = table("few.csv", rows);
    let said = text(&[&path, "--at", "150"]);
    assert!(said.contains("not shown"), "{said}");
    assert!(!said.contains("at all ages at once"), "{said}");
}

#[test]
fn a_family_that_stands_alone_is_set_against_the_others_all_the_same() {
    let path = "datasets/published/channing-house/life.csv";
    let said = text(&[path, "--family", "weibull,normal,gamma", "--bounds", "wald"]);
    let sentence = said
        .lines()
        .find(|l| l.contains("best AICc, by more than 2"));
    let sentence = sentence.unwrap_or_else(|| panic!("{said}"));
    let fits = json(&[path, "--family", "weibull,normal,gamma", "--bounds", "wald"]);
    let fits = fits["groups"][0]["fits"].clone();
    let b10 = |at: usize| fits[at]["quantiles"][0]["estimate"].as_f64().unwrap();
    let lives = [b10(0), b10(1), b10(2)];
    let least = lives.into_iter().fold(f64::INFINITY, f64::min);
    let greatest = lives.into_iter().fold(0.0, f64::max);
    let range = format!("runs from {least:.0} to {greatest:.0} days");
    assert!(sentence.contains(&range), "{sentence}: {range}");
}

#[test]
fn grays_test_stands_where_groups_are_compared_by_mode() {
    let path = "datasets/published/monoclonal-gammopathy/life.csv";
    let said = text(&[path, "--by", "sex", "--modes", "--bounds", "wald"]);
    let table = said.split("modes between the groups").nth(1).unwrap();
    assert!(table.contains("1.19") && table.contains("11.65"), "{table}");
    let compare = |more: &[&str]| {
        let mut args = vec!["compare", path, "--by", "sex"];
        args.extend(more);
        let run = crate::sealspan(&args);
        assert_eq!(run.status, 0, "{}", run.err);
        run.out.replace('\u{a0}', " ")
    };
    let by_mode = compare(&["--mode", "death"]);
    let line = by_mode.lines().find(|l| l.contains("Gray (share"));
    assert!(line.is_some_and(|l| l.contains("11.65")), "{by_mode}");
    assert!(by_mode.contains("all modes at work"), "{by_mode}");
    assert!(!compare(&[]).contains("Gray"));
}

/// Two modes of three and six failures: the shape of the first is nobody's to estimate.
#[test]
fn lives_of_modes_with_few_failures_are_medians_of_the_draws() {
    let path = table(
        "few-modes.csv",
        "time,status,mode\n210,failed,cut\n215,failed,cut\n222,failed,cut\n\
         120,failed,abraded\n150,failed,abraded\n190,failed,abraded\n230,failed,abraded\n\
         260,failed,abraded\n300,failed,abraded\n250,running,\n310,running,\n320,running,\n",
    );
    let args = [path.as_str(), "--modes", "--confidence", "0.02"];
    let modes = json(&args)["modes"][0].clone();
    assert_eq!(modes["modes"][1]["life"]["withheld"], true);
    let estimates = modes["estimates"].as_str().unwrap();
    assert!(estimates.contains("medians"), "{estimates}");
    let [age, lower, upper] = ["age", "lower", "upper"].map(|key| {
        let ages = modes["all_modes"].as_array().unwrap();
        ages[0][key].as_f64().unwrap()
    });
    assert!(lower <= age && age <= upper, "{lower} {age} {upper}");
    assert!(upper / lower < 1.02, "{lower} {upper}");
    assert!(text(&args).contains("medians of those draws"));
    let text = text(&[&path, "--by", "mode", "--modes"]);
    assert!(text.contains("only 3 failures by cut"), "{text}");
}

/// Ages of failures, then of seals still running at 400.
fn lives(name: &str, failed: &[u32], running: usize) -> String {
    let rows = failed.iter().map(|age| format!("{age},failed,1,0\n"));
    let rest = format!("400,running,{running},0\n");
    let text = format!(
        "time,status,count,entry\n{}{rest}",
        rows.collect::<String>()
    );
    table(name, &text)
}

/// Few failures: what was simulated is told, and what was not is said not to have been.
#[test]
fn coverage_with_few_failures_is_told_or_said_to_be_unknown() {
    let seven = lives("seven-failures.csv", &[40, 70, 110, 150, 210, 260, 330], 5);
    let said = text(&[&seven, "--family", "weibull"]);
    assert!(
        said.contains("where 4 to 9 failures were to be expected"),
        "{said}"
    );
    assert!(said.contains("shape, B10 and survival"), "{said}");
    for law in ["normal", "loglogistic"] {
        let said = text(&[&seven, "--family", law]);
        assert!(said.contains("was not simulated for the"), "{said}");
    }
    let rows = "50,failed,1,10\n80,failed,1,20\n120,failed,1,0\n160,failed,1,30\n200,failed,1,0\n240,failed,1,40\n300,failed,1,0\n400,running,6,0\n";
    let late = table(
        "late-entry-few.csv",
        &format!("time,status,count,entry\n{rows}"),
    );
    let said = text(&[&late]);
    assert!(said.contains("seals watched from a later age on"), "{said}");
    // Expected ages of 24 lives of shape 1.8 and scale 300 after 200 days.
    let ages = [
        242, 270, 291, 310, 327, 344, 360, 375, 390, 406, 421, 437, 453, 469, 487, 505, 525, 546,
        569, 596, 627, 665, 717, 807,
    ];
    let rows = ages.map(|age| format!("{age},failed,1\n")).concat();
    let late_ones = table("none-before-242.csv", &format!("time,status,count\n{rows}"));
    let three = text(&[&late_ones, "--family", "three_parameter_weibull"]);
    assert!(
        !three.contains("each end by itself is a 95 % bound"),
        "{three}"
    );
}

/// A shape from fewer than five failures is shown by no way, nor by a line through ranks.
#[test]
fn three_failures_show_no_shape() {
    let three = lives("three-failures.csv", &[100, 200, 300], 9);
    let said = text(&[&three]);
    assert!(!said.contains("line through the median ranks ("), "{said}");
}

/// `all` is the usual families; others named beside it come too, each once, and a misspelt one is refused.
#[test]
fn families_beside_all_are_kept() {
    let said = text(&[
        NIST,
        "--family",
        "all,weibull,weak_fraction_weibull",
        "--bounds",
        "profile",
    ]);
    assert!(said.contains("  weak_fraction_weibull"), "{said}");
    // Each once: a row of its life, and one in the comparison of laws.
    assert_eq!(said.matches("\n  weibull ").count(), 2, "{said}");
    let refused = sealspan(&["fit", NIST, "--family", "all,wiebull"]);
    assert_eq!(refused.status, 2, "{}", refused.err);
}

/// Where no law has an estimate the curve without one is still to be had, and that is said.
#[test]
fn no_estimate_leaves_the_curve() {
    let path = table(
        "tied.csv",
        "time,status,count\n100,failed,5\n100,running,3\n",
    );
    let refused = sealspan(&["fit", &path, "--family", "weibull,lognormal"]);
    assert_eq!(refused.status, 1);
    assert!(refused.err.contains("--curve"), "{}", refused.err);
    assert!(!refused.err.contains("--family weibull"), "{}", refused.err);
    let shown = sealspan(&["fit", &path, "--curve"]);
    assert_eq!(shown.status, 1);
    let out = shown.out.replace('\u{a0}', " ");
    assert!(out.contains("one single age"), "{out}");
    let row = out
        .lines()
        .find(|line| line.trim_start().starts_with("100 "));
    assert!(row.is_some_and(|row| row.contains("38 %")), "{out}");
}

/// One seal fails before all others come under watch: the curve falls to 0 there, and says of whom it tells nothing.
#[test]
fn a_curve_that_ends_before_seals_come_says_so() {
    let path = table(
        "early-zero.csv",
        "time,status,count,entry\n5,failed,1,0\n80,failed,3,50\n120,failed,5,50\n150,failed,4,50\n200,running,1,50\n",
    );
    let said = text(&[&path, "--curve"]);
    assert!(said.contains("at 0 from 5 on"), "{said}");
    assert!(said.contains("13 seals came under watch later"), "{said}");
    let whole = table(
        "no-late-ones.csv",
        "time,status,count,entry\n80,failed,3,0\n120,failed,5,0\n",
    );
    assert!(!text(&[&whole, "--curve"]).contains("came under watch later"));
}

/// Beyond the oldest seal only the law speaks; beyond twice its age nobody should plan on it.
#[test]
fn ages_far_beyond_the_records_are_told_from_those_near() {
    let path = lives("beyond.csv", &[40, 70, 110, 150, 210, 260, 330], 5);
    let near = text(&[&path, "--at", "500"]);
    assert!(near.contains("only the law speaks there"), "{near}");
    assert!(!near.contains("more than twice that age"), "{near}");
    let far = text(&[&path, "--at", "900"]);
    assert!(
        far.contains("more than twice that age do not plan"),
        "{far}"
    );
}
