//! Figures, tables and results of one command, written as a folder.

use crate::failure::Failure;
use sealspan_records::Source;
use sealspan_report::chart::Chart;
use sealspan_report::document::DataTable;
use sealspan_report::figures::{Look, png, svg};
use sealspan_report::folder::{self, Entry, Input, Stamp};
use serde::Serialize;
use std::ffi::OsString;
use std::path::Path;

/// Pixels of a PNG per figure unit.
const PNG_SCALE: f32 = 2.0;

/// What goes into the folder.
pub struct Contents<'a, D> {
    /// The command line as given.
    pub raw: &'a [OsString],
    /// Seed of everything random; 0 where nothing is.
    pub seed: u64,
    /// The files read.
    pub sources: &'a [Source],
    /// The figures.
    pub charts: &'a [Chart],
    /// The tables.
    pub tables: &'a [DataTable],
    /// The answer, for `results.json`.
    pub document: &'a D,
}

/// Writes the folder, whole or not at all.
pub fn write<D: Serialize>(out: &Path, contents: &Contents<'_, D>) -> Result<(), Failure> {
    let mut entries: Vec<Entry> = vec![];
    for chart in contents.charts {
        let drawing = svg(chart, &Look::alone())?;
        entries.push((
            format!("figures/{}.png", chart.id),
            png(&drawing, PNG_SCALE)?,
        ));
        entries.push((format!("figures/{}.svg", chart.id), drawing.into_bytes()));
    }
    for table in contents.tables {
        entries.extend(crate::commands::filed(table)?);
    }
    entries.push(("results.json".to_owned(), folder::json(contents.document)?));
    let words = contents.raw.iter().skip(1);
    let command: Vec<String> = std::iter::once("sealspan".to_owned())
        .chain(words.map(|w| w.to_string_lossy().into_owned()))
        .collect();
    let inputs = contents
        .sources
        .iter()
        .map(|s| Input {
            role: s.role.to_owned(),
            file: s.path.display().to_string(),
            bytes: s.bytes,
            sha256: s.sha256.clone(),
        })
        .collect();
    let stamp = Stamp::new(command.join(" "), contents.seed, inputs);
    if let Some(parent) = out.parent().filter(|p| !p.as_os_str().is_empty()) {
        std::fs::create_dir_all(parent).map_err(|e| {
            Failure::input(
                format!("the folder {} cannot be made: {e}", parent.display()),
                "choose another --out",
            )
        })?;
    }
    folder::write(out, &stamp, &entries)?;
    Ok(())
}
