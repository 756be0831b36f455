//! Orders of several seals at a time: reorder point R and quantity Q, exact for Poisson demand.
//!
//! On hand plus on order minus owed is uniform on R + 1 .. R + Q, so every measure is the mean of
//! the one-for-one measures over that window (Hadley & Whitin 1963, from memory).

use crate::error::{Error, Result};
use crate::pipeline::Pipeline;
use crate::stock::{Best, Level, StockTerms};

/// Larger order quantities are taken for a slip in the costs.
const MOST_IN_AN_ORDER: usize = 100_000;

/// What reordering `quantity` at position `reorder_point` (−1 or more) gives.
pub(crate) fn level(
    terms: &StockTerms,
    pipeline: &Pipeline,
    reorder_point: i64,
    quantity: usize,
) -> Level {
    let low = usize::try_from(reorder_point + 1).unwrap_or(0);
    let mean =
        |f: &dyn Fn(usize) -> f64| (low..low + quantity).map(f).sum::<f64>() / quantity as f64;
    let on_hand = mean(&|y| pipeline.on_hand(y));
    let backorders = mean(&|y| pipeline.backorders(y));
    let stock = low + quantity - 1;
    Level {
        stock,
        fill_rate: mean(&|y| pipeline.fill_rate(y)),
        ready_rate: Some(mean(&|y| pipeline.at_most(y))),
        ready_rate_reason: None,
        expected_backorders: backorders,
        urgent_share: 0.0,
        expected_on_hand: on_hand,
        cost_rate: terms.holding_cost * on_hand
            + terms.shortage_per_day() * backorders
            + terms.demand_rate * terms.order_cost / quantity as f64,
        investment: terms.unit_price.map(|price| price * stock as f64),
    }
}

/// A window low .. low + quantity of positions and the sum of their costs.
struct Window {
    low: usize,
    quantity: usize,
    sum: f64,
}

impl Window {
    /// Takes in the cheaper neighbour; the windows of least sum are nested because the one-for-one
    /// cost is convex (Federgruen & Zheng 1992, from memory). Returns what it cost.
    fn grow(&mut self, cost: &impl Fn(usize) -> f64) -> f64 {
        let right = cost(self.low + self.quantity);
        let left = self.low.checked_sub(1).map(|y| (y, cost(y)));
        let added = match left {
            Some((y, c)) if c < right => {
                self.low = y;
                c
            }
            _ => right,
        };
        self.quantity += 1;
        self.sum += added;
        added
    }

    fn mean_cost(&self, order_money: f64) -> f64 {
        (order_money + self.sum) / self.quantity as f64
    }
}

/// Best reorder point (not below −1) and quantity, under the target fill rate if there is one.
///
/// For each quantity the cheapest window is known; a target moves it right as far as needed. The
/// cheapest cost by quantity falls and then rises, so the search may end once it is above the best found.
pub(crate) fn best(terms: &StockTerms, pipeline: &Pipeline, cost_per_day: f64) -> Result<Best> {
    let cost =
        |y: usize| terms.holding_cost * pipeline.on_hand(y) + cost_per_day * pipeline.backorders(y);
    let order_money = terms.demand_rate * terms.order_cost;
    let least = (0..)
        .find(|s| terms.holding_cost * pipeline.at_most(*s) >= cost_per_day * pipeline.above(*s))
        .unwrap_or(0);
    let mut window = Window {
        low: least,
        quantity: 1,
        sum: cost(least),
    };
    let mut found: Option<(f64, usize, usize)> = None;
    loop {
        let low = allowed_low(terms, pipeline, &window);
        let here = if low == window.low {
            window.mean_cost(order_money)
        } else {
            level(terms, pipeline, low as i64 - 1, window.quantity).cost_rate
        };
        if found.is_none_or(|(c, ..)| here < c) {
            found = Some((here, low, window.quantity));
        }
        let before = window.mean_cost(order_money);
        let added = window.grow(&cost);
        // Once the next position costs more than the mean, the mean only rises from here.
        if added >= before && found.is_some_and(|(c, ..)| before >= c) {
            break;
        }
        if window.quantity > MOST_IN_AN_ORDER {
            return Err(Error::no_answer(format!(
                "No best order quantity below {MOST_IN_AN_ORDER}: the order cost is far above the holding cost. Check that the holding cost is per unit and day."
            )));
        }
    }
    let (_, low, quantity) = found.unwrap_or((0.0, least, 1));
    let basis = "Least cost over every reorder point and quantity: exact for Poisson demand, and the cost rises beyond the quantities searched.";
    match kept_for(terms) {
        Some(keeping) => Ok(before_they_go(terms, pipeline, &keeping, quantity)),
        None => Ok(terms.advice(
            level(terms, pipeline, low as i64 - 1, quantity),
            low as i64 - 1,
            quantity,
            terms
                .shelf()
                .map(|_| (0.0, "Far more is demanded than lies there.")),
            basis.to_owned(),
        )),
    }
}

