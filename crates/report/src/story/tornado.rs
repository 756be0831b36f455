//! Inputs moved one at a time, the widest swing on top: of a part's plan, and of the saving.

use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::number;
use crate::scale::Tick;
use crate::wire::money::MoneyDocument;

/// Inputs drawn of the saving.
const SHOWN: usize = 8;

/// An input, and the value drawn with it at its low and at its high end.
pub(super) struct Input {
    pub text: String,
    pub at_low: f64,
    pub at_high: f64,
}

/// What stands around the picture.
pub(super) struct Frame {
    pub id: &'static str,
    pub title: String,
    pub alt: String,
    pub x: Axis,
    /// The value with every input as stated, and its name.
    pub base: (f64, &'static str),
    pub note: String,
}

/// Draws the inputs, the first on top.
pub(super) fn draw(frame: Frame, inputs: Vec<Input>) -> Chart {
    let (base, name) = frame.base;
    let count = inputs.len();
    let (mut low, mut high, mut ticks) = (vec![], vec![], vec![]);
    for (i, input) in inputs.into_iter().enumerate() {
        let at = (count - i) as f64;
        let end = |value: f64| Mark {
            x_interval: Some((value.min(base), value.max(base))),
            ..Mark::at(value, at)
        };
        low.push(end(input.at_low));
        high.push(end(input.at_high));
        ticks.push(Tick {
            at,
            text: input.text,
        });
    }
    let layer = |text: &str, marks: Vec<Mark>, tone: Tone, marker: Marker| Layer::Points {
        name: text.into(),
        marks,
        tone,
        marker,
        label: None,
    };
    Chart {
        id: frame.id.into(),
        title: frame.title,
        alt: frame.alt,
        x: frame.x,
        y: Axis::linear("", "")
            .over(0.5, count as f64 + 0.5)
            .with_ticks(ticks),
        layers: vec![
            Layer::VLine {
                at: base,
                stroke: Stroke::dashed(Tone::Muted),
                label: Some(name.into()),
            },
            layer("input at its low end", low, Tone::Group(1), Marker::Ring),
            layer("input at its high end", high, Tone::Group(0), Marker::Disc),
        ],
        at_risk: None,
        notes: vec![format!(
            "Open ring: the input at its low end; full disc: at its high end; all others as they are. {}",
            frame.note
        )],
    }
}

/// What moves the saving; `None` where no input does.
pub(super) fn of_saving(d: &MoneyDocument) -> Option<Chart> {
    let shown = d.swings.get(..SHOWN.min(d.swings.len()))?;
    let widest = shown.first()?;
    let width = (widest.at_high - widest.at_low).abs();
    let m = |x: f64| number::money_to(x, width, &d.currency);
    let inputs = shown.iter().map(|s| Input {
        text: format!(
            "{}, {} to {}",
            s.input,
            number::percent(s.low),
            number::percent(s.high)
        ),
        at_low: s.at_low,
        at_high: s.at_high,
    });
    let frame = Frame {
        id: "saving-swings",
        title: format!(
            "The saving runs from {} to {} with {} off, more than with any other input",
            m(widest.at_low.min(widest.at_high)),
            m(widest.at_low.max(widest.at_high)),
            widest.input
        ),
        alt: format!(
            "A line for each of {} inputs from the saving at its low end to that at its high end, around {} as stated, the longest on top.",
            shown.len(),
            m(d.present_value)
        ),
        x: Axis::linear("saving, worth now", &d.currency),
        base: (d.present_value, "as stated"),
        note: "The plan is kept; the shares say how far an input is moved.".into(),
    };
    Some(draw(frame, inputs.collect()))
}
