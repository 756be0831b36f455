//! Text of a page's content, escaped.
//!
//! Characters that turn the direction of text (Unicode bidirectional embeddings, overrides and isolates) are closed in
//! by themselves, so that a name from the data keeps them and turns nothing beside it. Commands of this program, which
//! our words set between backticks, are set as code. Control characters, which a page may not hold, are written as
//! their codes.

use minijinja::value::Value;
use minijinja::{Error, HtmlEscape, Output, State, escape_formatter};

/// How our words begin a command.
const COMMAND: &str = "`sealspan ";

fn turns(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Whether a page may not hold a character.
fn forbidden(c: char) -> bool {
    c.is_control() && !matches!(c, '\n' | '\t' | '\r')
}

/// Whether a character does not stand for itself.
fn marked(c: char) -> bool {
    turns(c) || forbidden(c)
}

/// A stretch of text.
enum Piece<'a> {
    Plain(&'a str),
    Command(&'a str),
    Turning(char),
    Forbidden(char),
}

/// The first stretch of a text that is not empty, and what follows it.
fn first(text: &str) -> (Piece<'_>, &str) {
    let mut chars = text.chars();
    if let Some(c) = chars.next().filter(|c| marked(*c)) {
        let piece = if turns(c) {
            Piece::Turning(c)
        } else {
            Piece::Forbidden(c)
        };
        return (piece, chars.as_str());
    }
    let command = text.strip_prefix('`').filter(|_| text.starts_with(COMMAND));
    let closed = command.and_then(|rest| rest.split_once('`'));
    if let Some((command, rest)) = closed.filter(|(command, _)| !command.contains(marked)) {
        return (Piece::Command(command), rest);
    }
    let skip = text.chars().next().map_or(0, char::len_utf8);
    let next = text.get(skip..).unwrap_or_default();
    let ends = [next.find(marked), next.find(COMMAND)];
    let end = ends.into_iter().flatten().min().unwrap_or(next.len());
    let (plain, rest) = text.split_at(skip + end);
    (Piece::Plain(plain), rest)
}

/// Escapes what a template writes as content.
pub(super) fn content(out: &mut Output, state: &mut State, value: &Value) -> Result<(), Error> {
    let special = |text: &&str| text.contains(marked) || text.contains(COMMAND);
    let text = value.as_str().filter(|_| !value.is_safe());
    let Some(mut rest) = text.filter(special) else {
        return escape_formatter(out, state, value);
    };
    while !rest.is_empty() {
        let (piece, after) = first(rest);
        match piece {
            Piece::Plain(text) => write!(out, "{}", HtmlEscape(text))?,
            Piece::Command(text) => write!(out, "<code>{}</code>", HtmlEscape(text))?,
            Piece::Turning(c) => write!(out, "<bdi>{c}</bdi>")?,
            Piece::Forbidden(c) => write!(out, "{}", c.escape_unicode())?,
        }
        rest = after;
    }
    Ok(())
}

/// Escapes text of an attribute or a title, which hold no elements and no other text to turn.
pub(super) fn attribute(text: &str) -> Value {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        if forbidden(c) {
            shown.extend(c.escape_unicode());
        } else {
            shown.push(c);
        }
    }
    Value::from_safe_string(HtmlEscape(&shown).to_string())
}
