//! Axes: two thin spines with ticks outward, captions, and the numbers at
//! risk in rows under the horizontal axis.

use super::palette::Paint;
use super::plot::Plot;
use super::shape::{Anchor, Pen, Rect, Word};
use super::sketch::{Sketch, word_rect};
use super::text::{self, LINE};
use super::{BODY, SMALL};
use crate::chart::{AtRisk, Axis, Tone};
use crate::scale::Tick;

const SPINE: f64 = 0.9;
const TICK: f64 = 4.5;
const MINOR: f64 = 2.5;
/// Left edge of the groups' names.
const LEFT: f64 = 4.0;
/// Gap between a tick and its text.
const PAD: f64 = 4.0;
/// Lines of a name on the vertical axis, and of the horizontal axis's caption, at most.
const NAME_LINES: usize = 2;
const CAPTION_LINES: usize = 2;

/// A word of the axes.
pub(super) fn word(text: &str, at: (f64, f64), anchor: Anchor, size: f64) -> Word {
    Word {
        text: text.to_owned(),
        at,
        size,
        bold: false,
        anchor,
        paint: Paint::Text(Tone::Ink),
    }
}

/// Room that the vertical axis needs left of the frame.
pub(super) fn left_room(ticks: &[Tick], most: f64) -> f64 {
    let widths = ticks.iter().map(|t| text::width(&t.text, SMALL, false));
    widths.fold(0.0, f64::max).min(most) + TICK + PAD
}

/// Draw the vertical axis.
pub(super) fn vertical(
    sketch: &mut Sketch,
    plot: &Plot,
    axis: &Axis,
    (ticks, most): (&[Tick], f64),
) {
    let Rect {
        left, top, bottom, ..
    } = plot.frame;
    let pen = Pen::solid(Paint::Axis, SPINE);
    sketch.path(vec![(left, top), (left, bottom)], pen);
    let place = |value| plot.y.share(value).map(|share| plot.y_at(share));
    for y in plot.y.minor_ticks(axis).into_iter().filter_map(place) {
        sketch.path(vec![(left - MINOR, y), (left, y)], pen);
    }
    for tick in ticks {
        let Some(y) = place(tick.at) else { continue };
        sketch.path(vec![(left - TICK, y), (left, y)], pen);
        // A name longer than its room goes over two lines around its tick.
        let lines = text::wrap_at_most(&tick.text, SMALL, false, most, NAME_LINES);
        let step = SMALL * LINE;
        let first = y - 0.5 * step * (lines.len() as f64 - 1.0);
        for (i, line) in lines.iter().enumerate() {
            let at = (left - TICK - PAD, first + step * i as f64);
            push_if_free(sketch, word(line, at, Anchor::End, SMALL), 0.0);
        }
    }
}

/// Draw the horizontal axis; gives back the height used below the frame.
pub(super) fn horizontal(sketch: &mut Sketch, plot: &Plot, axis: &Axis, ticks: &[Tick]) -> f64 {
    let Rect {
        left,
        right,
        bottom,
        ..
    } = plot.frame;
    let pen = Pen::solid(Paint::Axis, SPINE);
    sketch.path(vec![(left, bottom), (right, bottom)], pen);
    let place = |value| plot.x.share(value).map(|share| plot.x_at(share));
    for x in plot.x.minor_ticks(axis).into_iter().filter_map(place) {
        sketch.path(vec![(x, bottom), (x, bottom + MINOR)], pen);
    }
    let line = bottom + TICK + PAD + SMALL * 0.5;
    for tick in ticks {
        let Some(x) = place(tick.at) else { continue };
        sketch.path(vec![(x, bottom), (x, bottom + TICK)], pen);
        let text = word(&tick.text, (x, line), Anchor::Middle, SMALL);
        push_if_free(sketch, text, 7.0);
    }
    let used = TICK + PAD + SMALL * LINE;
    let caption = bottom + used + BODY * 0.8;
    let room = right - left + 40.0;
    let lines = text::wrap_at_most(&axis.caption(), BODY, false, room, CAPTION_LINES);
    let centre = (left + right) / 2.0;
    for (i, line) in lines.iter().enumerate() {
        let at = (centre, caption + BODY * LINE * i as f64);
        sketch.word(word(line, at, Anchor::Middle, BODY));
    }
    used + BODY * (1.6 + LINE * (lines.len() as f64 - 1.0).max(0.0))
}