/// Demand from an order until its seals go out of date; `None` without a shelf life, or when it is more than can
/// be counted.
fn kept_for(terms: &StockTerms) -> Option<Pipeline> {
    let shelf = terms.shelf()?;
    Pipeline::new(terms.demand_rate, shelf.lead_time + shelf.usable).ok()
}

/// Running sums over positions, from which the mean over any window follows at once: on hand, owed, met at once, and
/// seals that the demand comes too late for.
struct Sums<'a> {
    pipeline: &'a Pipeline,
    keeping: &'a Pipeline,
    up_to: Vec<[f64; 4]>,
}

impl Sums<'_> {
    fn mean(&mut self, low: usize, quantity: usize) -> [f64; 4] {
        let mut last = self.up_to.last().copied().unwrap_or_default();
        for y in self.up_to.len()..=low + quantity {
            if let Some(y) = y.checked_sub(1) {
                let here = [
                    self.pipeline.on_hand(y),
                    self.pipeline.backorders(y),
                    self.pipeline.fill_rate(y),
                    self.keeping.fill_rate(y),
                ];
                last.iter_mut().zip(here).for_each(|(sum, x)| *sum += x);
            }
            self.up_to.push(last);
        }
        let at = |y: usize| self.up_to.get(y).copied().unwrap_or(last);
        let (mut mean, from) = (at(low + quantity), at(low));
        let pairs = mean.iter_mut().zip(from);
        pairs.for_each(|(sum, x)| *sum = (*sum - x) / quantity as f64);
        mean
    }
}

/// With a shelf life smaller orders at lower reorder points may be better: every quantity up to the one found without it,
/// with every reorder point until holding, orders and scrap alone cost more than the best, with an upper bound for what is
/// scrapped. Seal i of an order meets demand number R + i after it was placed, and is scrapped if that comes after its
/// last day; scrapping those before it only brings its demand forward.
fn before_they_go(
    terms: &StockTerms,
    pipeline: &Pipeline,
    keeping: &Pipeline,
    most: usize,
) -> Best {
    let price = terms.unit_price.unwrap_or(0.0);
    let target = terms.target_fill_rate.unwrap_or(0.0);
    // Where the lowest position reaches the target the mean of all does.
    let surely = pipeline.stock_for_fill_rate(target);
    let mut sums = Sums {
        pipeline,
        keeping,
        up_to: vec![],
    };
    let mut best = (f64::INFINITY, 0.0, 0, most);
    for quantity in (1..=most).rev() {
        let an_order = terms.order_cost / quantity as f64;
        for low in 0.. {
            let [on_hand, owed, met, late] = sums.mean(low, quantity);
            let scrap = late * terms.demand_rate;
            let floor = terms.holding_cost * on_hand
                + terms.demand_rate * an_order
                + scrap * (price + an_order);
            if floor >= best.0 {
                break;
            }
            let cost = floor + terms.shortage_per_day() * owed;
            let enough = low >= surely || met >= target;
            if enough && cost < best.0 {
                best = (cost, scrap, low, quantity);
            }
        }
    }
    let (cost_rate, scrap, low, quantity) = best;
    let reorder_point = low as i64 - 1;
    terms.advice(
        Level {
            cost_rate,
            ..level(terms, pipeline, reorder_point, quantity)
        },
        reorder_point,
        quantity,
        Some((scrap, "At most this: each seal against the demand that would take it, the oldest issued first; close while little is scrapped.")),
        "Least cost over every reorder point and quantity, scrap for age priced in by its upper bound.".to_owned(),
    )
}

/// The window's low end, moved right until the target fill rate is reached.
fn allowed_low(terms: &StockTerms, pipeline: &Pipeline, window: &Window) -> usize {
    let Some(target) = terms.target_fill_rate else {
        return window.low;
    };
    let n = window.quantity;
    let mut low = window.low;
    let mut sum: f64 = (low..low + n).map(|y| pipeline.fill_rate(y)).sum();
    while sum < target * n as f64 {
        sum += pipeline.fill_rate(low + n) - pipeline.fill_rate(low);
        low += 1;
    }
    low
}
