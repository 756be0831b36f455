//! A document of one page as PDF: exactly one A4 page whose words also clear the edges of Letter paper, with the
//! fonts embedded, text that can be searched and read aloud, and no date, so that the same document gives the same
//! bytes.

mod content;
mod draw;
mod face;
mod figure;
mod glyphs;
mod piece;
mod set;
mod table;
mod tags;

use crate::document::{Block, Document};
use crate::error::{Error, Result};
use crate::visible::visible;
use piece::Set;

/// A4, in points.
const PAGE: (f32, f32) = (595.28, 841.89);
/// The words' left and upper edge: A4 printed in the middle of Letter loses 25 points above and below.
const LEFT: f32 = 52.0;
const TOP: f32 = 46.0;
const WIDTH: f32 = PAGE.0 - 2.0 * LEFT;
const HEIGHT: f32 = PAGE.1 - 2.0 * TOP;

/// What the file says about itself.
struct Words {
    title: String,
    about: String,
}

/// How much of the blocks is shown.
#[derive(Debug, Clone, Copy)]
struct Limits {
    /// Rows of a table.
    rows: usize,
    /// Lines of a text or a cell.
    lines: usize,
    /// Items of a list.
    items: usize,
    /// Whether figures are drawn.
    figures: bool,
}

/// From everything down to what fits always.
const LEVELS: [Limits; 13] = [
    limits(20, 6, 9, true),
    limits(12, 6, 7, true),
    limits(8, 6, 6, true),
    limits(6, 6, 5, true),
    limits(6, 5, 4, true),
    limits(5, 4, 4, true),
    limits(4, 4, 3, true),
    limits(8, 6, 4, false),
    limits(8, 5, 4, false),
    limits(5, 4, 4, false),
    limits(4, 4, 3, false),
    limits(3, 3, 3, false),
    limits(2, 2, 2, false),
];

const fn limits(rows: usize, lines: usize, items: usize, figures: bool) -> Limits {
    Limits {
        rows,
        lines,
        items,
        figures,
    }
}

/// The document's only page as PDF.
///
/// Where not everything fits, tables and lists are cut first and say how many more there are, then figures go;
/// cautions and how it was made always stay.
///
/// # Errors
/// When the document has not exactly one page, or a figure cannot be drawn.
pub fn one_page(document: &Document) -> Result<Vec<u8>> {
    let [page] = document.pages.as_slice() else {
        return Err(Error::render("a sheet has one page"));
    };
    let mut adorn = vec![];
    let mut pieces = vec![];
    let mut down = TOP;
    for set in fitting(document, &page.blocks)? {
        adorn.extend(set.adorn.into_iter().map(|m| m.lowered(down)));
        pieces.extend(set.pieces.into_iter().map(|p| p.lowered(down)));
        down += set.height;
    }
    let words = Words {
        title: format!("{}: {}", page.title, visible(&document.title)),
        about: page.reader.clone(),
    };
    draw::pdf(&words, &adorn, &pieces)
}

/// The first level at which everything fits; at the last one blocks are left out from the end on.
fn fitting(document: &Document, blocks: &[Block]) -> Result<Vec<Set>> {
    let mut last = vec![];
    let [full, ..] = LEVELS;
    // A figure is the same at every level that has it.
    let figures: Vec<Option<Set>> = blocks
        .iter()
        .map(|block| match block {
            Block::Figure(_) => set::block(block, full).map(Some),
            _ => Ok(None),
        })
        .collect::<Result<_>>()?;
    for level in LEVELS {
        let mut sets = set::head(document, level);
        for (block, figure) in blocks.iter().zip(&figures) {
            sets.push(match figure {
                Some(drawn) if level.figures => drawn.clone(),
                _ => set::block(block, level)?,
            });
        }
        sets.push(set::foot(document, blocks));
        if height(&sets) <= HEIGHT {
            return Ok(sets);
        }
        last = sets;
    }
    let foot = last.pop();
    let cautions = last.pop();
    let kept = [cautions, foot].into_iter().flatten().collect::<Vec<_>>();
    while height(&last) + height(&kept) > HEIGHT && last.pop().is_some() {}
    last.extend(kept);
    Ok(last)
}

fn height(sets: &[Set]) -> f32 {
    sets.iter().map(|s| s.height).sum()
}
