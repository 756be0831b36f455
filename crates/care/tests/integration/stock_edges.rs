//! Stock: urgent supply, targets, refusals and the advice's own claims.

use crate::lots::LOTS;
use sealspan_care::stock::{Shortage, StockTerms};

const TERMS: StockTerms = StockTerms {
    demand_rate: 0.2,
    lead_time: 15.0,
    holding_cost: 0.1,
    shortage: Shortage::Backorder { cost_per_day: 4.0 },
    order_cost: 0.0,
    unit_price: None,
    ..LOTS
};

/// Erlang's loss formula with load 3, written out: (3^s/s!) / Σ 3^k/k!.
#[test]
fn urgent_share_is_erlangs_loss() {
    let terms = StockTerms {
        shortage: Shortage::Urgent {
            cost_per_order: 50.0,
        },
        ..TERMS
    };
    let answer = terms.answer().unwrap();
    let (mut term, mut sum) = (1.0, 1.0);
    for level in &answer.levels {
        if level.stock > 0 {
            term *= 3.0 / level.stock as f64;
            sum += term;
        }
        let blocked = term / sum;
        assert!((level.urgent_share / blocked - 1.0).abs() < 1e-12);
        let on_hand = level.stock as f64 - 3.0 * (1.0 - blocked);
        assert!((level.expected_on_hand - on_hand).abs() < 1e-12);
        let cost = 0.1 * on_hand + 0.2 * blocked * 50.0;
        assert!((level.cost_rate / cost - 1.0).abs() < 1e-12);
        assert!((level.fill_rate + level.urgent_share - 1.0).abs() < 1e-15);
    }
    let best = answer.best.unwrap();
    let least = answer
        .levels
        .iter()
        .map(|l| l.cost_rate)
        .fold(f64::INFINITY, f64::min);
    assert_eq!(best.level.cost_rate, least);
    let priced = StockTerms {
        order_cost: 5.0,
        ..terms
    }
    .answer()
    .unwrap()
    .best
    .unwrap();
    assert!(priced.order_quantity > Some(1), "{priced:?}");
}

/// Every level listed costs at least as much as the advised one, over a grid of costs.
#[test]
fn best_is_least_of_all() {
    for holding_cost in [0.01, 0.1, 1.0] {
        for cost_per_day in [0.001, 1.0, 1e6] {
            let answer = StockTerms {
                holding_cost,
                shortage: Shortage::Backorder { cost_per_day },
                ..TERMS
            }
            .answer()
            .unwrap();
            let best = answer.best.unwrap();
            assert!(
                answer
                    .levels
                    .iter()
                    .all(|l| l.cost_rate >= best.level.cost_rate * (1.0 - 1e-12))
            );
            assert!(answer.levels.last().unwrap().stock > best.level.stock);
        }
    }
}

/// A target moves a batch policy as little as it can; found again here by plain search.
#[test]
fn batches_under_a_target() {
    let terms = StockTerms {
        order_cost: 3.0,
        target_fill_rate: Some(0.995),
        ..TERMS
    };
    let best = terms.answer().unwrap().best.unwrap();
    assert!(best.level.fill_rate >= 0.995);
    let x = sealspan_care::pipeline::Pipeline::new(0.2, 15.0).unwrap();
    let mut least = f64::INFINITY;
    for quantity in 1..200_usize {
        for low in 0..60_usize {
            let window = low..low + quantity;
            let n = quantity as f64;
            if window.clone().map(|y| x.fill_rate(y)).sum::<f64>() / n >= 0.995 {
                let held: f64 = window
                    .map(|y| 0.1 * x.on_hand(y) + 4.0 * x.backorders(y))
                    .sum();
                least = least.min((held + 0.2 * 3.0) / n);
            }
        }
    }
    assert!((best.level.cost_rate / least - 1.0).abs() < 1e-12);
    let free = StockTerms {
        target_fill_rate: None,
        ..terms
    }
    .answer()
    .unwrap()
    .best
    .unwrap();
    assert!(free.level.cost_rate < best.level.cost_rate);
}

#[test]
fn no_demand_needs_no_stock() {
    let answer = StockTerms {
        demand_rate: 0.0,
        ..TERMS
    }
    .answer()
    .unwrap();
    assert_eq!(answer.best.unwrap().level.stock, 0);
    assert_eq!(answer.demand.pmf, vec![1.0]);
    let urgent = StockTerms {
        demand_rate: 0.0,
        shortage: Shortage::Urgent {
            cost_per_order: 50.0,
        },
        ..TERMS
    };
    assert_eq!(urgent.answer().unwrap().best.unwrap().level.stock, 0);
}

