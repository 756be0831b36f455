//! What of each file is read: the needed columns, the same in every file, and the batches in order.

use crate::ask_life::group_column;
use crate::columns::{self, Known};
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::life;
use crate::load::{Needs, Progress};
use crate::read::parquet::{check_columns, check_group, check_tail, damaged, open, plain_types};
use crate::read::{Input, cannot, decode};
use crate::study::Study;
use crate::table::{self, Rows, Table};
use polars::prelude::*;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::folder::{Part, parts};

/// Rows a thread holds at one time, as far as row groups allow.
const MOST_ROWS: usize = 1 << 20;

/// One file, opened.
pub(crate) struct File {
    pub(crate) path: PathBuf,
    metadata: FileMetadataRef,
    /// Which of its columns are needed.
    projection: Vec<usize>,
    /// Needed columns that the folders' names give, and their cell.
    cells: Vec<(String, Option<String>)>,
}

/// A run of rows of one file.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Batch {
    pub(crate) file: usize,
    group: usize,
    pub(crate) from: usize,
    pub(crate) rows: usize,
}

/// The files, their columns, and what is read of them.
pub(crate) struct Plan {
    pub(crate) files: Vec<File>,
    pub(crate) batches: Vec<Batch>,
    pub(crate) known: Known,
    /// Columns that tell observations apart besides ages, by the files' own names.
    pub(crate) keep: Vec<String>,
    pub(crate) rows: u64,
    pub(crate) bytes: u64,
    pub(crate) notes: Vec<Finding>,
}

/// Names and plain types of a file's columns.
type Shape = Vec<(String, DataType)>;

/// The columns of a table before any of it is read: none of the rows, all of the names.
pub(crate) struct Outline {
    pub(crate) table: Table,
    opened: Vec<(Part, u64, FileMetadataRef, Shape)>,
    notes: Vec<Finding>,
}

/// Opens every file and compares their columns.
pub(crate) fn outline(path: &Path) -> Result<Outline, Error> {
    let mut opened: Vec<(Part, u64, FileMetadataRef, Shape)> = Vec::new();
    for part in parts(path)? {
        let (bytes, metadata, shape) = shape(&part.path)?;
        if let Some((first, _, _, theirs)) = opened.first() {
            alike(first, theirs, &part, &shape)?;
        }
        opened.push((part, bytes, metadata, shape));
    }
    let (mut names, mut notes) = (Vec::new(), Vec::new());
    if let Some((part, _, _, shape)) = opened.first() {
        names.extend(shape.iter().map(|(name, _)| name.clone()));
        for key in part.cells.keys() {
            if names.contains(key) {
                notes.push(doubled(key, path));
            } else {
                names.push(key.clone());
            }
        }
    }
    let columns = names
        .iter()
        .map(|_| Column::new_empty("".into(), &DataType::String));
    let frame = table::frame(&names, columns.collect(), path, None)?;
    let table = outline_table(path, frame);
    Ok(Outline {
        table,
        opened,
        notes,
    })
}

fn doubled(key: &str, path: &Path) -> Finding {
    Finding::note(
        "partition_in_rows",
        format!(
            "{key} is a column of the files and a name of folders: the cells of the files are read"
        ),
    )
    .file(&path.display().to_string())
    .column(key)
    .mend("nothing to do, as long as the two agree")
}

/// A table without rows.
fn outline_table(path: &Path, frame: DataFrame) -> Table {
    Table {
        path: path.to_path_buf(),
        file: path.display().to_string(),
        bytes: 0,
        sha256: String::new(),
        format: "Parquet",
        encoding: None,
        frame,
        header_row: None,
        rows: Rows::From(1),
        misshapen: Vec::new(),
        comma_is_free: false,
        notes: Vec::new(),
    }
}

