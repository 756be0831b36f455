//! Orders of several seals at a time where a demand on an empty shelf goes urgent: exact for Poisson demand and a
//! steady lead time while at most one order is out (quantity above the reorder point).
//!
//! A cycle runs from order to order: Q seals are issued, and the demands beyond R during the lead time go urgent
//! (the lost-sales model of Hadley & Whitin 1963, from memory).

use crate::error::{Error, Result};
use crate::pipeline::Pipeline;
use crate::stock::{Best, Level, Shortage, StockTerms};

const MOST_IN_AN_ORDER: usize = 100_000;

/// What a reorder point and quantity give, and an upper bound for what is scrapped per day.
fn level(
    terms: &StockTerms,
    lead: &Pipeline,
    keeping: Option<&Pipeline>,
    point: usize,
    quantity: usize,
) -> (Level, f64) {
    let missed = lead.backorders(point);
    let demands = quantity as f64 + missed;
    let cycle = demands / terms.demand_rate;
    // Seal-days: while the order is out, j seals lie for P(N > point − j) / rate; after it came, the
    // shelf runs down from where it then stands to the reorder point, one mean demand a step.
    let out: f64 = (0..point).map(|j| (point - j) as f64 * lead.above(j)).sum();
    let after: f64 = leftovers(lead, point)
        .map(|(left, p)| {
            let top = (quantity + left) as f64;
            p * 0.5 * (top * (top + 1.0) - (point * (point + 1)) as f64)
        })
        .sum();
    let on_hand = (out + after) / demands;
    let scrap = keeping.map_or(0.0, |kept| {
        let lost = |left: usize| kept.on_hand(left + quantity) - kept.on_hand(left);
        leftovers(lead, point)
            .map(|(left, p)| p * lost(left))
            .sum::<f64>()
            / cycle
    });
    let urgent_share = missed / demands;
    let urgent = match terms.shortage {
        Shortage::Urgent { cost_per_order } => cost_per_order,
        Shortage::Backorder { .. } => 0.0,
    };
    let level = Level {
        stock: point + quantity,
        fill_rate: quantity as f64 / demands,
        ready_rate: None,
        ready_rate_reason: Some("demands go urgent instead of waiting"),
        expected_backorders: 0.0,
        urgent_share,
        expected_on_hand: on_hand,
        cost_rate: terms.holding_cost * on_hand
            + terms.demand_rate * urgent_share * urgent
            + terms.order_cost / cycle
            + scrap * terms.unit_price.unwrap_or(0.0),
        investment: terms
            .unit_price
            .map(|price| price * (point + quantity) as f64),
    };
    (level, scrap)
}

/// Seals still on the shelf when the order arrives, with their probabilities.
fn leftovers(lead: &Pipeline, point: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
    let none = if point == 0 {
        1.0
    } else {
        lead.above(point - 1)
    };
    let some = (1..=point).map(move |left| (left, lead.counts().probability(point - left)));
    std::iter::once((0, none)).chain(some)
}

/// The best reorder point and quantity with at most one order out. For each quantity the reorder point is moved
/// up from the one before while that pays or the target asks for it.
pub(crate) fn best(terms: &StockTerms, lead: &Pipeline) -> Result<Best> {
    let usable = terms.shelf().map(|s| s.usable);
    // More demand while a seal keeps than can be counted: nothing is scrapped.
    let kept = usable.and_then(|days| Pipeline::new(terms.demand_rate, days).ok());
    let thrifty = (2.0 * terms.demand_rate * terms.order_cost / terms.holding_cost).sqrt();
    let most = (2.0 * thrifty).ceil() as usize + 20;
    if most > MOST_IN_AN_ORDER {
        return Err(Error::no_answer(format!(
            "No best order quantity below {MOST_IN_AN_ORDER}: the order cost is far above the holding cost. Check that the holding cost is per unit and day."
        )));
    }
    let target = terms.target_fill_rate.unwrap_or(0.0);
    let mut found: Option<(Level, f64, usize, usize)> = None;
    for quantity in 1..=most {
        let mut cheapest: Option<(Level, f64, usize)> = None;
        for point in 0..quantity {
            let (here, scrap) = level(terms, lead, kept.as_ref(), point, quantity);
            let short = here.fill_rate < target;
            match &cheapest {
                Some((c, ..)) if here.cost_rate >= c.cost_rate => break,
                _ if short => {}
                _ => cheapest = Some((here, scrap, point)),
            }
        }
        if let Some((here, scrap, point)) = cheapest
            && found
                .as_ref()
                .is_none_or(|f| here.cost_rate < f.0.cost_rate)
        {
            found = Some((here, scrap, point, quantity));
        }
    }
    let (level, scrap, point, quantity) = found.ok_or_else(|| {
        Error::no_answer("No order quantity reaches the target with one order out at a time.")
    })?;
    let bound = "At most this: each order's seals against the demand until their last day, the oldest issued first; close while little is scrapped.";
    Ok(terms.advice(
        level,
        point as i64,
        quantity,
        usable.map(|_| (scrap, bound)),
        "Least cost over reorder points and quantities with at most one order out: exact for Poisson demand and a steady lead time.".to_owned(),
    ))
}
