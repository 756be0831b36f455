//! Proportional hazards and the log-rank family against expected values.

use super::close::Check;
use super::data;
use super::expected::number;
use super::tolerances::{BASELINE, ESTIMATE, TEST, printed};
use sealspan_life::hazards::{HazardsFit, Prepared, Ties, WatchedLife, fit};
use sealspan_life::log_rank::{Weighting, log_rank, scores};
use sealspan_records::{Question, Sample, ask};
use serde_json::Value;

/// Both ways to treat ties, by their names in the expected files.
pub const TIES: [(&str, Ties); 2] = [("breslow", Ties::Breslow), ("efron", Ties::Efron)];

/// The lives of a set with the number a column holds, in strata and clusters by another column.
pub fn lives(
    name: &str,
    column: &str,
    number: impl Fn(&str) -> f64,
    cluster: Option<&str>,
    strata: bool,
) -> Prepared {
    let by = std::iter::once(column).chain(cluster);
    let question = Question {
        by: by.map(str::to_owned).collect(),
        ..Question::default()
    };
    let answer = ask(&data::records(name, "life.csv"), &question).unwrap();
    let (mut design, mut lives, mut clusters) = (vec![], vec![], vec![]);
    for group in answer.groups {
        let word = group.key.get(1).map(|k| k.1.clone()).unwrap_or_default();
        let at = clusters.iter().position(|c| *c == word).unwrap_or_else(|| {
            clusters.push(word);
            clusters.len() - 1
        });
        lives.extend(group.sample.rows().iter().map(|o| WatchedLife {
            observation: *o,
            design: design.len(),
            stratum: if strata { at } else { 0 },
            cluster: at,
        }));
        design.push(vec![number(&group.key[0].1)]);
    }
    Prepared::new(&[column.to_owned()], &design, &lives).unwrap()
}

/// Checks a fit of one column, ties either way.
pub fn one_column(checks: &mut Check, data: &Prepared, wanted: &Value) {
    for (name, ties) in TIES {
        let ours = fit(data.clone(), ties).unwrap();
        let wanted = &wanted[name];
        let mut value = |key: &str, ours: f64| {
            checks.value(
                &format!("{name} {key}"),
                ours,
                number(wanted, key),
                ESTIMATE,
            );
        };
        value("coefficient", ours.estimates()[0]);
        value("std_error", ours.covariance()[(0, 0)].sqrt());
        value("log_likelihood", ours.log_likelihood);
        value("log_likelihood_null", ours.log_likelihood_null);
        value("ratio_test", ours.ratio_test.statistic);
        value("score_test", ours.score_test.statistic);
        value("wald_test", ours.wald_test.statistic);
        baseline(checks, name, &ours, &wanted["baseline"]);
    }
}

/// The cumulative baseline hazard at x = 0, at every age listed.
fn baseline(checks: &mut Check, name: &str, ours: &HazardsFit, wanted: &Value) {
    let steps = ours.baseline().remove(0);
    for point in wanted.as_array().unwrap() {
        let (age, hazard) = (point[0].as_f64().unwrap(), point[1].as_f64().unwrap());
        let at = steps.iter().rev().find(|s| s.0 <= age);
        checks.some(
            &format!("{name} baseline {age}"),
            at.map(|s| s.1),
            hazard,
            BASELINE,
        );
    }
}

/// Every weighting of the log-rank family: statistic, p-value, scores, and where stated the failures
/// observed and expected and the variance of the score.
pub fn family(checks: &mut Check, groups: &[(String, Sample)], wanted: &Value) {
    let samples: Vec<Sample> = groups.iter().map(|g| g.1.clone()).collect();
    for weighting in Weighting::ALL {
        let test = log_rank(&samples, weighting).unwrap();
        assert_eq!(test.df, groups.len() as f64 - 1.0);
        let wanted = &wanted[test.name];
        checks.value(test.name, test.statistic, number(wanted, "statistic"), TEST);
        checks.value(test.name, test.p_value, number(wanted, "p_value"), TEST);
        let ours = scores(std::slice::from_ref(&samples), weighting).unwrap();
        for (i, (group, _)) in groups.iter().enumerate() {
            for (key, value) in [
                ("score", ours.score[i]),
                ("observed", ours.observed[i]),
                ("expected", ours.expected[i]),
                ("variance", ours.variance[(i, i)]),
            ] {
                if let Some(number) = wanted[key][group].as_f64() {
                    checks.value(&format!("{} {key} {group}", test.name), value, number, TEST);
                }
            }
        }
    }
}

/// The cases small enough to work by hand: maximum, likelihoods, information, slope and information
/// without effect, and what the source prints of them.
pub fn by_hand(checks: &mut Check, data: &Prepared, case: &Value) {
    for (name, ties) in TIES {
        let ours = fit(data.clone(), ties).unwrap();
        let null = &case["proportional_hazards"][name];
        // Slope² over information is the score test.
        let score = match (null["U0"].as_f64(), null["I0"].as_f64()) {
            (Some(u), Some(i)) => Some(u * u / i),
            _ => None,
        };
        if let Some(score) = score {
            checks.value("U0²/I0", ours.score_test.statistic, score, TEST);
        }
        for (key, value) in [
            ("beta", ours.estimates()[0]),
            ("loglik", ours.log_likelihood),
            ("loglik0", ours.log_likelihood_null),
            ("information", 1.0 / ours.covariance()[(0, 0)]),
            ("score_test", ours.score_test.statistic),
        ] {
            let what = format!("{name} {key}");
            if let Some(wanted) = null[key].as_f64() {
                checks.value(&what, value, wanted, ESTIMATE);
            }
            let misprint = name == "efron" && key == "loglik";
            if let Some(wanted) = case["published"][name][key].as_f64().filter(|_| !misprint) {
                checks.value(
                    &format!("{what} printed"),
                    value,
                    wanted,
                    printed(wanted, 6),
                );
            }
        }
    }
}
