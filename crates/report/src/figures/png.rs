//! SVG to PNG with resvg, in the built-in face.

use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use crate::error::{Error, Result};

/// A PNG image of an SVG figure, `scale` pixels to a figure unit.
///
/// Letters that the built-in face lacks (it has no emoji and no Chinese) are
/// left out of the image; the SVG keeps them.
///
/// # Errors
/// When the SVG cannot be read or is too large for an image.
pub fn png(svg: &str, scale: f32) -> Result<Vec<u8>> {
    let options = Options {
        font_family: "DejaVu Sans".to_owned(),
        fontdb: fonts(),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(Error::render)?;
    let size = tree
        .size()
        .to_int_size()
        .scale_by(scale)
        .ok_or_else(|| Error::render("the image would have no size"))?;
    let mut pixels = Pixmap::new(size.width(), size.height())
        .ok_or_else(|| Error::render("the image would be too large"))?;
    resvg::render(
        &tree,
        Transform::from_scale(scale, scale),
        &mut pixels.as_mut(),
    );
    encode(&pixels).map_err(Error::render)
}

/// Three bytes a pixel over white: a figure is for paper, and this is a third
/// of the size.
fn encode(pixels: &Pixmap) -> std::result::Result<Vec<u8>, png::EncodingError> {
    let mut rows = Vec::with_capacity(pixels.pixels().len() * 3);
    for pixel in pixels.pixels() {
        // Colours are premultiplied, so white shows through by what is left.
        let white = u8::MAX - pixel.alpha();
        rows.extend([pixel.red(), pixel.green(), pixel.blue()].map(|c| c.saturating_add(white)));
    }
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Default);
    encoder.set_filter(png::FilterType::Up);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&rows)?;
    writer.finish()?;
    Ok(file)
}

/// The built-in fonts, read once.
fn fonts() -> Arc<fontdb::Database> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let fonts = FONTS.get_or_init(|| {
        let mut fonts = fontdb::Database::new();
        fonts.load_font_data(dejavu::sans::regular().to_vec());
        fonts.load_font_data(dejavu::sans::bold().to_vec());
        fonts.set_sans_serif_family("DejaVu Sans");
        Arc::new(fonts)
    });
    Arc::clone(fonts)
}
