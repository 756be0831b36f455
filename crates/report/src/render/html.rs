//! The report as one HTML file that needs nothing else: styles, scripts, figures and their values inside, no network.

use super::content::{attribute, content};
use crate::chart::{Axis, Chart, Layer};
use crate::document::{Block, Document, Page, Table};
use crate::error::{Error, Result};
use crate::figures::{Look, ReadOuts, Width, check_name, dark_rules, read_outs, svg};
use crate::number;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use minijinja::{Environment, UndefinedBehavior, Value, context};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;

const PAGE: &str = include_str!("../templates/report.html");
const STYLE: &str = include_str!("../templates/report.css");
/// The page's own scripts, in the order in which they are read.
const SCRIPT: &str = concat!(
    include_str!("../templates/scripts/numbers.js"),
    include_str!("../templates/scripts/words.js"),
    include_str!("../templates/scripts/shelf.js"),
    include_str!("../templates/scripts/what-if.js"),
    include_str!("../templates/scripts/read-outs.js"),
    include_str!("../templates/scripts/print.js"),
);
/// A space at which no line breaks.
const NO_BREAK: &str = "\u{a0}";
/// Rows of a figure's data table; longer series are thinned evenly, the files hold all of them.
const FIGURE_ROWS: usize = 24;

/// The document as HTML. The same document gives the same bytes.
///
/// # Errors
/// When a figure cannot be drawn.
pub fn html(document: &Document) -> Result<String> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_formatter(content);
    environment.add_filter("attribute", attribute);
    environment
        .add_template("report.html", PAGE)
        .map_err(Error::render)?;
    let template = environment
        .get_template("report.html")
        .map_err(Error::render)?;
    check_anchors(document)?;
    let style = format!("{STYLE}\n{}", dark_rules("figure svg"));
    let mut figures = 0;
    let mut pages = vec![];
    for page in &document.pages {
        pages.push(page_value(page, &mut figures)?);
    }
    template
        .render(context! {
            title => &document.title,
            lead => document.lead.iter().map(|one| context! { label => &one.label, lines => &one.lines }).collect::<Vec<_>>(),
            about => &document.about,
            invented => document.invented,
            pages => pages,
            stamp => &document.stamp,
            style_hash => Value::from_safe_string(content_hash(&style)),
            style => Value::from_safe_string(style),
            script_hash => Value::from_safe_string(content_hash(SCRIPT)),
            script => Value::from_safe_string(SCRIPT.to_owned()),
        })
        .map_err(Error::render)
}

/// What the page's security policy names the style and the script by, so that no other is obeyed.
fn content_hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text)))
}

/// Two parts of a page with one anchor would make links and descriptions point at the wrong one.
fn check_anchors(document: &Document) -> Result<()> {
    let mut seen = BTreeSet::new();
    let anchors = document.pages.iter().flat_map(|page| {
        let figures = page.blocks.iter().filter_map(|block| match block {
            Block::Figure(chart) => Some(chart.id.as_str()),
            _ => None,
        });
        figures.chain([page.id.as_str()])
    });
    for anchor in anchors {
        check_name(anchor)?;
        if !seen.insert(anchor) {
            return Err(Error::render(format!(
                "two parts of it are named \"{anchor}\""
            )));
        }
    }
    Ok(())
}

fn page_value(page: &Page, figures: &mut usize) -> Result<Value> {
    let mut blocks = vec![];
    for block in &page.blocks {
        blocks.push(match block {
            Block::Heading(text) => context! { kind => "heading", text => text },
            Block::Answer(text) => context! { kind => "answer", text => text },
            Block::Text(text) => context! { kind => "text", text => text },
            Block::List(items) => context! { kind => "list", items => items },
            Block::Folded { title, lines } => {
                context! { kind => "folded", title => title, lines => lines }
            }
            Block::Table(table) => context! { kind => "table", table => table_value(table) },
            Block::Cautions(list) => {
                let list: Vec<Value> = list
                    .iter()
                    .map(|c| context! { text => c.text, source => c.source })
                    .collect();
                context! { kind => "cautions", list => list }
            }
            Block::Figure(chart) => {
                *figures += 1;
                figure_value(chart, *figures)?
            }
            Block::WhatIf(what_if) => context! {
                kind => "what_if",
                currency => &what_if.currency,
                stock => what_if.stock.is_some(),
                worlds => what_if.parts.iter().map(|p| p.worlds).max(),
                data => data(what_if)?,
            },
        });
    }
    Ok(context! { id => &page.id, title => &page.title, reader => &page.reader, blocks => blocks })
}

fn figure_value(chart: &Chart, number: usize) -> Result<Value> {
    let draw = |width| svg(chart, &Look::inline(width)).map(Value::from_safe_string);
    let points = |width| -> Result<Option<Value>> {
        let found = read_outs(chart, width)?;
        found.map(|read: ReadOuts| data(&read)).transpose()
    };
    Ok(context! {
        kind => "figure",
        id => &chart.id,
        number => number,
        title => &chart.title,
        notes => &chart.notes,
        wide => draw(Width::Wide)?,
        narrow => draw(Width::Narrow)?,
        wide_points => points(Width::Wide)?,
        narrow_points => points(Width::Narrow)?,
        table => table_value(&data_of(chart)),
    })
}

