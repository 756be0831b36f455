#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::page::lay_out;
use super::shape::{Rect, Shape};
use super::*;
use crate::chart::{AtRisk, AtRiskRow, Axis, Layer, Mark, Marker, Stroke, Tone};

/// A chart with many curves and long, strange names.
fn crowded(names: &[&str]) -> Chart {
    let curve = |n: usize| -> Vec<(f64, f64)> {
        (0..=60)
            .map(|i| {
                let t = f64::from(i) * 10.0;
                (t, (-(t / (200.0 + 60.0 * n as f64)).powf(2.0)).exp())
            })
            .collect()
    };
    let layers = names.iter().enumerate().map(|(n, name)| Layer::Line {
        name: (*name).to_owned(),
        points: curve(n),
        stroke: Stroke::group(n),
        label: Some((*name).to_owned()),
    });
    let rows = names.iter().enumerate().map(|(n, name)| AtRiskRow {
        name: (*name).to_owned(),
        tone: Tone::Group(n),
        counts: vec![1_000_000, 20_000, 300, 4],
    });
    Chart {
        id: "crowded".into(),
        title: names.join(" against "),
        alt: "Several curves.".into(),
        x: Axis::linear("age", "days"),
        y: Axis::linear("share still sound", "").over(0.0, 1.0),
        at_risk: Some(AtRisk {
            heading: "Seals at risk".into(),
            at: vec![0.0, 200.0, 400.0, 600.0],
            rows: rows.collect(),
        }),
        layers: layers.collect(),
        notes: vec!["A note of some length, so that it has to be broken.".repeat(3)],
    }
}

fn looks() -> [Look; 2] {
    [Width::Wide, Width::Narrow].map(|width| Look {
        width,
        ..Look::alone()
    })
}

fn name_sets() -> Vec<Vec<&'static str>> {
    vec![
        vec!["EPDM"],
        vec![
            "FKM",
            "EPDM",
            "NBR, batch B-17, second delivery of the year",
        ],
        vec!["a", "b", "c", "d", "e", "f", "g", "h"],
        vec!["</script><b>\"x\" & 'y'", "\u{202e}rtl\u{200f}", "🙂 emoji"],
        vec![
            "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft";
            3
        ],
    ]
}

#[test]
fn no_text_leaves_the_page_or_touches_another() {
    for names in name_sets() {
        let chart = crowded(&names);
        for look in looks() {
            let page = lay_out(&chart, &look).unwrap();
            let whole = Rect {
                left: 0.0,
                top: 0.0,
                right: page.width,
                bottom: page.height,
            };
            for (i, text) in page.sketch.texts.iter().enumerate() {
                assert!(whole.contains(*text), "{names:?} {look:?}: {text:?}");
                for other in page.sketch.texts.iter().skip(i + 1) {
                    assert!(
                        !text.overlaps(*other),
                        "{names:?} {look:?}: {text:?} {other:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn no_curve_leaves_the_page() {
    let mut chart = crowded(&["steep", "wild"]);
    chart.y = Axis::linear("share", "").over(0.3, 0.6);
    chart.layers.push(Layer::Line {
        name: "wild".into(),
        points: vec![
            (-1e300, -1e300),
            (100.0, 0.4),
            (f64::NAN, 1.0),
            (300.0, f64::INFINITY),
            (400.0, 0.5),
            (1e300, 1e300),
        ],
        stroke: Stroke::solid(Tone::Ink),
        label: None,
    });
    chart.x = Axis::linear("age", "days").over(0.0, 600.0);
    for look in looks() {
        let page = lay_out(&chart, &look).unwrap();
        for shape in &page.sketch.shapes {
            if let Shape::Path(points, _) | Shape::Area { points, .. } = shape {
                assert!(points.iter().all(|(x, y)| {
                    (0.0..=page.width).contains(x) && (0.0..=page.height).contains(y)
                }));
            }
        }
    }
}

#[test]
fn labels_keep_off_the_curves() {
    let chart = crowded(&["one material", "another material", "a third"]);
    let page = lay_out(&chart, &Look::inline(Width::Wide)).unwrap();
    let labels: Vec<Rect> = page
        .sketch
        .shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Word(word) if word.size == BODY && word.text.contains("material") => {
                Some(sketch::word_rect(word))
            }
            _ => None,
        })
        .collect();
    assert!(!labels.is_empty());
    for (point, _) in &page.sketch.obstacles {
        assert!(!labels.iter().any(|label| label.holds(*point)));
    }
}

#[test]
fn the_same_chart_gives_the_same_bytes() {
    let chart = crowded(&["FKM", "EPDM"]);
    let first = svg(&chart, &Look::alone()).unwrap();
    assert_eq!(first, svg(&chart.clone(), &Look::alone()).unwrap());
    assert_eq!(png(&first, 0.5).unwrap(), png(&first, 0.5).unwrap());
}

#[test]
fn the_drawing_is_sound_xml_and_says_what_it_shows() {
    let mut chart = crowded(&["</script><b>\"x\" & 'y'", "\u{0}nul\u{ffff}"]);
    chart.alt = "<desc> & \"more\"".into();
    let text = svg(&chart, &Look::alone()).unwrap();
    let tree = resvg::usvg::roxmltree::Document::parse(&text).unwrap();
    let root = tree.root_element();
    assert_eq!(root.attribute("role"), Some("img"));
    let said = root.children().find(|n| n.has_tag_name("desc")).unwrap();
    assert_eq!(said.text(), Some("<desc> & \"more\""));
    assert!(!text.contains("</script>"));
}

#[test]
fn marks_outside_the_axes_are_owned_up_to() {
    let mut chart = crowded(&["EPDM"]);
    chart.layers.push(Layer::Points {
        name: "failures".into(),
        marks: vec![Mark::at(100.0, 0.5), Mark::at(100.0, 7.0)],
        tone: Tone::Ink,
        marker: Marker::Ring,
        label: None,
    });
    let text = svg(&chart, &Look::alone()).unwrap();
    assert!(text.contains("1 mark lies outside the axes."));
}

#[test]
fn what_cannot_be_drawn_is_refused_in_words() {
    let mut chart = crowded(&["EPDM"]);
    chart.x = Axis::log("age", "days").over(-1.0, 10.0);
    let refusal = svg(&chart, &Look::alone()).unwrap_err().to_string();
    assert!(refusal.contains("logarithmic axis \"age\""), "{refusal}");
    chart.layers.clear();
    chart.x = Axis::linear("age", "days");
    let refusal = svg(&chart, &Look::alone()).unwrap_err().to_string();
    assert!(refusal.contains("nothing to draw"), "{refusal}");
    chart.id = "../etc/passwd".into();
    assert!(svg(&chart, &Look::alone()).is_err());
}

#[test]
fn dark_rules_cover_every_colour_drawn() {
    let text = svg(&crowded(&["a", "b", "c", "d", "e", "f"]), &Look::alone()).unwrap();
    let rules = dark_rules(".figure");
    for part in text.split("fill=\"").skip(1) {
        let colour = part.split('"').next().unwrap();
        assert!(
            colour == "none" || rules.contains(&format!("[fill=\"{colour}\"]")),
            "{colour}"
        );
    }
}
