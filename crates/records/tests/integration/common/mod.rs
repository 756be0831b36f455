//! Small invented fixtures: tanks of the made-up brewing group Harrow Lane.

pub mod book;

use jiff::civil::{Date, date};
use sealspan_records::{Answer, Error, LoadOptions, Question, Records, ask, load};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of its own for one test, removed at the end.
pub struct Folder(PathBuf);

static NEXT: AtomicU32 = AtomicU32::new(0);

impl Folder {
    pub fn new() -> Self {
        let name = format!(
            "sealspan-records-{}-{}",
            std::process::id(),
            NEXT.fetch_add(1, Ordering::Relaxed)
        );
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    pub fn path(&self) -> &Path {
        &self.0
    }

    pub fn put(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).ok();
    }
}

pub const TODAY: Date = date(2025, 6, 30);

pub fn options() -> LoadOptions {
    LoadOptions {
        today: Some(TODAY),
        ..LoadOptions::default()
    }
}

/// Reads one bare table.
pub fn read(bytes: impl AsRef<[u8]>) -> Result<Records, Error> {
    let folder = Folder::new();
    load(&folder.put("table.csv", bytes), &options())
}

/// Reads a study with its files.
pub fn study(toml: &str, files: &[(&str, &str)]) -> Result<Records, Error> {
    let folder = Folder::new();
    for (name, text) in files {
        folder.put(name, text);
    }
    load(&folder.put("study.toml", toml), &options())
}

pub fn question(by: &[&str]) -> Question {
    Question {
        by: by.iter().map(|b| (*b).to_owned()).collect(),
        ..Question::default()
    }
}

pub fn answer(records: &Records) -> Answer {
    let answer = ask(records, &Question::default()).unwrap();
    balanced(records, &answer);
    answer
}

/// Rows read are always rows used and rows set aside.
pub fn balanced(records: &Records, answer: &Answer) {
    assert_eq!(
        records.rows_read,
        answer.rows_used + answer.set_aside.len() as u64
    );
    assert_eq!(
        records.rows_read,
        records.rows_used() + records.set_aside.len() as u64
    );
    let groups: u64 = answer.groups.iter().map(|g| g.rows_used).sum();
    assert_eq!(groups, answer.rows_used);
}

pub fn kinds(records: &Records) -> Vec<&'static str> {
    records.findings.iter().map(|f| f.kind).collect()
}

/// Asserts that a finding fires at a row and column, with words and a mend.
pub fn fires(records: &Records, kind: &str, row: u64, column: &str) {
    let found = records.findings.iter().find(|f| f.kind == kind);
    let finding =
        found.unwrap_or_else(|| panic!("{kind} is missing among {:#?}", records.findings));
    assert_eq!(finding.row, Some(row), "{finding:#?}");
    assert_eq!(finding.column.as_deref(), Some(column), "{finding:#?}");
    assert!(!finding.message.is_empty() && !finding.mend.is_empty());
    assert!(finding.file.as_deref().is_some_and(|f| !f.is_empty()));
}
