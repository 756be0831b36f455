//! Ends of intervals that are none, not what they seem, or simulated: each said so, on the smallest data that cause it. All
//! data invented.

use super::diagnostics::{NIST, SEVEN, THREE, fit, lives, warned};
use super::{file, sealspan};

/// With a known shape and few failures the ends are chi-square bounds, and are called so.
#[test]
fn chi_square_ends_are_not_called_refits() {
    let path = lives("chi.csv", SEVEN);
    let fit = fit(&[&path, "--shape", "2"])["fits"][0].clone();
    assert_eq!(fit["bounds"], "chi_square");
    let text = sealspan(&["fit", &path, "--shape", "2"]).out;
    assert!(
        text.contains("intervals by chi-square") && !text.contains("calibrated by refits"),
        "{text}"
    );
}

/// No limit and no result are different answers, in words and for programs.
#[test]
fn ends_without_limit_are_told_from_ends_not_found() {
    let run = sealspan(&["fit", NIST, "--family", "generalised_gamma"]);
    assert!(
        run.out.contains("to no limit)") && !run.out.contains("open"),
        "{}",
        run.out
    );
    let group = fit(&[NIST, "--family", "generalised_gamma"]);
    let mean = &group["fits"][0]["mean_life"];
    assert!(mean["upper"].is_null() && mean["reason"].as_str().unwrap().contains("no upper limit"));
    assert_eq!(group["fits"][0]["mean_life_ends"]["no_upper"], "no_limit");
    // The three-parameter law has all its ends, though one path runs towards the first failure.
    let group = fit(&[
        NIST,
        "--family",
        "three_parameter_weibull",
        "--at",
        "20,200",
    ]);
    let fit = &group["fits"][0];
    for number in fit["parameters"]
        .as_array()
        .unwrap()
        .iter()
        .chain([&fit["survival"][0], &fit["survival"][1]])
    {
        assert!(
            number["lower"].is_f64() && number["upper"].is_f64(),
            "{number}"
        );
    }
    assert_eq!(fit["survival"][0]["estimate"], 1.0);
    assert!(fit["survival"][0]["lower"].as_f64() < Some(0.99));
}

#[test]
fn with_fewer_than_ten_failures_the_coverage_to_expect_is_stated() {
    let path = lives("coverage.csv", SEVEN);
    for method in ["wald", "profile", "calibrated"] {
        assert!(
            warned(&fit(&[&path, "--bounds", method]), "of this kind covered"),
            "{method}"
        );
    }
    assert!(!warned(&fit(&[NIST]), "of this kind covered"));
    // They were simulated at 90 %, and not with fewer than 4 failures.
    assert!(!warned(&fit(&[&path]), "none were simulated"));
    assert!(warned(
        &fit(&[&path, "--confidence", "0.95"]),
        "none were simulated at the 95\u{a0}%"
    ));
    let few = fit(&[&lives("coverage-3.csv", THREE), "--bounds", "profile"]);
    assert!(!warned(&few, "of this kind covered"));
}

#[test]
fn intervals_that_meet_at_one_age_have_no_finite_shape() {
    for (name, rows) in [
        ("meet-a.csv", ",100,5\n100,200,3"),
        ("meet-b.csv", "50,100,4\n100,150,4"),
    ] {
        let path = file(name, format!("lower,upper,count\n{rows}\n").as_bytes());
        let reason = fit(&[path.to_str().unwrap()])["fits"][0]["reason"].clone();
        assert!(
            reason.as_str().unwrap().contains("one single age"),
            "{name}: {reason}"
        );
    }
    // Looks at one age only fix a share, not a shape.
    let path = file("meet-c.csv", b"lower,upper,count\n,100,5\n100,,15\n");
    let reason = fit(&[path.to_str().unwrap()])["fits"][0]["reason"].clone();
    assert!(
        reason.as_str().unwrap().contains("share failed by one age"),
        "{reason}"
    );
}

