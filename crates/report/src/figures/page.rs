//! The page: where title, plot, axes, numbers at risk, legend and notes go.

use super::plot::{Plot, Span};
use super::shape::{Anchor, Pen, Rect, Shape};
use super::sketch::{Label, Sketch, Swatch};
use super::text::{self, LINE};
use super::{BODY, Look, SMALL, TITLE, Width, axes, clip, labels, layers};
use super::{palette::Paint, plot};
use crate::chart::{Chart, Layer, Tone};
use crate::error::Result;

/// Room that the names of a vertical axis may take, as a share of the width.
const MOST_NAME: f64 = 0.5;

/// Space kept free along all four edges.
const EDGE: f64 = 4.0;

/// A finished drawing.
pub(super) struct Page {
    pub sketch: Sketch,
    pub plot: Plot,
    pub width: f64,
    pub height: f64,
}

/// Lay out a chart on a page of the look's width.
pub(super) fn lay_out(chart: &Chart, look: &Look) -> Result<Page> {
    text::prepare()?;
    let mut sketch = Sketch::default();
    let width = look.width.units();
    let mut top = EDGE;
    if look.words {
        top += block(&mut sketch, &chart.title, width, top, TITLE, true) + 8.0;
    }
    let (x, y) = (
        Span::settle(chart, &chart.x, |(x, _)| x)?,
        Span::settle(chart, &chart.y, |(_, y)| y)?,
    );
    let height = plot_height(chart, look);
    let y_ticks = y.ticks(&chart.y, wanted(height, 46.0));
    let caption = text::wrap_at_most(&chart.y.caption(), BODY, false, width - 2.0 * EDGE, 2);
    for line in &caption {
        let at = (EDGE, top + BODY * 0.65);
        sketch.word(axes::word(line, at, Anchor::Start, BODY));
        top += BODY * LINE;
    }
    let names = chart.at_risk.as_ref();
    let names = names.map_or(0.0, |rows| axes::at_risk_room(rows, width * 0.24));
    let most = MOST_NAME * width;
    let room = axes::left_room(&y_ticks, most).max(names).max(24.0);
    let left = if chart.has_no_axes() {
        EDGE
    } else {
        EDGE + room
    };
    let mut plot = Plot {
        frame: Rect {
            left,
            top: top + 10.0,
            right: width - EDGE,
            bottom: top + 10.0 + height,
        },
        x,
        y,
    };
    let x_ticks = plot.x.ticks(&chart.x, wanted(plot.frame.width(), 62.0));
    plot.frame.right -= right_room(chart, &plot, &x_ticks, width);
    for (owner, layer) in chart.layers.iter().enumerate() {
        layers::draw(&mut sketch, &plot, layer, owner);
    }
    if !chart.has_no_axes() {
        axes::vertical(&mut sketch, &plot, &chart.y, (&y_ticks, most));
    }
    let homeless = labels::place_all(&mut sketch, &plot, width - EDGE);
    let mut down = plot.frame.bottom;
    if !chart.has_no_axes() {
        down += axes::horizontal(&mut sketch, &plot, &chart.x, &x_ticks);
    }
    if let Some(at_risk) = &chart.at_risk {
        down += 6.0 + axes::at_risk(&mut sketch, &plot, at_risk, down + 6.0);
    }
    down += legend(&mut sketch, &homeless, plot.frame.left, width, down + 4.0);
    down += notes(&mut sketch, chart, look, width, down);
    Ok(Page {
        sketch,
        plot,
        width,
        height: (down + EDGE).ceil(),
    })
}

/// Height of the plot: the look's own, or what rings want.
fn plot_height(chart: &Chart, look: &Look) -> f64 {
    let usual = look.width.plot_height();
    let rings = chart.layers.iter().find_map(|l| match l {
        Layer::Roses { roses, .. } => Some(roses.len()),
        _ => None,
    });
    // Names over two lines need their room; a phone scrolls down anyway.
    let tallest = match look.width {
        Width::Narrow => 1.6 * usual,
        Width::Wide | Width::Sheet => usual,
    };
    match (rings, rows(chart)) {
        (Some(n), _) => super::rose::height(look.width.units(), n, usual),
        (None, Some(n)) => (n as f64 * ROW + ROW).min(tallest),
        (None, None) => usual,
    }
}

/// Height of a row in a list of intervals.
const ROW: f64 = 34.0;

/// Rows of a chart whose vertical axis is a list of names.
fn rows(chart: &Chart) -> Option<usize> {
    let list = chart.y.label.is_empty() && chart.y.range.is_some();
    let ticks = chart.y.ticks.as_ref().filter(|_| list)?;
    Some(ticks.len())
}

/// How many ticks suit a length.
fn wanted(length: f64, each: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a page length over a tick's room is a small positive number"
    )]
    {
        (length / each).round().max(2.0) as usize
    }
}

