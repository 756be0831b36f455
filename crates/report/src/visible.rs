//! Names from the data, made safe to show where a character could act: in a terminal, in a notebook, on a page.

/// Whether a character shows nothing and only steers the direction of what stands beside it.
#[must_use]
fn steers(c: char) -> bool {
    matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Whether a character would act instead of being shown: controls, line and paragraph separators, marks of direction.
///
/// ```
/// use sealspan_report::visible::acts;
/// assert!(acts('\u{1b}') && acts('\u{202e}')); // escape; right-to-left override
/// assert!(!acts('é'));
/// ```
#[must_use]
pub fn acts(c: char) -> bool {
    c.is_control() || steers(c) || matches!(c, '\u{2028}' | '\u{2029}')
}

/// The text with every character that acts written as its code, such as `\u{1b}`; nothing is lost.
///
/// ```
/// assert_eq!(sealspan_report::visible::visible("a\u{1b}[31m\n"), "a\\u{1b}[31m\\u{a}");
/// ```
#[must_use]
pub fn visible(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        if acts(c) {
            shown.extend(c.escape_unicode());
        } else {
            shown.push(c);
        }
    }
    shown
}
