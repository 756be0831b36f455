//! The display list with its colours settled, for other renderers than SVG.

use super::page::Page;
use super::shape::{Anchor, Pen, Point, Shape};
use crate::chart::Dash;

/// A finished drawing in figure units.
#[derive(Debug, Clone)]
pub(crate) struct Drawing {
    pub shapes: Vec<Drawn>,
    pub width: f64,
    pub height: f64,
}

/// One thing to draw, in the colours of a light ground; y grows downwards.
#[derive(Debug, Clone)]
pub(crate) enum Drawn {
    Line {
        points: Vec<Point>,
        colour: (u8, u8, u8),
        width: f64,
        dash: Vec<f64>,
        closed: bool,
    },
    Area {
        points: Vec<Point>,
        colour: (u8, u8, u8),
        opacity: f64,
    },
    Disc {
        centre: Point,
        radius: f64,
        colour: (u8, u8, u8),
    },
    /// A line of text centred on its point in height; `anchor` is the share of its width left of the point.
    Word {
        text: String,
        at: Point,
        size: f64,
        bold: bool,
        anchor: f64,
        colour: (u8, u8, u8),
    },
}

/// The shapes of a page.
pub(super) fn drawing(page: Page) -> Drawing {
    Drawing {
        shapes: page.sketch.shapes.iter().flat_map(drawn).collect(),
        width: page.width,
        height: page.height,
    }
}

/// Lengths of dashes and gaps, as in the SVG.
fn pattern(dash: Dash) -> Vec<f64> {
    match dash {
        Dash::Solid => vec![],
        Dash::Dashed => vec![7.0, 4.0],
        Dash::Dotted => vec![1.5, 3.0],
        Dash::DashDot => vec![8.0, 3.5, 1.5, 3.5],
    }
}

fn line(points: Vec<Point>, pen: &Pen, closed: bool) -> Drawn {
    Drawn::Line {
        points,
        colour: pen.paint.light(),
        width: pen.width,
        dash: pattern(pen.dash),
        closed,
    }
}

fn drawn(shape: &Shape) -> Option<Drawn> {
    Some(match shape {
        Shape::Path(points, pen) => line(points.clone(), pen, false),
        Shape::Area {
            points,
            paint,
            opacity,
        } => Drawn::Area {
            points: points.clone(),
            colour: paint.light(),
            opacity: *opacity,
        },
        Shape::Disc {
            centre,
            radius,
            paint,
        } => Drawn::Disc {
            centre: *centre,
            radius: *radius,
            colour: paint.light(),
        },
        Shape::Ring {
            centre,
            radius,
            pen,
        } => line(ring(*centre, *radius), pen, true),
        Shape::Word(word) if word.text.is_empty() => return None,
        Shape::Word(word) => Drawn::Word {
            text: word.text.clone(),
            at: word.at,
            size: word.size,
            bold: word.bold,
            anchor: match word.anchor {
                Anchor::Start => 0.0,
                Anchor::Middle => 0.5,
                Anchor::End => 1.0,
            },
            colour: word.paint.light(),
        },
    })
}

/// A circle as a polygon; at a few points' size nobody sees its corners.
fn ring((x, y): Point, radius: f64) -> Vec<Point> {
    const SIDES: u32 = 24;
    (0..SIDES)
        .map(|i| {
            let turn = std::f64::consts::TAU * f64::from(i) / f64::from(SIDES);
            (x + radius * turn.cos(), y + radius * turn.sin())
        })
        .collect()
}
