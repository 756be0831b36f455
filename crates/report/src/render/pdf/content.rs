//! Marks to the operators of a page's content.

use super::glyphs::Fonts;
use super::piece::{Ink, Mark, Piece};
use super::{PAGE, face::Face};
use crate::error::Result;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Name, Str};
use std::collections::BTreeSet;

/// Handle length of a quarter circle drawn as a cubic curve.
const HANDLE: f32 = 0.552_285;

/// A page's content as it grows.
pub(super) struct Sheet {
    pub content: Content,
    pub fonts: Fonts,
    /// Opacities used, in per cent.
    pub opacities: BTreeSet<u8>,
    /// Pieces marked so far.
    marked: i32,
}

impl Sheet {
    pub fn new() -> Self {
        Self {
            content: Content::new(),
            fonts: Fonts::default(),
            opacities: BTreeSet::new(),
            marked: 0,
        }
    }

    /// What only adorns the page.
    pub fn adorn(&mut self, marks: &[Mark]) -> Result<()> {
        self.content.begin_marked_content(Name(b"Artifact"));
        marks.iter().try_for_each(|m| self.draw(m))?;
        self.content.end_marked_content();
        Ok(())
    }

    /// A piece's own marks and then its parts', each under the next number.
    pub fn piece(&mut self, piece: &Piece) -> Result<()> {
        if !piece.marks.is_empty() {
            self.content
                .begin_marked_content_with_properties(Name(b"Span"))
                .properties()
                .identify(self.marked);
            self.marked += 1;
            piece.marks.iter().try_for_each(|m| self.draw(m))?;
            self.content.end_marked_content();
        }
        piece.parts.iter().try_for_each(|p| self.piece(p))
    }

    fn draw(&mut self, mark: &Mark) -> Result<()> {
        match mark {
            Mark::Word {
                text,
                face,
                size,
                ink,
                at,
            } => return self.write(text, (*face, *size), *ink, *at),
            Mark::Area {
                points,
                ink,
                opacity,
            } => self.area(points, *ink, *opacity),
            Mark::Disc {
                centre,
                radius,
                ink,
            } => self.disc(*centre, *radius, *ink),
            Mark::Stroke {
                points,
                closed,
                width,
                ink,
                dash,
            } => {
                let [r, g, b] = rgb(*ink);
                self.content
                    .set_stroke_rgb(r, g, b)
                    .set_line_width(width.max(0.0))
                    .set_line_cap(LineCapStyle::ButtCap)
                    .set_line_join(LineJoinStyle::RoundJoin)
                    .set_dash_pattern(dash.iter().copied(), 0.0);
                self.outline(points);
                if *closed {
                    self.content.close_and_stroke();
                } else {
                    self.content.stroke();
                }
            }
        }
        Ok(())
    }

    fn outline(&mut self, points: &[(f32, f32)]) {
        for (i, (x, y)) in points.iter().enumerate() {
            if i == 0 {
                self.content.move_to(*x, up(*y));
            } else {
                self.content.line_to(*x, up(*y));
            }
        }
    }

    fn area(&mut self, points: &[(f32, f32)], ink: Ink, opacity: f32) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "from 0 to 100"
        )]
        let percent = (opacity.clamp(0.0, 1.0) * 100.0).round() as u8;
        self.opacities.insert(percent);
        let [r, g, b] = rgb(ink);
        let state = format!("O{percent}");
        self.content.save_state();
        self.content.set_parameters(Name(state.as_bytes()));
        self.content.set_fill_rgb(r, g, b);
        self.outline(points);
        self.content.close_path().fill_nonzero();
        self.content.restore_state();
    }

    fn disc(&mut self, (x, y): (f32, f32), r: f32, ink: Ink) {
        let (y, h) = (up(y), r * HANDLE);
        let [red, green, blue] = rgb(ink);
        self.content
            .set_fill_rgb(red, green, blue)
            .move_to(x + r, y)
            .cubic_to(x + r, y + h, x + h, y + r, x, y + r)
            .cubic_to(x - h, y + r, x - r, y + h, x - r, y)
            .cubic_to(x - r, y - h, x - h, y - r, x, y - r)
            .cubic_to(x + h, y - r, x + r, y - h, x + r, y)
            .close_path()
            .fill_nonzero();
    }

    fn write(
        &mut self,
        text: &str,
        (face, size): (Face, f32),
        ink: Ink,
        (x, y): (f32, f32),
    ) -> Result<()> {
        let glyphs = self.fonts.line(face, text)?;
        let [r, g, b] = rgb(ink);
        self.content.set_fill_rgb(r, g, b).begin_text();
        self.content
            .set_font(Name(face.name().as_bytes()), size)
            .set_text_matrix([1.0, 0.0, 0.0, 1.0, x, up(y)]);
        let mut positioned = self.content.show_positioned();
        let mut items = positioned.items();
        let mut run = vec![];
        for glyph in glyphs {
            run.extend(glyph.id.to_be_bytes());
            if glyph.kern.abs() > 0.01 {
                items.show(Str(&run)).adjust(-glyph.kern);
                run.clear();
            }
        }
        if !run.is_empty() {
            items.show(Str(&run));
        }
        drop(items);
        drop(positioned);
        self.content.end_text();
        Ok(())
    }
}

/// Heights grow upwards in PDF.
fn up(y: f32) -> f32 {
    PAGE.1 - y
}

fn rgb(ink: Ink) -> [f32; 3] {
    let (r, g, b) = ink.rgb();
    [r, g, b].map(|c| f32::from(c) / 255.0)
}
