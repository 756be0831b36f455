//! What the plan saves against today's practice, month by month, with its risk.

use super::looks::PartLooks;
use super::money_places::{OwnAges, PlaceMoney};
use super::stock::ExtraSpare;
use sealspan_care::money::build_up::BuildUp;
use serde::Serialize;

/// The whole answer. Money in the study's currency, ages in days. Months are of `month_days` days. Intervals take the counts
/// within a draw of the lives as nearly normal and mix the draws ([`quantile`](sealspan_care::money::worth::quantile));
/// where money cannot be negative, ends below 0 are set to 0.
#[derive(Debug, Clone, Serialize)]
pub struct MoneyDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Currency as the study writes it.
    pub currency: String,
    /// Two-sided level of the prediction intervals.
    pub confidence: f64,
    /// Days of one month of account.
    pub month_days: f64,
    /// Continuous discount rate per year.
    pub discount_rate: f64,
    /// What a failure and a planned replacement cost, item by item.
    pub build_up: BuildUp,
    /// What an opening and the work at it cost.
    pub handled: Handled,
    /// Part by part, averages a year over the months.
    pub parts: Vec<PartMoney>,
    /// Place by place, averages a year over the months.
    pub places: Vec<PlaceMoney>,
    /// What the last year of the records counted, all of it, at these prices; `null` where they have no last day.
    pub last_year: Option<Year>,
    /// Why there is no such year.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_year_reason: Option<&'static str>,
    /// Lower end of the prediction interval of the plan's money over the first twelve months, or over all where they are
    /// fewer; not discounted.
    pub first_year_lower: Option<f64>,
    /// Upper end.
    pub first_year_upper: Option<f64>,
    /// Month by month.
    pub by_month: Vec<MoneyMonth>,
    /// Money of the plan over all months, not discounted.
    pub plan_cost: f64,
    /// Lower end of its prediction interval.
    pub plan_cost_lower: Option<f64>,
    /// Upper end.
    pub plan_cost_upper: Option<f64>,
    /// Present value of the saving over all months: the sum of [`MoneyMonth::discounted`].
    pub present_value: f64,
    /// Lower end of its prediction interval: the chance of the seals and the error of the lives.
    pub present_value_lower: Option<f64>,
    /// Upper end.
    pub present_value_upper: Option<f64>,
    /// Chance that the plan costs more than today's practice over these months, discounted
    /// ([`chance_of_loss`](sealspan_care::money::worth::chance_of_loss)).
    pub chance_of_loss: Option<f64>,
    /// Lives drawn that interval and chance rest on.
    pub draws: usize,
    /// Why there is no interval and no chance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub interval_reason: Option<&'static str>,
    /// Months until the discounted savings have made up for dearer months before.
    pub payback_months: Option<f64>,
    /// Why there is no such time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub payback_reason: Option<&'static str>,
    /// Each input moved by itself, widest swing first; those that move nothing are left out.
    pub swings: Vec<Swing>,
    /// Three futures.
    pub scenarios: Vec<Scenario>,
    /// Stocks for the plan's failures; empty where the study does not price stock.
    pub stock: Vec<StockLine>,
    /// Why there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock_reason: Option<String>,
    /// What each extra spare buys, from empty shelves on.
    pub extra_spares: Vec<ExtraSpare>,
    /// What more or fewer looks come to, part by part, everything else as it is done today.
    pub looks: Vec<PartLooks>,
    /// Replacement ages of a place's own, where the plan has one age for all places; `null` without two places.
    pub own_ages: Option<OwnAges>,
    /// Why there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub own_ages_reason: Option<&'static str>,
    /// Replacement ages of a duty's own, by what seals meet; `null` where the records tell no two duties.
    pub own_ages_by_duty: Option<OwnAges>,
    /// Why there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub own_ages_by_duty_reason: Option<&'static str>,
    /// Groups left out, and why.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
    /// What was assumed.
    pub notes: Vec<String>,
    /// What to mind before acting on a replacement age.
    pub cautions: Vec<String>,
}

/// Prices of looking after seals in place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Handled {
    /// The hours down of an opening for a look or a turn.
    pub opening: f64,
    /// The labour of a look.
    pub look: f64,
    /// The labour of a turn.
    pub turn: f64,
}

/// Events, expected or counted, and their money in a year, or in a month: each number of events times its price, hours down
/// priced in.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Year {
    /// Failures.
    pub failures: f64,
    /// Changes for another reason: by schedule, found worn, spoilt.
    pub planned: f64,
    /// Openings for a look, a turn or both; 0 for parts whose looks are not followed.
    pub openings: f64,
    /// Looks.
    pub looks: f64,
    /// Turns.
    pub turns: f64,
    /// Money of the failures.
    pub failures_money: f64,
    /// Money of the changes for another reason.
    pub planned_money: f64,
    /// Money of openings, looks and turns.
    pub handled_money: f64,
    /// Seals that have a price of their own, among failures and changes.
    pub own_price_seals: f64,
    /// What those seals cost, labour and hours apart.
    pub own_price_money: f64,
    /// Money of all: failures, changes, and openings with their work.
    pub cost: f64,
}

