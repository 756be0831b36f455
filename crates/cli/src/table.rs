//! Aligned tables for the terminal.

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

/// A table: the first column left, numbers right, no lines but one under the head.
pub fn table<R: AsRef<str>>(head: &[&str], rows: &[Vec<R>]) -> String {
    let mut table = Table::new();
    table.load_preset(presets::NOTHING);
    table.set_content_arrangement(ContentArrangement::Disabled);
    table.set_header(head.iter().map(|h| (*h).to_owned()));
    for row in rows {
        table.add_row(row.iter().map(|cell| cell.as_ref().to_owned()));
    }
    for (i, column) in table.column_iter_mut().enumerate() {
        column.set_padding((if i == 0 { 2 } else { 1 }, 1));
        if i > 0 {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let text = table.to_string();
    text.lines()
        .map(str::trim_end)
        .collect::<Vec<_>>()
        .join("\n")
}
