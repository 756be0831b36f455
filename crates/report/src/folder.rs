//! The output folder, written whole or not at all: everything goes into a temporary folder beside it,
//! which is then renamed into place. Only a folder of ours, known by its stamp, is ever replaced.

use crate::error::{Error, Result};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::fs;
use std::io::Read;
use std::path::{Component, Path, PathBuf};

/// Name of the stamp, by which a folder is known as ours.
const STAMP: &str = "stamp.json";
/// Version of the stamp.
const SCHEMA: &str = "sealspan.stamp.v1";

/// How a folder was made.
#[derive(Debug, Clone, Serialize)]
pub struct Stamp {
    /// Version of this shape.
    pub schema: &'static str,
    /// Version of the program.
    pub version: &'static str,
    /// The command, with its arguments.
    pub command: String,
    /// Seed of everything random.
    pub seed: u64,
    /// Inputs by name.
    pub inputs: Vec<Input>,
}

/// An input file.
#[derive(Debug, Clone, Serialize)]
pub struct Input {
    /// What it is to the study.
    pub role: String,
    /// Its name.
    pub file: String,
    /// Its size.
    pub bytes: u64,
    /// SHA-256 of its content.
    pub sha256: String,
}

impl Stamp {
    /// A stamp of this version.
    #[must_use]
    pub fn new(command: String, seed: u64, inputs: Vec<Input>) -> Self {
        Self {
            schema: SCHEMA,
            version: env!("CARGO_PKG_VERSION"),
            command,
            seed,
            inputs,
        }
    }
}

/// SHA-256 of a file's content, in hexadecimal; of a folder, that of the hashes and names of all that is in it, in the
/// order of names.
///
/// # Errors
/// When the file cannot be read.
pub fn sha256(path: &Path) -> Result<String> {
    if path.is_dir() {
        return of_folder(path);
    }
    let mut file = fs::File::open(path).map_err(|e| Error::io(path, "cannot be read", e))?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0; 1 << 16];
    loop {
        let read = file
            .read(&mut buffer)
            .map_err(|e| Error::io(path, "cannot be read", e))?;
        match buffer.get(..read) {
            Some(part) if read > 0 => hash.update(part),
            _ => break,
        }
    }
    Ok(hexadecimal(hash))
}

fn of_folder(path: &Path) -> Result<String> {
    let failed = |e| Error::io(path, "cannot be read", e);
    let listed = fs::read_dir(path).map_err(failed)?;
    let entries: std::io::Result<Vec<_>> = listed.map(|entry| entry.map(|e| e.path())).collect();
    let mut entries = entries.map_err(failed)?;
    entries.sort();
    let mut hash = Sha256::new();
    for entry in entries {
        let name = entry.file_name().unwrap_or_default().to_string_lossy();
        hash.update(format!("{}  {name}\n", sha256(&entry)?));
    }
    Ok(hexadecimal(hash))
}

fn hexadecimal(hash: Sha256) -> String {
    hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
}

/// A file to be written: path within the folder, and content.
pub type Entry = (String, Vec<u8>);

/// Writes `entries` and the stamp as folder `out`, replacing an older folder of ours.
///
/// # Errors
/// When `out` holds something that is not ours, or a file cannot be written; what was there before is
/// then still there.
pub fn write(out: &Path, stamp: &Stamp, entries: &[Entry]) -> Result<()> {
    for (name, _) in entries {
        check_entry(name)?;
    }
    let replaces = check_place(out)?;
    let beside = |suffix: &str| -> PathBuf {
        let name = out.file_name().unwrap_or_default().to_string_lossy();
        out.with_file_name(format!(".{name}.{suffix}-{}", std::process::id()))
    };
    let (part, old) = (beside("part"), beside("old"));
    let result = fill(&part, stamp, entries).and_then(|()| swap(out, &part, &old, replaces));
    if result.is_err() {
        // The failure is what is reported; a leftover that will not go is found by its name.
        let _ = fs::remove_dir_all(&part);
    }
    result
}

/// Refuses names that would lead out of the folder.
fn check_entry(name: &str) -> Result<()> {
    let plain = |part: Component| matches!(part, Component::Normal(_));
    if !name.is_empty() && Path::new(name).components().all(plain) {
        Ok(())
    } else {
        Err(Error::name(name))
    }
}

/// Refuses a place that is not ours; true when there is a folder to replace.
fn check_place(out: &Path) -> Result<bool> {
    match fs::symlink_metadata(out) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(false),
        Err(e) => return Err(Error::io(out, "cannot be looked at", e)),
        Ok(meta) if !meta.is_dir() => {
            return Err(Error::not_ours(
                out,
                "is a file, not a folder: choose another --out",
            ));
        }
        Ok(_) => {}
    }
    let mut inside = fs::read_dir(out).map_err(|e| Error::io(out, "cannot be looked at", e))?;
    if inside.next().is_none() || is_ours(&out.join(STAMP)) {
        return Ok(true);
    }
    Err(Error::not_ours(
        out,
        "holds files that this program did not write: choose another --out, or empty it",
    ))
}

fn is_ours(stamp: &Path) -> bool {
    let text = fs::read_to_string(stamp).unwrap_or_default();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
    value
        .get("schema")
        .and_then(|s| s.as_str())
        .is_some_and(|s| s.starts_with("sealspan.stamp."))
}

fn fill(part: &Path, stamp: &Stamp, entries: &[Entry]) -> Result<()> {
    let write = |path: &Path, bytes: &[u8]| {
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(|e| Error::io(folder, "cannot be made", e))?;
        }
        fs::write(path, bytes).map_err(|e| Error::io(path, "cannot be written", e))
    };
    for (name, bytes) in entries {
        write(&part.join(name), bytes)?;
    }
    write(&part.join(STAMP), &json(stamp)?)
}

fn swap(out: &Path, part: &Path, old: &Path, replaces: bool) -> Result<()> {
    if replaces {
        fs::rename(out, old).map_err(|e| Error::io(out, "cannot be moved aside", e))?;
    }
    if let Err(e) = fs::rename(part, out) {
        if replaces {
            fs::rename(old, out).map_err(|e| Error::io(old, "cannot be moved back", e))?;
        }
        return Err(Error::io(out, "cannot be moved into place", e));
    }
    if replaces {
        fs::remove_dir_all(old).map_err(|e| Error::io(old, "cannot be removed", e))?;
    }
    Ok(())
}

/// A value as indented JSON with a line feed at the end.
///
/// # Errors
/// When the value cannot be written as JSON.
pub fn json(value: &impl Serialize) -> Result<Vec<u8>> {
    crate::render::json::pretty(value)
}
