//! What each extra spare buys, over all places: from empty shelves, one seal more at a time where it takes off the
//! most hours down (marginal analysis, Fox 1966, from memory). Seals cost the same everywhere.

use crate::wire::stock::{ExtraSpare, PlaceStock};
use sealspan_care::costs::{DAYS_PER_YEAR, HOURS_PER_DAY};
use sealspan_care::stock::Level;

/// Steps beyond the stocks that cost least, as a share of them, and at least.
const BEYOND: f64 = 0.1;
const AT_LEAST: usize = 3;
/// Fewer hours a year than this are nothing.
const NOTHING: f64 = 1e-9;

/// Hours a year that positions stand for want of a seal. A demand that goes urgent stands for `urgent_hours`.
fn hours(place: &PlaceStock, level: &Level, urgent_hours: f64) -> f64 {
    let waiting = level.expected_backorders * HOURS_PER_DAY * DAYS_PER_YEAR;
    waiting + place.unplanned_per_day * DAYS_PER_YEAR * level.urgent_share * urgent_hours
}

/// The steps from empty shelves to somewhat more than the levels that cost least, each seal re-ordered as it is taken.
#[must_use]
pub(crate) fn extra_spares(places: &[PlaceStock], urgent_hours: f64) -> Vec<ExtraSpare> {
    let mut held = vec![0usize; places.len()];
    let level = |place: usize, stock: usize| places.get(place)?.answer.levels.get(stock);
    let gain = |place: usize, stock: usize| {
        let of = places.get(place)?;
        let (now, next) = (level(place, stock)?, level(place, stock + 1)?);
        let saved = hours(of, now, urgent_hours) - hours(of, next, urgent_hours);
        (saved > NOTHING).then_some((place, saved))
    };
    let cheapest: usize = places.iter().map(cheapest).sum();
    let most = cheapest + AT_LEAST.max((BEYOND * cheapest as f64).ceil() as usize);
    let sum = |held: &[usize], f: &dyn Fn(&PlaceStock, &Level) -> f64| -> f64 {
        let each = places.iter().zip(held);
        each.filter_map(|(p, n)| Some(f(p, p.answer.levels.get(*n)?)))
            .sum()
    };
    let point = |held: &[usize], last: Option<(usize, f64)>| ExtraSpare {
        seals: held.iter().sum(),
        place: last.and_then(|(i, _)| Some(places.get(i)?.place.clone())),
        part: last.and_then(|(i, _)| Some(places.get(i)?.part.clone())),
        reason: last.is_none().then_some("no spare is held"),
        investment: sum(held, &|_, l| l.investment.unwrap_or(0.0)),
        downtime_hours_per_year: sum(held, &|p, l| hours(p, l, urgent_hours)),
        saves_hours_per_year: last.map_or(0.0, |(_, saved)| saved),
        cost_per_year: sum(held, &|_, l| l.cost_rate) * DAYS_PER_YEAR,
    };
    let mut out = vec![point(&held, None)];
    while out.len() <= most {
        let offers = (0..places.len()).filter_map(|i| gain(i, held.get(i).copied()?));
        let best = offers.reduce(|best, one| if one.1 > best.1 { one } else { best });
        let Some((at, saved)) = best else { break };
        if let Some(slot) = held.get_mut(at) {
            *slot += 1;
        }
        out.push(point(&held, Some((at, saved))));
    }
    if places.is_empty() { vec![] } else { out }
}

/// The level of least cost at a place.
fn cheapest(place: &PlaceStock) -> usize {
    let levels = place.answer.levels.iter();
    let best = levels.min_by(|a, b| a.cost_rate.total_cmp(&b.cost_rate));
    best.map_or(0, |l| l.stock)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_care::stock::{Shortage, StockTerms};

    fn place(name: &str, rate: f64, shortage: Shortage) -> PlaceStock {
        let terms = StockTerms {
            demand_rate: rate,
            lead_time: 20.0,
            holding_cost: 0.02,
            shortage,
            order_cost: 0.0,
            unit_price: Some(40.0),
            target_fill_rate: None,
            shelf_life: None,
            age_on_arrival: 0.0,
            lead_time_deviation: 0.0,
        };
        PlaceStock {
            place: name.to_owned(),
            part: "seal".to_owned(),
            positions: Some(10),
            unplanned_per_day: rate,
            planned_per_day: 0.0,
            unit_price: Some(40.0),
            answer: terms.answer().unwrap(),
        }
    }

    /// No other way to lay out as many seals leaves fewer hours down, tried one by one; and the hours are what the
    /// levels say.
    #[test]
    fn no_other_lay_out_is_better() {
        for shortage in [
            Shortage::Backorder { cost_per_day: 50.0 },
            Shortage::Urgent {
                cost_per_order: 600.0,
            },
        ] {
            let places = [
                place("a", 0.05, shortage),
                place("b", 0.11, shortage),
                place("c", 0.02, shortage),
            ];
            let steps = extra_spares(&places, 30.0);
            assert!(steps.len() > 8, "{}", steps.len());
            let at = |i: usize, n: usize| hours(&places[i], &places[i].answer.levels[n], 30.0);
            for step in &steps {
                let n = step.seals;
                let ways = (0..=n).flat_map(|a| (0..=n - a).map(move |b| [a, b, n - a - b]));
                let inside = ways.filter(|w| {
                    w.iter()
                        .zip(&places)
                        .all(|(n, p)| *n < p.answer.levels.len())
                });
                let least = inside
                    .map(|w| at(0, w[0]) + at(1, w[1]) + at(2, w[2]))
                    .fold(f64::INFINITY, f64::min);
                let found = step.downtime_hours_per_year;
                assert!((found / least - 1.0).abs() < 1e-9, "{n}: {found} {least}");
                assert!((step.investment - 40.0 * n as f64).abs() < 1e-9);
            }
            for two in steps.windows(2) {
                let saved = two[0].downtime_hours_per_year - two[1].downtime_hours_per_year;
                assert!((saved - two[1].saves_hours_per_year).abs() < 1e-9);
            }
        }
    }

    /// Empty shelves with urgent supply: every demand stands for the urgent hours.
    #[test]
    fn empty_shelves() {
        let shortage = Shortage::Urgent {
            cost_per_order: 600.0,
        };
        let steps = extra_spares(&[place("a", 0.1, shortage)], 24.0);
        let first = steps.first().unwrap();
        assert!((first.downtime_hours_per_year - 36.525 * 24.0).abs() < 1e-9);
        assert!(extra_spares(&[], 24.0).is_empty());
    }
}
