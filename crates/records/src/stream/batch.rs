//! One batch of rows to counts of its distinct observations.

use crate::cells::Cells;
use crate::error::Error;
use crate::finding::Finding;
use crate::life;
use crate::life_row::{Fault, Reading};
use crate::missing::{self, Cleared};
use crate::study::Study;
use crate::table::Table;
use polars::prelude::*;
use std::borrow::Cow;

use super::codes::Codes;
use super::counts::{Counts, Entry};
use super::plan::{Batch, Plan};

/// What a thread has gathered beside counts.
#[derive(Default)]
pub(crate) struct Gathered {
    /// Rows that are set aside, by file and row.
    pub(crate) aside: Vec<(usize, u64, Finding)>,
    /// Cells taken as empty, with their file.
    pub(crate) cleared: Vec<(usize, Cleared)>,
    /// True when a status of 1 or 0 was read.
    pub(crate) coded: bool,
}

/// The distinct rows of a batch.
struct Distinct {
    /// Each of them once, at its first row.
    table: Table,
    /// How many rows of the batch are like it.
    counts: Vec<u64>,
    /// Which of the batch's groups it belongs to.
    group: Vec<u32>,
    groups: usize,
    /// Which of them each row of the batch is.
    of: Vec<u32>,
}

/// Reads a batch and adds to what is counted and gathered. Gives how many of its rows are set aside.
pub(crate) fn gather(
    plan: &Plan,
    study: &Study,
    batch: &Batch,
    counts: &Counts,
    into: &mut Gathered,
) -> Result<u64, Error> {
    let mut distinct = distinct(plan, batch)?;
    let alike = &distinct.counts;
    let rows = |at: usize| alike.get(at).copied().unwrap_or(0);
    let cleared = missing::cleared(&mut distinct.table, &study.words, rows);
    into.cleared
        .extend(cleared.into_iter().map(|c| (batch.file, c)));
    let reading = life::form(&distinct.table, &plan.known, study)?;
    let faults = observations(plan, &distinct, &reading, counts, into);
    let before = into.aside.len();
    if !faults.is_empty() {
        set_aside(plan, batch, &distinct, &faults, into);
    }
    Ok((into.aside.len() - before) as u64)
}

fn distinct(plan: &Plan, batch: &Batch) -> Result<Distinct, Error> {
    let file = plan.file(batch)?;
    let frame = file.read(batch)?;
    let is_kept = |c: &&Column| plan.keep.iter().any(|k| k == c.name().as_str());
    let kept = Codes::of(batch.rows, frame.columns().iter().filter(is_kept));
    let rest: Vec<&Column> = frame.columns().iter().filter(|c| !is_kept(c)).collect();
    let (groups, group_of) = (kept.first.len(), kept.of.clone());
    let codes = match mostly_unlike(&rest) {
        true => Codes::each(batch.rows),
        false => kept.and(&Codes::of(batch.rows, rest.into_iter())),
    };
    let rows = codes
        .first
        .iter()
        .map(|at| batch.from as u64 + u64::from(*at) + 1);
    let group = codes
        .first
        .iter()
        .map(|at| group_of.get(*at as usize).copied().unwrap_or(0));
    Ok(Distinct {
        table: file.table(&frame, &codes.first, rows.collect())?,
        counts: codes.counts(),
        group: group.collect(),
        groups,
        of: codes.of,
    })
}

/// Rows by which it is judged whether looking for rows alike is worth while.
const SAMPLE: usize = 1 << 13;

/// True when most of the first rows of a batch are unlike each other: what is alike is then found by counting alone.
fn mostly_unlike(columns: &[&Column]) -> bool {
    let first: Vec<Column> = columns.iter().map(|c| c.head(Some(SAMPLE))).collect();
    let rows = first.first().map_or(0, Column::len);
    rows == SAMPLE && 4 * Codes::of(rows, first.iter()).first.len() > 3 * rows
}

/// Adds the observations of the distinct rows that can be used; gives the faults of the others.
fn observations(
    plan: &Plan,
    distinct: &Distinct,
    reading: &Reading<'_>,
    counts: &Counts,
    into: &mut Gathered,
) -> Vec<(usize, Fault)> {
    let cells = plan
        .keep
        .iter()
        .map(|k| Cells::of(&distinct.table, Some(k)));
    let cells: Vec<Cells<'_>> = cells.collect();
    let mut codes: Vec<Option<u32>> = vec![None; distinct.groups];
    let mut label = |at: usize, group: u32| {
        if let Some(Some(code)) = codes.get(group as usize) {
            return *code;
        }
        let texts = cells
            .iter()
            .map(|c| c.text(at).map(Cow::into_owned))
            .collect();
        let code = counts.label(texts);
        if let Some(slot) = codes.get_mut(group as usize) {
            *slot = Some(code);
        }
        code
    };
    let mut faults = Vec::new();
    let mut entries = Vec::with_capacity(distinct.counts.len());
    for (at, (&rows, &group)) in distinct.counts.iter().zip(&distinct.group).enumerate() {
        match reading.row(at, &mut into.coded) {
            Ok((lower, upper, entry, count)) => entries.push(Entry {
                label: label(at, group),
                lower,
                upper,
                entry,
                count: count * rows as f64,
                rows,
            }),
            Err(fault) => faults.push((at, fault)),
        }
    }
    counts.add(&entries);
    faults
}

/// A finding for every row of a fault.
fn set_aside(
    plan: &Plan,
    batch: &Batch,
    distinct: &Distinct,
    faults: &[(usize, Fault)],
    into: &mut Gathered,
) {
    for (at, code) in distinct.of.iter().enumerate() {
        let found = faults.binary_search_by_key(&(*code as usize), |(at, _)| *at);
        if let Some((_, fault)) = found.ok().and_then(|n| faults.get(n)) {
            let row = (batch.from + at) as u64 + 1;
            let column = plan.known.theirs(fault.column).unwrap_or(fault.column);
            let finding = fault.finding(&distinct.table.file, row, column);
            into.aside.push((batch.file, row, finding));
        }
    }
}
