//! Replacement over a stated time: closed forms, the renewal function, and play.

use sealspan_care::block::Renewals;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::horizon::{best_over, expected_cost};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

const STATED: f64 = 2e-6;

fn costs() -> Costs {
    let prices = Prices {
        planned_cost: 100.0,
        failure_cost: 700.0,
        ..Prices::default()
    };
    Costs::new(prices, Clock::Days).unwrap()
}

/// Without a replacement age the money is the failure cost times the renewal function.
#[test]
fn on_failure_only_is_the_renewal_function() {
    for life in [
        Life::exponential(300.0).unwrap(),
        Life::weibull(2.5, 400.0).unwrap(),
        Life::lognormal(5.5, 0.6).unwrap(),
    ] {
        for horizon in [150.0, 900.0] {
            let want = 700.0 * Renewals::new(&life, horizon).unwrap().mean(horizon);
            let got = expected_cost(&life, &costs(), None, horizon).unwrap();
            assert!(
                (got / want - 1.0).abs() < STATED,
                "{life:?} {horizon}: {got} {want}"
            );
        }
    }
}

/// Played seal by seal over the horizon, within four standard errors; seeds fixed.
#[test]
fn agrees_with_play() {
    let life = Life::weibull(2.5, 400.0).unwrap();
    for (case, (age, horizon)) in [(220.0, 1000.0), (220.0, 1100.0), (350.0, 360.0)]
        .into_iter()
        .enumerate()
    {
        let mut stream = Stream::new(9, case as u64);
        let n = 60_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n {
            let (mut clock, mut money) = (0.0, 0.0);
            loop {
                let fails = life.sample(stream.uniform());
                let (lasts, price) = if fails <= age {
                    (fails, 700.0)
                } else {
                    (age, 100.0)
                };
                clock += lasts;
                if clock > horizon {
                    break;
                }
                money += price;
            }
            sum += money;
            squares += money * money;
        }
        let mean = sum / f64::from(n);
        let error = ((squares / f64::from(n) - mean * mean) / f64::from(n)).sqrt();
        let want = expected_cost(&life, &costs(), Some(age), horizon).unwrap();
        assert!(
            (mean - want).abs() < 4.0 * error,
            "{age} {horizon}: {mean} {want} {error}"
        );
    }
}

/// Over many lives the best age is that of the long run, and the money its rate; over less than the
/// long-run age nothing is replaced early.
#[test]
fn long_and_short_horizons() {
    let life = Life::weibull(2.5, 400.0).unwrap();
    let best = Evaluator::new(&life, &costs(), Goal::Cost)
        .unwrap()
        .best()
        .unwrap();
    let long = best_over(&life, &costs(), 9000.0).unwrap();
    assert!(
        (long.age.unwrap() / best.age.unwrap() - 1.0).abs() < 0.05,
        "{long:?}"
    );
    assert!((long.expected_cost / 9000.0 / best.cost_rate - 1.0).abs() < 0.05);
    let short = best_over(&life, &costs(), 100.0).unwrap();
    assert_eq!(short.age, None);
    assert!(
        expected_cost(&life, &costs(), None, 1e6)
            .unwrap_err()
            .is_input()
    );
}
