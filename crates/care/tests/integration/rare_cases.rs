//! Rules and searches where they are seldom met: small sites, great lots, short lists, heavy tails.

use crate::lots::LOTS;
use sealspan_care::ahead::ending::Ending;
use sealspan_care::ahead::fleet::{Cohort, Fleet, Joining};
use sealspan_care::ahead::months::{Ahead, Months};
use sealspan_care::ahead::places::{Seen, factors_of_parts};
use sealspan_care::ahead::play::play_fleet;
use sealspan_care::block::Renewals;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::forecast::{Outlook, Running};
use sealspan_care::horizon::best_over;
use sealspan_care::joint::fleet::joint;
use sealspan_care::joint::one_seal::OneSpare;
use sealspan_care::renewals::replacements;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::scenario::{Format, Scenario, simulate, write};
use sealspan_care::spares::budget::{Part, within};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_care::successes::Effort;
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;

/// One site, one material, every tank alike.
const SMALL: &str = include_str!("../../../../tests/coverage/alike.toml");

/// A site of one tank, out of line, with chances of dates to the month and to the quarter.
fn one_tank(tank: &str, month: f64, quarter: f64) -> String {
    let text = SMALL.replace("tanks = 30", "tanks = 1");
    format!(
        "{text}\n[[site.out_of_line]]\ntank = \"{tank}\"\nseverity = [4.0, 1.0, 1.0, 1.0]\n\
         [site.mess]\nmonth_dates = {month}\nquarter_dates = {quarter}\n"
    )
}

#[test]
fn a_door_is_out_of_line_at_a_tank_that_is_there() {
    Scenario::from_toml(&one_tank("AA-T01", 0.0, 0.0)).unwrap();
    let error = Scenario::from_toml(&one_tank("AA-T02", 0.0, 0.0)).unwrap_err();
    assert!(error.to_string().contains("no tank `AA-T02`"), "{error}");
}

#[test]
fn dates_are_to_the_month_or_to_the_quarter_but_not_both() {
    Scenario::from_toml(&one_tank("AA-T01", 0.1, 0.3)).unwrap();
    let error = Scenario::from_toml(&one_tank("AA-T01", 0.7, 0.6)).unwrap_err();
    assert!(error.to_string().contains("together"), "{error}");
}

/// A second site whose seals meet dry hops; the attack is of one of the two products.
#[test]
fn an_attack_is_met_where_one_group_has_its_condition() {
    let attack = |value: &str| {
        format!(
            "mechanisms = {{ abraded = 1.0 }}\n[[material.attack]]\ncondition = \"product\"\n\
             value = \"{value}\"\nlife_factor = 0.5\nmechanism = \"swollen\"\n"
        )
    };
    let site = SMALL.split("[[site]]").nth(1).unwrap().replace("AA", "BB");
    let hops = site.replace(
        "temperature_c = 60.0",
        "temperature_c = 60.0\nconditions = { product = \"dry hopped\" }",
    );
    let text = format!("{SMALL}\n[[site]]{hops}");
    let with = |value: &str| text.replace("mechanisms = { abraded = 1.0 }\n", &attack(value));
    Scenario::from_toml(&with("dry hopped")).unwrap();
    let error = Scenario::from_toml(&with("dry hoped")).unwrap_err();
    assert!(error.to_string().contains("dry hoped"), "{error}");
}

/// A site has records from a day on that lies within those of the whole: from the first of them, before the last.
#[test]
fn a_site_begins_within_the_records_of_the_whole() {
    for (day, kept) in [
        ("2019-12-31", false),
        ("2020-01-01", true),
        ("2024-12-30", true),
        ("2024-12-31", false),
    ] {
        let begins = format!("code = \"AA\"\nrecords_from = \"{day}\"");
        let text = SMALL.replace("code = \"AA\"", &begins);
        assert_eq!(Scenario::from_toml(&text).is_ok(), kept, "{day}");
    }
}

