//! Measuring, breaking and shortening text, with the one face we draw in.

use std::sync::OnceLock;

use plotters::style::{FontFamily, FontStyle, IntoFont, register_font};

use crate::error::{Error, Result};

/// The family name the fonts are registered under.
pub(super) const FAMILY: &str = "sans-serif";
/// plotters' text size is the line height; this is its ratio to the em.
pub(super) const SIZE_PER_EM: f64 = 1.24;
/// Height of a line of text, in ems.
pub(super) const LINE: f64 = 1.3;

/// Register the face once; every text fails before that.
pub(super) fn prepare() -> Result<()> {
    static DONE: OnceLock<bool> = OnceLock::new();
    let done = DONE.get_or_init(|| {
        let normal = register_font(FAMILY, FontStyle::Normal, dejavu::sans::regular());
        let bold = register_font(FAMILY, FontStyle::Bold, dejavu::sans::bold());
        normal.is_ok() && bold.is_ok()
    });
    if *done {
        Ok(())
    } else {
        Err(Error::render("the built-in font cannot be read"))
    }
}

/// Width of one line of text at `size` units an em. A little generous, so
/// that other faces of the same kind fit too.
pub(super) fn width(text: &str, size: f64, bold: bool) -> f64 {
    const FINE: f64 = 100.0;
    let style = if bold {
        FontStyle::Bold
    } else {
        FontStyle::Normal
    };
    let font = (FontFamily::Name(FAMILY), FINE * SIZE_PER_EM, style).into_font();
    let measured = font.box_size(text).map_or(0, |(width, _)| width);
    f64::from(measured) / FINE * size
}

/// Break a text into lines no wider than `room`. Words longer than a line
/// are broken inside.
pub(super) fn wrap(text: &str, size: f64, bold: bool, room: f64) -> Vec<String> {
    let fits = |line: &str| width(line, size, bold) <= room;
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if fits(&longer) {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        line = break_word(word, &fits, &mut lines);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// Push the full lines of a long word, and give back what is left of it.
fn break_word(word: &str, fits: &impl Fn(&str) -> bool, lines: &mut Vec<String>) -> String {
    let mut line = String::new();
    if fits(word) {
        return word.to_owned();
    }
    for letter in word.chars() {
        line.push(letter);
        if !fits(&line) {
            line.pop();
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line.push(letter);
        }
    }
    line
}

/// At most `most` lines, the last one ending in an ellipsis if text was lost.
pub(super) fn wrap_at_most(
    text: &str,
    size: f64,
    bold: bool,
    room: f64,
    most: usize,
) -> Vec<String> {
    // No letter is narrower than a fifth of an em, so more than this never fits.
    let letters = room.max(size) / (0.2 * size) * (most as f64 + 1.0);
    let start: String = text
        .chars()
        .zip(0..)
        .take_while(|(_, n)| f64::from(*n) < letters)
        .map(|(c, _)| c)
        .collect();
    let mut lines = wrap(&start, size, bold, room);
    let cut = start.len() < text.len();
    if lines.len() > most || cut {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            *last = shorten(&format!("{last}…"), size, bold, room);
        }
    }
    lines
}

/// The text, cut with an ellipsis when wider than `room`.
pub(super) fn shorten(text: &str, size: f64, bold: bool, room: f64) -> String {
    if width(text, size, bold) <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    for letter in text.chars() {
        kept.push(letter);
        if width(&format!("{kept}…"), size, bold) > room {
            kept.pop();
            break;
        }
    }
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_fit_and_lose_no_letter() {
        assert!(prepare().is_ok());
        let text = "short words and Donaudampfschifffahrtselektrizitätenhauptbetriebswerk";
        let lines = wrap(text, 13.0, false, 120.0);
        assert!(lines.iter().all(|line| width(line, 13.0, false) <= 120.0));
        let joined: String = lines.concat().split(' ').collect();
        assert_eq!(joined, text.split(' ').collect::<String>());
    }

    #[test]
    fn shortened_text_fits() {
        assert!(prepare().is_ok());
        let long = "m".repeat(10_000);
        let short = shorten(&long, 13.0, true, 90.0);
        assert!(short.ends_with('…') && width(&short, 13.0, true) <= 90.0);
        assert_eq!(wrap_at_most(&long, 13.0, false, 90.0, 2).len(), 2);
        assert_eq!(shorten("EPDM", 13.0, false, 90.0), "EPDM");
    }
}
