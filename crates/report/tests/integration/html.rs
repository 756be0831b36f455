//! The HTML report: everything from data is escaped, nothing is fetched, the bytes repeat.

use base64::Engine as _;
use sealspan_report::analysis::what_if::{
    AgeRow, Events, LooksRow, WhatIf, WhatIfPart, WhatIfPrices,
};
use sealspan_report::cautions;
use sealspan_report::chart::{Axis, Chart, Layer, Stroke};
use sealspan_report::document::{Block, Document, Lead, Page, Table};
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

/// Controls whose every name says `words`.
fn controls(words: &str) -> WhatIf {
    let age = AgeRow {
        at: None,
        words: words.into(),
        mean: Events([0.0, 1.0 / 3.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
        unplanned: vec![0.01],
    };
    WhatIf {
        currency: words.into(),
        unit: "day".into(),
        units: 365.25,
        per: "year",
        prices: WhatIfPrices {
            planned_cost: 80.0,
            planned_hours: 1.5,
            failure_cost: 2000.0,
            failure_hours: 9.0,
            downtime_cost: 270.0,
            opening_hours: 0.5,
            look_cost: 20.0,
            turn_cost: 0.0,
        },
        parts: vec![WhatIfPart {
            name: words.into(),
            positions: 4.0,
            dearer: 0.0,
            worlds: 200,
            turned: Some(words.into()),
            turn_every: Some(60.0),
            plan: (0, 0),
            today: None,
            looks: vec![LooksRow {
                every: None,
                words: words.into(),
                ages: vec![age],
            }],
            places: vec![(words.into(), 4)],
        }],
        stock: None,
    }
}

/// The page without the values that its scripts read.
fn without_values(page: &str) -> String {
    let mut parts = page.split("<script type=\"application/json\"");
    let first = parts.next().unwrap().to_owned();
    parts.fold(first, |kept, part| {
        kept + part.split_once("</script>").unwrap().1
    })
}

/// A report that says `words` in every place that takes text.
fn saying(words: &str) -> Document {
    let text = || words.to_owned();
    Document {
        title: text(),
        lead: vec![Lead::new(words, words)],
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
                Block::WhatIf(Box::new(controls(words))),
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
    let scripts = |page: &str| page.matches("<script").count();
    assert_eq!(scripts(&page), scripts(&html(&saying("words")).unwrap()));
    assert_eq!(scripts(&page), page.matches("</script>").count());
    assert!(!page.contains("<script>alert") && !page.contains("<img"));
    let shown = without_values(&page);
    assert!(!shown.contains("onload='") && !shown.contains("onload=\""));
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
        let kept = page.replace("<bdi>", "").replace("</bdi>", "");
        assert!(kept.contains(words), "{:.20}", words);
    }
}

/// What turns the direction of text turns itself alone, wherever it may stand beside other text.
#[test]
fn direction_is_turned_for_nothing_else() {
    let page = html(&saying("a\u{202e}b<c")).unwrap();
    let turning = |text: &str| text.matches('\u{202e}').count();
    let within = |open: &str, close: &str| -> usize {
        let parts = page.split(open).skip(1);
        parts.map(|p| turning(p.split(close).next().unwrap())).sum()
    };
    let closed = page.matches("a<bdi>\u{202e}</bdi>b&lt;c").count();
    let alone = within("<svg", "</svg>")
        + within("<script type", "</script>")
        + within("aria-label=\"", "\"")
        + within("<title>", "</title>\n<style>");
    assert!(closed > 20 && alone > 5, "{closed} {alone}");
    assert_eq!(turning(&page), closed + alone);
}

#[test]
fn commands_are_set_as_code() {
    let page = html(&saying(
        "see `sealspan fit <x>`, not `this` or `sealspan open",
    ))
    .unwrap();
    assert!(
        page.contains(
            "<p>see <code>sealspan fit &lt;x&gt;</code>, not `this` or `sealspan open</p>"
        )
    );
}

#[test]
fn the_page_needs_nothing_from_outside() {
    let page = html(&saying("words")).unwrap();
    let bare = page.replace("http://www.w3.org/2000/svg", "");
    for word in [
        "http:",
        "https:",
        "<link",
        "<script src",
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
fn the_security_policy_names_the_style_and_the_script_that_are_there() {
    let page = html(&saying("words")).unwrap();
    for name in ["style", "script"] {
        let (_, rest) = page.split_once(&format!("<{name}>")).unwrap();
        let (content, _) = rest.split_once(&format!("</{name}>")).unwrap();
        let hash = base64::engine::general_purpose::STANDARD.encode(Sha256::digest(content));
        assert!(page.contains(&format!("{name}-src 'sha256-{hash}'")));
    }
    assert!(page.contains("default-src 'none'"));
}

/// The values behind controls and read-outs can be read back whole, whatever the names.
#[test]
fn embedded_values_are_json() {
    let attack = "</script><!--<script> & \u{2028} \" \\ end";
    let page = html(&saying(attack)).unwrap();
    let (_, rest) = page.split_once("id=\"what-if-data\">").unwrap();
    let (json, _) = rest.split_once("</script>").unwrap();
    let value: serde_json::Value = serde_json::from_str(json).unwrap();
    assert_eq!(value["parts"][0]["name"], attack);
    assert_eq!(
        value["parts"][0]["looks"][0]["ages"][0]["mean"][1],
        0.333_333_333_3
    );
    let (_, rest) = page.split_once("class=\"points\">").unwrap();
    let (json, _) = rest.split_once("</script>").unwrap();
    let value: serde_json::Value = serde_json::from_str(json).unwrap();
    assert_eq!(value["series"][0]["name"], attack);
}

/// A figure's table holds what is drawn: a point beyond the axes is in neither.
#[test]
fn tables_of_figures_hold_what_is_drawn() {
    let mut document = saying("words");
    let mut cut = chart("cut", "short");
    cut.y = Axis::linear("share", "").over(0.4, 1.0);
    document.pages[0].blocks.push(Block::Figure(Box::new(cut)));
    let page = html(&document).unwrap();
    let (_, rest) = page.split_once("Numbers behind: short").unwrap();
    let (table, _) = rest.split_once("</table>").unwrap();
    assert!(
        table.contains("0.5000") && !table.contains("0.1000"),
        "{table}"
    );
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
