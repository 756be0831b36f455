//! Figures of a comparison by itself: life ratios, life against temperature with its data, residuals.

use super::tables::table;
use super::{picture, residuals};
use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::column::spoken;
use crate::document::DataTable;
use crate::number;
use crate::scale::ARRHENIUS_PAPER;
use crate::wire::compare::{
    CompareDocument, CompareOptions, Compared, Fitted, Keyed, More, Plan, compared, value,
};
use sealspan_life::quantity::Quantity;
use sealspan_life::regression::{Prediction, Regression, Robust};
use sealspan_numeric::special::normal_quantile;
use sealspan_records::observation::Seen;
use std::collections::BTreeMap;

/// Points of the line.
const STEPS: usize = 40;
/// Most seals drawn one by one.
const SEALS: usize = 400;

/// Every figure that the comparison holds: life ratios with their intervals (the wider of the two where like seals are
/// allowed for), median life against temperature, and Cox-Snell residuals against the exponential law that they follow
/// where the law holds.
#[must_use]
pub fn figures(c: &Compared) -> Vec<Chart> {
    let mut out: Vec<Chart> = picture::life_ratios(&c.document).into_iter().collect();
    let Some(fitted) = &c.fitted else { return out };
    out.extend(against_temperature(c, fitted));
    let fit = &fitted.regression;
    let places = fitted.places.iter();
    let thetas = places.map(|p| fit.theta(&p.row, p.offset, p.stratum));
    let seals = thetas.zip(fitted.groups.iter().map(|(_, sample)| sample));
    let columns = c
        .options
        .model_columns()
        .iter()
        .map(|c| spoken(c))
        .collect::<Vec<_>>()
        .join(", ");
    out.extend(residuals::chart(
        fit.family,
        seals,
        c.options.confidence,
        &columns,
    ));
    out
}

/// Every pair of levels with its life ratio, its interval by itself and for all pairs at once, and both p-values, from
/// [`Pairwise`](crate::wire::pairwise::Pairwise); `None` without pairs.
#[must_use]
pub fn life_ratio_table(d: &CompareDocument) -> Option<DataTable> {
    let all = d.pairwise.as_ref()?;
    let rows = all.pairs.iter().map(|p| {
        vec![
            p.of.clone().into(),
            p.to.clone().into(),
            p.estimate.into(),
            p.lower.into(),
            p.upper.into(),
            p.simultaneous_lower.into(),
            p.simultaneous_upper.into(),
            p.p_value.into(),
            p.holm_p_value.into(),
        ]
    });
    Some(table(
        "life-ratios",
        &[
            "level",
            "over_level",
            "life_ratio",
            "lower",
            "upper",
            "lower_for_all_pairs",
            "upper_for_all_pairs",
            "p_value",
            "p_value_for_all_pairs",
        ],
        rows.collect(),
    ))
}

/// A median life with its interval.
#[derive(Clone, Copy)]
struct Median {
    celsius: f64,
    at: f64,
    lower: f64,
    upper: f64,
}

fn median(
    celsius: f64,
    fit: &Regression,
    robust: Option<&Robust>,
    place: &sealspan_life::regression::Place,
    level: f64,
) -> Option<Median> {
    let half = Quantity::Quantile(0.5);
    let Prediction {
        estimate,
        lower,
        upper,
        ..
    } = match robust {
        Some(r) => fit.predict(place, half, &r.covariance, r.critical(level)),
        None => {
            let z = normal_quantile(0.5 + 0.5 * level);
            fit.predict(place, half, &fit.covariance, z)
        }
    };
    Some(Median {
        celsius,
        at: estimate,
        lower: lower?,
        upper: upper?,
    })
}