/// Values as JSON that may stand in a script element: nothing in it can end the element.
fn data(value: &impl Serialize) -> Result<Value> {
    let json = serde_json::to_string(value).map_err(Error::render)?;
    let safe = json
        .replace('<', "\\u003c")
        .replace('>', "\\u003e")
        .replace('&', "\\u0026")
        .replace('\u{2028}', "\\u2028")
        .replace('\u{2029}', "\\u2029");
    Ok(Value::from_safe_string(safe))
}

fn table_value(table: &Table) -> Value {
    let heads: Vec<Value> = table
        .columns
        .iter()
        .map(|(t, n)| context! { text => t, number => n })
        .collect();
    let rows: Vec<Vec<Value>> = table
        .rows
        .iter()
        .map(|row| {
            let cells = row.iter().zip(&table.columns);
            cells
                .map(|(cell, (_, n))| {
                    let text = if *n { unbroken(cell) } else { cell.clone() };
                    context! { text => text, number => n }
                })
                .collect()
        })
        .collect();
    context! { caption => &table.caption, heads => heads, rows => rows }
}

/// Longest quantity, and longest words in brackets, that no line breaks.
const QUANTITY: usize = 12;
const BRACKET: usize = 24;

/// The text of a cell of numbers without breaks inside a short quantity or a bracket.
fn unbroken(text: &str) -> String {
    let whole = text.chars().count() <= QUANTITY;
    let mut out = String::with_capacity(text.len());
    for (i, part) in text.split_inclusive('(').enumerate() {
        let (inside, after) = match part.find(')') {
            Some(end) if i > 0 => part.split_at(end),
            _ => ("", part),
        };
        if inside.chars().count() <= BRACKET {
            out.push_str(&inside.replace(' ', NO_BREAK));
        } else {
            out.push_str(inside);
        }
        out.push_str(&if whole {
            after.replace(' ', NO_BREAK)
        } else {
            after.to_owned()
        });
    }
    out
}

/// The figure's own numbers, thinned to what can be read.
fn data_of(chart: &Chart) -> Table {
    let mut rows = vec![];
    for layer in &chart.layers {
        let (name, points) = match layer {
            Layer::Line { name, points, .. } | Layer::Steps { name, points, .. } => {
                (name.clone(), points.clone())
            }
            Layer::Points { name, marks, .. } => {
                (name.clone(), marks.iter().map(|m| (m.x, m.y)).collect())
            }
            Layer::Bars { name, bars, .. } => (
                name.clone(),
                bars.iter().map(|b| (b.to, b.height)).collect(),
            ),
            Layer::Band {
                name, lower, upper, ..
            } => {
                let edges = [("lower edge", lower), ("upper edge", upper)];
                for (edge, points) in edges {
                    push(
                        chart,
                        &mut rows,
                        &format!("{name}, {edge}"),
                        &inside(chart, points),
                    );
                }
                continue;
            }
            Layer::Roses { roses, .. } => {
                for rose in roses {
                    let counts = rose.counts.iter().zip(1..);
                    let points: Vec<_> =
                        counts.map(|(c, j)| (f64::from(j), f64::from(*c))).collect();
                    push(chart, &mut rows, &rose.title, &points);
                }
                continue;
            }
            Layer::ZoneX { .. } | Layer::VLine { .. } | Layer::HLine { .. } => continue,
        };
        push(chart, &mut rows, &name, &inside(chart, &points));
    }
    let head = |axis: &Axis| match axis.caption() {
        caption if caption.is_empty() => "of what".to_owned(),
        caption => caption,
    };
    let heads = ["series".to_owned(), head(&chart.x), head(&chart.y)];
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    Table::new(format!("Numbers behind: {}", chart.title), &heads, rows)
}

/// The points that the axes hold: what lies beyond them is not drawn either.
fn inside(chart: &Chart, points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let holds = |axis: &Axis, v: f64| axis.range.is_none_or(|(low, high)| v >= low && v <= high);
    let both = |(x, y): &&(f64, f64)| holds(&chart.x, *x) && holds(&chart.y, *y);
    points.iter().filter(both).copied().collect()
}

/// A series; values that an axis has a name for stand by it.
fn push(chart: &Chart, rows: &mut Vec<Vec<String>>, name: &str, points: &[(f64, f64)]) {
    let step = points.len().div_ceil(FIGURE_ROWS).max(1);
    let written = |axis: &Axis, value: f64| {
        let own = axis.name_of(value);
        own.unwrap_or_else(|| number::significant(value, 4))
    };
    for (x, y) in points.iter().step_by(step) {
        rows.push(vec![
            name.to_owned(),
            written(&chart.x, *x),
            written(&chart.y, *y),
        ]);
    }
}