/// Where the frame wears four times as much a characteristic life of 5 days is one of 1.25, and one of 3 too short.
#[test]
fn a_life_is_a_day_or_more_where_the_frame_wears_most() {
    for (scale, kept) in [("5.0", true), ("3.0", false)] {
        let text = one_tank("AA-T01", 0.0, 0.0)
            .replace("scale_days = 300.0", &format!("scale_days = {scale}"));
        assert_eq!(Scenario::from_toml(&text).is_ok(), kept, "{scale}");
    }
}

#[test]
fn a_folder_that_cannot_be_written_is_no_fault_of_the_scenario() {
    let fleet = simulate(
        &Scenario::from_toml(&one_tank("AA-T01", 0.0, 0.0)).unwrap(),
        1,
    );
    let file = std::env::temp_dir().join(format!("sealspan-no-folder-{}", std::process::id()));
    std::fs::write(&file, "a file").unwrap();
    let error = write(&fleet, &file.join("below"), Format::Csv).unwrap_err();
    std::fs::remove_file(&file).unwrap();
    assert!(!error.is_bad_input(), "{error}");
}

#[test]
fn failures_are_followed_for_twenty_mean_lives_at_most() {
    let life = Life::weibull(2.0, 100.0).unwrap();
    let mean = life.mean();
    assert!(Renewals::new(&life, 19.9 * mean).is_ok());
    assert!(Renewals::new(&life, 20.1 * mean).is_err());
}

/// Half of these lives end within a quarter of the mean: thirty mean lives are 125 medians.
#[test]
fn replacements_over_thirty_mean_lives_are_counted() {
    let life = Life::weibull(0.5, 1.0).unwrap();
    let seal = [Running { age: 0.0, count: 1 }];
    let horizon = 30.0 * life.mean();
    let counts = replacements(&life, &seal, horizon, 400, Effort::QUICK).unwrap();
    // In the long run t/μ + (σ²/μ² − 1)/2; the variance of this life is 5 μ².
    assert!((counts.mean() - 32.0).abs() < 0.5, "{}", counts.mean());
    assert!(replacements(&life, &seal, 2.0 * horizon, 400, Effort::QUICK).is_err());
}

/// Two hundred seals, no two of one age, few of which fail: none does with the product of their chances.
#[test]
fn few_failures_of_many_ages_are_counted_exactly() {
    let life = Life::exponential(1.0).unwrap();
    let seals: Vec<Running> = (0..200)
        .map(|i| Running {
            age: f64::from(i) * 0.01,
            count: 1,
        })
        .collect();
    let counts = replacements(&life, &seals, 0.01, 50, Effort::QUICK).unwrap();
    let none = (-0.01_f64 * 200.0).exp();
    assert!(
        (counts.probability(0) / none - 1.0).abs() < 1e-6,
        "{} {none}",
        counts.probability(0)
    );
}

