//! Spare seals at one place: for each stock level what it gives and costs, and the best level.

use crate::batch;
use crate::counts::Counts;
use crate::error::{Error, Result, not_negative, share};
use crate::pipeline::Pipeline;
use serde::Serialize;

/// What happens to a demand that meets an empty shelf.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shortage {
    /// It waits for the normal order. Money per unit short and day.
    Backorder {
        /// Money per unit short and day.
        cost_per_day: f64,
    },
    /// It is met by an urgent order outside the stock and so lost from it. Money per urgent order,
    /// its downtime included.
    Urgent {
        /// Money per urgent order.
        cost_per_order: f64,
    },
}

/// The question for one part at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StockTerms {
    /// Demands per day.
    pub demand_rate: f64,
    /// Mean time from order to arrival, days.
    pub lead_time: f64,
    /// Money to hold one unit for one day.
    pub holding_cost: f64,
    /// What an empty shelf means.
    pub shortage: Shortage,
    /// Money per order placed, whatever its size.
    pub order_cost: f64,
    /// Price of one seal, if the money tied up is to be shown.
    pub unit_price: Option<f64>,
    /// Smallest share of demands to be met at once.
    pub target_fill_rate: Option<f64>,
    /// Days a seal keeps on the shelf.
    pub shelf_life: Option<f64>,
}

/// What one stock level gives when every seal taken is re-ordered at once.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Level {
    /// Seals on hand plus on order minus owed.
    pub stock: usize,
    /// Share of demands met at once.
    pub fill_rate: f64,
    /// Share of time without a backorder; `None` where demands never wait.
    pub ready_rate: Option<f64>,
    /// Why there is no such share.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ready_rate_reason: Option<&'static str>,
    /// Mean number of demands waiting.
    pub expected_backorders: f64,
    /// Share of demands that go urgent.
    pub urgent_share: f64,
    /// Mean number of seals on the shelf.
    pub expected_on_hand: f64,
    /// Money per day: holding, shortage and orders; the price of the seals themselves is left out,
    /// it is nearly the same for every level.
    pub cost_rate: f64,
    /// Money tied up in the stock at the unit price given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub investment: Option<f64>,
}

/// The level advised.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Best {
    /// What it gives. With batches, `stock` is the greatest position: reorder point plus quantity.
    #[serde(flatten)]
    pub level: Level,
    /// Order when on hand plus on order minus owed has fallen to this.
    pub reorder_point: i64,
    /// Seals per order.
    pub order_quantity: Option<usize>,
    /// Why there is no order quantity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order_quantity_reason: Option<String>,
    /// Seals scrapped per day for age.
    pub scrap_rate: Option<f64>,
    /// Why there is no scrap rate.
    pub scrap_rate_reason: String,
    /// How the level was found best.
    pub basis: String,
}

/// Number of seals asked for in a span: one lead time, or a horizon.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Demand {
    /// Expected number.
    pub mean: f64,
    /// Variance.
    pub variance: f64,
    /// Probability of 0, 1, 2, ... demands, to the value beyond which less than 1e-12 is left.
    pub pmf: Vec<f64>,
}

/// The answer for one part at one place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StockAnswer {
    /// Levels from 0 to past the best one.
    pub levels: Vec<Level>,
    /// The level advised.
    pub best: Option<Best>,
    /// Why none is advised.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub best_reason: Option<String>,
    /// Demand during one lead time.
    pub demand: Demand,
    /// What was assumed.
    pub notes: Vec<String>,
}

/// Levels are listed at least until this share of time without a backorder.
const LISTED_READY: f64 = 0.9999;

impl StockTerms {
    fn check(&self) -> Result<()> {
        not_negative("the holding cost per unit and day", self.holding_cost)?;
        not_negative("the order cost", self.order_cost)?;
        match self.shortage {
            Shortage::Backorder { cost_per_day } => {
                not_negative("the shortage cost per unit and day", cost_per_day)?
            }
            Shortage::Urgent { cost_per_order } => {
                not_negative("the cost of an urgent order", cost_per_order)?
            }
        };
        if let Some(price) = self.unit_price {
            not_negative("the unit price", price)?;
        }
        if let Some(target) = self.target_fill_rate {
            share("the target fill rate", target)?;
        }
        if let Some(days) = self.shelf_life {
            crate::error::positive("the shelf life in days", days)?;
        }
        Ok(())
    }

