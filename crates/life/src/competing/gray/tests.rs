#![allow(clippy::unwrap_used)]

use super::super::rows::ModeRow;
use super::*;
use crate::log_rank::{Weighting, scores};
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Observation;

/// Age, whether it ended by mode 0, 1 or (2) not at all, entry and count.
type Row = (f64, usize, f64, f64);

fn lives(rows: &[Row]) -> ByMode {
    let row = |(t, mode, entry, count): &Row| ModeRow {
        observation: match mode {
            0 | 1 => Observation::exact(*t, *entry, *count).unwrap(),
            _ => Observation::right(*t, *entry, *count).unwrap(),
        },
        mode: (*mode < 2).then_some(*mode),
    };
    ByMode::new(rows.iter().map(row).collect(), 2).unwrap()
}

/// An invented group: mode 0 takes `share` of the seals, at ages of mean 1, in every group alike; mode 1 takes the
/// others at ages of mean `other`; watching ends at ages up to `longest`.
fn group(stream: &mut Stream, seals: usize, share: f64, other: f64, longest: f64) -> Vec<Row> {
    let seal = |_| {
        let mode = usize::from(stream.uniform() >= share);
        let mean = [1.0, other][mode];
        let age = -mean * (1.0 - stream.uniform()).ln();
        let end = longest * stream.uniform();
        if age < end {
            (age, mode, 0.0, 1.0)
        } else {
            (end, 2, 0.0, 1.0)
        }
    };
    (0..seals).map(seal).collect()
}

fn statistic(groups: &[Vec<Row>]) -> f64 {
    let groups: Vec<ByMode> = groups.iter().map(|g| lives(g)).collect();
    gray(&[groups], 0).unwrap().statistic
}

#[test]
fn with_one_mode_the_scores_are_those_of_the_log_rank_test() {
    let a: Vec<Row> = vec![(1.0, 0, 0.0, 1.0), (4.0, 0, 0.0, 2.0), (6.0, 2, 2.0, 1.0)];
    let b: Vec<Row> = vec![(4.0, 0, 0.0, 1.0), (5.0, 0, 1.0, 1.0), (9.0, 0, 0.0, 3.0)];
    let groups = [lives(&a), lives(&b)];
    let ours = gray_scores(&[groups.to_vec()], 0).unwrap();
    let plain = [groups[0].all(), groups[1].all()];
    let theirs = scores(&[plain.to_vec()], Weighting::LogRank).unwrap();
    assert!((&ours.score - &theirs.score).norm() < 1e-14);
    assert!((ours.observed[1] - 5.0).abs() < 1e-14);
    assert!((ours.expected[0] - theirs.expected[0]).abs() < 1e-14);
}

#[test]
fn counts_order_and_unit_change_nothing() {
    let mut stream = Stream::new(5, 0);
    let mut a = group(&mut stream, 20, 0.6, 1.0, 4.0);
    let b = group(&mut stream, 25, 0.4, 2.0, 4.0);
    a[3].3 = 3.0;
    let base = statistic(&[a.clone(), b.clone()]);
    let mut written = a.clone();
    written[3].3 = 1.0;
    written.extend([written[3]; 2]);
    written.reverse();
    assert!((statistic(&[written, b.clone()]) / base - 1.0).abs() < 1e-12);
    assert!((statistic(&[b.clone(), a.clone()]) / base - 1.0).abs() < 1e-12);
    let hours = |g: &[Row]| g.iter().map(|r| (24.0 * r.0, r.1, r.2, r.3)).collect();
    assert!((statistic(&[hours(&a), hours(&b)]) / base - 1.0).abs() < 1e-12);
    // The same groups twice over, held apart as strata, say twice as much.
    let both = vec![lives(&a), lives(&b)];
    let twice = gray(&[both.clone(), both], 0).unwrap().statistic;
    assert!((twice / base - 2.0).abs() < 1e-12);
}

