//! A care policy's demand against a played fleet, and the stock that covers it.

use sealspan_care::costs::{Costs, Prices};
use sealspan_care::demand::{cover, fleet_demand};
use sealspan_care::policy::Policy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

const PRICES: Prices = Prices {
    planned_cost: 100.0,
    failure_cost: 500.0,
    planned_hours: 12.0,
    failure_hours: 48.0,
    downtime_cost: 0.0,
    discount_rate: 0.0,
};

fn evaluator() -> Evaluator {
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    Evaluator::new(&Life::weibull(2.5, 300.0).unwrap(), &costs, Goal::Cost).unwrap()
}

fn terms() -> StockTerms {
    StockTerms {
        demand_rate: 0.0,
        lead_time: 30.0,
        holding_cost: 0.05,
        shortage: Shortage::Backorder { cost_per_day: 20.0 },
        order_cost: 0.0,
        unit_price: Some(80.0),
        target_fill_rate: None,
        shelf_life: None,
        age_on_arrival: 0.0,
        lead_time_deviation: 0.0,
    }
}

/// 400 positions played for 40,000 days: rates within four standard errors of a Poisson count
/// (renewal counts of a steadier life spread less).
#[test]
fn rates_against_a_played_fleet() {
    let demand = fleet_demand(&evaluator(), Policy::ReplaceAtAge(200.0), 400, 1.0).unwrap();
    let life = Life::weibull(2.5, 300.0).unwrap();
    let (mut planned, mut unplanned) = (0.0, 0.0);
    for position in 0..400 {
        let mut stream = Stream::new(3, position);
        let mut day = 0.0;
        while day < 40_000.0 {
            let fails = life.sample(stream.uniform());
            if fails < 200.0 {
                unplanned += 1.0;
                day += fails + 2.0;
            } else {
                planned += 1.0;
                day += 200.0 + 0.5;
            }
        }
    }
    let check = |rate: f64, count: f64| {
        let want = rate * 40_000.0;
        assert!(
            (count - want).abs() < 4.0 * want.sqrt(),
            "{count} against {want}"
        );
    };
    check(demand.planned_per_day, planned);
    check(demand.unplanned_per_day, unplanned);
}

#[test]
fn replacing_earlier_needs_less_stock() {
    let run = fleet_demand(&evaluator(), Policy::RunToFailure, 60, 1.0).unwrap();
    assert_eq!(run.planned_per_day, 0.0);
    let early = fleet_demand(&evaluator(), Policy::ReplaceAtAge(120.0), 60, 1.0).unwrap();
    let stock = |demand| {
        let covered = cover(demand, &terms()).unwrap();
        covered.stock.best.unwrap().level
    };
    let (late, soon) = (stock(run), stock(early));
    assert!(soon.stock < late.stock);
    assert_eq!(late.investment, Some(80.0 * late.stock as f64));
}

/// On the cycles clock the duty turns cycles into days.
#[test]
fn duty_scales_the_rate() {
    let costs = Costs::new(PRICES, Clock::Cycles).unwrap();
    let life = Life::exponential(600.0).unwrap();
    let evaluator = Evaluator::new(&life, &costs, Goal::Cost).unwrap();
    let slow = fleet_demand(&evaluator, Policy::RunToFailure, 10, 2.0).unwrap();
    assert!((slow.unplanned_per_day - 10.0 * 2.0 / 600.0).abs() < 1e-12);
    assert!((slow.mean_cycle_days - 300.0).abs() < 1e-9);
    assert!(
        fleet_demand(&evaluator, Policy::RunToFailure, 0, 2.0)
            .unwrap_err()
            .is_input()
    );
    assert!(
        fleet_demand(&evaluator, Policy::RunToFailure, 1, 0.0)
            .unwrap_err()
            .is_input()
    );
}

#[test]
fn long_lead_times_are_flagged() {
    let demand = fleet_demand(&evaluator(), Policy::RunToFailure, 2, 1.0).unwrap();
    let long = StockTerms {
        lead_time: 200.0,
        ..terms()
    };
    let notes = cover(demand, &long).unwrap().stock.notes;
    assert!(notes.iter().any(|n| n.contains("rough")));
}
