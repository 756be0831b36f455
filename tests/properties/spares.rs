//! Stocks and budgets.

use super::drawn;
use proptest::prelude::*;
use sealspan_care::spares::budget::{Part, efficient_curve, within};
use sealspan_care::stock::{Shortage, StockTerms};

fn parts() -> impl Strategy<Value = Vec<Part>> {
    let part = (0.05..3.0_f64, 5..120_u32, 1..4_u32).prop_map(|(on_order, price, weight)| Part {
        on_order,
        price: f64::from(price),
        weight: f64::from(weight),
    });
    prop::collection::vec(part, 1..4)
}

/// Expected backorders of a Poisson number on order with `stock` seals held, by its sum.
fn backorders(mean: f64, stock: u32) -> f64 {
    let mut probability = (-mean).exp();
    let mut sum = 0.0;
    for k in 1..200_u32 {
        probability *= mean / f64::from(k);
        sum += f64::from(k.saturating_sub(stock)) * probability;
    }
    sum
}

fn total(parts: &[Part], stock: &[u32]) -> f64 {
    let each = parts.iter().zip(stock);
    each.map(|(p, s)| p.weight * backorders(p.on_order, *s))
        .sum()
}

/// The fewest weighted backorders of every mix that `budget` buys.
fn by_enumeration(parts: &[Part], budget: f64) -> f64 {
    fn walk(parts: &[Part], at: usize, left: f64, stock: &mut Vec<u32>, best: &mut f64) {
        let Some(part) = parts.get(at) else {
            *best = best.min(total(parts, stock));
            return;
        };
        for n in 0..=(left / part.price).floor() as u32 {
            stock.push(n);
            walk(parts, at + 1, left - f64::from(n) * part.price, stock, best);
            stock.pop();
        }
    }
    let mut best = f64::INFINITY;
    walk(parts, 0, budget, &mut Vec::new(), &mut best);
    best
}

proptest! {
    #![proptest_config(drawn(100))]

    #[test]
    fn a_seal_more_on_the_shelf_never_makes_it_worse(
        demand_rate in 0.001..0.5_f64,
        lead_time in 1.0..60.0_f64,
        urgent in any::<bool>(),
    ) {
        let shortage = if urgent {
            Shortage::Urgent { cost_per_order: 500.0 }
        } else {
            Shortage::Backorder { cost_per_day: 100.0 }
        };
        let terms = StockTerms {
            demand_rate,
            lead_time,
            holding_cost: 0.05,
            shortage,
            order_cost: 0.0,
            unit_price: None,
            target_fill_rate: None,
            shelf_life: None,
            age_on_arrival: 0.0,
            lead_time_deviation: 0.0,
        };
        let answer = terms.answer().unwrap();
        for pair in answer.levels.windows(2) {
            let (less, more) = (&pair[0], &pair[1]);
            prop_assert_eq!(less.stock + 1, more.stock);
            prop_assert!(less.fill_rate <= more.fill_rate + 1e-12);
            prop_assert!(less.expected_backorders >= more.expected_backorders - 1e-12);
            prop_assert!(less.urgent_share >= more.urgent_share - 1e-12);
            prop_assert!(less.expected_on_hand <= more.expected_on_hand + 1e-12);
        }
        let best = answer.best.unwrap().level;
        let least = answer.levels.iter().map(|l| l.cost_rate).fold(f64::INFINITY, f64::min);
        prop_assert!(best.cost_rate <= least * (1.0 + 1e-12));
    }

    #[test]
    fn the_efficient_curve_buys_less_and_less(parts in parts()) {
        let curve = efficient_curve(&parts, 60).unwrap();
        let gains: Vec<f64> = curve
            .windows(2)
            .map(|w| (w[0].backorders - w[1].backorders) / (w[1].spent - w[0].spent))
            .collect();
        for pair in gains.windows(2) {
            prop_assert!(pair[1] <= pair[0] * (1.0 + 1e-9), "{gains:?}");
        }
        let first = total(&parts, &vec![0; parts.len()]);
        prop_assert!((curve[0].backorders - first).abs() <= 1e-9 * first);
    }

    #[test]
    fn no_mix_within_a_budget_is_better(parts in parts(), money in 20..400_u32) {
        let budget = f64::from(money);
        let Ok(found) = within(&parts, budget) else {
            prop_assert!(parts.iter().all(|p| p.price > budget));
            return Ok(());
        };
        let least = by_enumeration(&parts, budget);
        prop_assert!(found.best.spent <= budget * (1.0 + 1e-9));
        let own = total(&parts, &found.best.stock);
        prop_assert!((own - found.best.backorders).abs() <= 1e-9 + 1e-9 * own);
        // The walk ends where a step would take off less than 10⁻¹² of what waits without a spare.
        let first = total(&parts, &vec![0; parts.len()]);
        prop_assert!(found.bound <= least * (1.0 + 1e-9) + 1e-11 * first);
        if found.exact {
            prop_assert!(own <= least * (1.0 + 1e-9) + 1e-11 * first, "{own} {least}");
        }
    }
}
