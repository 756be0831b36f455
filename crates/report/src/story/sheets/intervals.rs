//! The intervals to state, with their confidence and how far they were tested, on one page.

use super::super::maker;
use super::{cautions, sheet};
use crate::analysis::run::Results;
use crate::document::{Block, Document, Page};

/// The interval sheet of a study.
#[must_use]
pub fn interval_sheet(results: &Results, stamp: &[(String, String)]) -> Document {
    let found = &results.intervals;
    let mut table = maker::table(found);
    if let Some(range) = table.columns.last_mut() {
        range.1 = false;
    }
    let mut blocks = vec![Block::Answer(maker::answer(found)), Block::Table(table)];
    let doubts = maker::doubts(found);
    if !doubts.is_empty() {
        blocks.push(Block::Heading("What to doubt".into()));
        blocks.push(Block::List(doubts));
    }
    blocks.push(Block::Heading("How to read it".into()));
    blocks.push(Block::List(found.notes.clone()));
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
