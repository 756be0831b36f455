//! Groups of seals compared, places compared, and replacements that recur.

use super::drawn;
use super::samples::{Kind, Row, Watched, near, rows, sample};
use proptest::prelude::*;
use sealspan_life::compare::{Test, by_law, factor_names};
use sealspan_life::competing::gray::gray;
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_life::hazards::{Prepared, Ties, WatchedLife, fit, frailty};
use sealspan_life::laws;
use sealspan_life::log_rank::{NoTest, Weighting, log_rank, stratified, trend};
use sealspan_life::recurrence::mean_cumulative::mean_cumulative;
use sealspan_life::recurrence::system::History;
use sealspan_records::{Observation, Sample};

/// Rows by the group each belongs to.
fn groups() -> impl Strategy<Value = Vec<Vec<Row>>> {
    let places = prop::collection::vec(any::<usize>(), 60);
    (2..5_usize, rows(60, Watched::EXACT), places).prop_map(|(count, rows, places)| {
        let mut out = vec![vec![]; count];
        for (row, place) in rows.into_iter().zip(places) {
            out[place % count].push(row);
        }
        out
    })
}

fn samples(groups: &[Vec<Row>], unit: f64) -> Vec<Sample> {
    groups.iter().map(|g| sample(g, unit)).collect()
}

fn weighting() -> impl Strategy<Value = Weighting> {
    prop::sample::select(Weighting::ALL.to_vec())
}

/// A statistic from 0 and its probability, or a refusal in words.
fn told<E: std::fmt::Display>(test: Result<Test, E>) -> Result<Option<Test>, TestCaseError> {
    match test {
        Ok(test) => {
            prop_assert!(test.statistic >= 0.0 && test.df >= 1.0, "{test:?}");
            prop_assert!((0.0..=1.0).contains(&test.p_value), "{test:?}");
            Ok(Some(test))
        }
        Err(why) => {
            prop_assert!(!why.to_string().is_empty());
            Ok(None)
        }
    }
}

/// The same test but for rounding.
fn same(a: Option<Test>, b: Option<Test>) -> Result<(), TestCaseError> {
    prop_assert_eq!(a.as_ref().map(|t| t.df), b.as_ref().map(|t| t.df));
    if let (Some(a), Some(b)) = (a, b) {
        let off = (a.statistic - b.statistic).abs();
        prop_assert!(off <= 1e-9 * (1.0 + a.statistic), "{a:?} {b:?}");
    }
    Ok(())
}

