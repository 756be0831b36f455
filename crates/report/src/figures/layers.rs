//! Layers of a chart to shapes, obstacles and labels.

use super::clip;
use super::palette::Paint;
use super::plot::{Plot, steps};
use super::rose;
use super::shape::{Pen, Point, Rect, Shape};
use super::sketch::{Label, Sketch, Swatch, Target};
use crate::chart::{Bar, Layer, Mark, Marker, Stroke, Tone};

const CURVE: f64 = 1.9;
const REFERENCE: f64 = 1.2;
const WHISKER: f64 = 1.1;
const BAND: f64 = 0.17;
const EDGE: f64 = 0.7;

/// Draw one layer; `owner` marks its obstacles.
pub(super) fn draw(sketch: &mut Sketch, plot: &Plot, layer: &Layer, owner: usize) {
    match layer {
        Layer::Line {
            points,
            stroke,
            label,
            ..
        } => curve(sketch, plot, points, *stroke, label.as_ref(), owner),
        Layer::Steps {
            points,
            stroke,
            label,
            ..
        } => curve(sketch, plot, &steps(points), *stroke, label.as_ref(), owner),
        Layer::Points {
            marks,
            tone,
            marker,
            label,
            ..
        } => points(sketch, plot, marks, (*tone, *marker), label.as_ref(), owner),
        Layer::Band {
            lower,
            upper,
            tone,
            stepped,
            ..
        } => {
            let edge = |points: &[(f64, f64)]| match stepped {
                true => steps(points),
                false => points.to_vec(),
            };
            band(sketch, plot, &edge(lower), &edge(upper), *tone);
        }
        Layer::ZoneX {
            from,
            to,
            tone,
            label,
        } => zone(sketch, plot, (*from, *to), *tone, label, owner),
        Layer::VLine { at, stroke, label } => {
            let frame = plot.frame;
            if let Some(x) = plot.x.share(*at).map(|share| plot.x_at(share)) {
                let line = [(x, frame.top), (x, frame.bottom)];
                reference(
                    sketch,
                    plot,
                    line,
                    Target::Upright(x),
                    *stroke,
                    label,
                    owner,
                );
            }
        }
        Layer::HLine { at, stroke, label } => {
            let frame = plot.frame;
            if let Some(y) = plot.y.share(*at).map(|share| plot.y_at(share)) {
                let line = [(frame.left, y), (frame.right, y)];
                reference(sketch, plot, line, Target::Level(y), *stroke, label, owner);
            }
        }
        Layer::Bars {
            bars, tone, label, ..
        } => {
            bars.iter()
                .for_each(|bar| draw_bar(sketch, plot, bar, *tone, owner));
            let swatch = Swatch::Patch(*tone);
            push_label(sketch, label.as_ref(), *tone, Target::Plot, swatch, owner);
        }
        Layer::Roses { roses, .. } => rose::draw(sketch, plot.frame, roses),
    }
}

fn push_label(
    sketch: &mut Sketch,
    label: Option<&String>,
    tone: Tone,
    target: Target,
    swatch: Swatch,
    owner: usize,
) {
    if let Some(text) = label {
        sketch.labels.push(Label {
            text: text.clone(),
            tone,
            target,
            swatch,
            owner,
        });
    }
}

fn curve(
    sketch: &mut Sketch,
    plot: &Plot,
    points: &[(f64, f64)],
    stroke: Stroke,
    label: Option<&String>,
    owner: usize,
) {
    let pen = Pen {
        paint: Paint::Tone(stroke.tone),
        width: CURVE,
        dash: stroke.dash,
    };
    let runs = plot.curve(points);
    let pieces: Vec<Vec<Point>> = runs
        .iter()
        .flat_map(|run| clip::polyline(run, plot.frame))
        .collect();
    for piece in &pieces {
        sketch.block_path(piece, owner);
        sketch.path(piece.clone(), pen);
    }
    let (target, swatch) = (Target::Curve(pieces), Swatch::Line(stroke));
    push_label(sketch, label, stroke.tone, target, swatch, owner);
}

fn points(
    sketch: &mut Sketch,
    plot: &Plot,
    marks: &[Mark],
    (tone, marker): (Tone, Marker),
    label: Option<&String>,
    owner: usize,
) {
    let mut places = Vec::new();
    for mark in marks {
        let Some(at) = plot.point((mark.x, mark.y)) else {
            continue;
        };
        if !plot.frame.grown(0.5).holds(at) {
            sketch.outside += 1;
            continue;
        }
        let ends = [
            mark.x_interval.map(|(a, b)| [(a, mark.y), (b, mark.y)]),
            mark.y_interval.map(|(a, b)| [(mark.x, a), (mark.x, b)]),
        ];
        for whisker in ends.into_iter().flatten() {
            draw_whisker(sketch, plot, &whisker, tone, owner);
        }
        places.push(at);
    }
    for at in &places {
        sketch.mark(*at, marker, tone);
        let arm = 3.0;
        sketch.block_path(&[(at.0 - arm, at.1), (at.0 + arm, at.1)], owner);
    }
    let (target, swatch) = (Target::Marks(places), Swatch::Mark(marker, tone));
    push_label(sketch, label, tone, target, swatch, owner);
}

