//! Life ratios under one another with their intervals: one picture for pairs of groups and for conditions.

use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::scale::Tick;

/// A ratio to draw.
pub struct Ratio {
    /// What it is of.
    pub text: String,
    /// Estimate.
    pub estimate: f64,
    /// Ends of its interval.
    pub ends: (f64, f64),
}

/// The words around the picture, and the least range of ratios shown.
pub struct Frame {
    /// Name of the picture's file.
    pub id: &'static str,
    /// Title.
    pub title: &'static str,
    /// What the axis measures.
    pub axis: &'static str,
    /// What a ratio of 1 means.
    pub one: &'static str,
    /// Least and greatest ratio that the axis holds in any case.
    pub holds: (f64, f64),
}

/// Draws the ratios, the first on top.
pub fn forest(frame: &Frame, ratios: Vec<Ratio>, alt: String, note: String) -> Chart {
    let low = ratios
        .iter()
        .map(|r| r.ends.0)
        .fold(frame.holds.0, f64::min);
    let high = ratios
        .iter()
        .map(|r| r.ends.1)
        .fold(frame.holds.1, f64::max);
    let count = ratios.len();
    let (mut ticks, mut marks) = (vec![], vec![]);
    for (i, ratio) in ratios.into_iter().enumerate() {
        let at = (count - i) as f64;
        marks.push(Mark {
            x_interval: Some(ratio.ends),
            ..Mark::at(ratio.estimate, at)
        });
        ticks.push(Tick {
            at,
            text: ratio.text,
        });
    }
    Chart {
        id: frame.id.into(),
        title: frame.title.into(),
        alt,
        x: Axis::log(frame.axis, "").over(low * 0.9, high * 1.1),
        y: Axis::linear("", "")
            .over(0.5, count as f64 + 0.5)
            .with_ticks(ticks),
        layers: vec![
            Layer::VLine {
                at: 1.0,
                stroke: Stroke::dashed(Tone::Muted),
                label: Some(frame.one.into()),
            },
            Layer::Points {
                name: "life ratio".into(),
                marks,
                tone: Tone::Group(0),
                marker: Marker::Disc,
                label: None,
            },
        ],
        at_risk: None,
        notes: vec![note],
    }
}