proptest! {
    #![proptest_config(drawn(200))]

    #[test]
    fn groups_may_be_listed_and_counted_in_any_way(groups in groups(), weighting in weighting(), turn in 1..4_usize) {
        let plain = told(log_rank(&samples(&groups, 1.0), weighting))?;
        let mut turned = groups.clone();
        turned.rotate_left(turn % groups.len());
        turned.iter_mut().for_each(|g| g.reverse());
        same(plain.clone(), told(log_rank(&samples(&turned, 1.0), weighting))?)?;
        let single: Vec<Sample> = groups.iter().map(|g| Sample::new(g.iter().flat_map(|r| r.apart(1.0)).collect())).collect();
        same(plain.clone(), told(log_rank(&single, weighting))?)?;
        prop_assert_eq!(told(log_rank(&samples(&groups, 24.0), weighting))?, plain);
    }

    #[test]
    fn groups_alike_are_not_told_apart(rows in rows(60, Watched::EXACT), counts in prop::collection::vec(1..4_u32, 2..5), weighting in weighting()) {
        // So many times the same seals in each.
        let of = |times: &u32| -> Vec<Row> { rows.iter().map(|r| Row { count: times * r.count, ..*r }).collect() };
        let groups: Vec<Vec<Row>> = counts.iter().map(of).collect();
        if let Some(test) = told(log_rank(&samples(&groups, 1.0), weighting))? {
            prop_assert!(test.statistic < 1e-9 && test.p_value > 0.9, "{test:?}");
            prop_assert_eq!(test.df, counts.len() as f64 - 1.0);
        }
    }

    #[test]
    fn strata_alike_add_up(groups in groups(), weighting in weighting(), strata in 2..5_usize) {
        let one = told(log_rank(&samples(&groups, 1.0), weighting))?;
        let many = told(stratified(&vec![samples(&groups, 1.0); strata], weighting))?;
        let more = one.map(|t| Test { statistic: strata as f64 * t.statistic, ..t });
        same(more, many)?;
    }

    #[test]
    fn two_groups_have_no_other_trend(groups in groups(), weighting in weighting(), from in -5.0..5.0_f64, step in 0.1..9.0_f64) {
        let two = samples(&groups[..2], 1.0);
        let plain = told(log_rank(&two, weighting))?;
        same(plain, told(trend(&[two], &[from, from + step], weighting))?)?;
    }

    #[test]
    fn a_test_of_one_mode_hangs_on_no_name_or_unit(groups in groups(), modes in prop::collection::vec(0..2_usize, 60)) {
        let lives = |groups: &[Vec<Row>], unit: f64| -> Vec<ByMode> {
            let of = |g: &Vec<Row>| {
                let row = |(row, mode): (&Row, &usize)| {
                    let observation = row.seen(unit, f64::from(row.count))?;
                    Some(ModeRow { observation, mode: observation.ended().then_some(*mode) })
                };
                ByMode::new(g.iter().zip(&modes).filter_map(row).collect(), 2).unwrap()
            };
            groups.iter().map(of).collect()
        };
        let plain = told(gray(&[lives(&groups, 1.0)], 0))?;
        prop_assert_eq!(&told(gray(&[lives(&groups, 24.0)], 0))?, &plain);
        let mut turned = groups.clone();
        turned.rotate_left(1);
        same(plain, told(gray(&[lives(&turned, 1.0)], 0))?)?;
        let alike = vec![groups[0].clone(); 3];
        if let Some(test) = told(gray(&[lives(&alike, 1.0)], 0))? {
            prop_assert!(test.statistic < 1e-9, "{test:?}");
        }
    }

    #[test]
    fn without_ties_the_score_of_proportional_hazards_is_the_log_rank_test(
        groups in groups(),
        seed in any::<u64>(),
    ) {
        // Every seal at an age of its own: later ones of an age by less than a day.
        let part = |i: usize| (seed.wrapping_mul(i as u64 * 2 + 1) >> 12) as f64 / (1_u64 << 52) as f64;
        let mut lives = vec![];
        for (group, rows) in groups.iter().enumerate() {
            for row in rows {
                let age = f64::from(row.age) + part(lives.len());
                let entry = f64::from(row.entry.min(row.age / 2));
                let seen = match row.kind {
                    Kind::Failed => Observation::exact(age, entry, 1.0),
                    _ => Observation::right(age, entry, 1.0),
                };
                lives.push(WatchedLife { observation: seen.unwrap(), design: group, stratum: 0, cluster: 0 });
            }
        }
        let count = groups.len();
        let names: Vec<String> = (1..count).map(|g| format!("group {g}")).collect();
        let design: Vec<Vec<f64>> = (0..count).map(|g| (1..count).map(|at| f64::from(u8::from(at == g))).collect()).collect();
        let of = |group| Sample::new(lives.iter().filter(|l| l.design == group).map(|l| l.observation).collect());
        let plain = told(log_rank(&(0..count).map(of).collect::<Vec<_>>(), Weighting::LogRank))?;
        for ties in [Ties::Efron, Ties::Breslow] {
            let fitted = Prepared::new(&names, &design, &lives).and_then(|data| fit(data, ties));
            match fitted {
                Ok(fitted) => {
                    for test in [&fitted.ratio_test, &fitted.wald_test] {
                        told(Ok::<_, NoTest>(test.clone()))?;
                    }
                    same(plain.clone(), Some(fitted.score_test))?;
                }
                Err(why) => prop_assert!(!why.to_string().is_empty()),
            }
        }
    }
}

