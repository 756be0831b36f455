//! The one-page PDFs: everything on one A4 page inside its margins, fonts inside, tagged, the same bytes every time.

use sealspan_report::cautions;
use sealspan_report::chart::{Axis, Chart, Layer, Stroke};
use sealspan_report::document::{Block, Document, Page, Table};
use sealspan_report::render::pdf::one_page;

/// A sheet that says `words` in every place, with so many rows, items and paragraphs.
fn saying(words: &str, count: usize) -> Document {
    let text = || words.to_owned();
    let chart = Chart {
        id: "life".into(),
        title: text(),
        alt: text(),
        x: Axis::linear(words, "days"),
        y: Axis::linear("share", words),
        layers: vec![Layer::Line {
            name: text(),
            points: vec![(0.0, 1.0), (5.0, 0.5), (9.0, 0.1)],
            stroke: Stroke::group(1),
            label: Some(text()),
        }],
        at_risk: None,
        notes: vec![text()],
    };
    let rows = (0..count).map(|_| vec![text(), text(), "1,234".into()]);
    let mut blocks = vec![
        Block::Answer(text()),
        Block::Table(Table::new(words, &[words, "what", "days"], rows.collect())),
        Block::Figure(Box::new(chart)),
        Block::List(vec![text(); count]),
    ];
    blocks.extend((0..count).map(|_| Block::Text(text())));
    blocks.push(Block::Cautions(cautions::all()));
    Document {
        title: text(),
        lead: vec![],
        about: text(),
        invented: true,
        pages: vec![Page {
            id: "sheet".into(),
            title: "Sheet".into(),
            reader: "For a test.".into(),
            blocks,
        }],
        stamp: vec![("seed".into(), "1".into()), ("command".into(), text())],
    }
}

fn count(bytes: &[u8], what: &str) -> usize {
    let what = what.as_bytes();
    bytes.windows(what.len()).filter(|w| *w == what).count()
}

/// The inflated streams.
fn streams(pdf: &[u8]) -> Vec<Vec<u8>> {
    let mut out = vec![];
    let mut rest = pdf;
    let find = |text: &[u8], what: &[u8]| text.windows(what.len()).position(|w| w == what);
    while let Some(at) = find(rest, b"stream\n") {
        rest = &rest[at + 7..];
        let end = find(rest, b"endstream").unwrap();
        if let Ok(plain) = miniz_oxide::inflate::decompress_to_vec_zlib(&rest[..end]) {
            out.push(plain);
        }
        rest = &rest[end + 9..];
    }
    out
}

/// Where lines of text begin.
fn places(pdf: &[u8]) -> Vec<(f32, f32)> {
    let content = streams(pdf)
        .into_iter()
        .find(|s| count(s, " Tm") > 0)
        .unwrap();
    let content: String = content.iter().map(|b| char::from(*b)).collect();
    let matrix = |line: &str| {
        let numbers = line.strip_suffix(" Tm")?.split_whitespace().rev();
        let mut numbers = numbers.map(|n| n.parse::<f32>().unwrap());
        let y = numbers.next()?;
        Some((numbers.next()?, y))
    };
    content.lines().filter_map(matrix).collect()
}

#[test]
fn everything_stays_inside_the_margins() {
    let long = "x".repeat(10_000);
    let wordy = "many words and more of them ".repeat(400);
    for (words, rows) in [
        ("short", 3),
        ("short", 400),
        (long.as_str(), 40),
        (wordy.as_str(), 40),
    ] {
        let pdf = one_page(&saying(words, rows)).unwrap();
        assert_eq!(count(&pdf, "/Type /Page\n"), 1);
        assert_eq!(count(&pdf, "/MediaBox [0 0 595.28 841.89]"), 1);
        let places = places(&pdf);
        assert!(places.len() > 20, "{} lines", places.len());
        for (x, y) in places {
            // Half an inch from A4's sides, and a quarter of one from the upper and lower edges of Letter paper, in the
            // middle of which A4 is printed and loses 25 points at both: more than printers leave white.
            assert!(
                (36.0..=559.0).contains(&x) && (43.1..=798.8).contains(&y),
                "{rows} {x} {y}"
            );
        }
    }
}

#[test]
fn fonts_are_inside_and_stand_for_text() {
    let pdf = one_page(&saying("Größe 5 ≤ 6 שלום", 2)).unwrap();
    let fonts = count(&pdf, "/Subtype /Type0");
    assert!(fonts >= 3, "{fonts} fonts");
    assert_eq!(count(&pdf, "/FontFile2"), fonts);
    assert_eq!(count(&pdf, "/ToUnicode"), fonts);
    assert_eq!(count(&pdf, "begincmap"), fonts);
    // ö in UTF-16, as the map from glyphs to text writes it.
    assert!(count(&pdf, "<00F6>") > 0);
}

#[test]
fn what_it_means_is_marked_and_nothing_acts() {
    let pdf = one_page(&saying("short", 2)).unwrap();
    for sign in [
        "/Marked true",
        "/Lang (en)",
        "/S /H1",
        "/S /Table",
        "/S /TH",
        "/S /Figure",
        "/Alt (short)",
        "/DisplayDocTitle true",
    ] {
        assert!(count(&pdf, sign) > 0, "{sign}");
    }
    for sign in [
        "/JavaScript",
        "/URI",
        "/Launch",
        "/OpenAction",
        "/CreationDate",
        "/ModDate",
    ] {
        assert_eq!(count(&pdf, sign), 0, "{sign}");
    }
}

#[test]
fn the_same_sheet_gives_the_same_bytes() {
    let pdf = one_page(&saying("short", 9)).unwrap();
    assert!(pdf == one_page(&saying("short", 9)).unwrap());
    assert!(pdf != one_page(&saying("shorter", 9)).unwrap());
}

#[test]
fn a_document_of_many_pages_is_refused() {
    let mut document = saying("short", 1);
    document.pages.push(document.pages[0].clone());
    assert!(one_page(&document).is_err());
}
