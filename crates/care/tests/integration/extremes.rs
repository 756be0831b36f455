//! Extreme lives and costs: the answer scales as it must, or there are words, never nonsense.

use sealspan_care::costs::{Costs, Prices};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::successes::chance_of_failing;
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

fn best(life: &Life, ratio: f64) -> sealspan_care::answer::Replace {
    let prices = Prices {
        planned_cost: 1.0,
        failure_cost: ratio,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    Evaluator::new(life, &costs, Goal::Cost)
        .unwrap()
        .best()
        .unwrap()
}

/// The age is proportional to the scale and the cost rate to its inverse, over thirty decades.
#[test]
fn scale_does_not_matter() {
    for shape in [0.3, 0.9, 1.05, 1.5, 4.0, 12.0, 60.0] {
        for ratio in [1.01, 3.0, 100.0, 1e5] {
            let one = best(&Life::weibull(shape, 1.0).unwrap(), ratio);
            for scale in [1e-15, 1e-3, 1e6, 1e15] {
                let other = best(&Life::weibull(shape, scale).unwrap(), ratio);
                assert_eq!(
                    one.age.is_some(),
                    other.age.is_some(),
                    "{shape} {ratio} {scale}"
                );
                if let (Some(a), Some(b)) = (one.age, other.age) {
                    assert!(
                        (b / scale / a - 1.0).abs() < 1e-9,
                        "{shape} {ratio} {scale}"
                    );
                }
                assert!((other.cost_rate * scale / one.cost_rate - 1.0).abs() < 1e-9);
            }
        }
    }
}

/// Nothing better lies anywhere on a fine grid, for rising, falling and humped hazards.
#[test]
fn no_better_age_anywhere() {
    let lives = [
        Life::weibull(0.7, 300.0).unwrap(),
        Life::weibull(3.0, 300.0).unwrap(),
        Life::lognormal(5.0, 0.3).unwrap(),
        Life::lognormal(5.0, 1.0).unwrap(),
        Life::lognormal(5.0, 2.5).unwrap(),
    ];
    for life in &lives {
        for ratio in [1.5, 6.0, 60.0] {
            let prices = Prices {
                planned_cost: 1.0,
                failure_cost: ratio,
                ..Prices::default()
            };
            let costs = Costs::new(prices, Clock::Days).unwrap();
            let evaluator = Evaluator::new(life, &costs, Goal::Cost).unwrap();
            let best = evaluator.best().unwrap();
            assert!(best.cost_rate <= evaluator.run_to_failure_rate());
            for i in 0..3000 {
                let age = 1e-3 * 1e8_f64.powf(f64::from(i) / 3000.0);
                let here = evaluator.cost_rate(age);
                assert!(
                    here > best.cost_rate * (1.0 - 1e-9),
                    "{life:?} {ratio} {age}"
                );
            }
        }
    }
}

/// 1 − S(a + h)/S(a) keeps its digits when it is tiny: shape 2, (2 a h + h²)/η².
#[test]
fn small_chances() {
    let life = Life::weibull(2.0, 1e8).unwrap();
    let chance = chance_of_failing(&life, 10.0, 1.0);
    assert!((chance / 21e-16 - 1.0).abs() < 1e-9, "{chance}");
    assert_eq!(chance_of_failing(&life, 1e200, 1.0), 1.0);
}
