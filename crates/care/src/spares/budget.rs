//! Several parts at several places under one budget: marginal analysis.
//!
//! Every seal more of a part takes P(X > s) off the expected backorders, X the Poisson number on order, and that
//! falls with every seal. Buying where the money takes off most at each step passes through the efficient points
//! only (Fox 1966, from memory). Between two of them another mix may fill a budget better: a few parts are solved
//! exactly by merging their lists of undominated mixes, many parts by filling what is left, with a bound on what
//! any mix could reach.

use super::mixes;
use crate::error::{Error, Result, not_negative, positive};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// One part at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Mean number on order: demand rate times lead time.
    pub on_order: f64,
    /// Price of one seal, money.
    pub price: f64,
    /// What one backorder counts: 1, or the money a position costs while it waits.
    pub weight: f64,
}

/// A stock for every part, in the order given.
#[derive(Debug, Clone, PartialEq)]
pub struct Mix {
    /// Seals of each part.
    pub stock: Vec<u32>,
    /// Money tied up.
    pub spent: f64,
    /// Expected backorders, weighted.
    pub backorders: f64,
}

/// The best stocks for a budget.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// The mix advised.
    pub best: Mix,
    /// The last efficient point the budget reaches: nothing as cheap is better.
    pub efficient: Mix,
    /// No mix within the budget has fewer weighted backorders than this.
    pub bound: f64,
    /// True when the mix is known to be the best of all.
    pub exact: bool,
}

/// A point of the efficient curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The part whose seal was bought; `None` at the start.
    pub part: Option<usize>,
    /// Money tied up so far.
    pub spent: f64,
    /// Expected backorders left, weighted.
    pub backorders: f64,
}

/// Fewer backorders than this share of those of empty shelves are not worth another step.
const NONE_LEFT: f64 = 1e-12;

/// Walks up the stock of one part: P(X > s) without loss of digits.
#[derive(Debug, Clone)]
pub(super) struct Tail {
    mean: f64,
    stock: u32,
    ln_pmf: f64,
    at_most: f64,
}

impl Tail {
    pub fn new(mean: f64) -> Self {
        Self {
            mean,
            stock: 0,
            ln_pmf: -mean,
            at_most: (-mean).exp(),
        }
    }

    /// P(X > stock), which is what the next seal takes off.
    pub fn above(&self) -> f64 {
        let next = f64::from(self.stock) + 1.0;
        if self.mean > next {
            return 1.0 - self.at_most;
        }
        let (mut term, mut sum, mut k) = (1.0, 1.0, next);
        while term > 1e-17 * sum {
            k += 1.0;
            term *= self.mean / k;
            sum += term;
        }
        if self.mean > 0.0 {
            (self.ln_pmf + (self.mean / next).ln()).exp() * sum
        } else {
            0.0
        }
    }

    pub fn step(&mut self) {
        self.stock += 1;
        self.ln_pmf += (self.mean / f64::from(self.stock)).ln();
        self.at_most += self.ln_pmf.exp();
    }
}

#[derive(PartialEq)]
struct Offer {
    gain_per_money: f64,
    part: usize,
}

impl Eq for Offer {}

impl PartialOrd for Offer {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Offer {
    /// The greatest gain first; of equal ones the part named first.
    fn cmp(&self, other: &Self) -> Ordering {
        self.gain_per_money
            .total_cmp(&other.gain_per_money)
            .then(other.part.cmp(&self.part))
    }
}

/// The walk along the efficient curve.
struct Walk<'a> {
    parts: &'a [Part],
    tails: Vec<Tail>,
    offers: BinaryHeap<Offer>,
    mix: Mix,
}

impl<'a> Walk<'a> {
    fn new(parts: &'a [Part]) -> Result<Self> {
        for part in parts {
            not_negative("the mean number on order of a part", part.on_order)?;
            positive("the price of a part", part.price)?;
            not_negative("the weight of a backorder", part.weight)?;
        }
        let mut walk = Self {
            parts,
            tails: parts.iter().map(|p| Tail::new(p.on_order)).collect(),
            offers: BinaryHeap::with_capacity(parts.len()),
            mix: Mix {
                stock: vec![0; parts.len()],
                spent: 0.0,
                backorders: parts.iter().map(|p| p.weight * p.on_order).sum(),
            },
        };
        (0..parts.len()).for_each(|i| walk.offer(i));
        Ok(walk)
    }

    fn offer(&mut self, part: usize) {
        if let (Some(p), Some(tail)) = (self.parts.get(part), self.tails.get(part)) {
            let gain_per_money = p.weight * tail.above() / p.price;
            if gain_per_money > 0.0 {
                self.offers.push(Offer {
                    gain_per_money,
                    part,
                });
            }
        }
    }

    fn price(&self, part: usize) -> f64 {
        self.parts.get(part).map_or(f64::INFINITY, |p| p.price)
    }

    fn buy(&mut self, offer: &Offer) {
        let price = self.price(offer.part);
        self.mix.spent += price;
        self.mix.backorders = (self.mix.backorders - offer.gain_per_money * price).max(0.0);
        if let Some(n) = self.mix.stock.get_mut(offer.part) {
            *n += 1;
        }
        if let Some(tail) = self.tails.get_mut(offer.part) {
            tail.step();
        }
        self.offer(offer.part);
    }

