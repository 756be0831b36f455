//! Is the path a study or a bare table, where are the tables, and which form has that of the lives?

use super::Progress;
use super::records::Form;
use crate::error::{Error, Kind};
use crate::read;
use crate::study::Study;
use crate::table::{Source, Table};
use crate::words::normal;
use std::path::{Path, PathBuf};

/// Where the tables of a study are.
#[derive(Debug, Default)]
pub(super) struct Paths {
    pub seals: Option<PathBuf>,
    pub life: Option<PathBuf>,
    pub inspections: Option<PathBuf>,
    pub assets: Option<PathBuf>,
}

/// The study and its paths; a bare table stands as a study of one file.
pub(super) fn study_or_table(
    path: &Path,
    folders: bool,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<(Study, Paths, Vec<Source>), Error> {
    let bare = || Paths {
        seals: Some(path.to_path_buf()),
        ..Paths::default()
    };
    if folders && path.is_dir() {
        return Ok((Study::default(), bare(), Vec::new()));
    }
    let file = read::Opened::open(path)?;
    if !is_study(path, file.head()) {
        return Ok((Study::default(), bare(), Vec::new()));
    }
    if file.size() > read::LARGEST_STUDY {
        return Err(Error::new(
            Kind::TooLarge,
            format!("the study file is larger than {} MiB", read::LARGEST_STUDY >> 20),
            "a study names tables and prices; the records themselves go into a table (CSV, Parquet, XLSX)",
        )
        .in_file(path));
    }
    let input = read::Input {
        path,
        sheet: None,
        progress,
    };
    let decoded = read::read_text(&input, file)?;
    let study = Study::parse(&decoded.text, path)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let at = |p: &Option<PathBuf>| p.as_ref().map(|p| folder.join(p));
    let paths = Paths {
        seals: at(&study.files.seals),
        life: at(&study.files.life),
        inspections: at(&study.files.inspections),
        assets: at(&study.files.assets),
    };
    let source = Source {
        role: "study",
        path: path.to_path_buf(),
        bytes: decoded.bytes,
        sha256: decoded.sha256,
        format: "TOML",
        encoding: Some(decoded.encoding),
        rows: 0,
    };
    Ok((study, paths, vec![source]))
}

/// True for a `.toml` file that is no binary table, and for text that opens like a study.
fn is_study(path: &Path, head: &[u8]) -> bool {
    if head.starts_with(b"PAR1") || head.starts_with(b"PK\x03\x04") {
        return false;
    }
    if path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("toml"))
    {
        return true;
    }
    let text = String::from_utf8_lossy(head);
    let first = text
        .trim_start_matches('\u{feff}')
        .lines()
        .map(str::trim)
        .find(|l| !l.is_empty() && !l.starts_with('#'));
    first.is_some_and(|line| {
        let section = line.starts_with('[') && line.ends_with(']');
        let key = line.split_once('=').map(|(k, _)| k.trim());
        section
            || key.is_some_and(|k| {
                ["title", "currency", "invented", "cut_off", "records_from"].contains(&k)
            })
    })
}

/// Which form a table has: as the study says, else by its columns.
pub(super) fn form_of(table: &Table, paths: &Paths, bare: bool) -> Result<Form, Error> {
    if !bare {
        return Ok(if paths.seals.is_some() {
            Form::Seals
        } else {
            Form::Life
        });
    }
    let names: Vec<String> = table.names().iter().map(|n| normal(n)).collect();
    let has = |name: &str| names.iter().any(|n| n == name);
    if has("fitted") && (has("removed") || has("outcome")) {
        Ok(Form::Seals)
    } else if has("time") || has("lower") || has("upper") {
        Ok(Form::Life)
    } else {
        Err(Error::new(
            Kind::MissingColumn,
            "the table is neither seals nor plain lives",
            format!(
                "a table of seals has fitted, removed and outcome; a table of lives has time and \
                 status, or lower and upper; this one has: {}. A study file can map the names",
                table.names().join(", ")
            ),
        )
        .in_file(&table.path)
        .at_row(table.header_row))
    }
}
