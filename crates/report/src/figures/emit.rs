//! The display list to SVG, through plotters' SVG backend.
//!
//! The backend has whole-number coordinates only, so everything is drawn
//! [`FINE`] times larger and the view box scales it back. It has neither
//! dashes nor a title, and it repeats the font on every text: those are set
//! in the finished text, which holds no user's quote unescaped.

use std::fmt::Write as _;

use plotters::backend::SVGBackend;
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{Circle, PathElement, Polygon, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{FontFamily, FontStyle, IntoFont, RGBAColor, ShapeStyle, TextStyle};

use super::Look;
use super::page::Page;
use super::palette::{Paint, dark_rules};
use super::shape::{Anchor, Pen, Point, Shape, Word};
use super::text::{FAMILY, SIZE_PER_EM};
use crate::chart::{Chart, Dash};
use crate::error::{Error, Result};
use crate::visible::visible;

/// Backend units in one figure unit.
pub(super) const FINE: f64 = 8.0;
/// The faces asked for, the first one installed is used.
const FACES: &str =
    "system-ui, -apple-system, 'Segoe UI', Helvetica, Arial, 'DejaVu Sans', sans-serif";

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

/// The SVG text of a finished page.
pub(super) fn svg(chart: &Chart, page: &Page, look: &Look) -> Result<String> {
    let failed = |reason: String| Error::figure(&chart.id, reason);
    let mut body = String::new();
    {
        let area = SVGBackend::with_string(&mut body, (fine(page.width), fine(page.height)))
            .into_drawing_area();
        for shape in &page.sketch.shapes {
            draw(&area, shape).map_err(&failed)?;
        }
        area.present().map_err(|e| failed(e.to_string()))?;
    }
    let inner = body
        .split_once(">\n")
        .map(|(_, rest)| tidy(rest))
        .ok_or_else(|| failed("the drawing came out empty".to_owned()))?;
    Ok(format!("{}{inner}", head(chart, page, look)))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "page lengths are small and positive"
)]
fn fine(length: f64) -> u32 {
    (length * FINE).round() as u32
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "clipped to the page, so small; the cast saturates"
)]
fn place((x, y): Point) -> (i32, i32) {
    ((x * FINE).round() as i32, (y * FINE).round() as i32)
}

fn colour(paint: Paint, opacity: f64) -> RGBAColor {
    let (r, g, b) = paint.light();
    RGBAColor(r, g, b, opacity)
}

/// The opacity that stands for a dash until [`tidy`] writes the pattern.
fn code(dash: Dash) -> f64 {
    match dash {
        Dash::Solid => 1.0,
        Dash::Dashed => 0.999_1,
        Dash::Dotted => 0.999_2,
        Dash::DashDot => 0.999_3,
    }
}

fn style(pen: Pen) -> ShapeStyle {
    ShapeStyle {
        color: colour(pen.paint, code(pen.dash)),
        filled: false,
        stroke_width: fine(pen.width),
    }
}

fn draw(area: &Area, shape: &Shape) -> std::result::Result<(), String> {
    let places = |points: &[Point]| points.iter().map(|p| place(*p)).collect::<Vec<_>>();
    let done = match shape {
        Shape::Path(points, pen) => area.draw(&PathElement::new(places(points), style(*pen))),
        Shape::Area {
            points,
            paint,
            opacity,
        } => area.draw(&Polygon::new(places(points), colour(*paint, *opacity))),
        Shape::Disc {
            centre,
            radius,
            paint,
        } => {
            let fill = ShapeStyle::from(colour(*paint, 1.0)).filled();
            area.draw(&Circle::new(place(*centre), fine(*radius), fill))
        }
        Shape::Ring {
            centre,
            radius,
            pen,
        } => area.draw(&Circle::new(place(*centre), fine(*radius), style(*pen))),
        Shape::Word(word) => return write(area, word),
    };
    done.map_err(|e| e.to_string())
}

fn write(area: &Area, word: &Word) -> std::result::Result<(), String> {
    let weight = if word.bold {
        FontStyle::Bold
    } else {
        FontStyle::Normal
    };
    let h_pos = match word.anchor {
        Anchor::Start => HPos::Left,
        Anchor::Middle => HPos::Center,
        Anchor::End => HPos::Right,
    };
    let size = word.size * FINE * SIZE_PER_EM;
    let ink = colour(word.paint, 1.0);
    let font = (FontFamily::Name(FAMILY), size, weight).into_font();
    let style = TextStyle::from(font)
        .color(&ink)
        .pos(Pos::new(h_pos, VPos::Center));
    area.draw(&Text::new(coded(&word.text), place(word.at), style))
        .map_err(|e| e.to_string())
}

/// Dashes in, repetition out.
fn tidy(body: &str) -> String {
    let pattern = |dash, pattern: &str| {
        (
            format!("opacity=\"{}\"", code(dash)),
            format!("stroke-dasharray=\"{pattern}\""),
        )
    };
    let mut text = body.to_owned();
    for (from, to) in [
        pattern(Dash::Dashed, "56 32"),
        pattern(Dash::Dotted, "12 24"),
        pattern(Dash::DashDot, "64 28 12 28"),
        (" opacity=\"1\"".to_owned(), String::new()),
        (format!(" font-family=\"{FAMILY}\""), String::new()),
        ("dy=\"0.5ex\"".to_owned(), "dy=\"0.35em\"".to_owned()),
        (" \"/>".to_owned(), "\"/>".to_owned()),
    ] {
        text = text.replace(&from, &to);
    }
    text
}

fn head(chart: &Chart, page: &Page, look: &Look) -> String {
    let (width, height) = (page.width, page.height);
    let (w, h) = (fine(width), fine(height));
    let id = format!("{}-{}", chart.id, look.width.suffix());
    let mut head = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 0 {w} {h}\" class=\"figure\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\" \
         font-family=\"{FACES}\" stroke-linejoin=\"round\">\n\
         <title id=\"{id}-t\">{}</title>\n<desc id=\"{id}-d\">{}</desc>\n",
        escape(&chart.title),
        escape(&chart.alt),
    );
    if look.dark_rules {
        let _ = writeln!(head, "<style>{}</style>", dark_rules(".figure"));
    }
    if look.ground {
        let _ = writeln!(
            head,
            "<rect width=\"{w}\" height=\"{h}\" fill=\"#FFFFFF\"/>"
        );
    }
    head
}

/// The text with what acts, or what XML does not allow, as its code.
fn coded(text: &str) -> String {
    let text = visible(text);
    let text = text.replace('\u{fffe}', "\\u{fffe}");
    text.replace('\u{ffff}', "\\u{ffff}")
}

/// Text made safe for XML content and attributes.
fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in coded(text).chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c => safe.push(c),
        }
    }
    safe
}
