//! The study's prices as a build-up, with items that can be left out, and inputs moved by themselves.

use sealspan_care::ahead::Work;
use sealspan_care::ahead::months::{Month, Spread};
use sealspan_care::error::Result;
use sealspan_care::money::build_up::{BuildUp, Falls};
use sealspan_records::study::Costs;

/// Money of a failure and of a planned replacement, hours down priced in.
pub type Pair = (f64, f64);

/// An item: its key in the study, its words, when it falls due, and its slot.
type Slot = (
    &'static str,
    &'static str,
    Falls,
    fn(&mut Costs) -> &mut Option<f64>,
);

const SLOTS: [Slot; 8] = [
    ("seal_price", "seal", Falls::EachReplacement, |c| {
        &mut c.seal_price
    }),
    (
        "fitting_labour",
        "fitting labour",
        Falls::EachReplacement,
        |c| &mut c.fitting_labour,
    ),
    (
        "downtime_cost_per_hour",
        "downtime, one figure",
        Falls::EachHour,
        |c| &mut c.downtime_cost_per_hour,
    ),
    (
        "contribution_margin_per_hour",
        "contribution margin lost",
        Falls::EachHour,
        |c| &mut c.contribution_margin_per_hour,
    ),
    (
        "standing_labour_per_hour",
        "labour standing idle",
        Falls::EachHour,
        |c| &mut c.standing_labour_per_hour,
    ),
    ("clean_up", "clean-up", Falls::EachFailure, |c| {
        &mut c.clean_up
    }),
    (
        "scrap_and_restart",
        "scrap and restart",
        Falls::EachFailure,
        |c| &mut c.scrap_and_restart,
    ),
    ("penalty", "penalty", Falls::EachFailure, |c| &mut c.penalty),
];

/// The keys that can be left out.
#[must_use]
pub fn keys() -> Vec<&'static str> {
    SLOTS.iter().map(|s| s.0).collect()
}

/// The costs with the named items at 0 where they are given; with `seal_price` the prices of single materials go too. Other
/// names change nothing.
#[must_use]
pub fn counted(costs: &Costs, left_out: &[String]) -> Costs {
    let mut costs = costs.clone();
    for (key, _, _, slot) in SLOTS {
        if left_out.iter().any(|l| l == key)
            && let Some(amount) = slot(&mut costs)
        {
            *amount = 0.0;
        }
        if key == "seal_price" && left_out.iter().any(|l| l == key) {
            costs.seal_prices.clear();
        }
    }
    costs
}

/// Every item given, those left out shown but not counted.
///
/// # Errors
/// As [`BuildUp::new`].
pub(crate) fn build_up(costs: &Costs, left_out: &[String]) -> Result<BuildUp> {
    let mut costs = costs.clone();
    let items: Vec<(&str, f64, Falls, bool)> = SLOTS
        .iter()
        .filter_map(|(key, words, falls, slot)| {
            let amount = (*slot(&mut costs))?;
            Some((*words, amount, *falls, !left_out.iter().any(|l| l == key)))
        })
        .collect();
    BuildUp::new(
        &items,
        costs.failure_hours.unwrap_or(0.0),
        costs.planned_hours.unwrap_or(0.0),
    )
}

/// Money of every event that a month counts, hours down priced in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prices {
    /// A failure.
    pub failure: f64,
    /// A planned change, a finding or a spoilt seal.
    pub planned: f64,
    /// The hours down of an opening for a look or a turn.
    pub opening: f64,
    /// The labour of a look.
    pub look: f64,
    /// The labour of a turn.
    pub turn: f64,
}

impl Prices {
    /// From a study's costs; what they do not give is 0. With h the money of an hour down: failure = seal, labour and what
    /// comes with a failure + h x failure hours; planned = seal and labour + h x planned hours; opening = h x inspection
    /// hours.
    #[must_use]
    pub fn of(costs: &Costs) -> Self {
        let (failure, planned) = pair(costs);
        let hour = costs.downtime_cost().unwrap_or(0.0);
        Self {
            failure,
            planned,
            opening: hour * costs.inspection_hours.unwrap_or(0.0),
            look: costs.inspection_labour.unwrap_or(0.0),
            turn: costs.turn_labour.unwrap_or(0.0),
        }
    }

