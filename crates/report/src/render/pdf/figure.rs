//! A figure as vectors, drawn from the same shapes as its SVG.

use super::face::{Face, drawable};
use super::piece::{Ink, Mark, Piece, Role, Set};
use super::set::{self, Style};
use super::{LEFT, WIDTH};
use crate::chart::Chart;
use crate::error::Result;
use crate::figures::{Drawn, Look, Width, drawn};

const CAPTION: Style = Style {
    face: Face::SansBold,
    size: 7.5,
    line: 10.0,
    ink: Ink::Black,
};

/// The figure with its finding above and its notes below.
pub(super) fn set(chart: &Chart) -> Result<Set> {
    let mut caption = vec![];
    let mut down = 4.0;
    down += CAPTION.write(&chart.title, (LEFT, down), WIDTH, 2, &mut caption) + 3.0;
    let drawing = drawn(chart, &Look::inline(Width::Sheet))?;
    let scale = f64::from(WIDTH) / drawing.width;
    let marks = drawing.shapes.iter().map(|s| mark(s, scale, down));
    let picture = Piece::leaf(Role::Figure(chart.alt.clone()), marks.flatten().collect());
    #[expect(clippy::cast_possible_truncation, reason = "a page length is small")]
    {
        down += (drawing.height * scale) as f32;
    }
    let mut notes = vec![];
    for text in &chart.notes {
        down += set::note(text, down, 2, &mut notes);
    }
    Ok(Set {
        pieces: vec![
            Piece::leaf(Role::Paragraph, caption),
            picture,
            Piece::leaf(Role::Paragraph, notes),
        ],
        adorn: vec![],
        height: down + 6.0,
    })
}

/// A shape of the drawing in points.
#[expect(clippy::cast_possible_truncation, reason = "page lengths are small")]
fn mark(shape: &Drawn, scale: f64, down: f32) -> Option<Mark> {
    let place = |(x, y): (f64, f64)| (LEFT + (x * scale) as f32, down + (y * scale) as f32);
    let length = |l: f64| (l * scale) as f32;
    let own = |(r, g, b): (u8, u8, u8)| Ink::Own(r, g, b);
    Some(match shape {
        Drawn::Line {
            points,
            colour,
            width,
            dash,
            closed,
        } => Mark::Stroke {
            points: points.iter().map(|p| place(*p)).collect(),
            closed: *closed,
            width: length(*width),
            ink: own(*colour),
            dash: dash.iter().map(|d| length(*d)).collect(),
        },
        Drawn::Area {
            points,
            colour,
            opacity,
        } => Mark::Area {
            points: points.iter().map(|p| place(*p)).collect(),
            ink: own(*colour),
            opacity: *opacity as f32,
        },
        Drawn::Disc {
            centre,
            radius,
            colour,
        } => Mark::Disc {
            centre: place(*centre),
            radius: length(*radius),
            ink: own(*colour),
        },
        Drawn::Word {
            text,
            at,
            size,
            bold,
            anchor,
            colour,
        } => {
            let face = if *bold { Face::SansBold } else { Face::Sans };
            let text = drawable(face, text);
            let size = length(*size);
            let (x, y) = place(*at);
            let width = face.width(&text, size);
            Mark::Word {
                face,
                size,
                ink: own(*colour),
                at: (x - *anchor as f32 * width, y + size * 0.36),
                // A blank keeps labels apart when the page is read out.
                text: format!("{text} "),
            }
        }
    })
}
