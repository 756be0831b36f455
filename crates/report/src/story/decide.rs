//! Figures of decisions: cost against replacement age, stock against cost, failures ahead.

use super::words::{largest, money, name_of, per_year, spares};
use crate::analysis::run::Results;
use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::number;
use crate::scale::Tick;
use crate::wire::stock::{PlaceStock, hold_words};
use sealspan_care::evaluate::Prepared;
use sealspan_care::policy::CarePolicy;
use sealspan_care::stock::Level;
use sealspan_care::terms::{Handling, Terms};

const STEPS: i32 = 160;

/// Cost of a position against the replacement age, for the group with the most seals running.
pub fn cost_curve(results: &Results) -> Option<Chart> {
    let (key, block) = largest(results)?;
    let name = &name_of(key);
    let group = results.lives.iter().find(|g| g.key == *key)?;
    let fitted = group.fitted.as_ref().ok()?;
    let model = Prepared::new(&block.seal).ok()?;
    let terms = Terms::new(&block.costs, &Handling::default()).ok()?;
    let cost_rate = |age: f64| {
        let policy = CarePolicy::replace_at(age);
        model.rough(&policy, &terms, None).map(|o| o.cost_rate)
    };
    let (units, per) = per_year(results);
    let end = fitted
        .life
        .quantile(0.95)
        .max(block.replace.age.unwrap_or(0.0) * 1.5);
    let run = block.run_to_failure.cost_rate * units;
    let top = run.max(block.replace.cost_rate * units) * 1.35;
    let points: Vec<(f64, f64)> = (1..=STEPS)
        .map(|i| end * f64::from(i) / f64::from(STEPS))
        .filter_map(|age| Some((age, cost_rate(age).ok()? * units)))
        .filter(|(_, y)| *y <= 3.0 * top)
        .collect();
    let mut layers = vec![];
    if let Some((low, high)) = block.replace.flat_zone {
        layers.push(Layer::ZoneX {
            from: low,
            to: high.unwrap_or(end).min(end),
            tone: Tone::Group(2),
            label: "within 2 % of the least cost".into(),
        });
    }
    layers.push(Layer::HLine {
        at: run,
        stroke: Stroke::dashed(Tone::Muted),
        label: Some("on failure only".into()),
    });
    layers.push(Layer::Line {
        name: "replace at this age".into(),
        points,
        stroke: Stroke::solid(Tone::Group(0)),
        label: Some("replace at this age".into()),
    });
    if let Some(age) = super::plans::age_alone(results, key) {
        layers.push(Layer::VLine {
            at: age,
            stroke: Stroke::dashed(Tone::Group(3)),
            label: Some("the plan".into()),
        });
    }
    let title = match block.replace.age {
        Some(age) => {
            let best = block.replace.cost_rate * units;
            layers.push(Layer::Points {
                name: "least cost".into(),
                marks: vec![Mark::at(age, best)],
                tone: Tone::Group(1),
                marker: Marker::Disc,
                label: Some(format!(
                    "least: {} {}, {} per {per}",
                    number::significant(age, 3),
                    results.unit,
                    money(best, &results.currency)
                )),
            });
            format!(
                "Replacing {name} seals at about {} {} costs least",
                number::significant(age, 2),
                results.unit
            )
        }
        None => format!("No replacement age beats replacing {name} seals on failure"),
    };
    let unit = format!("{} per {per} and position", results.currency)
        .trim()
        .to_owned();
    Some(Chart {
        id: "cost-age".into(),
        alt: format!(
            "{title}. The cost falls steeply, is flat around its least, then rises to the level of replacing on failure only."
        ),
        title,
        x: Axis::linear("replacement age", results.unit).over(0.0, end),
        y: Axis::linear("long-run cost", unit).over(0.0, top),
        layers,
        at_risk: None,
        notes: vec![format!(
            "Downtime is priced in; replacement by age alone, at the estimates. Played event by event over {} seals, the advice costs {} per {per} (standard error {}).",
            number::count(block.simulated.seals as u64),
            money(block.simulated.cost_rate * units, &results.currency),
            number::significant(block.simulated.std_error * units, 2)
        )],
    })
}

/// The place with the greatest demand after failures.
pub fn busiest(results: &Results) -> Option<&PlaceStock> {
    let stock = results.stock.found()?;
    stock
        .places
        .iter()
        .filter(|p| p.answer.best.is_some())
        .max_by(|a, b| a.unplanned_per_day.total_cmp(&b.unplanned_per_day))
}

