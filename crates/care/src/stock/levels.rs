//! What each stock level gives and costs when every seal taken is re-ordered at once.

use super::{Level, Shortage, StockTerms};
use crate::batch;
use crate::error::Result;
use crate::pipeline::Pipeline;
use crate::spares::shelf::{Kept, Shelf};

impl StockTerms {
    /// Money per unit short and day; 0 where demands never wait.
    pub(crate) fn shortage_per_day(&self) -> f64 {
        match self.shortage {
            Shortage::Backorder { cost_per_day } => cost_per_day,
            Shortage::Urgent { .. } => 0.0,
        }
    }

    /// The part as one that goes out of date; `None` without a shelf life or any demand.
    pub(crate) fn shelf(&self) -> Option<Shelf> {
        let days = self.shelf_life.filter(|_| self.demand_rate > 0.0)?;
        Some(Shelf {
            demand_rate: self.demand_rate,
            lead_time: self.lead_time,
            usable: days - self.age_on_arrival,
            urgent: matches!(self.shortage, Shortage::Urgent { .. }),
        })
    }

    pub(super) fn levels(&self, pipeline: &Pipeline, top: usize) -> Vec<Level> {
        if let Some(shelf) = self.shelf() {
            return (0..=top).map(|s| self.kept_level(&shelf, s).0).collect();
        }
        match self.shortage {
            Shortage::Backorder { .. } => {
                (0..=top).map(|s| self.waiting_level(pipeline, s)).collect()
            }
            Shortage::Urgent { cost_per_order } => self
                .urgent_levels(pipeline.mean(), cost_per_order)
                .take(top + 1)
                .collect(),
        }
    }

    pub(super) fn waiting_level(&self, pipeline: &Pipeline, stock: usize) -> Level {
        batch::level(self, pipeline, stock as i64 - 1, 1)
    }

    /// A level of a part that goes out of date, and what it scraps per day.
    pub(super) fn kept_level(&self, shelf: &Shelf, stock: usize) -> (Level, f64) {
        let kept: Kept = shelf.kept(stock);
        let missed = 1.0 - kept.fill_rate;
        let (short, met) = match self.shortage {
            Shortage::Backorder { cost_per_day } => (cost_per_day * kept.expected_backorders, 1.0),
            Shortage::Urgent { cost_per_order } => {
                (self.demand_rate * missed * cost_per_order, kept.fill_rate)
            }
        };
        let orders = self.demand_rate * met + kept.scrap_rate;
        let level = Level {
            stock,
            fill_rate: kept.fill_rate,
            ready_rate: None,
            ready_rate_reason: Some(if shelf.urgent {
                "demands go urgent instead of waiting"
            } else {
                "not worked out for seals that go out of date"
            }),
            expected_backorders: kept.expected_backorders,
            urgent_share: if shelf.urgent { missed } else { 0.0 },
            expected_on_hand: kept.expected_on_hand,
            cost_rate: self.holding_cost * kept.expected_on_hand
                + short
                + orders * self.order_cost
                + kept.scrap_rate * self.unit_price.unwrap_or(0.0),
            investment: self.unit_price.map(|price| price * stock as f64),
        };
        (level, kept.scrap_rate)
    }

    /// Erlang's loss system level by level. With b(s) the blocking probability, y = s / (mean b(s−1))
    /// gives b(s) = 1/(1 + y) and 1 − b(s) = y/(1 + y), and the mean on hand is
    /// (1 + on hand(s−1)) (1 − b(s)): positive terms only.
    pub(super) fn urgent_levels(
        &self,
        mean: f64,
        cost_per_order: f64,
    ) -> impl Iterator<Item = Level> + '_ {
        let (mut blocked, mut on_hand) = (1.0, 0.0);
        (0..).map(move |stock| {
            let mut met = 0.0;
            if stock > 0 {
                let odds = stock as f64 / (mean * blocked);
                (blocked, met) = if odds.is_finite() {
                    (1.0 / (1.0 + odds), odds / (1.0 + odds))
                } else {
                    (0.0, 1.0)
                };
                on_hand = (1.0 + on_hand) * met;
            }
            let urgent = self.demand_rate * blocked * cost_per_order;
            let orders = self.demand_rate * met * self.order_cost;
            Level {
                stock,
                fill_rate: met,
                ready_rate: None,
                ready_rate_reason: Some("demands go urgent instead of waiting"),
                expected_backorders: 0.0,
                urgent_share: blocked,
                expected_on_hand: on_hand,
                cost_rate: self.holding_cost * on_hand + urgent + orders,
                investment: self.unit_price.map(|price| price * stock as f64),
            }
        })
    }

    /// Money per day of holding `stock` seals and re-ordering each as it is taken: holding cost × mean on hand, what
    /// shortages cost, and what orders cost. [`StockTerms::answer`] has an example.
    ///
    /// # Errors
    /// As [`StockTerms::answer`].
    pub fn one_for_one_cost(&self, stock: usize) -> Result<f64> {
        self.check()?;
        let levels = self.levels(&self.pipeline()?, stock);
        Ok(levels.last().map_or(0.0, |level| level.cost_rate))
    }
}
