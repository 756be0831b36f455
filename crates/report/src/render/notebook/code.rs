//! The notebook's Python, and what it prints, worked out here from the same tables.

use crate::document::{Cell, DataTable};
use crate::visible::visible;

/// Rows of a table that are printed.
const ROWS: usize = 10;
/// Letters of a cell that are printed.
const LETTERS: usize = 40;

/// What the other cells use.
pub(super) const SETUP: &str = r#"import math
import re

import pandas as pd
from IPython.display import Image, display


def plain(text):
    """The text without the apostrophe that keeps spreadsheets from taking it for a formula."""
    return text[1:] if re.match("'+[=+\\-@\t\r\n＝＋－＠]", text) else text


def read(name, words):
    """A table of this run: `words` are its columns of text; all others hold numbers, an empty cell being none."""
    table = pd.read_csv(f"tables/{name}.csv", dtype=str, keep_default_na=False)
    for column in table.columns:
        number = lambda text: float(text) if text else math.nan
        table[column] = table[column].map(plain if column in words else number)
    return table


def cell(value):
    """A value as short text; characters that would act are written as their codes."""
    if isinstance(value, str):
        acts = "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069]"
        text = re.sub(acts, lambda found: f"\\u{{{ord(found[0]):x}}}", value)
        return text if len(text) <= 40 else text[:39] + "…"
    return "none" if math.isnan(value) else f"{value:.6g}"


def show(table, most=10):
    """The first rows as plain text, numbers to the right; leave `show` away to see the table as pandas shows it."""
    rows = [[cell(value) for value in row] for row in table.head(most).itertuples(index=False)]
    heads = [cell(column) for column in table.columns]
    right = [pd.api.types.is_numeric_dtype(table[column]) for column in table.columns]
    widths = [max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads))]
    for row in [heads, *rows]:
        line = "  ".join(text.rjust(w) if r else text.ljust(w) for text, w, r in zip(row, widths, right))
        print(line.rstrip())
    print(f"{len(table)} rows")"#;

/// The variable that holds a table.
pub(super) fn variable(name: &str) -> String {
    name.replace('-', "_")
}

/// Code that reads and shows a table, and what it prints.
pub(super) fn show(table: &DataTable) -> (String, String) {
    let words: Vec<String> = table
        .columns
        .iter()
        .enumerate()
        .filter(|(i, _)| !table.holds_numbers(*i))
        .map(|(_, name)| quoted(name))
        .collect();
    let variable = variable(&table.name);
    let source = format!(
        "{variable} = read({}, [{}])\nshow({variable})",
        quoted(&table.name),
        words.join(", ")
    );
    (source, printed(table))
}

/// A text as a Python string.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if crate::visible::acts(c) => {
                out.push_str(&format!("\\U{:08x}", u32::from(c)));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

fn printed(table: &DataTable) -> String {
    let mut rows: Vec<Vec<String>> = vec![table.columns.iter().map(|c| word(c)).collect()];
    let first = table.rows.iter().take(ROWS);
    rows.extend(first.map(|row| row.iter().map(cell).collect()));
    let letters = |text: &String| text.chars().count();
    let width = |i| rows.iter().filter_map(|r| r.get(i)).map(letters).max();
    let widths: Vec<usize> = (0..table.columns.len()).filter_map(width).collect();
    let mut out = String::new();
    for row in &rows {
        let cells = row.iter().zip(&widths).enumerate();
        let cells = cells.map(|(i, (text, w))| match table.holds_numbers(i) {
            true => format!("{text:>w$}"),
            false => format!("{text:<w$}"),
        });
        out.push_str(cells.collect::<Vec<_>>().join("  ").trim_end());
        out.push('\n');
    }
    out.push_str(&format!("{} rows\n", table.rows.len()));
    out
}

/// As `cell` prints it.
fn cell(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => word(text),
        Cell::Number(number) => number.map_or_else(|| "none".to_owned(), six),
    }
}

/// Words as `cell` prints them.
pub(super) fn word(text: &str) -> String {
    let text = visible(text);
    if text.chars().count() <= LETTERS {
        return text;
    }
    let kept: String = text.chars().take(LETTERS - 1).collect();
    format!("{kept}…")
}

/// A number as Python's `.6g` writes it: six significant digits, no zeros at the end.
pub(super) fn six(value: f64) -> String {
    if value.is_nan() {
        return "none".to_owned();
    }
    let rounded = format!("{value:.5e}");
    let Some((digits, power)) = rounded.split_once('e') else {
        return rounded;
    };
    let Ok(power) = power.parse::<i32>() else {
        return rounded;
    };
    let bare = |text: &str| match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text.to_owned(),
    };
    match usize::try_from(5 - power) {
        Ok(decimals) if power >= -4 => bare(&format!("{value:.decimals$}")),
        _ => {
            let sign = if power < 0 { '-' } else { '+' };
            format!("{}e{sign}{:02}", bare(digits), power.abs())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{quoted, six};

    /// What Python 3.11 prints for `f"{x:.6g}"`.
    #[test]
    fn numbers_as_python_writes_them() {
        for (x, want) in [
            (0.0, "0"),
            (1.0, "1"),
            (123_456.0, "123456"),
            (1_234_567.0, "1.23457e+06"),
            (0.000_123_456_7, "0.000123457"),
            (0.000_012_345_67, "1.23457e-05"),
            (999_999.5, "1e+06"),
            (-2.5, "-2.5"),
            (1e100, "1e+100"),
            (230.149_999_9, "230.15"),
        ] {
            assert_eq!(six(x), want, "{x}");
        }
    }

    #[test]
    fn strings_are_closed_by_nothing_inside() {
        assert_eq!(quoted("a\"\\\n"), "\"a\\\"\\\\\\U0000000a\"");
    }
}