/// Everything but the temperature as it is for most failures: levels with the most of them, numbers at their
/// means over the seals.
fn usual(groups: &[Keyed], options: &CompareOptions, heat: &str) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    let factors: Vec<&String> = options
        .by
        .iter()
        .chain(&options.given)
        .chain(&options.more.shape_by)
        .collect();
    for column in options.model_columns().iter().filter(|c| *c != heat) {
        let mut failures: BTreeMap<&str, f64> = BTreeMap::new();
        let (mut sum, mut count) = (0.0, 0.0);
        for (key, sample) in groups {
            let (word, tally) = (value(key, column), sample.tally());
            *failures.entry(word).or_default() += tally.failures();
            if let Ok(x) = word.trim().parse::<f64>() {
                sum += x * tally.total();
                count += tally.total();
            }
        }
        let most = failures.iter().max_by(|a, b| a.1.total_cmp(b.1));
        let most = most.map_or(String::new(), |(word, _)| (*word).to_owned());
        let mean = if count > 0.0 { sum / count } else { 0.0 };
        let own = if factors.contains(&column) {
            most
        } else {
            mean.to_string()
        };
        out.insert(column.clone(), own);
    }
    out
}

/// The line, its band, each temperature by itself and, where nothing else acts, every seal.
fn against_temperature(c: &Compared, fitted: &Fitted) -> Option<Chart> {
    let options = &c.options;
    let (column, _) = options.temperature()?;
    let level = options.confidence;
    let others = usual(&fitted.groups, options, column);
    let medians = |plan: &Plan, fit: &Regression, robust: Option<&Robust>, at: &[(f64, String)]| {
        let one = |(celsius, word): &(f64, String)| {
            let find = |name: &str| {
                if name == column {
                    Some(word.as_str())
                } else {
                    others.get(name).map(String::as_str)
                }
            };
            median(*celsius, fit, robust, &plan.place(&find).ok()?, level)
        };
        at.iter().filter_map(one).collect::<Vec<Median>>()
    };
    let mut seen: Vec<(f64, String)> = fitted
        .groups
        .iter()
        .filter_map(|(key, _)| {
            let word = value(key, column);
            Some((word.trim().parse().ok()?, word.to_owned()))
        })
        .collect();
    seen.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    seen.dedup();
    let (cold, hot) = (seen.first()?.0, seen.last()?.0);
    if cold >= hot {
        return None;
    }
    let grid: Vec<(f64, String)> = (0..=STEPS)
        .map(|i| cold + (hot - cold) * i as f64 / STEPS as f64)
        .map(|t| (t, t.to_string()))
        .collect();
    let (fit, robust) = (&fitted.regression, fitted.robust.as_ref());
    let line = medians(&fitted.plan, fit, robust, &grid);
    let apart = apart(c, fitted, column);
    let points = apart.as_ref().map_or_else(Vec::new, |a| {
        medians(&a.plan, &a.regression, a.robust.as_ref(), &seen)
    });
    let alone = options.model_columns().len() == 1;
    let held: Vec<String> = others
        .iter()
        .map(|(c, v)| format!("{} {v}", spoken(c)))
        .collect();
    Some(chart(
        c,
        column,
        &line,
        &points,
        seals(fitted, column, alone),
        &held,
    ))
}

/// The same comparison with each temperature by itself. `None` where too few failed at one.
fn apart(c: &Compared, fitted: &Fitted, column: &str) -> Option<Fitted> {
    let mut options = c.options.clone();
    options.arrhenius = None;
    options.given.push(column.to_owned());
    options.base = vec![];
    options.more = More {
        eyring: None,
        interactions: vec![],
        prior: None,
        predict: vec![],
        frailty: None,
        regression_only: true,
        ..options.more
    };
    let failed = |(key, _): &&Keyed| {
        let own = value(key, column);
        let alike = fitted
            .groups
            .iter()
            .filter(|(k, _)| value(k, column) == own);
        alike.map(|(_, s)| s.tally().failures()).sum::<f64>() >= 2.0
    };
    let groups: Vec<Keyed> = fitted.groups.iter().filter(failed).cloned().collect();
    compared(c.document.unit, &groups, &options).ok()?.fitted
}

