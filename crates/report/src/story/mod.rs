//! The report's words: results to a document for an engineer, a finance manager and a maker, with the
//! evidence behind them.

pub mod ageing;
pub mod back_test;
pub mod bought;
mod compare;
pub mod condition;
mod decide;
mod effects;
mod engineer;
mod evidence;
mod finance;
mod first;
mod forest;
mod maker;
mod money_tables;
mod months;
mod more;
mod part_money;
mod picture;
mod plans;
mod positions;
mod residuals;
mod sheets;
mod tables;
mod tornado;
mod words;

pub use compare::{figures as compare_figures, life_ratio_table};
pub use positions::figures as position_figures;
pub use sheets::{decision, interval_sheet};
pub use tables::tables;

use crate::analysis::run::Results;
use crate::document::Document;

/// The report of a study. `stamp` says how it was made: label and value.
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

/// The answers to the four questions, a sentence each: how long, what to look at first, what to change, how to care (with
/// the sites that do otherwise), what it takes.
#[must_use]
pub fn lead(results: &Results) -> Vec<String> {
    [
        words::how_long(results),
        words::how_long_without_law(results),
        first::look_first(results),
        words::what_differs(results),
        plans::headline(results).or_else(|| words::when(results)),
        plans::in_all(results),
        months::trust(results),
        words::habits(results),
        words::what_it_takes(results),
    ]
    .into_iter()
    .flatten()
    .collect()
}
