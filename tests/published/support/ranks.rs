//! Adjusted ranks, median ranks and the straight lines through them.

use super::close::Check;
use super::data;
use super::expected::{self, number, numbers};
use super::tolerances::{ARITHMETIC, ESTIMATE, MEDIAN_RANK};
use sealspan_life::ranks::{Regress, adjusted_ranks, weibull_line};

/// Checks the `ranks` of a case.
pub fn check(name: &str) {
    let case = expected::read(name);
    let wanted = &case["ranks"];
    let ranked = adjusted_ranks(&data::all(name)).expect("ranks");
    let mut checks = Check::new(&format!("{name} ranks"));
    let lists = [
        (
            "adjusted_ranks",
            ranked.iter().map(|r| r.rank).collect::<Vec<_>>(),
            ARITHMETIC,
        ),
        (
            "benard.median_ranks",
            ranked.iter().map(|r| r.benard).collect(),
            ARITHMETIC,
        ),
        (
            "exact.median_ranks",
            ranked.iter().map(|r| r.median).collect(),
            MEDIAN_RANK,
        ),
    ];
    for (key, ours, tolerance) in lists {
        let expected = numbers(wanted, key);
        assert_eq!(ours.len(), expected.len(), "{name} {key}");
        for (i, (a, b)) in ours.iter().zip(&expected).enumerate() {
            checks.value(&format!("{key} {}", i + 1), *a, *b, tolerance);
        }
    }
    for (rule, points) in [
        (
            "benard",
            ranked
                .iter()
                .map(|r| (r.time, r.benard))
                .collect::<Vec<_>>(),
        ),
        ("exact", ranked.iter().map(|r| (r.time, r.median)).collect()),
    ] {
        for (line, regress) in [("YonX", Regress::RankOnAge), ("XonY", Regress::AgeOnRank)] {
            let (shape, scale) = weibull_line(&points, regress).expect("line");
            let key = |what| format!("{rule}.{line}.{what}");
            checks.value(
                &key("shape"),
                shape,
                number(wanted, &key("shape")),
                ESTIMATE,
            );
            checks.value(
                &key("scale"),
                scale,
                number(wanted, &key("scale")),
                ESTIMATE,
            );
        }
    }
    checks.finish(8 + 3 * ranked.len());
}
