//! The report as a notebook (nbformat 4.5): the words, the figures with the code that shows them, the run's tables
//! read with pandas, and a few numbers worked out again from them.
//!
//! The outputs kept in the file are what running it gives: figures are the files of the folder, and everything printed
//! is worked out here from the same tables.

mod again;
mod code;

use crate::document::{Block, DataTable, Document, Page};
use crate::error::Result;
use crate::folder;
use crate::render::markdown::{escaped, table};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};

/// The notebook as bytes; `png` gives the figure of a name. The same document gives the same bytes.
///
/// # Errors
/// When a figure is missing or the notebook cannot be written.
pub fn notebook(
    document: &Document,
    tables: &[DataTable],
    png: impl Fn(&str) -> Option<Vec<u8>>,
) -> Result<Vec<u8>> {
    let mut cells = Cells::default();
    cells.words(&opening(document));
    cells.code("setup", code::SETUP, vec![]);
    let mut figures = 0;
    for page in &document.pages {
        page_cells(&mut cells, page, &mut figures, &png);
    }
    cells.words("## The tables of this run\n\nThey hold all numbers in full precision; `tables/*.parquet` holds the same with types.");
    for table in tables {
        let (source, printed) = code::show(table);
        cells.code(&format!("table-{}", table.name), &source, stream(&printed));
    }
    again(&mut cells, tables);
    cells.words(&closing(document));
    folder::json(&json!({
        "cells": cells.list,
        "metadata": {
            "kernelspec": { "display_name": "Python 3", "language": "python", "name": "python3" },
            "language_info": { "name": "python" },
            "title": document.title,
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }))
}

/// Title, answers and how to run it.
fn opening(document: &Document) -> String {
    let mut parts = vec![format!("# {}", escaped(&document.title))];
    if document.invented {
        parts.push("**All data in this notebook are invented.**".to_owned());
    }
    parts.extend(document.lead.iter().map(|one| match one.lines.as_slice() {
        [line] => format!("**{}.** {}", escaped(&one.label), escaped(line)),
        lines => {
            let lines = lines.iter().map(|line| format!("\n- {}", escaped(line)));
            format!(
                "**{}.**\n{}",
                escaped(&one.label),
                lines.collect::<String>()
            )
        }
    }));
    parts.push(escaped(&document.about));
    parts.push("Cautions stand on the pages below: isolate, depressurise and cool before opening; the maker's limits, local codes and licensed practice decide.".to_owned());
    parts.push("To run it: open it in the report's folder, with pandas installed. Every output kept here is what running gives.".to_owned());
    parts.join("\n\n")
}

fn closing(document: &Document) -> String {
    let mut parts = vec!["## How this notebook was made".to_owned()];
    let lines = document.stamp.iter();
    parts.extend(lines.map(|(label, value)| format!("- {}: {}", escaped(label), escaped(value))));
    parts.join("\n").replacen(
        "## How this notebook was made\n",
        "## How this notebook was made\n\n",
        1,
    )
}

/// What stands for the page's controls.
const WHAT_IF: &str = "*Prices, intervals and stocks can be changed in report.html; the events under every policy, from which costs follow there, are in tables/policies.csv.*";

fn page_cells(
    cells: &mut Cells,
    page: &Page,
    figures: &mut usize,
    png: &impl Fn(&str) -> Option<Vec<u8>>,
) {
    let mut text = vec![
        format!("## {}", escaped(&page.title)),
        format!("*{}*", escaped(&page.reader)),
    ];
    for block in &page.blocks {
        match block {
            Block::Heading(t) => text.push(format!("### {}", escaped(t))),
            Block::Answer(t) => text.push(format!("> {}", escaped(t))),
            Block::Text(t) => text.push(escaped(t)),
            Block::List(items) => {
                let items: Vec<String> =
                    items.iter().map(|i| format!("- {}", escaped(i))).collect();
                text.push(items.join("\n"));
            }
            Block::Folded { title, lines } => {
                text.push(format!("**{}**", escaped(title)));
                text.extend(lines.iter().map(|line| escaped(line)));
            }
            Block::Table(t) => text.push(table(t)),
            Block::Cautions(list) => {
                text.push("### Before opening anything".to_owned());
                let line = |c: &crate::cautions::Caution| {
                    format!("- {} ({})", escaped(c.text), escaped(c.source))
                };
                let lines: Vec<String> = list.iter().map(line).collect();
                text.push(lines.join("\n"));
            }
            Block::Figure(chart) => {
                *figures += 1;
                text.push(format!("**Figure {figures}.** {}", escaped(&chart.title)));
                cells.words(&std::mem::take(&mut text).join("\n\n"));
                if let Some(bytes) = png(&chart.id) {
                    let source = format!("display(Image(\"figures/{}.png\"))", chart.id);
                    cells.code(&format!("figure-{}", chart.id), &source, picture(&bytes));
                }
                text.extend(chart.notes.iter().map(|n| escaped(n)));
                text.push(format!("*In words:* {}", escaped(&chart.alt)));
            }
            Block::WhatIf(_) => text.push(WHAT_IF.to_owned()),
        }
    }
    cells.words(&text.join("\n\n"));
}

/// Numbers worked out again, each from one table.
fn again(cells: &mut Cells, tables: &[DataTable]) {
    let mut first = true;
    for (name, build) in again::ALL {
        let table = tables.iter().find(|t| t.name == name);
        let Some(part) = table.and_then(build) else {
            continue;
        };
        if std::mem::take(&mut first) {
            cells.words("## Worked out again from the tables\n\nPlain pandas, from the tables above: change a number and run the cell.");
        }
        cells.words(&format!("### {}\n\n{}", part.title, part.about));
        cells.code(
            &format!("again-{name}"),
            &part.source,
            stream(&part.printed),
        );
    }
}

/// Text as it is printed.
fn stream(text: &str) -> Vec<Value> {
    match text.is_empty() {
        true => vec![],
        false => vec![json!({ "output_type": "stream", "name": "stdout", "text": lines(text) })],
    }
}

fn picture(png: &[u8]) -> Vec<Value> {
    let data = json!({
        "image/png": STANDARD.encode(png),
        "text/plain": ["<IPython.core.display.Image object>"],
    });
    vec![json!({ "output_type": "display_data", "data": data, "metadata": {} })]
}

/// A text as the format wants it: its lines, each with its line feed but the last.
fn lines(text: &str) -> Vec<&str> {
    text.split_inclusive('\n').collect()
}

#[derive(Default)]
struct Cells {
    list: Vec<Value>,
    words: usize,
    codes: usize,
}

impl Cells {
    fn words(&mut self, text: &str) {
        self.words += 1;
        self.list.push(json!({
            "cell_type": "markdown",
            "id": format!("words-{}", self.words),
            "metadata": {},
            "source": lines(text),
        }));
    }

    fn code(&mut self, name: &str, source: &str, outputs: Vec<Value>) {
        self.codes += 1;
        // The format allows letters, digits, - and _ in ids, at most 64 of them.
        let id: String = format!("{}-{name}", self.codes).chars().take(64).collect();
        self.list.push(json!({
            "cell_type": "code",
            "id": id,
            "metadata": {},
            "execution_count": self.codes,
            "source": lines(source),
            "outputs": outputs,
        }));
    }
}
