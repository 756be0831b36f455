//! Counts round rings: an arc a sector, as far out as its count, with the even count as a dashed circle.

use super::palette::Paint;
use super::shape::{Anchor, Pen, Point, Rect, Shape, Word};
use super::sketch::Sketch;
use super::{BODY, SMALL};
use crate::chart::{Dash, Rose, Tone};
use std::f64::consts::TAU;

/// Points along a full circle.
const POINTS: f64 = 96.0;
/// Least width of one ring.
const LEAST: f64 = 165.0;
/// Height of a ring's heading.
const HEADING: f64 = 22.0;
/// Share of the radius that is the ring's hole.
const HOLE: f64 = 0.38;

/// Columns and rows of so many rings over a width.
fn grid(width: f64, rings: usize) -> (f64, f64) {
    let most = (width / LEAST).floor().max(1.0);
    let columns = most.min(rings as f64).max(1.0);
    (columns, (rings as f64 / columns).ceil().max(1.0))
}

/// Height that so many rings want over a width: cells as high as wide with their headings, up to `most`
/// a row.
pub(super) fn height(width: f64, rings: usize, most: f64) -> f64 {
    let (columns, rows) = grid(width, rings);
    rows * (width / columns + HEADING).min(most)
}

/// Draw the rings in rows that fill the frame.
pub(super) fn draw(sketch: &mut Sketch, frame: Rect, roses: &[Rose]) {
    let (columns, rows) = grid(frame.width(), roses.len());
    let (width, height) = (frame.width() / columns, frame.height() / rows);
    for (rose, n) in roses.iter().zip(0..) {
        let (row, column) = ((f64::from(n) / columns).floor(), f64::from(n) % columns);
        let cell = Rect {
            left: frame.left + column * width,
            right: frame.left + (column + 1.0) * width,
            top: frame.top + row * height,
            bottom: frame.top + (row + 1.0) * height,
        };
        one(sketch, cell, rose);
    }
}

/// A point at an angle clockwise from the top.
fn polar((x, y): Point, radius: f64, angle: f64) -> Point {
    (x + radius * angle.sin(), y - radius * angle.cos())
}

fn arc(centre: Point, radius: f64, from: f64, to: f64) -> Vec<Point> {
    let parts = (POINTS * (to - from) / TAU).ceil().max(2.0);
    (0..=96)
        .map(f64::from)
        .take_while(|i| *i <= parts)
        .map(|i| polar(centre, radius, from + (to - from) * i / parts))
        .collect()
}

fn word(text: String, at: Point, size: f64, bold: bool) -> Word {
    Word {
        text,
        at,
        size,
        bold,
        anchor: Anchor::Middle,
        paint: Paint::Text(Tone::Ink),
    }
}

/// From a ring to the words beside it.
const BESIDE: f64 = 9.0;

/// Which end of a word stands beside the ring, so that it runs away from it.
fn away(angle: f64) -> Anchor {
    match angle.sin() {
        s if s > 0.3 => Anchor::Start,
        s if s < -0.3 => Anchor::End,
        _ => Anchor::Middle,
    }
}

/// Room round a ring for its words: with four sectors they stand at the corners, where there is some already.
fn room(sectors: usize) -> f64 {
    if sectors <= 4 { 31.0 } else { 50.0 }
}

fn one(sketch: &mut Sketch, cell: Rect, rose: &Rose) {
    let centre = (
        0.5 * (cell.left + cell.right),
        0.5 * (cell.top + cell.bottom) + 0.5 * HEADING,
    );
    let outer = (0.5 * cell.width()).min(0.5 * (cell.height() - HEADING)) - room(rose.counts.len());
    let k = rose.counts.len() as f64;
    let total: u32 = rose.counts.iter().sum();
    let most = rose.counts.iter().copied().max().unwrap_or(0).max(1);
    if outer < 12.0 || k < 2.0 {
        return;
    }
    let inner = HOLE * outer;
    let reach = |count: f64| inner + (outer - inner) * count / f64::from(most);
    let heading = word(rose.title.clone(), (centre.0, cell.top + 9.0), BODY, true);
    sketch.word(heading);
    let frame = Pen::solid(Paint::Axis, 0.9);
    sketch.path(arc(centre, inner, 0.0, TAU), frame);
    for (count, j) in rose.counts.iter().zip(0..) {
        let (from, to) = (f64::from(j) * TAU / k, f64::from(j + 1) * TAU / k);
        let radius = reach(f64::from(*count));
        let mut outline = arc(centre, inner, from, to);
        outline.extend(arc(centre, radius, from, to).into_iter().rev());
        if *count > 0 {
            sketch.shapes.push(Shape::Area {
                points: outline.clone(),
                paint: Paint::Tone(rose.tone),
                opacity: 0.45,
            });
            outline.extend(outline.first().copied());
            sketch.path(outline, Pen::solid(Paint::Tone(rose.tone), 1.1));
        }
        let spoke = vec![polar(centre, inner, from), polar(centre, outer, from)];
        sketch.path(spoke, Pen::solid(Paint::Tone(Tone::Muted), 0.5));
        let middle = 0.5 * (from + to);
        let text = format!("{}: {count}", j + 1);
        sketch.word(Word {
            anchor: away(middle),
            ..word(
                text,
                polar(centre, outer + BESIDE, middle),
                SMALL,
                *count == most,
            )
        });
    }
    let even = Pen {
        paint: Paint::Tone(Tone::Ink),
        width: 1.2,
        dash: Dash::Dashed,
    };
    sketch.path(arc(centre, reach(f64::from(total) / k), 0.0, TAU), even);
    sketch.word(word(total.to_string(), centre, SMALL, false));
}
