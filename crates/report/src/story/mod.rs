//! The report's words: results to a document for an engineer, a finance manager and a maker, with the
//! evidence behind them.

pub mod ageing;
mod ages;
pub mod back_test;
pub mod bought;
mod compare;
pub mod condition;
mod decide;
pub mod due;
mod effects;
mod engineer;
mod evidence;
mod finance;
mod first;
mod forest;
mod how_long;
mod last_year;
mod maker;
mod material;
mod money_tables;
mod months;
mod more;
pub mod own_ages;
mod part_money;
mod picture;
pub mod place_money;
mod plan_words;
mod plans;
mod positions;
mod residuals;
mod saved;
mod sheets;
mod spent;
mod tables;
mod tornado;
mod words;

pub use compare::{figures as compare_figures, life_ratio_table};
pub use positions::figures as position_figures;
pub use sheets::{decision, interval_sheet};
pub use tables::tables;

use crate::analysis::run::Results;
use crate::document::{Document, Lead};

/// The report of a study: the answers, then a page each for the engineer, the finance manager and the maker, and the
/// evidence. `stamp` says how it was made: label and value.
#[must_use]
pub fn story(results: &Results, stamp: Vec<(String, String)>) -> Document {
    let check = &results.check;
    let cut_off = check
        .cut_off
        .as_ref()
        .map_or_else(String::new, |d| format!(" up to {d}"));
    Document {
        title: results.title.clone(),
        lead: lead(results),
        about: format!(
            "From {} rows of records{cut_off}: {} used, {} set aside. Intervals are {} confidence intervals unless another kind is named; ages are in {}.",
            crate::number::count(check.rows_read),
            crate::number::count(check.seals),
            crate::number::count(check.observations.set_aside),
            crate::number::level(results.confidence),
            results.unit
        ),
        invented: results.invented,
        pages: vec![
            engineer::page(results),
            finance::page(results),
            maker::page(results),
            evidence::page(results),
        ],
        stamp,
    }
}

/// The answers to the four questions, each under a label: how long, what to look at first, what to change, how to care
/// (with the sites that do otherwise), what it takes.
#[must_use]
pub fn lead(results: &Results) -> Vec<Lead> {
    let one = |line: Option<String>| line.into_iter().collect::<Vec<_>>();
    let and = |a: Option<String>, b: Option<String>| a.into_iter().chain(b).collect::<Vec<_>>();
    let mut care = plan_words::what_to_do(results);
    if care.is_empty() {
        care.extend(words::when(results));
    }
    care.extend(material::instead(results));
    care.extend(plan_words::besides(results));
    let due = results.due.found().and_then(due::past_due);
    let mut doubts = and(months::trust(results), plan_words::laws_in_doubt(results));
    doubts.extend(plan_words::otherwise_in_short(results));
    [
        (
            "How long they last",
            and(how_long::how_long(results), how_long::beside(results)),
        ),
        ("See to now", and(first::look_first(results), due)),
        ("What shortens life", one(words::what_differs(results))),
        ("What to do", care),
        ("What it saves", saved::in_all(results)),
        ("What to doubt", doubts),
        ("Sites", one(words::habits(results))),
        ("Failures, spares", one(words::what_it_takes(results))),
        ("Before opening", vec![crate::cautions::IN_SHORT.to_owned()]),
    ]
    .into_iter()
    .filter(|(_, lines)| !lines.is_empty())
    .map(|(label, lines)| Lead {
        label: label.to_owned(),
        lines,
    })
    .collect()
}
