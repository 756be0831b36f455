//! What the seals now running will come to: forecasts of failures, and months ahead.

use super::drawn;
use super::samples::near;
use proptest::prelude::*;
use sealspan_care::ahead::ending::Ending;
use sealspan_care::ahead::first::first_failures;
use sealspan_care::ahead::fleet::{Cohort, Fleet, Joining};
use sealspan_care::ahead::months::{Ahead, Cases, Months};
use sealspan_care::forecast::{Forecast, Outlook, Running};
use sealspan_life::life::Life;

fn life() -> impl Strategy<Value = Life> {
    let weibull = (0.6..6.0_f64, 60.0..5e3_f64).prop_map(|(b, n)| Life::weibull(b, n).unwrap());
    let lognormal = (4.0..8.0_f64, 0.2..1.5_f64).prop_map(|(m, s)| Life::lognormal(m, s).unwrap());
    prop_oneof![weibull, lognormal]
}

fn running() -> impl Strategy<Value = Vec<Running>> {
    let counts = prop::sample::select(vec![2_usize, 20, 300]);
    let one = (0.0..1500.0_f64, counts).prop_flat_map(|(age, most)| (Just(age), 0..most));
    prop::collection::vec(one.prop_map(|(age, count)| Running { age, count }), 1..12)
        .prop_filter("some run", |list| list.iter().any(|r| r.count > 0))
}

fn outlook<'a>(life: &'a Life, running: &'a [Running], horizon: f64) -> Outlook<'a> {
    Outlook {
        running,
        life,
        draws: &[],
        horizon,
        periods: 4,
        confidence: 0.9,
        oldest_seen: None,
        with_renewals: false,
    }
}

fn forecast(life: &Life, running: &[Running], horizon: f64) -> Forecast {
    outlook(life, running, horizon).forecast().unwrap()
}

fn total(running: &[Running]) -> f64 {
    running.iter().map(|r| r.count as f64).sum()
}