/// Under watching alike, shuffling the groups is a test of its own.
#[test]
fn the_p_value_is_that_of_shuffled_groups() {
    let mut stream = Stream::new(20_261_126, 1);
    let a = group(&mut stream, 40, 0.65, 1.0, 5.0);
    let b = group(&mut stream, 50, 0.45, 1.0, 5.0);
    let c = group(&mut stream, 30, 0.5, 1.0, 5.0);
    let groups = [a, b, c];
    let p_value = {
        let each: Vec<ByMode> = groups.iter().map(|g| lives(g)).collect();
        gray(&[each], 0).unwrap().p_value
    };
    assert!((0.01..0.5).contains(&p_value), "{p_value}");
    let found = statistic(&groups);
    let mut all: Vec<Row> = groups.concat();
    let shuffles = 4000;
    let beyond = (0..shuffles).filter(|_| {
        for i in (1..all.len()).rev() {
            all.swap(i, stream.below(i + 1));
        }
        let shuffled = [all[..40].to_vec(), all[40..90].to_vec(), all[90..].to_vec()];
        statistic(&shuffled) >= found
    });
    let shuffled = beyond.count() as f64 / f64::from(shuffles);
    // Three standard errors of the shuffling, and as much again for the chi-square's approximation.
    let error = (p_value * (1.0 - p_value) / f64::from(shuffles)).sqrt();
    assert!(
        (shuffled - p_value).abs() < 6.0 * error,
        "{shuffled} {p_value}"
    );
}

/// Equal shares by mode 0, mode 1 three times as slow in one group: Gray's test stays at its level, and the
/// log-rank test of the mode, which asks another question, does not.
#[test]
fn it_keeps_its_level_where_other_modes_differ() {
    let samples = 2000;
    let (mut ours, mut log_rank) = (0, 0);
    for number in 0..samples {
        let mut stream = Stream::new(7, number);
        let a = group(&mut stream, 80, 0.5, 0.3, 6.0);
        let b = group(&mut stream, 60, 0.5, 3.0, 6.0);
        let both = [lives(&a), lives(&b)];
        let alone = both.each_ref().map(|g| g.cause_specific(0)).to_vec();
        let alone = scores(&[alone], Weighting::LogRank).unwrap();
        ours += usize::from(gray(&[both.to_vec()], 0).unwrap().p_value < 0.05);
        log_rank += usize::from(alone.test("log_rank").unwrap().p_value < 0.05);
    }
    let share = |n: usize| n as f64 / samples as f64;
    // The level within three standard errors of so many samples.
    assert!((share(ours) - 0.05).abs() < 0.0146, "{}", share(ours));
    assert!(share(log_rank) > 0.2, "{}", share(log_rank));
}

/// Looks half a mean life apart in one group and a quarter in the other.
#[test]
fn it_keeps_its_level_on_ages_drawn_between_looks() {
    let samples = 400;
    let mut found = 0;
    for number in 0..samples {
        let mut stream = Stream::new(11, number);
        let mut looked = |every: f64, other: f64| {
            let rows = group(&mut stream, 60, 0.5, other, 6.0).into_iter();
            let rows = rows.map(|(t, mode, ..)| {
                let look = (t / every).floor() * every;
                match mode {
                    2 => (Observation::right(look, 0.0, 1.0), None),
                    m => (Observation::interval(look, look + every, 0.0, 1.0), Some(m)),
                }
            });
            let rows = rows.map(|(observation, mode)| ModeRow {
                observation: observation.unwrap(),
                mode,
            });
            ByMode::new(rows.collect(), 2).unwrap()
        };
        let strata = [vec![looked(0.25, 0.5), looked(0.5, 1.5)]];
        assert_eq!(gray(&strata, 0), Err(NoTest::Interval));
        let drawn = gray_drawn(&strata, 0, 20, 3).unwrap();
        assert!(drawn.share > 0.0 && drawn.share < 0.5, "{}", drawn.share);
        found += usize::from(drawn.scores.test(NAME).unwrap().p_value < 0.05);
    }
    let share = found as f64 / samples as f64;
    assert!((share - 0.05).abs() < 0.033, "{share}");
}

