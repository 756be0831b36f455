//! The level, or reorder point and quantity, with the least cost.

use super::{Best, Level, Shortage, StockTerms};
use crate::error::{Error, Result};
use crate::pipeline::Pipeline;
use crate::spares::shelf::Shelf;
use crate::{batch, batch_urgent};

/// Levels beyond which no cheaper one is looked for.
const MOST_LEVELS: usize = 100_000;

impl StockTerms {
    /// The advised stock alone: the one of least cost per day that reaches the target fill rate, if there is one.
    ///
    /// # Errors
    /// As [`StockTerms::answer`], and when no stock is best.
    pub fn advised(&self) -> Result<Best> {
        self.check()?;
        self.best(&self.pipeline()?)
    }

    pub(super) fn best(&self, pipeline: &Pipeline) -> Result<Best> {
        self.worth_asking()?;
        let single = match (self.shelf(), self.shortage) {
            (Some(shelf), _) => self.best_kept(&shelf)?,
            (None, Shortage::Backorder { cost_per_day }) => {
                self.best_waiting(pipeline, cost_per_day)
            }
            (None, Shortage::Urgent { cost_per_order }) => {
                self.best_urgent(pipeline, cost_per_order)?
            }
        };
        if self.order_cost == 0.0 || self.demand_rate == 0.0 {
            return Ok(single);
        }
        let several = match self.shortage {
            Shortage::Backorder { cost_per_day } => batch::best(self, pipeline, cost_per_day),
            Shortage::Urgent { .. } => batch_urgent::best(self, pipeline),
        }?;
        let cheaper = several.level.cost_rate < single.level.cost_rate;
        Ok(if cheaper { several } else { single })
    }

    fn worth_asking(&self) -> Result<()> {
        let shortage = match self.shortage {
            Shortage::Backorder { cost_per_day } => cost_per_day,
            Shortage::Urgent { cost_per_order } => cost_per_order,
        };
        if shortage == 0.0 && self.target_fill_rate.is_none() {
            return Err(Error::no_answer(
                "No best stock: give what a shortage costs, or a target fill rate.",
            ));
        }
        if self.holding_cost == 0.0 && (shortage > 0.0 || self.order_cost > 0.0) {
            return Err(Error::no_answer(
                "No best stock: without a holding cost more stock is always better. Give what it costs to hold one seal for a day.",
            ));
        }
        Ok(())
    }

    /// Going from S to S + 1 adds holding × P(X ≤ S) and saves shortage × P(X > S); the first grows
    /// with S and the second falls, so the first S where the step no longer pays is the best of all.
    fn best_waiting(&self, pipeline: &Pipeline, cost_per_day: f64) -> Best {
        let cheapest = (0..)
            .find(|s| self.holding_cost * pipeline.at_most(*s) >= cost_per_day * pipeline.above(*s))
            .unwrap_or(0);
        let needed = self
            .target_fill_rate
            .map_or(0, |target| pipeline.stock_for_fill_rate(target));
        let stock = cheapest.max(needed);
        let basis = if needed > cheapest {
            format!(
                "Smallest stock that reaches the target fill rate; by cost alone it would be {cheapest}."
            )
        } else {
            format!(
                "Least cost: the cost is convex in the stock, and the next seal pays only while the time without a backorder is below {:.6} (shortage over shortage plus holding).",
                cost_per_day / (cost_per_day + self.holding_cost)
            )
        };
        self.one_for_one(self.waiting_level(pipeline, stock), None, basis)
    }

    /// Cost is holding × on hand + rate × urgent share × (urgent − order cost) + a constant; on hand
    /// and urgent share are convex in S (Messerli 1972, from memory), so the first rise ends the search.
    fn best_urgent(&self, pipeline: &Pipeline, cost_per_order: f64) -> Result<Best> {
        let mut best: Option<Level> = None;
        for level in self.urgent_levels(pipeline.mean(), cost_per_order) {
            let enough = self
                .target_fill_rate
                .is_none_or(|target| level.fill_rate >= target);
            match &best {
                Some(b) if level.cost_rate >= b.cost_rate => break,
                _ if enough => best = Some(level),
                _ => {}
            }
        }
        let level = best.ok_or_else(|| Error::no_answer("No stock reaches the target."))?;
        Ok(self.one_for_one(
            level,
            None,
            "Least cost among the levels that reach the target, if any: the cost is convex in the stock and the next level costs more.".to_owned(),
        ))
    }

    /// With every seal more on the shelf, holding and scrap grow; once they alone cost as much as the best level
    /// found, no higher level can be cheaper.
    fn best_kept(&self, shelf: &Shelf) -> Result<Best> {
        let mut best: Option<(Level, f64)> = None;
        for stock in 0..MOST_LEVELS {
            let (level, scrap) = self.kept_level(shelf, stock);
            let floor = self.holding_cost * level.expected_on_hand
                + scrap * (self.unit_price.unwrap_or(0.0) + self.order_cost);
            let enough = self
                .target_fill_rate
                .is_none_or(|target| level.fill_rate >= target);
            if best.as_ref().is_some_and(|(b, _)| floor >= b.cost_rate) {
                break;
            }
            if enough
                && best
                    .as_ref()
                    .is_none_or(|(b, _)| level.cost_rate < b.cost_rate)
            {
                best = Some((level, scrap));
            }
        }
        let (level, scrap) =
            best.ok_or_else(|| Error::no_answer("No stock reaches the target."))?;
        Ok(self.one_for_one(
            level,
            Some(scrap),
            "Least cost among the levels that reach the target, if any: at higher levels holding and scrap alone cost more.".to_owned(),
        ))
    }

    fn one_for_one(&self, level: Level, scrap: Option<f64>, basis: String) -> Best {
        let reorder_point = level.stock as i64 - 1;
        let exact = "Exact for Poisson demand and a steady lead time, the oldest issued first.";
        self.advice(level, reorder_point, 1, scrap.map(|s| (s, exact)), basis)
    }

    /// `scrap`: seals per day scrapped for age, and how that is known.
    pub(crate) fn advice(
        &self,
        level: Level,
        reorder_point: i64,
        quantity: usize,
        scrap: Option<(f64, &str)>,
        basis: String,
    ) -> Best {
        let (scrap_rate, scrap_rate_reason) = match (scrap, self.shelf_life) {
            (Some((rate, how)), _) => (Some(rate), how.to_owned()),
            (None, Some(_)) => (Some(0.0), "Nothing is demanded or scrapped.".to_owned()),
            (None, None) => (None, "No shelf life was given.".to_owned()),
        };
        Best {
            level,
            reorder_point,
            order_quantity: Some(quantity),
            order_quantity_reason: None,
            scrap_rate,
            scrap_rate_reason,
            basis,
        }
    }
}
