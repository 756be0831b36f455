//! One page each to hand on: the decision for finance, the interval sheet for makers.

mod decision;
mod intervals;

pub use decision::decision;
pub use intervals::interval_sheet;

use crate::analysis::run::Results;
use crate::cautions::{self, Caution};
use crate::document::{Block, Document, Page};
use crate::number;
use std::collections::BTreeSet;

/// Names longer than this are shortened on a sheet.
const LONGEST: usize = 36;

/// A document of one page with the study's own title and what its data are.
fn sheet(results: &Results, page: Page, stamp: &[(String, String)]) -> Document {
    let document = Document {
        title: results.title.clone(),
        lead: vec![],
        about: about(results),
        invented: results.invented,
        pages: vec![page],
        stamp: brief_stamp(stamp),
    };
    shortened(document, &names(results))
}

/// Lines of the stamp before the inputs, and inputs with the first of them, the study.
const STAMPED: usize = 4;

/// How it was made; of the inputs the first, for stamp.json has all.
fn brief_stamp(stamp: &[(String, String)]) -> Vec<(String, String)> {
    let kept = stamp.iter().take(STAMPED);
    let mut out: Vec<(String, String)> = kept
        .map(|(label, value)| (label.clone(), brief_hash(value)))
        .collect();
    if stamp.len() > STAMPED {
        let more = stamp.len() - STAMPED;
        out.push((
            "inputs beside it".to_owned(),
            format!("{more}, with their hashes in stamp.json"),
        ));
    }
    out
}

/// Digits of a hash that tell files apart on a sheet; stamp.json has all.
const DIGITS: usize = 12;

/// The text with its hash cut.
fn brief_hash(value: &str) -> String {
    match value.rsplit_once("SHA-256 ") {
        Some((before, hash)) if hash.is_ascii() && hash.len() > DIGITS => {
            let kept: String = hash.chars().take(DIGITS).collect();
            format!("{before}SHA-256 {kept}…")
        }
        _ => value.to_owned(),
    }
}

/// What the data are, in a line.
fn about(results: &Results) -> String {
    format!(
        "{} Intervals are {} confidence intervals unless another kind is named.",
        origin(results),
        number::level(results.confidence)
    )
}

/// The records behind it.
fn origin(results: &Results) -> String {
    let check = &results.check;
    let cut_off = check.cut_off.as_ref();
    format!(
        "From {} rows of records{}, {} set aside.",
        number::count(check.rows_read),
        cut_off.map_or_else(String::new, |d| format!(" up to {d}")),
        number::count(check.observations.set_aside)
    )
}

/// The cautions with these names.
fn cautions(ids: &[&str]) -> Vec<Caution> {
    let wanted = |c: &Caution| ids.contains(&c.id);
    cautions::all().into_iter().filter(wanted).collect()
}

/// Names from the data that are too long for a sheet.
fn names(results: &Results) -> BTreeSet<String> {
    let duties = results.intervals_by_duty.iter().flat_map(|d| &d.groups);
    let duties = duties.flat_map(|g| &g.group.0);
    let groups = results.fit.groups.iter().flat_map(|g| &g.group.0);
    let groups = groups.chain(duties);
    let groups = groups.flat_map(|(column, value)| [column.clone(), value.clone()]);
    let places = results.stock.found().map_or(&[][..], |s| &s.places);
    let places = places
        .iter()
        .flat_map(|p| [p.place.clone(), p.part.clone()]);
    groups
        .chain(places)
        .filter(|name| name.chars().count() > LONGEST)
        .collect()
}

/// Long names cut in the middle wherever they stand, so that the words after them still have room.
fn shortened(mut document: Document, names: &BTreeSet<String>) -> Document {
    let cut = |text: &mut String| {
        for name in names {
            if text.contains(name.as_str()) {
                *text = text.replace(name.as_str(), &brief(name));
            }
        }
    };
    for block in document.pages.iter_mut().flat_map(|p| &mut p.blocks) {
        match block {
            Block::Heading(t) | Block::Answer(t) | Block::Text(t) => cut(t),
            Block::List(items) => items.iter_mut().for_each(cut),
            Block::Folded { title, lines } => {
                cut(title);
                lines.iter_mut().for_each(cut);
            }
            Block::Table(t) => t.rows.iter_mut().flatten().for_each(cut),
            Block::Figure(chart) => {
                cut(&mut chart.title);
                cut(&mut chart.alt);
                chart.notes.iter_mut().for_each(cut);
            }
            _ => {}
        }
    }
    document
}

/// The name's first and last letters with an ellipsis between.
fn brief(name: &str) -> String {
    let letters: Vec<char> = name.chars().collect();
    let start = letters.iter().take(18);
    let end = letters.iter().skip(letters.len().saturating_sub(8));
    let (start, end): (String, String) = (start.collect(), end.collect());
    format!("{start}…{end}")
}

#[cfg(test)]
mod tests {
    use super::brief;

    #[test]
    fn a_long_name_keeps_both_its_ends() {
        let name = format!("Compound {} lot 77", "x".repeat(500));
        assert_eq!(brief(&name), "Compound xxxxxxxxx…x lot 77");
    }
}
