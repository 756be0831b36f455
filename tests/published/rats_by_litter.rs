//! Tumours in rats of fifty litters (Mantel, Bohidar & Ciminera 1977): proportional hazards with strata,
//! errors by litter, drift with age, and gamma frailty with and without a law.

use crate::support::close::Check;
use crate::support::data;
use crate::support::expected::{number, read};
use crate::support::hazards::{TIES, family, lives, one_column};
use crate::support::tolerances::{ESTIMATE, SECOND_ROUTE, STOPPED_EARLY, printed};
use sealspan_life::hazards::{Prepared, Ties, TimeScale, fit, frailty, weibull_frailty};
use sealspan_life::log_rank::{Weighting, log_rank, stratified};

const NAME: &str = "rats-by-litter";

fn rats(strata: bool) -> Prepared {
    lives(NAME, "rx", |x| x.parse().unwrap(), Some("litter"), strata)
}

#[test]
fn log_rank_family() {
    let mut checks = Check::new("rats-by-litter tests");
    family(&mut checks, &data::by(NAME, "rx"), &read(NAME)["tests"]);
    checks.finish(30);
}

#[test]
fn proportional_hazards_of_treatment() {
    let case = read(NAME);
    let mut checks = Check::new("rats-by-litter proportional hazards");
    one_column(&mut checks, &rats(false), &case["proportional_hazards"]);
    for (name, ties) in TIES {
        let ours = fit(rats(false), ties).unwrap();
        let drift = ours.proportionality(TimeScale::Age).unwrap();
        let wanted = number(
            &case["proportional_hazards"][name],
            "proportionality_by_age",
        );
        checks.value(
            "drift",
            drift.columns[0].test.statistic,
            wanted,
            SECOND_ROUTE,
        );
        checks.value("drift of all", drift.global.statistic, wanted, SECOND_ROUTE);
    }
    let printed_to = number(&case["published"]["breslow.log_likelihood"], "value");
    let breslow = fit(rats(false), Ties::Breslow).unwrap().log_likelihood;
    checks.value("as printed", breslow, printed_to, printed(printed_to, 4));
    checks.finish(100);
}

#[test]
fn strata_and_errors_by_litter() {
    let wanted = &read(NAME)["second_route"];
    let mut checks = Check::new("rats-by-litter strata and clusters");
    let within = fit(rats(true), Ties::Efron).unwrap();
    let all = fit(rats(false), Ties::Efron).unwrap();
    for (key, ours) in [
        ("stratified.coefficient", within.estimates()[0]),
        ("stratified.std_error", within.covariance()[(0, 0)].sqrt()),
        (
            "cluster.std_error",
            all.cluster_covariance().unwrap()[(0, 0)].sqrt(),
        ),
    ] {
        checks.value(key, ours, number(wanted, key), SECOND_ROUTE);
    }
    checks.finish(3);
}

/// With one tie at most in each litter, the score test without effect is the stratified log-rank test.
#[test]
fn stratified_log_rank_is_the_score_test_within_litters() {
    let mut litters: Vec<Vec<_>> = vec![];
    let of = |litter: &str, samples: Vec<(String, sealspan_records::Sample)>| {
        let found = samples.into_iter().find(|(key, _)| key == litter);
        found.map(|(_, s)| s).unwrap_or_default()
    };
    let records = data::records(NAME, "life.csv");
    let question = sealspan_records::Question {
        by: vec!["litter".to_owned(), "rx".to_owned()],
        ..Default::default()
    };
    let groups = sealspan_records::ask(&records, &question).unwrap().groups;
    for (litter, _) in data::by(NAME, "litter") {
        let own: Vec<_> = groups
            .iter()
            .filter(|g| g.key[0].1 == litter)
            .map(|g| (g.key[1].1.clone(), g.sample.clone()))
            .collect();
        litters.push(vec![of("0", own.clone()), of("1", own)]);
    }
    let test = stratified(&litters, Weighting::LogRank).unwrap();
    let score = fit(rats(true), Ties::Breslow).unwrap().score_test;
    assert!(test.statistic > 5.0);
    assert!((test.statistic - score.statistic).abs() < 1e-3 * score.statistic);
    let plain: Vec<_> = data::by(NAME, "rx").into_iter().map(|g| g.1).collect();
    let apart = log_rank(&plain, Weighting::LogRank).unwrap();
    assert!((test.statistic - apart.statistic).abs() > 0.01);
}

#[test]
fn gamma_frailty_with_an_open_baseline() {
    let case = read(NAME);
    let mut checks = Check::new("rats-by-litter frailty");
    for (name, ties) in TIES {
        let ours = frailty(&fit(rats(false), ties).unwrap(), 0.9).unwrap();
        let error = ours.effects.as_ref().unwrap()[0].std_error;
        let found = [
            ("theta", ours.theta),
            ("coefficient", ours.estimates[0]),
            ("log_likelihood", ours.log_likelihood),
            ("std_error", error),
        ];
        for (key, value) in found {
            let wanted = number(&case["frailty"][name], key);
            checks.value(&format!("{name} {key}"), value, wanted, SECOND_ROUTE);
            // The second program keeps only the diagonal of the litters' information for its error.
            let wanted = number(&case["second_route"], &format!("frailty.{name}.{key}"));
            let loose = if key == "std_error" {
                printed(wanted, 3)
            } else {
                STOPPED_EARLY
            };
            checks.value(&format!("{name} {key} again"), value, wanted, loose);
            if name == "breslow" && key != "std_error" {
                let printed_to = &case["published"][format!("frailty.breslow.{key}")];
                let decimals = printed_to["decimals"].as_i64().unwrap() as i32;
                let wanted = number(printed_to, "value");
                checks.value(
                    &format!("{key} printed"),
                    value,
                    wanted,
                    printed(wanted, decimals),
                );
            }
        }
        assert!(ours.interval.0 == 0.0 && ours.interval.1.unwrap() > ours.theta);
    }
    checks.finish(19);
}

#[test]
fn weibull_gamma_frailty() {
    let case = read(NAME);
    let wanted = &case["weibull_frailty"];
    let ours = weibull_frailty(&rats(false).into(), 0.9).unwrap();
    let mut checks = Check::new("rats-by-litter Weibull frailty");
    let error = |i: usize| ours.covariance[(i, i)].sqrt();
    let rate = &ours.hazard_effects(0.9)[0];
    for (key, value) in [
        ("mu", ours.x[0]),
        ("se.mu", error(0)),
        ("logsigma", ours.x[2]),
        ("se.logsigma", error(2)),
        ("b_rx(PH)", rate.estimate),
        ("se.b_rx(PH)", rate.std_error),
        ("log_theta", ours.x[3]),
        ("se.log_theta", error(3)),
        ("theta", ours.theta),
        ("loglik", ours.log_likelihood),
        ("lrt_vs_no_frailty", ours.test.statistic),
        ("lrt_p_boundary_half_chi2", ours.test.p_value),
    ] {
        checks.value(key, value, number(wanted, key), ESTIMATE);
    }
    let null = number(&case, "weibull_log_likelihood");
    checks.value("without frailty", ours.log_likelihood_null, null, ESTIMATE);
    assert_eq!(ours.interval.0, 0.0);
    checks.finish(13);
}