    /// Whether `offer` still takes off a share worth a step.
    fn worth(&self, offer: &Offer, at_first: f64) -> bool {
        offer.gain_per_money * self.price(offer.part) > NONE_LEFT * at_first
    }
}

/// The efficient curve, money against expected weighted backorders, from empty shelves to no backorder worth a step, or
/// to `most_steps` seals.
///
/// # Errors
/// When a number is out of its range.
///
/// ```
/// use sealspan_care::spares::budget::{Part, availability, efficient_curve, to_reach};
/// // One on order on average: the first seal takes P(X > 0) = 1 − 1/e off one backorder.
/// let part = [Part { on_order: 1.0, price: 10.0, weight: 1.0 }];
/// let curve = efficient_curve(&part, 100)?;
/// assert_eq!((curve[0].spent, curve[0].backorders), (0.0, 1.0));
/// assert!(curve[1].spent == 10.0 && (curve[1].backorders - (-1.0f64).exp()).abs() < 1e-12);
/// assert_eq!(to_reach(&part, 0.4)?.stock, [1]);
/// // Ten machines with two places each, two of the twenty waiting: (18/20)².
/// assert!((availability(&[(2.0, 2)], 10) - 0.81).abs() < 1e-12);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn efficient_curve(parts: &[Part], most_steps: usize) -> Result<Vec<Step>> {
    let mut walk = Walk::new(parts)?;
    let at_first = walk.mix.backorders;
    let mut steps = vec![Step {
        part: None,
        spent: 0.0,
        backorders: at_first,
    }];
    while let Some(offer) = walk.offers.pop() {
        if steps.len() > most_steps || !walk.worth(&offer, at_first) {
            break;
        }
        walk.buy(&offer);
        steps.push(Step {
            part: Some(offer.part),
            spent: walk.mix.spent,
            backorders: walk.mix.backorders,
        });
    }
    Ok(steps)
}

/// The stocks that leave the fewest weighted backorders for `budget`.
///
/// # Errors
/// When a number is out of its range, nothing is given, or the budget buys no seal at all.
///
/// ```
/// use sealspan_care::spares::budget::{Part, within};
/// let part = |on_order, price| Part { on_order, price, weight: 1.0 };
/// let answer = within(&[part(0.8, 120.0), part(0.3, 60.0), part(2.5, 15.0), part(1.2, 35.0)], 300.0)?;
/// assert_eq!(answer.best.stock, [1, 0, 5, 3]);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn within(parts: &[Part], budget: f64) -> Result<Spread> {
    positive("the stock budget", budget)?;
    let mut walk = Walk::new(parts)?;
    let cheapest = parts.iter().map(|p| p.price).fold(f64::INFINITY, f64::min);
    if !cheapest.is_finite() {
        return Err(Error::no_answer("There is no part to spend the budget on."));
    }
    if budget < cheapest {
        return Err(Error::no_answer(format!(
            "The stock budget of {budget} buys no seal: the cheapest costs {cheapest}. Raise the budget."
        )));
    }
    let at_first = walk.mix.backorders;
    let mut efficient = None;
    while let Some(offer) = walk.offers.pop() {
        if !walk.worth(&offer, at_first) {
            break;
        }
        // A grain of money for sums of prices that do not come out even.
        if walk.mix.spent + walk.price(offer.part) > budget * (1.0 + 1e-12) {
            // Passed over for good: what is left only shrinks.
            efficient.get_or_insert_with(|| {
                let left = (budget - walk.mix.spent).max(0.0);
                let bound = walk.mix.backorders - offer.gain_per_money * left;
                (walk.mix.clone(), bound.max(0.0))
            });
            continue;
        }
        walk.buy(&offer);
    }
    let all_bought = efficient.is_none();
    let (efficient, bound) = efficient.unwrap_or_else(|| (walk.mix.clone(), walk.mix.backorders));
    let filled = walk.mix;
    let exact = if all_bought {
        None
    } else {
        mixes::best(parts, budget)
    };
    let known = all_bought || exact.is_some();
    let best = exact
        .filter(|m| m.backorders < filled.backorders)
        .unwrap_or(filled);
    Ok(Spread {
        best,
        efficient,
        bound,
        exact: known,
    })
}

/// The cheapest stocks on the efficient curve with at most `most` expected weighted backorders; [`efficient_curve`] has an
/// example.
///
/// # Errors
/// When a number is out of its range, or no finite stock gets there.
pub fn to_reach(parts: &[Part], most: f64) -> Result<Mix> {
    positive("the backorders allowed", most)?;
    let mut walk = Walk::new(parts)?;
    while walk.mix.backorders > most {
        match walk.offers.pop() {
            Some(offer) => walk.buy(&offer),
            None => {
                return Err(Error::no_answer(format!(
                    "No stock brings the backorders down to {most}."
                )));
            }
        }
    }
    Ok(walk.mix)
}

/// Share of machines with every seal in place: product over the parts of (1 − backorders / (machines ×
/// positions))^positions, each part with `positions` a machine (Sherbrooke, Optimal Inventory Modeling of
/// Systems, from memory).
#[must_use]
pub fn availability(backorders: &[(f64, u32)], machines: u32) -> f64 {
    backorders
        .iter()
        .map(|(waiting, positions)| {
            let places = f64::from(machines) * f64::from(*positions);
            (1.0 - waiting / places)
                .max(0.0)
                .powi((*positions).cast_signed())
        })
        .product()
}
