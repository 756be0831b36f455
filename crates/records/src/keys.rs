//! Columns to group by: their values as codes, and the groups they make.

use crate::ask::Remarks;
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::words::{nearest, normal};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// The value of an empty cell of a group column, a group of its own.
pub const NONE: &str = "(none)";

/// A group column: a label for each code, in order, and a code for each row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Factor {
    pub(crate) name: String,
    pub(crate) labels: Vec<String>,
    pub(crate) codes: Vec<u32>,
}

impl Factor {
    /// Codes the values; empty ones get the label [`NONE`] and a note.
    pub(crate) fn new<'a>(
        name: &str,
        values: impl Iterator<Item = Option<Cow<'a, str>>>,
        remarks: &mut Remarks,
    ) -> Self {
        Self::weighed(name, values.map(|value| (value, 1)), remarks)
    }

    /// The same, with how many rows each value stands for.
    pub(crate) fn weighed<'a>(
        name: &str,
        values: impl Iterator<Item = (Option<Cow<'a, str>>, u64)>,
        remarks: &mut Remarks,
    ) -> Self {
        let mut seen: BTreeMap<Cow<'a, str>, u32> = BTreeMap::new();
        let mut empty = 0_u64;
        let codes: Vec<u32> = values
            .map(|(value, rows)| {
                let value = value.unwrap_or_else(|| {
                    empty += rows;
                    Cow::Borrowed(NONE)
                });
                let next = seen.len() as u32;
                seen.get(&value)
                    .copied()
                    .unwrap_or_else(|| *seen.entry(value).or_insert(next))
            })
            .collect();
        if empty > 0 {
            remarks.findings.push(
                Finding::note(
                    "group_value_missing",
                    format!("{empty} rows have no {name}; they form the group {NONE}"),
                )
                .column(name)
                .mend("fill the column, or read that group apart"),
            );
        }
        let (labels, rank) = ordered(&seen);
        let codes = codes
            .into_iter()
            .map(|c| rank.get(c as usize).copied().unwrap_or(c))
            .collect();
        Self {
            name: name.to_owned(),
            labels,
            codes,
        }
    }
}

/// Labels in order (numbers by value, words by letter) and the new code of each old one.
fn ordered(seen: &BTreeMap<Cow<'_, str>, u32>) -> (Vec<String>, Vec<u32>) {
    let mut list: Vec<(String, u32)> = seen.iter().map(|(l, c)| (l.to_string(), *c)).collect();
    let number = |label: &str| label.parse::<f64>().ok().filter(|v| v.is_finite());
    if list.iter().all(|(l, _)| l == NONE || number(l).is_some()) {
        list.sort_by(|(a, _), (b, _)| {
            let (a, b) = (number(a).unwrap_or(f64::MAX), number(b).unwrap_or(f64::MAX));
            a.total_cmp(&b)
        });
    }
    let mut rank = vec![0; list.len()];
    for (new, (_, old)) in (0..).zip(&list) {
        if let Some(slot) = rank.get_mut(*old as usize) {
            *slot = new;
        }
    }
    (list.into_iter().map(|(l, _)| l).collect(), rank)
}

/// A group's key and its rows.
pub(crate) type Bunch = (Vec<(String, String)>, Vec<usize>);

/// The groups that the factors make of `rows`, sorted by key.
pub(crate) fn bunches(factors: &[Factor], rows: impl Iterator<Item = usize>) -> Vec<Bunch> {
    let mut map: BTreeMap<Vec<u32>, Vec<usize>> = BTreeMap::new();
    let mut key = Vec::with_capacity(factors.len());
    for at in rows {
        key.clear();
        key.extend(
            factors
                .iter()
                .map(|f| f.codes.get(at).copied().unwrap_or(0)),
        );
        match map.get_mut(&key) {
            Some(list) => list.push(at),
            None => {
                map.insert(key.clone(), vec![at]);
            }
        }
    }
    map.into_iter()
        .map(|(codes, rows)| {
            let key = factors
                .iter()
                .zip(codes)
                .map(|(f, c)| {
                    (
                        f.name.clone(),
                        f.labels.get(c as usize).cloned().unwrap_or_default(),
                    )
                })
                .collect();
            (key, rows)
        })
        .collect()
}

/// The column of `names` that `wanted` names, exactly or in another dress.
pub(crate) fn pick<'a>(wanted: &str, names: &[&'a str]) -> Option<&'a str> {
    let exact = names.iter().find(|n| **n == wanted.trim());
    exact
        .or_else(|| names.iter().find(|n| normal(n) == normal(wanted)))
        .copied()
}

/// The error of a group column that is nowhere.
pub(crate) fn unknown(wanted: &str, names: &[&str]) -> Error {
    let near = nearest(wanted, names).map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
    Error::new(
        Kind::UnknownColumn,
        format!("there is no column \"{wanted}\" to group by"),
        format!("{near}there are: {}", names.join(", ")),
    )
    .in_column(wanted)
}
