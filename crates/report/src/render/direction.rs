//! Characters that turn the direction of text (Unicode bidirectional embeddings, overrides and isolates) in names from
//! the data: each is closed in by itself, so that it stays in the page and turns nothing beside it.

use minijinja::value::Value;
use minijinja::{Error, HtmlEscape, Output, State, escape_formatter};
use std::fmt::Write as _;

fn turns(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Escapes text of a page's content.
pub(super) fn content(out: &mut Output, state: &mut State, value: &Value) -> Result<(), Error> {
    let text = value.as_str().filter(|text| text.contains(turns));
    let Some(text) = text.filter(|_| !value.is_safe()) else {
        return escape_formatter(out, state, value);
    };
    let mut rest = text;
    while let Some(at) = rest.find(turns) {
        let (before, after) = rest.split_at(at);
        let mut chars = after.chars();
        let turning = chars.next().unwrap_or_default();
        write!(out, "{}<bdi>{turning}</bdi>", HtmlEscape(before))?;
        rest = chars.as_str();
    }
    write!(out, "{}", HtmlEscape(rest))?;
    Ok(())
}

/// Escapes text of an attribute or a title, which hold no elements and no other text to turn.
pub(super) fn attribute(text: &str) -> Value {
    Value::from_safe_string(HtmlEscape(text).to_string())
}
