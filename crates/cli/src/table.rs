//! Tables in an answer's text: kept apart from the words around them until it is known how the page is set.

use sealspan_report::visible::visible;

/// Around a table, between its rows and between cells: the control characters made for it, which no cell can hold.
const BEGIN: char = '\u{2}';
const END: char = '\u{3}';
const ROW: char = '\u{1e}';
const CELL: char = '\u{1f}';

/// A table to stand in a text; the first column is words, the others numbers.
pub fn table<R: AsRef<str>>(head: &[&str], rows: &[Vec<R>]) -> String {
    let joined = |cells: Vec<String>| cells.join(&CELL.to_string());
    let mut lines = vec![joined(head.iter().map(|h| visible(h)).collect())];
    let cells = |row: &Vec<R>| row.iter().map(|cell| visible(cell.as_ref())).collect();
    lines.extend(rows.iter().map(|row| joined(cells(row))));
    format!("{BEGIN}{}{END}", lines.join(&ROW.to_string()))
}

/// A piece of an answer's text.
#[derive(Debug, PartialEq, Eq)]
pub enum Piece<'a> {
    /// Words, with their line feeds.
    Words(&'a str),
    /// Rows of cells, the head first.
    Table(Vec<Vec<&'a str>>),
}

/// The text in its pieces.
pub fn pieces(text: &str) -> Vec<Piece<'_>> {
    let mut out = vec![];
    let mut rest = text;
    while let Some((words, after)) = rest.split_once(BEGIN) {
        let (inside, after) = after.split_once(END).unwrap_or((after, ""));
        let rows = inside.split(ROW).map(|row| row.split(CELL).collect());
        out.push(Piece::Words(words));
        out.push(Piece::Table(rows.collect()));
        rest = after;
    }
    out.push(Piece::Words(rest));
    out
}

#[cfg(test)]
mod tests {
    use super::{Piece, pieces, table};

    #[test]
    fn a_table_comes_back_as_it_was_put_in() {
        let text = format!(
            "before\n{}\nafter",
            table(&["a", "b"], &[vec!["x\u{2}", "1"]])
        );
        let rows = vec![vec!["a", "b"], vec!["x\\u{2}", "1"]];
        let want = vec![
            Piece::Words("before\n"),
            Piece::Table(rows),
            Piece::Words("\nafter"),
        ];
        assert_eq!(pieces(&text), want);
    }
}
