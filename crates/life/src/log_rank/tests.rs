#![allow(clippy::unwrap_used)]

use super::*;
use sealspan_records::observation::Observation;

fn exact(ages: &[(f64, f64)]) -> Sample {
    let each = |(t, entry): &(f64, f64)| Observation::exact(*t, *entry, 1.0).unwrap();
    Sample::new(ages.iter().map(each).collect())
}

fn plain(ages: &[f64]) -> Sample {
    exact(&ages.iter().map(|t| (*t, 0.0)).collect::<Vec<_>>())
}

#[test]
fn says_why_there_is_none() {
    let running = Sample::new(vec![Observation::right(5.0, 0.0, 3.0).unwrap()]);
    let looks = Sample::new(vec![Observation::interval(1.0, 2.0, 0.0, 1.0).unwrap()]);
    let test = |groups: &[Sample]| log_rank(groups, Weighting::LogRank);
    assert_eq!(
        test(&[running.clone(), running.clone()]),
        Err(NoTest::NoFailures)
    );
    assert_eq!(test(&[running, looks]), Err(NoTest::Interval));
    assert_eq!(test(&[plain(&[1.0, 2.0])]), Err(NoTest::Apart));
    let late = exact(&[(7.0, 5.0), (8.0, 5.0)]);
    assert_eq!(test(&[plain(&[1.0, 2.0, 3.0]), late]), Err(NoTest::Apart));
    assert_eq!(test(&[plain(&[3.0]), plain(&[3.0])]), Err(NoTest::Apart));
    let many = vec![plain(&[1.0]); MOST_GROUPS + 1];
    assert_eq!(test(&many), Err(NoTest::TooMany(MOST_GROUPS)));
}

#[test]
fn a_group_that_nobody_met_takes_no_degree_of_freedom() {
    let (a, b) = (plain(&[1.0, 4.0, 6.0]), plain(&[2.0, 3.0, 9.0]));
    let alone = exact(&[(20.0, 15.0), (21.0, 16.0)]);
    let two = log_rank(&[a.clone(), b.clone()], Weighting::LogRank).unwrap();
    let three = log_rank(&[a, b, alone], Weighting::LogRank).unwrap();
    assert_eq!(three.df, 1.0);
    assert!((two.statistic - three.statistic).abs() < 1e-12);
}

#[test]
fn counts_stand_for_as_many_rows() {
    let counted = Sample::new(vec![Observation::exact(4.0, 1.0, 3.0).unwrap()]);
    let written = exact(&[(4.0, 1.0); 3]);
    let other = plain(&[2.0, 4.0, 7.0]);
    for weighting in Weighting::ALL {
        let a = log_rank(&[counted.clone(), other.clone()], weighting).unwrap();
        let b = log_rank(&[written.clone(), other.clone()], weighting).unwrap();
        assert!((a.statistic - b.statistic).abs() < 1e-13, "{a:?} {b:?}");
    }
}

#[test]
fn strata_are_summed_and_two_groups_trend_as_they_differ() {
    let (a, b) = (plain(&[1.0, 4.0, 6.0]), plain(&[2.0, 3.0, 9.0]));
    let one = scores(&[vec![a.clone(), b.clone()]], Weighting::Peto).unwrap();
    let twice = vec![vec![a.clone(), b.clone()], vec![a.clone(), b.clone()]];
    let both = scores(&twice, Weighting::Peto).unwrap();
    assert!((both.score[0] - 2.0 * one.score[0]).abs() < 1e-14);
    let differ = stratified(&twice, Weighting::Peto).unwrap();
    let rising = trend(&twice, &[10.0, 30.0], Weighting::Peto).unwrap();
    assert!((differ.statistic - rising.statistic).abs() < 1e-12);
    let mixed = stratified(
        &[vec![a, Sample::default()], vec![Sample::default(), b]],
        Weighting::Peto,
    );
    assert_eq!(mixed.unwrap_err(), NoTest::Apart);
}

