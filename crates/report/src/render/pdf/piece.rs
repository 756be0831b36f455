//! A set page as plain data: marks in points from the page's upper left corner, and what each means to a reader.

use super::face::Face;

/// Colours of the screen page in light.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    Black,
    Soft,
    Rule,
    Mark,
    Warm,
    Own(u8, u8, u8),
}

impl Ink {
    pub fn rgb(self) -> (u8, u8, u8) {
        match self {
            Self::Black => (0x1b, 0x1b, 0x1b),
            Self::Soft => (0x5c, 0x5c, 0x5c),
            Self::Rule => (0xd9, 0xd6, 0xd0),
            Self::Mark => (0x00, 0x72, 0xb2),
            Self::Warm => (0xfb, 0xf4, 0xe6),
            Self::Own(r, g, b) => (r, g, b),
        }
    }
}

/// One thing to draw.
#[derive(Debug, Clone)]
pub(super) enum Mark {
    /// A line of text; `at` is the left end of its base line.
    Word {
        text: String,
        face: Face,
        size: f32,
        ink: Ink,
        at: (f32, f32),
    },
    /// A filled polygon.
    Area {
        points: Vec<(f32, f32)>,
        ink: Ink,
        opacity: f32,
    },
    /// A filled circle.
    Disc {
        centre: (f32, f32),
        radius: f32,
        ink: Ink,
    },
    /// A line through points, with the lengths of its dashes and gaps.
    Stroke {
        points: Vec<(f32, f32)>,
        closed: bool,
        width: f32,
        ink: Ink,
        dash: Vec<f32>,
    },
}

impl Mark {
    /// A filled upright rectangle.
    pub fn block((x, y): (f32, f32), (width, height): (f32, f32), ink: Ink) -> Self {
        Self::Area {
            points: vec![
                (x, y),
                (x + width, y),
                (x + width, y + height),
                (x, y + height),
            ],
            ink,
            opacity: 1.0,
        }
    }

    /// The same lower down.
    pub fn lowered(mut self, by: f32) -> Self {
        match &mut self {
            Self::Word { at, .. } | Self::Disc { centre: at, .. } => at.1 += by,
            Self::Area { points, .. } | Self::Stroke { points, .. } => {
                points.iter_mut().for_each(|p| p.1 += by);
            }
        }
        self
    }
}

/// What a piece means to somebody who has it read aloud.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Role {
    Paragraph,
    Heading(u16),
    List,
    Item,
    Table,
    Caption,
    Row,
    ColumnHead,
    RowHead,
    Cell,
    /// A picture with what it shows in words.
    Figure(String),
}

/// A piece of the page with its parts.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub role: Role,
    pub marks: Vec<Mark>,
    pub parts: Vec<Piece>,
}

impl Piece {
    pub fn leaf(role: Role, marks: Vec<Mark>) -> Self {
        Self {
            role,
            marks,
            parts: vec![],
        }
    }

    pub fn of(role: Role, parts: Vec<Piece>) -> Self {
        Self {
            role,
            marks: vec![],
            parts,
        }
    }

    /// The same lower down.
    pub fn lowered(self, by: f32) -> Self {
        let marks = self.marks.into_iter().map(|m| m.lowered(by));
        let parts = self.parts.into_iter().map(|p| p.lowered(by));
        Self {
            role: self.role,
            marks: marks.collect(),
            parts: parts.collect(),
        }
    }
}

/// A block that has been set: its pieces and what adorns them, from 0 down.
#[derive(Debug, Clone, Default)]
pub(super) struct Set {
    pub pieces: Vec<Piece>,
    /// Rules and grounds, drawn first, without a meaning.
    pub adorn: Vec<Mark>,
    pub height: f32,
}