/// Size, footer and columns of one file.
fn shape(path: &Path) -> Result<(u64, FileMetadataRef, Shape), Error> {
    let bytes = std::fs::metadata(path).map_err(|e| cannot(path, &e))?.len();
    let input = input(path);
    check_tail(&input, bytes)?;
    let bad = |e: PolarsError| damaged(&input, &e.to_string());
    let read = || {
        let mut reader = open(&input)?;
        let metadata = reader.get_metadata().map_err(bad)?.clone();
        check_columns(&input, bytes, &metadata)?;
        let none = reader.with_slice(Some((0, 0))).finish().map_err(bad)?;
        Ok((metadata, plain_types(none, &input)?))
    };
    let (metadata, frame) = decode(read, || damaged(&input, "its footer cannot be decoded"))?;
    let columns = frame.columns().iter();
    let shape: Shape = columns
        .map(|c| (c.name().to_string(), c.dtype().clone()))
        .collect();
    let names: Vec<String> = shape.iter().map(|(name, _)| name.clone()).collect();
    table::check_names(&names, path, None)?;
    table::check_named(path, &names)?;
    Ok((bytes, metadata, shape))
}

fn input(path: &Path) -> Input<'_> {
    Input {
        path,
        sheet: None,
        progress: &|_: Progress| {},
    }
}

/// Refuses a file whose columns are not those of the first.
fn alike(first: &Part, theirs: &Shape, part: &Part, shape: &Shape) -> Result<(), Error> {
    let refuse = |what: String, column: &str| {
        let mend =
            "a folder is one table: give every file the same columns, or read the files apart";
        Err(Error::new(Kind::BadHeader, what, mend)
            .in_file(&part.path)
            .in_column(column))
    };
    let first_name = first.path.display();
    let (keys, own_keys) = (first.cells.keys(), part.cells.keys());
    if !keys.clone().eq(own_keys.clone()) {
        let words = |keys: Vec<&String>| match keys.len() {
            0 => "no key".to_owned(),
            _ => keys.into_iter().cloned().collect::<Vec<_>>().join(", "),
        };
        let column = own_keys
            .clone()
            .chain(keys.clone())
            .next()
            .map_or("", String::as_str);
        let what = format!(
            "the folders give {} here, but {} to {first_name}",
            words(own_keys.collect()),
            words(keys.collect())
        );
        return refuse(what, column);
    }
    let own: BTreeMap<&str, &DataType> = shape.iter().map(|(n, t)| (n.as_str(), t)).collect();
    for (name, dtype) in theirs {
        match own.get(name.as_str()) {
            None => {
                let what = format!("the column \"{name}\" of {first_name} is not in this file");
                return refuse(what, name);
            }
            Some(other) if *other != dtype => {
                let what = format!(
                    "the column \"{name}\" holds {} here, but {} in {first_name}",
                    holds(other),
                    holds(dtype)
                );
                return refuse(what, name);
            }
            Some(_) => {}
        }
    }
    let known = |name: &str| theirs.iter().any(|(n, _)| n == name);
    match shape.iter().find(|(name, _)| !known(name)) {
        Some((name, _)) => refuse(
            format!("the column \"{name}\" is not in {first_name}"),
            name,
        ),
        None => Ok(()),
    }
}

fn holds(dtype: &DataType) -> &'static str {
    match dtype {
        DataType::Float64 => "numbers",
        DataType::Date => "dates",
        _ => "text",
    }
}

