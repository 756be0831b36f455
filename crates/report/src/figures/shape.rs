//! Simple shapes in figure units, the display list between layout and SVG.
//!
//! One figure unit is a CSS pixel of a figure shown at its natural size.

use super::palette::Paint;
use crate::chart::Dash;

/// A point in figure units; y grows downwards.
pub(super) type Point = (f64, f64);

/// An upright rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rect {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Rect {
    pub fn width(self) -> f64 {
        self.right - self.left
    }

    pub fn height(self) -> f64 {
        self.bottom - self.top
    }

    pub fn grown(self, by: f64) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }

    pub fn holds(self, (x, y): Point) -> bool {
        x >= self.left && x <= self.right && y >= self.top && y <= self.bottom
    }

    pub fn contains(self, other: Self) -> bool {
        self.holds((other.left, other.top)) && self.holds((other.right, other.bottom))
    }

    pub fn overlaps(self, other: Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pen {
    pub paint: Paint,
    pub width: f64,
    pub dash: Dash,
}

impl Pen {
    pub fn solid(paint: Paint, width: f64) -> Self {
        Self {
            paint,
            width,
            dash: Dash::Solid,
        }
    }
}

/// Where a text stands against its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// One line of text, centred on its point in height.
#[derive(Debug, Clone)]
pub(super) struct Word {
    pub text: String,
    pub at: Point,
    pub size: f64,
    pub bold: bool,
    pub anchor: Anchor,
    pub paint: Paint,
}

/// One thing to draw.
#[derive(Debug, Clone)]
pub(super) enum Shape {
    Path(Vec<Point>, Pen),
    Area {
        points: Vec<Point>,
        paint: Paint,
        opacity: f64,
    },
    Disc {
        centre: Point,
        radius: f64,
        paint: Paint,
    },
    Ring {
        centre: Point,
        radius: f64,
        pen: Pen,
    },
    Word(Word),
}
