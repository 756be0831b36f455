//! The three tables as files. Each is written whole beside its place, then moved into it.

use std::fs;
use std::path::{Path, PathBuf};

use polars::prelude::DataFrame;
use sealspan_records::write::hold;

use super::error::ScenarioError;
use super::rows::Fleet;

/// File format of the record tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated text in UTF-8, line feed.
    Csv,
    /// Parquet.
    Parquet,
}

impl Format {
    fn extension(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Parquet => "parquet",
        }
    }
}

/// Writes `seals`, `inspections` and `assets` into `folder`, making it if need be, and returns their
/// paths. No table is moved into place until all three are complete.
///
/// # Errors
/// When a table cannot be built or a file not be written; files already there are then untouched,
/// unless the moving itself fails.
pub fn write(fleet: &Fleet, folder: &Path, format: Format) -> Result<Vec<PathBuf>, ScenarioError> {
    let mut frames = fleet.frames()?;
    fs::create_dir_all(folder).map_err(|source| ScenarioError::write(folder, source))?;
    // Another run into the same folder has its turn before or after: the tables belong together.
    let _held = hold(folder);
    let mut ready = Vec::new();
    let tables = [
        ("seals", &mut frames.seals),
        ("inspections", &mut frames.inspections),
        ("assets", &mut frames.assets),
    ];
    for (name, frame) in tables {
        let path = folder.join(format!("{name}.{}", format.extension()));
        let part = folder.join(format!(".{name}.{}.part", format.extension()));
        ready.push((part.clone(), path));
        if let Err(error) = save(frame, &part, format) {
            for (part, _) in &ready {
                // Nothing better can be done about a part file that will not go.
                let _ = fs::remove_file(part);
            }
            return Err(error);
        }
    }
    for (part, path) in &ready {
        fs::rename(part, path).map_err(|source| ScenarioError::write(path, source))?;
    }
    Ok(ready.into_iter().map(|(_, path)| path).collect())
}

fn save(frame: &mut DataFrame, part: &Path, format: Format) -> Result<(), ScenarioError> {
    match format {
        Format::Csv => sealspan_records::write::write_csv(frame, part),
        Format::Parquet => sealspan_records::write::write_parquet(frame, part),
    }
    .map_err(ScenarioError::records)
}
