//! Care and stock chosen together, against play and against search over pairs.

use crate::lots::LOTS;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::demand::fleet_demand;
use sealspan_care::joint::fleet::joint;
use sealspan_care::joint::one_seal::OneSpare;
use sealspan_care::policy::Policy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

/// The cost of a pair against playing it.
#[test]
fn one_seal_against_play() {
    let (life, l) = (Life::weibull(3.0, 36.0).unwrap(), 6.0);
    let terms = OneSpare {
        planned: 15.0,
        failed: 120.0,
        holding: 1.0,
        waiting: 40.0,
        lead_time: l,
    };
    let joint = terms.best(&life).unwrap();
    let (w, age) = (
        joint.together.order_at.unwrap(),
        joint.together.replace_at.unwrap(),
    );
    let (mut money, mut time, mut square, mut cross, mut times) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let runs = 400_000u64;
    for i in 0..runs {
        let x = life.sample(Stream::new(4, i).uniform());
        let arrival = x.min(w) + l;
        let (m, t) = if x < age {
            (
                120.0 + 40.0 * (arrival - x).max(0.0) + (x - arrival).max(0.0),
                x.max(arrival),
            )
        } else {
            (15.0 + age - arrival, age)
        };
        money += m;
        time += t;
        square += m * m;
        cross += m * t;
        times += t * t;
    }
    let rate = money / time;
    let n = runs as f64;
    let error =
        ((square - 2.0 * rate * cross + rate * rate * times) / n).sqrt() / (time / n) / n.sqrt();
    let worked = joint.together.cost_rate;
    assert!(
        (rate - worked).abs() < 4.0 * error,
        "{rate} ± {error} against {worked}"
    );
    // Nothing near is cheaper, and apart costs more.
    for (dw, da) in [(0.3, 0.0), (-0.3, 0.0), (0.0, 0.4), (0.0, -0.4), (0.3, 0.4)] {
        assert!(terms.given(&life, w + dw, age + da).unwrap() > worked);
    }
    assert!(joint.saving > 0.03 && joint.apart.cost_rate > worked);
    assert!(
        terms
            .given(&life, 10.0, 12.0)
            .unwrap_err()
            .to_string()
            .contains("order time")
    );
}

fn costs() -> Costs {
    let prices = Prices {
        planned_cost: 80.0,
        failure_cost: 300.0,
        planned_hours: 1.0,
        failure_hours: 6.0,
        downtime_cost: 100.0,
        ..Prices::default()
    };
    Costs::new(prices, Clock::Days).unwrap()
}

fn terms() -> StockTerms {
    StockTerms {
        demand_rate: 0.0,
        lead_time: 60.0,
        holding_cost: 3.0,
        shortage: Shortage::Backorder {
            cost_per_day: 900.0,
        },
        order_cost: 0.0,
        unit_price: Some(40.0),
        ..LOTS
    }
}

/// What a fleet pays for care is what a position pays, so many times.
#[test]
fn a_fleet_pays_what_its_positions_pay() {
    let life = Life::weibull(2.5, 400.0).unwrap();
    let evaluator = Evaluator::new(&life, &costs(), Goal::Cost).unwrap();
    for (positions, units) in [(12, 1.0), (5, 0.5), (30, 2.0)] {
        let found = joint(&evaluator, positions, units, &terms()).unwrap();
        for pair in [found.together, found.age_first, found.stock_first] {
            let rate = pair
                .replace_at
                .map_or(evaluator.run_to_failure_rate(), |age| {
                    evaluator.cost_rate(age)
                });
            let want = rate * positions as f64 * units;
            assert!((pair.care_cost / want - 1.0).abs() < 1e-12, "{pair:?}");
            assert!((pair.cost_rate - pair.care_cost - pair.stock_cost).abs() < 1e-9);
        }
    }
}

/// A fleet: no pair of age and stock on a grid is cheaper, and choosing together is never worse than apart.
#[test]
fn fleet_against_a_grid() {
    let evaluator =
        Evaluator::new(&Life::weibull(2.5, 400.0).unwrap(), &costs(), Goal::Cost).unwrap();
    let terms = terms();
    let answer = joint(&evaluator, 12, 1.0, &terms).unwrap();
    assert!(answer.together.cost_rate <= answer.age_first.cost_rate);
    assert!(answer.together.cost_rate <= answer.stock_first.cost_rate + 1e-9);
    assert!(answer.together.replace_at.unwrap() < answer.age_first.replace_at.unwrap());
    let apart = answer.age_first.cost_rate.min(answer.stock_first.cost_rate);
    assert!(answer.saving > 0.0);
    assert!((answer.saving - (apart - answer.together.cost_rate)).abs() < 1e-12);
    let mut least = f64::INFINITY;
    for i in 1..160 {
        let age = 5.0 * f64::from(i);
        let demand = fleet_demand(&evaluator, Policy::ReplaceAtAge(age), 12, 1.0).unwrap();
        let here = StockTerms {
            demand_rate: demand.unplanned_per_day,
            ..terms
        };
        for stock in 0..12 {
            let cost = 12.0 * evaluator.cost_rate(age) + here.one_for_one_cost(stock).unwrap();
            least = least.min(cost);
        }
    }
    assert!(answer.together.cost_rate <= least + 1e-9 && answer.together.cost_rate > least * 0.998);
}

/// Costs and times that cannot be are refused, one by one.
#[test]
fn one_seal_refuses_what_cannot_be() {
    let life = Life::weibull(3.0, 36.0).unwrap();
    let sound = OneSpare {
        planned: 15.0,
        failed: 120.0,
        holding: 1.0,
        waiting: 40.0,
        lead_time: 6.0,
    };
    assert!(sound.best(&life).is_ok());
    let faults: [fn(&mut OneSpare); 6] = [
        |terms| terms.planned = 0.0,
        |terms| terms.failed = -1.0,
        |terms| terms.holding = -0.1,
        |terms| terms.waiting = f64::NAN,
        |terms| terms.lead_time = -6.0,
        |terms| terms.lead_time = f64::INFINITY,
    ];
    for fault in faults {
        let mut terms = sound;
        fault(&mut terms);
        assert!(terms.best(&life).is_err(), "{terms:?}");
        assert!(terms.given(&life, 0.0, 30.0).is_err(), "{terms:?}");
    }
}
