//! Answers held against closed forms, sums and searches of the test's own where a seal, a stock or a fleet allows them.

use crate::prices::costs;
use sealspan_care::ahead::ending::Ending;
use sealspan_care::block::{Renewals, best_block};
use sealspan_care::evaluate::evaluate;
use sealspan_care::plan::{Planner, Request, StopGap};
use sealspan_care::policy::{CarePolicy, Looks};
use sealspan_care::replacement::Goal;
use sealspan_care::returns::{ReturnsQuestion, Shipped};
use sealspan_care::seal::{FailureSign, Paths, Seal};
use sealspan_care::simulate::play;
use sealspan_care::spares::last_buy::{LastBuy, demand};
use sealspan_care::spares::lots::{Lot, fates};
use sealspan_care::spares::transfer::{Member, Together, play_together};
use sealspan_care::terms::{Event, Handling, Terms};
use sealspan_care::weigh::{Counted, Rates};
use sealspan_life::degradation::{Limit, Scale};
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;
use sealspan_numeric::special::normal_survival;

fn weibull(shape: f64, scale: f64) -> Life {
    Life::weibull(shape, scale).unwrap()
}

fn money(planned: f64, failed: f64) -> Terms {
    let event = |money: f64| Event { money, down: 0.0 };
    Terms {
        planned: event(planned),
        failed: event(failed),
        found: event(planned),
        damaged: event(planned),
        ..Terms::default()
    }
}

const THIN: Limit = Limit {
    value: 4.5,
    rising: false,
};

/// Paths whose levels scatter so much that one new seal in thirty would start past the limit, and is none of the
/// seals fitted: the share failed by an age is one integral over where a seal starts.
fn scattered() -> (Paths, impl Fn(f64) -> f64) {
    let among: (f64, f64, f64) = (0.09, 4e-4, 1e-5);
    let paths = Paths::new(THIN, Scale::Plain, (5.05, -0.009), among, 0.1).unwrap();
    let failed = move |age: f64| {
        let sd = among.0.sqrt();
        // Distances fall as levels do; rates towards the limit are greater where the distance is.
        let left = (among.2 - among.1 * among.1 / among.0).sqrt();
        let at = |d: f64| {
            let z = (d - 0.55) / sd;
            let mean = 0.009 - among.1 / among.0 * (d - 0.55);
            let density = (-0.5 * z * z).exp() / (sd * std::f64::consts::TAU.sqrt());
            density * normal_survival((d / age - mean) / left)
        };
        let part = |i: f64| integrate(at, 0.1 * i, 0.1 * (i + 1.0), 1e-13).value;
        (0..40).map(|i| part(f64::from(i))).sum::<f64>() / normal_survival(-0.55 / sd)
    };
    (paths, failed)
}

#[test]
fn seals_that_start_near_their_limit() {
    let (paths, failed) = scattered();
    for age in [40.0, 90.0, 200.0] {
        let want = failed(age);
        let seal = Seal::measured(paths);
        let policy = CarePolicy::replace_at(age);
        let got = evaluate(&seal, &policy, &money(1.0, 5.0)).unwrap();
        assert!((got.failed - want).abs() < 1e-7, "{} {want}", got.failed);
        assert!((got.failed + got.preventive - 1.0).abs() < 1e-8);
        assert!((paths.past_by(age) - want).abs() < 1e-9, "{want}");
        // Played seal by seal: level and rate go together there too.
        let played = play(&seal, &policy, &money(1.0, 5.0), 40_000, 3).unwrap();
        let error = (want * (1.0 - want) / 40_000.0).sqrt();
        assert!((played.failed - want).abs() < 4.0 * error, "{want}");
    }
    // None is past it when new, and nearly all but those that go away from it are in the end.
    assert!(paths.past_by(0.0).abs() < 1e-9);
    assert!((paths.past_by(1e7) + paths.idle() - 1.0).abs() < 1e-5);
}

