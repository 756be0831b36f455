//! Figures of positions: mean cumulative replacements, and wear round the door frames.

use crate::chart::{Axis, Chart, Layer, Rose, Stroke, Tone};
use crate::number;
use crate::wire::positions::{CurvePoint, PositionResult, PositionsDocument};

/// Groups shown in one figure, and with bands.
const MOST_GROUPS: usize = 6;
const MOST_BANDS: usize = 3;
/// Rings shown beside the one of all positions.
const MOST_RINGS: usize = 5;

/// The figures that the records allow: the mean cumulative number of replacements of a position against time, by group where
/// there are groups, with pointwise intervals for any process; and rings of failed or worn seals by sector of the door frame,
/// the doors out of line first.
#[must_use]
pub fn figures(document: &PositionsDocument) -> Vec<Chart> {
    [curves(document), doors(document)]
        .into_iter()
        .flatten()
        .collect()
}

fn steps(points: &[CurvePoint], of: fn(&CurvePoint) -> f64) -> Vec<(f64, f64)> {
    let every = points.len().div_ceil(600).max(1);
    let last = points.last().map(|p| (p.time, of(p)));
    std::iter::once((0.0, 0.0))
        .chain(points.iter().step_by(every).map(|p| (p.time, of(p))))
        .chain(last)
        .collect()
}

/// A curve a group, with its band where there are few.
fn layers(shown: &[(String, &[CurvePoint])]) -> Vec<Layer> {
    let mut layers = vec![];
    for (n, (name, points)) in shown.iter().enumerate().filter(|(_, (_, p))| !p.is_empty()) {
        if shown.len() <= MOST_BANDS && points.iter().any(|p| p.lower.is_some()) {
            layers.push(Layer::Band {
                name: format!("{name}, pointwise interval"),
                lower: steps(points, |p| p.lower.unwrap_or(p.mean)),
                upper: steps(points, |p| p.upper.unwrap_or(p.mean)),
                tone: Tone::Group(n),
                stepped: true,
            });
        }
        layers.push(Layer::Steps {
            name: name.clone(),
            points: steps(points, |p| p.mean),
            stroke: Stroke::group(n),
            label: Some(name.clone()),
        });
    }
    layers
}

fn curves(d: &PositionsDocument) -> Option<Chart> {
    let all = [("all positions".to_owned(), d.mean_cumulative.as_slice())];
    let grouped: Vec<_> = d
        .groups
        .iter()
        .take(MOST_GROUPS)
        .map(|g| (g.group.words(), g.mean_cumulative.as_slice()))
        .collect();
    let shown = if grouped.is_empty() {
        &all[..]
    } else {
        &grouped
    };
    let end = shown
        .iter()
        .filter_map(|(_, p)| p.last())
        .map(|p| p.time)
        .fold(0.0, f64::max);
    if end <= 0.0 {
        return None;
    }
    let layers = layers(shown);
    let means: Vec<String> = shown
        .iter()
        .filter_map(|(name, p)| {
            Some(format!(
                "{} for {name}",
                number::significant(p.last()?.mean, 3)
            ))
        })
        .collect();
    let shaded = if shown.len() <= MOST_BANDS {
        format!(
            "Shaded: pointwise {} confidence intervals, for any process of replacements. ",
            number::level(d.confidence)
        )
    } else {
        String::new()
    };
    Some(Chart {
        id: "mean-cumulative".into(),
        title: "How many unplanned replacements a position has had by each time, on average".into(),
        alt: format!(
            "Step curves of the mean cumulative number of replacements of a position against time under watch; at the end {}. A straight line is a steady rate; a curve that bends up is one that rises.",
            means.join(", ")
        ),
        x: Axis::linear("time since the records began", d.unit).over(0.0, end),
        y: Axis::linear("replacements of a position", ""),
        layers,
        at_risk: None,
        notes: vec![format!(
            "{shaded}Counted: {}. Each position counts while it is under watch.",
            d.counted.join(", ")
        )],
    })
}

fn title(p: &PositionResult) -> String {
    match &p.position {
        Some(position) => format!("{} {position}", p.asset),
        None => p.asset.clone(),
    }
}

/// The rings of the first few doors.
fn rings(doors: &[&PositionResult], most: usize) -> Vec<Rose> {
    let ring = |p: &&PositionResult| Rose {
        title: title(p),
        counts: p.sectors.clone(),
        tone: match p.out_of_line {
            true => Tone::Group(1),
            false => Tone::Group(0),
        },
    };
    doors.iter().take(most).map(ring).collect()
}

/// The doors out of line, or else the least even ones, beside all positions together.
fn doors(d: &PositionsDocument) -> Option<Chart> {
    let mut tested: Vec<&PositionResult> = d
        .positions
        .iter()
        .filter(|p| p.uneven_p_value.is_some())
        .collect();
    tested.sort_by(|a, b| {
        let p = |r: &PositionResult| r.uneven_p_value.unwrap_or(1.0);
        b.out_of_line
            .cmp(&a.out_of_line)
            .then(p(a).total_cmp(&p(b)))
    });
    let found = tested.iter().filter(|p| p.out_of_line).count();
    if d.wear.placed == 0 || tested.is_empty() {
        return None;
    }
    let mut roses = rings(&tested, found.clamp(2, MOST_RINGS));
    let names: Vec<String> = roses
        .iter()
        .map(|r| format!("{} {:?}", r.title, r.counts))
        .collect();
    roses.push(Rose {
        title: "all positions".into(),
        counts: d.wear.sectors.clone(),
        tone: Tone::Muted,
    });
    let headline = match found {
        0 => {
            "Where seals gave way on the door frames: no door is shown to be out of line".to_owned()
        }
        1 => "Where seals gave way on the door frames: one door is out of line".to_owned(),
        n => format!("Where seals gave way on the door frames: {n} doors are out of line"),
    };
    let none = Axis::linear("sector of the door frame", "")
        .over(0.0, 1.0)
        .with_ticks(vec![]);
    let count = Axis::linear("failed or worn seals, by sector of the door frame", "")
        .over(0.0, 1.0)
        .with_ticks(vec![]);
    Some(Chart {
        id: "door-wear".into(),
        title: headline,
        alt: format!(
            "Rings of {} sectors, sector 1 first clockwise from the top, each arc as far out as its count of failed or worn seals: {}; all positions {:?}.",
            d.ring_sectors,
            names.join("; "),
            d.wear.sectors
        ),
        x: none,
        y: count,
        layers: vec![Layer::Roses {
            name: "failed or worn seals".into(),
            roses,
        }],
        at_risk: None,
        notes: vec![
            "Beside each arc: sector of the door frame, turns of the seal undone, and its count of failed or worn seals; in the middle, all of them. Dashed circle: the count if all sectors were alike. Each ring has its own scale. Orange: flagged as out of line.".into(),
        ],
    })
}
