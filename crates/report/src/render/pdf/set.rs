//! Blocks set as lines at their places.

use super::face::{Face, MISSING, drawable};
use super::piece::{Ink, Mark, Piece, Role, Set};
use super::{LEFT, Limits, WIDTH, figure, table};
use crate::cautions::Caution;
use crate::document::{Block, Document};
use crate::error::Result;

/// How a text is set: face, size, distance of base lines, colour.
#[derive(Debug, Clone, Copy)]
pub(super) struct Style {
    pub face: Face,
    pub size: f32,
    pub line: f32,
    pub ink: Ink,
}

const fn style(face: Face, size: f32, line: f32, ink: Ink) -> Style {
    Style {
        face,
        size,
        line,
        ink,
    }
}

const OVER: Style = style(Face::SansBold, 8.2, 11.0, Ink::Mark);
const TITLE: Style = style(Face::SerifBold, 18.0, 21.5, Ink::Black);
const ABOUT: Style = style(Face::Sans, 7.8, 10.8, Ink::Soft);
const ANSWER: Style = style(Face::Serif, 11.0, 15.2, Ink::Black);
const HEADING: Style = style(Face::SansBold, 9.4, 12.4, Ink::Black);
const TEXT: Style = style(Face::Serif, 8.8, 12.2, Ink::Black);
const NOTE: Style = style(Face::Sans, 7.2, 9.6, Ink::Soft);
const WARNING: Style = style(Face::Sans, 7.4, 10.0, Ink::Black);
const FOOT: Style = style(Face::Sans, 6.6, 8.8, Ink::Soft);

impl Style {
    /// Lines from (`left`, `top`) down in `room`; gives back the height taken.
    pub fn write(self, text: &str, (left, top): (f32, f32), room: f32, most: usize, out: &mut Vec<Mark>) -> f32 {
        let lines = self.face.lines(&drawable(text), self.size, room, most);
        for (i, line) in lines.iter().enumerate() {
            let base = top + self.line * i as f32 + self.line * 0.5 + self.size * 0.36;
            // A blank ends every line but the last, so that words stay apart when the text is read out.
            let end = if i + 1 < lines.len() { " " } else { "" };
            out.push(Mark::Word {
                text: format!("{line}{end}"),
                face: self.face,
                size: self.size,
                ink: self.ink,
                at: (left, base),
            });
        }
        self.line * lines.len() as f32
    }

    /// A text over the full width as one piece, with room above and below.
    fn alone(self, role: Role, text: &str, most: usize, (above, below): (f32, f32)) -> Set {
        let mut marks = vec![];
        let height = self.write(text, (LEFT, above), WIDTH, most, &mut marks);
        Set {
            pieces: vec![Piece::leaf(role, marks)],
            adorn: vec![],
            height: above + height + below,
        }
    }
}

/// The page's name, the title, what the data are.
pub(super) fn head(document: &Document, limits: Limits) -> Vec<Set> {
    let over = document.pages.first().map_or("", |p| p.title.as_str());
    let mut sets = vec![
        OVER.alone(Role::Paragraph, over, 1, (0.0, 3.0)),
        TITLE.alone(Role::Heading(1), &document.title, 2, (0.0, 4.0)),
    ];
    if document.invented {
        sets.push(invented());
    }
    sets.push(ABOUT.alone(Role::Paragraph, &document.about, limits.lines.min(4), (0.0, 8.0)));
    sets
}

fn invented() -> Set {
    const WORDS: &str = "All data on this sheet are invented.";
    let mut marks = vec![];
    let height = ABOUT.write(WORDS, (LEFT + 5.0, 2.0), WIDTH, 1, &mut marks);
    let width = ABOUT.face.width(WORDS, ABOUT.size) + 10.0;
    let (left, right, top, bottom) = (LEFT, LEFT + width, 0.5, height + 3.5);
    let frame = Mark::Stroke {
        points: vec![(left, top), (right, top), (right, bottom), (left, bottom)],
        closed: true,
        width: 0.7,
        ink: Ink::Rule,
        dash: vec![],
    };
    Set {
        pieces: vec![Piece::leaf(Role::Paragraph, marks)],
        adorn: vec![frame],
        height: height + 9.0,
    }
}