proptest! {
    #![proptest_config(drawn(100))]

    #[test]
    fn a_forecast_is_the_sum_of_its_groups(life in life(), running in running(), split in 0..12_usize, horizon in 1.0..2000.0_f64) {
        let all = forecast(&life, &running, horizon);
        let (first, second) = running.split_at(split % running.len());
        prop_assume!(total(first) > 0.0 && total(second) > 0.0);
        let [first, second] = [first, second].map(|part| forecast(&life, part, horizon));
        prop_assert!(near(first.expected + second.expected, all.expected, 1e-12));
        let sum = first.counts.plus(&second.counts);
        for k in sum.first()..=sum.last() {
            prop_assert!((sum.probability(k) - all.counts.probability(k)).abs() < 1e-12, "{k}");
        }
        prop_assert!(near(all.counts.mean(), all.expected, 1e-9));
        // Each seal fails as its life says of one that came to its age.
        let chance = |age: f64| 1.0 - life.survival(age + horizon) / life.survival(age);
        let alive = running.iter().all(|r| life.survival(r.age) > 1e-200);
        let want: f64 = running.iter().map(|r| r.count as f64 * chance(r.age)).sum();
        prop_assert!(!alive || (all.expected - want).abs() <= 1e-12 * total(&running) * 4.0, "{} {want}", all.expected);
    }

    #[test]
    fn failures_grow_with_the_horizon_up_to_all(life in life(), running in running(), horizon in 1.0..2000.0_f64) {
        let found = forecast(&life, &running, horizon);
        let most = total(&running);
        let mut before = (0.0, 0, 0);
        for period in &found.by_period {
            prop_assert!(period.expected >= before.0 && period.lower >= before.1 && period.upper >= before.2, "{period:?}");
            prop_assert!(period.expected <= most && period.upper as f64 <= most, "{period:?}");
            // Ends are whole numbers.
            prop_assert!(period.lower as f64 <= period.expected.ceil() && period.expected.floor() <= period.upper as f64, "{period:?}");
            before = (period.expected, period.lower, period.upper);
        }
        prop_assert_eq!(before, (found.expected, found.lower, found.upper));
        let pmf = found.pmf.unwrap();
        prop_assert!(pmf.iter().all(|p| (0.0..=1.0).contains(p)));
        prop_assert!((pmf.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_horizon_is_one_part_after_another(life in life(), age in 0.0..1000.0_f64, first in 1.0..500.0_f64, second in 1.0..500.0_f64) {
        let one = |age: f64, horizon: f64| forecast(&life, &[Running { age, count: 1 }], horizon).expected;
        let left = (1.0 - one(age, first)) * (1.0 - one(age + first, second));
        let whole = 1.0 - one(age, first + second);
        prop_assert!((left - whole).abs() < 1e-12, "{left} {whole}");
    }

    #[test]
    fn replacements_that_fail_again_only_add(life in life(), running in running(), horizon in 1.0..300.0_f64) {
        let asked = Outlook { with_renewals: true, ..outlook(&life, &running, horizon) };
        let found = asked.forecast().unwrap();
        if let Some(renewals) = found.renewals {
            prop_assert!(renewals.expected >= found.expected * (1.0 - 1e-9), "{renewals:?} {}", found.expected);
            prop_assert!(renewals.lower >= found.plug_in.lower && renewals.upper >= found.plug_in.upper, "{renewals:?} {:?}", found.plug_in);
        }
    }
}

fn months(ending: &Ending, fleet: &Fleet, periods: usize) -> Option<(Cases, Months)> {
    let ahead = Ahead {
        ending,
        draws: &[],
        fleet,
        period: 30.0,
        periods,
        confidence: 0.9,
        batch_spread: 0.0,
        seed: 1,
    };
    Some((ahead.cases().ok()?, ahead.answer().ok()?))
}

proptest! {
    #![proptest_config(drawn(60))]

    #[test]
    fn months_add_up_over_time_and_fleets(
        life in life(),
        other in prop::option::of(life()),
        replace_at in prop::option::of(100.0..2000.0_f64),
        here in running(),
        there in running(),
        joins in prop::option::of(0.0..200.0_f64),
    ) {
        let mut ending = Ending::new(&life, replace_at).unwrap();
        ending.others.extend(other.map(Into::into));
        let mut fleets = [Fleet::of(&here), Fleet::of(&there)];
        fleets[1].joining.extend(joins.map(|at| Joining { at, positions: 5.0 }));
        let both = Fleet { batches: fleets.iter().flat_map(|f| f.batches.clone()).collect(), joining: fleets[1].joining.clone(), ..Fleet::default() };
        let Some((sum, found)) = months(&ending, &both, 8) else { return Ok(()) };
        let parts = fleets.map(|fleet| months(&ending, &fleet, 8).unwrap().0);
        let added = Cases::sum(&parts);
        for (a, b) in sum.best.iter().zip(&added.best) {
            for (a, b) in a.counts.iter().zip(&b.counts) {
                prop_assert!(near(a.mean, b.mean, 1e-9) && (a.variance - b.variance).abs() <= 1e-9 * a.mean.max(1.0), "{a:?} {b:?}");
            }
        }
        let mut gone = [0.0; 3];
        for month in &found.months {
            let numbers = [month.unplanned, month.planned, month.all];
            for (gone, number) in gone.iter_mut().zip(numbers) {
                prop_assert!(number.expected >= 0.0 && number.lower <= number.upper, "{number:?}");
                *gone += number.expected;
            }
            prop_assert!(near(month.unplanned.expected + month.planned.expected, month.all.expected, 1e-9));
        }
        let all = [found.total.unplanned, found.total.planned, found.total.all];
        for (gone, whole) in gone.iter().zip(all) {
            prop_assert!(near(*gone, whole.expected, 1e-9), "{gone} {whole:?}");
        }
        prop_assert_eq!(found.months.iter().map(|m| m.joining).sum::<f64>(), found.total.joining);
    }

    #[test]
    fn first_failures_are_the_forecast_and_no_more_than_months_ahead(life in life(), running in running(), horizon in 1.0..2000.0_f64) {
        let ending = Ending::new(&life, None).unwrap();
        let cohorts: Vec<Cohort> = running.iter().map(|r| Cohort { age: r.age, count: r.count as f64 }).collect();
        let (counts, first) = first_failures(&ending, &[], &cohorts, horizon).unwrap();
        let found = forecast(&life, &running, horizon);
        prop_assume!(running.iter().all(|r| life.survival(r.age) > 1e-200));
        prop_assert!((first - found.expected).abs() <= 1e-9 * total(&running), "{first} {}", found.expected);
        prop_assert!((counts.mean() - first).abs() <= 1e-6 * first.max(1.0), "{} {first}", counts.mean());
        // Those that follow them fail too.
        if let Some((_, ahead)) = months(&ending, &Fleet::of(&running), 6) {
            let first = forecast(&life, &running, 180.0).expected;
            prop_assert!(ahead.total.unplanned.expected >= first * (1.0 - 1e-9), "{ahead:?} {first}");
        }
    }

    #[test]
    fn longer_lives_fail_later(life in life(), running in running(), horizon in 1.0..2000.0_f64, factor in 1.0..3.0_f64) {
        // Of seals all new.
        let cohorts = [Cohort { age: 0.0, count: total(&running) }];
        let ending = Ending::new(&life, None).unwrap();
        let of = |ending: &Ending| first_failures(ending, &[], &cohorts, horizon).unwrap().1;
        prop_assert!(of(&ending.stretched(factor)) <= of(&ending) + 1e-12);
    }
}
