//! Text to glyphs of the embedded fonts.

use super::face::Face;
use crate::error::{Error, Result};
use rustybuzz::{Direction, UnicodeBuffer};
use std::collections::BTreeMap;
use subsetter::GlyphRemapper;
use unicode_bidi::{BidiInfo, Level};

/// A glyph in its place on a line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Glyph {
    /// Its number in the embedded font.
    pub id: u16,
    /// How far it moves the pen beyond its own width, thousandths of an em.
    pub kern: f32,
}

/// What a document uses of one font.
#[derive(Default)]
pub(super) struct Used {
    pub remapper: GlyphRemapper,
    /// Number in the embedded font: number in the font file, and the text it stands for.
    pub glyphs: BTreeMap<u16, (u16, String)>,
}

/// What a document uses of all fonts.
#[derive(Default)]
pub(super) struct Fonts(pub BTreeMap<Face, Used>);

impl Fonts {
    /// The glyphs of a line, from left to right.
    pub fn line(&mut self, face: Face, text: &str) -> Result<Vec<Glyph>> {
        let used = self.0.entry(face).or_default();
        let bidi = BidiInfo::new(text, Some(Level::ltr()));
        let mut out = vec![];
        for paragraph in &bidi.paragraphs {
            let (levels, runs) = bidi.visual_runs(paragraph, paragraph.range.clone());
            for run in runs {
                let rtl = levels.get(run.start).is_some_and(Level::is_rtl);
                let part = text.get(run).unwrap_or_default();
                out.extend(used.run(face, part, rtl)?);
            }
        }
        Ok(out)
    }
}

impl Used {
    /// A run of one direction.
    fn run(&mut self, face: Face, text: &str, rtl: bool) -> Result<Vec<Glyph>> {
        let font = face.read()?;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        buffer.set_direction(match rtl {
            true => Direction::RightToLeft,
            false => Direction::LeftToRight,
        });
        let shaped = rustybuzz::shape(font, &[], buffer);
        let mut starts: Vec<u32> = shaped.glyph_infos().iter().map(|g| g.cluster).collect();
        starts.sort_unstable();
        starts.dedup();
        let mut out = vec![];
        for (info, position) in shaped.glyph_infos().iter().zip(shaped.glyph_positions()) {
            let old = u16::try_from(info.glyph_id).map_err(Error::render)?;
            let id = self.remapper.remap(old);
            let after = starts.iter().find(|s| **s > info.cluster);
            let from = info.cluster as usize;
            let to = after.map_or(text.len(), |s| *s as usize);
            let own = text.get(from..to).unwrap_or_default();
            self.glyphs
                .entry(id)
                .or_insert_with(|| (old, own.to_owned()));
            let em = font.units_per_em() as f32;
            let width = font.glyph_hor_advance(rustybuzz::ttf_parser::GlyphId(old));
            let moved = position.x_advance as f32 - f32::from(width.unwrap_or(0));
            out.push(Glyph {
                id,
                kern: moved * 1000.0 / em,
            });
        }
        Ok(out)
    }
}
