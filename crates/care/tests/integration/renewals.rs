//! Replacements of replacements: against Poisson counts, Erlang lives and a played fleet.

use crate::lots::LOTS;
use sealspan_care::block::{Renewals, local_blocks};
use sealspan_care::counts::Counts;
use sealspan_care::fleet_stock::fleet_stock;
use sealspan_care::forecast::{Outlook, Running};
use sealspan_care::renewals::replacements;
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_care::successes::Effort;
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;

fn all(life: &Life, age: f64, count: usize, horizon: f64, steps: usize) -> Counts {
    replacements(
        life,
        &[Running { age, count }],
        horizon,
        steps,
        Effort::CAREFUL,
    )
    .unwrap()
}

/// A constant rate gives a Poisson count at any age; the grid's error falls as the square of its step.
#[test]
fn exponential_lives_give_poisson_counts() {
    let life = Life::exponential(100.0).unwrap();
    let gap = |steps| {
        let counts = all(&life, 37.0, 10, 50.0, steps);
        let (mut p, mut gap) = ((-5.0_f64).exp(), 0.0_f64);
        for k in 0..30 {
            gap = gap.max((counts.probability(k) - p).abs());
            p *= 5.0 / (k as f64 + 1.0);
        }
        gap
    };
    let (coarse, fine) = (gap(100), gap(400));
    assert!(fine < 1e-6, "{fine}");
    assert!((coarse / fine - 16.0).abs() < 1.0, "{coarse} to {fine}");
}

/// Steep lives over two characteristic lives, where a power series loses every digit.
#[test]
fn steep_lives_against_a_played_fleet() {
    let life = Life::weibull(4.0, 100.0).unwrap();
    let counts = all(&life, 60.0, 1, 200.0, 400);
    let played = 200_000;
    let mut seen = [0.0; 8];
    let mut stream = Stream::new(9, 0);
    let start = life.survival(60.0);
    for _ in 0..played {
        let mut day = life.quantile(1.0 - start * stream.uniform()) - 60.0;
        let mut failures = 0;
        while day <= 200.0 {
            failures += 1;
            day += life.sample(stream.uniform());
        }
        seen[failures.min(7)] += 1.0;
    }
    for (k, n) in seen.iter().enumerate().take(6) {
        let p = counts.probability(k);
        let spread = (p * (1.0 - p) * f64::from(played)).sqrt().max(1.0);
        assert!(
            (n - p * f64::from(played)).abs() < 4.0 * spread + 1.0,
            "{k}: {n} against {p}"
        );
    }
}

/// Fifty new seals, shape 2.5, half a characteristic life: 13 seals do with 95 %, where a constant
/// rate of one over the mean life asks for 37.
#[test]
fn a_constant_rate_asks_for_far_too_many() {
    let life = Life::weibull(2.5, 1000.0).unwrap();
    let new = [Running {
        age: 0.0,
        count: 50,
    }];
    let answer = fleet_stock(&life, &new, 500.0, 0.95).unwrap();
    assert_eq!(answer.best.stock, 13);
    let rate = 50.0 / life.mean();
    let poisson = sealspan_care::pipeline::Pipeline::new(rate, 500.0).unwrap();
    assert_eq!(poisson.stock_for_ready_rate(0.95), 37);
    for level in &answer.levels {
        let balance = level.expected_left - level.expected_short;
        assert!((balance - (level.stock as f64 - answer.demand.mean)).abs() < 1e-9);
    }
    // An aged fleet: the constant rate now asks for too few.
    let aged = [Running {
        age: 800.0,
        count: 50,
    }];
    let answer = fleet_stock(&life, &aged, 500.0, 0.95).unwrap();
    assert!(answer.best.stock > 37, "{}", answer.best.stock);
}

/// Half a million seals: the normal law stands in, with the renewal function's mean.
#[test]
fn large_fleets() {
    let life = Life::weibull(2.0, 100.0).unwrap();
    let one = all(&life, 20.0, 1, 80.0, 400);
    let many = all(&life, 20.0, 500_000, 80.0, 400);
    assert!((many.mean() / (one.mean() * 5e5) - 1.0).abs() < 1e-6);
    assert!((many.variance() / (one.variance() * 5e5) - 1.0).abs() < 1e-3);
}