/// One block of the page.
pub(super) fn block(block: &Block, limits: Limits) -> Result<Set> {
    Ok(match block {
        Block::Heading(text) => HEADING.alone(Role::Heading(2), text, 1, (9.0, 2.5)),
        Block::Answer(text) => answer(text, limits),
        Block::Text(text) => TEXT.alone(Role::Paragraph, text, limits.lines, (0.0, 5.0)),
        Block::List(items) => list(items, limits),
        Block::Table(t) => table::set(t, limits),
        Block::Figure(chart) if limits.figures => figure::set(chart)?,
        Block::Cautions(list) => cautions(list),
        _ => Set::default(),
    })
}

fn answer(text: &str, limits: Limits) -> Set {
    let mut marks = vec![];
    let height = ANSWER.write(text, (LEFT + 11.0, 3.0), WIDTH - 11.0, limits.lines, &mut marks);
    Set {
        pieces: vec![Piece::leaf(Role::Paragraph, marks)],
        adorn: vec![Mark::block((LEFT, 3.0), (2.2, height), Ink::Mark)],
        height: height + 11.0,
    }
}

fn list(items: &[String], limits: Limits) -> Set {
    let mut parts = vec![];
    let mut down = 0.0;
    let mut shown: Vec<String> = items.iter().take(limits.items).cloned().collect();
    if items.len() > shown.len() {
        shown.push(more(items.len() - shown.len()));
    }
    for item in &shown {
        let mut marks = vec![Mark::Disc {
            centre: (LEFT + 3.0, down + TEXT.line * 0.52),
            radius: 1.3,
            ink: Ink::Black,
        }];
        let lines = limits.lines.min(4);
        down += TEXT.write(item, (LEFT + 11.0, down), WIDTH - 11.0, lines, &mut marks) + 1.8;
        parts.push(Piece::leaf(Role::Item, marks));
    }
    Set {
        pieces: vec![Piece::of(Role::List, parts)],
        adorn: vec![],
        height: down + 4.0,
    }
}

/// What stands in the place of rows and items that were left out.
pub(super) fn more(count: usize) -> String {
    format!("and {count} more in report.html and the folder tables")
}

fn cautions(list: &[Caution]) -> Set {
    const INDENT: f32 = 10.0;
    let mut parts = vec![];
    let mut title = vec![];
    let mut down = 6.0 + 7.0;
    let heading = Style {
        size: 8.4,
        ..HEADING
    };
    down += heading.write("Before opening anything", (LEFT + INDENT, down), WIDTH, 1, &mut title) + 1.5;
    for caution in list {
        let mut marks = vec![];
        let room = WIDTH - 2.0 * INDENT;
        down += WARNING.write(caution.text, (LEFT + INDENT, down), room, 3, &mut marks) + 1.6;
        parts.push(Piece::leaf(Role::Item, marks));
    }
    Set {
        pieces: vec![
            Piece::leaf(Role::Heading(2), title),
            Piece::of(Role::List, parts),
        ],
        adorn: vec![Mark::block((LEFT, 6.0), (WIDTH, down), Ink::Warm)],
        height: down + 13.0,
    }
}

/// How the sheet was made.
pub(super) fn foot(document: &Document, blocks: &[Block]) -> Set {
    let stamp: Vec<String> = document
        .stamp
        .iter()
        .map(|(label, value)| format!("{label}: {value}"))
        .collect();
    let mut text = stamp.join(" · ");
    if blocks.iter().any(missing) || drawable(&document.title).contains(MISSING) {
        text.push_str(&format!(
            " · {MISSING} stands for a letter that these fonts lack; report.html has it"
        ));
    }
    let mut marks = vec![];
    let height = FOOT.write(&text, (LEFT, 4.0), WIDTH, 4, &mut marks);
    let rule = Mark::Stroke {
        points: vec![(LEFT, 0.0), (LEFT + WIDTH, 0.0)],
        closed: false,
        width: 0.6,
        ink: Ink::Rule,
        dash: vec![],
    };
    Set {
        pieces: vec![Piece::leaf(Role::Paragraph, marks)],
        adorn: vec![rule],
        height: height + 4.0,
    }
}

/// Whether some of a block's letters are missing from the fonts.
fn missing(block: &Block) -> bool {
    let lacks = |text: &String| drawable(text).contains(MISSING);
    match block {
        Block::Heading(t) | Block::Answer(t) | Block::Text(t) => lacks(t),
        Block::List(items) => items.iter().any(lacks),
        Block::Table(t) => t.rows.iter().flatten().any(lacks),
        _ => false,
    }
}

/// A small note under a figure or a table.
pub(super) fn note(text: &str, top: f32, most: usize, out: &mut Vec<Mark>) -> f32 {
    NOTE.write(text, (LEFT, top), WIDTH, most, out)
}
