//! A set page to the bytes of a PDF: tagged, its fonts embedded, without a date.

use super::content::Sheet;
use super::face::Face;
use super::glyphs::Used;
use super::piece::{Mark, Piece};
use super::tags::Tags;
use super::{PAGE, Words};
use crate::error::{Error, Result};
use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{CidFontType, FontFlags, StructRole, SystemInfo, TabOrder, UnicodeCmap};
use pdf_writer::writers::StructTreeRoot;
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use rustybuzz::ttf_parser::GlyphId;
use sha2::{Digest, Sha256};

/// How hard streams are compressed, of 10.
const EFFORT: u8 = 6;
const ADOBE: SystemInfo = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};

/// The bytes of one page.
pub(super) fn pdf(words: &Words, adorn: &[Mark], pieces: &[Piece]) -> Result<Vec<u8>> {
    let mut next = Ref::new(1);
    let [catalog, tree, page, content, structure, root, parents, info] =
        std::array::from_fn(|_| next.bump());
    let mut sheet = Sheet::new();
    sheet.adorn(adorn)?;
    pieces.iter().try_for_each(|p| sheet.piece(p))?;
    let mut pdf = Pdf::new();
    pdf.set_version(1, 7);
    about(&mut pdf, info, words);
    top(&mut pdf, catalog, tree, structure);
    pdf.pages(tree).kids([page]).count(1);
    let mut own = pdf.page(page);
    own.media_box(Rect::new(0.0, 0.0, PAGE.0, PAGE.1))
        .parent(tree)
        .contents(content)
        .struct_parents(0)
        .tab_order(TabOrder::StructureOrder);
    let mut resources = own.resources();
    let mut names = resources.fonts();
    let fonts: Vec<(Face, Ref)> = sheet.fonts.0.keys().map(|f| (*f, next.bump())).collect();
    for (face, id) in &fonts {
        names.pair(Name(face.name().as_bytes()), *id);
    }
    names.finish();
    let mut states = resources.ext_g_states();
    for percent in &sheet.opacities {
        let name = format!("O{percent}");
        let mut state = states.insert(Name(name.as_bytes())).dict();
        state.pair(Name(b"ca"), f32::from(*percent) / 100.0);
    }
    states.finish();
    resources.finish();
    own.finish();
    let operators = sheet.content.finish();
    let operators = compress_to_vec_zlib(&operators, EFFORT);
    pdf.stream(content, &operators).filter(Filter::FlateDecode);
    tags(
        &mut pdf,
        [structure, root, parents, page],
        pieces,
        &mut next,
    );
    for ((face, used), (_, id)) in sheet.fonts.0.iter().zip(fonts) {
        font(&mut pdf, (*face, used), id, &mut next)?;
    }
    let id = Sha256::digest(&operators).to_vec();
    pdf.set_file_id((id.clone(), id));
    Ok(pdf.finish())
}

fn about(pdf: &mut Pdf, id: Ref, words: &Words) {
    let program = format!("sealspan {}", env!("CARGO_PKG_VERSION"));
    pdf.document_info(id)
        .title(TextStr(&words.title))
        .subject(TextStr(&words.about))
        .creator(TextStr(&program))
        .producer(TextStr(&program));
}

fn top(pdf: &mut Pdf, id: Ref, tree: Ref, structure: Ref) {
    let mut catalog = pdf.catalog(id);
    catalog.pages(tree).lang(TextStr("en"));
    catalog.viewer_preferences().display_doc_title(true);
    catalog.mark_info().marked(true);
    catalog.pair(Name(b"StructTreeRoot"), structure);
}

/// The tree of what the pieces mean, and which element each marked piece belongs to.
fn tags(
    pdf: &mut Pdf,
    [structure, root, parents, page]: [Ref; 4],
    pieces: &[Piece],
    next: &mut Ref,
) {
    let mut whole = pdf.indirect(structure).start::<StructTreeRoot>();
    whole.child(root).parent_tree_next_key(1);
    whole.parent_tree().nums().insert(0, parents);
    whole.finish();
    let mut tags = Tags::new(page);
    let tops: Vec<Ref> = pieces.iter().map(|p| tags.piece(p, root, next)).collect();
    let mut document = tags.chunk.struct_element(root);
    document
        .kind(StructRole::Document)
        .parent(structure)
        .lang(TextStr("en"));
    let mut children = document.children();
    for id in tops {
        children.struct_element(id);
    }
    children.finish();
    document.finish();
    pdf.extend(&tags.chunk);
    pdf.indirect(parents).array().items(tags.marked);
}

/// One font: only the glyphs used, their widths and what text each stands for.
fn font(pdf: &mut Pdf, (face, used): (Face, &Used), id: Ref, next: &mut Ref) -> Result<()> {
    let [cid, descriptor, cmap, file] = std::array::from_fn(|_| next.bump());
    let read = face.read()?;
    let subset = subsetter::subset(face.bytes(), 0, &used.remapper).map_err(Error::render)?;
    let name = format!("{}+{}", prefix(&subset), face.name());
    let name = Name(name.as_bytes());
    pdf.type0_font(id)
        .base_font(name)
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(cid)
        .to_unicode(cmap);
    let em = read.units_per_em() as f32;
    let thousandths = |units: f32| units * 1000.0 / em;
    let mut font = pdf.cid_font(cid);
    font.subtype(CidFontType::Type2)
        .base_font(name)
        .system_info(ADOBE)
        .font_descriptor(descriptor)
        .default_width(0.0)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    let mut widths = font.widths();
    let mut text = UnicodeCmap::new(Name(b"Custom"), ADOBE);
    for (glyph, (old, own)) in &used.glyphs {
        let width = read.glyph_hor_advance(GlyphId(*old)).unwrap_or(0);
        widths.consecutive(*glyph, [thousandths(f32::from(width))]);
        if !own.is_empty() {
            text.pair_with_multiple(*glyph, own.chars());
        }
    }
    widths.finish();
    font.finish();
    let serif = matches!(face, Face::Serif | Face::SerifBold);
    let flags = match serif {
        true => FontFlags::SYMBOLIC | FontFlags::SERIF,
        false => FontFlags::SYMBOLIC,
    };
    let bounds = read.global_bounding_box();
    let [left, bottom, right, top] = [bounds.x_min, bounds.y_min, bounds.x_max, bounds.y_max]
        .map(|units| thousandths(f32::from(units)));
    pdf.font_descriptor(descriptor)
        .name(name)
        .flags(flags)
        .bbox(Rect::new(left, bottom, right, top))
        .italic_angle(0.0)
        .ascent(thousandths(f32::from(read.ascender())))
        .descent(thousandths(f32::from(read.descender())))
        .cap_height(thousandths(f32::from(read.capital_height().unwrap_or(0))))
        .stem_v(80.0)
        .font_file2(file);
    pdf.cmap(cmap, &text.finish());
    let packed = compress_to_vec_zlib(&subset, EFFORT);
    pdf.stream(file, &packed).filter(Filter::FlateDecode).pair(
        Name(b"Length1"),
        i32::try_from(subset.len()).unwrap_or(i32::MAX),
    );
    Ok(())
}

/// Six letters that tell subsets of one font apart.
fn prefix(subset: &[u8]) -> String {
    let hash = Sha256::digest(subset);
    hash.iter()
        .take(6)
        .map(|b| char::from(b'A' + b % 26))
        .collect()
}
