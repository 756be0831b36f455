//! Plays one place's stock event by event: the check on the formulas.

use sealspan_numeric::random::Stream;
use std::collections::VecDeque;

/// How long an order takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lead {
    /// Always this many days.
    Steady(f64),
    /// Independently exponential with this mean; orders may overtake each other.
    Exponential(f64),
}

/// The rules of one stock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// Demands per day.
    pub demand_rate: f64,
    /// Lead time.
    pub lead: Lead,
    /// Order when on hand plus on order minus owed has fallen to this.
    pub reorder_point: i64,
    /// Seals per order.
    pub quantity: usize,
    /// Days a seal may lie after arrival.
    pub usable: Option<f64>,
    /// A demand on an empty shelf goes urgent instead of waiting.
    pub urgent: bool,
}

/// A mean over blocks with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Mean.
    pub value: f64,
    /// Standard error between blocks.
    pub error: f64,
}

impl Seen {
    /// Mean of the blocks' values, and its standard error from their spread.
    pub(super) fn of(blocks: &[f64]) -> Self {
        let n = blocks.len() as f64;
        let value = blocks.iter().sum::<f64>() / n;
        let spread: f64 = blocks.iter().map(|v| (v - value).powi(2)).sum();
        Self {
            value,
            error: (spread / (n * (n - 1.0))).sqrt(),
        }
    }
}

/// What was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Played {
    /// Share of demands met at once.
    pub fill_rate: Seen,
    /// Mean number waiting.
    pub backorders: Seen,
    /// Mean number on the shelf.
    pub on_hand: Seen,
    /// Seals scrapped per day.
    pub scrap_rate: Seen,
    /// Orders per day.
    pub orders: Seen,
}

/// Stretches of a run whose means give its standard error.
pub(super) const BLOCKS: usize = 40;
/// Fewest demands that give a standard error worth printing.
pub(super) const FEWEST: usize = 4000;

struct Shop<'a> {
    rules: &'a Rules,
    now: f64,
    /// (last day, seals), oldest first.
    shelf: VecDeque<(f64, usize)>,
    /// (arrival, seals), earliest first.
    coming: VecDeque<(f64, usize)>,
    on_hand: usize,
    on_order: usize,
    waiting: usize,
    demand: f64,
    tally: [f64; 6],
}

/// Plays `demands` demands, at least 4,000; the first tenth only settles the stock.
///
/// ```
/// use sealspan_care::spares::play::{Lead, Rules, play_stock};
/// // Three seals, re-ordered one by one, 2 on order on average: met at once with P(X ≤ 2) = 5/e² (Palm).
/// let rules = Rules {
///     demand_rate: 0.1, lead: Lead::Exponential(20.0), reorder_point: 2, quantity: 1,
///     usable: None, urgent: false,
/// };
/// let fill = play_stock(&rules, 40_000, 1).fill_rate;
/// assert!((fill.value - 5.0 * (-2.0f64).exp()).abs() < 4.0 * fill.error && fill.error < 0.01);
/// ```
#[must_use]
pub fn play_stock(rules: &Rules, demands: usize, seed: u64) -> Played {
    let demands = demands.max(FEWEST);
    let mut stream = Stream::new(seed, 0);
    let mut shop = Shop {
        rules,
        now: 0.0,
        shelf: VecDeque::new(),
        coming: VecDeque::new(),
        on_hand: 0,
        on_order: 0,
        waiting: 0,
        demand: stream.exponential() / rules.demand_rate,
        tally: [0.0; 6],
    };
    shop.order(&mut stream);
    let size = demands / BLOCKS;
    shop.run(demands / 10, &mut stream);
    let blocks: Vec<[f64; 6]> = (0..BLOCKS)
        .map(|_| {
            shop.tally = [0.0; 6];
            let start = shop.now;
            shop.run(size, &mut stream);
            let [met, waited, held, scrapped, orders, _] = shop.tally;
            let days = shop.now - start;
            [
                met / size as f64,
                waited / days,
                held / days,
                scrapped / days,
                orders / days,
                0.0,
            ]
        })
        .collect();
    let seen = |i: usize| {
        let values: Vec<f64> = blocks.iter().filter_map(|b| b.get(i).copied()).collect();
        Seen::of(&values)
    };
    Played {
        fill_rate: seen(0),
        backorders: seen(1),
        on_hand: seen(2),
        scrap_rate: seen(3),
        orders: seen(4),
    }
}

impl Shop<'_> {
    fn run(&mut self, demands: usize, stream: &mut Stream) {
        let mut left = demands;
        while left > 0 {
            let arrival = self.coming.front().map_or(f64::INFINITY, |c| c.0);
            let last_day = self.shelf.front().map_or(f64::INFINITY, |s| s.0);
            let next = arrival.min(last_day).min(self.demand);
            self.pass(next);
            if next == arrival {
                self.arrive();
            } else if next == last_day {
                if let Some((_, n)) = self.shelf.pop_front() {
                    self.on_hand -= n;
                    self.tally[3] += n as f64;
                }
            } else {
                left -= 1;
                self.serve();
                self.demand = self.now + stream.exponential() / self.rules.demand_rate;
            }
            self.order(stream);
        }
    }

    fn pass(&mut self, next: f64) {
        let days = next - self.now;
        self.tally[1] += self.waiting as f64 * days;
        self.tally[2] += self.on_hand as f64 * days;
        self.now = next;
    }

    fn arrive(&mut self) {
        let Some((_, n)) = self.coming.pop_front() else {
            return;
        };
        self.on_order -= n;
        let owed = n.min(self.waiting);
        self.waiting -= owed;
        if n > owed {
            self.on_hand += n - owed;
            let last_day = self.rules.usable.map_or(f64::INFINITY, |u| self.now + u);
            self.shelf.push_back((last_day, n - owed));
        }
    }

    fn serve(&mut self) {
        match self.shelf.front_mut() {
            Some((_, n)) => {
                *n -= 1;
                self.on_hand -= 1;
                self.tally[0] += 1.0;
                if *n == 0 {
                    self.shelf.pop_front();
                }
            }
            None if self.rules.urgent => {}
            None => self.waiting += 1,
        }
    }

    fn order(&mut self, stream: &mut Stream) {
        let position = |s: &Self| (s.on_hand + s.on_order) as i64 - s.waiting as i64;
        while position(self) <= self.rules.reorder_point {
            let n = self.rules.quantity.max(1);
            let lead = match self.rules.lead {
                Lead::Steady(days) => days,
                Lead::Exponential(mean) => mean * stream.exponential(),
            };
            let due = self.now + lead;
            let place = self.coming.partition_point(|c| c.0 <= due);
            self.coming.insert(place, (due, n));
            self.on_order += n;
            self.tally[4] += 1.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Seen;

    /// 1, 2, 3 and 6: mean 3, squares off it 4 + 1 + 0 + 9 = 14, and 14/(4·3) its variance.
    #[test]
    fn a_mean_is_as_sure_as_its_blocks_agree() {
        let seen = Seen::of(&[1.0, 2.0, 3.0, 6.0]);
        assert!((seen.value - 3.0).abs() < 1e-12);
        assert!(
            (seen.error - (14.0f64 / 12.0).sqrt()).abs() < 1e-12,
            "{seen:?}"
        );
    }
}
