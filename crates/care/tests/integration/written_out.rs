//! Answers held against the same question written out another way: closed forms, sums by hand, and many seeds.

use crate::lots::{LOTS, RULES};
use crate::prices::costs;
use sealspan_care::calendar::{Calendar, rounded_down};
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::evaluate::Prepared;
use sealspan_care::forecast::{Outlook, Running};
use sealspan_care::horizon::expected_cost;
use sealspan_care::pipeline::Pipeline;
use sealspan_care::plan::Limits;
use sealspan_care::policy::CarePolicy;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::seal::Seal;
use sealspan_care::spares::play::{Seen, play_stock};
use sealspan_care::spares::shelf::Shelf;
use sealspan_care::spares::transfer::{Member, Together, play_together};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_care::terms::{Handling, Terms};
use sealspan_care::trial::show::Claim;
use sealspan_care::weigh::common_practice;
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

/// Without memory failures come at one rate whatever is replaced, and a planned replacement needs a failure or a start a
/// whole age before: over less than two ages, e^(−a/m) (1 + (H − a)/m) of them.
#[test]
fn replacements_over_a_horizon_of_lives_without_memory() {
    let (mean, age) = (300.0, 220.0);
    let life = Life::exponential(mean).unwrap();
    for horizon in [221.3, 260.0, 333.3, 401.7, 439.9] {
        let planned = (-age / mean).exp() * (1.0 + (horizon - age) / mean);
        let want = 100.0 * planned + 700.0 * horizon / mean;
        let found = expected_cost(&life, &costs(100.0, 700.0), Some(age), horizon).unwrap();
        assert!(
            (found / want - 1.0).abs() < 5e-6,
            "{horizon}: {found} {want}"
        );
    }
}