    /// The same where each seal costs `more`.
    #[must_use]
    pub(crate) fn dearer(&self, more: f64) -> Self {
        Self {
            failure: self.failure + more,
            planned: self.planned + more,
            ..*self
        }
    }

    /// Money of looks and turns.
    #[must_use]
    pub(crate) fn handling(&self, work: &Work) -> f64 {
        self.opening * work.openings + self.look * work.looks + self.turn * work.turns
    }

    /// Expected money of a month: each event's price times how many are expected.
    ///
    /// ```
    /// use sealspan_care::ahead::Work;
    /// use sealspan_care::ahead::months::{Month, Number};
    /// use sealspan_report::analysis::money_prices::Prices;
    /// let prices = Prices { failure: 100.0, planned: 40.0, opening: 10.0, look: 5.0, turn: 3.0 };
    /// let number = |expected| Number { expected, lower: 0, upper: 9 };
    /// let month = Month {
    ///     from: 0.0,
    ///     until: 30.0,
    ///     unplanned: number(2.0),
    ///     planned: number(3.0),
    ///     all: number(5.0),
    ///     joining: 0.0,
    ///     work: Work { openings: 1.0, looks: 4.0, turns: 2.0 },
    /// };
    /// assert_eq!(prices.of_month(&month), 200.0 + 120.0 + 10.0 + 20.0 + 6.0);
    /// ```
    #[must_use]
    pub fn of_month(&self, month: &Month) -> f64 {
        self.failure * month.unplanned.expected
            + self.planned * month.planned.expected
            + self.handling(&month.work)
    }

    /// Mean and variance of the money of a period; looks and turns at their expected number.
    #[must_use]
    pub(crate) fn money(&self, spread: &Spread) -> (f64, f64) {
        let [f, p, _] = spread.counts;
        (
            self.failure * f.mean + self.planned * p.mean + self.handling(&spread.work),
            self.failure * self.failure * f.variance + self.planned * self.planned * p.variance,
        )
    }
}

/// Money of a failure and of a planned replacement, hours priced in.
#[must_use]
pub(crate) fn pair(costs: &Costs) -> Pair {
    let hour = costs.downtime_cost().unwrap_or(0.0);
    (
        costs.failure_cost().unwrap_or(0.0) + hour * costs.failure_hours.unwrap_or(0.0),
        costs.planned_cost().unwrap_or(0.0) + hour * costs.planned_hours.unwrap_or(0.0),
    )
}

/// An input in words, and how the costs look with it `factor` times as great.
pub type Moved = (&'static str, fn(&Costs, f64) -> Costs);

fn scaled(slots: &[fn(&mut Costs) -> &mut Option<f64>], costs: &Costs, factor: f64) -> Costs {
    let mut costs = costs.clone();
    for slot in slots {
        if let Some(amount) = slot(&mut costs) {
            *amount *= factor;
        }
    }
    costs
}

/// The inputs of money and hours that are moved one at a time; what a study does not give stays so.
pub const MOVED: [Moved; 8] = [
    ("seal price", |c, f| {
        let mut costs = scaled(&[|c| &mut c.seal_price], c, f);
        costs.seal_prices.values_mut().for_each(|price| *price *= f);
        costs
    }),
    ("fitting labour", |c, f| {
        scaled(&[|c| &mut c.fitting_labour], c, f)
    }),
    ("downtime cost per hour", |c, f| {
        scaled(
            &[
                |c| &mut c.downtime_cost_per_hour,
                |c| &mut c.contribution_margin_per_hour,
                |c| &mut c.standing_labour_per_hour,
            ],
            c,
            f,
        )
    }),
    ("hours down for a failure", |c, f| {
        scaled(&[|c| &mut c.failure_hours], c, f)
    }),
    ("hours down for a planned change", |c, f| {
        scaled(&[|c| &mut c.planned_hours], c, f)
    }),
    ("hours open for a look or a turn", |c, f| {
        scaled(&[|c| &mut c.inspection_hours], c, f)
    }),
    ("labour of looks and turns", |c, f| {
        scaled(
            &[|c| &mut c.inspection_labour, |c| &mut c.turn_labour],
            c,
            f,
        )
    }),
    ("clean-up, scrap and penalty", |c, f| {
        scaled(
            &[
                |c| &mut c.clean_up,
                |c| &mut c.scrap_and_restart,
                |c| &mut c.penalty,
            ],
            c,
            f,
        )
    }),
];
