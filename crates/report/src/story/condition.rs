//! Figures of measured condition: paths to the limit, and the time left of running seals.

use crate::analysis::condition::{Condition, Worked};
use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::column::{spoken, unit};
use crate::number;
use crate::scale::Tick;
use crate::wire::condition::{ConditionDocument, ConditionGroup};
use sealspan_life::degradation::choose::{Choice, Model};
use sealspan_numeric::special::normal_quantile;

/// Most seals drawn as paths.
const PATHS: usize = 25;
/// Drawn so far past the age at which the mean path is at the limit.
const PAST: f64 = 1.3;
/// Most running seals drawn.
const RUNNING: usize = 20;
const STEPS: usize = 40;

/// Two figures a group with a model: measured paths against age with the mean path, the limit, and for straight paths the
/// band mean ± 1.645 sd that holds the true values of nine new seals in ten; and the time left to the 20 most urgent
/// running seals with its prediction interval.
#[must_use]
pub fn charts(condition: &Condition) -> Vec<Chart> {
    let document = &condition.document;
    let mut out = vec![];
    for (one, group) in condition.worked.iter().zip(&document.groups) {
        if let Ok(choice) = &one.choice {
            out.push(paths(one, choice, document));
            out.extend(running(group, document));
        }
    }
    out
}

/// A name for files from a group's.
pub(super) fn slug(words: &str) -> String {
    words
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .take(40)
        .collect()
}

fn paths(one: &Worked, choice: &Choice, d: &ConditionDocument) -> Chart {
    let every = one.seals.len().div_ceil(PATHS).max(1);
    let measured = one.seals.iter().flat_map(|s| s.points.iter().map(|p| p.0));
    let oldest = measured.fold(0.0, f64::max);
    let side = one.limit.map_or(1.0, |l| l.side());
    let mean = |age: f64| match &choice.model {
        Model::Mixed(m) => m.scale.back(m.mean.x + m.mean.y * age),
        Model::Wear(w) => w.new_value + side * w.shape / w.rate * age,
    };
    let grid = |end: f64| (0..=STEPS).map(move |i| end * i as f64 / STEPS as f64);
    // Few seals are left much past the limit, and no seal is followed further down.
    let there = grid(2.0 * oldest).find(|age| side * (mean(*age) - d.limit) > 0.0);
    let end = there.map_or(oldest, |age| (PAST * age).min(oldest));
    let mut layers: Vec<Layer> = band(choice, grid(end)).into_iter().collect();
    let before = layers.len();
    let seen = one.seals.iter().flat_map(|s| s.points.iter());
    let seen = seen.filter(|p| p.0 <= end).map(|p| p.1);
    let (low, high) = seen
        .chain([d.limit, mean(0.0)])
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), y| {
            (l.min(y), h.max(y))
        });
    let margin = 0.08 * (high - low);
    layers.extend(one.seals.iter().step_by(every).map(|s| Layer::Line {
        name: s.seal.clone(),
        points: s.points.iter().copied().filter(|p| p.0 <= end).collect(),
        stroke: Stroke::solid(Tone::Muted),
        label: None,
    }));
    let drawn = layers.len() - before;
    layers.push(Layer::Line {
        name: "mean path".into(),
        points: grid(end).map(|age| (age, mean(age))).collect(),
        stroke: Stroke::group(0),
        label: Some("mean path".into()),
    });
    layers.push(Layer::HLine {
        at: d.limit,
        stroke: Stroke::dashed(Tone::Ink),
        label: Some("limit".into()),
    });
    Chart {
        id: format!("paths-{}", slug(&one.key.words())),
        title: format!("{}: measured paths towards the limit", one.key.words()),
        alt: format!(
            "{} against age, one thin line a seal, the mean path, and the limit of {} as a dashed line.",
            d.measure,
            number::significant(d.limit, 3)
        ),
        x: Axis::linear("age", d.unit).over(0.0, end),
        y: Axis::linear(spoken(&d.measure), unit(&d.measure)).over(low - margin, high + margin),
        layers,
        at_risk: None,
        notes: vec![format!(
            "{drawn} of {} measured seals drawn, one grey line each{}.",
            one.seals.len(),
            if before > 0 {
                "; band: where the true values of nine new seals in ten lie"
            } else {
                ""
            }
        )],
    }
}

/// Where nine new seals in ten lie, for straight paths.
fn band(choice: &Choice, ages: impl Iterator<Item = f64>) -> Option<Layer> {
    let Model::Mixed(m) = &choice.model else {
        return None;
    };
    let z = normal_quantile(0.95);
    let ends = ages.map(|age| {
        let a = m.among;
        let sd = (a.m11 + 2.0 * a.m12 * age + a.m22 * age * age)
            .max(0.0)
            .sqrt();
        let middle = m.mean.x + m.mean.y * age;
        let at = |side: f64| (age, m.scale.back(middle + side * z * sd));
        (at(-1.0), at(1.0))
    });
    let (lower, upper) = ends.unzip();
    Some(Layer::Band {
        name: "nine new seals in ten".into(),
        lower,
        upper,
        tone: Tone::Group(0),
        stepped: false,
    })
}

fn running(group: &ConditionGroup, d: &ConditionDocument) -> Option<Chart> {
    let shown: Vec<_> = group
        .running
        .iter()
        .filter(|s| s.remaining.estimate.is_some())
        .take(RUNNING)
        .collect();
    if shown.is_empty() {
        return None;
    }
    let furthest = shown
        .iter()
        .filter_map(|s| s.remaining.upper.or(s.remaining.estimate))
        .fold(1.0, f64::max);
    let count = shown.len();
    let marks = shown
        .iter()
        .enumerate()
        .filter_map(|(i, s)| {
            let y = (count - i) as f64;
            Some(Mark {
                x_interval: s
                    .remaining
                    .lower
                    .map(|l| (l, s.remaining.upper.unwrap_or(furthest))),
                ..Mark::at(s.remaining.estimate?, y)
            })
        })
        .collect();
    let ticks = shown
        .iter()
        .enumerate()
        .map(|(i, s)| Tick {
            at: (count - i) as f64,
            text: s.seal.clone(),
        })
        .collect::<Vec<_>>();
    let mut layers = vec![Layer::Points {
        name: "time left".into(),
        marks,
        tone: Tone::Group(0),
        marker: Marker::Disc,
        label: None,
    }];
    if let Some(next) = d.next_look {
        layers.insert(
            0,
            Layer::VLine {
                at: next,
                stroke: Stroke::dashed(Tone::Ink),
                label: Some("next look".into()),
            },
        );
    }
    Some(Chart {
        id: format!("time-left-{}", slug(&group.group.words())),
        title: format!(
            "{}: time left of the most urgent running seals",
            group.group.words()
        ),
        alt: "One row a seal: median time left until the limit and its prediction interval.".into(),
        x: Axis::linear("time left until the limit", d.unit).over(0.0, furthest * 1.02),
        y: Axis::linear("", "")
            .over(0.0, count as f64 + 1.0)
            .with_ticks(ticks.into_iter().rev().collect()),
        layers,
        at_risk: None,
        notes: vec![format!(
            "Dots: medians. Lines: {} prediction intervals; one that reaches the right edge is open.",
            number::level(d.confidence)
        )],
    })
}
