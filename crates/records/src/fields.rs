//! The cells of one row by our own column names, with findings that name the place.

use crate::cells::{Cells, clip};
use crate::columns::{self, Known};
use crate::date_column::{self, DateCells};
use crate::dates::Span;
use crate::error::Error;
use crate::finding::{Finding, Severity};
use crate::notes::Notes;
use crate::study::{Names, Study};
use crate::table::Table;
use crate::words::{nearest, normal};
use std::collections::BTreeMap;

/// A table with its columns found and its dates read.
pub(crate) struct Fields<'a> {
    pub(crate) table: &'a Table,
    pub(crate) known: Known,
    cells: BTreeMap<&'static str, Cells<'a>>,
    dates: BTreeMap<&'static str, DateCells>,
}

/// A list of words with its reader.
pub(crate) struct WordList<'a, T> {
    pub(crate) kind: &'static str,
    pub(crate) list: &'static [&'static str],
    pub(crate) read: fn(&str) -> Option<T>,
    pub(crate) theirs: &'a Names,
    pub(crate) section: &'static str,
}

impl<'a> Fields<'a> {
    pub(crate) fn new(
        table: &'a Table,
        ours: &'static [&'static str],
        date_names: &[&'static str],
        mapping: &Names,
        role: &str,
        study: &Study,
        notes: &mut Notes,
    ) -> Result<Self, Error> {
        let known = columns::resolve(table, ours, mapping, role)?;
        let cells = known
            .ours()
            .map(|n| (n, Cells::of(table, known.theirs(n))))
            .collect();
        let dates = date_column::read(table, &known, date_names, &study.dates, notes);
        Ok(Self {
            table,
            known,
            cells,
            dates,
        })
    }

    pub(crate) fn height(&self) -> usize {
        self.table.frame.height()
    }

    pub(crate) fn row(&self, at: usize) -> u64 {
        self.table.rows.number(at)
    }

    /// A finding at a row and one of our columns.
    pub(crate) fn place(&self, finding: Finding, name: &str, at: usize) -> Box<Finding> {
        let column = self.known.theirs(name).unwrap_or(name).to_owned();
        Box::new(
            finding
                .file(&self.table.file)
                .row(self.row(at))
                .column(&column),
        )
    }

    pub(crate) fn text(&self, name: &str, at: usize) -> Option<String> {
        self.cells
            .get(name)?
            .text(at)
            .map(std::borrow::Cow::into_owned)
    }

    /// A date, or the finding that says why the cell is none.
    pub(crate) fn date(&self, name: &str, at: usize) -> Result<Option<Span>, Box<Finding>> {
        match self.dates.get(name).and_then(|d| d.get(at)) {
            None => Ok(None),
            Some(Ok(span)) => Ok(*span),
            Some(Err(fault)) => {
                let finding = Finding::error(fault.kind, fault.message.clone()).mend(fault.mend);
                Err(self.place(finding, name, at))
            }
        }
    }

    /// A number, zero or more; anything else is a finding, and the cell counts as empty.
    pub(crate) fn amount(&self, name: &str, at: usize, notes: &mut Notes) -> Option<f64> {
        let found = match self.cells.get(name)?.number(at) {
            Ok(Some(v)) if v < 0.0 => Finding::warning(
                "negative_reading",
                format!("{v} is below zero; the cell is taken as empty"),
            )
            .mend("correct the number, or clear the cell"),
            Ok(value) => return value,
            Err(e) => Finding::warning(
                e.kind(),
                format!("{}; the cell is taken as empty", e.message()),
            )
            .mend(e.mend()),
        };
        notes.findings.push(*self.place(found, name, at));
        None
    }

    /// A whole number of one or more; anything else is a finding, and the cell counts as empty.
    pub(crate) fn ordinal(&self, name: &str, at: usize, notes: &mut Notes) -> Option<u32> {
        let value = self.amount(name, at, notes)?;
        if value.fract() == 0.0 && (1.0..=360.0).contains(&value) {
            return Some(value as u32);
        }
        let finding = Finding::warning(
            "not_a_sector",
            format!("{value} is no sector; the cell is taken as empty"),
        )
        .mend("number the sectors clockwise from 1");
        notes.findings.push(*self.place(finding, name, at));
        None
    }

    /// A word of a list, the study's own words first; `None` for an empty cell.
    pub(crate) fn word<T>(
        &self,
        name: &str,
        at: usize,
        list: &WordList<'_, T>,
        severity: Severity,
    ) -> Result<Option<T>, Box<Finding>> {
        let Some(text) = self.text(name, at) else {
            return Ok(None);
        };
        let word = normal(&text);
        let mapped = list
            .theirs
            .iter()
            .find(|(t, _)| normal(t) == word)
            .map(|(_, o)| o.as_str());
        if let Some(member) = (list.read)(mapped.unwrap_or(&text)) {
            return Ok(Some(member));
        }
        let near =
            nearest(&text, list.list).map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
        let finding = Finding::new(
            list.kind,
            severity,
            format!("\"{}\" is no {name} we know", clip(&text)),
        )
        .mend(format!(
            "{near}the words are: {}; map your own under [words.{}]",
            list.list.join(", "),
            list.section
        ));
        Err(self.place(finding, name, at))
    }
}
