//! How many spare seals to hold, place by place. Times are in days.

use sealspan_care::fleet_stock::FleetStock;
use sealspan_care::stock::{Best, StockAnswer};
use serde::Serialize;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct StockDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// One entry a place and part.
    pub places: Vec<PlaceStock>,
    /// Money tied up against hours down for want of a seal, along the efficient curve.
    pub frontier: Vec<FrontierPoint>,
    /// Why there is no such curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frontier_reason: Option<String>,
    /// The stocks for a budget, when one was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub budget: Option<super::budget::Budget>,
    /// What becomes of the seals on the shelf now, soonest out of date first, when they were named.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub write_off: Vec<sealspan_care::spares::lots::Fate>,
    /// The common rule of thumb against what is advised, place by place.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub rule_of_thumb: Vec<Thumb>,
    /// Days a seal may lie, from its cure on; not there where none is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shelf_life: Option<f64>,
    /// The rule the shelf life is from, as the study cites it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shelf_life_source: Option<String>,
    /// Replacement age and stock chosen together, part by part over all its places.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub joint: Vec<PartJoint>,
    /// Places left out, and why.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
}

/// One place and part.
#[derive(Debug, Clone, Serialize)]
pub struct PlaceStock {
    /// Where the seals are kept.
    pub place: String,
    /// Which seal.
    pub part: String,
    /// Positions it serves; `null` for a stated demand.
    pub positions: Option<usize>,
    /// Seals per day after failures.
    pub unplanned_per_day: f64,
    /// Seals per day by schedule, ordered ahead.
    pub planned_per_day: f64,
    /// Price of one seal.
    #[serde(skip)]
    pub unit_price: Option<f64>,
    /// Levels, the best one, and the demand.
    #[serde(flatten)]
    pub answer: StockAnswer,
}

/// One spare more over all places, laid where it takes off the most hours down (marginal analysis, Fox 1966; from memory),
/// seals of one price and re-ordered as they are taken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExtraSpare {
    /// Spares held over all places.
    pub seals: usize,
    /// Where the last of them goes; `null` when none is held.
    pub place: Option<String>,
    /// Which seal it is; `null` when none is held.
    pub part: Option<String>,
    /// Why there is neither.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// Money tied up.
    pub investment: f64,
    /// Hours a year that positions stand for want of a seal: those waiting on average x 24 x 365.25, and of demands that
    /// go urgent the hours until an urgent seal comes.
    pub downtime_hours_per_year: f64,
    /// Hours a year that the last of them takes off.
    pub saves_hours_per_year: f64,
    /// Money a year for holding, shortages and orders.
    pub cost_per_year: f64,
}

/// One spare for a lone asset, two for several (common practice, no source) against the stock advised.
#[derive(Debug, Clone, Serialize)]
pub struct Thumb {
    /// Where.
    pub place: String,
    /// Which seal.
    pub part: String,
    /// Seals by the rule of thumb.
    pub rule: usize,
    /// Seals of the best level when each is re-ordered as it is taken.
    pub advised: usize,
    /// Money a year that the rule costs more than the best level.
    pub extra_cost_per_year: f64,
    /// Hours a year that positions wait under the rule less those at the best level; `null` where demands go urgent.
    pub extra_hours_per_year: Option<f64>,
}

/// Age and stock of one part at one place, together against one after the other.
#[derive(Debug, Clone, Serialize)]
pub struct PartJoint {
    /// Where.
    pub place: String,
    /// Which seal.
    pub part: String,
    /// The choices.
    #[serde(flatten)]
    pub joint: sealspan_care::joint::fleet::JointFleet,
}