/// Failures and running seals at their temperatures.
fn seals(fitted: &Fitted, column: &str, alone: bool) -> Option<(Vec<Mark>, Vec<Mark>)> {
    let rows = fitted
        .groups
        .iter()
        .map(|(_, s)| s.rows().len())
        .sum::<usize>();
    if !alone || rows > SEALS {
        return None;
    }
    let (mut failed, mut running) = (vec![], vec![]);
    for (key, sample) in &fitted.groups {
        let Ok(celsius) = value(key, column).trim().parse::<f64>() else {
            continue;
        };
        for o in sample.rows() {
            match o.seen() {
                Seen::Exact(t) => failed.push(Mark::at(celsius, t)),
                Seen::Interval(a, b) => failed.push(Mark {
                    y_interval: (a > 0.0).then_some((a, b)),
                    ..Mark::at(celsius, 0.5 * (a + b))
                }),
                Seen::Right(t) if t > 0.0 => running.push(Mark::at(celsius, t)),
                Seen::Right(_) => {}
            }
        }
    }
    Some((failed, running))
}

fn chart(
    c: &Compared,
    column: &str,
    line: &[Median],
    points: &[Median],
    seals: Option<(Vec<Mark>, Vec<Mark>)>,
    held: &[String],
) -> Chart {
    let edge = |f: fn(&Median) -> f64| line.iter().map(|m| (m.celsius, f(m))).collect();
    let mut layers = vec![
        Layer::Band {
            name: "confidence band of the line".into(),
            lower: edge(|m| m.lower),
            upper: edge(|m| m.upper),
            tone: Tone::Group(0),
            stepped: false,
        },
        Layer::Line {
            name: "fitted line".into(),
            points: edge(|m| m.at),
            stroke: Stroke::solid(Tone::Group(0)),
            label: Some("half failed".into()),
        },
    ];
    let mut data = String::new();
    if let Some((failed, running)) = seals {
        let each = [
            (
                "running",
                "running when last seen",
                running,
                Marker::Triangle,
            ),
            ("failures", "each failure", failed, Marker::Disc),
        ];
        for (name, label, marks, marker) in each {
            if !marks.is_empty() {
                layers.push(Layer::Points {
                    name: name.into(),
                    marks,
                    tone: Tone::Muted,
                    marker,
                    label: Some(label.into()),
                });
            }
        }
        data = "Grey: the seals themselves; they scatter round the median, not round its band. "
            .into();
    }
    if points.is_empty() {
        data.push_str("Single temperatures cannot be told from the other columns here. ");
    } else {
        layers.push(by_itself(points));
    }
    let held = if held.is_empty() {
        String::new()
    } else {
        format!(" For {}.", held.join(", "))
    };
    let span = |f: fn(f64, f64) -> f64, start: f64| line.iter().map(|m| m.celsius).fold(start, f);
    let (cold, hot) = (
        span(f64::min, f64::INFINITY),
        span(f64::max, f64::NEG_INFINITY),
    );
    let margin = 0.06 * (hot - cold);
    Chart {
        id: "temperature".into(),
        title: "Age by which half have failed against temperature, on paper where the Arrhenius law is a straight line".into(),
        alt: format!("Median life against {}, each temperature by itself with its interval, and the fitted line with its confidence band.", spoken(column)),
        x: Axis::new("temperature", "°C", ARRHENIUS_PAPER).over(cold - margin, hot + margin),
        y: Axis::log("age", c.document.unit),
        layers,
        at_risk: None,
        notes: vec![format!(
            "{data}Band and bars: {} confidence intervals of the median.{held} Not to be read beyond {} to {} °C.",
            number::level(c.options.confidence),
            number::significant(cold, 3),
            number::significant(hot, 3)
        )],
    }
}

/// Each temperature by itself.
fn by_itself(points: &[Median]) -> Layer {
    Layer::Points {
        name: "each temperature by itself".into(),
        marks: points
            .iter()
            .map(|m| Mark {
                y_interval: Some((m.lower, m.upper)),
                ..Mark::at(m.celsius, m.at)
            })
            .collect(),
        tone: Tone::Ink,
        marker: Marker::Ring,
        label: Some("each temperature by itself".into()),
    }
}
