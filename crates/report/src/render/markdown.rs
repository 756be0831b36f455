//! Words as Markdown in which names from the data can do nothing: no HTML, no link, no formula, no code.
//!
//! ```
//! use sealspan_report::render::markdown::{escaped, pipes};
//! assert_eq!(escaped("<b>|"), "&#60;b&#62;&#124;"); // as character references
//! let table = pipes(&["site", "seals"], &[false, true], &[vec!["north", "12"]]);
//! assert_eq!(table, "| site | seals |\n| :--- | ---: |\n| north | 12 |");
//! ```

use crate::document::Table;
use crate::visible::visible;

/// A text as one line of Markdown. Everything that Markdown, its tables or a formula could take for a sign is written
/// as a numeric character reference, which is decoded only after these were looked for.
#[must_use]
pub fn escaped(text: &str) -> String {
    let text = visible(text.trim());
    let mut out = String::with_capacity(text.len() + text.len() / 8);
    let numbered = starts_a_list(&text);
    for (i, c) in text.char_indices() {
        let rest = text.get(i..).unwrap_or_default();
        let acts = match c {
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '<' | '>' | '#' | '|' | '$' | '~'
            | '&' | '@' | '^' => true,
            ':' => rest.starts_with("://"),
            '.' => text.get(..i).is_some_and(ends_in_www),
            '-' | '+' | '=' => i == 0,
            _ => false,
        };
        if acts || numbered == Some(i) {
            out.push_str(&format!("&#{};", u32::from(c)));
        } else {
            out.push(c);
        }
    }
    out
}

fn ends_in_www(before: &str) -> bool {
    let start = before.len().saturating_sub(3);
    before
        .get(start..)
        .is_some_and(|end| end.eq_ignore_ascii_case("www"))
}

/// Where the dot or bracket stands that would make `12.` a list: a number such as `12.5` is none.
fn starts_a_list(text: &str) -> Option<usize> {
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    let next = text.as_bytes().get(digits)?;
    let ends = text
        .as_bytes()
        .get(digits + 1)
        .is_none_or(u8::is_ascii_whitespace);
    (digits > 0 && ends && matches!(next, b'.' | b')')).then_some(digits)
}

/// A table with its caption.
#[must_use]
pub(crate) fn table(table: &Table) -> String {
    let heads: Vec<&str> = table
        .columns
        .iter()
        .map(|(head, _)| head.as_str())
        .collect();
    let numbers: Vec<bool> = table.columns.iter().map(|(_, number)| *number).collect();
    format!(
        "**{}**\n\n{}",
        escaped(&table.caption),
        pipes(&heads, &numbers, &table.rows)
    )
}

/// Rows between pipes under their heads; columns of numbers stand to the right.
#[must_use]
pub fn pipes<R: AsRef<str>>(heads: &[&str], numbers: &[bool], rows: &[Vec<R>]) -> String {
    let line = |cells: Vec<String>| format!("| {} |", cells.join(" | "));
    let rule = |number: &bool| if *number { "---:" } else { ":---" }.to_owned();
    let mut out = vec![
        line(heads.iter().map(|head| escaped(head)).collect()),
        line(numbers.iter().map(rule).collect()),
    ];
    let cells = |row: &Vec<R>| row.iter().map(|cell| escaped(cell.as_ref())).collect();
    out.extend(rows.iter().map(|row| line(cells(row))));
    out.join("\n")
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn nothing_acts() {
        let hostile = "<b>[x](https://a.b) $x$ \\(y\\) `c` *d* _e_ |f www.g.h a@b.c";
        let safe = escaped(hostile);
        for sign in ["<", "[", "://", "$", "\\", "`", "*", "_", "|", "www.", "@"] {
            assert!(!safe.contains(sign), "{sign} in {safe}");
        }
        for (text, want) in [
            ("- x", "&#45; x"),
            ("1. x", "1&#46; x"),
            ("2 x. y", "2 x. y"),
            ("a-b", "a-b"),
            ("\nb", "b"),
            ("a\nb", "a&#92;u&#123;a&#125;b"),
        ] {
            assert_eq!(escaped(text), want);
        }
    }
}
