//! Where the values of a chart lie in its drawing, with their words: what a reader sees who points at a figure.

use super::emit::FINE;
use super::page;
use super::plot::Plot;
use super::{Look, Width};
use crate::chart::{Axis, Chart, Layer, Mark};
use crate::error::Result;
use crate::number;
use serde::Serialize;

/// Points of a series at most; longer ones are thinned evenly, the figure's files hold all of them.
const MOST: usize = 100;

/// A series of a chart as drawn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// Its name.
    pub name: String,
    /// Whether it is the edge of a band, which gives way to a curve near by.
    pub edge: bool,
    /// Place in the drawing's view box, then the value across and the value up in words.
    pub points: Vec<(i32, i32, String, String)>,
}

/// What can be read out of one drawing of a chart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadOuts {
    /// What is measured across; empty for a list of names.
    pub x: String,
    /// What is measured up; empty for a list of names.
    pub y: String,
    /// The series with a point inside the frame.
    pub series: Vec<Series>,
}

/// The read-outs of a chart drawn inline at `width`; none for rings, which have no axes.
///
/// # Errors
/// As [`super::svg`].
pub(crate) fn read_outs(chart: &Chart, width: Width) -> Result<Option<ReadOuts>> {
    if chart.has_no_axes() {
        return Ok(None);
    }
    let plot = page::lay_out(chart, &Look::inline(width))?.plot;
    let mut series = vec![];
    for layer in &chart.layers {
        match layer {
            Layer::Line { name, points, .. } | Layer::Steps { name, points, .. } => {
                push(&mut series, chart, &plot, name, &at(points));
            }
            Layer::Points { name, marks, .. } => push(&mut series, chart, &plot, name, marks),
            Layer::Bars { name, bars, .. } => {
                let marks = bars.iter().map(|b| {
                    let mark = Mark {
                        y_interval: b.interval,
                        ..Mark::at(0.5 * (b.from + b.to), b.height)
                    };
                    (mark, b.base + b.height)
                });
                let marks: Vec<(Mark, f64)> = marks.collect();
                push_placed(&mut series, chart, &plot, name, &marks);
            }
            Layer::Band {
                name, lower, upper, ..
            } => {
                let before = series.len();
                push(
                    &mut series,
                    chart,
                    &plot,
                    &format!("{name}, lower edge"),
                    &at(lower),
                );
                push(
                    &mut series,
                    chart,
                    &plot,
                    &format!("{name}, upper edge"),
                    &at(upper),
                );
                series.iter_mut().skip(before).for_each(|s| s.edge = true);
            }
            Layer::ZoneX { .. }
            | Layer::VLine { .. }
            | Layer::HLine { .. }
            | Layer::Roses { .. } => {}
        }
    }
    Ok(Some(ReadOuts {
        x: chart.x.label.clone(),
        y: chart.y.label.clone(),
        series,
    }))
}

fn at(points: &[(f64, f64)]) -> Vec<Mark> {
    points.iter().map(|(x, y)| Mark::at(*x, *y)).collect()
}

fn push(series: &mut Vec<Series>, chart: &Chart, plot: &Plot, name: &str, marks: &[Mark]) {
    let placed: Vec<(Mark, f64)> = marks.iter().map(|m| (*m, m.y)).collect();
    push_placed(series, chart, plot, name, &placed);
}

/// Marks, each with the height that it is drawn at.
fn push_placed(
    series: &mut Vec<Series>,
    chart: &Chart,
    plot: &Plot,
    name: &str,
    marks: &[(Mark, f64)],
) {
    let step = marks.len().div_ceil(MOST).max(1);
    let frame = plot.frame;
    let inside = |(x, y): (f64, f64)| {
        x > frame.left - 1.0
            && x < frame.right + 1.0
            && y > frame.top - 1.0
            && y < frame.bottom + 1.0
    };
    let points = marks.iter().step_by(step).filter_map(|(mark, height)| {
        let place = plot.point((mark.x, *height)).filter(|p| inside(*p))?;
        Some((
            fine(place.0),
            fine(place.1),
            words(&chart.x, mark.x, mark.x_interval),
            words(&chart.y, mark.y, mark.y_interval),
        ))
    });
    let points: Vec<_> = points.collect();
    if !points.is_empty() {
        series.push(Series {
            name: name.to_owned(),
            edge: false,
            points,
        });
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a place inside the frame is small"
)]
fn fine(length: f64) -> i32 {
    (length * FINE).round() as i32
}