/// Standard errors between blocks are the spread between seeds.
fn is_the_spread(what: &str, seen: &[Seen]) {
    let n = seen.len() as f64;
    let mean = seen.iter().map(|s| s.value).sum::<f64>() / n;
    let spread = seen.iter().map(|s| (s.value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let error = seen.iter().map(|s| s.error * s.error).sum::<f64>() / n;
    let ratio = (error / spread).sqrt();
    // Of 60 seeds the spread is known to 9 %.
    assert!((0.7..1.4).contains(&ratio), "{what}: {ratio}");
}

#[test]
fn errors_of_plays_are_the_spread_between_seeds() {
    let alone: Vec<_> = (0..60).map(|i| play_stock(&RULES, 8000, i)).collect();
    let of = |part: fn(&sealspan_care::spares::play::Played) -> Seen| -> Vec<Seen> {
        alone.iter().map(part).collect()
    };
    is_the_spread("fill rate", &of(|p| p.fill_rate));
    is_the_spread("on hand", &of(|p| p.on_hand));
    let members = [(0.06, 2), (0.04, 1)].map(|(demand_rate, stock)| Member { demand_rate, stock });
    let together = Together {
        lead_time: 25.0,
        transfer_time: Some(1.0),
        urgent: true,
    };
    let helped: Vec<_> = (0..60)
        .map(|i| play_together(&members, together, 8000, i).unwrap())
        .collect();
    let own: Vec<Seen> = helped.iter().map(|h| h.own).collect();
    let moved: Vec<Seen> = helped.iter().map(|h| h.transferred).collect();
    is_the_spread("own shelf", &own);
    is_the_spread("transferred", &moved);
}

/// A trial that expects two thousand failures of one in a million seals needs two thousand million of them.
#[test]
fn trials_of_too_many_seals_are_refused() {
    // Sound at 1000 days with chance 1/e: in a thousandth of a day about one in a million fails.
    let claim = Claim::new(1000.0, (-1.0_f64).exp(), 1.0).unwrap();
    assert!(claim.seals(1e-3, 0.9, 2000).is_err());
    assert!(claim.seals(1e-3, 0.9, 10).is_ok());
}

const STOCK: StockTerms = StockTerms {
    shelf_life: Some(400.0),
    ..LOTS
};

/// The best order with urgent supply costs what its parts come to, with Poisson demand added up by hand: a seal is
/// scrapped where fewer demands come while it keeps than seals stood before it.
#[test]
fn lots_cost_what_their_parts_come_to() {
    let best = STOCK.answer().unwrap().best.unwrap();
    let (quantity, point) = (best.order_quantity.unwrap(), best.reorder_point as usize);
    assert!(point > 0 && quantity > point, "{best:?}");
    assert_eq!(
        best.level.investment,
        Some(30.0 * (point + quantity) as f64)
    );
    let poisson = |mean: f64, k: usize| (1..=k).fold((-mean).exp(), |p, i| p * mean / i as f64);
    let lead = 0.05 * 30.0;
    // Demands beyond the reorder point while an order is out go urgent.
    let missed: f64 = (point + 1..60)
        .map(|n| (n - point) as f64 * poisson(lead, n))
        .sum();
    let demands = quantity as f64 + missed;
    let cycle = demands / 0.05;
    // Of n seals on the shelf those are left that no demand takes while they keep.
    let kept = 0.05 * 400.0;
    let left = |n: usize| -> f64 {
        (0..n)
            .map(|demand| (n - demand) as f64 * poisson(kept, demand))
            .sum()
    };
    let scrap: f64 = (0..=point)
        .map(|stock| {
            let chance = if stock > 0 {
                poisson(lead, point - stock)
            } else {
                1.0 - (0..point).map(|n| poisson(lead, n)).sum::<f64>()
            };
            chance * (left(stock + quantity) - left(stock))
        })
        .sum::<f64>()
        / cycle;
    let found = best.scrap_rate.unwrap();
    assert!((found / scrap - 1.0).abs() < 1e-6, "{found} {scrap}");
    let level = &best.level;
    let want =
        0.05 * level.expected_on_hand + 0.05 * missed / demands * 40.0 + 6.0 / cycle + scrap * 30.0;
    assert!((level.cost_rate / want - 1.0).abs() < 1e-9);
}

/// With a shelf life and waiting demands the best level is the cheapest of those that reach the target.
#[test]
fn the_best_level_that_keeps_is_the_cheapest_of_all_that_reach_the_target() {
    for (target, price) in [(None, 30.0), (Some(0.8), 30.0), (Some(0.97), 5.0)] {
        let terms = StockTerms {
            shortage: Shortage::Backorder { cost_per_day: 1.0 },
            order_cost: 0.0,
            unit_price: Some(price),
            target_fill_rate: target,
            shelf_life: Some(150.0),
            ..STOCK
        };
        let answer = terms.answer().unwrap();
        let best = answer.best.unwrap();
        let enough = |fill: f64| target.is_none_or(|t| fill >= t);
        let cheapest = answer
            .levels
            .iter()
            .filter(|l| enough(l.fill_rate))
            .map(|l| l.cost_rate)
            .fold(f64::INFINITY, f64::min);
        assert!(enough(best.level.fill_rate));
        assert!(
            (best.level.cost_rate / cheapest - 1.0).abs() < 1e-12,
            "{target:?}: {best:?} {cheapest}"
        );
    }
}

/// Replacing never is best without memory; ages from which it costs no more than a fiftieth more are where
/// cp e^(−t/m) / (1 − e^(−t/m)) is a fiftieth of cf.
#[test]
fn ages_nearly_as_good_as_never_begin_where_the_cost_says() {
    let life = Life::exponential(300.0).unwrap();
    let found = Evaluator::new(&life, &costs(100.0, 700.0), Goal::Cost)
        .unwrap()
        .best()
        .unwrap();
    assert_eq!(found.age, None);
    let from = found.flat_zone.unwrap().0;
    // x/(1 − x) = 0.02 · 7, of x = e^(−t/m).
    let odds: f64 = 0.02 * 7.0;
    let want = -300.0 * (odds / (1.0 + odds)).ln();
    assert!((from / want - 1.0).abs() < 1e-6, "{from} {want}");
}

/// Replaced at its first look a seal would never be looked at: that is no practice of looking.
#[test]
fn a_seal_that_is_looked_at_is_not_replaced_at_its_first_look() {
    let seal = Seal {
        detection: 0.9,
        ..Seal::two_stage(
            Life::weibull(6.0, 75.0).unwrap(),
            Life::weibull(3.0, 20.0).unwrap(),
        )
    };
    let handling = Handling {
        inspection_cost: 20.0,
        ..Handling::default()
    };
    let terms = Terms::new(&costs(300.0, 6000.0), &handling).unwrap();
    let model = Prepared::new(&seal).unwrap();
    let policy = CarePolicy::inspect_every(20.0);
    let asked = (Goal::Cost, &Limits::default());
    let found = common_practice(&model, &terms, asked, &policy).unwrap();
    let step = 2.0 * Calendar::Months.days();
    assert!((found.policy.inspect_every.unwrap() - step).abs() < 1e-9);
    assert!(
        found.policy.replace_at.is_none_or(|age| age > 1.5 * step),
        "{found:?}"
    );
    // Such a seal is cheaper replaced before any look: what the practice is not.
    let early = CarePolicy {
        replace_at: Some(step),
        ..CarePolicy::inspect_every(step)
    };
    let early = model.evaluate(&early, &terms).unwrap();
    assert!(early.cost_rate < found.measure, "{found:?}");
}

#[test]
fn ends_of_a_count_are_as_sure_as_their_draws_are_many() {
    let life = Life::weibull(2.2, 300.0).unwrap();
    let draws: Vec<Life> = (0..50)
        .map(|i| Life::weibull(2.2, 280.0 + f64::from(i)).unwrap())
        .collect();
    let forecast = Outlook {
        running: &[Running {
            age: 20.0,
            count: 9,
        }],
        life: &life,
        draws: &draws,
        horizon: 90.0,
        periods: 1,
        confidence: 0.8,
        oldest_seen: None,
        with_renewals: false,
    }
    .forecast()
    .unwrap();
    // A tenth on either side, of 50 draws: √(0.1 · 0.9 / 50).
    let found = serde_json::to_value(forecast).unwrap();
    let error = found["predictive"]["end_probability_error"]
        .as_f64()
        .unwrap();
    assert!((error - (0.09_f64 / 50.0).sqrt()).abs() < 1e-12, "{error}");
}

/// Demand over a lead time, by hand.
#[test]
fn a_steady_pipeline_is_poisson() {
    let pipeline = Pipeline::new(0.05, 30.0).unwrap();
    let poisson = |k: usize| (1..=k).fold((-1.5_f64).exp(), |p, i| p * 1.5 / i as f64);
    for stock in 0..6 {
        let short: f64 = (stock + 1..60)
            .map(|n| (n - stock) as f64 * poisson(n))
            .sum();
        assert!((pipeline.backorders(stock) - short).abs() < 1e-10);
    }
}

/// Every level's money is what its figures come to at the prices: what the prices of a seal and of an order add is the
/// scrap that the closed form of one shelf gives, and the orders that are placed for it and for the demands.
#[test]
fn levels_that_keep_cost_what_their_parts_come_to() {
    let at = |unit_price: f64, order_cost: f64| {
        let terms = StockTerms {
            shortage: Shortage::Backorder { cost_per_day: 1.0 },
            order_cost,
            unit_price: Some(unit_price),
            shelf_life: Some(150.0),
            ..STOCK
        };
        terms.answer().unwrap().levels
    };
    let shelf = Shelf {
        demand_rate: 0.05,
        lead_time: 30.0,
        usable: 150.0,
        urgent: false,
    };
    let mut scrapped = 0.0;
    for (stock, level) in at(30.0, 0.0).iter().enumerate() {
        let scrap = shelf.kept(stock).scrap_rate;
        scrapped += scrap;
        let want = 0.05 * level.expected_on_hand + level.expected_backorders + 30.0 * scrap;
        assert!((level.cost_rate / want - 1.0).abs() < 1e-9, "{level:?}");
        assert_eq!(level.investment, Some(30.0 * stock as f64));
        assert_eq!(level.urgent_share, 0.0);
    }
    assert!(scrapped > 0.01);
    // Each demand is ordered again, and each seal scrapped.
    for (stock, (with, without)) in at(30.0, 8.0).iter().zip(at(30.0, 0.0)).enumerate() {
        let orders = 0.05 + shelf.kept(stock).scrap_rate;
        assert!((with.cost_rate - without.cost_rate - 8.0 * orders).abs() < 1e-9);
    }
    // Forty days old on arrival, a part of 190 days keeps 150.
    let aged = StockTerms {
        shortage: Shortage::Backorder { cost_per_day: 1.0 },
        order_cost: 0.0,
        unit_price: Some(30.0),
        shelf_life: Some(190.0),
        age_on_arrival: 40.0,
        ..STOCK
    };
    for (old, new) in aged.answer().unwrap().levels.iter().zip(at(30.0, 0.0)) {
        assert!((old.cost_rate / new.cost_rate - 1.0).abs() < 1e-9);
    }
}

/// Orders of lots that go out of date while demands may wait: seal i of an order meets demand R + i after it was placed,
/// and is scrapped if fewer come while it is under way and keeps, by Poisson sums.
#[test]
fn scrap_of_lots_is_that_of_each_rank() {
    let terms = StockTerms {
        shortage: Shortage::Backorder { cost_per_day: 3.0 },
        shelf_life: Some(250.0),
        ..STOCK
    };
    let best = terms.answer().unwrap().best.unwrap();
    let quantity = best.order_quantity.unwrap() as i64;
    let point = best.reorder_point;
    assert!(quantity > 1 && point >= 0, "{best:?}");
    let mean: f64 = 0.05 * 280.0;
    let poisson = |k: i64| (1..=k).fold((-mean).exp(), |p, i| p * mean / i as f64);
    let fewer = |rank: i64| (0..rank).map(poisson).sum::<f64>();
    let ranks: f64 = (1..=quantity).map(|i| fewer(point + i)).sum();
    let scrap = ranks * 0.05 / quantity as f64;
    let found = best.scrap_rate.unwrap();
    assert!((found / scrap - 1.0).abs() < 1e-6, "{found} {scrap}");
}

#[test]
fn ages_below_nought_have_no_round_number() {
    let down = |age: f64| rounded_down(age, Clock::Days, Calendar::Months);
    assert!(down(200.0).is_some());
    assert!(down(-200.0).is_none() && down(0.0).is_none());
    assert!(down(f64::INFINITY).is_none() && down(f64::NAN).is_none());
}

/// Cycles hold the service and the hours down at its end: half a day after a failure, a tenth of one planned.
#[test]
fn cycles_are_service_and_time_down() {
    let prices = Prices {
        planned_cost: 100.0,
        failure_cost: 700.0,
        planned_hours: 2.4,
        failure_hours: 12.0,
        downtime_cost: 5.0,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let best = |life: &Life| {
        let found = Evaluator::new(life, &costs, Goal::Cost).unwrap();
        found.best().unwrap()
    };
    let never = best(&Life::exponential(300.0).unwrap());
    assert_eq!(never.age, None);
    assert!((never.mean_cycle - 300.5).abs() < 1e-6);
    assert!((never.availability.unwrap() - 300.0 / 300.5).abs() < 1e-9);
    let life = Life::weibull(3.0, 300.0).unwrap();
    let found = best(&life);
    let age = found.age.unwrap();
    // Mean service by Simpson's rule over survival.
    let n = 2000;
    let at = |i: i32| life.survival(age * f64::from(i) / f64::from(n));
    let weight = |i: i32| {
        if i == 0 || i == n {
            1.0
        } else {
            f64::from(2 + 2 * (i % 2))
        }
    };
    let service = age / f64::from(n) / 3.0 * (0..=n).map(|i| weight(i) * at(i)).sum::<f64>();
    let failed = life.failed(age);
    let cycle = service + 0.5 * failed + 0.1 * (1.0 - failed);
    assert!((found.mean_cycle / cycle - 1.0).abs() < 1e-9);
    assert!((found.availability.unwrap() - service / cycle).abs() < 1e-9);
}