/// Three copies of two groups: means, and the mean variance less what the drawing lost, (1 − 1/m) times the variance of
/// the scores between the m copies.
#[test]
fn copies_are_put_together_by_their_means() {
    let copies = [([2.0, 3.0], 0.5), ([4.0, 1.0], 1.5), ([3.0, 5.0], -0.2)];
    let (mut sum, mut squares) = (Scores::zero(2), DMatrix::zeros(2, 2));
    for (expected, score) in copies {
        let own = DVector::from_vec(vec![score, -score]);
        squares += &own * own.transpose();
        sum.score += own;
        sum.variance += DMatrix::from_row_slice(2, 2, &[2.0, -2.0, -2.0, 2.0]);
        for (slot, e) in sum.expected.iter_mut().zip(expected) {
            *slot += e;
        }
        for slot in &mut sum.observed {
            *slot += 4.0;
        }
    }
    let found = drawn::averaged((sum, squares), 3);
    assert!((found.scores.expected[0] - 3.0).abs() < 1e-12);
    assert!((found.scores.expected[1] - 3.0).abs() < 1e-12);
    assert!((found.scores.observed[0] - 4.0).abs() < 1e-12);
    assert!((found.scores.score[0] - 0.6).abs() < 1e-12);
    // The sample variance of 0.5, 1.5 and −0.2 is 0.73.
    let lost = 0.73 * 2.0 / 3.0;
    assert!((found.scores.variance[(0, 0)] - (2.0 - lost)).abs() < 1e-12);
    assert!((found.scores.variance[(0, 1)] + 2.0 - lost).abs() < 1e-12);
    assert!((found.share - lost / 2.0).abs() < 1e-12);
}

/// Fleming and Harrington's weights by hand: Ŝ just before each failure, to its power, times the share failed to its.
#[test]
fn weights_by_the_curve_before_each_failure() {
    let (a, b) = ([1.0, 4.0, 6.0], [2.0, 3.0, 9.0]);
    let groups = [plain(&a), plain(&b)];
    for (rho, gamma) in [(1.0, 0.0), (0.0, 1.0), (0.5, 2.0)] {
        let found = scores(
            &[groups.to_vec()],
            Weighting::FlemingHarrington { rho, gamma },
        )
        .unwrap();
        let mut all: Vec<(f64, bool)> = a.map(|t| (t, true)).into_iter().collect();
        all.extend(b.map(|t| (t, false)));
        all.sort_by(|x, y| x.0.total_cmp(&y.0));
        let (mut score, mut before) = (0.0, 1.0f64);
        for (i, (_, own)) in all.iter().enumerate() {
            let left = all.iter().skip(i);
            let share = left.clone().filter(|x| x.1).count() as f64 / left.count() as f64;
            let weight = before.powf(rho) * (1.0 - before).powf(gamma);
            score += weight * (f64::from(u8::from(*own)) - share);
            before *= 1.0 - 1.0 / (all.len() - i) as f64;
        }
        assert!((found.score[0] - score).abs() < 1e-12, "{rho} {gamma}");
    }
}

/// Two copies of two strata are drawn apart: ages that overlapping looks leave open take some of the variance away.
#[test]
fn copies_of_strata_differ() {
    let between = |a: f64, b: f64| Observation::interval(a, b, 0.0, 3.0).unwrap();
    let group = |rows: &[(f64, f64)]| Sample::new(rows.iter().map(|r| between(r.0, r.1)).collect());
    let stratum = vec![
        group(&[(0.0, 20.0), (10.0, 40.0), (30.0, 60.0)]),
        group(&[(0.0, 30.0), (20.0, 50.0), (40.0, 80.0)]),
    ];
    for strata in [vec![stratum.clone()], vec![stratum.clone(), stratum]] {
        let found = &drawn(&strata, &[Weighting::LogRank], 2, 1).unwrap()[0];
        assert!(found.share > 1e-6, "{} {}", strata.len(), found.share);
    }
}

/// Groups of one number have no trend between them.
#[test]
fn numbers_alike_have_no_trend() {
    let groups = [plain(&[1.0, 4.0, 6.0]), plain(&[2.0, 3.0, 9.0])];
    let scores = scores(&[groups.to_vec()], Weighting::LogRank).unwrap();
    assert_eq!(scores.trend(&[7.0, 7.0]), Err(NoTest::Apart));
    assert!(scores.trend(&[7.0, 8.0]).is_ok());
}