#[test]
fn questions_without_an_answer_say_why() {
    let free_shelf = StockTerms {
        holding_cost: 0.0,
        ..TERMS
    }
    .answer()
    .unwrap();
    assert!(free_shelf.best.is_none() && free_shelf.best_reason.unwrap().contains("holding cost"));
    let no_shortage = StockTerms {
        shortage: Shortage::Backorder { cost_per_day: 0.0 },
        ..TERMS
    };
    assert!(
        no_shortage
            .answer()
            .unwrap()
            .best_reason
            .unwrap()
            .contains("shortage")
    );
    for bad in [
        StockTerms {
            demand_rate: -0.1,
            ..TERMS
        },
        StockTerms {
            lead_time: f64::NAN,
            ..TERMS
        },
        StockTerms {
            target_fill_rate: Some(1.0),
            ..TERMS
        },
        StockTerms {
            shelf_life: Some(0.0),
            ..TERMS
        },
        StockTerms {
            demand_rate: 1e9,
            ..TERMS
        },
    ] {
        assert!(bad.answer().unwrap_err().is_input());
    }
}

/// A part that keeps for centuries is stocked as one that keeps for ever, whatever an order costs; only then is nothing
/// said of dates.
#[test]
fn a_shelf_life_of_centuries_changes_nothing() {
    let urgent = Shortage::Urgent {
        cost_per_order: 50.0,
    };
    for shortage in [TERMS.shortage, urgent] {
        let plain = StockTerms {
            shortage,
            order_cost: 3.0,
            unit_price: Some(20.0),
            ..TERMS
        };
        let kept = StockTerms {
            shelf_life: Some(1e5),
            ..plain
        };
        let (plain, kept) = (plain.answer().unwrap(), kept.answer().unwrap());
        let dated = |notes: &[String]| notes.iter().any(|n| n.contains("out of date"));
        assert!(dated(&kept.notes) && !dated(&plain.notes));
        for (a, b) in plain.levels.iter().zip(&kept.levels).take(8) {
            assert_eq!(a.stock, b.stock);
            assert!((a.fill_rate - b.fill_rate).abs() < 1e-6, "{a:?} {b:?}");
            assert!((a.expected_on_hand - b.expected_on_hand).abs() < 1e-5);
            assert!((a.urgent_share - b.urgent_share).abs() < 1e-6);
            assert!(
                (a.cost_rate / b.cost_rate - 1.0).abs() < 1e-5,
                "{a:?} {b:?}"
            );
        }
    }
}

/// Where orders are placed in batches and demands on an empty shelf go urgent, dearer orders make the best plan dearer,
/// by no more than the orders it places now.
#[test]
fn dearer_orders_cost_what_they_are_placed_for() {
    let best = |order_cost: f64| {
        let terms = StockTerms {
            shortage: Shortage::Urgent {
                cost_per_order: 50.0,
            },
            order_cost,
            ..TERMS
        };
        terms.answer().unwrap().best.unwrap()
    };
    let (before, after) = (best(5.0), best(8.0));
    let more = after.level.cost_rate - before.level.cost_rate;
    let placed = |quantity: Option<usize>| 0.2 / quantity.unwrap() as f64;
    assert!(
        more <= 3.0 * placed(before.order_quantity) + 1e-12,
        "{more}"
    );
    let met = after.level.fill_rate;
    assert!(
        more >= 3.0 * met * placed(after.order_quantity) - 1e-12,
        "{more}"
    );
}

/// Urgent supply with a fill rate asked for: the stock reaches it, and one seal less does not.
#[test]
fn urgent_supply_reaches_the_fill_rate_asked_for() {
    let answer = StockTerms {
        shortage: Shortage::Urgent {
            cost_per_order: 5.0,
        },
        target_fill_rate: Some(0.995),
        ..TERMS
    }
    .answer()
    .unwrap();
    let best = answer.best.unwrap().level;
    let before = answer.levels.iter().find(|l| l.stock + 1 == best.stock);
    assert!(best.fill_rate >= 0.995, "{best:?}");
    assert!(before.unwrap().fill_rate < 0.995);
}

/// A dear order asks for many at once: about √(2 × demand × order cost/holding), Wilson's lot, where a shortage is cheap
/// beside it.
#[test]
fn dear_orders_are_large() {
    let terms = StockTerms {
        shortage: Shortage::Urgent {
            cost_per_order: 900.0,
        },
        order_cost: 400.0,
        ..TERMS
    };
    let best = terms.answer().unwrap().best.unwrap();
    let wilson = (2.0 * TERMS.demand_rate * 400.0 / TERMS.holding_cost).sqrt();
    let quantity = best.order_quantity.unwrap() as f64;
    assert!(
        (quantity / wilson - 1.0).abs() < 0.1,
        "{quantity} beside {wilson}"
    );
}
