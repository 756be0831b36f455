//! The faces of a page, measured and broken into lines.

use crate::error::{Error, Result};
use crate::visible::acts;
use rustybuzz::Face as Metrics;
use std::sync::OnceLock;

/// A face: serif for reading, sans for tables, heads and notes, as on the screen page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Face {
    Serif,
    SerifBold,
    Sans,
    SansBold,
}

impl Face {
    /// The font file.
    pub fn bytes(self) -> &'static [u8] {
        match self {
            Self::Serif => dejavu::serif::regular(),
            Self::SerifBold => dejavu::serif::bold(),
            Self::Sans => dejavu::sans::regular(),
            Self::SansBold => dejavu::sans::bold(),
        }
    }

    /// The font's name as PDF writes it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Serif => "DejaVuSerif",
            Self::SerifBold => "DejaVuSerif-Bold",
            Self::Sans => "DejaVuSans",
            Self::SansBold => "DejaVuSans-Bold",
        }
    }

    /// The font file read, once.
    fn metrics(self) -> Option<&'static Metrics<'static>> {
        static READ: [OnceLock<Option<Metrics<'static>>>; 4] = [const { OnceLock::new() }; 4];
        let slot = READ.get(self as usize)?;
        slot.get_or_init(|| Metrics::from_slice(self.bytes(), 0))
            .as_ref()
    }

    /// The font as read.
    pub fn read(self) -> Result<&'static Metrics<'static>> {
        self.metrics()
            .ok_or_else(|| Error::render("a built-in font cannot be read"))
    }

    /// Whether the face has a letter.
    fn has(self, letter: char) -> bool {
        self.metrics()
            .is_some_and(|m| m.glyph_index(letter).is_some())
    }

    fn advance(self, letter: char) -> f32 {
        let found = self.metrics().and_then(|m| {
            let glyph = m.glyph_index(letter)?;
            Some(f32::from(m.glyph_hor_advance(glyph)?) / m.units_per_em() as f32)
        });
        found.unwrap_or(0.6)
    }

    /// Width of a line, in points.
    pub fn width(self, text: &str, size: f32) -> f32 {
        text.chars().map(|c| self.advance(c)).sum::<f32>() * size
    }

    /// A text in at most `most` lines no wider than `room`; words longer than a line are broken inside, and the last
    /// line ends in an ellipsis where text was left out.
    pub fn lines(self, text: &str, size: f32, room: f32, most: usize) -> Vec<String> {
        let fits = |line: &str| self.width(line, size) <= room;
        let mut lines: Vec<String> = vec![];
        let mut line = String::new();
        let mut cut = false;
        for word in text.split(' ').filter(|w| !w.is_empty()) {
            if lines.len() > most {
                cut = true;
                break;
            }
            let longer = match line.is_empty() {
                true => word.to_owned(),
                false => format!("{line} {word}"),
            };
            if longer.len() < LONGEST && fits(&longer) {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line = self.broken(word, size, room, most + 1, &mut lines);
        }
        if !line.is_empty() {
            lines.push(line);
        }
        if lines.len() > most || cut {
            lines.truncate(most);
            if let Some(last) = lines.last_mut() {
                *last = self.ended(last, size, room);
            }
        }
        lines
    }

    /// Pushes the full lines of a long word, as far as they are wanted; gives back the rest.
    fn broken(
        self,
        word: &str,
        size: f32,
        room: f32,
        most: usize,
        out: &mut Vec<String>,
    ) -> String {
        let (mut line, mut width) = (String::new(), 0.0);
        for letter in word.chars() {
            let step = self.advance(letter) * size;
            if width + step > room && !line.is_empty() {
                out.push(std::mem::take(&mut line));
                width = 0.0;
                if out.len() > most {
                    return line;
                }
            }
            line.push(letter);
            width += step;
        }
        line
    }

    /// The line with an ellipsis at its end, cut as far as that needs.
    fn ended(self, line: &str, size: f32, room: f32) -> String {
        let mut kept = line.trim_end_matches('…').to_owned();
        while !kept.is_empty() && self.width(&kept, size) + self.width("…", size) > room {
            kept.pop();
        }
        format!("{}…", kept.trim_end())
    }
}

/// No line holds more bytes than this.
const LONGEST: usize = 600;

/// More letters than the lines of any text on a sheet hold.
const ENOUGH: usize = 3_000;

/// Whether the face lacks a letter of the text, marks and controls apart.
pub(super) fn lacks(face: Face, text: &str) -> bool {
    text.chars().any(|c| !acts(c) && !face.has(c))
}

/// The text as it can be drawn: what acts, and letters that the face lacks, as their codes, such as `\u{202e}`.
pub(super) fn drawable(face: Face, text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars().take(ENOUGH) {
        if acts(c) || !face.has(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_fit_and_say_when_they_are_cut() {
        let text = format!("{} and a word", "m".repeat(10_000));
        let lines = Face::Serif.lines(&text, 9.5, 200.0, 3);
        assert_eq!(lines.len(), 3);
        assert!(lines.iter().all(|l| Face::Serif.width(l, 9.5) <= 200.0));
        assert!(lines.last().is_some_and(|l| l.ends_with('…')));
        let whole = Face::Sans.lines("two short words", 9.0, 60.0, 5);
        assert_eq!(whole.join(" "), "two short words");
    }

    #[test]
    fn what_cannot_be_drawn_stands_as_its_code() {
        let text = "a\u{202e}b\nc漢\u{1b}";
        assert_eq!(
            drawable(Face::Serif, text),
            "a\\u{202e}b\\u{a}c\\u{6f22}\\u{1b}"
        );
        assert!(lacks(Face::Serif, text) && !lacks(Face::Serif, "a\u{202e}b\nc"));
    }
}
