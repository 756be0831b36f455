//! The HTML report: everything from data is escaped, nothing is fetched, the bytes repeat.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use base64::Engine as _;
use sealspan_report::cautions;
use sealspan_report::chart::{Axis, Chart, Layer, Stroke};
use sealspan_report::document::{Block, Document, Page, Table};
use sealspan_report::render::html::html;
use sha2::{Digest, Sha256};

fn chart(id: &str, words: &str) -> Chart {
    Chart {
        id: id.into(),
        title: words.into(),
        alt: words.into(),
        x: Axis::linear(words, "days"),
        y: Axis::linear("share", words),
        layers: vec![Layer::Line {
            name: words.into(),
            points: vec![(0.0, 1.0), (5.0, 0.5), (9.0, 0.1)],
            stroke: Stroke::group(0),
            label: Some(words.into()),
        }],
        at_risk: None,
        notes: vec![words.into()],
    }
}

/// A report that says `words` in every place that takes text.
fn saying(words: &str) -> Document {
    let text = || words.to_owned();
    Document {
        title: text(),
        lead: vec![text()],
        about: text(),
        invented: true,
        pages: vec![Page {
            id: "engineer".into(),
            title: text(),
            reader: text(),
            blocks: vec![
                Block::Heading(text()),
                Block::Answer(text()),
                Block::Text(text()),
                Block::List(vec![text()]),
                Block::Figure(Box::new(chart("life", words))),
                Block::Table(Table::new(
                    words,
                    &[words, words],
                    vec![vec![text(), text()]],
                )),
                Block::Cautions(cautions::all()),
            ],
        }],
        stamp: vec![(text(), text())],
    }
}

#[test]
fn text_from_data_is_never_markup() {
    let attack =
        "</style></title></script><script>alert(1)</script>\"' onload='x' <img src=x> & {{ 7*7 }}";
    let page = html(&saying(attack)).unwrap();
    assert!(!page.contains("<script") && !page.contains("<img"));
    assert!(!page.contains("onload='") && !page.contains("onload=\""));
    assert!(
        page.contains("{{ 7*7 }}"),
        "braces from data are text, not a template"
    );
    assert_eq!(page.matches("</style>").count(), 1);
    assert_eq!(
        page.matches("</title>").count(),
        3,
        "the page's and two drawings'"
    );
    assert!(page.contains("&lt;img src=x&gt; &amp; "));
}

#[test]
fn long_and_strange_text_is_kept() {
    let long = "x".repeat(10_000);
    for words in ["🙂 emoji", "\u{202e}turned\u{200f}", "漢字", long.as_str()] {
        let page = html(&saying(words)).unwrap();
        assert!(page.contains(words), "{:.20}", words);
    }
}

#[test]
fn the_page_needs_nothing_from_outside() {
    let page = html(&saying("words")).unwrap();
    let bare = page.replace("http://www.w3.org/2000/svg", "");
    for word in [
        "http:",
        "https:",
        "<link",
        "<script",
        "@import",
        "url(",
        " style=\"",
    ] {
        assert!(!bare.contains(word), "{word}");
    }
    assert!(page.starts_with("<!doctype html>\n<html lang=\"en\">"));
    assert!(page.contains("<main>") && page.contains("class=\"skip\" href=\"#engineer\""));
    assert!(page.contains("<th scope=\"col\"") && page.contains("<th scope=\"row\""));
    assert!(page.contains("role=\"img\""));
}

#[test]
fn the_security_policy_names_the_style_that_is_there() {
    let page = html(&saying("words")).unwrap();
    let style = page
        .split("<style>")
        .nth(1)
        .unwrap()
        .split("</style>")
        .next()
        .unwrap();
    let hash = base64::engine::general_purpose::STANDARD.encode(Sha256::digest(style));
    assert!(page.contains(&format!("style-src 'sha256-{hash}'")));
    assert!(page.contains("default-src 'none'"));
}

#[test]
fn the_same_document_gives_the_same_bytes() {
    assert_eq!(
        html(&saying("words")).unwrap(),
        html(&saying("words")).unwrap()
    );
}

#[test]
fn two_parts_with_one_name_are_refused() {
    let mut document = saying("words");
    document.pages[0]
        .blocks
        .push(Block::Figure(Box::new(chart("life", "again"))));
    let refusal = html(&document).unwrap_err().to_string();
    assert!(
        refusal.contains("two parts of it are named \"life\""),
        "{refusal}"
    );
}
