//! The drawing as it grows: shapes, the places that labels must keep clear
//! of, and the labels still to be placed.

use super::shape::{Anchor, Pen, Point, Rect, Shape, Word};
use super::{palette::Paint, text};
use crate::chart::{Marker, Stroke, Tone};

/// What a label names, which decides where it may stand.
#[derive(Debug, Clone)]
pub(super) enum Target {
    /// A curve's visible pieces.
    Curve(Vec<Vec<Point>>),
    /// Data marks.
    Marks(Vec<Point>),
    /// A shaded zone.
    Zone(Rect),
    /// An upright line at this place.
    Upright(f64),
    /// A level line at this place.
    Level(f64),
    /// Something that fills the plot; the label stands in a corner.
    Plot,
}

/// The sample shown beside a label in the legend.
#[derive(Debug, Clone, Copy)]
pub(super) enum Swatch {
    Line(Stroke),
    Mark(Marker, Tone),
    Patch(Tone),
}

/// A label still to be placed.
#[derive(Debug, Clone)]
pub(super) struct Label {
    pub text: String,
    pub tone: Tone,
    pub target: Target,
    pub swatch: Swatch,
    /// Which obstacles are its own.
    pub owner: usize,
}

/// The drawing so far.
#[derive(Debug, Default)]
pub(super) struct Sketch {
    pub shapes: Vec<Shape>,
    pub texts: Vec<Rect>,
    /// Points that no label may cover, and whose they are.
    pub obstacles: Vec<(Point, usize)>,
    /// Points that labels had better not cover: the edges of bands.
    pub edges: Vec<Point>,
    pub labels: Vec<Label>,
    pub outside: usize,
}

/// How far apart the obstacle points on a line lie.
const SPACING: f64 = 3.0;

impl Sketch {
    /// Draw a line of text and remember the place it takes.
    pub fn word(&mut self, word: Word) {
        self.texts.push(word_rect(&word));
        self.shapes.push(Shape::Word(word));
    }

    /// Draw a line without keeping labels off it.
    pub fn path(&mut self, points: Vec<Point>, pen: Pen) {
        self.shapes.push(Shape::Path(points, pen));
    }

    /// Keep labels off a polyline.
    pub fn block_path(&mut self, points: &[Point], owner: usize) {
        let points = sampled(points);
        self.obstacles.extend(points.map(|point| (point, owner)));
    }

    /// Keep labels off a polyline where there is a choice.
    pub fn discourage_path(&mut self, points: &[Point]) {
        self.edges.extend(sampled(points));
    }

    /// Draw a mark of the given shape.
    pub fn mark(&mut self, at: Point, marker: Marker, tone: Tone) {
        let paint = Paint::Tone(tone);
        let (x, y) = at;
        let area = |points: &[(f64, f64)]| Shape::Area {
            points: points.iter().map(|(dx, dy)| (x + dx, y + dy)).collect(),
            paint,
            opacity: 1.0,
        };
        let disc = |radius, paint| Shape::Disc {
            centre: at,
            radius,
            paint,
        };
        match marker {
            Marker::Disc => self.shapes.push(disc(3.0, paint)),
            Marker::Ring => {
                self.shapes.push(disc(3.4, Paint::Paper));
                let pen = Pen::solid(paint, 1.3);
                self.shapes.push(Shape::Ring {
                    centre: at,
                    radius: 3.1,
                    pen,
                });
            }
            Marker::Square => {
                let square = [(-2.8, -2.8), (2.8, -2.8), (2.8, 2.8), (-2.8, 2.8)];
                self.shapes.push(area(&square));
            }
            Marker::Triangle => {
                self.shapes
                    .push(area(&[(0.0, -3.8), (3.6, 2.6), (-3.6, 2.6)]));
            }
            Marker::Diamond => {
                let diamond = [(0.0, -4.0), (4.0, 0.0), (0.0, 4.0), (-4.0, 0.0)];
                self.shapes.push(area(&diamond));
            }
            Marker::Tick => {
                self.path(vec![(x, y - 4.5), (x, y + 4.5)], Pen::solid(paint, 1.1));
            }
        }
    }
}

/// Points along a polyline, close together.
fn sampled(points: &[Point]) -> impl Iterator<Item = Point> {
    let segments = points.iter().zip(points.iter().skip(1));
    segments.flat_map(|(from, to)| {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let parts = (dx.hypot(dy) / SPACING).ceil().clamp(1.0, 2000.0);
        (0..=2000)
            .map(f64::from)
            .take_while(move |part| *part <= parts)
            .map(move |part| (from.0 + part / parts * dx, from.1 + part / parts * dy))
    })
}

/// The place a line of text takes.
pub(super) fn word_rect(word: &Word) -> Rect {
    let width = text::width(&word.text, word.size, word.bold);
    let left = match word.anchor {
        Anchor::Start => word.at.0,
        Anchor::Middle => word.at.0 - width / 2.0,
        Anchor::End => word.at.0 - width,
    };
    let half = word.size * 0.58;
    Rect {
        left,
        right: left + width,
        top: word.at.1 - half,
        bottom: word.at.1 + half,
    }
}