/// Decides what is read.
pub(crate) fn plan(outline: Outline, needs: &Needs, study: &Study) -> Result<Plan, Error> {
    let known = columns::resolve(&outline.table, life::COLUMNS, &study.columns.life, "life")?;
    life::form(&outline.table, &known, study)?;
    let names = outline.table.names();
    let ages: Vec<&str> = life::AGES.iter().filter_map(|a| known.theirs(a)).collect();
    let mut keep: Vec<String> = Vec::new();
    let asked = &study.question;
    let told_apart = needs.mode || asked.mode.is_some();
    let mode = known.theirs("mode").filter(|_| told_apart).map(Ok);
    let by = if needs.by.is_empty() {
        &asked.by
    } else {
        &needs.by
    };
    let by = by.iter().map(|name| group_column(&known, name, &names));
    for column in mode.into_iter().chain(by) {
        let column = column?.to_owned();
        if !ages.contains(&column.as_str()) && !keep.contains(&column) {
            keep.push(column);
        }
    }
    let status = known.theirs("status").filter(|_| known.has("time"));
    let needed =
        |name: &str| ages.contains(&name) || status == Some(name) || keep.iter().any(|k| k == name);
    let mut plan = Plan {
        files: Vec::new(),
        batches: Vec::new(),
        rows: 0,
        bytes: 0,
        notes: outline.notes,
        keep: Vec::new(),
        known: Known::default(),
    };
    for (part, bytes, metadata, shape) in outline.opened {
        plan.rows += metadata.num_rows as u64;
        plan.bytes += bytes;
        plan.batches.extend(batches(plan.files.len(), &metadata));
        let with = |n: &str| shape.iter().any(|(name, _)| name == n);
        let cells = part
            .cells
            .into_iter()
            .filter(|(key, _)| needed(key) && !with(key));
        plan.files.push(File {
            cells: cells.collect(),
            projection: (0..)
                .zip(&shape)
                .filter(|(_, (name, _))| needed(name))
                .map(|(at, _)| at)
                .collect(),
            path: part.path,
            metadata,
        });
    }
    plan.keep = keep;
    plan.known = known;
    Ok(plan)
}

impl Plan {
    /// The file of a batch.
    pub(crate) fn file(&self, batch: &Batch) -> Result<&File, Error> {
        let gone = || {
            Error::new(
                Kind::Missing,
                "there is no such file",
                "read the folder again",
            )
        };
        self.files.get(batch.file).ok_or_else(gone)
    }
}

/// The row groups of a file, large ones in pieces.
fn batches(file: usize, metadata: &FileMetadata) -> Vec<Batch> {
    let mut from = 0;
    let mut out = Vec::new();
    for (group, rows_of) in metadata.row_groups.iter().enumerate() {
        let mut left = rows_of.num_rows();
        while left > 0 {
            let rows = left.min(MOST_ROWS);
            out.push(Batch {
                file,
                group,
                from,
                rows,
            });
            from += rows;
            left -= rows;
        }
    }
    out
}

impl File {
    /// The needed columns of a batch, as text, numbers and dates.
    pub(crate) fn read(&self, batch: &Batch) -> Result<DataFrame, Error> {
        let input = input(&self.path);
        let bad = |e: PolarsError| damaged(&input, &e.to_string());
        if self.projection.is_empty() {
            return Ok(DataFrame::empty_with_height(batch.rows));
        }
        let read = || {
            let group = (self.metadata.as_ref(), batch.group);
            check_group(&input, group, &self.projection)?;
            let mut reader = open(&input)?
                .with_projection(Some(self.projection.clone()))
                .read_parallel(ParallelStrategy::None)
                .with_slice(Some((batch.from, batch.rows)));
            reader.set_metadata(self.metadata.clone());
            let frame = plain_types(reader.finish().map_err(bad)?, &input)?;
            match frame.height() == batch.rows {
                true => Ok(frame),
                false => Err(damaged(&input, "rows are missing")),
            }
        };
        decode(read, || damaged(&input, "a page cannot be decoded"))
    }

    /// The rows `at` of a batch with the cells that the folders give, and their own numbers.
    pub(crate) fn table(
        &self,
        frame: &DataFrame,
        at: &[IdxSize],
        rows: Vec<u64>,
    ) -> Result<Table, Error> {
        let input = input(&self.path);
        let bad = |e: PolarsError| damaged(&input, &e.to_string());
        let mut columns = Vec::with_capacity(frame.width() + self.cells.len());
        if frame.width() > 0 {
            let at = IdxCa::from_slice("".into(), at);
            columns.extend(frame.take(&at).map_err(bad)?.into_columns());
        }
        for (key, cell) in &self.cells {
            let cells = vec![cell.as_deref(); at.len()];
            columns.push(Column::new(key.as_str().into(), cells));
        }
        let frame = DataFrame::new(at.len(), columns).map_err(bad)?;
        let mut table = outline_table(&self.path, frame);
        table.rows = Rows::Listed(rows);
        Ok(table)
    }
}
