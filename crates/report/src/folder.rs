//! The output folder, written whole or not at all: everything goes into a temporary folder beside it,
//! which then changes places with the old one in one step. Only a folder of ours, known by its stamp, is
//! ever replaced. Whenever the process is killed, the folder is the old one or the new one, whole.

use crate::error::{Error, Result};
use sealspan_records::write::hold;
use serde::Serialize;
use std::fs;
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
    /// Its size in bytes.
    pub bytes: u64,
    /// SHA-256 of its content, in hexadecimal.
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

/// A file to be written: path within the folder, and content.
pub type Entry = (String, Vec<u8>);

/// Writes `entries` and the stamp as folder `out`, replacing an older folder of ours. Of two runs at
/// once the second waits for the first.
///
/// # Errors
/// When `out` holds something that is not ours, or a file cannot be written; what was there before is
/// then still there.
///
/// ```
/// use sealspan_report::folder::{Stamp, json, write};
/// let out = std::env::temp_dir().join(format!("sealspan-doc-folder-{}", std::process::id()));
/// let stamp = Stamp::new("example".to_owned(), 7, vec![]);
/// let entries = [("ages.json".to_owned(), json(&[120.5, 80.0])?)];
/// write(&out, &stamp, &entries)?;
/// write(&out, &stamp, &entries)?; // ours, known by its stamp: replaced
/// let ages: Vec<f64> = serde_json::from_slice(&std::fs::read(out.join("ages.json"))?)?;
/// assert_eq!(ages, [120.5, 80.0]);
/// std::fs::remove_file(out.join("stamp.json"))?;
/// let refused = write(&out, &stamp, &entries).unwrap_err(); // no stamp: not ours
/// assert!(refused.is_not_ours() && !refused.is_io());
/// # std::fs::remove_dir_all(&out)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn write(out: &Path, stamp: &Stamp, entries: &[Entry]) -> Result<()> {
    for (name, _) in entries {
        check_entry(name)?;
    }
    let held = hold(out.parent().unwrap_or(Path::new("")));
    if held.surely() {
        tidy(out);
    }
    let replaces = check_place(out)?;
    let (part, old) = (beside(out, "part"), beside(out, "old"));
    let result = fill(&part, stamp, entries).and_then(|()| swap(out, &part, &old, replaces));
    // After a failure the new files, after a success the old ones; a leftover that will not go is
    // tried again by the next run.
    let _ = fs::remove_dir_all(&part);
    result
}

/// Start of the names that temporary folders of `out` have.
fn prefix(out: &Path, suffix: &str) -> String {
    let name = out.file_name().unwrap_or_default().to_string_lossy();
    format!(".{name}.{suffix}-")
}

fn beside(out: &Path, suffix: &str) -> PathBuf {
    out.with_file_name(format!("{}{}", prefix(out, suffix), std::process::id()))
}

/// Puts right what a killed run left: an old folder moved aside goes back where there is none, and
/// temporary folders go. Only while no other run writes here.
fn tidy(out: &Path) {
    let parent = out.parent().filter(|p| !p.as_os_str().is_empty());
    let Ok(list) = fs::read_dir(parent.unwrap_or(Path::new("."))) else {
        return;
    };
    let (part, old) = (prefix(out, "part"), prefix(out, "old"));
    for entry in list.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let ended = |start: &str| {
            name.strip_prefix(start)
                .is_some_and(|id| !id.is_empty() && id.bytes().all(|b| b.is_ascii_digit()))
        };
        let path = out.with_file_name(&name);
        if ended(&old) && is_ours(&path.join(STAMP)) && fs::symlink_metadata(out).is_err() {
            let _ = fs::rename(&path, out);
        } else if ended(&old) || ended(&part) {
            let _ = fs::remove_dir_all(&path);
        }
    }
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
    if !replaces {
        return fs::rename(part, out).map_err(|e| Error::io(out, "cannot be moved into place", e));
    }
    if exchange(part, out) {
        return Ok(());
    }
    fs::rename(out, old).map_err(|e| Error::io(out, "cannot be moved aside", e))?;
    if let Err(e) = fs::rename(part, out) {
        fs::rename(old, out).map_err(|e| Error::io(old, "cannot be moved back", e))?;
        return Err(Error::io(out, "cannot be moved into place", e));
    }
    let _ = fs::remove_dir_all(old);
    Ok(())
}

/// Lets two folders change places in one step; false where the system or the file system cannot.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn exchange(a: &Path, b: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE).is_ok()
}

/// Lets two folders change places in one step; false where the system cannot.
#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn exchange(_a: &Path, _b: &Path) -> bool {
    false
}

/// A value as indented JSON with a line feed at the end.
///
/// # Errors
/// When the value cannot be written as JSON.
pub fn json(value: &impl Serialize) -> Result<Vec<u8>> {
    crate::render::json::pretty(value)
}