/// Unseen failures: nobody notices before the age, at which those that failed are failures; with looks all seals still
/// end one way or another, and those failed come to light with the chance that a look finds them.
#[test]
fn measured_seals_that_fail_unseen() {
    let among = (0.015, 2e-5, 9e-6);
    let paths = Paths::new(THIN, Scale::Plain, (8.0, -0.0095), among, 0.2).unwrap();
    let seal = Seal {
        failure: FailureSign::Hidden,
        detection: 0.6,
        ..Seal::measured(paths)
    };
    let blind = evaluate(&seal, &CarePolicy::replace_at(400.0), &money(1.0, 5.0)).unwrap();
    let by = |age: f64| {
        normal_survival((3.5 - 0.0095 * age) / (0.015 + 4e-5 * age + 9e-6 * age * age).sqrt())
    };
    assert!((blind.failed - by(400.0)).abs() < 1e-7, "{blind:?}");
    assert!((blind.mean_service - 400.0).abs() < 1e-6);
    let policy = CarePolicy {
        looks: Looks::Every(150.0),
        ..CarePolicy::replace_at(450.0)
    };
    let looked = evaluate(&seal, &policy, &money(1.0, 5.0)).unwrap();
    let ended = looked.failed + looked.found + looked.preventive + looked.damaged;
    assert!((ended - 1.0).abs() < 1e-7, "{looked:?}");
    // Sound at the age, and failed by then.
    assert!(
        (looked.preventive - (1.0 - by(450.0))).abs() < 1e-7,
        "{looked:?}"
    );
    // Days in place: a failed seal stays until a look that finds it.
    let first = 0.6 * by(150.0);
    let second = 0.6 * (by(300.0) - first);
    let days = 150.0 + 150.0 * (1.0 - first) + 150.0 * (1.0 - first - second);
    assert!(
        (looked.mean_service / days - 1.0).abs() < 1e-7,
        "{looked:?}"
    );
}

/// A spread of nothing is widened to next to nothing, in the property's own unit and not in another.
#[test]
fn paths_without_spread_all_fail_at_one_age() {
    let limit = Limit {
        value: 0.02,
        rising: false,
    };
    let paths = Paths::new(limit, Scale::Plain, (0.03, -1e-5), (0.0, 0.0, 0.0), 1e-4).unwrap();
    assert!(paths.past_by(950.0) < 1e-9 && paths.past_by(1050.0) > 1.0 - 1e-9);
    // The covariance counts whatever the unit: of a rate that makes up for the level, all fail together.
    let wide = Limit {
        value: 0.0,
        rising: false,
    };
    let paths = Paths::new(
        wide,
        Scale::Plain,
        (1000.0, -20.0),
        (100.0, -19.0, 4.0),
        1.0,
    )
    .unwrap();
    for age in [45.0f64, 48.0, 52.0] {
        let variance = 100.0 - 38.0 * age + 4.0 * age * age;
        let want = normal_survival((1000.0 - 20.0 * age) / variance.sqrt());
        assert!((paths.past_by(age) - want).abs() < 1e-7, "{age}");
    }
}

/// Two stages without looks, seen when they leak: the mean time is that of both stages together.
#[test]
fn two_stages_are_played_as_two() {
    let seal = Seal::two_stage(weibull(2.0, 300.0), Life::exponential(80.0).unwrap());
    let played = play(
        &seal,
        &CarePolicy::run_to_failure(),
        &money(1.0, 5.0),
        40_000,
        5,
    )
    .unwrap();
    let mean = weibull(2.0, 300.0).mean() + 80.0;
    let sd = (300.0f64.powi(2) * (1.0 - std::f64::consts::FRAC_PI_4) + 6400.0).sqrt();
    assert!(
        (played.mean_cycle - mean).abs() < 4.0 * sd / 200.0,
        "{played:?}"
    );
    let request = Request::default();
    let handling = Handling {
        undetected_cost: 1.0,
        ..Handling::default()
    };
    let of = |seal: &Seal| Planner::new(seal, &costs(1.0, 5.0), &handling, request).unwrap();
    assert!(of(&seal).single_life().unwrap().is_none());
    assert!(of(&seal).opportunities(100.0).is_err());
    let single = of(&Seal::one_stage(weibull(2.0, 300.0)));
    let life = single.single_life().unwrap().unwrap();
    assert!((life.mean() / weibull(2.0, 300.0).mean() - 1.0).abs() < 1e-9);
    assert!(single.opportunities(100.0).is_ok());
    let hidden = Seal {
        failure: FailureSign::Hidden,
        ..Seal::one_stage(weibull(2.0, 300.0))
    };
    assert!(of(&hidden).opportunities(100.0).is_err());
}

