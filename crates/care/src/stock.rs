//! Spare seals at one place: for each stock level what it gives and costs, and the best level.

mod choice;
mod levels;

use crate::counts::Counts;
use crate::error::{Error, Result, not_negative, positive, share};
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
    /// Days a seal keeps from its cure date, by the rule the user cites.
    pub shelf_life: Option<f64>,
    /// Days since cure when a seal arrives.
    pub age_on_arrival: f64,
    /// Standard deviation of the lead time when it varies from spell to spell and orders arrive in turn, days;
    /// 0 when steady, or when lead times are independent of each other (then only their mean counts).
    pub lead_time_deviation: f64,
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
            positive("the unit price", price)?;
        }
        if let Some(target) = self.target_fill_rate {
            share("the target fill rate", target)?;
        }
        not_negative("the days since cure on arrival", self.age_on_arrival)?;
        if let Some(days) = self.shelf_life {
            positive("the shelf life in days", days)?;
            if self.age_on_arrival >= days {
                return Err(Error::no_answer(format!(
                    "No stock: seals arrive {} days after cure and keep for {days}, so they would be out of date on arrival. Ask for fresher seals, or check the shelf life.",
                    self.age_on_arrival
                )));
            }
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
    ///     age_on_arrival: 0.0, lead_time_deviation: 0.0,
    /// };
    /// let best = terms.answer()?.best.unwrap();
    /// assert_eq!((best.level.stock, best.order_quantity), (6, Some(1)));
    /// assert_eq!(terms.advised()?, best);
    /// // Without stock all demands wait: 0.1 × 20 of them on average, at 2 a day each.
    /// assert!((terms.one_for_one_cost(0)? - 4.0).abs() < 1e-12);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn answer(&self) -> Result<StockAnswer> {
        self.check()?;
        let pipeline = self.pipeline()?;
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

    /// Seals on order, by the lead times stated.
    fn pipeline(&self) -> Result<Pipeline> {
        match self.shortage {
            Shortage::Backorder { .. } => {
                Pipeline::in_turn(self.demand_rate, self.lead_time, self.lead_time_deviation)
            }
            Shortage::Urgent { .. } => Pipeline::new(self.demand_rate, self.lead_time),
        }
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = vec![
            "The demand rate and lead time are taken as given, so the stock figures carry no interval of their own.".to_owned(),
            if self.lead_time_deviation > 0.0 && matches!(self.shortage, Shortage::Backorder { .. }) {
                "Demands are taken as independent of each other at a steady rate (Poisson); lead times vary from spell to spell and orders arrive in turn, so the demand during one is a negative binomial number.".to_owned()
            } else {
                "Demands are taken as independent of each other at a steady rate (Poisson); the spread of the lead time then does not matter, only its mean.".to_owned()
            },
        ];
        if self.shelf_life.is_some() {
            notes.push("Seals that go out of date are scrapped and re-ordered; the seal that goes out of date first is issued first, and the lead time is taken as steady.".to_owned());
        }
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const WAITING: StockTerms = StockTerms {
        demand_rate: 0.1,
        lead_time: 20.0,
        holding_cost: 0.02,
        shortage: Shortage::Backorder { cost_per_day: 2.0 },
        order_cost: 0.0,
        unit_price: None,
        target_fill_rate: None,
        shelf_life: None,
        age_on_arrival: 0.0,
        lead_time_deviation: 0.0,
    };
    const URGENT: Shortage = Shortage::Urgent {
        cost_per_order: 50.0,
    };

    #[test]
    fn urgent_orders_are_noted_where_demands_go_urgent() {
        for (shortage, urgent) in [(WAITING.shortage, false), (URGENT, true)] {
            let terms = StockTerms {
                shortage,
                ..WAITING
            };
            let notes = terms.answer().unwrap().notes;
            let noted = |note: &String| note.starts_with("A demand on an empty shelf goes urgent");
            assert_eq!(notes.iter().any(noted), urgent);
        }
    }

    /// By cost alone 6 seals, which meet 98.3 % of the demands at once: P(X ≤ 5) of a Poisson number with mean 2.
    #[test]
    fn a_stock_says_whether_cost_or_target_set_it() {
        for (target, stock, basis) in [
            (0.9, 6, "Least cost: the cost is convex"),
            (
                0.999,
                9,
                "Smallest stock that reaches the target fill rate; by cost alone it would be 6.",
            ),
        ] {
            let terms = StockTerms {
                target_fill_rate: Some(target),
                ..WAITING
            };
            let best = terms.advised().unwrap();
            assert_eq!(best.level.stock, stock);
            assert!(best.basis.starts_with(basis), "{}", best.basis);
        }
    }

    #[test]
    fn no_ready_rate_is_given_for_seals_that_go_out_of_date() {
        for (shortage, why) in [
            (
                WAITING.shortage,
                "not worked out for seals that go out of date",
            ),
            (URGENT, "demands go urgent instead of waiting"),
        ] {
            let terms = StockTerms {
                shortage,
                shelf_life: Some(300.0),
                ..WAITING
            };
            for level in terms.answer().unwrap().levels {
                assert_eq!(level.ready_rate, None);
                assert_eq!(level.ready_rate_reason, Some(why));
            }
        }
    }

    /// With a target alone the smallest stock that reaches it is best; an order's cost asks for a holding cost.
    #[test]
    fn a_target_without_prices_is_answered_but_not_with_an_order_cost() {
        let terms = |order_cost| StockTerms {
            holding_cost: 0.0,
            shortage: Shortage::Backorder { cost_per_day: 0.0 },
            target_fill_rate: Some(0.9),
            order_cost,
            ..WAITING
        };
        // P(X ≤ 3) = 0.857 and P(X ≤ 4) = 0.947.
        assert_eq!(terms(0.0).advised().unwrap().level.stock, 5);
        let refused = terms(3.0).advised().unwrap_err().to_string();
        assert!(refused.contains("without a holding cost"), "{refused}");
    }
}