fn draw_whisker(sketch: &mut Sketch, plot: &Plot, ends: &[(f64, f64)], tone: Tone, owner: usize) {
    for run in plot.curve(ends) {
        for piece in clip::polyline(&run, plot.frame) {
            sketch.block_path(&piece, owner);
            sketch.path(piece, Pen::solid(Paint::Tone(tone), WHISKER));
        }
    }
}

fn band(sketch: &mut Sketch, plot: &Plot, lower: &[(f64, f64)], upper: &[(f64, f64)], tone: Tone) {
    let place = |edge: &[(f64, f64)]| -> Vec<Point> {
        edge.iter().filter_map(|p| plot.point(*p)).collect()
    };
    let (lower, upper) = (place(lower), place(upper));
    let outline: Vec<Point> = lower.iter().chain(upper.iter().rev()).copied().collect();
    let paint = Paint::Tone(tone);
    let points = clip::polygon(&outline, plot.frame);
    if points.len() > 2 {
        sketch.shapes.push(Shape::Area {
            points,
            paint,
            opacity: BAND,
        });
    }
    for edge in [lower, upper] {
        for piece in clip::polyline(&edge, plot.frame) {
            sketch.discourage_path(&piece);
            sketch.path(piece, Pen::solid(paint, EDGE));
        }
    }
}

fn zone(
    sketch: &mut Sketch,
    plot: &Plot,
    (from, to): (f64, f64),
    tone: Tone,
    label: &str,
    owner: usize,
) {
    let place = |value| {
        plot.x
            .share(value)
            .map(|share| plot.x_at(share.clamp(0.0, 1.0)))
    };
    let (Some(left), Some(right)) = (place(from), place(to)) else {
        return;
    };
    if right <= left {
        return;
    }
    let area = Rect {
        left,
        right,
        ..plot.frame
    };
    sketch.shapes.push(Shape::Area {
        points: vec![
            (left, area.top),
            (right, area.top),
            (right, area.bottom),
            (left, area.bottom),
        ],
        paint: Paint::Tone(tone),
        opacity: BAND,
    });
    let (text, target) = (label.to_owned(), Target::Zone(area));
    push_label(
        sketch,
        Some(&text),
        tone,
        target,
        Swatch::Patch(tone),
        owner,
    );
}

fn reference(
    sketch: &mut Sketch,
    plot: &Plot,
    line: [Point; 2],
    target: Target,
    stroke: Stroke,
    label: &Option<String>,
    owner: usize,
) {
    let pieces = clip::polyline(&line, plot.frame);
    if pieces.is_empty() {
        sketch.outside += 1;
        return;
    }
    for piece in pieces {
        sketch.block_path(&piece, owner);
        let pen = Pen {
            paint: Paint::Tone(stroke.tone),
            width: REFERENCE,
            dash: stroke.dash,
        };
        sketch.path(piece, pen);
    }
    let swatch = Swatch::Line(stroke);
    push_label(sketch, label.as_ref(), stroke.tone, target, swatch, owner);
}

fn draw_bar(sketch: &mut Sketch, plot: &Plot, bar: &Bar, tone: Tone, owner: usize) {
    let corners = [
        (bar.from, bar.base),
        (bar.from, bar.base + bar.height),
        (bar.to, bar.base + bar.height),
        (bar.to, bar.base),
    ];
    let outline: Vec<Point> = corners.iter().filter_map(|p| plot.point(*p)).collect();
    let points = clip::polygon(&outline, plot.frame);
    if points.len() > 2 {
        sketch.block_path(&points, owner);
        sketch.shapes.push(Shape::Area {
            points,
            paint: Paint::Tone(tone),
            opacity: 0.45,
        });
        for piece in clip::polyline(&outline, plot.frame) {
            sketch.path(piece, Pen::solid(Paint::Tone(tone), 1.0));
        }
    }
    if let Some((low, high)) = bar.interval {
        let middle = 0.5 * (bar.from + bar.to);
        let whisker = [(middle, low), (middle, high)];
        draw_whisker(sketch, plot, &whisker, Tone::Ink, owner);
    }
}
