//! Adjusted ranks, median ranks and the straight lines through them.

use super::close::Check;
use super::data;
use super::expected::{self, number, numbers};
use super::tolerances::{ARITHMETIC, ESTIMATE, MEDIAN_RANK};
use sealspan_life::rank_regression::{MedianRank, Paper, rank_regression};
use sealspan_life::ranks::{Regress, adjusted_ranks};

/// Checks the `ranks` of a case.
pub fn check(name: &str) {
    let case = expected::read(name);
    let wanted = &case["ranks"];
    let sample = data::all(name);
    let ranked = adjusted_ranks(&sample).expect("ranks");
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
    let mut lines = 0;
    for (rule, rank) in [("benard", MedianRank::Benard), ("exact", MedianRank::Exact)] {
        for (line, regress) in [("YonX", Regress::RankOnAge), ("XonY", Regress::AgeOnRank)] {
            for (paper, prefix, names) in [
                (Paper::Weibull, "", ["shape", "scale"]),
                (Paper::Lognormal, "lognormal.", ["mu", "sigma"]),
            ] {
                let key = |what: &str| format!("{prefix}{rule}.{line}.{what}");
                if wanted[key(names[0])].is_null() {
                    continue;
                }
                let ours = rank_regression(&sample, paper, rank, regress).expect("line");
                let found = ours.life().expect("life").parameters();
                for name in names {
                    let value = found.iter().find(|p| p.0 == name).map(|p| p.1);
                    checks.some(&key(name), value, number(wanted, &key(name)), ESTIMATE);
                }
                let key = format!("{prefix}{rule}.r2");
                checks.value(&key, ours.r_squared, number(wanted, &key), ESTIMATE);
                assert_eq!(ours.failures, ranked.len());
                lines += 1;
            }
        }
    }
    assert!(lines >= 4, "{name}: {lines} lines");
    checks.finish(3 * lines + 3 * ranked.len());
}
