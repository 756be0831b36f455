//! The intervals to state, with their confidence and how far they were tested, on one page.

use super::super::maker;
use super::{cautions, sheet};
use crate::analysis::intervals_notes::{FEWER, LEAST_COST, OF_ALL, ROUNDED, SOMEWHAT, STRAYS};
use crate::analysis::run::Results;
use crate::document::{Block, Document, Page};
use crate::number;

/// [`STRAYS`] in short.
const IN_SHORT: &str =
    "the laws of the defect model do not suit, or the group mixes seals that differ";
/// [`SOMEWHAT`] in short.
const SOMEWHAT_IN_SHORT: &str = "the laws of the defect model are in doubt, not ruled out";

/// A hint of no use to who reads a sheet.
const LOOK_AT: &str = "; look at `sealspan fit`";
/// What a doubt says before it in other words.
const AGAIN: &str = ": detection and delay are confounded";

/// Doubts of several groups in the same words, as one; those of a law in short.
fn together(doubts: Vec<String>) -> Vec<String> {
    let mut out: Vec<(String, Vec<String>)> = vec![];
    for doubt in doubts {
        let (name, text) = match doubt.split_once(": ") {
            Some((name, text)) => (name.to_owned(), text.to_owned()),
            None => (String::new(), doubt),
        };
        let text = if text.starts_with(SOMEWHAT) {
            SOMEWHAT_IN_SHORT.to_owned()
        } else if text.starts_with(STRAYS) {
            IN_SHORT.to_owned()
        } else {
            text.replace(LOOK_AT, "").replace(AGAIN, "")
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

/// The interval sheet of a study, from [`Results::intervals`]: what to state for each group on each clock, how far it was
/// tested, and what to doubt.
#[must_use]
pub fn interval_sheet(results: &Results, stamp: &[(String, String)]) -> Document {
    let found = &results.intervals;
    let table = maker::brief_table(results);
    let mut blocks = vec![Block::Answer(maker::answer(found))];
    blocks.extend(maker::by_duty_in_short(results).map(Block::Text));
    let faults = maker::faults_in_short(results);
    if !faults.is_empty() {
        blocks.push(Block::List(faults));
    }
    blocks.push(Block::Table(table));
    let mut doubts = together(maker::doubts(found));
    doubts.extend(maker::doubted_duties(results));
    if !doubts.is_empty() {
        blocks.push(Block::Heading("What to doubt".into()));
        blocks.push(Block::List(doubts));
    }
    blocks.push(Block::Heading("How to read it".into()));
    let elsewhere = [LEAST_COST, OF_ALL, FEWER, ROUNDED];
    let notes = found.notes.iter();
    let notes = notes.filter(|n| !elsewhere.iter().any(|start| n.starts_with(start)));
    let notes = maker::plans_differ(results)
        .into_iter()
        .chain(notes.cloned());
    blocks.push(Block::List(notes.collect()));
    blocks.push(Block::Cautions(cautions(&[
        "precedence",
        "lockout",
        "pressure_door",
        "hot_surface",
        "chemicals",
    ])));
    let page = Page {
        id: "intervals".into(),
        title: "Interval sheet for makers".into(),
        reader: "Intervals to state, how sure they are, and how far they were tested.".into(),
        blocks,
    };
    let document = sheet(results, page, stamp);
    Document {
        about: format!(
            "{} Intervals here are times between replacements, rounded down, by age in service; their bound holds with one-sided {} confidence.",
            super::origin(results),
            number::level(found.confidence)
        ),
        ..document
    }
}

#[cfg(test)]
mod tests {
    use super::{IN_SHORT, SOMEWHAT, SOMEWHAT_IN_SHORT, STRAYS, together};

    #[test]
    fn the_same_doubt_is_told_once() {
        let doubts = [
            format!("A, days: {STRAYS} from 3"),
            "A, days: too few".to_owned(),
            format!("B, days: {STRAYS} from 5"),
            format!("C, days: {SOMEWHAT} from 5"),
            "no name".to_owned(),
        ];
        assert_eq!(
            together(doubts.to_vec()),
            [
                format!("A, days; B, days: {IN_SHORT}"),
                "A, days: too few".to_owned(),
                format!("C, days: {SOMEWHAT_IN_SHORT}"),
                "no name".to_owned(),
            ]
        );
    }
}