#[test]
fn exact_ages_are_not_drawn() {
    let mut stream = Stream::new(5, 0);
    let a = lives(&group(&mut stream, 20, 0.6, 1.0, 4.0));
    let b = lives(&group(&mut stream, 25, 0.4, 2.0, 4.0));
    let strata = [vec![a, b]];
    let drawn = gray_drawn(&strata, 1, 5, 1).unwrap();
    let plain = gray(&strata, 1).unwrap();
    let again = drawn.scores.test(NAME).unwrap();
    assert!((again.statistic / plain.statistic - 1.0).abs() < 1e-9);
    assert!(drawn.share.abs() < 1e-9);
}

#[test]
fn says_why_there_is_none() {
    let running: Vec<Row> = vec![(5.0, 2, 0.0, 1.0), (6.0, 1, 0.0, 1.0)];
    let alive: Vec<Row> = vec![(3.0, 0, 0.0, 1.0), (8.0, 2, 0.0, 1.0)];
    let of = |groups: &[&[Row]]| {
        let groups = groups.iter().map(|g| lives(g)).collect();
        gray(&[groups], 0)
    };
    assert_eq!(of(&[&running, &running]), Err(NoTest::NoFailures));
    assert_eq!(of(&[&alive]), Err(NoTest::Apart));
    let again: Vec<Row> = vec![(3.0, 0, 0.0, 1.0), (9.0, 0, 5.0, 1.0)];
    assert_eq!(of(&[&alive, &again]), Err(NoTest::DiedOut));
    let many = vec![&alive[..]; MOST_GROUPS + 1];
    assert_eq!(of(&many), Err(NoTest::TooMany(MOST_GROUPS)));
}

/// Ages known only between two looks are drawn anew for every copy, in every stratum: two copies differ, so that not
/// knowing the ages costs something.
#[test]
fn two_copies_of_two_strata_are_drawn_apart() {
    let group = |shift: f64| {
        let row = |i: usize| {
            let from = shift + 7.0 * i as f64;
            ModeRow {
                observation: Observation::interval(from, from + 25.0, 0.0, 1.0).unwrap(),
                mode: Some(i % 2),
            }
        };
        ByMode::new((0..8).map(row).collect(), 2).unwrap()
    };
    let strata = [vec![group(0.0), group(6.0)], vec![group(3.0), group(14.0)]];
    for seed in 1..4 {
        let found = gray_drawn(&strata, 0, 2, seed).unwrap();
        assert!(found.share > 1e-3, "{seed}: {}", found.share);
    }
}

/// Failures at one age among n are drawn without putting back: variance (n − d)/(n − 1) of that of one by one.
#[test]
fn failures_at_one_age_vary_less() {
    assert_eq!(alike(2.0, 5.0), 0.75);
    assert_eq!(alike(5.0, 5.0), 0.0);
    for (d, n) in [(1.0, 5.0), (0.5, 3.0), (1.0, 1.0), (3.0, 1.0)] {
        assert_eq!(alike(d, n), 1.0, "{d} of {n}");
    }
}

/// What is known at an age at which seals fail: in each group at risk, failed by the mode and by others, and both curves
/// before and after it.
struct Now {
    at_risk: Vec<f64>,
    own: Vec<f64>,
    others: Vec<f64>,
    before: Vec<f64>,
    after: Vec<f64>,
    pooled: (f64, f64),
}

impl Now {
    fn h(&self, group: usize) -> f64 {
        self.at_risk[group] / self.before[group]
    }

    fn whole(&self) -> f64 {
        (0..self.own.len()).map(|g| self.h(g)).sum()
    }

    fn died(&self) -> f64 {
        self.own.iter().sum()
    }

    /// What a failure of the group takes from the scores: of its own h, and of all by their share.
    fn moved(&self, group: usize, score: usize) -> f64 {
        let own = if group == score { 1.0 } else { 0.0 };
        self.h(group) * (own - self.h(score) / self.whole())
    }
}