/// Room right of the frame: half the last tick's text, and the labels of
/// curves that run out of the frame there, if these are short enough.
fn right_room(chart: &Chart, plot: &Plot, ticks: &[crate::scale::Tick], width: f64) -> f64 {
    let overhang = ticks.last().map_or(0.0, |tick| {
        let share = plot.x.share(tick.at).unwrap_or(0.0);
        let half = text::width(&tick.text, SMALL, false) / 2.0;
        half - (1.0 - share) * plot.frame.width()
    });
    let labels = chart.layers.iter().filter_map(|layer| match layer {
        Layer::Line { points, label, .. } => Some((plot.curve(points), label.as_ref()?)),
        Layer::Steps { points, label, .. } => {
            Some((plot.curve(&plot::steps(points)), label.as_ref()?))
        }
        _ => None,
    });
    let most = width * 0.25;
    let beside = labels
        .filter(|(runs, _)| {
            let pieces: Vec<_> = runs
                .iter()
                .flat_map(|run| clip::polyline(run, plot.frame))
                .collect();
            labels::right_end(&pieces, plot).is_some()
        })
        .map(|(_, label)| needed(label, most) + 9.0);
    beside.fold(overhang.max(8.0), f64::max)
}

/// The room a label wants beside the frame: whole, or broken in two lines
/// when it is too long, or none when even that is too long.
fn needed(label: &str, most: f64) -> f64 {
    let whole = text::width(label, BODY, false);
    if whole <= most {
        return whole;
    }
    if whole > 3.0 * most {
        return 0.0;
    }
    let lines = text::wrap(label, BODY, false, (whole / 2.0 * 1.18).min(most));
    let widths = lines.iter().map(|line| text::width(line, BODY, false));
    if lines.len() <= 3 {
        widths.fold(0.0, f64::max)
    } else {
        0.0
    }
}

/// Write a paragraph from `top` down; gives back its height.
fn block(sketch: &mut Sketch, text: &str, width: f64, top: f64, size: f64, bold: bool) -> f64 {
    let lines = text::wrap_at_most(text, size, bold, width - 2.0 * EDGE, 6);
    for (i, line) in lines.iter().enumerate() {
        let y = top + (i as f64 + 0.5) * size * LINE;
        let mut word = axes::word(line, (EDGE, y), Anchor::Start, size);
        word.bold = bold;
        sketch.word(word);
    }
    lines.len() as f64 * size * LINE
}

fn notes(sketch: &mut Sketch, chart: &Chart, look: &Look, width: f64, top: f64) -> f64 {
    let mut used = 0.0;
    let outside = outside_note(sketch.outside);
    let own: &[String] = if look.words { &chart.notes } else { &[] };
    for note in own.iter().chain(outside.iter()) {
        used += 4.0;
        used += block(sketch, note, width, top + used, SMALL, false);
    }
    used
}

fn outside_note(outside: usize) -> Option<String> {
    match outside {
        0 => None,
        1 => Some("1 mark lies outside the axes.".to_owned()),
        n => Some(format!("{n} marks lie outside the axes.")),
    }
}

/// Labels that found no place beside their curves, in rows under the plot.
fn legend(sketch: &mut Sketch, labels: &[Label], left: f64, width: f64, top: f64) -> f64 {
    const SAMPLE: f64 = 26.0;
    const ROW: f64 = BODY * 1.45;
    if labels.is_empty() {
        return 0.0;
    }
    let room = width - EDGE - left - SAMPLE - 8.0;
    let (mut x, mut y) = (left, top + ROW * 0.7);
    for label in labels {
        let lines = text::wrap_at_most(&label.text, BODY, false, room, 3);
        let widths = lines.iter().map(|line| text::width(line, BODY, false));
        let long = SAMPLE + 8.0 + widths.fold(0.0, f64::max);
        if x > left && (x + long > width - EDGE || lines.len() > 1) {
            (x, y) = (left, y + ROW);
        }
        sample(sketch, label.swatch, (x, y), SAMPLE);
        for (i, line) in lines.iter().enumerate() {
            y += if i > 0 { BODY * LINE } else { 0.0 };
            let at = (x + SAMPLE + 8.0, y);
            let mut word = axes::word(line, at, Anchor::Start, BODY);
            word.paint = Paint::Text(label.tone);
            sketch.word(word);
        }
        x += long + 20.0;
        if lines.len() > 1 {
            x = width;
        }
    }
    y + ROW * 0.7 - top
}

fn sample(sketch: &mut Sketch, swatch: Swatch, (x, y): (f64, f64), long: f64) {
    match swatch {
        Swatch::Line(stroke) => {
            let pen = Pen {
                paint: Paint::Tone(stroke.tone),
                width: 1.9,
                dash: stroke.dash,
            };
            sketch.path(vec![(x, y), (x + long, y)], pen);
        }
        Swatch::Mark(marker, tone) => sketch.mark((x + long / 2.0, y), marker, tone),
        Swatch::Patch(tone) => patch(sketch, (x, y), long, tone),
    }
}

fn patch(sketch: &mut Sketch, (x, y): (f64, f64), long: f64, tone: Tone) {
    let points = vec![
        (x, y - 5.0),
        (x + long, y - 5.0),
        (x + long, y + 5.0),
        (x, y + 5.0),
    ];
    sketch.shapes.push(Shape::Area {
        points,
        paint: Paint::Tone(tone),
        opacity: 0.4,
    });
}