/// Write a word unless it would come within `gap` of another one.
fn push_if_free(sketch: &mut Sketch, word: Word, gap: f64) {
    let mut rect = word_rect(&word);
    rect.left -= gap;
    rect.right += gap;
    if !sketch.texts.iter().any(|other| other.overlaps(rect)) {
        sketch.word(word);
    }
}

/// Room left of the frame for the numbers at risk: the groups' names beside
/// their numbers, or, where these are wider than `most`, half a number only.
pub(super) fn at_risk_room(at_risk: &AtRisk, most: f64) -> f64 {
    let beside = name_width(at_risk) + 8.0 + first_half(at_risk);
    if beside <= most {
        beside
    } else {
        first_half(at_risk)
    }
}

fn name_width(at_risk: &AtRisk) -> f64 {
    let names = at_risk.rows.iter().map(|row| row.name.as_str());
    let widths = names.map(|name| text::width(name, SMALL, false));
    widths.fold(0.0, f64::max)
}

/// Half the width of the first column of numbers.
fn first_half(at_risk: &AtRisk) -> f64 {
    column_width(at_risk, 0) / 2.0
}

fn column_width(at_risk: &AtRisk, column: usize) -> f64 {
    let counts = at_risk.rows.iter().filter_map(|row| row.counts.get(column));
    let widths = counts.map(|n| text::width(&crate::number::count(*n), SMALL, false));
    widths.fold(0.0, f64::max)
}

/// Write the numbers at risk from `top` down; gives back the height used.
pub(super) fn at_risk(sketch: &mut Sketch, plot: &Plot, at_risk: &AtRisk, top: f64) -> f64 {
    const ROW: f64 = SMALL * 1.45;
    let mut y = top + ROW * 0.6;
    let mut heading = word(&at_risk.heading, (LEFT, y), Anchor::Start, SMALL);
    heading.bold = true;
    sketch.word(heading);
    let columns = free_columns(plot, at_risk);
    let room = plot.frame.left - LEFT - 7.0 - first_half(at_risk);
    let above = name_width(at_risk) > room;
    for row in &at_risk.rows {
        y += ROW;
        let room = if above { plot.frame.right - LEFT } else { room };
        let name = text::shorten(&row.name, SMALL, false, room);
        let mut name = word(&name, (LEFT, y), Anchor::Start, SMALL);
        name.paint = Paint::Text(row.tone);
        sketch.word(name);
        y += if above { ROW * 0.95 } else { 0.0 };
        for (column, x) in &columns {
            if let Some(count) = row.counts.get(*column) {
                let text = crate::number::count(*count);
                sketch.word(word(&text, (*x, y), Anchor::Middle, SMALL));
            }
        }
    }
    y + ROW * 0.6 - top
}

/// The columns that fit side by side: index and place.
fn free_columns(plot: &Plot, at_risk: &AtRisk) -> Vec<(usize, f64)> {
    let mut columns = Vec::new();
    let mut free_from = plot.frame.left - first_half(at_risk) - 1.0;
    for (column, at) in at_risk.at.iter().enumerate() {
        let Some(share) = plot.x.share(*at) else {
            continue;
        };
        let (x, half) = (plot.x_at(share), column_width(at_risk, column) / 2.0);
        if (0.0..=1.0 + 1e-9).contains(&share) && x - half >= free_from {
            columns.push((column, x));
            free_from = x + half + 8.0;
        }
    }
    columns
}
