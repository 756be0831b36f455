//! Blocks set as lines at their places.

use super::face::{Face, drawable, lacks};
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

const OVER: Style = style(Face::SansBold, 8.0, 10.6, Ink::Mark);
const TITLE: Style = style(Face::SerifBold, 15.5, 19.0, Ink::Black);
const ABOUT: Style = style(Face::Sans, 7.3, 10.0, Ink::Soft);
const ANSWER: Style = style(Face::Serif, 10.4, 13.6, Ink::Black);
const HEADING: Style = style(Face::SansBold, 8.8, 11.6, Ink::Black);
const TEXT: Style = style(Face::Serif, 8.3, 10.8, Ink::Black);
const NOTE: Style = style(Face::Sans, 6.8, 9.0, Ink::Soft);
const WARNING: Style = style(Face::Sans, 7.0, 9.4, Ink::Black);
const FOOT: Style = style(Face::Sans, 6.3, 8.3, Ink::Soft);

impl Style {
    /// Lines from (`left`, `top`) down in `room`; gives back the height taken.
    pub fn write(
        self,
        text: &str,
        (left, top): (f32, f32),
        room: f32,
        most: usize,
        out: &mut Vec<Mark>,
    ) -> f32 {
        let lines = self
            .face
            .lines(&drawable(self.face, text), self.size, room, most);
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

/// The page's name beside the mark of invented data, the title, what the data are.
pub(super) fn head(document: &Document, limits: Limits) -> Vec<Set> {
    let over = document.pages.first().map_or("", |p| p.title.as_str());
    let mut name = OVER.alone(Role::Paragraph, over, 1, (0.0, 4.0));
    if document.invented {
        invented(&mut name);
    }
    vec![
        name,
        title(&document.title),
        ABOUT.alone(
            Role::Paragraph,
            &document.about,
            limits.lines.min(4),
            (0.0, 5.0),
        ),
    ]
}

/// The title on one line where a smaller size brings it there, else on two.
fn title(text: &str) -> Set {
    const SMALLER: [f32; 4] = [1.0, 0.94, 0.88, 0.82];
    let shown = drawable(TITLE.face, text);
    let sized = |by: f32| Style {
        size: TITLE.size * by,
        line: TITLE.line * by,
        ..TITLE
    };
    let fits = |style: &Style| style.face.width(&shown, style.size) <= WIDTH;
    let style = SMALLER
        .map(sized)
        .into_iter()
        .find(fits)
        .unwrap_or(sized(0.88));
    style.alone(Role::Heading(1), text, 2, (0.0, 4.0))
}

/// A framed remark at the right end of the first line.
fn invented(set: &mut Set) {
    const WORDS: &str = "All data on this sheet are invented.";
    let width = ABOUT.face.width(WORDS, ABOUT.size) + 10.0;
    let mut marks = vec![];
    let height = ABOUT.write(
        WORDS,
        (LEFT + WIDTH - width + 5.0, 0.4),
        width,
        1,
        &mut marks,
    );
    let (left, right, top, bottom) = (LEFT + WIDTH - width, LEFT + WIDTH, -1.2, height + 1.6);
    set.adorn.push(Mark::Stroke {
        points: vec![(left, top), (right, top), (right, bottom), (left, bottom)],
        closed: true,
        width: 0.7,
        ink: Ink::Rule,
        dash: vec![],
    });
    set.pieces.push(Piece::leaf(Role::Paragraph, marks));
}

/// One block of the page.
pub(super) fn block(block: &Block, limits: Limits) -> Result<Set> {
    Ok(match block {
        Block::Heading(text) => HEADING.alone(Role::Heading(2), text, 1, (5.5, 1.8)),
        Block::Answer(text) => answer(text, limits),
        Block::Text(text) => TEXT.alone(Role::Paragraph, text, limits.lines, (0.0, 4.5)),
        Block::List(items) => list(items, limits),
        Block::Table(t) => table::set(t, limits),
        Block::Figure(chart) if limits.figures => figure::set(chart)?,
        Block::Cautions(list) => cautions(list, limits),
        _ => Set::default(),
    })
}

fn answer(text: &str, limits: Limits) -> Set {
    let mut marks = vec![];
    let height = ANSWER.write(
        text,
        (LEFT + 11.0, 3.0),
        WIDTH - 11.0,
        limits.lines,
        &mut marks,
    );
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

/// A line each while there is room, else one after the other.
fn cautions(list: &[Caution], limits: Limits) -> Set {
    const INDENT: f32 = 10.0;
    const FEW: usize = 6;
    let mut texts: Vec<String> = list.iter().map(|c| c.text.to_owned()).collect();
    if limits.items < FEW {
        texts = vec![texts.join(" ")];
    }
    let mut parts = vec![];
    let mut title = vec![];
    let mut down = 6.0 + 5.5;
    let place = |down| (LEFT + INDENT, down);
    down += HEADING.write("Before opening anything", place(down), WIDTH, 1, &mut title) + 1.0;
    for text in &texts {
        let mut marks = vec![];
        let room = WIDTH - 2.0 * INDENT;
        down += WARNING.write(text, place(down), room, 8, &mut marks) + 1.2;
        parts.push(Piece::leaf(Role::Item, marks));
    }
    Set {
        pieces: vec![
            Piece::leaf(Role::Heading(2), title),
            Piece::of(Role::List, parts),
        ],
        adorn: vec![Mark::block((LEFT, 6.0), (WIDTH, down - 1.0), Ink::Warm)],
        height: down + 11.0,
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
    if blocks.iter().any(missing) || lacks(TITLE.face, &document.title) {
        text.push_str(
            " · \\u{…} is the code of a letter that these fonts lack; report.html has it",
        );
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

/// Whether some of a block's letters are missing from its font.
fn missing(block: &Block) -> bool {
    match block {
        Block::Heading(t) => lacks(HEADING.face, t),
        Block::Answer(t) | Block::Text(t) => lacks(TEXT.face, t),
        Block::List(items) => items.iter().any(|t| lacks(TEXT.face, t)),
        Block::Table(t) => t.rows.iter().flatten().any(|t| lacks(Face::Sans, t)),
        _ => false,
    }
}

/// A small note under a figure or a table.
pub(super) fn note(text: &str, top: f32, most: usize, out: &mut Vec<Mark>) -> f32 {
    NOTE.write(text, (LEFT, top), WIDTH, most, out)
}