/// Holds the rule of thumb against the levels of every place; `lone` positions count as one asset.
#[must_use]
pub(crate) fn rule_of_thumb(places: &[PlaceStock]) -> Vec<Thumb> {
    let one = |p: &PlaceStock| {
        let levels = &p.answer.levels;
        let best = levels
            .iter()
            .min_by(|a, b| a.cost_rate.total_cmp(&b.cost_rate))?;
        let rule = if p.positions? <= 1 { 1 } else { 2 };
        let there = levels.get(rule)?;
        Some(Thumb {
            place: p.place.clone(),
            part: p.part.clone(),
            rule,
            advised: best.stock,
            extra_cost_per_year: (there.cost_rate - best.cost_rate) * 365.25,
            extra_hours_per_year: (there.urgent_share == 0.0 && best.urgent_share == 0.0)
                .then_some((there.expected_backorders - best.expected_backorders) * HOURS_PER_YEAR),
        })
    };
    places.iter().filter_map(one).collect()
}

/// Seals to lay in for a fleet over a horizon without resupply.
#[derive(Debug, Clone, Serialize)]
pub struct FleetStockDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// The one fleet.
    pub places: Vec<FleetPlace>,
    /// No curve of money against downtime is drawn for it.
    pub frontier: Vec<FrontierPoint>,
    /// Why not.
    pub frontier_reason: &'static str,
}

/// The fleet and its seals.
#[derive(Debug, Clone, Serialize)]
pub struct FleetPlace {
    /// Where the seals are kept.
    pub place: &'static str,
    /// Which seal.
    pub part: &'static str,
    /// Levels, the least that is enough, and the demand.
    #[serde(flatten)]
    pub answer: FleetStock,
}

/// A point of money against downtime.
#[derive(Debug, Clone, Serialize)]
pub struct FrontierPoint {
    /// Money tied up in stock.
    pub investment: f64,
    /// Expected hours per year that positions wait for a seal: those waiting on average x 24 x 365.25.
    pub downtime_hours_per_year: f64,
    /// Seals held, by place and part.
    pub stock: std::collections::BTreeMap<String, usize>,
}

const HOURS_PER_YEAR: f64 = 24.0 * 365.25;

/// The efficient curve of money against downtime: from empty shelves, one seal more at a time where it
/// takes off the most waiting per money (marginal analysis, Fox 1966, from memory; efficient because expected backorders
/// fall by less with every seal), up to the last level worked out at every place. Empty without prices, or where demands go
/// urgent instead of waiting.
#[must_use]
pub fn frontier(places: &[PlaceStock]) -> Vec<FrontierPoint> {
    let mut held = vec![0usize; places.len()];
    let mut out = vec![];
    while let Some(point) = at(places, &held) {
        out.push(point);
        let gain = |(i, place): (usize, &PlaceStock)| {
            let levels = &place.answer.levels;
            let here = held.get(i).copied().unwrap_or(0);
            let (now, next) = (levels.get(here)?, levels.get(here + 1)?);
            let money = next.investment? - now.investment?;
            Some((
                i,
                (now.expected_backorders - next.expected_backorders) / money,
            ))
        };
        let best = places
            .iter()
            .enumerate()
            .filter_map(gain)
            .max_by(|a, b| a.1.total_cmp(&b.1));
        match best.and_then(|(i, _)| held.get_mut(i)) {
            Some(slot) => *slot += 1,
            None => break,
        }
    }
    out
}

fn at(places: &[PlaceStock], held: &[usize]) -> Option<FrontierPoint> {
    let mut point = FrontierPoint {
        investment: 0.0,
        downtime_hours_per_year: 0.0,
        stock: std::collections::BTreeMap::new(),
    };
    for (place, stock) in places.iter().zip(held) {
        let level = place.answer.levels.get(*stock)?;
        level.ready_rate?;
        point.investment += level.investment?;
        point.downtime_hours_per_year += level.expected_backorders * HOURS_PER_YEAR;
        point
            .stock
            .insert(format!("{} {}", place.place, place.part), *stock);
    }
    (!places.is_empty()).then_some(point)
}

/// How to keep a stock, in words: the number held, each re-ordered as it is taken, or the lot and when it is ordered.
#[must_use]
pub fn hold_words(best: &Best) -> String {
    match best.order_quantity {
        Some(quantity) if quantity > 1 => {
            format!("order {quantity} when down to {}", best.reorder_point)
        }
        _ => best.level.stock.to_string(),
    }
}