/// A value as the axis words it: the tick's own text where it lies on one that was given, else a number with its
/// interval and unit.
fn words(axis: &Axis, value: f64, interval: Option<(f64, f64)>) -> String {
    if let Some(date) = axis.name_of(value).filter(|_| axis.dates) {
        return date;
    }
    let ticks = axis.ticks.as_deref().unwrap_or_default();
    if let Some(tick) = ticks.iter().find(|t| t.at == value) {
        return tick.text.clone();
    }
    let mut text = number::significant(value, 3);
    // An interval that begins at nothing is a bar.
    if let Some((low, high)) = interval.filter(|(low, high)| *low != 0.0 && low < high) {
        text.push_str(&format!(
            " ({} to {})",
            number::significant(low, 3),
            number::significant(high, 3)
        ));
    }
    if !axis.unit.is_empty() {
        text.push(number::NBSP);
        text.push_str(&axis.unit);
    }
    text
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::chart::{Stroke, Tone};
    use crate::scale::Tick;

    fn chart(layers: Vec<Layer>) -> Chart {
        Chart {
            id: "x".into(),
            title: "t".into(),
            alt: "a".into(),
            x: Axis::log("age", "days").over(1.0, 100.0),
            y: Axis::linear("share", "").over(0.0, 1.0),
            layers,
            at_risk: None,
            notes: vec![],
        }
    }

    fn line(points: Vec<(f64, f64)>) -> Layer {
        Layer::Line {
            name: "law".into(),
            points,
            stroke: Stroke::solid(Tone::Ink),
            label: None,
        }
    }

    /// A point half-way along a log axis lies half-way between its ends; one outside the frame is not read out.
    #[test]
    fn places_follow_the_scale() {
        let out = chart(vec![line(vec![
            (1.0, 0.0),
            (10.0, 0.5),
            (100.0, 1.0),
            (900.0, 1.0),
        ])]);
        let read = read_outs(&out, Width::Wide).unwrap().unwrap();
        let points = &read.series[0].points;
        assert_eq!(points.len(), 3);
        assert!((points[0].0 + points[2].0 - 2 * points[1].0).abs() <= 1);
        assert!((points[0].1 + points[2].1 - 2 * points[1].1).abs() <= 1);
        assert!(points[0].1 > points[2].1, "up is less in a view box");
        assert_eq!(points[1].2, "10.0\u{a0}days");
        assert_eq!(points[1].3, "0.500");
    }

    #[test]
    fn names_and_intervals_are_worded() {
        let mut out = chart(vec![Layer::Points {
            name: "ratios".into(),
            marks: vec![Mark {
                x_interval: Some((2.0, 8.0)),
                ..Mark::at(4.0, 0.5)
            }],
            tone: Tone::Ink,
            marker: crate::chart::Marker::Disc,
            label: None,
        }]);
        out.y = Axis::linear("", "").over(0.0, 1.0).with_ticks(vec![Tick {
            at: 0.5,
            text: "FKM over NBR".into(),
        }]);
        let read = read_outs(&out, Width::Narrow).unwrap().unwrap();
        assert_eq!(read.series[0].points[0].2, "4.00 (2.00 to 8.00)\u{a0}days");
        assert_eq!(read.series[0].points[0].3, "FKM over NBR");
        assert_eq!((read.x.as_str(), read.y.as_str()), ("age", ""));
    }

    #[test]
    fn long_series_are_thinned() {
        let points = (0..1000)
            .map(|i| (1.0 + f64::from(i) / 20.0, 0.5))
            .collect();
        let read = read_outs(&chart(vec![line(points)]), Width::Wide)
            .unwrap()
            .unwrap();
        assert!(read.series[0].points.len() <= MOST && read.series[0].points.len() > MOST / 2);
    }
}
