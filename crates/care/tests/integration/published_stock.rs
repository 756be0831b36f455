//! Stock against published models. Sources stand in each data file's head.

use crate::lots::LOTS;
use crate::table::{close, rows};
use sealspan_care::pipeline::Pipeline;
use sealspan_care::stock::{Shortage, StockTerms};

fn terms(demand_rate: f64, lead_time: f64) -> StockTerms {
    StockTerms {
        demand_rate,
        lead_time,
        holding_cost: 1.0,
        shortage: Shortage::Backorder { cost_per_day: 25.0 },
        order_cost: 0.0,
        unit_price: None,
        ..LOTS
    }
}

/// Palm 1938, Sherbrooke 1968: 12 digits given; relative 1e-10 even at backorders of 1e-28.
#[test]
fn poisson_base_stock() {
    let mut checked = 0;
    for [mean, stock, fill, ready, backorders, on_hand] in
        rows(include_str!("data/poisson_base_stock.csv"))
    {
        let x = Pipeline::new(mean / 30.0, 30.0).unwrap();
        let s = stock as usize;
        close(x.fill_rate(s), fill, 1e-10);
        close(x.at_most(s), ready, 1e-10);
        close(x.backorders(s), backorders, 1e-10);
        close(x.on_hand(s), on_hand, 1e-10);
        checked += 1;
    }
    assert_eq!(checked, 128);
}

/// The two service measures ask for stocks one apart; integers, exact.
#[test]
fn required_stock() {
    for [mean, target, for_ready, for_fill] in rows(include_str!("data/poisson_required_stock.csv"))
    {
        let x = Pipeline::new(mean, 1.0).unwrap();
        assert_eq!(x.stock_for_ready_rate(target), for_ready as usize);
        assert_eq!(x.stock_for_fill_rate(target), for_fill as usize);
        let best = StockTerms {
            target_fill_rate: Some(target),
            shortage: Shortage::Backorder { cost_per_day: 0.0 },
            ..terms(mean, 1.0)
        }
        .answer()
        .unwrap()
        .best
        .unwrap();
        assert_eq!(best.level.stock, for_fill as usize);
    }
}

/// Hadley & Whitin 1963: integers exact, costs to 1e-9.
#[test]
fn reorder_point_and_quantity() {
    for row in rows(include_str!("data/reorder_point_quantity.csv")) {
        let [
            rate,
            lead,
            order,
            holding,
            shortage,
            point,
            quantity,
            cost,
            back,
            hand,
            fill,
        ] = row;
        let best = StockTerms {
            holding_cost: holding,
            shortage: Shortage::Backorder {
                cost_per_day: shortage,
            },
            order_cost: order,
            ..terms(rate, lead)
        }
        .answer()
        .unwrap()
        .best
        .unwrap();
        assert_eq!(best.reorder_point, point as i64);
        assert_eq!(best.order_quantity, Some(quantity as usize));
        close(best.level.cost_rate, cost, 1e-9);
        close(best.level.expected_backorders, back, 1e-9);
        close(best.level.expected_on_hand, hand, 1e-9);
        close(best.level.fill_rate, fill, 1e-9);
    }
}
