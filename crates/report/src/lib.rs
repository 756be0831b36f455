//! Figures, words and self-contained reports.
//!
//! A report is plain data first: a [`document::Document`] holds sections,
//! sentences, tables and [`chart::Chart`]s, and knows no file format. Each
//! renderer turns the same document into one format; [`folder`] writes the
//! whole result at once or not at all.
//!
//! # Units
//!
//! Numbers of documents ([`wire`]) are in the unit that stands beside them in the document: ages in the clock's unit,
//! money in the currency of the study, shares between 0 and 1. [`number`] alone rounds and words them.

#![warn(clippy::indexing_slicing, clippy::string_slice)]

pub mod analysis;
pub mod cautions;
pub mod chart;
pub mod column;
pub mod document;
pub mod error;
pub mod figures;
pub mod folder;
pub mod number;
pub mod render;
pub mod scale;
pub mod story;
pub mod visible;
pub mod wire;
pub mod xlsx;

pub use error::{Error, Result};