/// A defect found at the age of 250 after a sound look at 180: when it began is weighed by both laws, by a sum.
#[test]
fn a_worn_seal_lasts_by_a_sum_over_when_it_began() {
    let (onset, delay) = (weibull(2.5, 260.0), weibull(1.8, 70.0));
    let seal = Seal::two_stage(onset.clone(), delay.clone());
    let gap = StopGap {
        age: 250.0,
        wait: 14.0,
        sound_at: 180.0,
        sector: None,
    };
    let (mut alive, mut lasting) = (0.0, 0.0);
    for i in 0..20_000 {
        let began = 180.0 + 70.0 * (f64::from(i) + 0.5) / 20_000.0;
        let weight = onset.density(began);
        alive += weight * delay.survival(250.0 - began);
        lasting += weight * delay.survival(264.0 - began);
    }
    let got = gap.answer(&seal).unwrap();
    assert!((got.as_it_lies - lasting / alive).abs() < 1e-6, "{got:?}");
    let ring = Seal::one_stage(weibull(2.5, 260.0))
        .with_severities(&[2.0, 1.0, 1.0])
        .unwrap();
    let asked = |seal: &Seal, sector| StopGap { sector, ..gap }.answer(seal);
    assert!(asked(&ring, Some(3)).is_ok() && asked(&ring, Some(4)).is_err());
    assert!(asked(&seal, Some(1)).is_err());
}

/// Rates by renewal reward at every multiple of a step that is not 1, of lives that are stretched.
#[test]
fn the_best_age_among_multiples_of_a_step() {
    for (step, stretch, failed) in [(0.5, 1.0, 2.0), (7.0, 1.6, 5.0), (3.0, 0.4, 8.0)] {
        let life = weibull(2.5, 60.0);
        let ending = Ending::new(&life, None).unwrap().stretched(stretch);
        let got = ending.best_age(step, failed, 1.0).unwrap();
        let alive = |t: f64| life.survival(t / stretch);
        let (mut time, mut best) = (0.0, (0.0, f64::INFINITY));
        for i in 1..400 {
            let age = step * f64::from(i);
            time += 0.5 * step * (alive(age - step) + alive(age));
            let rate = (failed * (1.0 - alive(age)) + alive(age)) / time;
            if rate < best.1 {
                best = (age, rate);
            }
        }
        assert!((got - best.0).abs() < 1e-9, "{got} {best:?}");
    }
    // Without memory nothing is gained, by the thousandth that an age must be worth.
    let lasting = Ending::new(&Life::exponential(60.0).unwrap(), None).unwrap();
    assert_eq!(lasting.best_age(0.5, 5.0, 1.0), None);
}

/// Blocks of a life that is not counted in its own scale: no other block is cheaper, and what is saved is by
/// comparison with a failure every mean life.
#[test]
fn no_block_is_cheaper_than_the_best() {
    let life = weibull(3.0, 250.0);
    let answer = best_block(&life, &costs(100.0, 900.0)).unwrap();
    let renewals = Renewals::new(&life, 600.0).unwrap();
    let rate = |every: f64| (100.0 + 900.0 * renewals.mean(every)) / every;
    let best = answer.every.unwrap();
    assert!((rate(best) / answer.cost_rate - 1.0).abs() < 1e-9);
    for i in 1..300 {
        assert!(rate(2.0 * f64::from(i)) >= answer.cost_rate * (1.0 - 1e-9));
    }
    let run = 900.0 / life.mean();
    assert!((answer.saving - (1.0 - answer.cost_rate / run)).abs() < 1e-9);
}

/// Seals that come back are a binomial number: its quantiles, by its own sum.
#[test]
fn returns_lie_between_binomial_quantiles() {
    let life = weibull(1.5, 900.0);
    let question = ReturnsQuestion {
        life: &life,
        draws: &[],
        horizon: 400.0,
        warranty: None,
        claimed: 1.0,
        cost: 10.0,
        confidence: 0.8,
        reserve_chance: 0.9,
    };
    let batch = Shipped {
        batch: "a".into(),
        quantity: 60,
        age: 300.0,
        returned: 10,
    };
    let answer = question.answer(&[batch]).unwrap();
    let p = 1.0 - life.survival(700.0) / life.survival(300.0);
    let mut mass = (1.0 - p).powi(50);
    let mut below = vec![];
    for k in 0..=50 {
        below.push(below.last().unwrap_or(&0.0) + mass);
        mass *= (50 - k) as f64 / (k + 1) as f64 * p / (1.0 - p);
    }
    let quantile = |share: f64| below.iter().position(|b| *b >= share).unwrap();
    let one = &answer.batches[0];
    assert!((one.expected - 50.0 * p).abs() < 1e-9);
    assert_eq!((one.lower, one.upper), (quantile(0.1), quantile(0.9)));
    assert!((answer.reserve - 10.0 * quantile(0.9) as f64).abs() < 1e-9);
}

