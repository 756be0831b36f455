//! The intervals to state, with their confidence and how far they were tested, on one page.

use super::super::maker;
use super::{cautions, sheet};
use crate::analysis::intervals::LEAST_COST;
use crate::analysis::run::Results;
use crate::document::{Block, Document, Page};

/// Said of a defect model that its records contradict, with the figures.
const STRAYS: &str = "findings and failures by number of look stray";
/// The same in short.
const IN_SHORT: &str = "the defect model does not quite suit the records: its laws, or seals that differ, are in doubt (figures in report.html)";

/// A hint of no use to who reads a sheet.
const LOOK_AT: &str = "; look at `sealspan fit`";

/// Doubts of several groups in the same words, as one; those of a law in short.
fn together(doubts: Vec<String>) -> Vec<String> {
    let mut out: Vec<(String, Vec<String>)> = vec![];
    for doubt in doubts {
        let (name, text) = match doubt.split_once(": ") {
            Some((name, text)) => (name.to_owned(), text.to_owned()),
            None => (String::new(), doubt),
        };
        let text = if text.starts_with(STRAYS) {
            IN_SHORT.to_owned()
        } else {
            text.replace(LOOK_AT, "")
        };
        match out.iter_mut().find(|(said, _)| *said == text) {
            Some((_, names)) => names.push(name),
            None => out.push((text, vec![name])),
        }
    }
    let told = out.into_iter().map(|(text, names)| {
        let names = names.join("; ");
        if names.is_empty() {
            text
        } else {
            format!("{names}: {text}")
        }
    });
    told.collect()
}

/// The interval sheet of a study.
#[must_use]
pub fn interval_sheet(results: &Results, stamp: &[(String, String)]) -> Document {
    let found = &results.intervals;
    let mut table = maker::table(found);
    if let Some(range) = table.columns.last_mut() {
        range.1 = false;
    }
    let mut blocks = vec![Block::Answer(maker::answer(found))];
    blocks.extend(maker::by_duty(results).map(Block::Text));
    blocks.push(Block::Table(table));
    let doubts = together(maker::doubts(found));
    if !doubts.is_empty() {
        blocks.push(Block::Heading("What to doubt".into()));
        blocks.push(Block::List(doubts));
    }
    blocks.push(Block::Heading("How to read it".into()));
    let notes = found.notes.iter().filter(|n| !n.starts_with(LEAST_COST));
    blocks.push(Block::List(notes.cloned().collect()));
    blocks.push(Block::Text(maker::command(found)));
    blocks.push(Block::Cautions(cautions(&[
        "precedence",
        "lockout",
        "pressure_door",
        "hot_surface",
        "chemicals",
        "extrapolation",
    ])));
    let page = Page {
        id: "intervals".into(),
        title: "Interval sheet for makers".into(),
        reader: "Intervals to state, how sure they are, and how far they were tested.".into(),
        blocks,
    };
    sheet(results, page, stamp)
}

#[cfg(test)]
mod tests {
    use super::{IN_SHORT, STRAYS, together};

    #[test]
    fn the_same_doubt_is_told_once() {
        let doubts = [
            format!("A, days: {STRAYS} from 3"),
            "A, days: too few".to_owned(),
            format!("B, days: {STRAYS} somewhat from 5"),
            "no name".to_owned(),
        ];
        assert_eq!(
            together(doubts.to_vec()),
            [
                format!("A, days; B, days: {IN_SHORT}"),
                "A, days: too few".to_owned(),
                "no name".to_owned(),
            ]
        );
    }
}
