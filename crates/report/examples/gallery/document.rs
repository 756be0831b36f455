//! A sample report. All numbers are invented.

use sealspan_report::cautions;
use sealspan_report::document::{Block, Document, Lead, Page, Table};

use super::charts;

/// A report with every kind of block.
pub fn sample() -> Document {
    let mut figures = charts::all()
        .into_iter()
        .map(|chart| Block::Figure(Box::new(chart)));
    let mut next = || figures.next();
    let engineer = [
        Some(Block::Answer("Replace EPDM door seals every 140 days; between 120 and 165 days costs within 2\u{a0}% as much.".into())),
        Some(Block::Text("Forty-one seals failed while 312 were watched. The wear is real: failures grow more frequent with age, so replacing in time pays.".into())),
        next(),
        next(),
        Some(Block::Table(lives())),
        Some(Block::Heading("What would change this advice".into())),
        Some(Block::List(vec![
            "A failure that costs less than EUR 410: then run to failure.".into(),
            "A shape below 1.1 once more seals are in: then age tells nothing.".into(),
        ])),
        Some(Block::Cautions(cautions::all())),
    ];
    let finance = [
        Some(Block::Answer(
            "The plan saves EUR 31,400 a year, 90 % confidence interval EUR 22,000 to 43,000."
                .into(),
        )),
        next(),
        next(),
        next(),
    ];
    let maker = [
        Some(Block::Answer(
            "Batch B-17 lasts a third as long as its sisters.".into(),
        )),
        next(),
    ];
    let page = |id: &str, title: &str, reader: &str, blocks: Vec<Option<Block>>| Page {
        id: id.into(),
        title: title.into(),
        reader: reader.into(),
        blocks: blocks.into_iter().flatten().collect(),
    };
    Document {
        title: "Door seals at Harrow Lane".into(),
        lead: vec![Lead::new(
            "How long they last",
            "EPDM door seals last 412 days (90 % confidence interval 356 to 480). Replaced every 140 days, with six spares on the shelf, they cost least.",
        )],
        about: "353 seals on 61 tanks, watched from 2026 to 2030.".into(),
        invented: true,
        pages: vec![
            page(
                "engineer",
                "For the engineer",
                "What to do, and why.",
                engineer.into(),
            ),
            page("finance", "For finance", "What it costs.", finance.into()),
            page("maker", "For the maker", "What to look at.", maker.into()),
        ],
        stamp: vec![
            ("Command".into(), "sealspan report study.toml".into()),
            ("Seed".into(), "1".into()),
            (
                "seals.csv".into(),
                "SHA-256 e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855".into(),
            ),
        ],
    }
}

fn lives() -> Table {
    let row = |cells: [&str; 5]| cells.map(String::from).to_vec();
    Table::new(
        "Life by material",
        &[
            "material",
            "seals",
            "failed",
            "B10 life (days)",
            "90 % confidence interval",
        ],
        vec![
            row(["FKM", "420", "102", "269", "231 to 305"]),
            row(["EPDM", "840", "395", "144", "128 to 160"]),
            row(["NBR, batch B-17", "1,260", "1,012", "48", "41 to 55"]),
        ],
    )
}