proptest! {
    #![proptest_config(drawn(60))]

    #[test]
    fn a_law_tells_groups_alike_as_little(rows in rows(30, Watched::FROM_NEW), count in 2..4_usize, which in 0..3_usize) {
        let family = laws::by_name(["weibull", "lognormal", "loglogistic"][which]).unwrap();
        let names = factor_names("kind", &(0..count).map(|g| g.to_string()).collect::<Vec<_>>());
        if let Ok(found) = by_law(family, &names, &vec![sample(&rows, 1.0); count]) {
            for test in found.common_shape.into_iter().chain([found.common_life]) {
                prop_assert!(test.statistic < 1e-6 && test.p_value > 0.99, "{test:?}");
            }
        }
    }

    #[test]
    fn a_law_compares_groups_by_any_name_and_unit(groups in groups(), which in 0..3_usize) {
        let family = laws::by_name(["weibull", "lognormal", "loglogistic"][which]).unwrap();
        let names = factor_names("kind", &(0..groups.len()).map(|g| g.to_string()).collect::<Vec<_>>());
        let of = |groups: &[Vec<Row>], unit| {
            let found = by_law(family, &names, &samples(groups, unit)).ok();
            found.map(|f| (f.common_life, f.common_shape))
        };
        let plain = of(&groups, 1.0);
        let mut turned = groups.clone();
        turned.rotate_left(1);
        for other in [of(&turned, 1.0), of(&groups, 24.0)] {
            prop_assert_eq!(plain.is_some(), other.is_some());
            if let (Some((life, shape)), Some((other_life, other_shape))) = (plain.clone(), other) {
                for (a, b) in [(Some(life), Some(other_life)), (shape, other_shape)] {
                    prop_assert_eq!(a.is_some(), b.is_some());
                    if let (Some(a), Some(b)) = (a, b) {
                        told(Ok::<_, NoTest>(a.clone()))?;
                        prop_assert!((a.statistic - b.statistic).abs() < 1e-6, "{a:?} {b:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn assets_with_one_seal_each_tell_no_frailty(groups in groups()) {
        let mut lives = vec![];
        for (group, row) in groups.iter().enumerate().flat_map(|(g, rows)| rows.iter().map(move |r| (g, r))) {
            let kind = if row.kind == Kind::Failed { Kind::Failed } else { Kind::Running };
            let observation = Row { kind, entry: 0, ..*row }.seen(1.0, 1.0).unwrap();
            lives.push(WatchedLife { observation, design: group.min(1), stratum: 0, cluster: lives.len() });
        }
        let fitted = |lives: &[WatchedLife]| {
            let data = Prepared::new(&["group".to_owned()], &[vec![0.0], vec![1.0]], lives);
            data.and_then(|data| fit(data, Ties::Efron))
        };
        if let Ok(found) = fitted(&lives) {
            let why = frailty(&found, 0.9).map(|f| f.theta).unwrap_err();
            prop_assert!(why.to_string().contains("clusters"), "{why}");
        }
        // Three seals an asset.
        lives.iter_mut().for_each(|l| l.cluster /= 3);
        if let Ok(found) = fitted(&lives)
            && let Ok(shared) = frailty(&found, 0.9)
        {
            prop_assert!(shared.theta >= 0.0 && shared.theta.is_finite());
            prop_assert!(shared.log_likelihood >= shared.log_likelihood_null - 1e-9);
            prop_assert!((0.0..=1.0).contains(&shared.test.p_value));
            let (lower, upper) = shared.interval;
            prop_assert!(lower <= shared.theta && upper.is_none_or(|u| shared.theta <= u), "{shared:?}");
        }
    }
}

/// Positions, each watched from a day to a day with events on days between.
fn positions() -> impl Strategy<Value = Vec<(u32, u32, Vec<u32>)>> {
    let days = prop::sample::select(vec![10_u32, 1000]);
    days.prop_flat_map(|days| {
        let events = prop::collection::vec(0..days, 0..8);
        let one = (0..days, 1..=days, events).prop_map(|(from, length, events)| {
            let inside = |day: u32| from + 1 + day % length;
            (
                from,
                from + length,
                events.into_iter().map(inside).collect(),
            )
        });
        prop::collection::vec(one, 1..20)
    })
}

fn histories(positions: &[(u32, u32, Vec<u32>)], unit: f64) -> Vec<History> {
    let t = |day: u32| unit * f64::from(day);
    let one = |(from, to, events): &(u32, u32, Vec<u32>)| {
        History::new(t(*from), t(*to), events.iter().map(|e| t(*e)).collect()).unwrap()
    };
    positions.iter().map(one).collect()
}

proptest! {
    #![proptest_config(drawn(200))]

    #[test]
    fn the_mean_number_of_events_never_falls(positions in positions()) {
        let found = mean_cumulative(&histories(&positions, 1.0));
        prop_assert!(found.steps.is_sorted_by(|a, b| a.mean < b.mean && a.naive < b.naive && a.time < b.time));
        for step in &found.steps {
            let (lower, upper) = step.interval(0.9);
            prop_assert!(step.robust >= 0.0 && lower <= step.mean && step.mean <= upper, "{step:?}");
        }
        let hours = mean_cumulative(&histories(&positions, 24.0));
        let plain = |s: &sealspan_life::recurrence::mean_cumulative::Step, unit: f64| (s.time / unit, s.mean, s.robust, s.naive);
        let (a, b): (Vec<_>, Vec<_>) = (found.steps.iter().map(|s| plain(s, 1.0)).collect(), hours.steps.iter().map(|s| plain(s, 24.0)).collect());
        prop_assert_eq!(a, b);
    }

    #[test]
    fn of_positions_watched_throughout_it_is_events_over_positions(positions in positions(), day in 0..2000_u32) {
        let throughout: Vec<_> = positions.iter().map(|(_, _, events)| (0, 2000, events.clone())).collect();
        let found = mean_cumulative(&histories(&throughout, 1.0));
        let events = throughout.iter().flat_map(|p| &p.2).filter(|e| **e <= day).count();
        let want = events as f64 / throughout.len() as f64;
        prop_assert!(near(found.at(f64::from(day)), want, 1e-12), "{} {want}", found.at(f64::from(day)));
        // Then its variance is that of a mean: squares about the mean over the square of the number.
        let own = throughout.iter().map(|p| p.2.iter().filter(|e| **e <= day).count() as f64);
        let squares: f64 = own.map(|n| (n - want).powi(2)).sum();
        let variance = squares / (throughout.len() as f64).powi(2);
        prop_assert!((found.variance(f64::from(day)) - variance).abs() < 1e-12);
    }
}