impl std::iter::Sum for Year {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::default(), |a, b| Self {
            failures: a.failures + b.failures,
            planned: a.planned + b.planned,
            openings: a.openings + b.openings,
            looks: a.looks + b.looks,
            turns: a.turns + b.turns,
            failures_money: a.failures_money + b.failures_money,
            planned_money: a.planned_money + b.planned_money,
            handled_money: a.handled_money + b.handled_money,
            own_price_seals: a.own_price_seals + b.own_price_seals,
            own_price_money: a.own_price_money + b.own_price_money,
            cost: a.cost + b.cost,
        })
    }
}

/// One part.
#[derive(Debug, Clone, Serialize)]
pub struct PartMoney {
    /// Which seal.
    pub part: String,
    /// Seals running now.
    pub positions: f64,
    /// Price of its seal; `null`: the study gives none.
    pub seal_price: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seal_price_reason: Option<&'static str>,
    /// Money of one failure.
    pub failure: f64,
    /// Money of one planned change.
    pub planned_change: f64,
    /// The plan in words.
    pub plan_words: String,
    /// Whether that is the whole plan of looks, turns and replacement age; else a replacement age alone.
    pub whole_plan: bool,
    /// Days between looks under the whole plan; `null`: none are planned.
    pub inspect_every: Option<f64>,
    /// Why there is no such time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inspect_every_reason: Option<&'static str>,
    /// Days between turns under the whole plan; `null`: none are planned.
    pub turn_every: Option<f64>,
    /// Why there is no such time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turn_every_reason: Option<&'static str>,
    /// Replacement age of the plan, days; `null`: none pays.
    pub replace_at: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replace_at_reason: Option<&'static str>,
    /// As the records counted it, per position and 365.25 days under watch, for as many positions as run now; no model in it.
    pub recorded: Option<Year>,
    /// Why there is no such count.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recorded_reason: Option<&'static str>,
    /// As practice goes on, by the fitted lives.
    pub today: Year,
    /// Under the plan.
    pub plan: Year,
}

/// One month, all parts together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoneyMonth {
    /// Its number, from 1.
    pub month: usize,
    /// The day it begins at or in, as 2025-01-31: months of account are of one length, from the last day of the records.
    pub begins: Option<String>,
    /// Why there is no such day.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub begins_reason: Option<&'static str>,
    /// Failures and planned changes as practice goes on, and their money.
    pub today: Year,
    /// The same under the plan.
    pub plan: Year,
    /// Lower end of the prediction interval of the plan's money.
    pub plan_lower: Option<f64>,
    /// Upper end.
    pub plan_upper: Option<f64>,
    /// Money saved: today's less the plan's.
    pub saving: f64,
    /// Saving at its worth now, as of the middle of the month: times e^(-r (number - 1/2) month days / 365.25), r the
    /// discount rate.
    pub discounted: f64,
    /// Sum of these so far.
    pub cumulative: f64,
}

/// One input moved by itself: of money and hours to 0.75 and 1.25 times, lives to 0.8 and 1.25 times (rules of ours), the
/// plan kept.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Swing {
    /// Which input.
    pub input: &'static str,
    /// Its low value over its stated one.
    pub low: f64,
    /// Its high value over its stated one.
    pub high: f64,
    /// Present value of the saving at the low value.
    pub at_low: f64,
    /// At the high value.
    pub at_high: f64,
}

/// A future: an hour down at 0.75, 1 or 1.25 times its price, lives 1.1, 1 or 0.9 times as long (rules of ours), the plan
/// kept.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scenario {
    /// Its name.
    pub name: &'static str,
    /// What is assumed.
    pub assumes: &'static str,
    /// Present value of the saving.
    pub present_value: f64,
}

/// Stock of one part at one place for the plan's failures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StockLine {
    /// Where.
    pub place: String,
    /// Which seal.
    pub part: String,
    /// Failures a day.
    pub demand_rate: f64,
    /// Order when down to this.
    pub reorder_point: i64,
    /// Seals per order.
    pub order_quantity: usize,
    /// Share of demands met at once.
    pub fill_rate: f64,
    /// Money a year for holding, orders and shortages.
    pub cost_per_year: f64,
    /// Price of one seal; 0 where the study gives none.
    pub unit_price: f64,
    /// Money tied up at most.
    pub investment: f64,
}