/// Where a shortage is so dear that the best quantity lies beyond all but a ten-thousandth of the demand, it and one
/// more are still among the quantities.
#[test]
fn the_last_buy_is_the_cheapest_of_its_neighbours() {
    for short_cost in [40.0, 400_000.0] {
        let last = LastBuy {
            short_cost,
            left_cost: 12.0,
        };
        let answer = last.answer(&demand(9.0, 0.0).unwrap()).unwrap();
        let poisson = |k: usize| (1..=k).fold((-9f64).exp(), |p, i| p * 9.0 / i as f64);
        let enough = |n: usize| (0..=n).map(poisson).sum::<f64>();
        let want = (0..).find(|n| enough(*n) >= short_cost / (short_cost + 12.0));
        assert_eq!(Some(answer.best.quantity), want);
        let last = answer.quantities.last().unwrap();
        assert!(last.quantity > answer.best.quantity && last.enough > 0.999);
        assert!(answer.quantities.iter().all(|q| q.cost >= answer.best.cost));
    }
}

/// Seals are written off when fewer are asked for by the last day than lie there that go by then.
#[test]
fn a_lot_is_written_off_when_too_few_are_asked_for() {
    let lot = |days_left, count| Lot { days_left, count };
    let found = fates(&[lot(40.0, 2), lot(90.0, 3)], 0.05).unwrap();
    let poisson = |mean: f64, k: i32| (1..=k).fold((-mean).exp(), |p, i| p * mean / f64::from(i));
    let first = poisson(2.0, 0) + poisson(2.0, 1);
    assert!((found[0].chance - first).abs() < 1e-12, "{found:?}");
    // What is left of the first lot has gone by its day, whether asked for or not.
    let second: f64 = (0..60)
        .flat_map(|a| (0..60).map(move |b| (a, b)))
        .filter(|(a, b)| a.max(&2) + b < 5)
        .map(|(a, b)| poisson(2.0, a) * poisson(2.5, b))
        .sum();
    assert!((found[1].chance - second).abs() < 1e-12, "{found:?}");
}

/// A site without seals next to one with plenty: every demand of its own is met by a transfer, and waits for its way.
#[test]
fn a_site_without_seals_lives_on_transfers() {
    let member = |stock| Member {
        demand_rate: 0.1,
        stock,
    };
    let rules = Together {
        lead_time: 20.0,
        transfer_time: Some(3.0),
        urgent: false,
    };
    let got = play_together(&[member(0), member(60)], rules, 40_000, 4).unwrap();
    let near = |seen: sealspan_care::spares::play::Seen, want: f64| {
        assert!(
            (seen.value - want).abs() < 5.0 * seen.error,
            "{seen:?} {want}"
        );
        assert!(seen.error < 0.05 * want, "{seen:?}");
    };
    near(got.transfers, 0.1);
    near(got.transferred, 0.5);
    // As many under way as come in three days.
    near(got.waiting, 0.3);
}

/// Events counted over a time: each rate has the variance of a Poisson count.
#[test]
fn money_counted_is_as_sure_as_its_counts() {
    let terms = Terms {
        look: 7.0,
        ..money(90.0, 2500.0)
    };
    let counted = Counted {
        rates: Rates {
            planned: 0.02,
            failed: 0.003,
            looks: 0.05,
            ..Rates::default()
        },
        time: 4000.0,
    };
    let (mean, error) = counted.measure(&terms, Goal::Cost);
    let events = [(80.0f64, 90.0), (12.0, 2500.0), (200.0, 7.0)];
    let total: f64 = events.iter().map(|(n, price)| n * price).sum();
    let squares: f64 = events.iter().map(|(n, price)| n * price * price).sum();
    assert!((mean - total / 4000.0).abs() < 1e-9);
    assert!((error - squares.sqrt() / 4000.0).abs() < 1e-9, "{error}");
}
