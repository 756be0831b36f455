//! The spread of the replacement age over draws of the life.

use sealspan_care::age_spread::age_spread;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

fn costs(failure_cost: f64) -> Costs {
    let prices = Prices {
        planned_cost: 1.0,
        failure_cost,
        ..Prices::default()
    };
    Costs::new(prices, Clock::Days).unwrap()
}

fn draws(shape: f64, spread: f64) -> Vec<Life> {
    let mut stream = Stream::new(11, 0);
    (0..200)
        .map(|_| {
            let shape = shape * (spread * stream.normal()).exp();
            Life::weibull(shape, 400.0 * (0.5 * spread * stream.normal()).exp()).unwrap()
        })
        .collect()
}

fn best(shape: f64, failure_cost: f64) -> Option<f64> {
    let life = Life::weibull(shape, 400.0).unwrap();
    Evaluator::new(&life, &costs(failure_cost), Goal::Cost)
        .unwrap()
        .best_age()
        .unwrap()
}

/// Knowing more narrows the interval, which holds the true best age, and lowers the regret.
#[test]
fn narrower_with_more_knowledge() {
    let truth = best(2.5, 8.0).unwrap();
    let ask = |spread| age_spread(&draws(2.5, spread), &costs(8.0), Some(truth), 0.9).unwrap();
    let (vague, sharp) = (ask(0.3), ask(0.05));
    let width = |s: &sealspan_care::age_spread::AgeSpread| {
        let (low, high) = s.best_age.unwrap();
        assert!(low < truth && truth < high.unwrap());
        high.unwrap() - low
    };
    assert!(width(&sharp) < 0.5 * width(&vague));
    assert!(sharp.mean_regret >= 0.0 && sharp.mean_regret < 0.2 * vague.mean_regret);
    assert!(vague.cost_rate.0 < vague.cost_rate.1 && vague.left_out == 0);
}

/// Where the hazard hardly rises some draws say never, and the upper end is open.
#[test]
fn open_end_when_never_may_be_best() {
    let unsure = age_spread(&draws(1.1, 0.3), &costs(8.0), best(1.1, 8.0), 0.9).unwrap();
    assert!(unsure.never_best > 0.1 && unsure.never_best < 0.9);
    assert!(unsure.worse_than_failure > 0.0);
    assert_eq!(unsure.best_age.unwrap().1, None);
    let flat = age_spread(&draws(0.5, 0.05), &costs(8.0), None, 0.9).unwrap();
    assert_eq!((flat.never_best, flat.best_age), (1.0, None));
    assert_eq!((flat.mean_regret, flat.worse_than_failure), (0.0, 0.0));
}

#[test]
fn refusals() {
    let few = &draws(2.0, 0.1)[..20];
    assert!(
        age_spread(few, &costs(8.0), None, 0.9)
            .unwrap_err()
            .is_no_answer()
    );
    let many = draws(2.0, 0.1);
    assert!(
        age_spread(&many, &costs(8.0), Some(-1.0), 0.9)
            .unwrap_err()
            .is_input()
    );
    assert!(
        age_spread(&many, &costs(8.0), None, 1.0)
            .unwrap_err()
            .is_input()
    );
}
