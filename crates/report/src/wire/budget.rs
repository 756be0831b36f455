//! Several parts and places under one stock budget.

use sealspan_care::error::{Error, Result};
use sealspan_care::spares::budget::{Part, Spread, Step, efficient_curve, to_reach, within};
use serde::Serialize;

use super::stock::PlaceStock;

/// The stocks for a budget ([`within`]).
#[derive(Debug, Clone, Serialize)]
pub struct Budget {
    /// The budget.
    pub budget: f64,
    /// Money tied up by the stocks advised.
    pub spent: f64,
    /// Positions waiting for a seal on average, all places.
    pub expected_backorders: f64,
    /// Hours a year that positions wait: those waiting on average x 24 x 365.25.
    pub downtime_hours_per_year: f64,
    /// No stocks for this budget have fewer positions waiting on average than this number.
    pub bound: f64,
    /// True when the stocks are known to be the best of all, else they lie between `bound` and the last efficient
    /// point.
    pub exact: bool,
    /// Stocks by place and part.
    pub stock: Vec<PlaceLevel>,
    /// The efficient curve: what every sum of money buys in waiting, from empty shelves to twice the budget, about 40 points
    /// of it.
    pub curve: Vec<CurvePoint>,
    /// What the next seal on the efficient curve costs and takes off; `null` when none is worth a step.
    pub next: Option<NextStep>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_reason: Option<&'static str>,
}

/// The stock of one place and part.
#[derive(Debug, Clone, Serialize)]
pub struct PlaceLevel {
    /// Where.
    pub place: String,
    /// Which seal.
    pub part: String,
    /// Seals on hand plus on order.
    pub stock: u32,
}

/// A point of the efficient curve ([`efficient_curve`]): no stocks as cheap leave less waiting.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Seals held over all places.
    pub seals: usize,
    /// Money tied up.
    pub investment: f64,
    /// Hours a year that positions wait.
    pub downtime_hours_per_year: f64,
}

/// What one seal more buys.
#[derive(Debug, Clone, Serialize)]
pub struct NextStep {
    /// Money.
    pub costs: f64,
    /// Hours a year of waiting that it takes off.
    pub saves_hours_per_year: f64,
}

const HOURS_PER_YEAR: f64 = 24.0 * 365.25;

/// Spreads the money `budget` over the places; demands wait, for their mean number on order, at the price of each.
///
/// # Errors
/// When a place has no price, the budget buys nothing, or `target` (the share of demands met at once over all places,
/// between 0 and 1) is out of its reach: then about the least budget that reaches it is named, where one does.
pub fn budget(places: &[PlaceStock], budget: f64, target: Option<f64>) -> Result<Budget> {
    let parts: Vec<Part> = places
        .iter()
        .map(|p| {
            let price = p.unit_price.ok_or_else(|| {
                Error::unanswerable("A stock budget needs the price of a seal: give --unit-price or costs.seal_price.")
            })?;
            Ok(Part { on_order: p.answer.demand.mean, price, weight: 1.0 })
        })
        .collect::<Result<_>>()?;
    let spread = within(&parts, budget)?;
    if let Some(target) = target {
        reachable(&parts, places, &spread, budget, target)?;
    }
    let (curve, next) = curve(&parts, &spread, budget)?;
    let stocks = places.iter().zip(&spread.best.stock);
    Ok(Budget {
        budget,
        spent: spread.best.spent,
        expected_backorders: spread.best.backorders,
        downtime_hours_per_year: spread.best.backorders * HOURS_PER_YEAR,
        bound: spread.bound,
        exact: spread.exact,
        stock: stocks
            .map(|(p, n)| PlaceLevel {
                place: p.place.clone(),
                part: p.part.clone(),
                stock: *n,
            })
            .collect(),
        curve,
        next_reason: next
            .is_none()
            .then_some("no seal more takes off waiting worth a step"),
        next,
    })
}

/// Points of the curve that are written out.
const POINTS: usize = 40;
/// Steps of the curve at most.
const STEPS: usize = 1_000_000;

/// The curve to twice the budget, and the step after the last efficient point that the budget reaches.
fn curve(
    parts: &[Part],
    spread: &Spread,
    budget: f64,
) -> Result<(Vec<CurvePoint>, Option<NextStep>)> {
    let bought = spread.efficient.stock.iter().sum::<u32>() as usize;
    let steps = efficient_curve(parts, (2 * bought + 2).min(STEPS))?;
    let next = match steps.get(bought..) {
        Some([here, after, ..]) => Some(NextStep {
            costs: after.spent - here.spent,
            saves_hours_per_year: (here.backorders - after.backorders) * HOURS_PER_YEAR,
        }),
        _ => None,
    };
    let near = steps.iter().filter(|s| s.spent <= 2.0 * budget).count();
    let stride = near.div_ceil(POINTS).max(1);
    let points = steps.iter().take(near).enumerate().step_by(stride);
    let point = |(seals, s): (usize, &Step)| CurvePoint {
        seals,
        investment: s.spent,
        downtime_hours_per_year: s.backorders * HOURS_PER_YEAR,
    };
    Ok((points.map(point).collect(), next))
}

/// Share of demands met at once over all places, by the stocks given.
fn met(places: &[PlaceStock], stock: &[u32]) -> f64 {
    let all: f64 = places.iter().map(|p| p.unplanned_per_day).sum();
    let each = places.iter().zip(stock).map(|(p, n)| {
        let below: f64 = p.answer.demand.pmf.iter().take(*n as usize).sum();
        p.unplanned_per_day * below
    });
    if all > 0.0 {
        each.sum::<f64>() / all
    } else {
        1.0
    }
}

fn reachable(
    parts: &[Part],
    places: &[PlaceStock],
    spread: &Spread,
    budget: f64,
    target: f64,
) -> Result<()> {
    if met(places, &spread.best.stock) >= target {
        return Ok(());
    }
    let mut most = spread.best.backorders;
    for _ in 0..400 {
        most *= 0.9;
        let mix = to_reach(parts, most)?;
        if met(places, &mix.stock) >= target {
            return Err(Error::unanswerable(&format!(
                "The stock budget of {budget} and the target of {target} met at once contradict each other: about {:.0} would be needed. Raise the budget or lower the target.",
                mix.spent
            )));
        }
    }
    Err(Error::unanswerable(
        "No stock reaches the target; lower it.",
    ))
}