fn history(groups: &[Vec<Row>]) -> Vec<Now> {
    let mut ages: Vec<f64> = groups
        .iter()
        .flatten()
        .filter(|r| r.1 < 2)
        .map(|r| r.0)
        .collect();
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    let mut survival = vec![1.0; groups.len()];
    let mut pooled = 0.0;
    let mut out = vec![];
    for age in ages {
        let count = |of: &dyn Fn(&Row) -> bool| -> Vec<f64> {
            let one = |g: &Vec<Row>| g.iter().filter(|r| of(r)).map(|r| r.3).sum();
            groups.iter().map(one).collect()
        };
        let mut now = Now {
            at_risk: count(&|r| r.0 >= age),
            own: count(&|r| r.0 == age && r.1 == 0),
            others: count(&|r| r.0 == age && r.1 == 1),
            before: survival.clone(),
            after: vec![],
            pooled: (pooled, pooled),
        };
        for (g, s) in survival.iter_mut().enumerate() {
            *s *= 1.0 - (now.own[g] + now.others[g]) / now.at_risk[g];
        }
        pooled += now.died() / now.whole();
        now.after = survival.clone();
        now.pooled.1 = pooled;
        out.push(now);
    }
    out
}

/// The variance failure by failure: each moves the scores at its own age, and those at all later ages by what it does to
/// the curves there, with the incidence held equal, dF₀/(1 − F₀) of each later age.
#[test]
fn the_variance_is_that_of_all_failures_one_by_one() {
    // Several seals fail at one age by the mode, and by others.
    let a: Vec<Row> = vec![
        (1.0, 0, 0.0, 2.0),
        (2.0, 1, 0.0, 3.0),
        (3.0, 0, 0.0, 1.0),
        (4.0, 1, 0.0, 1.0),
        (5.0, 0, 0.0, 2.0),
        (7.0, 2, 0.0, 4.0),
    ];
    let b: Vec<Row> = vec![
        (1.0, 1, 0.0, 2.0),
        (3.0, 0, 0.0, 3.0),
        (3.0, 1, 0.0, 2.0),
        (6.0, 0, 0.0, 1.0),
        (8.0, 2, 0.0, 3.0),
    ];
    let groups = [a, b];
    let all = history(&groups);
    let alike = |d: f64, n: f64| if d > 1.0 { (n - d) / (n - 1.0) } else { 1.0 };
    let mut variance = DMatrix::<f64>::zeros(2, 2);
    for (at, now) in all.iter().enumerate() {
        for r in 0..2 {
            let later = DVector::from_fn(2, |i, _| {
                let ages = all.iter().skip(at + 1);
                ages.map(|s| s.moved(r, i) * s.died() / (s.whole() * (1.0 - s.pooled.0)))
                    .sum::<f64>()
            });
            let left = (1.0 - now.pooled.1) / now.after[r];
            let n = now.whole() * now.before[r];
            if now.died() > 0.0 {
                let own = DVector::from_fn(2, |i, _| now.moved(r, i)) + &later * (1.0 - left);
                // As many as F₀ expects of the group, over its h squared.
                let weight = alike(now.died(), n) * now.before[r] * now.died()
                    / (now.whole() * now.at_risk[r]);
                variance += &own * own.transpose() * weight;
            }
            let others = &later * -left;
            let (d, n) = (now.others[r], now.at_risk[r]);
            let weight = alike(d, n) * d * (now.before[r] / n).powi(2);
            variance += &others * others.transpose() * weight;
        }
    }
    let groups: Vec<ByMode> = groups.iter().map(|g| lives(g)).collect();
    let found = gray_scores(&[groups], 0).unwrap().variance;
    assert!(
        (&found - &variance).norm() < 1e-12 * variance.norm(),
        "{found} {variance}"
    );
    assert!(variance[(0, 0)] > 0.1);
}