    /// Answers the question: every level, the best one, and what was assumed.
    ///
    /// Backorders: the number on order is Poisson (Palm), so the fill rate is P(X ≤ S − 1) and the
    /// ready rate P(X ≤ S). Urgent supply: the shelf is Erlang's loss system (Erlang 1917, from
    /// memory), the urgent share its blocking probability.
    ///
    /// # Errors
    /// When a number is out of its range, or more than 100,000 seals would be on order.
    ///
    /// ```
    /// use sealspan_care::stock::{Shortage, StockTerms};
    /// let terms = StockTerms {
    ///     demand_rate: 0.1, lead_time: 20.0, holding_cost: 0.02,
    ///     shortage: Shortage::Backorder { cost_per_day: 2.0 },
    ///     order_cost: 0.0, unit_price: None, target_fill_rate: None, shelf_life: None,
    /// };
    /// let best = terms.answer()?.best.unwrap();
    /// assert_eq!((best.level.stock, best.order_quantity), (6, Some(1)));
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn answer(&self) -> Result<StockAnswer> {
        self.check()?;
        let pipeline = Pipeline::new(self.demand_rate, self.lead_time)?;
        let best = self.best(&pipeline);
        let reach = best.as_ref().map_or(0, |b| b.level.stock);
        let top = pipeline.stock_for_ready_rate(LISTED_READY).max(reach) + 1;
        let (best, best_reason) = match best {
            Ok(best) => (Some(best), None),
            Err(error) => (None, Some(error.to_string())),
        };
        Ok(StockAnswer {
            levels: self.levels(&pipeline, top),
            best,
            best_reason,
            demand: Demand::of(pipeline.counts()),
            notes: self.notes(),
        })
    }

    /// Money per unit short and day; 0 where demands never wait.
    pub(crate) fn shortage_per_day(&self) -> f64 {
        match self.shortage {
            Shortage::Backorder { cost_per_day } => cost_per_day,
            Shortage::Urgent { .. } => 0.0,
        }
    }

    fn levels(&self, pipeline: &Pipeline, top: usize) -> Vec<Level> {
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

    fn waiting_level(&self, pipeline: &Pipeline, stock: usize) -> Level {
        batch::level(self, pipeline, stock as i64 - 1, 1)
    }

    /// Erlang's loss system level by level. With b(s) the blocking probability, y = s / (mean b(s−1))
    /// gives b(s) = 1/(1 + y) and 1 − b(s) = y/(1 + y), and the mean on hand is
    /// (1 + on hand(s−1)) (1 − b(s)): positive terms only.
    fn urgent_levels(&self, mean: f64, cost_per_order: f64) -> impl Iterator<Item = Level> + '_ {
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

    fn best(&self, pipeline: &Pipeline) -> Result<Best> {
        self.worth_asking()?;
        match self.shortage {
            Shortage::Backorder { cost_per_day } if self.order_cost > 0.0 => {
                batch::best(self, pipeline, cost_per_day)
            }
            Shortage::Backorder { cost_per_day } => Ok(self.best_waiting(pipeline, cost_per_day)),
            Shortage::Urgent { cost_per_order } => self.best_urgent(pipeline, cost_per_order),
        }
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
        self.one_for_one(self.waiting_level(pipeline, stock), basis)
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
        let mut best = self.one_for_one(
            level,
            "Least cost among the levels that reach the target, if any: the cost is convex in the stock and the next level costs more.".to_owned(),
        );
        if self.order_cost > 0.0 {
            best.order_quantity = None;
            best.order_quantity_reason = Some(
                "Batch orders together with urgent supply are not worked out; the level is for re-ordering each seal as it is taken.".to_owned(),
            );
        }
        Ok(best)
    }

    fn one_for_one(&self, level: Level, basis: String) -> Best {
        let reorder_point = level.stock as i64 - 1;
        self.advice(level, reorder_point, 1, basis)
    }

    pub(crate) fn advice(
        &self,
        level: Level,
        reorder_point: i64,
        quantity: usize,
        basis: String,
    ) -> Best {
        Best {
            level,
            reorder_point,
            order_quantity: Some(quantity),
            order_quantity_reason: None,
            scrap_rate: None,
            scrap_rate_reason: match self.shelf_life {
                Some(days) => format!(
                    "Scrap for age is not worked out: issue the oldest seal first and check cure dates against the {days} days given."
                ),
                None => "No shelf life was given.".to_owned(),
            },
            basis,
        }
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = vec![
            "The demand rate and lead time are taken as given, so the stock figures carry no interval of their own.".to_owned(),
            "Demands are taken as independent of each other at a steady rate (Poisson); the spread of the lead time then does not matter, only its mean.".to_owned(),
        ];
        if matches!(self.shortage, Shortage::Urgent { .. }) {
            notes.push("A demand on an empty shelf goes urgent and never waits for the normal order, so no share of time without a backorder is given; the shortage cost is money per urgent order.".to_owned());
        }
        notes
    }
}

/// Probability left out beyond the last value listed.
const UNLISTED: f64 = 1e-12;

impl Demand {
    pub(crate) fn of(counts: &Counts) -> Self {
        let listed = counts.quantile(1.0 - UNLISTED);
        Self {
            mean: counts.mean(),
            variance: counts.variance(),
            pmf: (0..=listed).map(|k| counts.probability(k)).collect(),
        }
    }
}
