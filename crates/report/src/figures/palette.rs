//! Colours by meaning, each in a light and a dark form.
//!
//! The group colours are those of Okabe & Ito, "Color Universal Design"
//! (2008), without black and yellow; text beside a curve takes a darker form
//! of the same hue, so that it keeps a contrast of 4.5 to 1 on white. The
//! dark forms are our own.

use std::fmt::Write as _;

use crate::chart::Tone;

/// What is painted with a tone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Paint {
    /// Lines, marks and fills.
    Tone(Tone),
    /// Text in a tone.
    Text(Tone),
    /// Axes and ticks.
    Axis,
    /// The ground.
    Paper,
}

type Rgb = (u8, u8, u8);

/// Line colour, text colour and dark-mode colour of each group.
const GROUPS: [(Rgb, Rgb, Rgb); 6] = [
    ((0x00, 0x72, 0xB2), (0x00, 0x5B, 0x8E), (0x5A, 0xB4, 0xEA)),
    ((0xD5, 0x5E, 0x00), (0xA6, 0x49, 0x00), (0xFF, 0x9A, 0x4D)),
    ((0x00, 0x9E, 0x73), (0x00, 0x73, 0x54), (0x3D, 0xC9, 0xA0)),
    ((0xCC, 0x79, 0xA7), (0x9A, 0x48, 0x76), (0xE6, 0x9B, 0xC5)),
    ((0xE6, 0x9F, 0x00), (0x85, 0x5C, 0x00), (0xF2, 0xB9, 0x3B)),
    ((0x56, 0xB4, 0xE9), (0x1F, 0x6F, 0x9F), (0x8F, 0xD0, 0xF7)),
];
const INK: (Rgb, Rgb) = ((0x1B, 0x1B, 0x1B), (0xEC, 0xEA, 0xE6));
const AXIS: (Rgb, Rgb) = ((0x4A, 0x4A, 0x4A), (0xA8, 0xA6, 0xA1));
const MUTED: (Rgb, Rgb) = ((0x66, 0x66, 0x66), (0xB3, 0xB0, 0xAA));
const PAPER: (Rgb, Rgb) = ((0xFF, 0xFF, 0xFF), (0x17, 0x18, 0x1A));

fn group(n: usize) -> (Rgb, Rgb, Rgb) {
    let [first, ..] = GROUPS;
    GROUPS.get(n % GROUPS.len()).copied().unwrap_or(first)
}

impl Paint {
    /// The colour on a light ground.
    pub fn light(self) -> Rgb {
        match self {
            Self::Tone(Tone::Group(n)) => group(n).0,
            Self::Text(Tone::Group(n)) => group(n).1,
            Self::Tone(Tone::Ink) | Self::Text(Tone::Ink) => INK.0,
            Self::Tone(Tone::Muted) | Self::Text(Tone::Muted) => MUTED.0,
            Self::Axis => AXIS.0,
            Self::Paper => PAPER.0,
        }
    }
}

/// CSS rules that turn every colour into its dark form, for elements under
/// `selector`, with the media query around them.
pub(crate) fn dark_rules(selector: &str) -> String {
    let mut css = String::from("@media screen and (prefers-color-scheme:dark){\n");
    let groups = GROUPS
        .iter()
        .flat_map(|(line, text, dark)| [(line, dark), (text, dark)]);
    let plain = [&INK, &AXIS, &MUTED, &PAPER].map(|pair| (&pair.0, &pair.1));
    for (light, dark) in groups.chain(plain) {
        let (light, dark) = (hex(*light), hex(*dark));
        let _ = writeln!(
            css,
            "{selector} [fill=\"{light}\"]{{fill:{dark}}}{selector} [stroke=\"{light}\"]{{stroke:{dark}}}"
        );
    }
    css.push('}');
    css
}

fn hex((r, g, b): Rgb) -> String {
    format!("#{r:02X}{g:02X}{b:02X}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio, WCAG 2.1 definitions.
    fn luminance((r, g, b): Rgb) -> f64 {
        let part = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.03928 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b)
    }

    fn contrast(a: Rgb, b: Rgb) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_can_be_read_on_both_grounds() {
        for (_, text, dark) in GROUPS {
            assert!(contrast(text, PAPER.0) >= 4.5, "{}", hex(text));
            assert!(contrast(dark, PAPER.1) >= 4.5, "{}", hex(dark));
        }
        for (light, dark) in [INK, AXIS, MUTED] {
            assert!(contrast(light, PAPER.0) >= 4.5);
            assert!(contrast(dark, PAPER.1) >= 4.5);
        }
    }
}
