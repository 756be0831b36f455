//! An answer's text set for the terminal, or as Markdown.

use crate::table::{Piece, pieces};
use comfy_table::{CellAlignment, ContentArrangement, Table, presets};
use sealspan_report::render::markdown::{escaped, pipes};
use sealspan_report::visible::acts;

/// For the terminal: aligned tables, and nothing that a name from the data could do to it.
pub fn plain(text: &str) -> String {
    let set = pieces(text).into_iter().map(|piece| match piece {
        Piece::Words(words) => shown(words),
        Piece::Table(rows) => aligned(&rows),
    });
    set.collect()
}

/// Characters that act, but for line feeds, as their codes.
fn shown(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        if c != '\n' && acts(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
    }
    out
}

/// The first column left, numbers right, no lines.
fn aligned(rows: &[Vec<&str>]) -> String {
    let mut table = Table::new();
    table.load_preset(presets::NOTHING);
    table.set_content_arrangement(ContentArrangement::Disabled);
    let mut rows = rows.iter();
    if let Some(head) = rows.next() {
        table.set_header(head.iter().copied());
    }
    for row in rows {
        table.add_row(row.iter().copied());
    }
    for (i, column) in table.column_iter_mut().enumerate() {
        column.set_padding((if i == 0 { 2 } else { 1 }, 1));
        if i > 0 {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let text = table.to_string();
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    lines.join("\n")
}

/// As Markdown: a line is a paragraph, an indented one an item of a list, a table stands between pipes.
pub fn markdown(text: &str) -> String {
    let mut out = String::new();
    let mut list = false;
    let mut push = |block: String, item: bool| {
        if !out.is_empty() {
            out.push_str(if list && item { "\n" } else { "\n\n" });
        }
        out.push_str(&block);
        list = item;
    };
    for piece in pieces(text) {
        match piece {
            Piece::Words(words) => {
                for line in words.lines().filter(|l| !l.trim().is_empty()) {
                    let indent = line.len() - line.trim_start_matches(' ').len();
                    match indent {
                        0 => push(escaped(line), false),
                        1..=3 => push(format!("- {}", escaped(line)), true),
                        _ => push(format!("  - {}", escaped(line)), true),
                    }
                }
            }
            Piece::Table(rows) => {
                let (head, rows) = match rows.split_first() {
                    Some(split) => split,
                    None => continue,
                };
                let numbers: Vec<bool> = (0..head.len()).map(|i| i > 0).collect();
                push(pipes(head, &numbers, rows), false);
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{markdown, plain};
    use crate::table::table;

    fn answer() -> String {
        let rows = [vec!["=a|b", "1"], vec!["c", "20"]];
        format!(
            "title_x\n{}\n  a note\n  \u{1b}[31mred\n",
            table(&["name", "days"], &rows)
        )
    }

    #[test]
    fn the_terminal_sees_columns_and_codes() {
        let want =
            "title_x\n  name  days\n  =a|b     1\n  c       20\n  a note\n  \\u{1b}[31mred\n";
        assert_eq!(plain(&answer()), want);
    }

    #[test]
    fn markdown_has_pipes_and_lists() {
        let want = "title&#95;x\n\n| name | days |\n| :--- | ---: |\n| &#61;a&#124;b | 1 |\n| c | 20 |\n\n- a note\n- &#92;u&#123;1b&#125;&#91;31mred";
        assert_eq!(markdown(&answer()), want);
    }
}
