//! Plain lives in Parquet, larger than memory, to counts of distinct observations.
//!
//! Row group by row group, with only the columns that the question needs, every thread turns batches of rows
//! into counts at once. Memory grows with the distinct observations (ages, entry age, how it ended, group), not
//! with the rows. Counts are whole numbers and the list is put in order at the end, so the result is the same
//! for any number of threads.

mod batch;
mod codes;
mod counts;
mod folder;
mod plan;

use crate::error::Error;
use crate::finding::Finding;
use crate::life::{self, Life};
use crate::load::{Needs, Progress};
use crate::missing::Cleared;
use crate::notes::Notes;
use crate::study::Study;
use crate::table::{Source, Table};
use batch::{Gathered, gather};
use counts::{Counts, held};
use plan::{Plan, plan};
use polars::prelude::*;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};

pub(crate) use plan::{Outline, outline};

/// Rows that may be set aside, one by one with their reasons; with more of them the table is refused.
const MOST_ASIDE: u64 = 1_000_000;

/// True for a folder, and for a Parquet file.
pub(crate) fn is_parquet(path: &Path) -> Result<bool, Error> {
    Ok(path.is_dir() || crate::read::Opened::open(path)?.head().starts_with(b"PAR1"))
}

/// Counts the lives of the files, and tells where they came from.
pub(crate) fn read(
    outline: Outline,
    needs: &Needs,
    study: &Study,
    progress: &(dyn Fn(Progress) + Sync),
    notes: &mut Notes,
) -> Result<(Life, Source), Error> {
    let table = outline.table.clone();
    let mut plan = plan(outline, needs, study)?;
    let source = Source {
        role: "life",
        path: table.path.clone(),
        bytes: plan.bytes,
        // Never held whole: hashing would be a second reading of what is larger than memory.
        sha256: String::new(),
        format: "Parquet",
        encoding: None,
        rows: plan.rows,
    };
    if plan.rows == 0 {
        table.check_filled()?;
    }
    let counts = Counts::new();
    let parts = threads(&plan, &table.path, study, &counts, progress)?;
    notes.findings.extend(std::mem::take(&mut plan.notes));
    notes.findings.push(
        Finding::note("row_numbers", "rows of a Parquet file are numbered from 1")
            .file(&table.file)
            .mend("nothing to do"),
    );
    let (mut aside, mut cleared, mut coded) = (vec![], vec![], false);
    for part in parts {
        aside.extend(part.aside);
        cleared.extend(part.cleared);
        coded |= part.coded;
    }
    if coded {
        life::note_codes(&table.file, notes);
    }
    note_cleared(&plan, cleared, notes);
    set_aside(&plan, aside, notes)?;
    Ok((counted(table, plan, counts)?, source))
}

/// Every thread takes the next batch until none is left, or one could not be read.
fn threads(
    plan: &Plan,
    path: &Path,
    study: &Study,
    counts: &Counts,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Vec<Gathered>, Error> {
    let (next, done, aside) = (AtomicUsize::new(0), AtomicU64::new(0), AtomicU64::new(0));
    let work = || {
        let mut own = Gathered::default();
        // Batches are taken in order: whoever stops early has left none before it undone.
        while aside.load(Ordering::Relaxed) <= MOST_ASIDE {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(batch) = plan.batches.get(at) else {
                break;
            };
            let gathered = gather(plan, study, batch, counts, &mut own)
                .and_then(|more| held(counts.distinct(), path).map(|()| more));
            match gathered {
                Ok(more) => aside.fetch_add(more, Ordering::Relaxed),
                Err(why) => {
                    next.store(plan.batches.len(), Ordering::Relaxed);
                    return Err((at, Box::new(why)));
                }
            };
            let rows = batch.rows as u64;
            progress(Progress {
                stage: "reading",
                done: done.fetch_add(rows, Ordering::Relaxed) + rows,
                total: plan.rows,
            });
        }
        Ok(own)
    };
    let mut parts = Vec::new();
    let mut first: Option<(usize, Box<Error>)> = None;
    for part in rayon::broadcast(|_| work()) {
        match part {
            Ok(own) => parts.push(own),
            Err((at, why)) if first.as_ref().is_none_or(|(f, _)| at < *f) => {
                first = Some((at, why))
            }
            Err(_) => {}
        }
    }
    first.map_or(Ok(parts), |(_, why)| Err(*why))
}

/// One note a file and column.
fn note_cleared(plan: &Plan, cleared: Vec<(usize, Cleared)>, notes: &mut Notes) {
    let mut by_column: BTreeMap<(usize, String), Cleared> = BTreeMap::new();
    for (file, next) in cleared {
        match by_column.get_mut(&(file, next.column.clone())) {
            None => {
                by_column.insert((file, next.column.clone()), next);
            }
            Some(kept) => {
                let cells = kept.cells + next.cells;
                if next.row < kept.row {
                    *kept = next;
                }
                kept.cells = cells;
            }
        }
    }
    for ((file, _), cleared) in by_column {
        let path = plan.files.get(file).map(|f| f.path.display().to_string());
        notes.findings.push(cleared.note(&path.unwrap_or_default()));
    }
}

/// Sets rows aside in the order of the files; refuses when nothing readable is left, or too little.
fn set_aside(
    plan: &Plan,
    mut aside: Vec<(usize, u64, Finding)>,
    notes: &mut Notes,
) -> Result<(), Error> {
    aside.sort_by_key(|(file, row, _)| (*file, *row));
    let count = aside.len() as u64;
    if let Some((_, _, first)) = aside.first() {
        if count == plan.rows && life::is_of_the_column(first) {
            return Err(life::unreadable("no row can be read", first));
        }
        if count > MOST_ASIDE {
            return Err(life::unreadable(
                "more than a million rows cannot be read",
                first,
            ));
        }
    }
    for (_, _, finding) in aside {
        notes.aside(finding);
    }
    Ok(())
}

/// The counts as lives, one a distinct observation, with the columns that tell them apart.
fn counted(mut table: Table, plan: Plan, counts: Counts) -> Result<Life, Error> {
    let (entries, labels) = counts.whole();
    let mut columns = Vec::with_capacity(plan.keep.len());
    for (n, name) in plan.keep.iter().enumerate() {
        let cell = |label: u32| labels.get(label as usize)?.get(n)?.as_deref();
        let cells: StringChunked = entries.iter().map(|e| cell(e.label)).collect();
        columns.push(cells.with_name(name.as_str().into()).into_column());
    }
    table.frame = DataFrame::new(entries.len(), columns).map_err(|e| {
        let what = format!("the columns do not fit together: {e}");
        Error::new(
            crate::error::Kind::BadHeader,
            what,
            "check the columns of the files",
        )
        .in_file(&table.path)
    })?;
    let late = entries.iter().any(|e| e.entry > 0.0);
    Ok(Life {
        table,
        known: plan.known,
        lower: entries.iter().map(|e| e.lower).collect(),
        upper: entries.iter().map(|e| e.upper).collect(),
        entry: if late {
            entries.iter().map(|e| e.entry).collect()
        } else {
            Vec::new()
        },
        count: entries.iter().map(|e| e.count).collect(),
        used: Vec::new(),
        stands_for: entries.iter().map(|e| e.rows).collect(),
    })
}
