//! Which of a table's columns is which of ours.

use crate::error::{Error, Kind};
use crate::study::Names;
use crate::table::Table;
use crate::words::{nearest, normal};
use std::collections::BTreeMap;

/// Our names found in a table, and the columns that are none of ours.
#[derive(Debug, Clone, Default)]
pub(crate) struct Known {
    ours: BTreeMap<&'static str, String>,
    /// The table's other columns, in its order.
    pub(crate) others: Vec<String>,
}

impl Known {
    /// The table's name for one of our columns.
    pub(crate) fn theirs(&self, ours: &str) -> Option<&str> {
        self.ours.get(ours).map(String::as_str)
    }

    pub(crate) fn has(&self, ours: &str) -> bool {
        self.ours.contains_key(ours)
    }

    /// Our columns found here.
    pub(crate) fn ours(&self) -> impl Iterator<Item = &'static str> {
        self.ours.keys().copied()
    }
}

/// Matches columns: the study's mapping first, then names alike in any dress.
pub(crate) fn resolve(
    table: &Table,
    known: &'static [&'static str],
    mapping: &Names,
    role: &str,
) -> Result<Known, Error> {
    let names = table.names();
    let mut found = Known::default();
    for (ours, theirs) in mapping {
        let ours = known.iter().find(|k| **k == normal(ours)).ok_or_else(|| {
            let hint =
                nearest(ours, known).map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
            Error::new(
                Kind::Study,
                format!("\"{ours}\" is none of our columns"),
                format!("{hint}they are: {}", known.join(", ")),
            )
            .in_column(format!("columns.{role}.{ours}"))
        })?;
        let exact = names.iter().find(|n| **n == theirs.trim());
        let alike = names.iter().find(|n| normal(n) == normal(theirs));
        let name = exact
            .or(alike)
            .ok_or_else(|| missing_mapped(table, theirs, &names))?;
        found.ours.insert(ours, (*name).to_owned());
    }
    for ours in known {
        if found.has(ours) {
            continue;
        }
        let free = |n: &&&str| !found.ours.values().any(|t| t == **n);
        if let Some(name) = names.iter().filter(free).find(|n| normal(n) == *ours) {
            found.ours.insert(ours, (*name).to_owned());
        }
    }
    found.others = names
        .iter()
        .filter(|n| !found.ours.values().any(|t| t == **n))
        .map(|n| (*n).to_owned())
        .collect();
    Ok(found)
}

fn missing_mapped(table: &Table, theirs: &str, names: &[&str]) -> Error {
    let hint = nearest(theirs, names).map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
    Error::new(
        Kind::MissingColumn,
        format!("the study names a column \"{theirs}\" that is not in the table"),
        format!("{hint}the columns are: {}", names.join(", ")),
    )
    .in_file(&table.path)
    .at_row(table.header_row)
    .in_column(theirs)
}

/// The error of a table that lacks a column it cannot do without.
pub(crate) fn lacking(table: &Table, ours: &str, what_for: &str) -> Error {
    let names = table.names();
    let hint = nearest(ours, &names).map_or(String::new(), |n| {
        format!("if it is \"{n}\", map it in a study file; ")
    });
    Error::new(
        Kind::MissingColumn,
        format!("there is no column `{ours}`, {what_for}"),
        format!("{hint}the columns are: {}", names.join(", ")),
    )
    .in_file(&table.path)
    .at_row(table.header_row)
    .in_column(ours)
}