#[test]
fn time_left_far_beyond_the_records_keeps_its_digits() {
    let path = lives(
        "far.csv",
        "60:failed 75:failed 90:failed 100:failed 115:failed 130:failed 150:failed 170:failed",
    );
    let group = fit(&[
        &path,
        "--age",
        "1000000",
        "--quantile",
        "0.1",
        "--bounds",
        "profile",
    ]);
    let fit = &group["fits"][0];
    let (shape, scale) = (
        fit["parameters"][0]["estimate"].as_f64().unwrap(),
        fit["parameters"][1]["estimate"].as_f64().unwrap(),
    );
    let left = &fit["remaining"][0];
    // t ((1 + x/H)^(1/β) − 1) with H = (t/η)^β, to first order.
    let hazard = (1e6 / scale).powf(shape);
    let want = 1e6 / shape * -(0.9f64.ln()) / hazard;
    let got = left["estimate"].as_f64().unwrap();
    assert!((got / want - 1.0).abs() < 1e-6, "{got} {want}");
    assert!(left["lower"].as_f64().unwrap() < got && got < left["upper"].as_f64().unwrap());
}

#[test]
fn a_normal_law_below_age_zero_is_said_not_to_suit() {
    let path = lives(
        "wide.csv",
        "1:failed 2:failed 3:failed 40:failed 90:failed 140:failed 200:failed",
    );
    let group = fit(&[&path, "--family", "normal", "--quantile", "0.01"]);
    let reason = group["fits"][0]["quantiles"][0]["reason"]
        .as_str()
        .unwrap()
        .to_owned();
    assert!(reason.contains("normal law does not suit"), "{reason}");
}

/// An end that the likelihood does not have says why; none is left as a search that broke off.
#[test]
fn a_mixtures_missing_ends_say_that_a_part_closes_in() {
    let bearings = "datasets/published/ball-bearings/life.csv";
    let group = fit(&[bearings, "--family", "weibull_mixture", "--at", "60"]);
    let shape = &group["fits"][0]["parameters"][1];
    let reason = shape["reason"].as_str().unwrap();
    for side in ["no lower end", "no upper end"] {
        assert!(
            reason.contains(&format!("{side} from the likelihood")),
            "{reason}"
        );
    }
    assert!(reason.contains("closes in on a few failures"), "{reason}");
    let text = sealspan(&["fit", bearings, "--family", "weibull_mixture"]).out;
    assert!(!text.contains("not worked out"), "{text}");
    let said = "\"no end\" of share_1, shape_1, shape_2: no lower end from the likelihood";
    assert!(text.contains(said), "{text}");
    // The posterior has both ends.
    let group = fit(&[
        bearings,
        "--family",
        "weibull_mixture",
        "--bounds",
        "posterior",
    ]);
    let shape = &group["fits"][0]["parameters"][1];
    assert!(
        shape["lower"].is_f64() && shape["upper"].is_f64(),
        "{shape}"
    );
}

/// What a law never reaches is told from what is infinite.
#[test]
fn an_infinite_mean_and_an_age_never_reached_say_so() {
    let fans = "datasets/published/diesel-fans/life.csv";
    let group = fit(&[
        fans,
        "--family",
        "weak_fraction_weibull",
        "--quantile",
        "0.1,0.9",
    ]);
    let fit = &group["fits"][0];
    let mean = fit["mean_life"]["reason"].as_str().unwrap();
    assert!(mean.contains("infinite under this law"), "{mean}");
    // The plain Weibull law, which the data do not exclude, has a mean.
    assert!(fit["mean_life"]["lower"].is_f64(), "{}", fit["mean_life"]);
    assert_eq!(fit["mean_life_ends"]["no_upper"], "no_limit");
    let age = &fit["quantiles"][1];
    assert!(age["estimate"].is_null() && age["lower"].is_f64(), "{age}");
    assert!(
        age["reason"]
            .as_str()
            .unwrap()
            .contains("fewer seals ever fail"),
        "{age}"
    );
}

/// A mixture says by what rule maxima are set aside, and does not speak of exact ages where there are none.
#[test]
fn a_mixture_says_what_it_sets_aside() {
    let group = fit(&[NIST, "--family", "weibull_mixture"]);
    assert!(warned(&group, "such maxima are set aside"));
    let wheels = "datasets/published/turbine-wheels/life.csv";
    let none = &fit(&[wheels, "--family", "weibull_mixture"])["fits"][0];
    let reason = none["reason"].as_str().unwrap();
    assert!(reason.contains("stretches between looks"), "{reason}");
    assert!(!reason.contains("exact ages"), "{reason}");
    assert!(none["bounds_reason"].as_str().unwrap().contains("interval"));
}