/// Cost of the stock against its level at the busiest place.
pub fn stock_curve(results: &Results) -> Option<Chart> {
    let place = busiest(results)?;
    let best = place.answer.best.as_ref()?;
    let units = sealspan_care::costs::DAYS_PER_YEAR;
    let levels = &place.answer.levels;
    let points: Vec<(f64, f64)> = levels
        .iter()
        .map(|l| (l.stock as f64, l.cost_rate * units))
        .filter(|p| p.1 > 0.0)
        .collect();
    let last = points.last().map_or(1.0, |p| p.0);
    let whole = (0..=levels.len().saturating_sub(1)).step_by(1 + levels.len() / 12);
    let ticks = whole
        .map(|n| Tick {
            at: n as f64,
            text: n.to_string(),
        })
        .collect();
    // The curve is of spares re-ordered one by one; a lot has a cost of its own beside it.
    let lots = best.order_quantity.is_some_and(|q| q > 1);
    let by_cost = |a: &&Level, b: &&Level| a.cost_rate.total_cmp(&b.cost_rate);
    let single = levels.iter().min_by(by_cost).map_or(0, |l| l.stock);
    let title = if lots {
        format!(
            "{}, {}: to {} costs least",
            place.place,
            place.part,
            hold_words(best)
        )
    } else {
        format!(
            "{}, {}: holding {} costs least",
            place.place,
            place.part,
            spares(best.level.stock)
        )
    };
    let in_lots = lots.then(|| {
        let cost = best.level.cost_rate * units;
        Layer::Line {
            name: hold_words(best),
            points: vec![(0.0, cost), (last, cost)],
            stroke: Stroke::dashed(Tone::Group(1)),
            label: Some(hold_words(best)),
        }
    });
    Some(Chart {
        id: "stock".into(),
        title,
        alt: format!(
            "Yearly cost of the spare stock against the number held, each re-ordered as it is taken. It falls to its least at {single} and then rises slowly."
        ),
        x: Axis::linear("spares held", "seals")
            .over(0.0, last.max(1.0))
            .with_ticks(ticks),
        y: Axis::log(
            "expected cost of stock and shortage",
            format!("{} per year", results.currency).trim(),
        ),
        layers: in_lots
            .into_iter()
            .chain([
                Layer::VLine {
                    at: single as f64,
                    stroke: Stroke::dashed(Tone::Ink),
                    label: Some(format!("one by one: hold {single}")),
                },
                Layer::Line {
                    name: "holding, shortage and orders".into(),
                    points: points.clone(),
                    stroke: Stroke::solid(Tone::Group(0)),
                    label: None,
                },
                Layer::Points {
                    name: "levels".into(),
                    marks: points.iter().map(|(x, y)| Mark::at(*x, *y)).collect(),
                    tone: Tone::Group(0),
                    marker: Marker::Disc,
                    label: Some("holding, shortage and orders".into()),
                },
            ])
            .collect(),
        at_risk: None,
        notes: vec![format!(
            "Failures at this place: {} a year over {} positions, nearly Poisson. With the stock advised ({}), {} of demands are met at once. The curve is of spares re-ordered one by one as they are taken.",
            number::significant(place.unplanned_per_day * units, 2),
            place.positions.unwrap_or(0),
            hold_words(best),
            number::percent(best.level.fill_rate)
        )],
    })
}

/// First failures ahead of the seals running now, added up from now on.
pub fn ahead(results: &Results) -> Option<Chart> {
    let last = results.totals.last()?;
    let from_now = |f: fn(&crate::analysis::outlook::Total) -> f64| -> Vec<(f64, f64)> {
        std::iter::once((0.0, 0.0))
            .chain(results.totals.iter().map(|t| (t.until, f(t))))
            .collect()
    };
    Some(Chart {
        id: "ahead".into(),
        title: format!(
            "{} to {} of the seals running now would fail within {} {}",
            last.lower,
            last.upper,
            number::significant(last.until, 3),
            results.unit
        ),
        alt: format!(
            "Expected first failures added up from now, reaching {} after {} {}, with a widening prediction band.",
            number::fixed(last.expected, 0),
            number::significant(last.until, 3),
            results.unit
        ),
        x: Axis::linear("time from now", results.unit).over(0.0, last.until),
        y: Axis::linear("first failures so far", "seals").over(0.0, last.upper as f64 * 1.05 + 1.0),
        layers: vec![
            Layer::Band {
                name: "prediction interval".into(),
                lower: from_now(|t| t.lower as f64),
                upper: from_now(|t| t.upper as f64),
                tone: Tone::Group(0),
                stepped: false,
            },
            Layer::Line {
                name: "expected".into(),
                points: from_now(|t| t.expected),
                stroke: Stroke::solid(Tone::Group(0)),
                label: Some("expected".into()),
            },
        ],
        at_risk: None,
        notes: vec![format!(
            "Shaded: pointwise {} prediction interval, with what the life estimates leave open. Seals are left to fail; replacing by age makes failures fewer.",
            number::level(results.confidence)
        )],
    })
}