/// Within a short horizon the second failures hardly count; within a long one they do.
#[test]
fn beside_first_failures() {
    let life = Life::weibull(2.0, 100.0).unwrap();
    let running = [Running {
        age: 30.0,
        count: 40,
    }];
    let ask = |horizon| {
        Outlook {
            running: &running,
            life: &life,
            draws: &[],
            horizon,
            periods: 1,
            confidence: 0.9,
            oldest_seen: None,
            with_renewals: true,
        }
        .forecast()
        .unwrap()
    };
    let (short, long) = (ask(5.0), ask(300.0));
    let extra = |f: &sealspan_care::forecast::Forecast| f.renewals.unwrap().expected / f.expected;
    assert!((extra(&short) - 1.0).abs() < 0.01);
    assert!(extra(&long) > 2.5);
    let far = ask(1e6);
    assert!(far.renewals.is_none() && far.renewals_reason.unwrap().contains("50 mean lives"));
    assert_eq!(far.lower, 40);
}

#[test]
fn nothing_to_size() {
    let life = Life::weibull(2.0, 100.0).unwrap();
    assert!(
        fleet_stock(&life, &[], 10.0, 0.9)
            .unwrap_err()
            .is_no_answer()
    );
    let one = [Running { age: 0.0, count: 1 }];
    assert!(fleet_stock(&life, &one, 10.0, 1.5).unwrap_err().is_input());
    assert!(fleet_stock(&life, &one, -10.0, 0.9).unwrap_err().is_input());
    let terms = StockTerms {
        demand_rate: 0.1,
        lead_time: 1.0,
        holding_cost: 1.0,
        shortage: Shortage::Backorder { cost_per_day: 1.0 },
        order_cost: 1e12,
        unit_price: None,
        ..LOTS
    };
    assert!(
        terms
            .answer()
            .unwrap()
            .best_reason
            .unwrap()
            .contains("order cost")
    );
}

/// A life of two exponential stages has M(t) = t/(2θ) − (1 − e^(−2t/θ))/4 (Cox 1962, from memory), so that the best
/// block solves (1 − (1 + x) e^(−x))/4 = c_p/c_f with x = 2t/θ.
#[test]
fn blocks_of_a_two_stage_erlang_life() {
    let life = Life::parse("gamma:shape=2,scale=50").unwrap();
    let renewals = Renewals::new(&life, 300.0).unwrap();
    let mean = |t: f64| t / 100.0 - 0.25 * (1.0 - (-t / 25.0).exp());
    for t in [0.7, 3.0, 21.0, 77.7, 150.0, 260.0, 299.9, 300.0] {
        assert!((renewals.mean(t) - mean(t)).abs() < 1e-9, "{t}");
    }
    for ratio in [8.0, 20.0, 60.0] {
        let blocks = local_blocks(&life, 1.0, ratio).unwrap();
        let [(every, rate)] = blocks.as_slice() else {
            panic!("{blocks:?}");
        };
        let x = every / 25.0;
        let root = 0.25 * (1.0 - (1.0 + x) * (-x).exp());
        assert!((root * ratio - 1.0).abs() < 1e-6, "{ratio}: {root}");
        assert!((rate * every / (1.0 + ratio * mean(*every)) - 1.0).abs() < 1e-8);
    }
    // Up to a ratio of 4 no block is best.
    assert!(local_blocks(&life, 1.0, 3.9).unwrap().is_empty());
}

/// Above 200 ages seals are followed in 200 steps of age, each at its mean: with three seals a step the counts are those
/// of three fleets of 200 ages each, followed one by one.
#[test]
fn many_ages_are_gathered_without_loss() {
    let life = Life::weibull(3.0, 100.0).unwrap();
    // Uneven numbers, so that a step's mean is not its middle.
    let running: Vec<Running> = (0..600)
        .map(|i| Running {
            age: 0.2 * f64::from(i) + 0.1,
            count: 1 + i as usize % 3,
        })
        .collect();
    let counts = |seals: &[Running]| replacements(&life, seals, 60.0, 100, Effort::QUICK).unwrap();
    let whole = counts(&running);
    let parts: Vec<Counts> = running.chunks(200).map(counts).collect();
    let mean: f64 = parts.iter().map(Counts::mean).sum();
    let variance: f64 = parts.iter().map(Counts::variance).sum();
    assert!(
        (whole.mean() / mean - 1.0).abs() < 1e-5,
        "{} {mean}",
        whole.mean()
    );
    assert!((whole.variance() / variance - 1.0).abs() < 1e-4);
}