/// Over twenty mean lives without memory an age gains nothing, and hardly a seal reaches the oldest looked at.
#[test]
fn over_a_long_horizon_too_lives_without_memory_need_no_age() {
    let prices = Prices {
        planned_cost: 1.0,
        failure_cost: 5.0,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let best = best_over(&Life::exponential(100.0).unwrap(), &costs, 2_000.0).unwrap();
    assert!(best.age.is_none(), "{best:?}");
}

/// A level that takes the whole budget for one part is the best there.
#[test]
fn one_part_may_take_the_whole_budget() {
    let part = |on_order: f64, price: f64, weight: f64| Part {
        on_order,
        price,
        weight,
    };
    let parts = [part(0.9, 30.0, 1.0), part(0.05, 10.0, 8.0)];
    let found = within(&parts, 30.0).unwrap();
    // By hand: one spare of a Poisson number m on order takes off 1 − e^(−m).
    let off = |m: f64| 1.0 - (-m).exp();
    let (most, a_unit) = (8.0 * 0.05, 8.0 * off(0.05) / 10.0);
    assert!(off(0.9) > most && off(0.9) / 30.0 < a_unit);
    assert_eq!(found.best.stock, [1, 0]);
    assert!((found.best.backorders - (0.9 - off(0.9) + 0.4)).abs() < 1e-12);
}

/// A cheap part's list ends where nothing is left to gain, long before the budget; the weights' unit is free.
#[test]
fn cheap_parts_beside_a_great_budget_are_mixed_exactly() {
    for unit in [1.0, 1e-7, 1e7] {
        let part = |on_order: f64, price: f64| Part {
            on_order,
            price,
            weight: unit,
        };
        let found = within(&[part(2.0, 1.0), part(0.7, 400.0)], 1_000.0).unwrap();
        assert!(found.exact, "{unit}");
        assert_eq!(found.best.stock.get(1), Some(&2), "{unit}");
        assert!(found.best.stock.first().is_some_and(|n| *n > 10), "{unit}");
    }
}

const TERMS: StockTerms = StockTerms {
    demand_rate: 1.0,
    lead_time: 10.0,
    holding_cost: 0.1,
    shortage: Shortage::Backorder { cost_per_day: 4.0 },
    order_cost: 0.0,
    unit_price: None,
    ..LOTS
};

/// Where an order costs nothing parts are ordered one by one.
#[test]
fn free_orders_are_of_one() {
    let terms = StockTerms {
        demand_rate: 5.0,
        target_fill_rate: Some(0.99),
        shortage: Shortage::Urgent {
            cost_per_order: 20.0,
        },
        ..TERMS
    };
    let best = terms.answer().unwrap().best.unwrap();
    assert!(matches!(best.order_quantity, None | Some(1)), "{best:?}");
    assert!(best.level.fill_rate >= 0.99);
}

/// √(2 D K/h) = 447 (Harris 1913), nearly, where urgent orders are dear.
#[test]
fn great_lots_of_urgent_parts_are_found() {
    let terms = StockTerms {
        demand_rate: 10.0,
        lead_time: 1.0,
        holding_cost: 0.01,
        order_cost: 100.0,
        shortage: Shortage::Urgent {
            cost_per_order: 1_000.0,
        },
        ..TERMS
    };
    let best = terms.answer().unwrap().best.unwrap();
    let lot = best.order_quantity.unwrap() as f64;
    assert!((lot / 447.2 - 1.0).abs() < 0.05, "{lot}");
}

/// The stock of seals with a shelf life is the cheapest of those listed, dear to buy, cheap or without a price.
#[test]
fn a_kept_stock_is_the_cheapest_of_its_levels() {
    for price in [None, Some(0.5), Some(40.0)] {
        let terms = StockTerms {
            unit_price: price,
            shelf_life: Some(60.0),
            ..TERMS
        };
        let answer = terms.answer().unwrap();
        let best = answer.best.unwrap().level;
        let costs = || answer.levels.iter().map(|level| level.cost_rate);
        let least = costs().fold(f64::INFINITY, f64::min);
        assert_eq!(best.cost_rate, least, "{price:?}");
        assert!(answer.levels.len() > best.stock + 3, "{price:?}");
    }
}

/// Chosen one after the other, the age is that of the seal alone, however dear its spare is to hold; where the spare
/// takes longer than that age, it is ordered with the new seal.
#[test]
fn apart_the_age_is_that_of_the_seal_alone() {
    let life = Life::weibull(3.0, 36.0).unwrap();
    let prices = Prices {
        planned_cost: 15.0,
        failure_cost: 120.0,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let age = Evaluator::new(&life, &costs, Goal::Cost)
        .unwrap()
        .best_age()
        .unwrap()
        .unwrap();
    let spare = |lead_time: f64| OneSpare {
        planned: 15.0,
        failed: 120.0,
        holding: 20.0,
        waiting: 0.1,
        lead_time,
    };
    let near = spare(0.5 * age).best(&life).unwrap().apart;
    assert!(
        (near.replace_at.unwrap() / age - 1.0).abs() < 1e-9,
        "{near:?}"
    );
    let far = spare(2.0 * age).best(&life).unwrap().apart;
    assert_eq!(far.order_at, Some(0.0));
    let given = spare(2.0 * age).given(&life, 0.0, 2.0 * age).unwrap();
    assert!(
        (far.cost_rate / given - 1.0).abs() < 1e-9,
        "{far:?} {given}"
    );
}

/// Holding and shortage next to nothing: together too, the age is that of the seal alone.
#[test]
fn a_stock_of_no_weight_leaves_the_age() {
    let prices = Prices {
        planned_cost: 80.0,
        failure_cost: 900.0,
        ..Prices::default()
    };
    let costs = Costs::new(prices, Clock::Days).unwrap();
    let terms = StockTerms {
        demand_rate: 0.0,
        holding_cost: 1e-9,
        shortage: Shortage::Backorder { cost_per_day: 1e-9 },
        ..TERMS
    };
    for shape in [1.5, 2.0, 2.5, 3.0, 4.0, 5.0] {
        let life = Life::weibull(shape, 400.0).unwrap();
        let evaluator = Evaluator::new(&life, &costs, Goal::Cost).unwrap();
        let age = evaluator.best_age().unwrap().unwrap();
        let together = joint(&evaluator, 12, 1.0, &terms).unwrap().together;
        let off = together.replace_at.unwrap() / age - 1.0;
        assert!(off.abs() < 1e-3, "{shape}: {off}");
    }
}

/// Erlang's loss formula with load 10 at three seals, written out.
#[test]
fn a_stock_of_urgent_demand_costs_erlangs_loss() {
    let terms = StockTerms {
        shortage: Shortage::Urgent {
            cost_per_order: 50.0,
        },
        ..TERMS
    };
    let term = [1.0, 10.0, 50.0, 1_000.0 / 6.0];
    let blocked = term[3] / term.iter().sum::<f64>();
    let cost = 0.1 * (3.0 - 10.0 * (1.0 - blocked)) + blocked * 50.0;
    let found = terms.one_for_one_cost(3).unwrap();
    assert!((found / cost - 1.0).abs() < 1e-12, "{found} {cost}");
    // Without a seal on the shelf every demand is urgent.
    assert!((terms.one_for_one_cost(0).unwrap() - 50.0).abs() < 1e-12);
}

fn months(fleet: &Fleet, ending: &Ending, period: f64) -> Months {
    let question = Ahead {
        ending,
        draws: &[],
        fleet,
        period,
        periods: 1,
        confidence: 0.9,
        batch_spread: 0.0,
        seed: 3,
    };
    question.answer().unwrap()
}

/// Seals that do not fail are changed at 102: those of 73 all in a period of 30, none of them in the next.
#[test]
fn a_change_near_the_end_of_a_period_falls_into_it() {
    let ending = Ending::new(&Life::weibull(3.0, 1e9).unwrap(), Some(102.0)).unwrap();
    let fleet = Fleet::of(&[Running {
        age: 73.0,
        count: 30,
    }]);
    let planned = months(&fleet, &ending, 30.0).months[0].planned.expected;
    assert!((planned - 30.0).abs() < 1e-6, "{planned}");
}

/// A seal older than its law lets any be is replaced at once, as is said; its count is a number.
#[test]
fn a_seal_older_than_its_law_allows_is_counted() {
    let ending = Ending::new(&Life::weibull(10.0, 100.0).unwrap(), None).unwrap();
    let fleet = Fleet::of(&[Running {
        age: 300.0,
        count: 1,
    }]);
    let planned = months(&fleet, &ending, 10.0).months[0].planned.expected;
    assert!((planned - 1.0).abs() < 1e-6, "{planned}");
}

/// Eight positions join where more or fewer run, or none.
#[test]
fn a_fleet_may_only_grow() {
    let ending = Ending::new(&Life::exponential(100.0).unwrap(), None).unwrap();
    for (running, at) in [(0, 0.0), (3, 0.0), (20, 0.0), (0, 3.1), (3, 7.5), (3, 12.0)] {
        let mut fleet = Fleet::of(&[Running {
            age: 5.0,
            count: running,
        }]);
        let positions = 8.0;
        fleet.joining.push(Joining { at, positions });
        let failed = months(&fleet, &ending, 10.0).months[0].unplanned.expected;
        let want = running as f64 * 0.1 + positions * (10.0 - at).max(0.0) / 100.0;
        assert!(
            (failed - want).abs() < 1e-3 * want + 1e-12,
            "{running} {at}: {failed} {want}"
        );
    }
}

#[test]
fn a_played_fleet_keeps_its_positions_and_has_one_batch() {
    let ending = Ending::new(&Life::exponential(100.0).unwrap(), None).unwrap();
    let batch = vec![Cohort {
        age: 1.0,
        count: 2.0,
    }];
    let fleet = |leaving: f64, batches: usize| Fleet {
        batches: vec![batch.clone(); batches],
        leaving,
        ..Fleet::default()
    };
    let played = |fleet: Fleet| play_fleet(&ending, &fleet, 10.0, 2, 3, 1);
    assert!(played(fleet(0.0, 1)).is_ok());
    assert!(played(fleet(0.01, 1)).is_err());
    assert!(played(fleet(0.0, 2)).is_err());
}

/// A part with half as many failures more than expected at one place and half as many fewer at the other, beside one
/// of a million at the first place that is as expected.
#[test]
fn factors_of_a_part_settle_beside_a_greater_one() {
    let seen = |happened: f64, expected: f64| Seen { happened, expected };
    let parts = [
        vec![seen(24_000.0, 16_000.0), seen(8_000.0, 16_000.0)],
        vec![seen(1e6, 1e6), seen(0.0, 0.0)],
    ];
    let found = factors_of_parts(&parts, 0, 1).centre;
    // What places and parts give must hold the sums of both, as far as the places are not drawn together.
    let sum = found[0][0] + found[0][1];
    assert!((sum - 2.0).abs() < 1e-6, "{found:?}");
    assert!((found[0][0] - 1.5).abs() < 0.02, "{found:?}");
}

/// The first of two periods is a forecast of its own.
#[test]
fn a_period_has_the_interval_of_a_forecast_up_to_its_end() {
    let life = Life::weibull(2.0, 100.0).unwrap();
    let draws: Vec<Life> = (0..60)
        .map(|i| Life::weibull(2.0, 80.0 + f64::from(i)).unwrap())
        .collect();
    let running = [Running {
        age: 20.0,
        count: 40,
    }];
    let outlook = |horizon: f64, periods: usize| {
        Outlook {
            running: &running,
            life: &life,
            draws: &draws,
            horizon,
            periods,
            confidence: 0.9,
            oldest_seen: None,
            with_renewals: false,
        }
        .forecast()
        .unwrap()
    };
    let (both, half) = (outlook(60.0, 2), outlook(30.0, 1));
    let first = both.by_period[0];
    assert_eq!((first.lower, first.upper), (half.lower, half.upper));
    assert!(first.upper < both.upper, "{first:?}");
}

/// A great fleet whose draws are replaced later than the estimate: each is as if its own age were the estimate's.
#[test]
fn draws_of_another_age_are_gathered_by_their_own() {
    let life = Life::weibull(2.5, 250.0).unwrap();
    let ending = |age: f64| Ending::new(&life, Some(age)).unwrap();
    let seals: Vec<Running> = (0..500)
        .map(|i| Running {
            age: f64::from(i) * 0.59,
            count: 1 + i as usize % 3,
        })
        .collect();
    let fleet = Fleet::of(&seals);
    let draws = vec![ending(300.0); 50];
    let drawn = |usual: f64| {
        let question = Ahead {
            ending: &ending(usual),
            draws: &draws,
            fleet: &fleet,
            period: 30.0,
            periods: 3,
            confidence: 0.9,
            batch_spread: 0.0,
            seed: 3,
        };
        question.cases().unwrap().drawn
    };
    assert_eq!(drawn(200.0), drawn(300.0));
}
