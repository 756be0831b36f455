//! Tables: heads over a rule, numbers to the right, as wide as the words.

use super::face::{Face, drawable};
use super::piece::{Ink, Mark, Piece, Role, Set};
use super::set::{self, Style};
use super::{LEFT, Limits, WIDTH};
use crate::document::Table;

const CAPTION: Style = Style {
    face: Face::SansBold,
    size: 7.5,
    line: 10.0,
    ink: Ink::Black,
};
const HEAD: Style = Style {
    face: Face::SansBold,
    size: 6.8,
    line: 8.7,
    ink: Ink::Black,
};
const CELL: Style = Style {
    face: Face::Sans,
    size: 7.2,
    line: 9.4,
    ink: Ink::Black,
};
/// Room between columns, and above and below a row's words.
const GAP: f32 = 9.0;
const PAD: f32 = 1.5;

/// A table with its caption, as many rows as are allowed.
pub(super) fn set(table: &Table, limits: Limits) -> Set {
    let mut caption = vec![];
    let mut down = 2.0;
    down += CAPTION.write(&table.caption, (LEFT, down), WIDTH, 2, &mut caption) + 2.0;
    let rows: Vec<&Vec<String>> = table.rows.iter().take(limits.rows).collect();
    let columns = columns(table, &rows);
    let mut parts = vec![Piece::leaf(Role::Caption, caption)];
    let mut adorn = vec![];
    let heads: Vec<&String> = table.columns.iter().map(|(head, _)| head).collect();
    let top = down;
    let (piece, height) = row(&heads, &columns, HEAD, (top, true), 3);
    parts.push(piece);
    down += height;
    adorn.push(rule(down, Ink::Black));
    for cells in &rows {
        let cells: Vec<&String> = cells.iter().collect();
        let (piece, height) = row(&cells, &columns, CELL, (down, false), limits.lines.min(3));
        parts.push(piece);
        down += height;
        adorn.push(rule(down, Ink::Rule));
    }
    let mut pieces = vec![Piece::of(Role::Table, parts)];
    if table.rows.len() > rows.len() {
        let mut marks = vec![];
        let words = set::more(table.rows.len() - rows.len());
        down += set::note(&words, down + 2.0, 1, &mut marks) + 2.0;
        pieces.push(Piece::leaf(Role::Paragraph, marks));
    }
    Set {
        pieces,
        adorn,
        height: down + 6.0,
    }
}

fn rule(at: f32, ink: Ink) -> Mark {
    Mark::Stroke {
        points: vec![(LEFT, at), (LEFT + WIDTH, at)],
        closed: false,
        width: 0.55,
        ink,
        dash: vec![],
    }
}

/// Where a column stands.
struct Column {
    left: f32,
    width: f32,
    number: bool,
}

/// Widths by what the columns hold: narrow ones get what they want, the widest share what is left.
fn columns(table: &Table, rows: &[&Vec<String>]) -> Vec<Column> {
    let count = table.columns.len();
    let room = WIDTH - GAP * count.saturating_sub(1) as f32;
    let wanted: Vec<f32> = table
        .columns
        .iter()
        .enumerate()
        .map(|(i, (head, _))| {
            let cells = rows.iter().filter_map(|r| r.get(i));
            let widest = cells.map(|c| CELL.face.width(&drawable(CELL.face, start(c)), CELL.size));
            let word = head.split_whitespace();
            let head = word.map(|w| HEAD.face.width(w, HEAD.size));
            let head = head.fold(0.0, f32::max).min(90.0);
            widest.fold(head.max(20.0), f32::max) + 0.5
        })
        .collect();
    let widths = shared(&wanted, room);
    let mut left = LEFT;
    let each = table.columns.iter().zip(widths);
    each.map(|((_, number), width)| {
        let column = Column {
            left,
            width,
            number: *number,
        };
        left += width + GAP;
        column
    })
    .collect()
}

/// As many letters as tell that a cell is wider than the page.
fn start(text: &str) -> &str {
    const WIDE: usize = 400;
    let end = text.char_indices().nth(WIDE).map_or(text.len(), |(i, _)| i);
    text.get(..end).unwrap_or(text)
}

/// What each gets of `room`: all it wants where there is enough; else no more than an equal limit that uses the room up.
fn shared(wanted: &[f32], room: f32) -> Vec<f32> {
    let total: f32 = wanted.iter().sum();
    if total <= room {
        let spare = (room - total) / wanted.len().max(1) as f32;
        return wanted.iter().map(|w| w + spare).collect();
    }
    let mut limit = room;
    for _ in 0..wanted.len() {
        let small = wanted.iter().filter(|w| **w <= limit);
        let (used, n) = small.fold((0.0, 0), |(u, n), w| (u + w, n + 1));
        let open = wanted.len() - n;
        if open == 0 {
            limit = room / wanted.len() as f32;
            continue;
        }
        limit = ((room - used) / open as f32).max(room / wanted.len() as f32 / 2.0);
    }
    let given: Vec<f32> = wanted.iter().map(|w| w.min(limit)).collect();
    let scale = room / given.iter().sum::<f32>().max(1.0);
    given.iter().map(|w| w * scale.min(1.0)).collect()
}

/// One row; heads stand on the rule, cells hang from the one above.
fn row(
    cells: &[&String],
    columns: &[Column],
    style: Style,
    (top, head): (f32, bool),
    most: usize,
) -> (Piece, f32) {
    let set: Vec<Vec<String>> = cells
        .iter()
        .zip(columns)
        .map(|(cell, c)| {
            style
                .face
                .lines(&drawable(style.face, cell), style.size, c.width, most)
        })
        .collect();
    let tallest = set.iter().map(Vec::len).max().unwrap_or(1).max(1);
    let mut parts = vec![];
    for (i, (lines, column)) in set.iter().zip(columns).enumerate() {
        let skipped = if head { tallest - lines.len() } else { 0 };
        let mut marks = vec![];
        for (n, line) in lines.iter().enumerate() {
            let right = column.left + column.width - style.face.width(line, style.size);
            let at = if column.number { right } else { column.left };
            let end = if n + 1 < lines.len() { " " } else { "" };
            let down = top + PAD + style.line * (n + skipped) as f32;
            marks.push(Mark::Word {
                text: format!("{line}{end}"),
                face: style.face,
                size: style.size,
                ink: style.ink,
                at: (at, down + style.line * 0.5 + style.size * 0.36),
            });
        }
        let role = match (head, i) {
            (true, _) => Role::ColumnHead,
            (false, 0) => Role::RowHead,
            (false, _) => Role::Cell,
        };
        parts.push(Piece::leaf(role, marks));
    }
    (
        Piece::of(Role::Row, parts),
        2.0 * PAD + style.line * tallest as f32,
    )
}

#[cfg(test)]
mod tests {
    use super::shared;

    #[test]
    fn columns_use_the_room_and_no_more() {
        let fits = shared(&[30.0, 40.0], 100.0);
        assert_eq!(fits, [45.0, 55.0]);
        for wanted in [vec![30.0, 4000.0, 40.0], vec![900.0, 900.0], vec![60.0; 9]] {
            let given = shared(&wanted, 300.0);
            assert!(given.iter().sum::<f32>() <= 300.01, "{given:?}");
            assert!(given.iter().all(|w| *w > 10.0), "{given:?}");
        }
        assert_eq!(shared(&[30.0, 4000.0, 40.0], 300.0), [30.0, 230.0, 40.0]);
    }
}
